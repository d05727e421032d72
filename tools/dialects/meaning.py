"""What a column means: units, gauge and absolute, signs, scales, and names that mislead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tools.dialects.clocks import few, plain_file
from tools.dialects.odd import stamps
from tools.dialects.pairs import Column, column, decimals, grid, other
from tools.dialects.plain import swing
from tools.dialects.truth import HIGH, STRONG, Array, at

PLACE = 97_423.0  # air pressure of the simulated drive [Pa]


def level(t: Array, value: float, places: int, wander: float = 0.0) -> list[str]:
    """Cells of something that hardly moves."""
    moved = value + wander * np.sin(t / 11.0 + value)
    return [decimals(places)(float(x)) for x in moved]


def _american() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    kw = {"begin": begin}
    cols = [
        column("Engine RPM", "engine_speed", t, "rpm", 0, **kw),
        column(
            "Manifold Pressure (psig)", "manifold_pressure", t, "psi", 2, less="barometer", extra=190.0, **kw
        ),
        column("Barometric Pressure (inHg)", "barometer", t, "inHg", 2, **kw),
        column("AFR (gasoline)", "lambda", t, "AFR petrol", 2, **kw),
        column("Coolant Temp (°F)", "coolant_temperature", t, "degF", 0, **kw),
        column("Intake Air Temp (°F)", "intake_temperature", t, "degF", 0, **kw),
        column("Vehicle Speed (mph)", "road_speed", t, "mph", 1, **kw),
        column("Mass Air Flow (lb/min)", "air_flow", t, "lb/min", 2, **kw),
        column("Oil Pressure (psi)", "oil_pressure", t, "psi", 0, **kw),
        column("Throttle Position (%)", "throttle", t, "%", 1, **kw),
        column("Altitude (ft)", "altitude", t, "ft", 0, **kw),
    ]
    plain_file(
        "units_american.csv",
        "psi gauge with a barometer in inHg, degrees Fahrenheit, miles an hour, petrol air-fuel ratio",
        [stamps(t, "Time (sec)")],
        cols,
        span=float(t[-1]),
    )


def _boost(heading: str, unit: str, places: int, t: Array, begin: float, lot: str = "read") -> Column:
    return column(
        heading, "manifold_pressure", t, unit, places, begin=begin, less="place", extra=5.0, lot=lot
    )


def _place_given() -> None:
    t, begin = grid(45.0, 10.0), HIGH + 240.0
    cols = few(t, begin)
    cols[1] = _boost("Boost (psi)", "psi", 2, t, begin)
    plain_file(
        "gauge_place_given.csv",
        "boost with vacuum below zero, no barometer; the person says the air pressure of the place",
        [stamps(t)],
        cols,
        span=float(t[-1]),
        place_pressure=round(float(at("place", begin + t)[0]), 1),
    )


def _place_unknown() -> None:
    t, begin = grid(45.0, 10.0), HIGH + 240.0
    cols = few(t, begin)
    cols[1] = _boost("Boost (bar)", "bar", 3, t, begin, lot="asks")
    plain_file(
        "gauge_place_unknown.csv",
        "boost with vacuum below zero, and nobody says the pressure of the air: asks, or reads with a note",
        [stamps(t)],
        cols,
        span=float(t[-1]),
        outcome="asks",
        may_read={"Boost (bar)": "manifold_pressure"},
        note_is_enough={"Boost (bar)": "gauge|barometer|air outside|place"},
    )


def _gauge_metric() -> None:
    t, begin = grid(45.0, 10.0), HIGH + 240.0
    kw = {"begin": begin}
    cols = [
        column("engine speed (1/min)", "engine_speed", t, "rpm", 0, **kw),
        column(
            "manifold pressure (mbar gauge)",
            "manifold_pressure",
            t,
            "mbar",
            0,
            less="barometer",
            extra=160.0,
            **kw,
        ),
        column(
            "before throttle (bar gauge)", "charge_pressure", t, "bar", 3, less="barometer", extra=160.0, **kw
        ),
        column("exhaust manifold pressure (kPa abs)", "back_pressure", t, "kPa", 1, **kw),
        column("crankcase pressure (mbar gauge)", "crankcase_pressure", t, "mbar", 2, **kw),
        column("air pressure outside (mmHg)", "barometer", t, "mmHg", 1, every=20, **kw),
        column("turbo shaft speed (rpm)", "turbo_speed", t, "rpm", 0, **kw),
        replace(
            column("fuel rail (kPa abs)", "fuel_pressure", t, "kPa", 0, extra=160.0, **kw),
            cells=tuple(
                f"{x / 1e3:.0f}" for x in at("fuel_pressure", begin + t) + at("barometer", begin + t)
            ),
        ),
        column("outside air (degC)", "outside_temperature", t, "degC", 1, **kw),
        column("fuel pressure across injector (kPa)", "fuel_pressure_difference", t, "kPa", 0, **kw),
    ]
    plain_file(
        "gauge_with_barometer.csv",
        "gauge pressures in mbar and bar, absolute ones in kPa, a barometer in mmHg now and then",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _absolute_odd() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    kw = {"begin": begin}
    cols = [
        column("RPM", "engine_speed", t, "rpm", 0, **kw),
        column("MAP inHg", "manifold_pressure", t, "inHg", 1, **kw),
        column("Charge pipe psia", "charge_pressure", t, "psi", 1, **kw),
        column("TPS %", "throttle", t, "%", 1, **kw),
        column("CLT °C", "coolant_temperature", t, "degC", 1, **kw),
        column("Spark °BTDC", "spark_advance", t, "deg", 1, **kw),
        column("PW ms", "injector_pulse", t, "ms", 2, **kw),
        column("Batt V", "battery_voltage", t, "V", 1, **kw),
        column("EGT °C", "exhaust_temperature", t, "degC", 0, **kw),
    ]
    plain_file(
        "units_after_a_blank.csv",
        "short names with the unit after a blank; the manifold in inches of mercury, absolute",
        [stamps(t, "Time s")],
        cols,
        span=float(t[-1]),
    )


def _spark(name: str, heading: str, why: str, unit: str, lot: str = "read") -> None:
    t, begin = grid(45.0, 10.0), STRONG + 278.0
    cols = [
        *few(t, begin, wide=False),
        column(heading, "spark_advance", t, unit, 2, begin=begin, lot=lot),
        column("throttle (%)", "throttle", t, "%", 1, begin=begin),
    ]
    plain_file(name, why, [stamps(t)], cols, span=float(t[-1]))


def _sparks() -> None:
    _spark(
        "spark_after_tdc.csv",
        "ignition angle (deg ATDC)",
        "spark counted after top dead centre: negative",
        "deg after",
    )
    _spark(
        "spark_negative_before.csv",
        "ignition timing (deg, before TDC negative)",
        "the heading says that spark before top dead centre is written as negative",
        "deg after",
    )
    _spark(
        "spark_sign_unsaid.csv",
        "ignition (deg)",
        "negative all along, so before top dead centre; nobody says it, so asking is right as well",
        "deg after",
        "may ask",
    )


def _shares() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    kw = {"begin": begin}
    cols = [
        *few(t, begin, wide=False),
        column("throttle (0-1)", "throttle", t, "share", 4, **kw),
        column("pedal (fraction)", "pedal", t, "share", 4, **kw),
        column("injector duty (0..1)", "injector_duty", t, "share", 4, **kw),
        column("wastegate duty (%)", "gate_duty", t, "%", 1, **kw),
        column("short term fuel trim (%)", "fuel_trim", t, "%", 2, **kw),
        column("long term fuel trim (%)", "fuel_trim_long", t, "%", 2, **kw),
    ]
    plain_file(
        "shares_and_percent.csv",
        "shares from 0 to 1 beside percent, corrections of either sign in percent",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _trim_factor() -> None:
    t, begin = grid(45.0, 10.0), HIGH + 240.0
    trim = column(
        "short term fuel correction (factor, 1 = none)",
        "fuel_trim",
        t,
        "share",
        4,
        begin=begin,
        lot="may ask",
    )
    trim = replace(trim, cells=tuple(f"{1.0 + x:.4f}" for x in at("fuel_trim", begin + t)))
    cols = [
        *few(t, begin),
        trim,
        column("battery", "battery_voltage", t, "V", 2, begin=begin),
        column("lambda target", "lambda_target", t, "lambda", 3, begin=begin),
    ]
    plain_file(
        "trim_as_factor.csv",
        "the fuel correction is a factor, 1 for none: inside it is 0 for none; it only looks like lambda",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _knock() -> None:
    t, begin = grid(45.0, 10.0), STRONG + 278.0
    kw = {"begin": begin}
    cols = [
        column("engine speed (rpm)", "engine_speed", t, "rpm", 0, **kw),
        column("manifold pressure (kPa abs)", "manifold_pressure", t, "kPa", 1, **kw),
        *(
            column(f"knock retard cyl {i} (deg)", "knock_retard", t, "deg", 2, cylinder=i, **kw)
            for i in range(1, 5)
        ),
        *(
            column(f"knock level cyl {i} (%)", "knock_level", t, "%", 1, cylinder=i, **kw)
            for i in range(1, 5)
        ),
        column("knock count", "knock_count", t, "1", 0, **kw),
        other("knock sensor (V)", level(t, 1.4, 3, 0.3), lot="not guessed"),
        other("knock window open", ["true" if x % 2 else "false" for x in range(len(t))]),
    ]
    plain_file(
        "knock_by_cylinder.csv",
        "retard and loudness of knock for each cylinder, a count, and a raw sensor voltage that is no share",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _targets() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    kw = {"begin": begin}
    cols = [
        column("Engine speed [rpm]", "engine_speed", t, "rpm", 0, **kw),
        column("Boost actual [kPa abs]", "manifold_pressure", t, "kPa", 1, lot="may ask", **kw),
        column("Boost target [kPa abs]", "boost_target", t, "kPa", 1, **kw),
        column("Lambda measured [-]", "lambda", t, "lambda", 3, **kw),
        column("Lambda target [-]", "lambda_target", t, "lambda", 2, **kw),
        column("Spark final [deg BTDC]", "spark_advance", t, "deg", 2, **kw),
        column("Spark from table [deg BTDC]", "spark_table", t, "deg", 2, **kw),
        column("Throttle actual [%]", "throttle", t, "%", 1, **kw),
        other("Throttle target [%]", level(t, 30.0, 1, 28.0), lot="not guessed"),
        column("Pedal position [%]", "pedal", t, "%", 1, **kw),
    ]
    plain_file(
        "targets_and_actual.csv",
        "what the controller asks for beside what it gets; a throttle target is not the throttle",
        [stamps(t, "Time [s]")],
        cols,
        span=float(t[-1]),
    )


def _false_friends() -> None:
    t, begin = grid(40.0, 10.0), 145.0
    overrun = at("throttle", begin + t) < 0.01
    gears = {0: "0.000", 1: "3.550", 2: "2.050", 3: "1.360", 4: "1.030", 5: "0.820"}
    cols = [
        column("Engine speed (rpm)", "engine_speed", t, "rpm", 0, begin=begin),
        other("Rev limit (rpm)", level(t, 6500, 0)),
        other("Idle target (rpm)", level(t, 850, 0)),
        other("Fan speed (rpm)", level(t, 1900, 0, 400)),
        column("Manifold pressure (kPa abs)", "manifold_pressure", t, "kPa", 1, begin=begin),
        other("Map switch", ["2"] * len(t)),
        other("Boost cut (kPa abs)", level(t, 190, 0)),
        other("Brake pressure (bar)", [f"{12.0 * x:.1f}" for x in overrun]),
        other("Tyre pressure (bar)", level(t, 2.2, 2, 0.02)),
        other("Lambda heater duty (%)", level(t, 42, 0, 5)),
        other("Fan duty (%)", level(t, 40, 0, 30)),
        other("Fuel level (%)", level(t, 63, 0, 1)),
        other("Cabin temperature (degC)", level(t, 21, 1, 0.6)),
        other("Spark dwell (ms)", level(t, 2.9, 2, 0.3)),
        other("Injector dead time (ms)", level(t, 0.92, 2, 0.02)),
        other("Gear ratio", [gears[round(float(x))] for x in at("gear", begin + t)]),
        other("Speed limit (km/h)", level(t, 130, 0)),
        column("Road speed (km/h)", "road_speed", t, "km/h", 1, begin=begin),
    ]
    plain_file(
        "false_friends.csv",
        "names that hold a known word and mean something else: limits, a switch, fans, tyres, dead time",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _volts() -> None:
    t, begin = grid(45.0, 10.0), HIGH + 240.0
    known = {k: at(k, begin + t) for k in ("manifold_pressure", "coolant_temperature", "lambda")}
    warm = 5.0 / (1.0 + np.exp((known["coolant_temperature"] - 310.0) / 22.0))
    narrow = 0.45 - 0.38 * np.tanh((known["lambda"] - 1.0) / 0.02)
    cells: Sequence[tuple[str, Array]] = (
        ("MAP sensor (V)", 0.3 + 4.4 * (known["manifold_pressure"] - 10e3) / 240e3),
        ("Coolant sensor (V)", warm),
        ("Oxygen sensor (V)", narrow),
        ("Wideband output (V)", 5.0 * (known["lambda"] - 0.68) / 0.68),
    )
    cols = [
        *few(t, begin, wide=False)[:2],
        *(other(name, [f"{x:.3f}" for x in value], lot="not guessed") for name, value in cells),
        column("Throttle (%)", "throttle", t, "%", 1, begin=begin),
        column("Battery (V)", "battery_voltage", t, "V", 2, begin=begin),
    ]
    plain_file(
        "sensor_volts.csv",
        "raw voltages of sensors: without a transfer they are no pressure, temperature or lambda",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _air_fuel() -> None:
    t, begin = grid(95.0, 5.0), 145.0
    cols = few(t, begin)
    cols[2] = column("AFR", "lambda", t, "AFR petrol", 2, begin=begin, lot="may ask")
    plain_file(
        "afr_bare.csv",
        "an air-fuel ratio that does not say of which fuel: read as petrol's, or asked",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )
    cols = few(t, begin)
    cols.append(column("AFR", "lambda", t, "AFR petrol", 2, begin=begin, lot="may ask"))
    plain_file(
        "afr_beside_lambda.csv",
        "lambda and an air-fuel ratio of the same sensor: their ratio, 14.7, says the fuel",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )
    cols = few(t, begin)
    cols[2] = column("AFR (E85)", "lambda", t, "AFR E85", 2, begin=begin)
    plain_file(
        "afr_e85.csv",
        "an air-fuel ratio on the scale of E85, 9.8 at lambda 1 (common practice, no source)",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _asks() -> None:
    t, begin = grid(45.0, 10.0), 145.0
    cols = few(t, begin)
    cols[4] = column("Speed", "road_speed", t, "mph", 1, begin=begin, lot="asks")
    plain_file(
        "speed_without_unit.csv",
        "a road speed that says no unit: miles and kilometres an hour both fit",
        [stamps(t)],
        cols,
        span=float(t[-1]),
        outcome="asks",
    )
    rail = column("fuel pressure (kPa)", "fuel_pressure", t, "kPa", 0, begin=begin, lot="asks")
    rail = replace(rail, cells=tuple(f"{x / 1e3:.0f}" for x in at("fuel_pressure", begin + t) + PLACE))
    cols = [*few(t, begin), rail]
    plain_file(
        "fuel_pressure_kind_unsaid.csv",
        "a rail pressure between 310 and 440 kPa, absolute in truth: nobody says whether gauge or absolute",
        [stamps(t)],
        cols,
        span=float(t[-1]),
        outcome="asks",
        may_read={"fuel pressure (kPa)": "fuel_pressure"},
        note_is_enough={"fuel pressure (kPa)": "gauge|absolute"},
    )
    cols = few(t, begin)
    cols[1] = replace(cols[1], heading="manifold pressure (psi)", lot="asks")
    hot = column("coolant (degC)", "coolant_temperature", t, "degF", 0, begin=STRONG + 278.0, lot="asks")
    cols.append(hot)
    plain_file(
        "unit_contradicted.csv",
        "the headings say psi and Celsius, the values are kPa and Fahrenheit: no car has 130 psi or 190 degC",
        [stamps(t)],
        cols,
        span=float(t[-1]),
        outcome="asks",
    )
    cols = [
        *few(t, begin),
        other("Temp 1", level(t, 41, 1, 9), lot="not guessed"),
        other("Temp 2", level(t, 66, 1, 6), lot="not guessed"),
        other("Pressure", level(t, 3.1, 2, 0.4), lot="not guessed"),
        other("Analog 4", swing(t, 2.4, 3), lot="not guessed"),
        other("Duty", level(t, 35, 1, 20), lot="not guessed"),
    ]
    plain_file(
        "names_that_say_nothing.csv",
        "Temp 1, Pressure, Duty and Analog 4 may be anything: asked or left, never mapped",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


def _thousand_rpm() -> None:
    t, begin = grid(45.0, 10.0), HIGH + 240.0
    cols = few(t, begin)
    cols[0] = column("engine speed (x1000 rpm)", "engine_speed", t, "1000 rpm", 3, begin=begin, lot="may ask")
    cols.append(column("acceleration (g)", "acceleration", t, "g", 2, begin=begin))
    plain_file(
        "thousands_of_rpm.csv",
        "engine speed in thousands, as a dial shows it: read so or asked, never as 2 rpm",
        [stamps(t)],
        cols,
        span=float(t[-1]),
    )


ALL = (
    _american,
    _place_given,
    _place_unknown,
    _gauge_metric,
    _absolute_odd,
    _sparks,
    _shares,
    _trim_factor,
    _knock,
    _targets,
    _false_friends,
    _volts,
    _air_fuel,
    _asks,
    _thousand_rpm,
)
