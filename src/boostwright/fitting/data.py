"""What a build file says of the engine before the conversion, as rows that a model can be held against."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.build.values import Source
from boostwright.errors import OutOfRange
from boostwright.findings.form import SPARK_LEVEL_SD, SPARK_TILT_SD
from boostwright.systems.stated.engine import losses_of
from boostwright.systems.stated.ignition import timing_error_of
from boostwright.systems.stated.place import ambient_of

__all__ = [
    "HUMP_SD",
    "SPARK_LEVEL_SD",
    "SPARK_TILT_SD",
    "TORQUE_TILT_SD",
    "Conditions",
    "Quantity",
    "Row",
    "conditions_of",
    "rows_of",
]

Array = NDArray[np.float64]

REFERENCE: Final = {  # pressure [Pa] and temperature [K] to which a standard corrects
    "iso1585": (100.0e3, 298.15),
    "j1349": (100.0e3, 298.15),
    "din70020": (101.3e3, 293.15),
}
DRIVE_LOSS, DRIVE_LOSS_SD = 0.12, 0.03  # between crank and wheels (common practice, no source)
COMMON_SHARE: Final = 0.7  # of a spread that all points of one run share: the instrument's own (judgement)
FORM_SD: Final = 0.01  # of computed torque and air beside all factors (judgement)
HUMP_SD: Final = 0.02  # of the charge at one speed: tuning that no smooth factor follows (judgement)
SPARK_FORM_SD: Final = math.radians(1.0)  # of the computed spark at one speed (judgement)
# Of the torque that the same air gives, to either end of the speeds: friction laws of such engines differ by
# 0.1 to 0.2 of themselves there, laws of burn and heat by as much torque (judgement).
TORQUE_TILT_SD: Final = 0.04
MAP_SD: Final = math.radians(1.5)  # by which a map keeps off the limit (common practice, no source)
PROBE_BELOW, PROBE_SD = 50.0, 20.0  # that a probe reads below the gas [K] (common practice, no source)
MODEL_HEAT_SD: Final = 15.0  # of the computed exhaust temperature beside its factors [K] (judgement)
FEWEST: Final = 3


class Quantity(Enum):
    """What a row of readings counts; its value says in which scale it is compared."""

    TORQUE = "logarithm of torque"
    AIR = "logarithm of air flow"
    FUEL = "logarithm of the fuel that one injector gives in one cycle"
    SPARK = "spark angle"  # [rad], negative before top dead centre
    EXHAUST = "exhaust temperature"  # [K]


@dataclass(frozen=True, slots=True)
class Row:
    """Readings of one quantity over speed, in the scale in which they are compared.

    value, sd: (n,), sd what each has for itself. common: standard deviation that all share. words, unit: for
    people.
    """

    quantity: Quantity
    value: Array
    sd: Array
    common: float
    words: str
    unit: str


@dataclass(frozen=True, slots=True)
class Conditions:
    """Under what the run was made, arrays (n,) [SI], and how sure that is.

    drop, rise: of plenum below and exhaust above the air outside [Pa]. *_sd: standard deviations of the
    factors' logarithms; of `drop` the share of itself. plenum_logged: then `drop_sd` is of the plenum
    pressure as a share of it.
    """

    speed: Array
    pressure: float
    pressure_sd: float
    plenum: Array
    drop: Array
    drop_sd: float
    plenum_logged: bool
    exhaust: Array
    rise: Array
    rise_sd: float
    temperature: Array
    temperature_sd: float
    lam: Array
    lam_sd: float


def conditions_of(build: Build) -> Conditions:
    """The conditions of the run behind the torque curve.

    Raises OutOfRange when the file states no curve, or one of fewer than three points.
    """
    speeds = build.get("baseline.speed")
    if speeds is None or build.get("baseline.torque") is None or len(speeds.value) < FEWEST:
        raise OutOfRange(
            "there is nothing to fit to: the file needs [baseline] with three or more speeds and the torque"
            " at each of them, from a rolling road or the maker's sheet"
        )
    speed = np.asarray(speeds.value, dtype=np.float64)
    pressure, pressure_sd, temperature, temperature_sd = _weather(build)
    from boostwright.systems.engine.baseline import full_load_points

    losses = losses_of(build)
    points = full_load_points(
        speed, pressure, temperature, 1.0, intake_drop=losses.intake, exhaust_rise=losses.exhaust
    )
    plenum = np.asarray(points.plenum_pressure, dtype=np.float64)
    exhaust = np.asarray(points.exhaust_pressure, dtype=np.float64)
    drop, drop_sd, logged = pressure - plenum, 1.0, False
    row = build.get("baseline.manifold_pressure")
    if row is not None:
        plenum = np.asarray(row.value, dtype=np.float64)
        drop_sd, logged = float(np.mean(np.asarray(row.sd) / plenum)), True
    warm = np.full(speed.shape, temperature)
    row = build.get("baseline.air_temperature")
    if row is not None:
        warm = np.asarray(row.value, dtype=np.float64)
        temperature_sd = float(np.mean(np.asarray(row.sd)))
    mixture = build["fuel.lambda_full_load"]
    lam = np.full(speed.shape, float(mixture.value))
    lam_sd = float(mixture.sd) / float(mixture.value)
    row = build.get("baseline.lambda")
    if row is not None:
        lam = np.asarray(row.value, dtype=np.float64)
        lam_sd = float(np.mean(np.asarray(row.sd) / lam))
    back = build.get("exhaust.stock_back_pressure")
    stated = back is not None and build.is_stated("exhaust.stock_back_pressure")
    rise_sd = float(back.sd) / float(back.value) if back is not None and stated and back.value else 0.5
    return Conditions(
        speed, pressure, pressure_sd, plenum, drop, drop_sd, logged, exhaust, exhaust - pressure, rise_sd,
        warm, temperature_sd, lam, max(lam_sd, 0.005),
    )  # fmt: skip


def _weather(build: Build) -> tuple[float, float, float, float]:
    """Pressure and its sd [Pa], temperature and its sd [K] of the run, or of the standard to which it is
    corrected.
    """
    label = build.words("baseline.correction")
    told = any(build.is_stated(f"baseline.{name}") for name in ("temperature", "barometer"))
    on_paper = build["baseline.torque"].source is not Source.MEASURED and not told
    if label == "none" and on_paper:
        label = "iso1585"
    if label != "none":
        pressure, temperature = REFERENCE[label]
        return pressure, 1.0e3, temperature, 7.0
    ambient = ambient_of(build)
    air, warm = build.get("baseline.barometer"), build.get("baseline.temperature")
    p = (ambient.pressure, 1.5e3) if air is None else (float(air.value), float(air.sd))
    T = (ambient.temperature, 7.0) if warm is None else (float(warm.value), max(float(warm.sd), 5.0))
    return p[0], p[1], T[0], T[1]  # the inlet of a car is warmer than the air by something


def rows_of(build: Build, at: Conditions) -> tuple[Row, ...]:
    """Every row of readings that the fit can use, torque first."""
    found = [_torque(build, at)]
    for make in (_air, _fuel, _spark, _exhaust):
        row = make(build)
        if row is not None:
            found.append(row)
    return tuple(found)


def _logged(build: Build, name: str) -> tuple[Array, Array] | None:
    row = build.get(f"baseline.{name}")
    if row is None:
        return None
    value = np.asarray(row.value, dtype=np.float64)
    return value, np.broadcast_to(np.asarray(row.sd, dtype=np.float64), value.shape)


def _torque(build: Build, at: Conditions) -> Row:
    given = _logged(build, "torque")
    assert given is not None
    torque, sd = given
    common = math.hypot(COMMON_SHARE * float(np.mean(sd / torque)), at.pressure_sd / at.pressure)
    if build.words("baseline.at") == "wheels":
        torque = torque / (1.0 - DRIVE_LOSS)
        common = math.hypot(common, DRIVE_LOSS_SD / (1.0 - DRIVE_LOSS))
    own = math.sqrt(1.0 - COMMON_SHARE**2) * sd / np.asarray(given[0])
    return Row(Quantity.TORQUE, np.log(torque), np.hypot(own, FORM_SD), common, "torque at the crank", "N m")


def _air(build: Build) -> Row | None:
    given = _logged(build, "air_flow")
    if given is None:
        return None
    flow, sd = given
    relative = sd / flow
    own = math.sqrt(1.0 - COMMON_SHARE**2) * relative
    common = COMMON_SHARE * float(relative.mean())
    return Row(Quantity.AIR, np.log(flow), np.hypot(own, FORM_SD), common, "air flow", "kg/s")


def _fuel(build: Build) -> Row | None:
    """Fuel of one opening, open time less dead time, times flow; None where the flow is not stated.

    Each injector opens once in a cycle, and for one cylinder.
    """
    given, flow = _logged(build, "injector_time"), build.get("baseline.injector_flow")
    if given is None or flow is None:
        return None
    dead = build.get("baseline.injector_dead_time")
    off, off_sd = (0.9e-3, 0.2e-3) if dead is None else (float(dead.value), float(dead.sd))
    time, sd = given
    net = time - off
    if np.any(net <= 0.0):
        raise OutOfRange(
            f"injector times of {1e3 * float(time.min()):.2g} ms are no longer than the dead time of"
            f" {1e3 * off:.2g} ms; one of the two is wrong"
        )
    density = build["fuel.density"]
    parts = [float(v.sd) / float(v.value) for v in (flow, density)]
    rail, rated = build.get("baseline.fuel_pressure"), build.get("baseline.injector_flow_pressure")
    brought = 1.0  # to the pressure that the rail had: flow goes with its root
    if rail is not None and rated is not None:
        brought = math.sqrt(float(rail.value) / float(rated.value))
        parts += [0.5 * float(v.sd) / float(v.value) for v in (rail, rated)]
    else:  # nobody says that the rail had the pressure for which the flow is stated
        usual = build["regulator.pressure"]
        parts.append(0.5 * float(usual.sd) / float(usual.value))
    common = math.hypot(*parts, off_sd / float(net.mean()))
    mass = net * brought * float(flow.value) * float(density.value)
    return Row(Quantity.FUEL, np.log(mass), np.hypot(sd / net, FORM_SD), common, "fuel of one opening", "kg")


def _spark(build: Build) -> Row | None:
    given = _logged(build, "spark")
    if given is None:
        return None
    before, sd = given
    truth = timing_error_of(
        build
    )  # the log holds what was commanded; the true spark stood off by what a light read
    own = 0.5 * truth.doubt if truth.parts else truth.sd
    timing = max(own, math.radians(0.3))
    common = float(np.linalg.norm([timing, SPARK_LEVEL_SD, MAP_SD]))
    return Row(Quantity.SPARK, -before - truth.offset, np.hypot(sd, SPARK_FORM_SD), common, "spark", "rad")


def _exhaust(build: Build) -> Row | None:
    given = _logged(build, "exhaust_temperature")
    if given is None:
        return None
    value, sd = given
    own = np.hypot(math.sqrt(1.0 - COMMON_SHARE**2) * sd, MODEL_HEAT_SD)
    common = math.hypot(COMMON_SHARE * float(np.mean(sd)), PROBE_SD)
    return Row(Quantity.EXHAUST, value + PROBE_BELOW, own, common, "exhaust gas in the manifold", "K")
