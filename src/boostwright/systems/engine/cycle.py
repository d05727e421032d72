"""One cylinder's cycle at prescribed conditions, for one operating point or many; the engine's figures from
it.

    result = run_cycle(engine, fuel, OperatingPoints(speed=314.0, plenum_pressure=99.0e3, ...))
    results = run_cycles(engine, fuel, points)           # arrays of points
    trace = trace_cycle(engine, fuel, point)             # the last cycle over the crank angle

`CycleSolver` keeps the converged states, so that a search over spark or load starts where it left off.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import NotConverged, OutOfRange
from boostwright.physics.friction import FrictionSizes, sandoval_heywood_fmep
from boostwright.physics.gas import Mixture
from boostwright.physics.heat_transfer import (
    depcik_assanis_coefficient,
    manifold_outlet,
    pipe_outlet_temperature,
)
from boostwright.physics.kernels.records import GasTables, PointInputs, Steps, WiebeDurations
from boostwright.physics.knock import OCTANE_EXPONENT, knock_warmth_score, mixture_delay_factor
from boostwright.systems.engine.steps import StepSizes, sizes_of, step_kinds, step_sizes
from boostwright.systems.engine.tables import cylinder_tables, gas_tables, mixtures
from boostwright.systems.engine.types import (
    BurnLaw,
    CycleResult,
    EngineGeometry,
    Fuel,
    HeatLaw,
    ModelFactors,
    OperatingPoints,
)

__all__ = [
    "STATUS_WORDS",
    "CycleSolver",
    "CycleTrace",
    "StepSizes",
    "run_cycle",
    "run_cycles",
    "step_sizes",
    "trace_cycle",
]

Array = NDArray[np.float64]

STATUS_WORDS: Final[dict[int, str]] = {
    0: "converged",
    1: "the cycle did not repeat within the cycles allowed",
    2: "the cycle left the ground of the gas data: pressure or temperature out of bounds",
    3: "the charge was still burning when the exhaust valve opened",
}
KNOCK_END: Final = 0.85  # burned share at which the knock integral stops; belongs to the class default of C_K
PORT_WALL: Final = 520.0  # exhaust port wall [K]
PORT_PULSATION: Final = 1.5  # on the heat transfer in the exhaust port [-]
REFERENCE_LAM: Final = 0.88  # mixture and residual share at which the class default of C_K was set
REFERENCE_RESIDUAL: Final = 0.05
REFERENCE_DELAY: Final = float(mixture_delay_factor(REFERENCE_LAM, REFERENCE_RESIDUAL))
RAM_WORK: Final = 1.85  # work that ram costs over its pressure [-]; both held against the runner by a test
RAM_WARMTH: Final = 0.45  # exponent of the charge's warmth over a breathing factor [-]: that work stays in it
RAM_REACH: Final = 4.0 / 3.0  # exponent of the pressure that brings a charge: its warmth takes a quarter back
_ATMOSPHERE: Final = 101325.0


class CycleTrace(NamedTuple):
    """The last cycle over the crank angle; arrays of shape (m,), SI units.

    ``phase``: 0 compression, 1 burn, 2 expansion, 3 valves open. Unburned and burned zone temperatures are
    equal outside the burn. ``raw`` holds the kernel's own columns, for the energy account.
    """

    theta: Array
    phase: Array
    pressure: Array
    temperature: Array  # unburned zone during the burn, else of the whole charge [K]
    burned_temperature: Array
    burned_mass: Array  # [kg]; during compression and gas exchange the residual share of the charge
    mass: Array  # [kg]
    raw: Array  # (m, 22)


class CycleSolver:
    """Cycles of one engine on one fuel with one set of model choices; keeps tables, not results."""

    def __init__(
        self,
        engine: EngineGeometry,
        fuel: Fuel,
        *,
        factors: ModelFactors | None = None,
        burn_law: BurnLaw = BurnLaw.ENTRAINMENT,
        heat_law: HeatLaw = HeatLaw.WOSCHNI,
        durations: WiebeDurations | None = None,
        refine: float = 1.0,
        tolerance: float = 1.0e-4,
        knock_law: float = 0.5,
    ) -> None:
        """engine, fuel, factors, laws: what runs. durations: of the Wiebe law; None fits them. refine:
        divides every crank-angle step. tolerance: distance from periodicity [-]. knock_law: weight of the
        guideline delay; 0.5 leaves both integrals apart, else both hold their weighted geometric mean [-].
        """
        self.knock_law = knock_law
        self.engine = engine
        self.fuel = fuel
        self.factors = factors if factors is not None else ModelFactors()
        self.heat_law = heat_law
        self.burn_law = burn_law
        self.refine = refine
        self.tolerance = tolerance
        self.tables = cylinder_tables(engine, self.factors.burn)
        self.ring = 0.0
        if engine.runner_length > 0.0:
            self.ring = 345.0 * np.sqrt(engine.runner_area / (engine.runner_length * engine.port_volume))
        if burn_law is BurnLaw.WIEBE and durations is None:
            from boostwright.systems.engine.burn_fit import fitted_durations

            durations = fitted_durations(engine, fuel, self.factors)
        self.durations = durations if durations is not None else NO_DURATIONS
        self.friction = FrictionSizes.usual(
            engine.bore,
            engine.stroke,
            engine.cylinders,
            engine.compression_ratio,
            engine.intake.count + engine.exhaust.count,
            0.5 * (engine.intake.lift + engine.exhaust.lift),
            engine.valve_gear,
        )

    def run(
        self, points: OperatingPoints, state: Array | None = None, max_cycles: int | None = None
    ) -> CycleResult:
        """Converged cycles at ``points``; ``state`` (n, 18) is where to start, and is replaced by where it
        ended. ``max_cycles``: stop after so many, at rest or not (status 1); None for the usual patience.
        """
        return self.figures(*self.solve(points, state, max_cycles=max_cycles)[:3])

    def solve(
        self,
        points: OperatingPoints,
        state: Array | None = None,
        rows: int = 0,
        max_cycles: int | None = None,
    ) -> tuple[_Inputs, Array, NDArray[np.int64], Array, Array]:
        """The bare solution: inputs, result columns, status, state (n, 18), trace; arguments as `run`."""
        from boostwright.physics.kernels.cycle import N_RESULT, N_STATE, N_TRACE, cycles

        inputs = self._inputs(points)
        n = inputs.speed.size
        if state is None:
            state = np.zeros((n, N_STATE))
        given, state = state, np.ascontiguousarray(state)
        results = np.zeros((n, N_RESULT))
        status = np.zeros(n, dtype=np.int64)
        trace = np.zeros((n, rows, N_TRACE))
        kinds = step_kinds(inputs.speed, self.ring, self.burn_law)
        if (kinds == kinds[0]).all():
            sizes = self._steps(kinds[0], max_cycles)
            cycles(state, self.tables, inputs.gas, inputs.kernel, sizes, results, status, trace)
        else:
            for kind in np.unique(kinds):
                pick = kinds == kind
                st, re, tr, code = state[pick], results[pick], trace[pick], status[pick]
                sizes = self._steps(kind, max_cycles)
                cycles(st, self.tables, inputs.gas, inputs.kernel.rows(pick), sizes, re, code, tr)
                state[pick], results[pick], trace[pick], status[pick] = st, re, tr, code
        if given is not state:
            given[...] = state
        return inputs, results, status, given, trace

    def closed(
        self, points: OperatingPoints, state: Array
    ) -> tuple[_Inputs, Array, Array, NDArray[np.int64]]:
        """Compression, burn and expansion alone, from states at intake closing that stand still.

        points, state: as `run`, but ``state`` is left as it is. Returns inputs, result columns with those of
        the closed phase filled, pressure when the exhaust opens (n,) [Pa], and status.
        """
        from boostwright.physics.kernels.closed_sweep import closed_sweep
        from boostwright.physics.kernels.cycle import N_RESULT

        inputs = self._inputs(points)
        n = inputs.speed.size
        results, end, status = np.zeros((n, N_RESULT)), np.full(n, np.nan), np.zeros(n, dtype=np.int64)
        kinds = step_kinds(inputs.speed, self.ring, self.burn_law)
        for kind in np.unique(kinds):
            pick = kinds == kind
            re, en, code = results[pick], end[pick], status[pick]
            kernel, sizes = inputs.kernel.rows(pick), self._steps(kind, None)
            closed_sweep(state[pick], self.tables, inputs.gas, kernel, sizes, re, en, code)
            results[pick], end[pick], status[pick] = re, en, code
        return inputs, results, end, status

    def _steps(self, kind: np.int64, max_cycles: int | None) -> Steps:
        sizes = sizes_of(int(kind), self.refine, self.tolerance, self.burn_law)
        return Steps(*(sizes if max_cycles is None else sizes._replace(max_cycles=max_cycles)))

    def _inputs(self, points: OperatingPoints) -> _Inputs:
        """Broadcast, checked, and with the charge's state at the valve worked out."""
        speed, p, T, p_ex, lam, spark = point = points.arrays()
        _check_points(self.engine, point)
        found, rows = mixtures(self.fuel, lam)
        gas = gas_tables(self.fuel, tuple(m.lam for m in found))
        f = self.factors
        # the port's walls give the same heat to more charge under boost: about 5 K at 170 kPa
        heating = f.port_heating * np.minimum((_ATMOSPHERE / p) ** 0.9, 2.0)
        fraction = gas.fuel_fraction[rows]
        h_vap = np.array([m.h_vap for m in found])[rows]
        T_inlet = T + heating - f.evaporated_share * fraction * h_vap / 1050.0
        k = f.breathing_at(speed) ** RAM_REACH
        one = np.ones_like(speed)
        kernel = PointInputs(
            omega=speed,
            p_plenum=k * p,
            T_inlet=T_inlet * k**RAM_WARMTH,
            p_exhaust=p_ex,
            spark=spark,
            mixture=rows,
            heat_factor=f.heat * one,
            loss=f.combustion_loss * np.minimum(1.0, lam),
            coolant=f.coolant_temperature * one,
            knock_end=KNOCK_END * one,
            heat_law=self.heat_law.value,
            burn_law=self.burn_law.value,
            durations=self.durations,
        )
        return _Inputs(speed, p, T, lam, spark, found, rows, gas, kernel)

    def figures(self, inputs: _Inputs, r: Array, status: NDArray[np.int64]) -> CycleResult:
        """The engine's figures from one cylinder's result columns."""
        from boostwright.physics.kernels.cycle import R

        r = np.array(r)
        r[status == 2] = np.nan  # nothing of a broken cycle is an answer
        marks = [R.ca10, R.ca50, R.ca90]
        r[:, marks] = np.where(r[:, marks] == 0.0, np.nan, r[:, marks])  # never reached
        e, f = self.engine, self.factors
        Vd = e.swept_volume
        rate = inputs.speed / (4.0 * np.pi)  # cycles per second
        fraction = inputs.gas.fuel_fraction[inputs.rows]
        lhv = inputs.gas.lhv[inputs.rows]
        k = f.breathing_at(inputs.speed) ** RAM_REACH
        ram = RAM_WORK * (k - 1.0) * inputs.p  # paid for earlier in the stroke
        imep = r[:, R.work] / Vd - ram
        fmep = f.friction * sandoval_heywood_fmep(self.friction, inputs.speed, inputs.p / _ATMOSPHERE).total
        bmep = imep - fmep
        torque = bmep * e.displacement / (4.0 * np.pi)
        fresh = r[:, R.fresh]
        air = fresh * (1.0 - fraction) * rate * e.cylinders
        density = inputs.p / (287.05 * inputs.T)
        valve, port, manifold = self._exhaust(r, rate)
        y = r[:, R.burned]
        knock_a, knock_c = self.knock_integrals(inputs, r)
        energy = fresh * fraction * lhv
        return CycleResult(
            torque=torque,
            power=torque * inputs.speed,
            imep=imep,
            pmep=r[:, R.pump] / Vd - ram,
            fmep=fmep,
            bmep=bmep,
            air_flow=air,
            fuel_flow=fresh * fraction * rate * e.cylinders,
            volumetric_efficiency=fresh * (1.0 - fraction) / (density * Vd),
            residual=y,
            trapped_mass=r[:, R.mass],
            charge_temperature=r[:, R.t_ivc],
            peak_pressure=r[:, R.p_max],
            peak_angle=r[:, R.a_max],
            ca10=r[:, R.ca10],
            ca50=r[:, R.ca50],
            ca90=r[:, R.ca90],
            peak_burned_temperature=r[:, R.t_burned],
            peak_unburned_temperature=r[:, R.t_unburned],
            exhaust_valve_temperature=valve,
            exhaust_port_temperature=port,
            exhaust_manifold_temperature=manifold,
            wall_heat=r[:, R.heat] / energy,
            wall_temperatures=r[:, [R.t_piston, R.t_head, R.t_liner]],
            knock_a=knock_a,
            knock_c=knock_c,
            fuel_energy=energy,
            unburnt_energy=r[:, R.unburnt],
            periodicity=r[:, R.change],
            cycles=r[:, R.cycles],
            status=status,
        )

    def knock_integrals(self, inputs: _Inputs, r: Array) -> tuple[Array, Array]:
        """Both knock integrals of each point [-], from result columns of a whole cycle or a closed phase."""
        from boostwright.physics.kernels.cycle import R

        f = self.factors
        mole = inputs.gas.burned_moles[inputs.rows]
        y = r[:, R.burned]
        residual_mole = y / (y + (1.0 - y) / mole)
        delay = mixture_delay_factor(inputs.lam, residual_mole) / REFERENCE_DELAY
        knock = f.knock * (self.fuel.ron / 100.0) ** -OCTANE_EXPONENT / delay
        if f.knock_warmth:
            knock = knock * np.exp(f.knock_warmth * knock_warmth_score(r[:, R.t_unburned]))
        mixed_a, mixed_c = self._mixed(r[:, R.knock_a], r[:, R.knock_c])
        return knock * mixed_a, knock * mixed_c

    def _mixed(self, a: Array, c: Array) -> tuple[Array, Array]:
        """Both knock integrals, or their weighted geometric mean twice [-]."""
        if self.knock_law == 0.5:
            return a, c
        w = self.knock_law
        both = np.maximum(a, 0.0) ** (1.0 - w) * np.maximum(c, 0.0) ** w
        return both, both

    def _exhaust(self, r: Array, rate: Array) -> tuple[Array, Array, Array]:
        """Gas temperature at the valve (mass-enthalpy mean), after port, after manifold runner [K]."""
        from boostwright.physics.kernels.cycle import R

        e, more = self.engine, self.factors.exhaust_cooling
        T, cp = r[:, R.t_out], r[:, R.cp_out]
        flow = r[:, R.fresh] * rate  # net exhaust flow of one cylinder [kg/s]
        flow = np.maximum(flow, 1.0e-6)
        area = more * np.pi * e.exhaust_port_diameter * e.exhaust_port_length
        coefficient = depcik_assanis_coefficient(flow, e.exhaust_port_diameter, T, cp, PORT_PULSATION)
        port = pipe_outlet_temperature(T, PORT_WALL, coefficient * area, flow * cp)
        ok = np.isfinite(port)
        manifold = np.full_like(port, np.nan)
        if ok.any():
            length = more * e.manifold_length
            out = manifold_outlet(port[ok], flow[ok], e.manifold_diameter, length, cp=cp[ok])
            manifold[ok] = out.temperature
        return T, port, manifold


class _Inputs(NamedTuple):
    speed: Array
    p: Array
    T: Array
    lam: Array
    spark: Array
    found: list[Mixture]
    rows: NDArray[np.int64]
    gas: GasTables
    kernel: PointInputs


NO_DURATIONS: Final = WiebeDurations(np.zeros(7), np.zeros(7), 0.1, 0.1, np.array([3.0, 3.0]))


def _check_points(engine: EngineGeometry, point: tuple[Array, ...]) -> None:
    """Refuse conditions outside the model's ground, in the units of the bench."""
    speed, p, T, p_exhaust, _, spark = point
    start = engine.intake.closes - 4 * np.pi
    limits = (
        ("engine speed", speed, 500.0 - 1e-9, 12000.0 + 1e-6, 30 / np.pi, 0.0, "rev/min"),
        ("plenum pressure", p, 20.0, 400.0, 1e-3, 0.0, "kPa absolute"),
        ("plenum temperature", T, -50.0, 150.0, 1.0, -273.15, "degC"),
        ("exhaust manifold pressure", p_exhaust, 50.0, 600.0, 1e-3, 0.0, "kPa absolute"),
        ("spark", spark, -60.0, float(-np.degrees(start)) - 5.0, -180.0 / np.pi, 0.0, "degrees before TDC"),
    )
    for name, si, low, high, factor, zero, unit in limits:
        value = factor * si + zero
        if value.min() >= low and value.max() <= high:
            continue
        bad = ~((value >= low) & (value <= high))
        raise OutOfRange(
            f"{name} {value[bad][0]:g} {unit}: the cycle model holds from {low:g} to {high:g} {unit}"
        )


def run_cycles(
    engine: EngineGeometry,
    fuel: Fuel,
    points: OperatingPoints,
    *,
    factors: ModelFactors | None = None,
    burn_law: BurnLaw = BurnLaw.ENTRAINMENT,
    heat_law: HeatLaw = HeatLaw.WOSCHNI,
    refine: float = 1.0,
    tolerance: float = 1.0e-4,
) -> CycleResult:
    """Converged cycles at prescribed plenum and exhaust states, lambda, speed and spark.

    engine, fuel: records. points: every field a float or an array; they broadcast to (n,); SI units, angles
    [rad]. factors: multipliers of the model. refine: divides every crank-angle step. tolerance: distance from
    periodicity [-]. Returns a `CycleResult` of arrays (n,); ``status`` tells which points converged
    (`STATUS_WORDS`). Raises OutOfRange for conditions outside the model's ground.
    """
    solver = CycleSolver(
        engine,
        fuel,
        factors=factors,
        burn_law=burn_law,
        heat_law=heat_law,
        refine=refine,
        tolerance=tolerance,
    )
    return solver.run(points)


def run_cycle(
    engine: EngineGeometry,
    fuel: Fuel,
    point: OperatingPoints,
    *,
    factors: ModelFactors | None = None,
    burn_law: BurnLaw = BurnLaw.ENTRAINMENT,
    heat_law: HeatLaw = HeatLaw.WOSCHNI,
    refine: float = 1.0,
    tolerance: float = 1.0e-4,
) -> CycleResult:
    """`run_cycles` for a single operating point; raises NotConverged with the reason instead of returning a
    flag.
    """
    result = run_cycles(
        engine,
        fuel,
        point,
        factors=factors,
        burn_law=burn_law,
        heat_law=heat_law,
        refine=refine,
        tolerance=tolerance,
    )
    if result.status.size != 1:
        raise OutOfRange(f"run_cycle takes one operating point, got {result.status.size}; use run_cycles")
    if result.status[0] != 0:
        raise NotConverged(STATUS_WORDS[int(result.status[0])])
    return result


def trace_cycle(
    engine: EngineGeometry,
    fuel: Fuel,
    point: OperatingPoints,
    *,
    factors: ModelFactors | None = None,
    burn_law: BurnLaw = BurnLaw.ENTRAINMENT,
    heat_law: HeatLaw = HeatLaw.WOSCHNI,
    refine: float = 1.0,
    tolerance: float = 1.0e-8,
) -> CycleTrace:
    """The converged cycle of one operating point over the crank angle, at every step of the integration."""
    solver = CycleSolver(
        engine,
        fuel,
        factors=factors,
        burn_law=burn_law,
        heat_law=heat_law,
        refine=refine,
        tolerance=tolerance,
    )
    _, _, status, _, trace = solver.solve(point, rows=int(9000 * refine))
    if status[0] == 2:
        raise NotConverged(STATUS_WORDS[2])
    t = trace[0]
    t = t[: int(np.argmax(t[:, 4] == 0.0))]
    t = t[t[:, 3] < 4.0]
    burning = t[:, 3] == 1.0
    return CycleTrace(
        theta=t[:, 0],
        phase=t[:, 3],
        pressure=t[:, 1],
        temperature=t[:, 2],
        burned_temperature=np.where(burning, t[:, 6], t[:, 2]),
        burned_mass=np.where((t[:, 3] == 1.0) | (t[:, 3] == 2.0), t[:, 7], t[:, 5]),
        mass=t[:, 4],
        raw=t,
    )
