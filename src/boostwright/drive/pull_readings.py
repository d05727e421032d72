"""The readings of a commissioning step, taken from one pull of a recorded drive as a person reads them."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from boostwright.drive.outside import Outside
from boostwright.drive.records import Stretch
from boostwright.drive.road_power import RoadPower
from boostwright.drive.rows import Rows
from boostwright.job.records import Reading, batch_ids
from boostwright.library.drive_spreads import drive_spread

__all__ = ["pull_values", "readings_of_pull"]

Array = NDArray[np.float64]

_RPM: Final = math.pi / 30.0
_CREEP: Final = 500.0 * _RPM  # of the end of a pull over which it creeps
_OIL_FROM: Final = 3000.0 * _RPM
_AFTER_ONSET: Final = 0.5  # of boost, before lambda is believed: the probe trails [s]
_SHORT, _LONG = 0.1, 0.3  # medians that leave single spikes out [s]
_KNOCK: Final = math.radians(1.0)  # of retard, from which it counts (common practice)
_FEWEST: Final = 5


def readings_of_pull(
    stretch: Stretch,
    drive: Rows,
    outside: Outside,
    power: RoadPower | None,
    who: str,
    time: str,
    step: str,
    file: str = "",
) -> tuple[Reading, ...]:
    """Readings of one pull, as many as its channels carry, ready for the record.

    who: whose name stands under them. time: ISO 8601, of the pull where the log says it. step: key of the
    step of the ladder. The rest as `pull_values`.
    """
    values = pull_values(stretch, drive, outside, power)
    note = f"from the log {file}, rows {stretch.first_row} to {stretch.last_row}".replace("  ", " ")
    ids = batch_ids(len(values))
    return tuple(
        Reading(
            one,
            who,
            time,
            measurement,
            (value,),
            sd,
            when="after",
            step=step,
            instrument="log",
            note=note,
        )
        for one, (measurement, (value, sd)) in zip(ids, values.items(), strict=True)
    )


def pull_values(
    stretch: Stretch, drive: Rows, outside: Outside, power: RoadPower | None
) -> dict[str, tuple[float, float | None]]:
    """Figures of one pull by measurement, SI, with their standard deviation; None for the catalogue's own.

    stretch: the pull. drive: all rows. outside: its air. power: of this pull. A channel that is not there, or
    a pull too short for a figure, leaves it out; nobody guesses it.
    """
    pull = drive.of(stretch)
    found: dict[str, tuple[float, float | None]] = {}
    boosted = pull.get("manifold_pressure") > outside.pressure + drive_spread("held", "boosted")

    def put(name: str, value: float | None, sd: float | None = None) -> None:
        if value is not None and math.isfinite(value):
            found[name] = (value, sd)

    put("pull_peak", _greatest(pull, "manifold_pressure", _SHORT))
    put("pull_lambda", _leanest(pull, boosted))
    put("pull_rail_minus_manifold", _rail(pull, boosted, outside))
    put("pull_duty", _duty(pull))
    put("pull_intake", _greatest(pull, "intake_temperature", _LONG))
    put("pull_exhaust_gas", _greatest(pull, "exhaust_temperature", _LONG))
    put("pull_crankcase", _greatest(pull, "crankcase_pressure", _LONG))
    put("pull_knock", _knocks(pull))
    put("pull_creep", _creep(pull))
    put("pull_oil", _oil(pull))
    put("pull_coolant", _last(pull, "coolant_temperature"))
    put("clutch_drift", _drift(pull))
    if power is not None and not power.refused:
        best = power.peak()
        assert best is not None
        put("pull_power", best[1].value, best[1].sd)
    return found


def _smooth(pull: Rows, column: Array, seconds: float) -> Array:
    """Medians over a time, of the readings that are there; empty where they are too few."""
    known = column[np.isfinite(column)]
    if known.size < _FEWEST:
        return np.empty(0)
    step = float(pull.t[-1] - pull.t[0]) / max(pull.t.size - 1, 1)
    width = max(1, round(seconds / max(step, 1e-6)))
    return np.asarray(median_filter(known, size=min(width, known.size), mode="nearest"))


def _greatest(pull: Rows, key: str, seconds: float) -> float | None:
    smooth = _smooth(pull, pull.get(key), seconds)
    return float(smooth.max()) if smooth.size else None


def _leanest(pull: Rows, boosted: NDArray[np.bool_]) -> float | None:
    if not boosted.any():
        return None
    onset = float(pull.t[int(np.argmax(boosted))]) + _AFTER_ONSET
    smooth = _smooth(pull, np.where(boosted & (pull.t > onset), pull.get("lambda"), np.nan), _LONG)
    return float(smooth.max()) if smooth.size else None


def _rail(pull: Rows, boosted: NDArray[np.bool_], outside: Outside) -> float | None:
    across = pull.get("fuel_pressure_difference")
    if not np.isfinite(across).any():
        across = pull.get("fuel_pressure") + outside.pressure - pull.get("manifold_pressure")
    use = boosted if boosted.any() else np.ones_like(boosted)
    smooth = _smooth(pull, np.where(use, across, np.nan), _LONG)
    return float(smooth.min()) if smooth.size else None


def _duty(pull: Rows) -> float | None:
    duty = pull.get("injector_duty")
    if not np.isfinite(duty).any():
        duty = pull.get("injector_pulse") * pull.get("engine_speed") / (4.0 * math.pi)
    smooth = _smooth(pull, duty, _LONG)
    return float(smooth.max()) if smooth.size else None


def _knocks(pull: Rows) -> float | None:
    """Knocks counted, else the times that spark was taken away for one; None where nobody listened."""
    count = pull.get("knock_count")
    known = count[np.isfinite(count)]
    if known.size > 1:
        return float(max(known.max() - known[0], 0.0))
    retard = pull.get("knock_retard")
    if not np.isfinite(retard).any():
        return None
    taken = np.nan_to_num(retard)
    above = taken > _KNOCK
    begins = above & ~np.concatenate([[False], above[:-1]])
    again = np.diff(taken, prepend=taken[0]) > _KNOCK  # once more before the spark has come back
    return float(np.count_nonzero(begins | again))


def _creep(pull: Rows) -> float | None:
    omega, p = pull.get("engine_speed"), pull.get("manifold_pressure")
    use = np.isfinite(omega) & np.isfinite(p)
    if np.count_nonzero(use) < 4 * _FEWEST:
        return None
    reached, p = np.maximum.accumulate(omega[use]), p[use]
    top = float(reached[-1])
    if top - float(reached[0]) < 2.0 * _CREEP:
        return None
    last = reached > top - 1.2 * _CREEP
    if np.unique(reached[last]).size < _FEWEST:
        return None
    slope = np.polynomial.Polynomial.fit(reached[last], p[last], 1).convert().coef
    return float(slope[1] * _CREEP) if slope.size > 1 else 0.0


def _oil(pull: Rows) -> float | None:
    fast = pull.get("engine_speed") > _OIL_FROM
    smooth = _smooth(pull, np.where(fast, pull.get("oil_pressure"), np.nan), _LONG)
    return float(smooth.min()) if smooth.size else None


def _last(pull: Rows, key: str) -> float | None:
    smooth = _smooth(pull, pull.get(key), _LONG)
    return float(smooth[-1]) if smooth.size else None


def _drift(pull: Rows) -> float | None:
    omega, v = pull.get("engine_speed"), pull.get("road_speed")
    both = np.isfinite(omega) & np.isfinite(v) & (v > 2.0) & (omega > 30.0)
    if np.count_nonzero(both) < 6 * _FEWEST:
        return None
    over = omega[both] / v[both]
    third = over.size // 3
    return float(np.median(over[-third:]) / np.median(over[:third])) - 1.0
