"""A compressor map read once into a table, for a search that asks it thousands of times.

An answer of the table is close to one of `compressor.operating_point`, not equal to it; whoever searches with
it asks the map itself at the end.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.compressor import (
    CP_AIR,
    GAMMA_AIR,
    R_AIR,
    CompressorMap,
    CompressorPoint,
    PointStatus,
    pressure_ratio_of_head,
)

__all__ = ["CompressorTable", "table_point", "tabulated"]

Array = NDArray[np.float64]

_FLOW_RANGE: Final = (2e-3, 0.8)  # of phi M
_FLOWS: Final = 192
_SPEEDS: Final = 160
_RATIOS: Final = 160
_LEAST_SLOPE: Final = 0.05  # of the logarithm of the pressure ratio over blade Mach number
_LEAST_RISE: Final = 1e-10  # between neighbours of a column, so that it can be turned round


class CompressorTable(NamedTuple):
    """Blade Mach number and work over flow (rows) and the share of the column's span of pressure ratios.

    The abscissa of a column is v = ln(PR/lowest)/ln(highest/lowest), so that the ends of every column are the
    ends of the map at that flow.
    """

    log_flow: Array  # of phi M, even, shape (f,)
    lowest: Array  # ln of the pressure ratio at the map's lowest speed, shape (f,)
    highest: Array  # ln of the greatest pressure ratio on the way up, shape (f,)
    mach: Array  # (f, r)
    work: Array  # work coefficient times the square of the blade Mach number, (f, r)


@lru_cache(maxsize=32)
def tabulated(compressor_map: CompressorMap) -> CompressorTable:
    """The table of a map; kept for as long as the map is in use.

    Of several speeds with one pressure ratio at one flow the lowest is taken, as `operating_point` does.
    """
    log_flow = np.linspace(np.log(_FLOW_RANGE[0]), np.log(_FLOW_RANGE[1]), _FLOWS)
    mach = np.linspace(*compressor_map.mach_range, _SPEEDS)
    flow = np.exp(log_flow)[:, None]
    ratio = pressure_ratio_of_head(
        compressor_map(flow / mach, np.broadcast_to(mach, (_FLOWS, _SPEEDS))).psi, mach
    )
    climb = np.maximum.accumulate(np.log(np.maximum(ratio, 0.05)), axis=1)
    climb = climb + _LEAST_RISE * np.arange(_SPEEDS)
    lowest, highest = climb[:, 0], climb[:, -1]
    span = np.maximum(highest - lowest, 1e-9)
    share = np.linspace(0.0, 1.0, _RATIOS)
    found = np.stack([np.interp(share, (c - c[0]) / w, mach) for c, w in zip(climb, span, strict=True)])
    # straight between the rows is 1e-4 off: one step along the slope of the row mends that
    wanted = lowest[:, None] + share * span[:, None]
    there = np.log(np.maximum(pressure_ratio_of_head(compressor_map(flow / found, found).psi, found), 0.05))
    slope = np.stack([np.interp(f, mach, np.gradient(c, mach)) for f, c in zip(found, climb, strict=True)])
    with np.errstate(divide="ignore", invalid="ignore"):
        step = (wanted - there) / slope
    inside = (slope > _LEAST_SLOPE) & (np.abs(step) < mach[1] - mach[0])
    found = np.clip(found + np.where(inside, step, 0.0), mach[0], mach[-1])
    work = compressor_map(flow / found, found).work * found**2
    return CompressorTable(log_flow, lowest, highest, found, work)


def table_point(
    table: CompressorTable,
    D2: float,
    m_dot: ArrayLike,
    pressure_ratio: ArrayLike,
    T01: ArrayLike,
    p01: ArrayLike,
) -> CompressorPoint:
    """`compressor.operating_point` by the table; surge and choke ratios are left out (NaN).

    Arguments and result as there. Error against the map: below 2e-4 of speed and work, except close to
    a sudden change of the map and to the highest speeds, where some maps turn over.
    """
    m, target, T, p = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (m_dot, pressure_ratio, T01, p01))
    )
    sound = np.sqrt(GAMMA_AIR * R_AIR * T)
    log_flow = np.log(m * R_AIR * T / (p * sound * D2**2))
    pitch = table.log_flow[1] - table.log_flow[0]
    x = np.clip((log_flow - table.log_flow[0]) / pitch, 0.0, _FLOWS - 1.0)
    row, wx = _weights(x, _FLOWS)
    lowest = sum(w * table.lowest[r] for w, r in zip(wx, row, strict=True))
    highest = sum(w * table.highest[r] for w, r in zip(wx, row, strict=True))
    wanted = np.log(target)
    v = (wanted - lowest) / (highest - lowest)
    column, wv = _weights(np.clip(v, 0.0, 1.0) * (_RATIOS - 1), _RATIOS)
    mach, work = np.zeros(m.shape), np.zeros(m.shape)
    for r, a in zip(row, wx, strict=True):
        for c, b in zip(column, wv, strict=True):
            weight, place = a * b, r * _RATIOS + c
            mach += weight * table.mach.ravel()[place]
            work += weight * table.work.ravel()[place]
    status = np.where(v < 0, int(PointStatus.IDLING), np.where(v > 1, int(PointStatus.TOO_FAST), 0))
    # a cubic may swing below its four neighbours at a sudden change of the map
    work = np.maximum(work, 0.0)
    mach = np.clip(mach, table.mach[0, 0], table.mach[0, -1])
    rise = sound**2 * work
    nothing = np.full(m.shape, np.nan)
    attained = np.exp(np.clip(wanted, lowest, highest))
    u2 = mach * sound
    return CompressorPoint(
        speed=2 * u2 / D2,
        mach=mach,
        tip_speed=u2,
        pressure_ratio=attained,
        efficiency=nothing,
        outlet_temperature=T + rise / CP_AIR,
        power=m * rise,
        surge_ratio=nothing,
        choke_ratio=nothing,
        status=status.astype(np.int64),
    )


def _weights(x: Array, size: int) -> tuple[tuple[NDArray[np.int64], ...], tuple[Array, ...]]:
    """Places and weights of the cubic through four neighbours (Catmull and Rom) at x, in table steps."""
    i = np.clip(x.astype(np.int64), 0, size - 2)
    t = x - i
    places = tuple(np.clip(i + k, 0, size - 1) for k in (-1, 0, 1, 2))
    return places, (
        0.5 * t * (t * (2 - t) - 1),
        0.5 * (t * t * (3 * t - 5) + 2),
        0.5 * t * (t * (4 - 3 * t) + 1),
        0.5 * t * t * (t - 1),
    )
