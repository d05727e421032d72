"""`make_truth(seed)`: one invented engine, the same for the same seed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Final, NamedTuple

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.physics.friction import sandoval_heywood_fmep
from boostwright.physics.gas import mixture
from boostwright.physics.kernels.cycle import R
from boostwright.physics.slider_crank import mean_piston_speed
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import KnockModel, best_spark, knock_spark
from boostwright.systems.engine.types import EngineGeometry, Fuel, HeatLaw, OperatingPoints
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of
from tests.truth.closed import Inlet, Laws, run_closed
from tests.truth.engines import DEG, RPM, Breathing, Conditions, Nature, Truth, burn_at, places
from tests.truth.laws import (
    HE_KELVIN,
    DoubleBurn,
    FrictionForm,
    HeatForm,
    HeatLevel,
    KnockDelay,
    friction_shape,
)

__all__ = ["CLASS_FIELDS", "OWN_FIELDS", "make_truth"]

Array = NDArray[np.float64]

OWN_FIELDS: Final = ("engine.bore", "engine.stroke", "engine.compression_ratio")
"""What every builder knows of his engine."""
CLASS_FIELDS: Final = (
    "engine.rod_length",
    "engine.intake_valve_diameter",
    "engine.exhaust_valve_diameter",
    "engine.intake_lift",
    "engine.exhaust_lift",
    "engine.intake_opens",
    "engine.intake_closes",
    "engine.exhaust_opens",
    "engine.exhaust_closes",
    "engine.runner_length",
    "engine.runner_diameter",
    "engine.port_volume",
    "engine.port_flow",
    "engine.plug_offset",
    "engine.coolant_temperature",
    "exhaust.stock_back_pressure",
    "fuel.octane",
    "fuel.heating_value",
    "fuel.lambda_full_load",
)
"""What the class leaves open, drawn with its spreads; later ones follow earlier ones."""
ONE_CAM: Final = {
    "engine.intake_closes": "engine.intake_opens",
    "engine.exhaust_closes": "engine.exhaust_opens",
}
TOP_SPEEDS: Final = {"two-valve": (5600.0, 6200.0), "four-valve": (6000.0, 7000.0)}  # [rpm]
PROGRAM_KELVIN: Final = 3800.0  # of the program's delays, 3721 and 3800 [K]
BOOST_LAM: Final = 0.80
MOST = 2.5  # spreads beyond which nothing is drawn


def with_values(build: Build, values: dict[str, float]) -> Build:
    """The build with values stated exactly [SI]."""
    stated = {p: StatedValue(p, v, 0.0, Source.MEASURED) for p, v in values.items()}
    return replace(build, values={**build.values, **stated}, _defaults={})


def class_build(engine_class: str, cylinders: int = 4) -> Build:
    """A build of which only the class and the class engine's size are known."""
    words = {"build.name": "class", "engine.class": engine_class}
    values = {p: StatedValue(p, v, 0.0, Source.MEASURED) for p, v in words.items()}
    count = StatedValue("engine.cylinders", cylinders, 0.0, Source.MEASURED)
    empty = Build(values={**values, "engine.cylinders": count})
    return with_values(empty, {"engine.bore": 0.086, "engine.stroke": 0.086})


class Anchor(NamedTuple):
    """The class engine at full load by the program's model: where the levels of all laws are set."""

    engine: EngineGeometry
    fuel: Fuel
    lam: float
    inlet: Inlet  # 3000 rpm
    spark: Array  # best, there
    ca10: Array
    ca90: Array
    heat: Array  # closed part, between the program's two laws [J]
    friction: float  # [Pa]
    peak: float  # [Pa]
    knock_inlet: Inlet  # 2000 rpm
    knock_spark: Array  # where the mean of both knock integrals is 1


@cache
def anchor(engine_class: str) -> Anchor:
    """The class engine, computed once."""
    build = class_build(engine_class)
    engine, fuel, lam = engine_of(build), fuel_of(build), 0.88
    solver = CycleSolver(engine, fuel, factors=factors_of(build))

    def at(rpm: float, drop: float, back: float) -> OperatingPoints:
        return OperatingPoints(np.array([rpm * RPM]), 100.0e3 - drop, 298.15, 101.0e3 + back, lam, -0.35)

    def seen(points: OperatingPoints, spark: Array) -> tuple[Inlet, Array]:
        inputs, r, _, _, _ = solver.solve(points.with_spark(spark))
        walls = r[:, [R.t_piston, R.t_head, R.t_liner]]
        return Inlet(inputs.speed, r[:, R.mass], r[:, R.burned], r[:, R.t_ivc], walls), r

    high, low = at(3000.0, 625.0, 7500.0), at(2000.0, 278.0, 3333.0)
    best, figures = best_spark(solver, high)
    inlet, r = seen(high, best)
    other = CycleSolver(
        engine, fuel, factors=factors_of(build, HeatLaw.HOHENBERG), heat_law=HeatLaw.HOHENBERG
    )
    _, by_other, _, _, _ = other.solve(high.with_spark(best))
    heat = 0.5 * (r[:, R.heat_closed] + by_other[:, R.heat_closed])
    onset, _ = knock_spark(solver, low, KnockModel.MIDDLE)
    knock_inlet, _ = seen(low, onset)
    rubbed = sandoval_heywood_fmep(solver.friction, high.speed).total
    return Anchor(
        engine, fuel, lam, inlet, best, r[:, R.ca10], r[:, R.ca90], heat, float(rubbed[0]),
        float(figures.peak_pressure[0]), knock_inlet, onset,
    )  # fmt: skip


@cache
def make_truth(seed: int, without: str = "") -> Truth:
    """Draw one engine; see `engines` for what is drawn and how widely.

    without: a departure to leave out, to see what it does: 'breathing' (all of it), 'wave' (that of breathing
    alone), 'knock' (its temperature dependence is then about that of the program's laws). The rest of the
    engine stays the same.
    """
    rng = np.random.default_rng([20, seed])
    build, engine_class = _sizes(rng)
    engine, fuel = engine_of(build), fuel_of(build)
    top = build.number("engine.speed_limit")
    ambient = (rng.uniform(99.0e3, 101.5e3), rng.uniform(283.0, 303.0))
    lam = round(build.number("fuel.lambda_full_load"), 4)
    nature = _nature(rng, anchor(engine_class), fuel, without)
    return Truth(
        seed=seed,
        build=build,
        engine=engine,
        fuel=fuel,
        nature=nature,
        stock=_stock(rng, build, ambient, np.linspace(1500.0 * RPM, top - 200.0 * RPM, 8), lam),
        goal=_goal(rng, ambient, np.linspace(2000.0 * RPM, top - 200.0 * RPM, 6)),
        ambient=ambient,
        margin=rng.uniform(0.0, 3.0) * DEG,
    )


def _normal(rng: Generator, sd: float) -> float:
    return float(sd * np.clip(rng.standard_normal(), -MOST, MOST))


def _sizes(rng: Generator) -> tuple[Build, str]:
    engine_class = "two-valve" if rng.random() < 0.3 else "four-valve"
    build = class_build(engine_class, int(rng.choice([3, 4, 4, 4, 6])))
    bore = rng.uniform(0.072, 0.092)
    ratio = rng.uniform(0.88, 1.12)
    compression = build["engine.compression_ratio"]
    build = with_values(
        build,
        {
            "engine.bore": bore,
            "engine.stroke": bore * ratio,
            "engine.compression_ratio": float(compression.value) + _normal(rng, float(compression.sd)),
            "engine.speed_limit": rng.uniform(*TOP_SPEEDS[engine_class]) * RPM,
            "fuel.lambda_boost": BOOST_LAM,
        },
    )  # fmt: skip
    scores: dict[str, float] = {}
    for path in CLASS_FIELDS:
        usual = build[path]
        score = _normal(rng, 1.0)
        if path in ONE_CAM:  # what is off at one end of a cam is mostly off at the other
            score = 0.7 * scores[ONE_CAM[path]] + np.sqrt(1.0 - 0.7**2) * score
        scores[path] = score
        build = with_values(build, {path: float(usual.value) + float(usual.sd) * score})
    return build, engine_class


def _stock(
    rng: Generator, build: Build, ambient: tuple[float, float], speed: Array, lam: float
) -> Conditions:
    """Full load before the conversion."""
    square = (speed / (6000.0 * RPM)) ** 2 * ambient[0] / 100.0e3
    return Conditions(
        speed,
        ambient[0] - 2.5e3 * np.exp(_normal(rng, 0.4)) * square,
        np.full_like(speed, ambient[1] + rng.uniform(0.0, 6.0)),
        ambient[0] + 1.0e3 + build.number("exhaust.stock_back_pressure") * square,
        lam,
    )


def _goal(rng: Generator, ambient: tuple[float, float], speed: Array) -> Conditions:
    """The states that the goal prescribes: as if boost were there at every speed."""
    boost, back = rng.uniform(0.4e5, 0.7e5), rng.uniform(0.9, 1.2)
    high = (speed / (6000.0 * RPM)) ** 2
    return Conditions(
        speed,
        np.full_like(speed, ambient[0] + boost),
        np.full_like(speed, rng.uniform(313.0, 333.0)),
        ambient[0] + boost * back * (0.9 + 0.4 * high),
        BOOST_LAM,
    )


def _nature(rng: Generator, at: Anchor, fuel: Fuel, without: str) -> Nature:
    """All laws of one engine: anchored at the class engine, then moved by what the class leaves open."""
    breathing = Breathing(
        _normal(rng, 0.08), _normal(rng, 0.08), _normal(rng, 0.08), rng.uniform(0.01, 0.03),
        rng.uniform(1.5, 3.0), rng.uniform(0.0, 2.0 * np.pi), _normal(rng, 0.02),
    )  # fmt: skip
    burn = _anchored_burn(at, rng.uniform(0.03, 0.10), rng.uniform(1.4, 2.0))
    heat = _anchored_heat(at, HeatForm(int(rng.integers(2))), _normal(rng, 0.08), _normal(rng, 0.08))
    kelvin = HE_KELVIN * rng.uniform(0.4, 1.0)
    if without == "breathing":
        breathing = Breathing(0.0, 0.0, 0.0, 0.0, 2.0, 0.0, 0.0)
    elif without == "wave":
        breathing = replace(breathing, amplitude=0.0)
    elif without == "knock":
        kelvin = PROGRAM_KELVIN
    knock = _anchored_knock(at, burn, heat, kelvin)
    form = FrictionForm(int(rng.integers(2)))
    speed = mean_piston_speed(at.engine.stroke, at.inlet.omega)
    friction = at.friction / float(friction_shape(form, at.peak, speed, at.inlet.omega)[0])
    heat_share, slower = np.exp(_normal(rng, 0.2)), np.exp(_normal(rng, 0.16))
    return Nature(
        breathing=breathing,
        heat=replace(heat, level=heat.level * heat_share),
        heat_share=float(heat_share),
        burn=replace(burn, early=burn.early * slower, main=burn.main * slower * np.exp(_normal(rng, 0.1))),
        knock=replace(knock, level=knock.level * np.exp(_normal(rng, 0.25)), octane=fuel.ron),
        friction_form=form,
        friction=friction * float(np.exp(_normal(rng, 0.17))),
        unburnt=max(0.03 + _normal(rng, 0.01), 0.005),
        residual=float(np.exp(_normal(rng, 0.15))),
        port_heating=max(8.0 + _normal(rng, 4.0), 0.0),
        port_exponent=rng.uniform(0.3, 0.9),
        evaporated=0.40 + _normal(rng, 0.10),
        walls=_normal(rng, 8.0),
        port_loss=float(np.exp(_normal(rng, 0.2))),
        port_wall=520.0 + _normal(rng, 40.0),
    )


def _anchored_burn(at: Anchor, tail: float, stretch: float) -> DoubleBurn:
    """The law whose 10 and 90 % at the anchor are the program's."""
    mix = mixture(at.lam, at.fuel.ethanol_share, at.fuel.petrol_heating_value)
    by_early, by_main = (float(x[0]) for x in places(at.engine, mix, at.inlet, at.spark))
    early, main = float(at.ca10[0] - at.spark[0]), float((at.ca90 - at.ca10)[0])
    law = DoubleBurn(early / by_early, main / by_main, tail, stretch)
    theta = at.spark + np.linspace(0.0, 120.0, 2401)[:, None] * DEG
    for _ in range(12):  # the slow part moves both marks
        share = burn_at(at.engine, mix, at.inlet, law, at.spark).share(theta)[:, 0]
        ten, ninety = (float(np.interp(x, share, theta[:, 0])) for x in (0.1, 0.9))
        law = replace(
            law, early=law.early * early / (ten - float(at.spark[0])), main=law.main * main / (ninety - ten)
        )
    assert abs(ten - float(at.ca10[0])) + abs(ninety - float(at.ca90[0])) < 0.1 * DEG
    return law


def _anchored_heat(at: Anchor, form: HeatForm, by_speed: float, by_pressure: float) -> HeatLevel:
    """The law whose heat over the closed part at the anchor lies between those of the program's two laws."""
    mix = mixture(at.lam, at.fuel.ethanol_share, at.fuel.petrol_heating_value)
    burn = burn_at(at.engine, mix, at.inlet, _anchored_burn(at, 0.06, 1.7), at.spark)
    law = HeatLevel(form, 1.0, by_speed, by_pressure)
    for _ in range(2):  # heat is nearly in proportion to its level
        closed = run_closed(at.engine, mix, at.inlet, burn, _laws(at, law, None))
        law = replace(law, level=law.level * float((at.heat / closed.heat)[0]))
    return law


def _anchored_knock(at: Anchor, burn: DoubleBurn, heat: HeatLevel, kelvin: float) -> KnockDelay:
    """The law that knocks at the anchor's spark."""
    mix = mixture(at.lam, at.fuel.ethanol_share, at.fuel.petrol_heating_value)
    law = KnockDelay(1.0, kelvin, at.fuel.ron)
    closed = run_closed(
        at.engine,
        mix,
        at.knock_inlet,
        burn_at(at.engine, mix, at.knock_inlet, burn, at.knock_spark),
        _laws(at, heat, law),
    )
    return replace(law, level=1.0 / float(closed.knock[0]))


def _laws(at: Anchor, heat: HeatLevel, knock: KnockDelay | None) -> Laws:
    return Laws(
        heat=lambda p, T, gas, speed: heat.coefficient(at.engine.bore, p, T, gas, speed),
        knock=lambda p, T, rest: np.ones_like(p) if knock is None else knock.rate(p, T, at.lam, rest),
        unburnt=0.03 * at.lam,
    )
