"""What the tests of a drive share."""

from __future__ import annotations

from pathlib import Path

import pytest

import boostwright
from boostwright.build.document import Build
from boostwright.readers.drive_log.recording import Recording
from tests.drive.adapter import recording
from tools.drives.drive import make_drive
from tools.drives.write import write_drive

SOUND = Path(boostwright.__file__).parent / "library" / "builds" / "sound.toml"


@pytest.fixture(scope="session")
def sound() -> Build:
    return boostwright.load_build(SOUND)


@pytest.fixture(scope="session")
def clean_drive(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    """A clean drive of the simulator, eight minutes at 25 rows a second."""
    folder = tmp_path_factory.mktemp("clean")
    return recording(write_drive(make_drive(SOUND, 6, 8.0, clean=True, rate=25.0), folder)[0])
