"""One small calibration of each demo build, made once for all tests of this room."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest

from boostwright.build.document import Build
from boostwright.calibration.make import Made, calibration_in
from boostwright.findings.case import Case
from boostwright.findings.prepare import prepare
from boostwright.verbs import demo_build

RPM = np.pi / 30.0
SPEEDS = np.array([850.0, 1500.0, 2500.0, 3500.0, 4800.0, 5800.0]) * RPM
PRESSURES = {
    "sound": np.array([34.0, 70.0, 97.0, 115.0, 137.0, 160.0]) * 1e3,
    "planted": np.array([32.0, 70.0, 101.0, 140.0, 180.0, 215.0]) * 1e3,
    "highland": np.array([25.0, 60.0, 77.0, 105.0, 127.0, 172.0]) * 1e3,
}


class Small(NamedTuple):
    """A build, its case and what was made of it."""

    build: Build
    case: Case
    made: Made


@cache
def small(name: str) -> Small:
    """The calibration of one demo build on six speeds and six pressures, spreads and all."""
    build = demo_build(name)
    case = prepare(build, None, arrival=False).case
    return Small(build, case, calibration_in(build, case, speeds=SPEEDS, pressures=PRESSURES[name]))


@pytest.fixture(scope="session")
def demo() -> Callable[[str], Small]:
    """The small calibration of a demo build by its name."""
    return small


@pytest.fixture(scope="session")
def sound() -> Small:
    """That of the sound build."""
    return small("sound")
