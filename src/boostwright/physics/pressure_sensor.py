"""A pressure sensor with a straight transfer: signal, pressure, resolution, what it shows past its end."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Transfer",
    "lambda_when_clipped",
    "pressure_of_signal",
    "required_full_scale",
    "resolution",
    "seen_pressure",
    "signal_of_pressure",
]

Array = NDArray[np.float64]


class Transfer(NamedTuple):
    """Two points of a straight transfer; pressures absolute."""

    lowest: ArrayLike  # [Pa]
    highest: ArrayLike  # [Pa]
    signal_lowest: ArrayLike = 0.40  # [V]
    signal_highest: ArrayLike = 4.65  # [V]


def seen_pressure(transfer: Transfer, pressure: ArrayLike) -> Array:
    """Pressure that the controller sees [Pa]: the true one, held at the ends of the range."""
    p = np.asarray(pressure, dtype=np.float64)
    return np.asarray(np.clip(p, np.asarray(transfer.lowest), np.asarray(transfer.highest)))


def signal_of_pressure(transfer: Transfer, pressure: ArrayLike) -> Array:
    """Signal [V] at a pressure [Pa absolute]; stands still beyond the ends."""
    share = (seen_pressure(transfer, pressure) - np.asarray(transfer.lowest, dtype=np.float64)) / (
        np.asarray(transfer.highest) - np.asarray(transfer.lowest)
    )
    low = np.asarray(transfer.signal_lowest)
    return np.asarray(low + share * (np.asarray(transfer.signal_highest) - low))


def pressure_of_signal(transfer: Transfer, signal: ArrayLike) -> Array:
    """Pressure [Pa absolute] of a signal [V], within the two points and beyond them on the same line."""
    low = np.asarray(transfer.signal_lowest, dtype=np.float64)
    share = (np.asarray(signal) - low) / (np.asarray(transfer.signal_highest) - low)
    bottom = np.asarray(transfer.lowest)
    return np.asarray(bottom + share * (np.asarray(transfer.highest) - bottom))


def resolution(transfer: Transfer, bits: int = 10, supply: float = 5.0) -> Array:
    """Pressure of one count [Pa]: slope of the transfer times supply/(2^bits - 1)."""
    slope = (np.asarray(transfer.highest, dtype=np.float64) - np.asarray(transfer.lowest)) / (
        np.asarray(transfer.signal_highest) - np.asarray(transfer.signal_lowest)
    )
    return np.asarray(slope * supply / (2**bits - 1))


def required_full_scale(barometer: ArrayLike, boost: ArrayLike, overshoot: ArrayLike = 0.0) -> Array:
    """Pressure that a sensor must reach [Pa absolute], p_baro + boost (1 + overshoot).

    barometer: the highest of the place [Pa absolute]. boost: [Pa gauge]. overshoot: [-].
    """
    return np.asarray(
        np.asarray(barometer, dtype=np.float64) + np.asarray(boost) * (1.0 + np.asarray(overshoot))
    )


def lambda_when_clipped(lam: ArrayLike, pressure: ArrayLike, seen: ArrayLike) -> Array:
    """Lambda that results when fuel is metered for ``seen`` while the plenum stands at ``pressure``.

    lam p/p_seen [-]: the air goes with the true pressure, the fuel with the one seen. lam: wanted [-];
    pressures [Pa absolute].
    """
    return np.asarray(np.asarray(lam, dtype=np.float64) * np.asarray(pressure) / np.asarray(seen))
