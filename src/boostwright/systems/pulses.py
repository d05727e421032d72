"""Exhaust pulses: what a turbine makes of the pressure as it really is, not of its mean.

More gas passes while the pressure is high, and power grows faster than pressure, so a turbine fed by pulses
gives more power than one fed by the mean, and swallows a little less. `pulse_factors` computes both for many
operating points: every cylinder blows down from its state at exhaust opening into one manifold of the full
volume (or two of half), whose pressure drives turbine and gate and stands against the cylinders. The opening
state is set so that each cylinder gives the mass and the mean gas temperature that the engine cycle gave at
this point. The cycle itself ran against a constant exhaust pressure; what the swinging pressure does to the
outflow is in here: without it, the departure of the factors from one would come out 5 % too great at 1500
rev/min and a third too great at 3000 (1.2 L on a two-litre four; checked with a library solver). What it does
to the cycle is not: on that engine 1.3 % more of the charge is burned gas left over at 1500 rev/min, 0.6 % at
3000, nothing at 6000 (`PulseResult.left_mass`).

Waves in the pipes are left out: runners longer than 0.4 m above 4000 rev/min need them. Expected error: 5 %
on the mean pressure, 5 to 8 % on turbine power, 15 % on the peak (judgement).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import NotConverged, OutOfRange
from boostwright.physics.blow_down import FINE_STEPS, BurnedGas, ExhaustEngine, exhaust_tables
from boostwright.physics.nozzle import nozzle_flow
from boostwright.physics.turbine import ExhaustGas, smooth_flow_constant
from boostwright.physics.turbine_unit import Turbine, flow_through, work_of

if TYPE_CHECKING:
    from boostwright.physics.kernels.manifold import ExhaustTables, ManifoldPoints

__all__ = [
    "ExhaustFeed",
    "Manifold",
    "PulseFollower",
    "PulseResult",
    "pulse_factors",
]

Array = NDArray[np.float64]

TOLERANCE: Final = 5e-4
"""Mass and energy that may be missing over a firing interval, relative [-]."""
_STEP_RATE: Final = np.radians(0.25) / (1000 * np.pi / 30)  # fine step for each rad/s of crank speed [s]
_BLOWN: Final = 1.3  # gas in the cylinder at exhaust opening over that at the valve, a first guess [-]
_WALL: Final = 450.0  # mean of crown, roof and liner while the exhaust is open (judgement) [K]
MOVED: Final = 4e-3
"""Change of a pressure, flow or temperature below which a point keeps its factors, relative [-]; they are
then off by up to 4e-3 where pulses are strongest, a twentieth of the model's own error."""
FLOW_LIMITS: Final = (0.3, 3.0)
POWER_LIMITS: Final = (0.3, 6.0)
"""Where the mean pressure hardly stands above that behind the turbine, the factors grow without bound and
mean nothing; they end here [-]."""
_SHUT: Final = 1e-6  # share of the flow past the turbine below which the gate counts as shut [-]
_COLDEST: Final = 350.0  # turbine inlet [K]
_LIMIT: Final = 60  # firing intervals
VALVE_SHARE: Final = 0.3
"""Share of the peak above the mean that a gate's valve feels (judgement) [-]."""
LEAK_SHARE: Final = 0.10
"""Opening between the entries of a twin housing, over the effective area (remembered) [-]."""
ALONE_FLOW: Final = 0.20
"""An entry fed alone takes 0.55 to 0.65 of the whole flow, not 0.50 (remembered) [-]."""
ALONE_EFFICIENCY: Final = 0.07
"""Efficiency lost with one entry fed alone, 5 to 10 points (remembered) [-]."""


class Manifold(NamedTuple):
    """Gas volume between exhaust valves and turbine wheel."""

    volume: float  # all of it, ports, runners and scroll [m3]
    entries: int = 1  # 2: two halves, every second cylinder in firing order on the same one
    leak: float = LEAK_SHARE  # opening between the entries over the turbine's area; twin only [-]


class ExhaustFeed(NamedTuple):
    """What the engine's cycle says of each point; every field broadcasts to (n,)."""

    speed: ArrayLike  # crank [rad/s]
    flow: ArrayLike  # exhaust of the whole engine, air and fuel [kg/s]
    valve_temperature: ArrayLike  # mass-enthalpy mean at the valve [K]
    inlet_temperature: ArrayLike  # the same at the turbine, after port and runner [K]
    trapped_mass: ArrayLike  # per cylinder, as a first guess of what is in it at exhaust opening [kg]


class PulseResult(NamedTuple):
    """Pulse factors and what goes with them; arrays (n,) in the order of the points."""

    flow: Array  # mean turbine flow over that at the mean pressure [-]
    power: Array  # mean turbine power over (mean flow) x (drop and efficiency at the mean pressure) [-]
    gate: Array  # mean gate flow over that at the mean pressure; of a small opening where shut [-]
    mean_pressure: Array  # time mean in the manifold [Pa]
    peak_pressure: Array  # greatest [Pa]
    least_pressure: Array  # [Pa]
    opening_mass: Array  # in a cylinder at exhaust opening [kg]
    opening_temperature: Array  # there [K]
    opening_pressure: Array  # there [Pa]
    left_mass: (
        Array  # left in a cylinder at exhaust closing, the intake's part in the overlap not counted [kg]
    )
    turbine_flow: Array  # mean [kg/s]
    gate_flow: Array  # mean [kg/s]
    turbine_power: Array  # mean [W]
    imbalance: Array  # mass and energy not accounted for over an interval, relative [-]
    intervals: Array  # firing intervals computed [-]
    state: Array  # (n, k) where the next call may start

    @property
    def valve_ratio(self) -> Array:
        """Exhaust pressure that a gate's valve feels over the mean: mean + 0.3 (peak - mean) [-]."""
        return np.asarray(1 + VALVE_SHARE * (self.peak_pressure / self.mean_pressure - 1))


def pulse_factors(
    engine: ExhaustEngine,
    manifold: Manifold,
    turbine: Turbine,
    gas: BurnedGas,
    feed: ExhaustFeed,
    *,
    p3: ArrayLike,
    p4: ArrayLike,
    shaft_speed: ArrayLike,
    gate_area: ArrayLike = 0.0,
    state: Array | None = None,
    refine: float = 1.0,
    tolerance: float = TOLERANCE,
    most_intervals: int | None = None,
) -> PulseResult:
    """Pulse factors of a turbine behind this engine at many operating points.

    F_m = <m_t>/m_t(<p3>), F_P = <P_t>/(<m_t> dh_s(<p3>) eta(<p3>)), <> the mean over time, both at the mean
    gas temperature; the turbine is quasi-steady, its shaft turns at constant speed.

    engine: geometry. manifold: volume and entries. turbine: any that `turbine_unit` knows. gas: burned gas,
    one for each point. feed: what the cycle says. p3: mean exhaust pressure, where a cold start begins [Pa].
    p4: behind turbine and gate [Pa]. shaft_speed: [rad/s]. gate_area: effective, discharge coefficient
    included [m2]. state: `PulseResult.state` of a like call, to start from. refine: divides every step.
    All broadcast to (n,), n from gas. Numerical error: 2e-3 of the factors below 1500 rev/min, 5e-4 above.

    Raises OutOfRange for inputs that are not positive, NotConverged where a point does not become periodic.
    """
    from boostwright.physics.kernels.manifold import N_RESULT, ManifoldPoints, X, pulses, state_size

    n = gas.R.size
    columns = [np.array(np.broadcast_to(np.asarray(a, dtype=np.float64), (n,))) for a in feed]
    omega, flow, T_valve, T3, trapped = columns
    p3, p4, shaft, gate = (
        np.array(np.broadcast_to(np.asarray(a, dtype=np.float64), (n,)))
        for a in (p3, p4, shaft_speed, gate_area)
    )
    _check(manifold, *columns, p3, p4, shaft, gate)
    exhaust = gas.near(T3)
    h_valve = gas.enthalpy(T_valve)
    one = np.ones(n)
    twin = manifold.entries == 2
    points = ManifoldPoints(
        omega=omega,
        volume=manifold.volume / manifold.entries * one,
        p4=p4,
        turbine=turbine.area * smooth_flow_constant(exhaust, T3, turbine.exponent),
        exponent=turbine.exponent * one,
        alone=(ALONE_FLOW if twin else 0.0) * one,
        gate=gate,
        leak=(manifold.leak * turbine.area if twin else 0.0) * one,
        R=np.ascontiguousarray(gas.R),
        cp=np.ascontiguousarray(gas.cp),
        h=np.ascontiguousarray(gas.cp / np.arange(1, 8)),
        mass=flow * 4 * np.pi / (omega * engine.cylinders),
        enthalpy=h_valve,
        loss=h_valve - gas.enthalpy(T3),
        ln_speed=np.log(engine.stroke * omega / np.pi + 1.4),
        T_wall=_WALL * one,
    )
    size = state_size(exhaust_tables(engine, manifold.entries))
    if state is None or state.shape != (n, size):
        state = np.zeros((n, size))
    state = np.array(state)
    cold = ~(state[:, -2] > 0)
    state[cold, -2], state[cold, -1] = trapped[cold], _BLOWN * T_valve[cold]
    start = np.stack([np.maximum(p3, 1.02 * p4), T3], axis=1)
    rung = np.clip(np.searchsorted(FINE_STEPS, _STEP_RATE * omega * (1 + 1e-9), side="right") - 1, 0, None)
    answer: PulseResult | None = None
    for k in np.unique(rung):
        pick = rung == k
        tables = exhaust_tables(engine, manifold.entries, FINE_STEPS[k] / refine)
        some = ManifoldPoints(*(a[pick] for a in points))
        part, results = state[pick], np.zeros((int(pick.sum()), N_RESULT))
        trace = np.zeros((part.shape[0], tables.halves, tables.steps, 2))
        pulses(part, start[pick], tables, some, tolerance, most_intervals or _LIMIT, results, trace)
        if most_intervals is None:
            _periodic(omega[pick], results[:, X.imbalance], tolerance)
        near = ExhaustGas(*(np.asarray(a)[pick] for a in exhaust))
        found = _factors(turbine, some, near, tables, trace, results, part, T3[pick], shaft[pick])
        answer = _into(answer, found, pick)
    assert answer is not None
    return answer


def _periodic(omega: Array, imbalance: Array, tolerance: float) -> None:
    """Raise NotConverged where a point did not become periodic."""
    bad = ~(imbalance <= tolerance)
    if bad.any():
        i = int(np.argmax(bad))
        raise NotConverged(
            f"The exhaust pulses did not repeat within {_LIMIT} firing intervals at {int(bad.sum())} of "
            f"{bad.size} points, the first at {omega[i] * 30 / np.pi:.0f} rev/min, where {imbalance[i]:.1e} "
            "of mass or energy is still missing."
        )


def _into(whole: PulseResult | None, part: PulseResult, pick: NDArray[np.bool_]) -> PulseResult:
    """The rows of ``part`` put where ``pick`` is true."""
    columns = []
    for old, new in zip(part if whole is None else whole, part, strict=True):
        blank = np.zeros((pick.size, *new.shape[1:]), dtype=new.dtype) if whole is None else old
        blank[pick] = new
        columns.append(blank)
    return PulseResult(*columns)


def _factors(
    turbine: Turbine,
    points: ManifoldPoints,
    exhaust: ExhaustGas,
    tables: ExhaustTables,
    trace: Array,
    results: Array,
    state: Array,
    T3: Array,
    shaft: Array,
) -> PulseResult:
    """Means over the crank angle, and the factors that follow; the crank angle is the last axis."""
    from boostwright.physics.kernels.manifold import X

    p4, gate = points.p4, points.gate
    p, T = trace[..., 0], trace[..., 1]  # (n, halves, steps)
    wide = ExhaustGas(*(np.asarray(a)[:, None, None] for a in exhaust))
    behind, turning = p4[:, None, None], shaft[:, None, None]
    uneven = np.zeros(p[:, :1].shape)
    if tables.halves == 2:
        high, low = p.max(axis=1, keepdims=True), p.min(axis=1, keepdims=True)
        uneven = np.clip((high - low) / np.maximum(high - behind, 1.0), 0.0, 1.0)
    area = (1 + ALONE_FLOW * uneven) / tables.halves
    m = flow_through(turbine, p, T, behind, wide, area)
    work = work_of(turbine, m, np.maximum(p / behind, 1.0), T, turning, wide)
    lost = ALONE_EFFICIENCY * uneven / np.maximum(work.efficiency, 1e-3)
    power = work.power * np.maximum(1 - lost, 0.0)
    small = np.where(gate > 0, gate, 1e-6)[:, None, None] / tables.halves
    past = nozzle_flow(small, p, T, behind, wide.R, wide.gamma(T))

    # a node stands for half the steps beside it; the interval closes on itself, halves changing places
    share = 0.5 * (tables.width + np.roll(tables.width, 1)) / np.sum(tables.width)

    def mean(a: Array) -> Array:
        return np.asarray(np.sum(a, axis=1) @ share)

    p_mean = mean(p) / tables.halves
    m_mean, P_mean, g_mean = mean(m), mean(power), mean(past)
    # the integration's own mass is exact; the sums over its nodes are scaled to it
    passed = results[:, X.out_mass] / np.sum(tables.width) * points.omega
    scale = passed / (m_mean + np.where(gate > 0, g_mean, 0.0))
    m_mean, P_mean, g_mean = scale * m_mean, scale * P_mean, scale * g_mean
    steady = flow_through(turbine, p_mean, T3, p4, exhaust)
    at_mean = work_of(turbine, m_mean, p_mean / p4, T3, shaft, exhaust)
    g_steady = nozzle_flow(np.where(gate > 0, gate, 1e-6), p_mean, T3, p4, exhaust.R, exhaust.gamma(T3))
    opening = results[:, X.opening_mass] * exhaust.R * results[:, X.opening_temperature] / tables.volume[0]
    return PulseResult(
        flow=_held(m_mean, steady, FLOW_LIMITS),
        power=_held(P_mean, at_mean.power, POWER_LIMITS),
        gate=_held(g_mean, g_steady, FLOW_LIMITS),
        mean_pressure=p_mean,
        peak_pressure=p.max(axis=(1, 2)),
        least_pressure=p.min(axis=(1, 2)),
        opening_mass=results[:, X.opening_mass],
        opening_temperature=results[:, X.opening_temperature],
        opening_pressure=np.asarray(opening),
        left_mass=results[:, X.left_mass],
        turbine_flow=m_mean,
        gate_flow=np.where(gate > 0, g_mean, 0.0),
        turbine_power=P_mean,
        imbalance=results[:, X.imbalance],
        intervals=results[:, X.intervals],
        state=state,
    )


def _held(value: Array, over: Array, limits: tuple[float, float]) -> Array:
    """A ratio inside its limits; the upper one where nothing stands below the line."""
    some = over > 0
    ratio = np.where(some, value / np.where(some, over, 1.0), limits[1])
    return np.asarray(np.where(np.isfinite(ratio), np.clip(ratio, *limits), ratio))


def _check(manifold: Manifold, *columns: Array) -> None:
    """Refuse what is not positive."""
    names = (
        "crank speed", "exhaust flow", "gas temperature at the valve", "gas temperature at the turbine",
        "trapped mass", "exhaust pressure", "pressure behind the turbine", "shaft speed",
    )  # fmt: skip
    for name, column in zip(names, columns, strict=False):
        bad = ~(np.isfinite(column) & (column > 0))
        if bad.any():
            raise OutOfRange(
                f"Exhaust pulses need a {name} above zero; point {int(np.argmax(bad))} has "
                f"{column[bad][0]:g}."
            )
    if not manifold.volume > 0 or manifold.entries not in (1, 2):
        raise OutOfRange(
            f"A manifold needs a volume above zero and one or two entries, not {manifold.volume:g} m3 and "
            f"{manifold.entries}."
        )
    if not np.all(columns[-1] >= 0):
        raise OutOfRange("The area of an open gate is not below zero.")


class PulseFollower:
    """Pulse factors that go along with a match, round by round.

    Each call starts where the one before stopped, and leaves out the points that have not moved since. The
    factors hang weakly on the point: after a handful of rounds of a match they stand, and cost nothing more.
    """

    def __init__(
        self,
        engine: ExhaustEngine,
        manifold: Manifold,
        turbine: Turbine,
        gas: BurnedGas,
        *,
        moved: Array | float = MOVED,
    ) -> None:
        self.engine = engine
        self.manifold = manifold
        self.turbine = turbine
        self.gas = gas
        self.moved = moved
        self._result: PulseResult | None = None
        self._at = np.full((8, gas.R.size), np.nan)  # conditions of each point's last answer that was settled

    def update(
        self,
        feed: ExhaustFeed,
        *,
        p3: ArrayLike,
        p4: ArrayLike,
        shaft_speed: ArrayLike,
        gate_flow: ArrayLike,
        where: NDArray[np.int64] | None = None,
        most_intervals: int | None = None,
    ) -> PulseResult:
        """Pulse factors at these conditions; arguments as `pulse_factors`.

        gate_flow: mean flow past the turbine [kg/s], from which the gate's opening follows. where: which of
        the points the arguments speak of, shape (m,), and the answer then too; None: all. Points whose
        conditions cannot be computed (a cycle that failed) keep what they had, at first factors of one.
        Raises NotConverged as `pulse_factors`, if most_intervals is None.
        """
        n = self.gas.R.size
        rows = np.arange(n) if where is None else where
        given = np.full((9, n), np.nan)
        for k, a in enumerate((*feed, p3, p4, shaft_speed, gate_flow)):
            given[k, rows] = a
        speed, flow, T_valve, T3, trapped, p3, p4, shaft, past = given
        result = self._result if self._result is not None else _no_pulses(self, p3)
        columns = np.stack([speed, flow, T_valve, T3, trapped, p3, p4, shaft])
        usable = np.all(np.isfinite(columns) & (columns > 0), axis=0) & (T3 > _COLDEST) & np.isfinite(past)
        gas = self.gas.near(np.where(usable, T3, 1000.0))
        with np.errstate(invalid="ignore"):
            unit = nozzle_flow(result.gate, p3, T3, p4, gas.R, gas.gamma(T3))
            open_gate = usable & (past > _SHUT * flow) & (unit > 0)
        area = np.where(open_gate, past / np.where(open_gate, unit, 1.0), 0.0)
        # pressures, flow and the gate's share of the opening decide; the trapped mass is a first guess only
        now = np.stack(
            [*np.log(np.where(usable, columns[[1, 2, 3, 5, 6, 7]], 1.0)), area / self.turbine.area, speed]
        )
        with np.errstate(invalid="ignore"):
            still = np.all(np.abs(now - self._at) <= self.moved, axis=0)
        pick = usable & ~still
        if pick.any():
            found = pulse_factors(
                self.engine,
                self.manifold,
                self.turbine,
                BurnedGas(self.gas.R[pick], self.gas.cp[pick]),
                ExhaustFeed(*(c[pick] for c in columns[:5])),
                p3=p3[pick],
                p4=p4[pick],
                shaft_speed=shaft[pick],
                gate_area=area[pick],
                state=result.state[pick],
                most_intervals=most_intervals,
            )
            sound = np.isfinite(found.imbalance) & np.isfinite(found.power) & (found.flow > 0)
            settled = sound & (found.imbalance <= TOLERANCE)
            at = np.flatnonzero(pick)
            for old, new in zip(result, found, strict=True):
                old[at[sound]] = new[sound]
            result.state[at[~sound]] = 0.0
            self._at[:, at] = np.where(settled, now[:, at], np.nan)
        self._result = result
        return PulseResult(*(np.array(a[rows]) for a in result))


def _no_pulses(follower: PulseFollower, p3: Array) -> PulseResult:
    """Factors of one, and a state from which the next call starts cold."""
    from boostwright.physics.kernels.manifold import state_size

    n = p3.size
    one, none = np.ones(n), np.zeros(n)
    blank = {name: np.array(none) for name in PulseResult._fields}
    blank |= {"flow": one.copy(), "power": one.copy(), "gate": one.copy()}
    blank |= {name: np.nan_to_num(p3) for name in ("mean_pressure", "peak_pressure", "least_pressure")}
    size = state_size(exhaust_tables(follower.engine, follower.manifold.entries))
    blank["state"] = np.zeros((n, size))
    return PulseResult(**blank)
