"""What must fit together between several fields: geometry that cannot be built, tables that run backwards."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Final

from boostwright.build.air import standard_pressure
from boostwright.build.document import Build
from boostwright.build.faults import Fault, Severity
from boostwright.build.limits import value_text
from boostwright.build.values import StatedValue
from boostwright.errors import OutOfRange
from boostwright.physics.driveline import tyre_size
from boostwright.quantity import Dimension, write

__all__ = ["check_rules"]

_Add = Callable[..., None]

_SHORTEST_ROD: Final = (
    1.15  # rod over stroke; below, the rod leans past 25 degrees and the skirt leaves the bore
)
_USUAL_ROD: Final = (1.4, 2.1)
_VALVES_ACROSS: Final = {
    (2, 2): 0.90,
    (1, 1): 1.05,
}  # intake + exhaust diameter over bore that a head can hold
_DISPLACEMENT_SLACK: Final = 0.03
_CLOSED_ENDS: Final = 2.0  # turns of a spring that lie flat
_WEATHER: Final = 5e3  # no weather moves the air's pressure further from the standard air [Pa]
_DURATION: Final = (math.radians(150), math.radians(340))


def check_rules(build: Build, faults: list[Fault]) -> None:
    """Append to `faults` what cannot fit together among the values that were read."""

    def add(
        code: str,
        value: StatedValue,
        why: str,
        remedy: str,
        allowed: str = "",
        severity: Severity = Severity.FAULT,
    ) -> None:
        faults.append(
            Fault(code, value.line or 1, value.path, value.text, allowed, why, remedy, None, severity)
        )

    written = frozenset(build.values) | {f.field for f in faults if f.severity is Severity.FAULT}
    for rule in (
        _rod,
        _valves,
        _lifts,
        _displacement,
        _per_cylinder,
        _pairs,
        _weather,
        _relief_spring,
        _lining,
        _tyre,
        _gears,
        _sides,
        _main_fuse,
    ):
        rule(build, add)
    for whole in (_cams, _baseline):
        whole(build, written, add)
    if build.table("ports") or build.table("joints"):  # their tables of threads are read only then
        from boostwright.build.joint_rules import check_joints

        check_joints(build, faults)


def _stated(build: Build, *paths: str) -> list[StatedValue] | None:
    """The stated values of the paths, or None when one of them is not stated."""
    found = [build.values[path] for path in paths if path in build.values]
    return found if len(found) == len(paths) else None


def _text(build: Build, path: str) -> str:
    return value_text(build.field(path), float(build.values[path].value))


def _rod(build: Build, add: _Add) -> None:
    pair = _stated(build, "engine.rod_length", "engine.stroke")
    if pair is None:
        return
    rod, stroke = pair
    ratio = rod.value / stroke.value
    least = write(_SHORTEST_ROD * stroke.value, "mm", Dimension.LENGTH)
    if ratio < _SHORTEST_ROD:
        why = (
            "the rod is no longer than half the stroke: the crank cannot turn over"
            if ratio <= 0.5
            else f"the rod is {ratio:.2f} strokes long: the piston would leave its bore"
        )
        add(
            "geometry",
            rod,
            why,
            "Measure the rod from centre to centre, and the stroke of this very crank.",
            f"at least {least} with a stroke of {_text(build, 'engine.stroke')}",
        )
    elif not _USUAL_ROD[0] <= ratio <= _USUAL_ROD[1]:
        add(
            "unusual",
            rod,
            f"the rod is {ratio:.2f} strokes long; {_USUAL_ROD[0]} to {_USUAL_ROD[1]} is usual",
            "Leave it if you are sure.",
            "",
            Severity.NOTE,
        )


def _lining(build: Build, add: _Add) -> None:
    pair = _stated(build, "clutch.disc_inner", "clutch.disc_outer")
    if pair is not None and pair[0].value >= pair[1].value:
        add(
            "geometry",
            pair[0],
            "the lining's inner diameter is not smaller than its outer one",
            "Measure both again; are they exchanged?",
            f"less than {_text(build, 'clutch.disc_outer')}",
        )


def _tyre(build: Build, add: _Add) -> None:
    stated = build.values.get("car.tyre")
    if stated is None:
        return
    try:
        tyre_size(str(stated.value))
    except OutOfRange as mishap:
        why, _, remedy = str(mishap).partition(". ")
        add("unknown-size", stated, why[0].lower() + why[1:], remedy or "Read it off the side wall.")


def _gears(build: Build, add: _Add) -> None:
    stated = build.values.get("car.gears")
    if stated is None or not isinstance(stated.value, tuple):
        return
    if any(later >= earlier for earlier, later in pairwise(stated.value)):
        add(
            "unsorted-table",
            stated,
            "each gear turns the wheels faster than the one below, so its ratio is smaller",
            "Write the ratios from first gear up.",
            "each ratio below the one before",
        )


def _valves(build: Build, add: _Add) -> None:
    bore = build.values.get("engine.bore")
    intake, exhaust = build.get("engine.intake_valve_diameter"), build.get("engine.exhaust_valve_diameter")
    counts = build.get("engine.intake_valves"), build.get("engine.exhaust_valves")
    if bore is None or intake is None or exhaust is None or counts[0] is None or counts[1] is None:
        return
    stated = exhaust if intake.assumed else intake
    if stated.assumed:
        return
    number = (int(counts[0].value), int(counts[1].value))
    across = (intake.value + exhaust.value) / bore.value
    area = (number[0] * intake.value**2 + number[1] * exhaust.value**2) / bore.value**2
    limit = _VALVES_ACROSS.get(number)
    sizes = f"{number[0]} x {write(intake.value, 'mm', Dimension.LENGTH)} and {number[1]} x " + write(
        exhaust.value, "mm", Dimension.LENGTH
    )
    if (
        (limit is not None and across > limit)
        or area > 0.95
        or max(intake.value, exhaust.value) >= bore.value
    ):
        most = (
            f"intake plus exhaust valve at most {limit * 100:.0f} % of the bore"
            if limit
            else "less area than the bore"
        )
        add(
            "geometry",
            stated,
            f"{sizes} do not fit into a bore of {_text(build, 'engine.bore')}",
            "Measure the seats, and check that the number of valves is that of one cylinder.",
            most,
        )


def _lifts(build: Build, add: _Add) -> None:
    for side in ("intake", "exhaust"):
        pair = _stated(build, f"engine.{side}_lift", f"engine.{side}_valve_diameter")
        if pair is not None and pair[0].value > 0.5 * pair[1].value:
            most = write(0.5 * pair[1].value, "mm", Dimension.LENGTH)
            add(
                "geometry",
                pair[0],
                "the valve lifts by more than half its diameter",
                "Check lift and diameter; a cam's own lift is less than the valve's with rockers.",
                f"up to {most}",
            )


def _displacement(build: Build, add: _Add) -> None:
    stated = build.values.get("engine.displacement")
    if stated is None or _stated(build, "engine.bore", "engine.stroke", "engine.cylinders") is None:
        return
    worked_out = build.displacement
    if abs(worked_out / stated.value - 1) > _DISPLACEMENT_SLACK:
        litres = write(worked_out, "L", Dimension.VOLUME)
        add(
            "geometry",
            stated,
            f"bore, stroke and cylinders give {litres}, not {_text(build, 'engine.displacement')}",
            "Check bore, stroke and number of cylinders against the engine code.",
            f"within 3 % of {litres}",
        )


def _cams(build: Build, written: frozenset[str], add: _Add) -> None:
    """Cam timing as a whole; a line that has its own fault is written, not missing."""
    events = [f"engine.{side}_{what}" for side in ("intake", "exhaust") for what in ("opens", "closes")]
    shapes = [f"engine.{side}_{what}" for side in ("intake", "exhaust") for what in ("duration", "centre")]
    for group, words in ((events, "all four cam events"), (shapes, "both durations and both lobe centres")):
        there = [path for path in group if path in build.values]
        missing = [path.partition(".")[2] for path in group if path not in written]
        if there and missing:
            add(
                "incomplete",
                build.values[there[0]],
                f"{', '.join(missing)} missing: cam timing needs {words}",
                "State the missing ones, or none of them; then the class default stands in.",
                words,
            )
    both = [path for path in (*events, *shapes) if path in build.values]
    if any(path in both for path in events) and any(path in both for path in shapes):
        add(
            "two-ways",
            build.values[next(path for path in shapes if path in both)],
            "cam timing is stated twice, by events and by durations",
            "Keep one of the two.",
        )
    point = build.values.get("engine.cam_lift_point")
    if point is not None and point.value > 0 and written.isdisjoint((*events, *shapes)):
        add(
            "incomplete",
            point,
            "the lift point belongs to cam timing, and there is none",
            "State the cam timing, or take this line out; the class default is at zero lift.",
        )
    for side in ("intake", "exhaust"):
        pair = _stated(build, f"engine.{side}_opens", f"engine.{side}_closes")
        if pair is None:
            continue
        duration = pair[1].value - pair[0].value
        if not _DURATION[0] <= duration <= _DURATION[1]:
            add(
                "geometry",
                pair[1],
                f"the {side} valve would be open for {math.degrees(duration):.0f} degrees",
                "Check before and after: btdc, atdc, bbdc, abdc.",
                "150 to 340 degrees between opening and closing",
            )


def _rising(build: Build, path: str, add: _Add) -> None:
    row = build.values.get(path)
    if row is None or not isinstance(row.value, tuple):
        return
    values = row.value
    for before, after in pairwise(values):
        if after <= before:
            known = build.field(path)
            falling = all(b > a for b, a in pairwise(values))
            add(
                "reversed-table" if falling else "unsorted-table",
                row,
                f"{value_text(known, after)} follows {value_text(known, before)}"
                + ("; the whole table runs backwards" if falling else ""),
                "Write both rows from the lowest speed to the highest."
                if falling
                else "Sort both rows by speed.",
                "each speed above the one before",
            )
            return


def _baseline(build: Build, written: frozenset[str], add: _Add) -> None:
    _rising(build, "baseline.speed", add)
    pair = _stated(build, "baseline.speed", "baseline.torque")
    if pair is None:
        there = [build.values[p] for p in ("baseline.speed", "baseline.torque") if p in build.values]
        if there and not written.issuperset(("baseline.speed", "baseline.torque")):
            add(
                "incomplete",
                there[0],
                "a torque curve needs speed and torque",
                "Add the other row.",
                "both rows",
            )
        return
    speed, torque = pair
    if len(speed.value) != len(torque.value):
        add(
            "uneven-table",
            torque,
            f"{len(torque.value)} torques stand against {len(speed.value)} speeds",
            "Write one torque for each speed.",
            f"{len(speed.value)} values",
        )
    for name in _LOGGED:
        row = build.values.get(f"baseline.{name}")
        if row is not None and len(row.value) != len(speed.value):
            add(
                "uneven-table",
                row,
                f"{len(row.value)} values stand against {len(speed.value)} speeds",
                "Write one for each speed of the torque curve.",
                f"{len(speed.value)} values",
            )


_LOGGED = (
    "lambda", "manifold_pressure", "air_temperature", "spark", "injector_time", "air_flow",
    "exhaust_temperature",
)  # fmt: skip


_BY_CYLINDER: Final = ("engine.compression_pressure", "engine.leak_down")


def _per_cylinder(build: Build, add: _Add) -> None:
    cylinders = build.values.get("engine.cylinders")
    if cylinders is None:
        return
    for path in _BY_CYLINDER:
        row = build.values.get(path)
        if row is not None and len(row.value) != cylinders.value:
            add(
                "uneven-table",
                row,
                f"number of readings {len(row.value)}, number of cylinders {cylinders.value}",
                "Write one reading for each cylinder.",
                f"{cylinders.value} values",
            )
    for entry in build.table("readings"):
        read, named = entry.get("value"), entry.get("field")
        if read is None or named is None or str(named.value) not in _BY_CYLINDER:
            continue
        if isinstance(read.value, tuple) and len(read.value) != cylinders.value:
            add(
                "uneven-table",
                read,
                f"number of readings {len(read.value)}, number of cylinders {cylinders.value}",
                "Write one reading for each cylinder.",
                f"{cylinders.value} values",
            )


def _sides(build: Build, add: _Add) -> None:
    """A reading that says 'after' is not dated before the conversion, and the other way round."""
    converted = build.values.get("build.converted_on")
    for row in build.table("readings"):
        when, date = row.get("when"), row.get("date")
        if converted is None or when is None or date is None:
            continue
        if (date.value > converted.value) != (str(when.value) == "after"):
            add(
                "contradiction",
                date,
                f"dated {date.value}, said to be {when.value} the conversion on {converted.value}",
                "Correct the date, or leave out the word: the date tells the side by itself.",
            )


def _main_fuse(build: Build, add: _Add) -> None:
    pair = _stated(build, "battery.fused", "battery.fuse")
    if pair is not None and pair[0].value is False:
        add(
            "contradiction",
            pair[0],
            "there is no fuse, and its rating is stated",
            "Take out battery.fuse, or write fused = true.",
        )


_ORDER: Final = (  # (smaller, greater, why)
    ("fuel.motor_octane", "fuel.octane", "the motor octane number is the lower of the two"),
    ("fuel.poorest_octane", "fuel.octane", "the poorest fuel you will meet is not better than the usual one"),
    ("turbo.compressor_inducer", "turbo.compressor_exducer", "a compressor wheel is wider at its outlet"),
    ("turbo.turbine_exducer", "turbo.turbine_inducer", "a radial turbine wheel is wider at its inlet"),
    ("wastegate.spring", "wastegate.full_open", "the rod begins to move before it ends"),
    ("pressure_sensor.lowest", "pressure_sensor.highest", "the sensor's range runs upwards"),
    ("pressure_sensor.voltage_lowest", "pressure_sensor.voltage_highest", "the sensor's signal runs upwards"),
    ("engine.idle_speed", "engine.speed_limit", "the engine idles below its limit"),
    ("leak_test.to", "leak_test.from", "the pressure falls during the test"),
    ("oil.relief_fitted_length", "oil.relief_free_length", "a fitted spring is shorter than a free one"),
    ("budget.reserve", "budget.total", "the reserve is part of the whole"),
)
_APART: Final = frozenset({"pressure_sensor.voltage_lowest"})  # smaller ones that may not equal the greater


def _pairs(build: Build, add: _Add) -> None:
    for smaller, greater, why in _ORDER:
        pair = _stated(build, smaller, greater)
        if pair is None:
            continue
        apart = smaller in _APART
        if pair[0].value > pair[1].value or (apart and pair[0].value == pair[1].value):
            add(
                "order",
                pair[0],
                f"{why}",
                "Check both; they may have changed places.",
                f"{'below' if apart else 'at most'} {_text(build, greater)}",
            )


def _relief_spring(build: Build, add: _Add) -> None:
    """A relief spring that cannot be wound, or is shorter than its own coils."""
    pair = _stated(build, "oil.relief_wire", "oil.relief_outside")
    if pair is not None and pair[1].value < 3.0 * pair[0].value:
        add(
            "geometry",
            pair[1],
            f"a spring of {_text(build, 'oil.relief_wire')} wire cannot be wound so narrow",
            "Measure the outside of the coils and the wire again.",
            f"at least {write(3.0 * pair[0].value, 'mm', Dimension.LENGTH)} with this wire",
        )
    coil = _stated(build, "oil.relief_wire", "oil.relief_turns")
    if coil is None:
        return
    solid = coil[0].value * (coil[1].value + _CLOSED_ENDS)
    least = write(solid, "mm", Dimension.LENGTH)
    for path, words in (("oil.relief_free_length", "by itself"), ("oil.relief_fitted_length", "fitted")):
        length = build.values.get(path)
        if length is not None and length.value < solid:
            add(
                "geometry",
                length,
                f"the spring is shorter {words} than its own coils with every turn touching ({least})",
                "Measure it again, and count the active turns: all less the two closed ends.",
                f"more than {least} with this wire and these turns",
            )


def _weather(build: Build, add: _Add) -> None:
    """A barometer that no weather explains: most likely a figure corrected to sea level."""
    pair = _stated(build, "place.altitude", "place.barometer")
    if pair is None:
        return
    altitude, barometer = pair
    standard = standard_pressure(float(altitude.value))
    if abs(float(barometer.value) - standard) > _WEATHER:
        usual = write(standard, "kPa", Dimension.PRESSURE, digits=3)
        add(
            "unusual",
            barometer,
            f"at {_text(build, 'place.altitude')} the air weighs about {usual}",
            "Weather services correct their figure to sea level. Read it on the spot, with the manifold "
            "pressure sensor and the engine off.",
            "",
            Severity.NOTE,
        )
