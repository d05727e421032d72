"""Invented engines that are not the program's model: what one is, how it breathes, burns, knocks and rubs.

`make_truth(seed)` draws one. Its sizes are those of road engines; what the class leaves open is drawn with
the class's own spreads. What is perturbed against the model, and by how much (one standard deviation):

* breathing: k(N) = exp(b0 + b1 x + b2 x^2 + wave), x = (N - 3750 rpm)/2750 rpm, b's 0.08 each, as an
  effective state of the plenum; the wave has 1-3 % amplitude and 1.5-3 periods over 1000-6500 rpm and moves
  with the speed of sound, so that no parabola follows it; under boost the level departs by 2 % more (a model
  with a runner keeps its shape within 4 % from 100 to 170 kPa);
* wall heat: Annand's or Eichelberg's law instead of Woschni's or Hohenberg's, exponents of speed and
  pressure shifted by 0.08 more, level 0.20;
* burn: two Wiebe curves whose durations follow Hires, Tabaczynski & Novak, tail 3-10 % of the charge,
  durations 0.16 (what 0.20 of turbulence does to them) and 0.10 more for the plug's place on the main part;
* knock: a delay of the form of He et al. 2005 with its exponents of pressure, mixture and oxygen; the
  activation temperature is drawn between 0.4 and 1 of theirs, since engines knock below the ground of that
  law, where measured delays flatten; level 0.25;
* friction: Chen & Flynn (with peak pressure) or Barnes-Moss (speed alone), level 0.17;
* unburnt fuel 3 +- 1 %, residual 0.15, port heating 8 +- 4 K with another exponent of density, evaporated
  share 0.40 +- 0.10, walls 8 K, exhaust port and manifold by Malchow's law with 0.2, losses of intake 0.4 and
  exhaust 0.5;
* the factory's spark map keeps 0-3 degrees away from best torque and knock.

The closed part is other code as well (`closed`). Gas data and the filling of the cylinder are the program's.
Levels of wall heat, burn, knock and friction are anchored at the class engine (86 x 86 mm, 3000 rpm; knock at
2000 rpm), wall heat and knock half-way between the program's two laws of each: on average these engines agree
with the class there, so nothing here can tell whether the class itself sits right. Measured engines could.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from boostwright.build.document import Build
from boostwright.physics.flame_speed import blend_law
from boostwright.physics.friction import torque_of_mep
from boostwright.physics.gas import Mixture, cp_burned_frozen, h_burned_frozen, h_fresh, mixture
from boostwright.physics.heat_transfer import manifold_outlet, pipe_outlet_temperature
from boostwright.physics.kernels.cycle import R
from boostwright.physics.slider_crank import cylinder_volume, mean_piston_speed
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import EngineGeometry, Fuel, ModelFactors, OperatingPoints
from tests.truth.closed import Burn, Closed, Inlet, Laws, run_closed
from tests.truth.laws import (
    DoubleBurn,
    FrictionForm,
    HeatLevel,
    KnockDelay,
    Place,
    friction_shape,
    hires_places,
)

__all__ = [
    "DEG",
    "RPM",
    "Breathing",
    "Conditions",
    "Filling",
    "Nature",
    "Outcome",
    "Truth",
    "burn_at",
    "fill",
    "places",
]

Array = NDArray[np.float64]

RPM = np.pi / 30.0
DEG = np.pi / 180.0
LATEST = 25.0 * DEG  # no spark later than this is tried, here as in the program [rad]
MIDDLE_SPEED, HALF_SPAN = 3750.0 * RPM, 2750.0 * RPM
TRACE_ROWS = 4000


class Conditions(NamedTuple):
    """Prescribed states, arrays (n,); lam one number [-]."""

    speed: Array  # [rad/s]
    plenum_pressure: Array  # [Pa absolute]
    plenum_temperature: Array  # [K]
    exhaust_pressure: Array  # [Pa absolute]
    lam: float

    def points(self, spark: Array) -> OperatingPoints:
        """The same as operating points."""
        return OperatingPoints(
            self.speed, self.plenum_pressure, self.plenum_temperature, self.exhaust_pressure, self.lam, spark
        )


class Outcome(NamedTuple):
    """What the engine does; arrays (n,)."""

    torque: Array  # brake [N m]
    air_flow: Array  # [kg/s]
    peak_pressure: Array  # mean cycle [Pa]
    spark: Array  # used [rad]
    knocks: NDArray[np.bool_]  # whether knock sets the spark, not torque
    ca50: Array  # [rad]
    exhaust_temperature: Array  # behind the manifold [K]
    valve_temperature: Array  # mean by enthalpy at the valve [K]


@dataclass(frozen=True)
class Breathing:
    """Multiplier on the plenum's pressure over speed."""

    level: float
    slope: float
    curve: float
    amplitude: float
    periods: float
    phase: float  # [rad]
    boosted: float  # departure under boost, in logarithm [-]

    def k(self, speed: Array, T: Array, boosted: bool) -> Array:
        """At crank speeds [rad/s] and plenum temperatures [K]; arrays (n,)."""
        x = (speed - MIDDLE_SPEED) / HALF_SPAN
        tuned = (speed * np.sqrt(298.0 / T) - MIDDLE_SPEED) / HALF_SPAN
        wave = self.amplitude * np.sin(np.pi * self.periods * tuned + self.phase)
        smooth = self.level + self.slope * x + self.curve * x**2
        return np.asarray(np.exp(smooth + wave + (self.boosted if boosted else 0.0)))


@dataclass(frozen=True)
class Nature:
    """Everything about one engine that is not in its sizes."""

    breathing: Breathing
    heat: HeatLevel
    heat_share: float  # level of wall heat against its class [-]
    burn: DoubleBurn
    knock: KnockDelay
    friction_form: FrictionForm
    friction: float  # level on its law [-]
    unburnt: float  # [-]
    residual: float  # factor [-]
    port_heating: float  # [K]
    port_exponent: float  # of density [-]
    evaporated: float  # [-]
    walls: float  # added to every wall [K]
    port_loss: float  # factor on heat loss of port and manifold [-]
    port_wall: float  # [K]


class Filling(NamedTuple):
    """Cylinders filled, and what gas exchange costs; arrays (n,)."""

    inlet: Inlet
    fresh: Array  # drawn from the plenum for each cycle [kg]
    work: Array  # of the open part [J]
    heat: Array  # to the walls in the open part [J]
    h_in: Array  # enthalpy of what is drawn [J/kg]
    ca50: Array  # of the program's burn, at its spark [rad]


@dataclass(frozen=True)
class Truth:
    """One invented engine with its true values.

    build: a build whose every value is the true one. stock, goal: conditions without and with boost. margin:
    by which the factory's spark stays later than it could [rad].
    """

    seed: int
    build: Build
    engine: EngineGeometry
    fuel: Fuel
    nature: Nature
    stock: Conditions
    goal: Conditions
    ambient: tuple[float, float]  # [Pa, K]
    margin: float

    def boosted(self) -> Outcome:
        """At the goal, spark as early as torque and knock allow."""
        return self.run(self.goal, boosted=True)

    def unboosted(self) -> Outcome:
        """At full load before the conversion, at the factory's spark."""
        return self.run(self.stock, boosted=False, margin=self.margin)

    def run(self, at: Conditions, *, boosted: bool, margin: float = 0.0) -> Outcome:
        """At any conditions. boosted: whether the departure of breathing under boost counts. margin: by which
        the spark is later than the limit [rad].
        """
        program = np.minimum(
            -(11.0 + 8.0 * np.log2(at.speed / RPM / 1000.0)) * DEG + boosted * 12.0 * DEG, 0.0
        )
        filling = fill(self, at, program, boosted)
        best, knock = limits(self, at, filling, np.radians(np.arange(-50.0, 30.1, 5.0)))
        used = np.minimum(np.maximum(best, knock) + margin, LATEST)
        program = program + burned(self, at, filling, used).ca50 - filling.ca50
        program = np.minimum(program, 2.0 * DEG)  # its own burn must end before the exhaust opens
        filling = fill(self, at, program, boosted)
        best, knock = limits(
            self, at, filling, np.radians(np.arange(-8.0, 8.1, 2.0)), np.maximum(best, knock)
        )
        used = np.minimum(np.maximum(best, knock) + margin, LATEST)
        return figures(self, at, filling, used, knock > best)


# ------------------------------------------------------------------------------------------------- filling


def fill(truth: Truth, at: Conditions, program_spark: Array, boosted: bool) -> Filling:
    """Breathe by the program's gas exchange at an effective plenum state, then change the residual.

    k > 1 warms the charge as k^0.27 and is paid for by the piston with 1.85 (k - 1) p over the stroke; below
    1 it is a throttle. program_spark: at which the program's own burn has about the half-burned moment of
    this engine's, so that what leaves the cylinder is alike [rad].
    """
    nature, engine = truth.nature, truth.engine
    k = nature.breathing.k(at.speed, at.plenum_temperature, boosted)
    density = np.minimum(101325.0 / at.plenum_pressure, 2.0)
    warmer = nature.port_heating * (density**nature.port_exponent - density**0.9)
    pressure = at.plenum_pressure * k
    points = at._replace(
        plenum_pressure=pressure,
        plenum_temperature=at.plenum_temperature * np.maximum(k, 1.0) ** 0.27 + warmer,
    ).points(program_spark)
    factors = ModelFactors(
        heat=1.4 * nature.heat_share, port_heating=nature.port_heating, evaporated_share=nature.evaporated
    )
    solver = CycleSolver(engine, truth.fuel, factors=factors)
    inputs, r, status, _, trace = solver.solve(points, rows=TRACE_ROWS)
    if np.any(status != 0):
        raise ValueError(f"engine {truth.seed}: the filling did not settle, {status}")
    mix = inputs.found[0]
    y, T, m = r[:, R.burned], r[:, R.t_ivc], r[:, R.mass]
    # more or less of the hot rest at the same pressure
    rest = np.maximum(1000.0, T)
    T_new = T * (1.0 + (nature.residual - 1.0) * y * (rest / T - 1.0))
    m_new, y_new = m * T / T_new, y * nature.residual
    fresh = r[:, R.fresh] * m_new * (1.0 - y_new) / (m * (1.0 - y))
    walls = r[:, [R.t_piston, R.t_head, R.t_liner]] + nature.walls
    paid = 1.85 * np.maximum(k - 1.0, 0.0) * at.plenum_pressure * engine.swept_volume
    return Filling(
        inlet=Inlet(at.speed, m_new, y_new, T_new, walls),
        fresh=fresh,
        work=np.array([_open_work(engine, rows) for rows in trace]) - paid,
        heat=r[:, R.heat] - r[:, R.heat_closed],
        h_in=h_fresh(mix, inputs.kernel.T_inlet),
        ca50=r[:, R.ca50],
    )


def _open_work(engine: EngineGeometry, rows: Array) -> float:
    """Work between exhaust opening and intake closing [J], of one trace."""
    last = int(np.argmax(rows[:, 4] == 0.0))
    assert last > 0, "the trace has too few rows"
    rows = rows[:last]
    part = rows[rows[:, 3] == 3.0]
    theta = np.append(part[:, 0], engine.intake.closes)
    pressure = np.append(part[:, 1], rows[0, 1])  # it closes where the next cycle begins
    volume = cylinder_volume(theta, engine.bore, engine.stroke, engine.rod, engine.compression_ratio)
    return float(np.trapezoid(pressure, volume))


# -------------------------------------------------------------------------------------------------- burning


def burned(truth: Truth, at: Conditions, filling: Filling, spark: Array) -> Closed:
    """The closed part at sparks (n,) [rad]."""
    inlet = filling.inlet
    mix = mixture(at.lam, truth.fuel.ethanol_share, truth.fuel.petrol_heating_value)
    burn = burn_at(truth.engine, mix, inlet, truth.nature.burn, spark)
    nature, bore = truth.nature, truth.engine.bore
    laws = Laws(
        heat=lambda p, T, gas, speed: nature.heat.coefficient(bore, p, T, gas, speed),
        knock=lambda p, T, rest: nature.knock.rate(p, T, at.lam, rest),
        unburnt=nature.unburnt * min(1.0, at.lam),
    )
    return run_closed(truth.engine, mix, inlet, burn, laws)


def burn_at(engine: EngineGeometry, mix: Mixture, inlet: Inlet, law: DoubleBurn, spark: Array) -> Burn:
    """The burn that a law makes of a charge and a spark (n,) [rad]."""
    early, main = places(engine, mix, inlet, spark)
    early, main = law.early * early, law.main * main
    return Burn(spark, law.ends(spark, early, main), lambda theta: law.fractions(theta, spark, early, main))


def places(engine: EngineGeometry, mix: Mixture, inlet: Inlet, spark: Array) -> tuple[Array, Array]:
    """`hires_places` of a charge and a spark. The unburned gas is taken as compressed with exponent 1.33, and
    at the middle of the burn, about 22 degrees past the spark, by the burn once more to 1.6 of its pressure.
    """
    y = inlet.residual
    gas = (1.0 - y) * mix.R_f + y * mix.R_b
    size = (engine.bore, engine.stroke, engine.rod, engine.compression_ratio)
    V0 = cylinder_volume(np.asarray(engine.intake.closes), *size)
    p0 = inlet.mass * gas * inlet.temperature / V0
    flat = 0.25 * np.pi * engine.bore**2

    def place(theta: Array, pressed: float) -> Place:
        V = cylinder_volume(theta, *size)
        squeeze = V0 / V
        return Place(
            V / flat,
            p0 * squeeze**1.33 * pressed,
            inlet.temperature * squeeze**0.33 * pressed ** (0.33 / 1.33),
        )

    rest = y / (y + (1.0 - y) * mix.R_f / mix.R_b)
    speed = mean_piston_speed(engine.stroke, inlet.omega)
    flame = blend_law(1.0 / mix.lam, mix.ethanol_share)
    start, later = place(spark, 1.0), place(spark + 22.0 * DEG, 1.6)
    clearance = engine.clearance_volume / flat
    return hires_places(speed, clearance, start, later, inlet.mass / V0, engine.bore, gas, flame, rest)


def limits(
    truth: Truth, at: Conditions, filling: Filling, offsets: Array, middle: Array | float = 0.0
) -> tuple[Array, Array]:
    """Sparks of best torque and of trace knock [rad] (n,), from cycles at middle + offsets (m,).

    A cubic through the cycles; knock is the latest spark at which the integral reaches 1, the earliest of the
    sparks where it never does.
    """
    n, many = at.speed.size, offsets.size
    sparks = np.minimum(offsets[:, None] + np.broadcast_to(middle, (n,)), 35.0 * DEG)
    closed = burned(truth, wide(at, many), tiled(filling, many), sparks.ravel())
    work, knock = closed.work.reshape(many, n), np.log(closed.knock.reshape(many, n))
    best, onset = np.empty(n), np.empty(n)
    for i in range(n):
        x, first = np.unique(sparks[:, i], return_index=True)
        fine = np.linspace(x[0], x[-1], 1200)
        best[i] = fine[int(np.argmax(CubicSpline(x, work[first, i])(fine)))]
        over = np.flatnonzero(CubicSpline(x, knock[first, i])(fine) >= 0.0)
        onset[i] = fine[over[-1]] if over.size else fine[0]
    return best, onset


def wide(at: Conditions, times: int) -> Conditions:
    """The same conditions so many times over."""
    return Conditions(*(np.tile(a, times) for a in at[:4]), at.lam)


def tiled(filling: Filling, times: int) -> Filling:
    """The same filling so many times over."""
    inlet = Inlet(*(np.tile(a, (times, 1) if a.ndim == 2 else times) for a in filling.inlet))
    return Filling(inlet, *(np.tile(a, times) for a in filling[1:]))


# -------------------------------------------------------------------------------------------------- figures


def figures(
    truth: Truth, at: Conditions, filling: Filling, used: Array, knocks: NDArray[np.bool_]
) -> Outcome:
    """What the engine does at sparks (n,) [rad]."""
    engine, nature = truth.engine, truth.nature
    closed = burned(truth, at, filling, used)
    mix = mixture(at.lam, truth.fuel.ethanol_share, truth.fuel.petrol_heating_value)
    work = closed.work + filling.work
    speed = mean_piston_speed(engine.stroke, at.speed)
    rubbed = nature.friction * friction_shape(nature.friction_form, closed.peak_pressure, speed, at.speed)
    torque = torque_of_mep(work / engine.swept_volume - rubbed, engine.displacement)
    rate = at.speed / (4.0 * np.pi)
    leaves = filling.h_in - (work + closed.heat + filling.heat + closed.unburnt) / filling.fresh
    valve = burned_temperature(mix, leaves)
    return Outcome(
        torque=torque,
        air_flow=filling.fresh * (1.0 - mix.fuel_fraction) * rate * engine.cylinders,
        peak_pressure=closed.peak_pressure,
        spark=used,
        knocks=knocks,
        ca50=closed.ca50,
        exhaust_temperature=behind_manifold(engine, nature, mix, valve, filling.fresh * rate),
        valve_temperature=valve,
    )


def burned_temperature(mix: Mixture, h: Array) -> Array:
    """Temperature [K] of frozen burned gas of enthalpy h [J/kg]; Newton."""
    T = np.full_like(h, 1200.0)
    for _ in range(20):
        T = T - np.clip((h_burned_frozen(mix, T) - h) / cp_burned_frozen(mix, T), -300.0, 300.0)
    return T


def behind_manifold(engine: EngineGeometry, nature: Nature, mix: Mixture, T: Array, flow: Array) -> Array:
    """Gas temperature behind port and manifold runner [K].

    Port by Nu = 0.0483 Re^0.783 (Malchow 1979, from memory), 1.5 for pulsation. flow: of one cylinder [kg/s].
    """
    diameter, cp = engine.exhaust_port_diameter, cp_burned_frozen(mix, T)
    mu = 3.3e-7 * T**0.7
    reynolds = 4.0 * flow / (np.pi * diameter * mu)
    h = nature.port_loss * 1.5 * 0.0483 * reynolds**0.783 * mu * cp / 0.72 / diameter
    area = np.pi * diameter * engine.exhaust_port_length
    port = pipe_outlet_temperature(T, nature.port_wall, h * area, flow * cp)
    length = engine.manifold_length * nature.port_loss
    return manifold_outlet(port, flow, engine.manifold_diameter, length, cp=cp).temperature
