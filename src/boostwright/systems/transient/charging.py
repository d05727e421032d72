"""What compressor, filter, cooler and pipes deliver at a shaft speed, as a table for a transient.

A map gives pressure over flow and speed; a transient wants flow over pressure and speed, with the losses on
the way in it. The table holds, for each shaft speed, plenum pressure, flow, charge temperature and power
along the speed line. Left of the top of a line the head is held at its top, with a little tilt, so that one
pressure gives one flow: surge itself, which would make flow and pressure swing, is not followed.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.compressor import CP_AIR, GAMMA_AIR, R_AIR, pressure_ratio_of_head
from boostwright.physics.cooler import cooled_temperature
from boostwright.systems.turbo import Ambient, TurboParts

__all__ = ["ChargeAnswer", "ChargeTable", "charge_table"]

Array = NDArray[np.float64]

_SPEEDS: Final = 64
_ON_LINE: Final = np.linspace(0.0, 1.1, 67)  # of the line's end flow
_BEYOND: Final = 24  # nodes beyond it, for a slow shaft in the stream of an engine at work
_TOP_FLOW: Final = 1.3  # greatest flow of the table, over the end flow of the fastest line
_LEAST_PRESSURE: Final = 0.3  # of ambient
_LEAST_RATIO: Final = 0.5  # of a compressor far beyond choke: it is a throttle then
_ROUNDS: Final = 8  # for density and pressure losses
_TILT: Final = 0.02  # of the pressure, by which the held top of a line still rises towards no flow


class ChargeAnswer(NamedTuple):
    """Delivery at some moments; arrays of shape (n,)."""

    flow: Array  # [kg/s]
    temperature: Array  # of the charge in the plenum [K]
    outlet_pressure: Array  # after the compressor [Pa]
    power: Array  # into the air [W]


class ChargeTable(NamedTuple):
    """Speed lines of one or more compressors with all that lies between filter and plenum."""

    speed: Array  # shaft, even (j,) [rad/s]
    columns: Array  # (5, maps, j, i): plenum pressure, flow, temperature, outlet pressure, power

    def at(self, which: NDArray[np.int64], omega: Array, pressure: Array) -> ChargeAnswer:
        """Delivery against a plenum pressure [Pa] at a shaft speed [rad/s]; which: map of each lane. (n,)"""
        j, s = self._place(omega)
        head = self._lines(0, which, j, s)
        lanes = np.arange(pressure.size)
        k = np.clip(np.sum(head > pressure[:, None], axis=1), 1, head.shape[1] - 1)
        share = (head[lanes, k - 1] - pressure) / (head[lanes, k - 1] - head[lanes, k])
        share = np.maximum(share, 0.0)  # beyond the last flow the line goes on straight
        flow, temperature, outlet, power = (self._between(c, which, j, s, k, share) for c in (1, 2, 3, 4))
        return ChargeAnswer(flow, temperature, outlet, power)

    def settle(
        self, which: NDArray[np.int64], omega: Array, before: Array, engine: Array, volume: float, step: float
    ) -> Array:
        """Plenum pressure after a step of time, V/(R T) (p - p_before)/step = m_compressor(p) - k p [Pa].

        One backward step of Euler's, exact along the table's straight pieces: flow rises and pressure falls
        from node to node of a speed line, so the balance changes sign once. It cannot overshoot, however flat
        the line. omega: after the step [rad/s]. before: [Pa]. engine: k, its flow over plenum pressure
        [kg/s/Pa]. volume: [m3]. step: [s].
        """
        j, s = self._place(omega)
        head, flow = self._lines(0, which, j, s), self._lines(1, which, j, s)
        store = volume / (R_AIR * self._lines(2, which, j, s) * step)
        balance = flow - engine[:, None] * head - store * (head - before[:, None])
        lanes = np.arange(before.size)
        k = np.clip(np.sum(balance < 0, axis=1), 1, head.shape[1] - 1)
        left, right = balance[lanes, k - 1], balance[lanes, k]
        share = np.where(right > left, -left / np.where(right > left, right - left, 1.0), 0.0)
        inside = head[lanes, k - 1] + np.clip(share, 0.0, 1.0) * (head[lanes, k] - head[lanes, k - 1])
        # Where even the top of the line is below the plenum, nothing comes in and the engine empties it.
        shut = store[:, 0] * before / (store[:, 0] + engine)
        return np.asarray(np.where(shut > head[:, 0], shut, inside))

    def power_at(self, which: int, omega: Array, flow: float) -> Array:
        """Compressor power [W] at shaft speeds (k,) [rad/s] where a throttle holds the flow [kg/s]."""
        j, s = self._place(omega)
        maps = np.full(omega.shape, which)
        flows, powers = self._lines(1, maps, j, s), self._lines(4, maps, j, s)
        return np.array([np.interp(flow, f, p) for f, p in zip(flows, powers, strict=True)])

    def _place(self, omega: Array) -> tuple[NDArray[np.int64], Array]:
        """Speed line below each shaft speed, and share of the way to the next."""
        step = self.speed[1] - self.speed[0]
        place = np.clip((omega - self.speed[0]) / step, 0.0, self.speed.size - 1.000001)
        j = place.astype(np.int64)
        return j, place - j

    def _lines(self, column: int, which: NDArray[np.int64], j: NDArray[np.int64], s: Array) -> Array:
        """One column along the speed line of each lane, shape (n, i)."""
        below, above = self.columns[column, which, j], self.columns[column, which, j + 1]
        return np.asarray(below + s[:, None] * (above - below))

    def _between(
        self, column: int, which: NDArray[np.int64], j: NDArray[np.int64], s: Array, k: NDArray[np.int64],
        share: Array,
    ) -> Array:  # fmt: skip
        """One column at a place between two nodes of the speed line of each lane, shape (n,)."""
        c = self.columns[column]
        left = c[which, j, k - 1] + s * (c[which, j + 1, k - 1] - c[which, j, k - 1])
        right = c[which, j, k] + s * (c[which, j + 1, k] - c[which, j, k])
        return np.asarray(left + share * (right - left))


def charge_table(variants: tuple[TurboParts, ...], ambient: Ambient, least_speed: float) -> ChargeTable:
    """Table of the delivery of each of some variants of a turbo.

    variants: parts that share wheel diameter. ambient: record. least_speed: lowest shaft speed of the table
    [rad/s]. The highest is where the maps end; beyond it the last line stands.
    """
    sound = np.sqrt(GAMMA_AIR * R_AIR * ambient.temperature)
    top = max(2 * sound * v.compressor_map.mach_range[1] / v.exducer for v in variants)
    speed = np.linspace(least_speed, top, _SPEEDS)
    lines = [_speed_lines(v, ambient, speed) for v in variants]
    return ChargeTable(speed, np.stack(lines, axis=1))


def _speed_lines(parts: TurboParts, ambient: Ambient, speed: Array) -> Array:
    """Columns of one variant, shape (5, j, i)."""
    T, p = ambient.temperature, ambient.pressure
    density = p / (R_AIR * T)
    tip = speed[:, None] * parts.exducer / 2
    mach = tip / np.sqrt(GAMMA_AIR * R_AIR * T)
    low, high = parts.compressor_map.mach_range
    on_map = np.clip(mach, low, high)  # below the lowest line flow and head coefficients stay as they are
    end = parts.compressor_map(np.full(on_map.shape, 0.05), on_map).phi_end
    end_flow = end * density * tip * parts.exducer**2
    beyond = np.geomspace(
        1.15, np.maximum(1.5, _TOP_FLOW * end_flow[-1, 0] / end_flow[:, 0]), _BEYOND, axis=1
    )
    along = np.concatenate((np.broadcast_to(_ON_LINE, (speed.size, _ON_LINE.size)), beyond), axis=1)
    phi = along * end
    point = parts.compressor_map(phi, np.broadcast_to(on_map, phi.shape))
    ideal = phi * density * tip * parts.exducer**2
    inlet = np.full(ideal.shape, p)
    for _ in range(_ROUNDS):  # half steps: far out the filter chokes the flow that it hangs on
        now = np.maximum(p - parts.inlet.at(ideal * inlet / p, density), _LEAST_PRESSURE * p)
        inlet = (inlet + now) / 2
    flow = ideal * inlet / p
    ratio = np.maximum(
        pressure_ratio_of_head(np.maximum(point.psi, -0.4 / np.maximum(mach, 0.05) ** 2), mach), _LEAST_RATIO
    )
    outlet = ratio * inlet
    work = np.maximum(point.work, 0.0)
    hot = T + tip**2 * work / CP_AIR
    plenum, charge = _behind(parts, ambient, flow, outlet, hot)
    # One pressure, one flow: from the line's end leftwards the pressure rises at least by the tilt.
    tilt = _TILT * plenum[:, :1] * np.minimum(flow / flow[:, _ON_LINE.size - 1 : _ON_LINE.size], 1.0)
    index = 1e-3 * np.arange(plenum.shape[1])  # so that far beyond choke it still falls
    plenum = np.maximum.accumulate((plenum + tilt)[:, ::-1], axis=1)[:, ::-1] - tilt - index
    return np.stack((plenum, flow, charge, np.maximum(outlet, plenum), flow * tip**2 * work))


def _behind(
    parts: TurboParts, ambient: Ambient, flow: Array, outlet: Array, hot: Array
) -> tuple[Array, Array]:
    """Plenum pressure and temperature behind cooler and pipes."""
    effectiveness = 0.0 if parts.cooler is None else parts.cooler.effectiveness_at(flow)
    charge = cooled_temperature(hot, ambient.temperature, effectiveness)
    least = _LEAST_PRESSURE * ambient.pressure
    plenum = np.array(outlet)
    for _ in range(_ROUNDS):
        loss = parts.charge_pipes.at(flow, plenum / (R_AIR * charge))
        if parts.cooler is not None:
            loss = loss + parts.cooler.loss.at(flow, (outlet + plenum) / (R_AIR * (hot + charge)))
        plenum = np.maximum(outlet - loss, least)
    return plenum, charge
