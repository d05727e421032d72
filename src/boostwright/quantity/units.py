"""The table of units: what a person may write, by dimension, and its factor to SI.

A unit's SI value is ``value * factor + offset``. Factors that a standard fixes exactly are written out in
full (inch 25.4 mm, pound 0.453 592 37 kg, pound-force by standard gravity 9.806 65 m/s2, horsepower
550 ft lbf/s, metric horsepower 75 kgf m/s; NIST SP 811, appendix B). Columns of mercury and water are the
conventional ones of the same table.
"""

from __future__ import annotations

import math
import re
from enum import Enum
from typing import Final, NamedTuple

__all__ = [
    "DIMENSIONLESS",
    "Dimension",
    "PressureKind",
    "Unit",
    "candidates",
    "find_unit",
    "unit_names",
    "units_with_key",
]


class Dimension(Enum):
    """What a number measures. The value is the word that a message uses."""

    LENGTH = "length"
    AREA = "area"
    VOLUME = "volume"
    MASS = "mass"
    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature difference"
    ANGLE = "angle"
    CAM_EVENT = "cam event"
    SPARK = "spark angle"
    ROTATION = "speed of rotation"
    SPEED = "road speed"
    VOLUME_FLOW = "volume flow"
    MASS_FLOW = "mass flow"
    TORQUE = "torque"
    POWER = "power"
    ENERGY = "energy"
    HEATING_VALUE = "heating value"
    FORCE = "force"
    SPRING_RATE = "spring rate"
    TIME = "time"
    VOLTAGE = "voltage"
    CURRENT = "current"
    RESISTANCE = "resistance"
    DENSITY = "density"
    INERTIA = "moment of inertia"
    MIXTURE = "mixture"
    OCTANE = "octane number"
    SHARE = "share"
    RATIO = "ratio"
    COUNT = "count"
    MONEY = "money"


DIMENSIONLESS: Final = frozenset({Dimension.OCTANE, Dimension.SHARE, Dimension.RATIO, Dimension.COUNT})


class PressureKind(Enum):
    """Against what a pressure is counted."""

    ABSOLUTE = "absolute"
    GAUGE = "gauge"
    DIFFERENCE = "difference"


class Unit(NamedTuple):
    """One unit: printed name, dimension, SI factor and offset, and the kind of a pressure that says it."""

    name: str
    dimension: Dimension
    factor: float
    offset: float = 0.0
    kind: PressureKind | None = None


_INCH: Final = 0.0254
_POUND: Final = 0.45359237
_GRAVITY: Final = 9.80665
_POUND_FORCE: Final = _POUND * _GRAVITY
_FOOT: Final = 12 * _INCH
_GALLON_US: Final = 231 * _INCH**3
_GALLON_IMPERIAL: Final = 4.54609e-3
_PSI: Final = _POUND_FORCE / _INCH**2
_DEGREE: Final = math.pi / 180
_LITRE: Final = 1e-3

# name, factor, other spellings. Letters are matched as written first, then without regard to case; spaces,
# dots,
# hyphens and stars inside a unit do not count.
_Row = tuple[str, float, tuple[str, ...]]
_PLAIN: Final[dict[Dimension, tuple[_Row, ...]]] = {
    Dimension.LENGTH: (
        ("mm", 1e-3, ("millimetre", "millimetres", "millimeter", "millimeters")),
        ("cm", 1e-2, ("centimetre", "centimetres", "centimeter", "centimeters")),
        ("m", 1.0, ("metre", "metres", "meter", "meters")),
        ("km", 1e3, ("kilometre", "kilometres", "kilometer", "kilometers")),
        ("um", 1e-6, ("micron", "microns", "micrometre", "micrometres")),
        ("in", _INCH, ("inch", "inches", '"', "''")),
        ("thou", _INCH / 1000, ("mil", "mils")),
        ("ft", _FOOT, ("foot", "feet")),
        ("mi", 5280 * _FOOT, ("mile", "miles")),
    ),
    Dimension.AREA: (
        ("mm2", 1e-6, ("sq mm", "sqmm")),
        ("cm2", 1e-4, ("sq cm",)),
        ("m2", 1.0, ("sq m",)),
        ("in2", _INCH**2, ("sq in", "sqin")),
    ),
    Dimension.VOLUME: (
        ("cc", 1e-6, ("cm3", "ccm", "cubic cm", "ml", "millilitre", "millilitres")),
        ("L", _LITRE, ("litre", "litres", "liter", "liters", "dm3", "ltr")),
        ("m3", 1.0, ()),
        ("mm3", 1e-9, ()),
        ("in3", _INCH**3, ("ci", "cid", "cu in", "cubic inch", "cubic inches")),
        ("US gal", _GALLON_US, ("us gallon", "us gallons")),
        ("imp gal", _GALLON_IMPERIAL, ("imperial gallon", "imperial gallons", "uk gal")),
        ("US qt", _GALLON_US / 4, ("us quart", "us quarts")),
    ),
    Dimension.MASS: (
        ("kg", 1.0, ("kilogram", "kilograms", "kilo", "kilos")),
        ("g", 1e-3, ("gram", "grams", "gramme", "grammes")),
        ("mg", 1e-6, ("milligram", "milligrams")),
        ("t", 1e3, ("tonne", "tonnes")),
        ("lb", _POUND, ("lbs", "pound", "pounds")),
        ("oz", _POUND / 16, ("ounce", "ounces")),
    ),
    Dimension.ANGLE: (
        ("deg", _DEGREE, ("degree", "degrees", "deg crank", "degrees crank", "crank deg", "deg ca", "degca")),
        ("rad", 1.0, ("radian", "radians")),
    ),
    Dimension.SPARK: (  # positive before top dead centre
        ("deg", _DEGREE, ("degree", "degrees", "deg crank", "degrees crank", "crank deg", "deg ca", "degca")),
        ("rad", 1.0, ("radian", "radians")),
    ),
    Dimension.ROTATION: (
        ("rpm", 2 * math.pi / 60, ("1/min", "min-1", "u/min", "rev/min", "r/min", "revs", "revs/min")),
        ("rad/s", 1.0, ()),
        ("Hz", 2 * math.pi, ("rev/s", "1/s")),
    ),
    Dimension.SPEED: (
        ("km/h", 1 / 3.6, ("kmh", "kph", "km/hr")),
        ("mph", 5280 * _FOOT / 3600, ("mi/h", "miles/h", "miles per hour")),
        ("m/s", 1.0, ()),
    ),
    Dimension.VOLUME_FLOW: (
        ("cc/min", 1e-6 / 60, ("cm3/min", "ccm/min", "ml/min", "cc per min", "cc per minute", "ccmin")),
        ("L/h", _LITRE / 3600, ("l/hr", "lph", "litres/h", "liters/h", "litre/h", "l per hour")),
        ("L/min", _LITRE / 60, ("lpm", "litres/min", "liters/min", "l per min")),
        ("L/s", _LITRE, ("litres/s",)),
        ("m3/s", 1.0, ()),
        ("m3/h", 1 / 3600, ("m3/hr",)),
        ("cfm", _FOOT**3 / 60, ("ft3/min", "cu ft/min")),
        ("US gal/h", _GALLON_US / 3600, ("us gph", "us gal/hr")),
        ("imp gal/h", _GALLON_IMPERIAL / 3600, ("imp gph", "imp gal/hr")),
    ),
    Dimension.MASS_FLOW: (
        ("kg/s", 1.0, ()),
        ("kg/h", 1 / 3600, ("kg/hr",)),
        ("kg/min", 1 / 60, ()),
        ("g/s", 1e-3, ()),
        ("g/min", 1e-3 / 60, ()),
        ("lb/h", _POUND / 3600, ("lb/hr", "lbs/h", "lbs/hr", "pph")),
        ("lb/min", _POUND / 60, ("lbs/min",)),
    ),
    Dimension.TORQUE: (
        ("Nm", 1.0, ("newton metre", "newton metres", "newton meter")),
        ("lb-ft", _POUND_FORCE * _FOOT, ("lbf ft", "ft lb", "ft lbf", "ft lbs", "lbs ft", "pound feet")),
        ("lb-in", _POUND_FORCE * _INCH, ("lbf in", "in lb", "in lbf", "in lbs", "lbs in")),
        ("kgf m", _GRAVITY, ("mkg", "kgm", "mkp", "kpm")),
    ),
    Dimension.POWER: (
        ("kW", 1e3, ("kilowatt", "kilowatts")),
        ("W", 1.0, ("watt", "watts")),
        ("hp", 550 * _FOOT * _POUND_FORCE, ("bhp", "horsepower")),
        ("PS", 75 * _GRAVITY, ("cv", "pk", "ch", "metric hp", "metric horsepower")),
    ),
    Dimension.ENERGY: (
        ("J", 1.0, ("joule", "joules")),
        ("mJ", 1e-3, ("millijoule", "millijoules")),
        ("kJ", 1e3, ()),
    ),
    Dimension.HEATING_VALUE: (("MJ/kg", 1e6, ()), ("kJ/kg", 1e3, ()), ("J/kg", 1.0, ())),
    Dimension.FORCE: (
        ("N", 1.0, ("newton", "newtons")),
        ("kN", 1e3, ()),
        ("kgf", _GRAVITY, ("kp",)),
        ("lbf", _POUND_FORCE, ()),
    ),
    Dimension.SPRING_RATE: (
        ("N/mm", 1e3, ()),
        ("N/m", 1.0, ()),
        ("kgf/mm", _GRAVITY * 1e3, ("kp/mm",)),
        ("lbf/in", _POUND_FORCE / _INCH, ("lb/in", "lbs/in")),
    ),
    Dimension.TIME: (
        ("s", 1.0, ("sec", "secs", "second", "seconds")),
        ("ms", 1e-3, ("millisecond", "milliseconds")),
        ("us", 1e-6, ("microsecond", "microseconds")),
        ("min", 60.0, ("mins", "minute", "minutes")),
        ("h", 3600.0, ("hr", "hrs", "hour", "hours")),
        ("days", 86400.0, ("d", "day")),
    ),
    Dimension.VOLTAGE: (
        ("V", 1.0, ("volt", "volts")),
        ("mV", 1e-3, ("millivolt",)),
        ("kV", 1e3, ("kilovolt",)),
    ),
    Dimension.CURRENT: (("A", 1.0, ("amp", "amps", "ampere", "amperes")), ("mA", 1e-3, ())),
    Dimension.RESISTANCE: (
        ("ohm", 1.0, ("ohms",)),
        ("mohm", 1e-3, ("milliohm", "milliohms")),
        ("kohm", 1e3, ("kiloohm", "kilohm")),
    ),
    Dimension.DENSITY: (("kg/m3", 1.0, ()), ("kg/L", 1e3, ("g/cc", "g/cm3", "g/ml")), ("g/L", 1.0, ())),
    Dimension.INERTIA: (
        ("kg m2", 1.0, ("kgm2",)),
        ("kg mm2", 1e-6, ("kgmm2",)),
        ("kg cm2", 1e-4, ("kgcm2",)),
    ),
    Dimension.MIXTURE: (
        ("lambda", 1.0, ("lam",)),
        # stoichiometric air-fuel ratios by which gauges are scaled (common practice, no source); see tests
        # for the
        # distance to the atom balance of each fuel
        ("AFR petrol", 1 / 14.7, ("afr gasoline", "afr e0", ":1 petrol", "afr (petrol)")),
        ("AFR E5", 1 / 14.35, ()),
        ("AFR E10", 1 / 14.05, ("afr e 10",)),
        ("AFR E85", 1 / 9.8, ("afr e 85",)),
        ("AFR ethanol", 1 / 9.0, ("afr e100", "afr alcohol")),
    ),
    Dimension.OCTANE: (("RON", 1.0, ("octane",)), ("MON", 1.0, ())),
    Dimension.SHARE: (("%", 1e-2, ("percent", "per cent", "pct", "vol%", "% vol", "%vol", "% by volume")),),
    Dimension.RATIO: ((":1", 1.0, (": 1", "to 1", "x")), ("%", 1e-2, ("percent", "per cent", "pct"))),
    Dimension.COUNT: (),
}

_PRESSURE_BASE: Final[tuple[_Row, ...]] = (
    ("bar", 1e5, ()),
    ("mbar", 1e2, ("millibar",)),
    ("kPa", 1e3, ("kilopascal",)),
    ("hPa", 1e2, ("hectopascal",)),
    ("Pa", 1.0, ("pascal",)),
    ("MPa", 1e6, ()),
    ("mPa", 1e-3, ()),
    ("psi", _PSI, ("lb/in2", "lbs/in2", "lbf/in2", "pound/in2")),
    ("atm", 101325.0, ()),
    ("kgf/cm2", _GRAVITY * 1e4, ("kg/cm2", "kp/cm2")),
    ("inHg", 3386.389, ("in hg", "inches hg", "inch hg")),
    ("mmHg", 133.322387415, ("torr",)),
    ("inH2O", 249.08891, ("in h2o", "inch water", "inches water")),
    ("mmH2O", 9.80665, ("mm water", "mmws")),
)
_NEVER_OFFERED: Final = "mPa"  # only known so that a pressure in 'mpa' is asked about, not taken for MPa
_KIND_SUFFIXES: Final = {
    PressureKind.GAUGE: ("g", "(g)", "gauge", "(gauge)", "gage", "rel", "relative", "over", "boost"),
    PressureKind.ABSOLUTE: ("a", "(a)", "abs", "(abs)", "absolute", "(absolute)"),
}
_KIND_PRINTED: Final = {PressureKind.GAUGE: "gauge", PressureKind.ABSOLUTE: "absolute"}

_FROM_DEAD_CENTRE: Final = (  # a cam event counts onwards, a spark backwards from the dead centre
    (Dimension.CAM_EVENT, "btdc", -1.0),
    (Dimension.CAM_EVENT, "atdc", 1.0),
    (Dimension.CAM_EVENT, "bbdc", -1.0),
    (Dimension.CAM_EVENT, "abdc", 1.0),
    (Dimension.SPARK, "btdc", 1.0),
    (Dimension.SPARK, "atdc", -1.0),
)

_MONEY: Final = (
    "EUR",
    "USD",
    "GBP",
    "CHF",
    "SEK",
    "NOK",
    "DKK",
    "PLN",
    "CZK",
    "HUF",
    "JPY",
    "AUD",
    "NZD",
    "CAD",
    "BRL",
    "MXN",
    "COP",
    "ARS",
    "CLP",
    "ZAR",
    "INR",
    "TRY",
    "UAH",
)

_MONEY_SIGNS: Final = {"EUR": ("€", "euro", "euros"), "GBP": ("£",), "USD": ("$",)}

_SEPARATORS = re.compile(r"[\s.*\-·^]+")
_REPLACEMENTS = str.maketrans(
    {
        "°": "deg",
        "º": "deg",
        "²": "2",
        "³": "3",
        "\u00b5": "u",  # micro sign
        "\u03bc": "u",  # small mu
        "\u03a9": "ohm",  # capital omega
        "\u2126": "ohm",  # ohm sign
        "λ": "lambda",
        "℃": "degC",
        "℉": "degF",
        "″": '"',
        "”": '"',
    }
)


def _key(text: str) -> str:
    return _SEPARATORS.sub("", text.translate(_REPLACEMENTS))


_Table = dict[Dimension, dict[str, tuple[Unit, ...]]]


def _build() -> tuple[_Table, _Table, dict[Dimension, tuple[str, ...]]]:
    exact: dict[Dimension, dict[str, list[Unit]]] = {dimension: {} for dimension in Dimension}
    names: dict[Dimension, list[str]] = {dimension: [] for dimension in Dimension}

    def add(unit: Unit, spellings: tuple[str, ...], listed: bool = True) -> None:
        if listed:
            names[unit.dimension].append(unit.name)
        for spelling in (unit.name, *spellings):
            slot = exact[unit.dimension].setdefault(_key(spelling), [])
            if unit not in slot:
                slot.append(unit)

    for dimension, rows in _PLAIN.items():
        for name, factor, others in rows:
            add(Unit(name, dimension, factor), others)
    for name, offset, factor, others in (
        ("degC", 273.15, 1.0, ("C", "celsius", "deg celsius", "centigrade")),
        ("degF", 459.67 * 5 / 9, 5 / 9, ("F", "fahrenheit", "deg fahrenheit")),
        ("K", 0.0, 1.0, ("kelvin", "deg K")),
    ):
        add(Unit(name, Dimension.TEMPERATURE, factor, offset), others)
        add(Unit(name, Dimension.TEMPERATURE_DIFFERENCE, factor), others)
    for dimension, point, sign in _FROM_DEAD_CENTRE:
        spelled = {"b": "before ", "a": "after "}[point[0]] + point[1:]
        add(
            Unit(f"deg {point}", dimension, sign * _DEGREE),
            (point, f"deg {spelled}", f"degrees {spelled}", f"degrees {point}", spelled),
        )
    for name, factor, others in _PRESSURE_BASE:
        add(Unit(name, Dimension.PRESSURE, factor), others, listed=name != _NEVER_OFFERED)
        for kind, suffixes in _KIND_SUFFIXES.items():
            spellings = tuple(f"{base}{suffix}" for base in (name, *others) for suffix in suffixes)
            add(
                Unit(f"{name} {_KIND_PRINTED[kind]}", Dimension.PRESSURE, factor, 0.0, kind),
                spellings,
                listed=False,
            )
    for name in _MONEY:
        add(Unit(name, Dimension.MONEY, 1.0), _MONEY_SIGNS.get(name, ()))

    written: _Table = {d: {key: tuple(units) for key, units in table.items()} for d, table in exact.items()}
    folded: _Table = {}
    for dimension, table in exact.items():
        by_case: dict[str, list[Unit]] = {}
        for key, units in table.items():
            slot = by_case.setdefault(key.casefold(), [])
            slot.extend(unit for unit in units if unit not in slot)
        folded[dimension] = {key: tuple(units) for key, units in by_case.items()}
    return written, folded, {dimension: tuple(listed) for dimension, listed in names.items()}


_WRITTEN, _FOLDED, _NAMES = _build()


def unit_names(dimension: Dimension) -> tuple[str, ...]:
    """The unit names of one dimension as we print them, commonest first."""
    return _NAMES[dimension]


def units_with_key(text: str, dimension: Dimension) -> tuple[Unit, ...]:
    """The units of one dimension that the text can mean: as written first, else without regard to case.

    Returns an empty tuple for no match and several units when only the case tells them apart.
    """
    key = _key(text)
    return _WRITTEN[dimension].get(key) or _FOLDED[dimension].get(key.casefold(), ())


def candidates(text: str) -> tuple[Unit, ...]:
    """The units of every dimension that the text can mean, to say what was written instead."""
    return tuple(unit for dimension in Dimension for unit in units_with_key(text, dimension))


def find_unit(name: str, dimension: Dimension) -> Unit:
    """The one unit of that name in that dimension.

    Raises KeyError when there is none or several; for names in our own data, not for what a person wrote.
    """
    found = units_with_key(name, dimension)
    if len(found) != 1:
        raise KeyError(f"{name!r} is not one unit of {dimension.value}")
    return found[0]
