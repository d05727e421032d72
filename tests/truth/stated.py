"""What a builder knows of an invented engine: a build file with his readings, and a logged full-load run.

Readings are off by the spreads that the catalogue gives to their sources. The run is a rolling road with the
engine's own sensors: torque 2 % from point to point and 2 % for the whole run; lambda 1.5 % and 1 %; manifold
pressure 0.3 kPa and 1 kPa; air 0.5 K and 2 K; injector time 1 %, with the flow of the injectors known to 4 %;
spark 1.5 degrees and 1 degree for the base timing. One standard deviation each.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from boostwright.build.catalogue import catalogue
from boostwright.build.document import Build
from boostwright.build.values import Source
from boostwright.physics.gas import mixture
from boostwright.readers.build_file import read_build
from tests.truth.engines import DEG, RPM, Outcome, Truth

__all__ = ["Run", "build_text", "logged_run", "stated_build"]

Array = NDArray[np.float64]

PER_POINT: Final = {
    "torque": 0.02,
    "lam": 0.015,
    "pressure": 300.0,
    "air": 0.5,
    "time": 0.01,
    "spark": 1.5 * DEG,
}
PER_RUN: Final = {
    "torque": 0.02,
    "lam": 0.01,
    "pressure": 1.0e3,
    "air": 2.0,
    "flow": 0.04,
    "spark": 1.0 * DEG,
}
MAYBE: Final = {
    "valves": (
        "engine.intake_valve_diameter",
        "engine.exhaust_valve_diameter",
        "engine.intake_lift",
        "engine.exhaust_lift",
    ),
    "cams": (
        "engine.intake_opens",
        "engine.intake_closes",
        "engine.exhaust_opens",
        "engine.exhaust_closes",
    ),
    "runner": ("engine.runner_length", "engine.rod_length"),
}
"""What a builder states in half of the cases, from the handbook."""


class Run(NamedTuple):
    """One logged run at full load without boost; arrays (n,). flow, dead_time: of one injector as stated."""

    speed: Array  # [rad/s]
    torque: Array  # at the crank [N m]
    lam: Array  # [-]
    manifold_pressure: Array  # [Pa absolute]
    air_temperature: Array  # in the plenum [K]
    injector_time: Array  # electric, for each cycle [s]
    spark: Array  # [rad], negative before top dead centre
    injector_flow: float  # at the run's rail pressure [kg/s]
    dead_time: float  # [s]


def logged_run(truth: Truth, outcome: Outcome) -> Run:
    """The log of the engine at full load without boost. outcome: what it truly does there (`unboosted`)."""
    rng = np.random.default_rng([21, truth.seed])
    n = outcome.torque.size

    def off(name: str) -> Array:
        whole = PER_RUN.get(name, 0.0) * rng.standard_normal()
        return whole + PER_POINT[name] * rng.standard_normal(n)

    at = truth.stock
    mix = mixture(at.lam, truth.fuel.ethanol_share, truth.fuel.petrol_heating_value)
    flow = outcome.air_flow / (at.lam * mix.afr_stoich) / truth.engine.cylinders  # of each injector [kg/s]
    fuel = flow * 4.0 * np.pi / at.speed  # for each cycle [kg]
    true_flow, dead_time = float(fuel.max()) / 12.0e-3, 0.9e-3
    return Run(
        speed=at.speed,
        torque=outcome.torque * (1.0 + off("torque")),
        lam=at.lam * (1.0 + off("lam")),
        manifold_pressure=at.plenum_pressure + off("pressure"),
        air_temperature=at.plenum_temperature + off("air"),
        injector_time=(fuel / true_flow) * (1.0 + off("time")) + dead_time,
        spark=outcome.spark + off("spark"),
        injector_flow=true_flow * (1.0 + PER_RUN["flow"] * rng.standard_normal()),
        dead_time=dead_time,
    )


def stated_build(truth: Truth, run: Run | None = None) -> Build:
    """`build_text`, read."""
    return read_build(build_text(truth, run).encode())


def build_text(truth: Truth, run: Run | None = None) -> str:
    """A build file as the builder would write it. run: whose torque curve goes into it; None for none.

    What he cannot know is left to the class. The octane number is that of the pump, not of the tank.
    """
    rng = np.random.default_rng([22, truth.seed])
    build = truth.build
    lines = [
        "[build]",
        f'name = "Invented engine {truth.seed}"',
        "[goal]",
        f'boost = "{(truth.goal.plenum_pressure[0] - truth.ambient[0]) / 1e5:.3f} bar"',
        "[engine]",
        'source = "handbook"',
        f'class = "{build.words("engine.class")}"',
        f"cylinders = {truth.engine.cylinders}",
        f'speed_limit = "{build.number("engine.speed_limit") / RPM:.0f} rpm"',
        'injection = "port"',
        'variable_valve_timing = "none"',
    ]
    known = ["engine.bore", "engine.stroke", "engine.compression_ratio"]
    for fields in MAYBE.values():
        chosen = rng.random() < 0.5
        known += fields if chosen else ()
    lines += [_line(path, _read(rng, build, path, Source.HANDBOOK)) for path in known]
    lam = _read(rng, build, "fuel.lambda_full_load", Source.MEASURED)
    lines += [
        "[fuel]",
        'octane = { value = "95 RON", source = "maker" }',
        f'lambda_full_load = {{ value = "{lam:.3f} lambda", source = "measured" }}',
        f'lambda_boost = "{truth.goal.lam:.2f} lambda"',
        "[place]",
        'source = "measured"',
        f'temperature = "{truth.ambient[1] - 273.15 + rng.standard_normal():.1f} degC"',
        f'barometer = "{(truth.ambient[0] + 300.0 * rng.standard_normal()) / 1e3:.1f} kPa"',
    ]
    if run is not None:
        lines += [
            "[baseline]",
            'source = "measured"',
            f'speed = "{" ".join(f"{v / RPM:.0f}" for v in run.speed)} rpm"',
            f'torque = "{" ".join(f"{v:.1f}" for v in run.torque)} Nm"',
            'at = "crank"',
            f'temperature = "{truth.ambient[1] - 273.15:.1f} degC"',
            f'barometer = "{truth.ambient[0] / 1e3:.1f} kPa"',
            *_logged(run, build.number("fuel.density")),
        ]
    return "\n".join(lines) + "\n"


def _logged(run: Run, density: float) -> list[str]:
    """The rest of the log, in the units of the bench. density: of the fuel [kg/m3]."""

    def row(name: str, values: Array, digits: int, unit: str) -> str:
        return f'{name} = "{" ".join(f"{v:.{digits}f}" for v in values)} {unit}"'

    flow = run.injector_flow / density * 60.0e6
    return [
        row("lambda", run.lam, 3, "lambda"),
        row("manifold_pressure", run.manifold_pressure / 1e3, 1, "kPa"),
        row("air_temperature", run.air_temperature - 273.15, 1, "degC"),
        row("spark", np.maximum(-run.spark / DEG, 0.0), 1, "deg"),
        row("injector_time", run.injector_time * 1e3, 2, "ms"),
        f'injector_flow = {{ value = "{flow:.0f} cc/min", source = "maker" }}',
        f'injector_dead_time = "{run.dead_time * 1e3:.2f} ms"',
    ]


def _read(rng: Generator, build: Build, path: str, source: Source) -> float:
    """The true value as it is read from a source [SI]."""
    true = build.number(path)
    return true + catalogue().field(path).spread_for(source).at(true) * float(rng.standard_normal())


def _line(path: str, value: float) -> str:
    name = path.partition(".")[2]
    if name == "compression_ratio":
        return f'{name} = "{value:.2f}"'
    if name.endswith(("opens", "closes")):
        return f'{name} = "{_event(name, value / DEG)}"'
    return f'{name} = "{value * 1e3:.2f} mm"'


def _event(name: str, degrees: float) -> str:
    """A cam event as workshop figures: degrees from the dead centre that it is near."""
    centre, before, after = {
        "intake_opens": (360.0, "btdc", "atdc"),
        "intake_closes": (540.0, "bbdc", "abdc"),
        "exhaust_opens": (180.0, "bbdc", "abdc"),
        "exhaust_closes": (360.0, "btdc", "atdc"),
    }[name]
    off = degrees - centre
    return f"{abs(off):.1f} deg {after if off > 0.0 else before}"
