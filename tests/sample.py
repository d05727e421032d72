"""A hand-made result for tests of views: invented, smooth, plausible numbers; no model has computed them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import CornerLine, GoalLine
from boostwright.findings.drawing import CompressorChart, Drawing, FuelOverSpeed
from boostwright.findings.judge import probability_holds, sort_findings, verdict_of
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    LimitRecord,
    Phrase,
    Place,
    Reading,
    Sense,
    Verdict,
)
from boostwright.findings.notes import cautions_for, not_covered
from boostwright.findings.result import AssumedValue, CheckResult, SummaryRow
from boostwright.findings.worst import Line as DayLine
from boostwright.systems.corners import Threshold
from boostwright.systems.engine.types import CycleResult, EngineGeometry, Fuel, ValveTrain
from boostwright.systems.wastegate import GateAnswers
from tests.sample_arrival import arrival
from tests.sample_joints import drawn

Array = NDArray[np.float64]
DEG = np.pi / 180
RPM = np.pi / 30

ENGINE = EngineGeometry(
    cylinders=4, bore=0.086, stroke=0.086, rod=0.143, compression_ratio=10.0,
    intake=ValveTrain(2, 0.034, 0.0095, 340 * DEG, 596 * DEG),
    exhaust=ValveTrain(2, 0.029, 0.009, 124 * DEG, 378 * DEG),
    runner_length=0.38, runner_area=1.15e-3, port_volume=1.2e-4,
)  # fmt: skip


class Line(NamedTuple):
    """The shape of a baseline."""

    speeds: Array
    mbt_spark: Array
    knock_spark: Array
    used_spark: Array
    result: CycleResult
    at_mbt: CycleResult
    ambient: tuple[float, float]
    volumetric_efficiency_ambient: Array


def cycles(speed: Array, boost: float = 0.0) -> CycleResult:
    """Smooth invented cycles: torque peaks at 4200 rpm."""
    n = speed.size
    rpm = speed / RPM
    x = (rpm - 4200.0) / 2800.0
    shape = 1.0 - 0.22 * x**2
    torque = 190.0 * shape * (1.0 + 0.9 * boost / 1e5)
    power = torque * speed
    air = 0.078 * shape * rpm / 4200.0 * (1.0 + 0.95 * boost / 1e5)
    zeros = np.zeros(n)
    return CycleResult(
        torque=torque, power=power, imep=zeros + 13e5, pmep=zeros - 2e4, fmep=zeros + 1.2e5,
        bmep=4 * np.pi * torque / ENGINE.displacement, air_flow=air, fuel_flow=air / 12.9,
        volumetric_efficiency=0.98 * shape, residual=0.045 + 0.01 * x**2, trapped_mass=zeros + 6e-4,
        charge_temperature=zeros + 360.0, peak_pressure=68e5 * shape * (1 + boost / 1e5),
        peak_angle=zeros + 14 * DEG, ca10=zeros - 3 * DEG, ca50=(8.0 + 16.0 * boost / 1e5 - x) * DEG,
        ca90=zeros + 25 * DEG, peak_burned_temperature=zeros + 2600.0,
        peak_unburned_temperature=zeros + 850.0,
        exhaust_valve_temperature=1120.0 + 40.0 * x + 120.0 * boost / 1e5,
        exhaust_port_temperature=1050.0 + 40.0 * x + 120.0 * boost / 1e5,
        exhaust_manifold_temperature=980.0 + 50.0 * x + 120.0 * boost / 1e5, wall_heat=zeros + 0.17,
        wall_temperatures=np.full((n, 3), 450.0), knock_a=zeros + 0.9, knock_c=zeros + 0.85,
        fuel_energy=zeros + 2000.0, unburnt_energy=zeros + 60.0, periodicity=zeros + 1e-6,
        cycles=zeros + 4.0, status=np.zeros(n, dtype=np.int64),
    )  # fmt: skip


def line(count: int = 12) -> Line:
    """A baseline of `count` speeds."""
    speed = np.linspace(1000.0, 6500.0, count) * RPM
    rpm = speed / RPM
    mbt = -(12.0 + 20.0 * (1 - np.exp(-(rpm - 900.0) / 2500.0))) * DEG
    knock = np.where(rpm < 4800.0, -(4.0 + 24.0 * (rpm - 900.0) / 4000.0) * DEG, np.nan)
    used = np.where(np.isnan(knock), mbt, np.maximum(mbt, knock))
    result = cycles(speed)
    return Line(speed, mbt, knock, used, result, result, (1.0e5, 298.15), result.volumetric_efficiency * 0.95)


def goal(count: int = 12, boost: float = 0.6e5) -> GoalLine:
    """An operating line at 0.6 bar."""
    base = line(count)
    speed = base.speeds
    n = speed.size
    reach = np.clip((speed / RPM - 1400.0) / 1400.0, 0.05, 1.0)
    used = base.used_spark + 12.0 * DEG
    return GoalLine(
        speed=speed, boost=boost * reach, boost_sd=np.full(n, 6e3), plenum_pressure=1e5 + boost * reach,
        plenum_temperature=310.0 + 20.0 * reach, exhaust_pressure=1.2e5 + 0.8e5 * speed / speed[-1],
        lam=np.full(n, 0.85), mbt_spark=base.mbt_spark, knock_spark=used, used_spark=used,
        result=cycles(speed, boost), settled=np.ones(n, dtype=bool), turbine_enough=reach >= 0.999,
        flow_over_surge=0.9 + 1.1 * speed / speed[-1], flow_over_choke=0.3 + 0.55 * speed / speed[-1],
        surge_sd=0.15, choke_sd=0.10, tip_speed=np.full(n, 345.0), tip_speed_sd=0.06,
        shaft_speed=np.full(n, 345.0 / 0.0295), pressure_ratio=1.0 + 0.75 * reach,
        compressor_outlet_temperature=np.full(n, 385.0), turbine_inlet_temperature=np.full(n, 1130.0),
        compressor_inlet_pressure=np.full(n, 0.98e5), turbine_outlet_pressure=np.full(n, 1.1e5),
        pulse_peak_pressure=1.6e5 + 0.9e5 * speed / speed[-1],
    )  # fmt: skip


def chart(lines: tuple[DayLine, ...]) -> CompressorChart:
    """An invented compressor map: flow limits grow with the square root of the ratio less one."""
    speed = np.array([60e3, 80e3, 100e3, 120e3]) * RPM
    top = 1.0 + (speed / speed[-1]) ** 2
    share = np.linspace(0.0, 1.0, 20)
    edge = np.linspace(0.01, 1.2, 30)
    surge, end = 0.05 * np.sqrt(edge), 0.19 * np.sqrt(edge)
    left, right = 0.05 * np.sqrt(top - 1), 0.19 * np.sqrt(0.6 * (top - 1))
    return CompressorChart(
        298.15, 1e5, 1.95, speed, left[:, None] + (right - left)[:, None] * share,
        top[:, None] - 0.4 * (top - 1)[:, None] * share**2, surge, 1 + edge, end, 1 + edge,
        tuple((day.goal.result.air_flow, day.goal.pressure_ratio) for day in lines),
    )  # fmt: skip


def drawing(corners: tuple[str, ...] = ()) -> Drawing:
    """What the plots draw, with invented corners: each boosts a little more than the one before."""
    lines = [DayLine(goal(), "on an ordinary warm day", 1.0e5, 298.15)]
    for k, name in enumerate(corners, 1):
        lines.append(DayLine(goal(boost=(0.6 + 0.04 * k) * 1e5), name, 1.0e5 - 4e3 * k, 298.15 + 5.0 * k))
    fuel = tuple(
        FuelOverSpeed(0.9 * np.linspace(0.1, 0.9, 12) * (1 + 0.02 * k), np.linspace(5.0, 1.4, 12) - 0.05 * k)
        for k in range(len(lines))
    )
    return Drawing(tuple(lines), chart(tuple(lines)), fuel, arrival(), drawn())


DUTY = Amount(0.89, 0.02, Kind.SHARE, "duty at full load, dead time included")
MOST_DUTY = Amount(0.85, 0.03, Kind.SHARE, "most useful injector duty")


def finding(
    code: str = "fuel.injector_duty",
    subject: str = "Injector duty at the goal",
    demand: Amount | None = DUTY,
    capacity: Amount | None = MOST_DUTY,
    sense: Sense = Sense.AT_MOST,
    harm: Harm = Harm.SEVERE,
) -> Finding:
    """One finding with everything filled in."""
    probability = probability_holds(demand, capacity, sense)
    return Finding(
        code=code, subject=subject, sense=sense, demand=demand, capacity=capacity, probability=probability,
        verdict=verdict_of(probability, harm), place=Place(5800 * RPM), corner="nominal",
        cause=Phrase(
            "The engine drinks {flow} of fuel here and each injector must pass its share in two turns.",
            {"flow": Amount(1.16e-2, 5e-4, Kind.MASS_FLOW)},
        ),
        remedy=Phrase(
            "Fit injectors of at least {size} each.", {"size": Amount(430e-6 / 60, None, Kind.INJECTOR_FLOW)}
        ),
        reading=Reading("Measure static fuel pressure before you open the rail.", 600.0),
        harm=harm, harm_words="the top of the pull runs lean and melts a piston",
        limit=LimitRecord("injector_duty", "common practice, no source", "Makers keep 80 to 85 % in use."),
        cautions=cautions_for(code), about=("parts.injectors.flow",),
    )  # fmt: skip


def findings() -> tuple[Finding, ...]:
    """One of each verdict and two that hold."""
    breaks = finding()
    tight = finding(
        "strength.peak_pressure", "Peak cylinder pressure",
        Amount(88e5, 4e5, Kind.PRESSURE, "peak, best fuel, spark early"),
        Amount(105e5, 10e5, Kind.PRESSURE, "what stock parts stand"),
    )  # fmt: skip
    unknown = finding(
        "sensor.range", "Range of the pressure sensor",
        Amount(1.8e5, 6e3, Kind.PRESSURE_ABSOLUTE, "highest pressure"), None,
    )  # fmt: skip
    holds = finding(
        "turbo.tip_speed", "Compressor tip speed", Amount(345.0, 20.0, Kind.VELOCITY, "at the goal"),
        Amount(500.0, 15.0, Kind.VELOCITY, "cast wheel"), harm=Harm.DAMAGE,
    )  # fmt: skip
    surge = finding(
        "turbo.surge", "Room to surge", Amount(1.6, 0.1, Kind.RATIO, "flow over surge flow"),
        Amount(1.08, 0.03, Kind.RATIO, "room kept"), Sense.AT_LEAST, Harm.WEAR,
    )  # fmt: skip
    assert unknown.verdict is Verdict.UNKNOWN
    return sort_findings((breaks, tight, unknown, holds, surge))


CORNERS = ("railhead on the coast, January", "top of the pass before dawn", "the poorest fuel in the heat")


def result(with_goal: bool = True, corners: tuple[str, ...] = CORNERS) -> CheckResult:
    """A whole result."""
    base = line()
    return CheckResult(
        version="0.1.0", data_version="0123456789ab", fingerprint="fedcba9876543210", created_with="form 1",
        name="Meadow estate, 2.0 four", summary=(
            SummaryRow("displacement", words="1998 cc, 4 cylinders"),
            SummaryRow("bore and stroke", words="86.0 x 86.0 mm"),
            SummaryRow("boost wanted", Amount(0.6e5, 3e3, Kind.PRESSURE_GAUGE)),
        ), engine=ENGINE, fuel=Fuel(), baseline=base, goal=goal() if with_goal else None, strength=None,
        no_goal="" if with_goal else "The file states no turbo, so only the engine itself is judged.",
        findings=findings(), assumed=(
            AssumedValue(
                "parts.injectors.dead_time", "dead time of the injector", "1.0 +/- 0.4 ms", 60.0,
                ("fuel.injector_duty",),
            ),
        ), not_covered=not_covered(), seconds={"total": 2.4},
        drawing=drawing(corners) if with_goal else None,
        **(_with_turbo(corners) if with_goal else {}),
    )  # fmt: skip


def _with_turbo(corners: tuple[str, ...]) -> dict[str, Any]:
    """What stands beside the operating line; every array of the gate holds the same invented row."""
    row = np.linspace(0.1, 0.6, 12)
    answers = GateAnswers(**dict.fromkeys(GateAnswers._fields, row))
    answers = answers._replace(gate_area_most=3e-4, gate_at_stop=np.zeros(12, dtype=bool))
    days = tuple(CornerLine(name, "It is cold there.", 1.01e5, 262.0, False, goal()) for name in corners)
    return {
        "corners": days, "gate_shut": goal(), "threshold": Threshold(2100 * RPM, 2250 * RPM, 120 * RPM),
        "arrival": arrival(), "gate": answers,
    }  # fmt: skip


def changed(base: Finding, **fields: object) -> Finding:
    """A finding with some fields replaced."""
    return replace(base, **fields)  # type: ignore[arg-type]
