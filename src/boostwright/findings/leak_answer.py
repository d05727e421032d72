"""The answer to one pressure test of the charge pipes, for the command that works out nothing else."""

from __future__ import annotations

import math
from typing import NamedTuple

from boostwright.build.document import Build
from boostwright.errors import OutOfRange
from boostwright.findings.limits import shipped_limits
from boostwright.findings.model import Amount, Harm, Kind, Sense
from boostwright.findings.sure import sure_demand
from boostwright.quantity import Dimension, PressureKind, QuantityError, read
from boostwright.systems.charge_air.leak import Leak, LeakTest, hole_diameter, leak_flow, leak_of
from boostwright.systems.stated.full_load import FLOW_SPREAD, full_load_of
from boostwright.systems.stated.leak import volume_under_test
from boostwright.systems.stated.place import ambient_of

__all__ = ["LeakAnswer", "LeakAsked", "leak_answer"]

_AMBIENT = 101325.0  # where no build tells of a place [Pa]
_TEMPERATURE = 293.15  # a garage [K]
_CHARGE = 318.15  # of the charge at boost, behind a cooler [K]; a leak's flow goes with its root only
_GAUGE_SD, _SECONDS_SD, _TEMPERATURE_SD, _VOLUME_SHARE = 1.5e3, 0.3, 3.0, 0.1  # as [leak_test] has them
_MOST_GAUGE = 300.0e3  # nobody puts more into a charge pipe [Pa]


class LeakAsked(NamedTuple):
    """What was written on the command line; empty where nothing was."""

    volume: str = ""
    start: str = ""
    end: str = ""
    seconds: str = ""
    temperature: str = ""
    boost: str = ""
    air: str = ""
    cut_volume: str = ""  # the same test with a section cut off: the volume that is left
    cut_seconds: str = ""  # and its time


class LeakAnswer(NamedTuple):
    """The test as it was understood, and what it says."""

    volume: Amount
    start: Amount
    end: Amount
    seconds: Amount
    temperature: Amount
    area: Amount  # discharge coefficient included
    hole: Amount  # diameter of one round hole that leaks as much
    smallest: Amount  # the same hole if the air kept no heat back, and
    largest: Amount  # if it kept the walls' temperature
    boost: Amount | None = None
    flow: Amount | None = None  # lost at boost
    air: Amount | None = None  # of the engine at full load
    share: Amount | None = None  # of it that is lost
    limit: Amount | None = None  # that nobody misses
    wanted: Amount | None = None  # time from which the same fall is sure; None where no time would be
    sure: bool = False  # whether the share is small enough for sure
    from_build: tuple[str, ...] = ()  # what the build file told
    section: Amount | None = None  # effective area that the section cut off has to itself


def leak_answer(asked: LeakAsked, build: Build | None = None) -> LeakAnswer:
    """Hole, flow at boost and share of the engine's air of one pressure test.

    asked: the texts of the readings. build: tells volume, boost, engine, place and what [leak_test] states,
    where `asked` says nothing. Raises OutOfRange for a reading that is missing, cannot be read or is none.
    """
    test, told = _test(asked, build)
    hole = leak_of(test)
    diameter = hole_diameter(hole.area)
    answer = LeakAnswer(
        volume=Amount(test.volume, test.volume_sd, Kind.VOLUME, "volume under pressure"),
        start=Amount(test.start, test.pressure_sd, Kind.PRESSURE_GAUGE, "at the start"),
        end=Amount(test.end, test.pressure_sd, Kind.PRESSURE_GAUGE, "at the end"),
        seconds=Amount(test.seconds, test.seconds_sd, Kind.DELAY, "time"),
        temperature=Amount(test.temperature, test.temperature_sd, Kind.TEMPERATURE, "air in the pipes"),
        area=Amount(hole.area, hole.area_sd, Kind.HOLE_AREA, "effective area"),
        hole=Amount(diameter, 0.5 * diameter * hole.area_sd / hole.area, Kind.LENGTH, "one round hole"),
        smallest=Amount(hole_diameter(hole.smallest), None, Kind.LENGTH),
        largest=Amount(hole_diameter(hole.largest), None, Kind.LENGTH),
        from_build=told,
    )
    if asked.cut_volume or asked.cut_seconds:
        answer = answer._replace(section=_section(asked, test, hole))
    return _at_boost(answer, asked, build, test.ambient)


def _section(asked: LeakAsked, whole: LeakTest, hole: Leak) -> Amount:
    """Area of the section that the second test cut off: the whole less what is left."""
    if not asked.cut_volume or not asked.cut_seconds:
        raise OutOfRange("A second test with a section cut off needs both --cut-volume and --cut-seconds.")
    volume, volume_sd = _read(asked.cut_volume, Dimension.VOLUME, "cut-volume", "like '5 L'")
    if not 0.0 < volume < whole.volume:
        raise OutOfRange(
            f"With a section cut off less volume is left than the {1e3 * whole.volume:.3g} L of the"
            f" whole, and"
            f" more than none; '{asked.cut_volume}' is not."
        )
    seconds, seconds_sd = _seconds(asked.cut_seconds, "cut-seconds")
    rest = leak_of(
        whole._replace(
            volume=volume,
            volume_sd=_VOLUME_SHARE * volume if volume_sd is None else volume_sd,
            seconds=seconds,
            seconds_sd=seconds_sd,
        )
    )
    sd = math.hypot(hole.area_sd, rest.area_sd)
    return Amount(hole.area - rest.area, sd, Kind.HOLE_AREA, "of it in the section cut off")


def _seconds(text: str, what: str) -> tuple[float, float]:
    written = text if any(c.isalpha() for c in text) else f"{text} s"
    value, sd = _read(written, Dimension.TIME, what, "like '6 s'")
    return value, _SECONDS_SD if sd is None else sd


def _at_boost(answer: LeakAnswer, asked: LeakAsked, build: Build | None, ambient: float) -> LeakAnswer:
    """The same with what the leak costs at boost, as far as boost and the engine's air are known."""
    told = list(answer.from_build)
    boost = _pressure(asked.boost, "boost", ambient) if asked.boost else None
    if boost is None and build is not None and build.get("goal.boost") is not None:
        boost = (build.number("goal.boost"), float(build["goal.boost"].sd or 0.0))
        told.append("boost")
    if boost is None:
        return answer
    if not 0.0 < boost[0] <= _MOST_GAUGE:
        raise OutOfRange(f"A boost of {boost[0] / 1e3:.4g} kPa gauge is none: between 0 and 300 kPa it lies.")
    relative = (answer.area.sd or 0.0) / answer.area.value
    lost = float(leak_flow(answer.area.value, ambient + boost[0], _CHARGE, ambient))
    found = answer._replace(
        boost=Amount(boost[0], boost[1], Kind.PRESSURE_GAUGE, "boost"),
        flow=Amount(lost, lost * relative, Kind.MASS_FLOW, "lost at boost"),
        from_build=tuple(told),
    )
    air = _air(asked, build)
    if air is None:
        return found
    limit = shipped_limits()["leak_share"].amount
    share = lost / air[0]
    share_sd = share * math.hypot(relative, air[1] / air[0])
    lost_share = Amount(share, share_sd, Kind.SHARE, "share of the engine's air")
    sure = sure_demand(limit, lost_share, Sense.AT_MOST, Harm.WEAR, relative=True)  # as charge.leak has it
    told_apart = math.isfinite(sure) and sure > 0.0
    return found._replace(
        air=Amount(air[0], air[1], Kind.MASS_FLOW, "air at full load"),
        share=lost_share,
        limit=limit,
        wanted=Amount(max(1.0, share / sure) * answer.seconds.value, None, Kind.DELAY)
        if told_apart
        else None,
        sure=told_apart and share <= sure,
        from_build=(*told, "air at full load") if not asked.air else tuple(told),
    )


def _air(asked: LeakAsked, build: Build | None) -> tuple[float, float] | None:
    if asked.air:
        value, sd = _read(asked.air, Dimension.MASS_FLOW, "air", "like '95 g/s'")
        if not value > 0.0:
            raise OutOfRange(f"an air flow of '{asked.air}' is none; write it like '95 g/s'")
        return value, sd or 0.0
    if build is None:
        return None
    flow = full_load_of(build).flow
    return flow, FLOW_SPREAD * flow


def _test(asked: LeakAsked, build: Build | None) -> tuple[LeakTest, tuple[str, ...]]:
    """The readings as one test, and what of it the build told."""
    ambient = _AMBIENT if build is None else ambient_of(build).pressure
    told: list[str] = []

    def stated(path: str, name: str) -> tuple[float, float] | None:
        if build is None or not build.is_stated(path):
            return None
        told.append(name)
        return build.number(path), float(build[path].sd or 0.0)

    start = _pressure(asked.start, "from", ambient) if asked.start else stated("leak_test.from", "from")
    end = _pressure(asked.end, "to", ambient) if asked.end else stated("leak_test.to", "to")
    if asked.seconds:
        seconds: tuple[float, float] | None = _seconds(asked.seconds, "seconds")
    else:
        seconds = stated("leak_test.time", "seconds")
    volume = _volume(asked, build, told)
    wanted = (("--volume", volume), ("--from", start), ("--to", end), ("--seconds", seconds))
    missing = [name for name, value in wanted if value is None]
    if start is None or end is None or seconds is None or volume is None:
        raise OutOfRange(
            f"A leak is worked out from volume, both pressures and the seconds; {', '.join(missing)}"
            f" {'is' if len(missing) == 1 else 'are'} missing. A build file can tell them in [leak_test]."
        )
    if start[0] > _MOST_GAUGE:
        raise OutOfRange(
            f"{start[0] / 1e3:.4g} kPa gauge is no pressure to test a charge pipe with; hoses burst. 200"
            " kPa is the most, the boost wanted plus a fifth is enough."
        )
    warm = _temperature(asked, build)
    gauge = math.sqrt(0.5 * (start[1] ** 2 + end[1] ** 2))
    return LeakTest(*volume, start[0], end[0], gauge, *seconds, *warm, ambient), tuple(told)


def _volume(asked: LeakAsked, build: Build | None, told: list[str]) -> tuple[float, float] | None:
    if asked.volume:
        value, sd = _read(asked.volume, Dimension.VOLUME, "volume", "like '8 L'")
        return value, _VOLUME_SHARE * value if sd is None else sd
    if build is None:
        return None
    told.append("volume")
    return volume_under_test(build)


def _temperature(asked: LeakAsked, build: Build | None) -> tuple[float, float]:
    if asked.temperature:
        value, sd = _read(asked.temperature, Dimension.TEMPERATURE, "temperature", "like '18 degC'")
        if not 200.0 < value < 400.0:
            raise OutOfRange(f"'{asked.temperature}' is no temperature of a garage; write it like '18 degC'.")
        return value, _TEMPERATURE_SD if sd is None else sd
    if build is not None:
        found = build["leak_test.temperature"]
        return float(found.value), float(found.sd or 0.0)
    return _TEMPERATURE, 2.0 * _TEMPERATURE_SD


def _pressure(text: str, what: str, ambient: float) -> tuple[float, float]:
    """A pressure [Pa gauge] and its deviation; a bare unit counts as gauge, as a tyre's does."""
    try:
        found = read(text, Dimension.PRESSURE)
    except QuantityError as mishap:
        raise OutOfRange(_unread(text, what, mishap, "like '70 kPa' or '10 psi'")) from None
    value = found.value - ambient if found.kind is PressureKind.ABSOLUTE else found.value
    return value, _GAUGE_SD if found.sd is None else found.sd


def _read(text: str, dimension: Dimension, what: str, example: str) -> tuple[float, float | None]:
    try:
        found = read(text, dimension)
    except QuantityError as mishap:
        raise OutOfRange(_unread(text, what, mishap, example)) from None
    return found.value, found.sd


def _unread(text: str, what: str, mishap: QuantityError, example: str) -> str:
    return f"{what} '{text}' cannot be read: {str(mishap).rstrip('.')}. Write it {example}."
