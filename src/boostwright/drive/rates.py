"""What may have happened between two readings: the largest event that the rate of this log would miss."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.scene import Scene
from boostwright.library.channels import channel_kinds
from boostwright.quantity import Dimension, write

__all__ = ["Missed", "missed_between"]

Array = NDArray[np.float64]


class _Asked(NamedTuple):
    """A channel, what it may hide, from which size on that is said [SI], and the unit to say it in.

    The sizes: 5 kPa and 0.03 of lambda are what the trade holds a pull to; 10 kPa of fuel pressure are
    some 3 % of it; 50 kPa of oil pressure are a bearing's warning. Common practice, no source.
    """

    key: str
    kinds: tuple[str, ...]
    size: float
    unit: str


_ASKED = (
    _Asked("manifold_pressure", ("boost-over-target", "boost-creep", "boost-oscillation"), 5e3, "kPa"),
    _Asked("charge_pressure", ("surge",), 5e3, "kPa"),
    _Asked("lambda", ("lean", "rich"), 0.03, "lambda"),
    _Asked("fuel_pressure", ("fuel-pressure-low",), 10e3, "kPa"),
    _Asked("oil_pressure", ("oil-pressure-dip",), 50e3, "kPa"),
)
_STEEP = 0.998  # of all steps from one reading to the next under load lie below the one that is told
_FEW = 200  # readings under load from which that can be told


class Missed(NamedTuple):
    """Kinds of notice that may have hidden between two readings, and the sentence that says so."""

    kinds: tuple[str, ...]
    reason: str


def missed_between(scene: Scene) -> list[Missed]:
    """Channels that moved so far from one reading to the next that an event may lie between them."""
    signals, words = scene.signals, channel_kinds()
    found = []
    for asked in _ASKED:
        x = signals.get(asked.key)
        if x is None:
            continue
        at = np.flatnonzero(signals.read(asked.key) & np.isfinite(x) & (scene.ways.opening > 0.5))
        if at.size < _FEW:
            continue
        near = np.diff(at) * signals.step <= 1.5 / signals.rate(asked.key)
        steps = np.abs(np.diff(x[at]))[near]
        if steps.size < _FEW:
            continue
        steep = float(np.quantile(steps, _STEEP)) - 2.0 * 1.4142 * signals.noise(asked.key)
        if steep <= asked.size:
            continue
        kind = words[asked.key]
        size = f"{steep:.2g} of lambda"
        if kind.dimension is Dimension.PRESSURE:
            size = write(steep, asked.unit, kind.dimension, digits=2)
        found.append(
            Missed(
                asked.kinds,
                f"{kind.words}: read {signals.rate(asked.key):.3g} times a second, and it moved by up to "
                f"{size} "
                "from one reading to the next; what rose and fell by that much in between is not seen",
            )
        )
    return found
