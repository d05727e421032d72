"""What a starting calibration is made of: tables, each cell with spread and source, and single settings."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.quantity import Dimension, PressureKind

__all__ = ["NO_PLACE", "TWO_WAYS", "Axis", "Calibration", "Check", "Origin", "Setting", "Table"]

Array = NDArray[np.float64]

NO_PLACE = "no place to drive in"
"""In a note of a table: cells whose number stands, but that no check clears; the headline repeats it."""

TWO_WAYS = (
    "Two kinds of controller: one takes volumetric efficiency and dead time and works the pulse out itself,"
    " the other takes the injector pulse, which holds the dead time already. Load what yours takes,"
    " never both."
)
"""In the notes of the tables that a controller would count twice."""


class Origin(Enum):
    """Where the number of a cell comes from. The value is the word on every door."""

    MODEL = "model"  # the cycle, with what the build states
    BASELINE = "baseline"  # the cycle fitted to this engine's own readings reaches this cell
    LOG = "log"  # a recorded drive
    MAKER = "maker"  # a figure that the build states from a maker or a reading
    RULE = "rule"  # a rule of the trade, said in the table's notes
    HAND = "hand"  # a person's edit


class Axis(NamedTuple):
    """Breakpoints of a table, rising, SI."""

    key: str  # engine_speed, manifold_pressure, battery_voltage, ...
    words: str
    dimension: Dimension
    values: Array  # (n,)
    pressure: PressureKind | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """One table over one or two axes; arrays have the shape (len(axes[0]),) or (len(axes[0]), len(axes[1])).

    value: SI; NaN where no number may stand (then `notes` says why). sd: standard deviation of the true
    best value around it, SI. visited: whether the predicted trajectory comes within a cell of it.
    """

    key: str
    words: str
    dimension: Dimension
    axes: tuple[Axis, ...]
    value: Array
    sd: Array
    origin: NDArray[np.object_]  # of Origin, one for each cell
    visited: NDArray[np.bool_]
    notes: tuple[str, ...] = ()
    pressure: PressureKind | None = None
    low: Array | None = (
        None  # where an edit crosses a limit on its way down: knock, mixture, part; NaN for none
    )
    low_why: str = ""
    high: Array | None = None
    high_why: str = ""


class Setting(NamedTuple):
    """One number that is no table: boost cut, speed limit, end points of a sensor."""

    key: str
    words: str
    dimension: Dimension
    value: float  # SI
    sd: float
    origin: Origin
    why: str  # the rule behind it, with its numbers
    pressure: PressureKind | None = None


class Check(NamedTuple):
    """One line of the consistency checks."""

    key: str
    words: str
    holds: bool | None  # None: cannot be told, and `words` says what is missing
    cells: tuple[
        tuple[str, int, int], ...
    ] = ()  # table and place of the cells it is about (second 0 if one axis)
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class Calibration:
    """All tables and settings of one build."""

    name: str  # of the build
    fingerprint: str  # of the inputs
    tables: tuple[Table, ...]
    settings: tuple[Setting, ...]
    checks: tuple[Check, ...]
    cautions: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    not_said: tuple[str, ...] = ()  # what this build's controller needs and the model cannot say
    probability: float = 0.9  # that the margins of the spark cover, chosen by the person

    def table(self, key: str) -> Table:
        """The table of that key. Raises KeyError."""
        for one in self.tables:
            if one.key == key:
                return one
        raise KeyError(key)

    def setting(self, key: str) -> Setting:
        """The setting of that key. Raises KeyError."""
        for one in self.settings:
            if one.key == key:
                return one
        raise KeyError(key)
