from __future__ import annotations

from pathlib import Path

import pytest

from tools.drives.drive import Drive, make_drive

BUILD = Path(__file__).parents[3] / "src" / "boostwright" / "library" / "builds" / "sound.toml"


@pytest.fixture(scope="session")
def planted() -> Drive:
    """A drive with events, 50 rows a second."""
    return make_drive(BUILD, 3, 27.0, rate=50.0)


@pytest.fixture(scope="session")
def clean() -> Drive:
    """A drive without any."""
    return make_drive(BUILD, 3, 12.0, clean=True, rate=50.0)


@pytest.fixture(scope="session")
def several() -> list[Drive]:
    """Three more seeds with events, for what one seed may not carry."""
    return [make_drive(BUILD, seed, 25.0, rate=25.0) for seed in (11, 12, 13)]
