"""Single numbers: boost cut, speed limit, ends of the sensor, the pressure below which fuel fails."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from boostwright.build.document import Build
from boostwright.calibration.fuel_tables import Pulses
from boostwright.calibration.mixture import closed_loop_top
from boostwright.calibration.records import Axis, Origin, Setting, Table
from boostwright.calibration.work import Work, origins
from boostwright.findings.case import Case
from boostwright.findings.limited_pressure import knock_ceiling, strength_ceiling
from boostwright.findings.model import Amount, Harm
from boostwright.findings.subjects.cuts import highest_pressure
from boostwright.findings.sure import deviations
from boostwright.planning.ladder.matched import sure_cut_in
from boostwright.quantity import Dimension, PressureKind
from boostwright.systems.sensing import PressureSensor

__all__ = ["Cut", "Room", "cut_of", "fuel_pressure", "sensor_table", "settings_of"]

PAST_CUT: Final = (
    6.0e3  # gained at 120 kPa/s in the 50 ms before fuel stops [Pa] (judgement; as findings take it)
)
FULL_SCALE_SD: Final = 0.015  # of a stated full scale [-] (common practice, no source)
_ROUND: Final = 1.0e3  # to which a chosen cut is rounded [Pa]
_LEAST_OVER: Final = 12.0e3  # over the outside air, below which a cut would trip without boost [Pa]
_SPEED_ROOM: Final = 1.05  # of the engine's own speed limit, to which a stated cut may go [-] (judgement)


class Room(NamedTuple):
    """One bound of the cut. pressure, sd: [Pa absolute]; NaN where nobody knows. words: what it is."""

    key: str
    pressure: float
    sd: float
    words: str


class Cut(NamedTuple):
    """The boost cut and what it must lie between [Pa absolute]. value: NaN where none fits."""

    value: float
    origin: Origin
    why: str
    highest: Room  # that ordinary driving reaches
    above: tuple[Room, ...]  # what it must stay below

    @property
    def most(self) -> Room | None:
        """The strictest of what it must stay below, as far as it is known."""
        known = [room for room in self.above if math.isfinite(room.pressure)]
        return min(known, key=lambda room: room.pressure) if known else None


def cut_of(build: Build, case: Case, sensor: PressureSensor) -> Cut:
    """Where the boost cut belongs.

    Above what ordinary driving reaches on the worst day, spring, creep and spike on it, as surely as the
    check asks of a nuisance; below the sensor's end less twice its tolerance, and below what knock and
    strength leave in the worst corner, less their standard deviation and what passes the cut before fuel
    stops. A stated cut between the two stands; else the lowest that fits. NaN where none fits.
    """
    found = highest_pressure(case) if case.goal is not None else None
    if found is None:
        nothing = Room("highest", math.nan, 0.0, "no boost was computed")
        why = f"No boost was computed, so no cut follows. {case.no_goal}"
        return Cut(math.nan, Origin.MODEL, why, nothing, ())
    amount = found[0]
    low = amount.value + deviations(Harm.NUISANCE) * (amount.sd or 0.0)
    highest = Room("highest", low, amount.sd or 0.0, "what ordinary driving reaches, spring, creep and spike")
    above = (*_sensor_room(build, sensor), *_part_rooms(case))
    most = min((room.pressure for room in above if math.isfinite(room.pressure)), default=math.inf)
    words = ", ".join(
        f"{room.words} {room.pressure / 1e3:.0f} kPa" for room in above if math.isfinite(room.pressure)
    )
    between = f"It must lie above {low / 1e3:.0f} kPa ({highest.words}) and below {words or 'nothing known'}."
    stated = build.get("controller.boost_cut")
    if stated is not None and low <= float(stated.value) <= most:
        return Cut(float(stated.value), Origin.MAKER, f"As the file states. {between}", highest, above)
    own = math.ceil(low / _ROUND) * _ROUND
    if own <= most:
        if stated is not None:
            between = f"The file states {float(stated.value) / 1e3:.0f} kPa. {between}"
        return Cut(
            own, Origin.MODEL, f"The lowest that leaves ordinary driving alone. {between}", highest, above
        )
    lowest = math.floor(most / _ROUND) * _ROUND
    why = f"No cut leaves ordinary driving alone and comes before the harm. {between}"
    if lowest > case.ambient_pressure + _LEAST_OVER:
        return Cut(
            lowest, Origin.MODEL, f"{why} The safe one stands: full boost will trip it.", highest, above
        )
    return Cut(math.nan, Origin.MODEL, f"{why} No number stands: any would pretend.", highest, above)


def _sensor_room(build: Build, sensor: PressureSensor) -> tuple[Room, ...]:
    if not sensor.known:
        return (Room("sensor", math.nan, 0.0, "the end of the pressure sensor, which nobody has stated"),)
    top = float(np.asarray(sensor.transfer.highest))
    own = float(build["pressure_sensor.highest"].sd or 0.0)
    sd = math.hypot(own, FULL_SCALE_SD * top)
    return (Room("sensor", top - 2.0 * sd, sd, "the pressure sensor's end less its tolerance,"),)


def _part_rooms(case: Case) -> tuple[Room, ...]:
    found = []
    for key, words, ceiling in (
        ("knock", "where knock leaves no spark in the worst corner,", knock_ceiling(case)),
        ("strength", "what the parts stand in the worst corner,", strength_ceiling(case)),
    ):
        if ceiling is None:
            continue
        amount: Amount = ceiling.amount
        sd = amount.sd or 0.0
        found.append(Room(key, amount.value - sd - PAST_CUT, sd, words))
    sure, _ = sure_cut_in(case)
    if math.isfinite(sure):
        found.append(Room("check", sure, 0.0, "what the check allows when the gate fails,"))
    return tuple(found)


def fuel_pressure(work: Work, pulses: Pulses) -> Setting | None:
    """Pressure across the injectors below which fuel must be cut, from the sizing.

    A controller opens the injectors for the pressure that the regulator ought to hold. At d instead, lambda
    becomes lambda sqrt(set/d); a controller that reads the rail opens them longer and runs into the duty
    limit instead. The higher of both pressures, at the worst boosted cell of the trajectory. None without
    boost.
    """
    limits = work.case.limits
    leanest, most = limits["leanest_boost"].amount, limits["injector_duty"].amount
    grid = work.grid
    rich = leanest.value - 2.0 * (leanest.sd or 0.0)  # elsewhere lambda is no matter of life
    where = grid.visited & (grid.pressure > grid.ambient) & (work.cells.lam <= rich)
    where &= np.isfinite(pulses.line.duty) & (pulses.line.set_difference > 0.0)
    if not where.any():
        return None
    held = pulses.line.set_difference[where]
    lean = held * (work.cells.lam[where] / leanest.value) ** 2
    turns = 4.0 * np.pi / grid.speed[where]
    room = most.value * turns - pulses.line.dead_time[where]
    with np.errstate(divide="ignore", invalid="ignore"):
        slow = held * (pulses.line.open_time[where] / np.maximum(room, 1e-9)) ** 2
    by_lambda, by_duty = float(lean.max()), float(slow.max())
    value = max(by_lambda, by_duty)
    place = int(np.argmax(np.maximum(lean, slow)))
    over = value > float(held[place])
    why = (
        f"Lambda leaves {leanest.value:.2f} below {by_lambda / 1e3:.0f} kPa across the injector, duty leaves"
        f" {100 * most.value:.0f} % below {by_duty / 1e3:.0f} kPa if the controller makes up for the"
        " pressure;"
        " rail less manifold, under boost: cut fuel and let the boost go."
    )
    if over:
        why += " That is more than the regulator holds there: these injectors are too small, and no pressure"
        why += " stands as a rule."
        value = math.nan
    air = float(np.max(work.cells.air_sd[where])) if by_duty > by_lambda else 0.0
    sd = 0.0 if over else 2.0 * value * math.hypot((leanest.sd or 0.0) / leanest.value, air)
    return Setting(
        "fuel_pressure_least", "least pressure across the injectors under boost", Dimension.PRESSURE, value,
        sd, Origin.MODEL, why, PressureKind.DIFFERENCE,
    )  # fmt: skip


def sensor_table(work: Work) -> tuple[Table | None, str]:
    """Pressure over the sensor's signal, or why there is none."""
    if not work.sensor.known:
        return None, (
            "Transfer of the pressure sensor: nobody has stated how far it reads. Until then nothing"
            " above the"
            " outside air may be trusted; state pressure_sensor.highest and .lowest from its sheet."
        )
    t = work.sensor.transfer
    signal = np.array([float(np.asarray(t.signal_lowest)), float(np.asarray(t.signal_highest))])
    value = np.array([float(np.asarray(t.lowest)), float(np.asarray(t.highest))])
    sds = []
    for end, path in zip(value, ("pressure_sensor.lowest", "pressure_sensor.highest"), strict=True):
        stated = work.build.get(path)
        own = 0.0 if stated is None or not stated.sd else float(stated.sd)
        sds.append(math.hypot(own, FULL_SCALE_SD * float(value[1]) if end == value[1] else 0.0))
    ends = ("pressure_sensor.voltage_lowest", "pressure_sensor.voltage_highest")
    usual = not all(work.build.is_stated(path) for path in ends)
    notes: tuple[str, ...] = ("A straight line between two points; beyond them the signal stands still.",)
    if usual:
        notes += ("The voltages are those of usual sensors, as the file states none: its own sheet wins.",)
    axis = Axis("sensor_signal", "signal of the pressure sensor", Dimension.VOLTAGE, signal)
    return (
        Table(
            "pressure_sensor",
            "manifold pressure by the sensor's signal",
            Dimension.PRESSURE,
            (axis,),
            value,
            np.array(sds),
            origins((2,), Origin.MAKER, Origin.RULE, usual),
            np.ones(2, dtype=bool),
            notes,
            pressure=PressureKind.ABSOLUTE,
        ),
        "",
    )


def settings_of(work: Work, cut: Cut, pulses: Pulses) -> tuple[Setting, ...]:
    """All single numbers but those that go with a table."""
    build, case = work.build, work.case
    found = [
        Setting(
            "boost_cut", "manifold pressure at which fuel is cut", Dimension.PRESSURE, cut.value, 0.0,
            cut.origin, cut.why, PressureKind.ABSOLUTE,
        ),
        _speed_limit(build),
    ]  # fmt: skip
    idle = build["engine.idle_speed"]
    found.append(
        Setting(
            "idle_speed", "warm idle speed", Dimension.ROTATION, float(idle.value), float(idle.sd or 0.0),
            Origin.MAKER if build.is_stated("engine.idle_speed") else Origin.RULE,
            "As stated." if build.is_stated("engine.idle_speed") else "That of usual engines, as the"
            " file states none.",
        )
    )  # fmt: skip
    top, why = closed_loop_top(build, case)
    leanest = case.limits["leanest_boost"].amount
    found += [
        Setting(
            "closed_loop_top", "manifold pressure above which closed loop is left", Dimension.PRESSURE, top,
            3.0e3, Origin.MAKER if why.startswith("As the file") else Origin.RULE, why, PressureKind.ABSOLUTE,
        ),
        Setting(
            "leanest_boost", "lambda under boost above which fuel is cut and boost let go", Dimension.MIXTURE,
            leanest.value, leanest.sd or 0.0, Origin.RULE, case.limits["leanest_boost"].record.reason,
        ),
    ]  # fmt: skip
    least = fuel_pressure(work, pulses)
    if least is not None:
        found.append(least)
    return tuple(found)


def _speed_limit(build: Build) -> Setting:
    limit = build["engine.speed_limit"]
    own = float(limit.value)
    stated = build.get("controller.speed_cut")
    if stated is not None and float(stated.value) <= _SPEED_ROOM * own:
        return Setting(
            "speed_limit", "engine speed at which fuel is cut", Dimension.ROTATION, float(stated.value),
            float(stated.sd or 0.0), Origin.MAKER, "As the file states for the controller.",
        )  # fmt: skip
    why = "The engine's own limit."
    if stated is not None:
        rpm = float(stated.value) * 30 / math.pi
        why += f" The file's {rpm:.0f} rpm for the controller lies too far above it."
    return Setting(
        "speed_limit", "engine speed at which fuel is cut", Dimension.ROTATION, own, float(limit.sd or 0.0),
        Origin.MAKER if build.is_stated("engine.speed_limit") else Origin.RULE, why,
    )  # fmt: skip
