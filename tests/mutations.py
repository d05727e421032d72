"""Single faults: where each is planted, how large it may be, and which findings must see it.

A kind names a field, how a harmful value is drawn for it, the findings of which one must raise its voice,
and the beginnings of those that may break along with it because the fault is theirs too. Which finding
belongs to which fault is decided here, before anything is computed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from boostwright.build.document import Build

__all__ = ["KINDS", "Kind", "Mutation", "plant", "planted_text"]

Rng = np.random.Generator
Draw = Callable[[Build, Rng], str | None]  # what to write instead; None takes the line out

ENGINE_AND_TURBO = (
    "turbo.",
    "boost.",
    "knock.",
    "exhaust.",
    "strength.",
    "charge.",
    "goal.",
    "failure.",
    "fuel.octane",
    "ignition.",  # a denser charge and a later spark ask for more voltage, more power for colder plugs
    "driveline.",  # torque and speed follow from boost
    "brakes.discs",
    "cooling.",
    "neighbours.heat",
    "joint.",  # hoses rated and tested for less boost
)
FUEL = ("fuel.", "failure.voltage", "failure.pump", "joint.")
OIL = ("oil.", "crankcase.", "joint.rating")  # starved, the turbo sends its oil home hotter
CUTS = ("boost.cut", "boost.cut_", "sensor.", "controller.", "failure.")


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of fault."""

    field: str  # section.name
    draw: Draw
    found_by: tuple[str, ...]  # one of these must warn
    related: tuple[str, ...] = ()  # beginnings of codes that may break too
    computed: bool = False  # whether cycle and match must run again
    name: str = ""
    harms: Callable[[Build], bool] = lambda _: True  # whether it is a fault in that build at all

    @property
    def label(self) -> str:
        """What the fault is, for a message."""
        return self.name or self.field


@dataclass(frozen=True, slots=True)
class Mutation:
    """One fault planted in one build."""

    build: str
    kind: Kind
    value: str | None
    text: str  # the whole file


def _between(low: float, high: float, unit: str, digits: int = 3) -> Draw:
    return lambda _, rng: f'"{_figure(rng.uniform(low, high), digits)} {unit}"'


def _figure(value: float, digits: int = 3) -> str:
    return f"{float(f'{value:.{digits}g}'):.10g}"


def _fixed(text: str | None) -> Draw:
    return lambda _build, _rng: text


def _scaled(field: str, low: float, high: float, unit: str, si: float, digits: int = 3) -> Draw:
    """The value of a field times a factor, in a unit that is `si` times the SI one."""

    def draw(build: Build, rng: Rng) -> str:
        return f'"{_figure(build.number(field) / si * rng.uniform(low, high), digits)} {unit}"'

    return draw


def _thirst(low: float, high: float) -> Draw:
    """A pump that gives so much of what the wanted power drinks: 0.44 L/h a kilowatt (330 g/kWh, rich)."""

    def draw(build: Build, rng: Rng) -> str:
        return f'"{_figure(0.44e-3 * build.number("goal.power") * rng.uniform(low, high))} L/h"'

    return draw


def _one_cylinder(field: str, low: float, high: float, unit: str, si: float) -> Draw:
    """A row of readings with one cylinder off by a factor."""

    def draw(build: Build, rng: Rng) -> str:
        values = [v / si for v in build.numbers(field)]
        values[int(rng.integers(len(values)))] *= rng.uniform(low, high)
        return f'"{" ".join(_figure(v) for v in values)} {unit}"'

    return draw


def _wheels(low: float, high: float) -> Draw:
    """Inducer and exducer of the compressor, both times one factor."""

    def draw(build: Build, rng: Rng) -> str:
        factor = rng.uniform(low, high)
        inducer = 1e3 * factor * build.number("turbo.compressor_inducer")
        exducer = 1e3 * factor * build.number("turbo.compressor_exducer")
        return f'"{_figure(inducer, 4)} mm"\ncompressor_exducer = "{_figure(exducer, 4)} mm"'

    return draw


def _turbine(low: float, high: float) -> Draw:
    """Both diameters of the turbine wheel times one factor, and a housing to match."""

    def draw(build: Build, rng: Rng) -> str:
        factor = rng.uniform(low, high)
        inducer, exducer = (
            1e3 * factor * build.number(f"turbo.turbine_{end}") for end in ("inducer", "exducer")
        )
        housing = min(1.45, 1.6 * build.number("turbo.turbine_housing") / 0.0254)
        return (
            f'"{_figure(inducer, 4)} mm"\nturbine_exducer = "{_figure(exducer, 4)} mm"'
            f'\nturbine_housing = "{_figure(housing)} in"'
        )

    return draw


def _over_boost(low: float, high: float, field_unit: str) -> Draw:
    """An absolute pressure [kPa] that lies so far between the outside air and the boost asked for."""

    def draw(build: Build, rng: Rng) -> str:
        pressure = build.barometer + build.number("goal.boost") * rng.uniform(low, high)
        return f'"{_figure(pressure / 1e3)} {field_unit}"'

    return draw


def _stiffer(low: float, high: float) -> Draw:
    """A spring that opens so much above the boost asked for [bar]."""

    def draw(build: Build, rng: Rng) -> str:
        return f'"{_figure(build.number("goal.boost") / 1e5 + rng.uniform(low, high))} bar"'

    return draw


def _pulses_are_strong(build: Build) -> bool:
    """Whether the boost is high enough that a spring of 30 N is too soft for the pulses of it."""
    return build.number("goal.boost") > 0.39e5


def _one_of(*texts: str) -> Draw:
    """One of some words."""
    return lambda _, rng: f'"{texts[int(rng.integers(len(texts)))]}"'


def _needs_cooler(build: Build) -> bool:
    """Whether the boost is more than is driven without a cooler: 0.35 bar (common practice, no source)."""
    return build.number("goal.boost") > 0.36e5


def _states(field: str) -> Callable[[Build], bool]:
    """Whether a build states a field without which the fault is none."""
    return lambda build: build.is_stated(field)


def _runs_warm(build: Build) -> bool:
    """Whether the coolant stands at 92 degC or more, so that it boils at its hottest walls without a cap."""
    return build.number("engine.coolant_temperature") >= 365.0


def _has_can(build: Build) -> bool:
    """Whether the breather ends in a can."""
    return build.is_stated("breather.outlet") and build.words("breather.outlet") == "can"


KINDS: tuple[Kind, ...] = (
    # fuel
    Kind(
        "injectors.flow",
        _scaled("injectors.flow", 0.35, 0.55, "cc/min", 1e-6 / 60),
        ("fuel.injector_duty",),
        FUEL,
    ),
    Kind(
        "injectors.dead_time", _between(2.4, 3.0, "ms"), ("fuel.injector_duty", "fuel.smallest_pulse"), FUEL
    ),
    Kind("pump.flow", _thirst(0.45, 0.8), ("fuel.pump_flow",), FUEL),
    Kind("pump.voltage", _between(7.5, 9.0, "V"), ("fuel.pump_flow",), FUEL),
    Kind("regulator.pressure", _between(1.2, 1.6, "bar"), ("fuel.injector_duty",), (*FUEL,)),
    Kind("regulator.reference", _fixed('"atmosphere"'), ("fuel.rail_reference", "fuel.injector_duty"), FUEL),
    Kind("regulator.line_bore", _between(2.5, 3.4, "mm"), ("fuel.feed_line", "fuel.pump_flow"), FUEL),
    Kind(
        "fuel.ethanol",
        _between(80, 85, "%"),
        ("fuel.injector_duty", "fuel.pump_flow"),
        (*FUEL, *ENGINE_AND_TURBO, "baseline."),
        True,
    ),
    # sensor, cut, controller
    Kind("pressure_sensor.highest", _between(104, 122, "kPa"), ("sensor.range",), CUTS),
    Kind(
        "pressure_sensor.highest",
        _fixed(None),
        ("sensor.range",),
        CUTS,
        name="pressure_sensor.highest not stated",
    ),
    Kind("controller.boost_cut", _over_boost(0.3, 0.8, "kPa"), ("boost.cut",), CUTS),
    Kind(
        "controller.boost_cut", _between(262, 300, "kPa"), ("sensor.cut",), CUTS, name="cut above the sensor"
    ),
    Kind("controller.table_top", _over_boost(0.2, 0.8, "kPa"), ("controller.table_top",), CUTS),
    Kind(
        "controller.timing_error",
        _between(9, 14, "deg"),
        ("controller.timing", "strength.peak_pressure", "strength.rod_load", "knock.half_burned"),
        ("strength.", "boost.cut_strength", "boost.cut_knock", "failure.", "fuel.octane"),
        True,
    ),
    # ignition
    Kind("ignition.plug_gap", _between(1.4, 1.8, "mm"), ("ignition.spark_voltage",)),
    Kind("ignition.coil_voltage", _between(9, 13, "kV"), ("ignition.spark_voltage",)),
    Kind("ignition.plug_heat", _fixed("-2"), ("ignition.plug_heat",), name="plugs hotter than standard"),
    Kind("ignition.base_timing", _between(16, 20, "deg"), ("ignition.base_timing",)),
    Kind(
        "ignition.timing_locked",
        _fixed("false"),
        ("ignition.base_timing",),
        harms=_states("ignition.base_timing"),
    ),
    # battery in the boot, its cable and fuse, the pump's wires
    Kind("injectors.resistance", _between(1.2, 3.0, "ohm"), ("electrics.injector_driver",)),
    Kind("battery.cable_area", _between(7, 14, "mm2"), ("electrics.cranking_drop",), ("electrics.",)),
    Kind("battery.cranking_current", _between(480, 700, "A"), ("electrics.cranking_drop",), ("electrics.",)),
    Kind("battery.fuse", _between(60, 110, "A"), ("electrics.fuse_start",), name="main fuse too small"),
    Kind("battery.fuse", _between(480, 600, "A"), ("electrics.fuse_cable",), name="main fuse too large"),
    Kind("battery.fuse", _fixed('"225 A"\nfused = false'), ("electrics.fuse",), name="main fuse left out"),
    Kind("battery.fuse", _fixed(None), ("electrics.battery",), name="main fuse not stated"),
    Kind("battery.fuse_distance", _between(600, 3000, "mm"), ("electrics.fuse_distance",)),
    Kind("battery.vented", _fixed("false"), ("electrics.venting",)),
    Kind("battery.vented", _fixed(None), ("electrics.battery",), name="vent not stated"),
    Kind("battery.hold_down", _fixed('"strap"'), ("electrics.hold_down",)),
    Kind(
        "pump.cable_area",
        _between(0.4, 1.0, "mm2"),
        ("electrics.pump_feed",),
        (*FUEL, "electrics."),
        harms=_states("pump.cable_length"),
    ),
    Kind("pump.fuse", _between(50, 90, "A"), ("electrics.pump_wire",), harms=_states("pump.cable_length")),
    Kind("pressure_sensor.ground_offset", _between(70, 250, "mV"), ("electrics.sensor_ground",)),
    # wish
    Kind(
        "goal.boost",
        _scaled("goal.boost", 2.6, 3.2, "bar", 1e5),
        ("strength.peak_pressure", "knock.half_burned"),
        (*ENGINE_AND_TURBO, *FUEL, *CUTS),
        True,
    ),
    Kind("goal.power", _scaled("goal.power", 1.6, 2.2, "kW", 1e3), ("goal.power",)),
    Kind("goal.boost_by", _between(1100, 1500, "rpm"), ("boost.arrival",), ("boost.in_gear", "boost.wait")),
    # turbo, gate, air, exhaust
    Kind(
        "turbo.compressor_inducer",
        _wheels(1.32, 1.40),
        ("turbo.surge",),
        ENGINE_AND_TURBO,
        True,
        "compressor too big",
    ),
    Kind(
        "turbo.compressor_inducer",
        _wheels(0.86, 0.88),
        ("turbo.choke", "turbo.line", "boost.reached"),
        ENGINE_AND_TURBO,
        True,
        "compressor too small",
    ),
    Kind(
        "turbo.turbine_housing",
        _between(0.25, 0.30, "in"),
        ("exhaust.back_pressure", "boost.creep", "turbo.surge"),
        ENGINE_AND_TURBO,
        True,
        "turbine housing too small",
    ),
    Kind(
        "turbo.turbine_inducer",
        _turbine(1.28, 1.34),
        ("boost.arrival", "boost.reached", "turbo.line"),
        ENGINE_AND_TURBO,
        True,
        "turbine too large",
    ),
    Kind("turbo.speed_limit", _between(60000, 80000, "rpm"), ("turbo.shaft_speed",)),
    Kind("turbo.axial_play", _between(0.16, 0.5, "mm"), ("turbo.play",)),
    Kind("turbo.axial_play", _fixed(None), ("turbo.play",), name="play of a used turbo not read"),
    Kind(
        "wastegate.spring",
        _stiffer(0.25, 0.6),
        ("boost.spring", "boost.spring_alone"),
        (*ENGINE_AND_TURBO, *FUEL, *CUTS),
        True,
    ),
    Kind(
        "wastegate.valve_diameter",
        _between(10, 12, "mm"),
        ("boost.creep", "boost.gate_port"),
        (*ENGINE_AND_TURBO, *FUEL, *CUTS),
        True,
    ),
    Kind(
        "cooler.effectiveness",
        _between(2, 10, "%"),
        ("knock.half_burned", "charge.", "fuel.octane", "turbo.line"),
        ENGINE_AND_TURBO,
        True,
        harms=_needs_cooler,
    ),
    Kind(
        "cooler.pressure_loss",
        _between(30, 50, "kPa"),
        ("charge.path_loss", "turbo."),
        ENGINE_AND_TURBO,
        True,
    ),
    Kind("pipes.filter_loss", _between(18, 28, "kPa"), ("charge.inlet", "turbo."), ENGINE_AND_TURBO, True),
    Kind(
        "exhaust.back_pressure",
        _between(90, 140, "kPa"),
        ("exhaust.",),
        (*ENGINE_AND_TURBO, "exhaust."),
        True,
    ),
    Kind("exhaust.flex", _fixed('"none"'), ("exhaust.pipe_growth",), ("exhaust.bracing",)),
    Kind("exhaust.flex_length", _between(20, 35, "mm"), ("exhaust.pipe_growth",)),
    Kind("exhaust.flex_distance", _between(700, 2000, "mm"), ("exhaust.bracing",)),
    Kind(
        "exhaust.sensor_distance",
        _between(-400, -50, "mm"),
        ("exhaust.sensor_pressure",),
        ("exhaust.sensor_heat",),
    ),
    Kind("exhaust.sensor_tilt", _between(-80, -5, "deg"), ("exhaust.sensor_tilt",)),
    # lift-off, couplers, leak
    Kind("blow_off.diameter", _between(8, 10, "mm"), ("turbo.blow_off",)),
    Kind("blow_off.opens_at", _between(115, 180, "kPa"), ("turbo.blow_off_spring",)),
    Kind("exhaust.probe", _fixed('"behind"'), ("exhaust.probe_place",), harms=_needs_cooler),
    Kind("blow_off.fitted", _fixed("false"), ("turbo.blow_off",)),
    Kind("pipes.clamp", _fixed('"tie"\nbead = false'), ("charge.coupler",)),
    Kind("leak_test.time", _between(0.4, 1.5, "s"), ("charge.leak",)),
    Kind("manifold.material", _fixed('"mild-steel"'), ("exhaust.manifold",)),
    Kind(
        "fuel.lambda_boost",
        _between(0.96, 1.03, "lambda"),
        ("exhaust.valve",),
        (*ENGINE_AND_TURBO, *FUEL),
        True,
    ),
    # cooling, driveline, brakes, what lies near the hot side
    Kind("cooling.slope_before", _between(3.5, 8.0, "K"), ("cooling.climb",), ("cooling.",)),
    Kind("cooling.cap_pressure", _between(0.0, 0.05, "bar"), ("cooling.boil",), harms=_runs_warm),
    Kind(
        "clutch.torque", _scaled("clutch.torque", 0.4, 0.6, "Nm", 1.0), ("driveline.clutch",), ("driveline.",)
    ),
    Kind("car.gearbox_torque", _between(60, 75, "Nm"), ("driveline.gearbox",)),
    Kind("car.tyre_speed", _between(110, 150, "km/h"), ("driveline.tyre_speed",)),
    Kind("car.tyre_speed", _fixed(None), ("driveline.stated",), name="car.tyre_speed not stated"),
    Kind("car.brake_disc_mass", _between(1.0, 1.9, "kg"), ("brakes.discs",)),
    Kind("car.brake_fluid_date", _fixed("2015-03-01"), ("brakes.fluid",)),
    Kind(
        "neighbours.distance", _between(8, 18, "mm"), ("neighbours.heat", "neighbours.room"), ("neighbours.",)
    ),
    # fuel quality and compression
    Kind("fuel.poorest_octane", _between(72, 78, "RON"), ("fuel.octane",), ("knock.",)),
    Kind(
        "engine.compression_ratio",
        _between(13.0, 14.5, "", 3),
        ("knock.half_burned", "strength.peak_pressure"),
        (*ENGINE_AND_TURBO, "baseline.", *CUTS),
        True,
    ),
    # the engine itself
    Kind(
        "engine.leak_down",
        _one_cylinder("engine.leak_down", 3.2, 5.5, "%", 0.01),
        ("engine.leak_down",),
        ("engine.condition",),
    ),
    Kind(
        "engine.compression_pressure",
        _one_cylinder("engine.compression_pressure", 0.5, 0.75, "bar", 1e5),
        ("engine.compression",),
        ("engine.condition",),
    ),
    Kind("engine.coolant_gas", _fixed('"found"'), ("engine.gas_in_coolant",), ("engine.condition",)),
    Kind("engine.coolant_drop", _between(18, 80, "kPa"), ("engine.coolant_hold",), ("engine.condition",)),
    Kind(
        "engine.oil_pressure_idle",
        _between(0.15, 0.55, "bar"),
        ("engine.oil_idle",),
        (*OIL, "engine.condition"),
    ),
    Kind(
        "engine.oil_pressure_3000",
        _between(0.7, 1.6, "bar"),
        ("engine.oil_speed",),
        (*OIL, "engine.condition"),
    ),
    Kind("engine.leak_down", _fixed(None), ("engine.condition",), name="leak-down not read"),
    # oil, crankcase, small lines
    Kind("oil.feed_bore", _between(0.40, 0.55, "mm"), ("oil.feed_least",), OIL),
    Kind("oil.turbo_flow", _between(0.12, 0.25, "L/min"), ("oil.feed_least",), OIL),
    Kind("oil.turbo_flow", _between(3.2, 4.5, "L/min"), ("oil.feed_most",), OIL, name="bearing worn wide"),
    Kind(
        "turbo.bearing",
        _fixed('"ball"'),
        ("oil.feed_most",),
        (*OIL, *ENGINE_AND_TURBO),
        True,
        "rolling bearing without a restrictor",
    ),
    Kind("oil.drain_bore", _between(5, 8, "mm"), ("oil.drain",), OIL),
    Kind("oil.drain_slope", _between(-8, 0.5, "deg"), ("oil.drain",), OIL),
    Kind("oil.drain_drop", _between(-60, 40, "mm"), ("crankcase.drain",), OIL),
    Kind("oil.drain_entry", _between(-60, -5, "mm"), ("oil.drain_entry",)),
    Kind("oil.outlet_tilt", _between(35, 80, "deg"), ("oil.outlet_tilt",)),
    Kind("oil.temperature", _between(135, 150, "degC"), ("oil.heat",), OIL),
    Kind("engine.crankcase_pressure", _between(2.0, 5.0, "kPa"), ("crankcase.drain",), ("crankcase.",)),
    Kind(
        "engine.crankcase_pressure",
        _fixed(None),
        ("crankcase.drain",),
        ("crankcase.",),
        name="crankcase pressure not read",
    ),
    Kind("breather.hose_bore", _between(3.0, 5.0, "mm"), ("crankcase.drain",), ("crankcase.",)),
    Kind("breather.one_way_valve", _fixed("false"), ("crankcase.drain",), ("crankcase.",)),
    Kind("oil.relief_shim", _between(1.0, 3.0, "mm"), ("oil.shim_need", "oil.shim_travel"), OIL),
    Kind("oil.added_volume", _between(1.6, 3.0, "L"), ("oil.level",)),
    Kind("breather.can_volume", _between(0.05, 0.07, "L"), ("crankcase.can",), harms=_has_can),
    Kind("breather.can_interval", _between(8000, 20000, "km"), ("crankcase.can",), harms=_has_can),
    Kind("small_lines.servo", _fixed('"open"'), ("lines.boost",)),
    Kind("small_lines.tank_purge", _fixed(None), ("lines.boost",), name="purge line not described"),
    Kind(
        "engine.displacement", _scaled("engine.displacement", 0.80, 0.93, "L", 1e-3), ("engine.displacement",)
    ),
    Kind(
        "engine.displacement",
        _scaled("engine.displacement", 1.07, 1.25, "L", 1e-3),
        ("engine.displacement",),
        name="engine.displacement too large",
    ),
    Kind(
        "engine.speed_limit",
        _scaled("engine.speed_limit", 1.45, 1.7, "rpm", np.pi / 30),
        ("strength.piston_speed",),
        ("strength.", "driveline.tyre_speed"),  # more revs are more speed
    ),
    Kind(
        "engine.rods",
        _fixed('"sintered"'),
        ("strength.rod_load",),
        ("strength.", "boost.cut_strength", "failure."),
    ),
    Kind("engine.ring_gap", _between(0.13, 0.20, "mm"), ("strength.ring_gap",)),
    Kind(
        "engine.valve_open_load",
        _between(110, 170, "N"),
        ("strength.valve_float",),
        harms=lambda build: "engine.valve_mass" in build,
    ),
    Kind("engine.valve_seat_load", _between(30, 32, "N"), ("strength.valve_seat",), harms=_pulses_are_strong),
    # bolts
    Kind("sealing.head_bolt_size", _fixed('"M6x1"'), ("strength.head_clamp",)),
    Kind(
        "fasteners.engaged_length",
        _between(4, 6.5, "mm"),
        ("fastener.engagement",),
        harms=lambda build: "engaged_length" in build.table("fasteners")[0],  # the first goes into a hole
    ),
    Kind("fasteners.manual_torque", _between(75, 110, "Nm"), ("fastener.overstress",)),
    Kind(
        "fasteners.manual_torque",
        _between(1.0, 2.0, "Nm"),
        ("fastener.clamp", "fastener.seating"),
        name="bolts hardly tightened",
    ),
    Kind("fasteners.page", _fixed(None), ("fastener.stated",), name="a torque without its page"),
    # joints; the first port is a hole of 1/8 inch taper in the block, the first joint the oil feed there
    Kind(
        "ports.half",
        _one_of("1/8-27 NPT female", "M10x1 female", "Rc 1/4", "G 1/4 female", "R 1/8"),
        ("joint.mates",),
        ("joint.",),
        name="oil feed at the block: another thread",
    ),
    Kind("ports.material", _one_of("nylon", "silicone", "epdm"), ("joint.rating",), ("joint.",)),
    Kind("ports.pressure", _between(0.8, 3.0, "bar"), ("joint.rating",), ("joint.",)),
    Kind("ports.temperature", _between(45, 75, "degC"), ("joint.rating",), ("joint.",)),
    Kind("joints.seal", _one_of("tape", "copper washer", "nothing", "O-ring"), ("joint.seal",), ("joint.",)),
    Kind("joints.seal", _fixed(None), ("joint.seal",), ("joint.",), name="seal not stated"),
    Kind("joints.tested", _between(0.5, 3.0, "bar"), ("joint.tried",), ("joint.",)),
    Kind("joints.tried", _fixed("false"), ("joint.tried",), ("joint.",)),
    Kind("engine.oil_pressure_cold", _between(10.0, 13.0, "bar"), ("joint.tried",), ("joint.",)),
)


def planted_text(text: str, kind: Kind, value: str | None) -> str | None:
    """The file with the field changed, or taken out for None; None when the file does not state the field.

    A field that is not stated is added to its section where a value is given; of a list of tables the first
    one is changed.
    """
    section, name = kind.field.split(".")
    head = re.search(rf"^\[\[?{section}\]\]?$", text, re.MULTILINE)  # of a list, its first table
    if head is None:
        return None
    rest = text[head.end() :]
    end = re.search(r"^\[", rest, re.MULTILINE)
    body, after = (rest, "") if end is None else (rest[: end.start()], rest[end.start() :])
    line = re.search(rf"^{name} = .*$\n", body, re.MULTILINE)
    new = "" if value is None else f"{name} = {value}\n"
    if line is None:
        if value is None:
            return None
        body = f"{body.rstrip()}\n{new}\n"
    else:
        body = body[: line.start()] + new + body[line.end() :]
    for along in re.findall(r"\n(\w+) = ", new):  # what came with it takes the place of what was there
        body = re.sub(rf"^{along} = .*$\n", "", body.replace(new, "@@\n"), flags=re.MULTILINE)
        body = body.replace("@@\n", new)
    if kind.field == "turbo.compressor_inducer":  # map and known point were of another wheel
        body = re.sub(r"^(compressor_map|known_\w+|map_reference_\w+) = .*$\n", "", body, flags=re.MULTILINE)
    made = text[: head.end()] + body + after
    if kind.field == "goal.boost":  # a cut below the wish is another fault
        made = re.sub(r"^boost_cut = .*$\n", "", made, flags=re.MULTILINE)
    return made


def _has_its_table(kind: Kind, build: Build) -> bool:
    """False for a fault in a list of tables that the build does not have."""
    section = kind.field.partition(".")[0]
    return section != "fasteners" or bool(build.table(section))


def plant(builds: dict[str, tuple[str, Build]], count: int, seed: int) -> list[Mutation]:
    """`count` single faults: every kind once, then every kind in every build, shuffled, sizes drawn
    anew each time.
    """
    rng = np.random.default_rng(seed)
    pairs = [(name, kind) for name in builds for kind in KINDS]
    made: list[Mutation] = []
    while len(made) < count:
        shuffled = [pairs[place] for place in rng.permutation(len(pairs))]
        first = {kind.label: (name, kind) for name, kind in shuffled if kind.harms(builds[name][1])}
        once = list(first.values())
        for name, kind in once + [pair for pair in shuffled if pair not in once]:
            text, build = builds[name]
            if not _has_its_table(kind, build) or not kind.harms(build):
                continue
            value = kind.draw(build, rng)
            changed = planted_text(text, kind, value)
            if changed is not None:
                made.append(Mutation(name, kind, value, changed))
            if len(made) == count:
                break
    return made
