"""Every kind of single fault: field, harmful values, findings that must see it, those that may break too."""

from __future__ import annotations

import numpy as np

from tests.mutation_draws import (
    Kind,
    between,
    fixed,
    has_can,
    needs_cooler,
    one_cylinder,
    one_of,
    over_boost,
    pulses_are_strong,
    runs_warm,
    scaled,
    states,
    stiffer,
    thirst,
    turbine,
    wheels,
)

__all__ = ["KINDS"]

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

KINDS: tuple[Kind, ...] = (
    # fuel
    Kind(
        "injectors.flow",
        scaled("injectors.flow", 0.35, 0.55, "cc/min", 1e-6 / 60),
        ("fuel.injector_duty",),
        FUEL,
    ),
    Kind("injectors.dead_time", between(2.4, 3.0, "ms"), ("fuel.injector_duty", "fuel.smallest_pulse"), FUEL),
    Kind("pump.flow", thirst(0.45, 0.8), ("fuel.pump_flow",), FUEL),
    Kind("pump.voltage", between(7.5, 9.0, "V"), ("fuel.pump_flow",), FUEL),
    Kind("regulator.pressure", between(1.2, 1.6, "bar"), ("fuel.injector_duty",), (*FUEL,)),
    Kind("regulator.reference", fixed('"atmosphere"'), ("fuel.rail_reference", "fuel.injector_duty"), FUEL),
    Kind("regulator.line_bore", between(2.5, 3.4, "mm"), ("fuel.feed_line", "fuel.pump_flow"), FUEL),
    Kind(
        "fuel.ethanol",
        between(80, 85, "%"),
        ("fuel.injector_duty", "fuel.pump_flow"),
        (*FUEL, *ENGINE_AND_TURBO, "baseline."),
        True,
    ),
    # sensor, cut, controller
    Kind("pressure_sensor.highest", between(104, 122, "kPa"), ("sensor.range",), CUTS),
    Kind(
        "pressure_sensor.highest",
        fixed(None),
        ("sensor.range",),
        CUTS,
        name="pressure_sensor.highest not stated",
    ),
    Kind("controller.boost_cut", over_boost(0.3, 0.8, "kPa"), ("boost.cut",), CUTS),
    Kind(
        "controller.boost_cut", between(262, 300, "kPa"), ("sensor.cut",), CUTS, name="cut above the sensor"
    ),
    Kind("controller.table_top", over_boost(0.2, 0.8, "kPa"), ("controller.table_top",), CUTS),
    Kind(
        "controller.timing_error",
        between(9, 14, "deg"),
        ("controller.timing", "strength.peak_pressure", "strength.rod_load", "knock.half_burned"),
        ("strength.", "boost.cut_strength", "boost.cut_knock", "failure.", "fuel.octane"),
        True,
    ),
    # ignition
    Kind("ignition.plug_gap", between(1.4, 1.8, "mm"), ("ignition.spark_voltage",)),
    Kind("ignition.coil_voltage", between(9, 13, "kV"), ("ignition.spark_voltage",)),
    Kind("ignition.plug_heat", fixed("-2"), ("ignition.plug_heat",), name="plugs hotter than standard"),
    Kind("ignition.base_timing", between(16, 20, "deg"), ("ignition.base_timing",)),
    Kind(
        "ignition.timing_locked",
        fixed("false"),
        ("ignition.base_timing",),
        harms=states("ignition.base_timing"),
    ),
    # battery in the boot, its cable and fuse, the pump's wires
    Kind("injectors.resistance", between(1.2, 3.0, "ohm"), ("electrics.injector_driver",)),
    Kind("battery.cable_area", between(7, 14, "mm2"), ("electrics.cranking_drop",), ("electrics.",)),
    Kind("battery.cranking_current", between(480, 700, "A"), ("electrics.cranking_drop",), ("electrics.",)),
    Kind("battery.fuse", between(60, 110, "A"), ("electrics.fuse_start",), name="main fuse too small"),
    Kind("battery.fuse", between(480, 600, "A"), ("electrics.fuse_cable",), name="main fuse too large"),
    Kind("battery.fuse", fixed('"225 A"\nfused = false'), ("electrics.fuse",), name="main fuse left out"),
    Kind("battery.fuse", fixed(None), ("electrics.battery",), name="main fuse not stated"),
    Kind("battery.fuse_distance", between(600, 3000, "mm"), ("electrics.fuse_distance",)),
    Kind("battery.vented", fixed("false"), ("electrics.venting",)),
    Kind("battery.vented", fixed(None), ("electrics.battery",), name="vent not stated"),
    Kind("battery.hold_down", fixed('"strap"'), ("electrics.hold_down",)),
    Kind(
        "pump.cable_area",
        between(0.4, 1.0, "mm2"),
        ("electrics.pump_feed",),
        (*FUEL, "electrics."),
        harms=states("pump.cable_length"),
    ),
    Kind("pump.fuse", between(50, 90, "A"), ("electrics.pump_wire",), harms=states("pump.cable_length")),
    Kind("pressure_sensor.ground_offset", between(70, 250, "mV"), ("electrics.sensor_ground",)),
    # wish
    Kind(
        "goal.boost",
        scaled("goal.boost", 2.6, 3.2, "bar", 1e5),
        ("strength.peak_pressure", "knock.half_burned"),
        (*ENGINE_AND_TURBO, *FUEL, *CUTS),
        True,
    ),
    Kind("goal.power", scaled("goal.power", 1.6, 2.2, "kW", 1e3), ("goal.power",)),
    Kind("goal.boost_by", between(1100, 1500, "rpm"), ("boost.arrival",), ("boost.in_gear", "boost.wait")),
    # turbo, gate, air, exhaust
    Kind(
        "turbo.compressor_inducer",
        wheels(1.32, 1.40),
        ("turbo.surge",),
        ENGINE_AND_TURBO,
        True,
        "compressor too big",
    ),
    Kind(
        "turbo.compressor_inducer",
        wheels(0.86, 0.88),
        ("turbo.choke", "turbo.line", "boost.reached"),
        ENGINE_AND_TURBO,
        True,
        "compressor too small",
    ),
    Kind(
        "turbo.turbine_housing",
        between(0.25, 0.30, "in"),
        ("exhaust.back_pressure", "boost.creep", "turbo.surge"),
        ENGINE_AND_TURBO,
        True,
        "turbine housing too small",
    ),
    Kind(
        "turbo.turbine_inducer",
        turbine(1.28, 1.34),
        ("boost.arrival", "boost.reached", "turbo.line"),
        ENGINE_AND_TURBO,
        True,
        "turbine too large",
    ),
    Kind("turbo.speed_limit", between(60000, 80000, "rpm"), ("turbo.shaft_speed",)),
    Kind("turbo.axial_play", between(0.16, 0.5, "mm"), ("turbo.play",)),
    Kind("turbo.axial_play", fixed(None), ("turbo.play",), name="play of a used turbo not read"),
    Kind(
        "wastegate.spring",
        stiffer(0.25, 0.6),
        ("boost.spring", "boost.spring_alone"),
        (*ENGINE_AND_TURBO, *FUEL, *CUTS),
        True,
    ),
    Kind(
        "wastegate.valve_diameter",
        between(10, 12, "mm"),
        ("boost.creep", "boost.gate_port"),
        (*ENGINE_AND_TURBO, *FUEL, *CUTS),
        True,
    ),
    Kind(
        "cooler.effectiveness",
        between(2, 10, "%"),
        ("knock.half_burned", "charge.", "fuel.octane", "turbo.line"),
        ENGINE_AND_TURBO,
        True,
        harms=needs_cooler,
    ),
    Kind(
        "cooler.pressure_loss",
        between(30, 50, "kPa"),
        ("charge.path_loss", "turbo."),
        ENGINE_AND_TURBO,
        True,
    ),
    Kind("pipes.filter_loss", between(18, 28, "kPa"), ("charge.inlet", "turbo."), ENGINE_AND_TURBO, True),
    Kind(
        "exhaust.back_pressure",
        between(90, 140, "kPa"),
        ("exhaust.",),
        (*ENGINE_AND_TURBO, "exhaust."),
        True,
    ),
    Kind("exhaust.flex", fixed('"none"'), ("exhaust.pipe_growth",), ("exhaust.bracing",)),
    Kind("exhaust.flex_length", between(20, 35, "mm"), ("exhaust.pipe_growth",)),
    Kind("exhaust.flex_distance", between(700, 2000, "mm"), ("exhaust.bracing",)),
    Kind(
        "exhaust.sensor_distance",
        between(-400, -50, "mm"),
        ("exhaust.sensor_pressure",),
        ("exhaust.sensor_heat",),
    ),
    Kind("exhaust.sensor_tilt", between(-80, -5, "deg"), ("exhaust.sensor_tilt",)),
    # lift-off, couplers, leak
    Kind("blow_off.diameter", between(8, 10, "mm"), ("turbo.blow_off",)),
    Kind("blow_off.opens_at", between(115, 180, "kPa"), ("turbo.blow_off_spring",)),
    Kind("exhaust.probe", fixed('"behind"'), ("exhaust.probe_place",), harms=needs_cooler),
    Kind("blow_off.fitted", fixed("false"), ("turbo.blow_off",)),
    Kind("pipes.clamp", fixed('"tie"\nbead = false'), ("charge.coupler",)),
    Kind("leak_test.time", between(0.4, 1.5, "s"), ("charge.leak",)),
    Kind("manifold.material", fixed('"mild-steel"'), ("exhaust.manifold",)),
    Kind(
        "fuel.lambda_boost",
        between(0.96, 1.03, "lambda"),
        ("exhaust.valve",),
        (*ENGINE_AND_TURBO, *FUEL),
        True,
    ),
    # cooling, driveline, brakes, what lies near the hot side
    Kind("cooling.slope_before", between(3.5, 8.0, "K"), ("cooling.climb",), ("cooling.",)),
    Kind("cooling.cap_pressure", between(0.0, 0.05, "bar"), ("cooling.boil",), harms=runs_warm),
    Kind(
        "clutch.torque", scaled("clutch.torque", 0.4, 0.6, "Nm", 1.0), ("driveline.clutch",), ("driveline.",)
    ),
    Kind("car.gearbox_torque", between(60, 75, "Nm"), ("driveline.gearbox",)),
    Kind("car.tyre_speed", between(110, 150, "km/h"), ("driveline.tyre_speed",)),
    Kind("car.tyre_speed", fixed(None), ("driveline.stated",), name="car.tyre_speed not stated"),
    Kind("car.brake_disc_mass", between(1.0, 1.9, "kg"), ("brakes.discs",)),
    Kind("car.brake_fluid_date", fixed("2015-03-01"), ("brakes.fluid",)),
    Kind(
        "neighbours.distance", between(8, 18, "mm"), ("neighbours.heat", "neighbours.room"), ("neighbours.",)
    ),
    # fuel quality and compression
    Kind("fuel.poorest_octane", between(72, 78, "RON"), ("fuel.octane",), ("knock.",)),
    Kind(
        "engine.compression_ratio",
        between(13.0, 14.5, "", 3),
        ("knock.half_burned", "strength.peak_pressure"),
        (*ENGINE_AND_TURBO, "baseline.", *CUTS),
        True,
    ),
    # the engine itself
    Kind(
        "engine.leak_down",
        one_cylinder("engine.leak_down", 3.2, 5.5, "%", 0.01),
        ("engine.leak_down",),
        ("engine.condition",),
    ),
    Kind(
        "engine.compression_pressure",
        one_cylinder("engine.compression_pressure", 0.5, 0.75, "bar", 1e5),
        ("engine.compression",),
        ("engine.condition",),
    ),
    Kind("engine.coolant_gas", fixed('"found"'), ("engine.gas_in_coolant",), ("engine.condition",)),
    Kind("engine.coolant_drop", between(18, 80, "kPa"), ("engine.coolant_hold",), ("engine.condition",)),
    Kind(
        "engine.oil_pressure_idle",
        between(0.15, 0.55, "bar"),
        ("engine.oil_idle",),
        (*OIL, "engine.condition"),
    ),
    Kind(
        "engine.oil_pressure_3000",
        between(0.7, 1.6, "bar"),
        ("engine.oil_speed",),
        (*OIL, "engine.condition"),
    ),
    Kind("engine.leak_down", fixed(None), ("engine.condition",), name="leak-down not read"),
    # oil, crankcase, small lines
    Kind("oil.feed_bore", between(0.40, 0.55, "mm"), ("oil.feed_least",), OIL),
    Kind("oil.turbo_flow", between(0.12, 0.25, "L/min"), ("oil.feed_least",), OIL),
    Kind("oil.turbo_flow", between(3.2, 4.5, "L/min"), ("oil.feed_most",), OIL, name="bearing worn wide"),
    Kind(
        "turbo.bearing",
        fixed('"ball"'),
        ("oil.feed_most",),
        (*OIL, *ENGINE_AND_TURBO),
        True,
        "rolling bearing without a restrictor",
    ),
    Kind("oil.drain_bore", between(5, 8, "mm"), ("oil.drain",), OIL),
    Kind("oil.drain_slope", between(-8, 0.5, "deg"), ("oil.drain",), OIL),
    Kind("oil.drain_drop", between(-60, 40, "mm"), ("crankcase.drain",), OIL),
    Kind("oil.drain_entry", between(-60, -5, "mm"), ("oil.drain_entry",)),
    Kind("oil.outlet_tilt", between(35, 80, "deg"), ("oil.outlet_tilt",)),
    Kind("oil.temperature", between(135, 150, "degC"), ("oil.heat",), OIL),
    Kind("engine.crankcase_pressure", between(2.0, 5.0, "kPa"), ("crankcase.drain",), ("crankcase.",)),
    Kind(
        "engine.crankcase_pressure",
        fixed(None),
        ("crankcase.drain",),
        ("crankcase.",),
        name="crankcase pressure not read",
    ),
    Kind("breather.hose_bore", between(3.0, 5.0, "mm"), ("crankcase.drain",), ("crankcase.",)),
    Kind("breather.one_way_valve", fixed("false"), ("crankcase.drain",), ("crankcase.",)),
    Kind("oil.relief_shim", between(1.0, 3.0, "mm"), ("oil.shim_need", "oil.shim_travel"), OIL),
    Kind("oil.added_volume", between(1.6, 3.0, "L"), ("oil.level",)),
    Kind("breather.can_volume", between(0.05, 0.07, "L"), ("crankcase.can",), harms=has_can),
    Kind("breather.can_interval", between(8000, 20000, "km"), ("crankcase.can",), harms=has_can),
    Kind("small_lines.servo", fixed('"open"'), ("lines.boost",)),
    Kind("small_lines.tank_purge", fixed(None), ("lines.boost",), name="purge line not described"),
    Kind(
        "engine.displacement", scaled("engine.displacement", 0.80, 0.93, "L", 1e-3), ("engine.displacement",)
    ),
    Kind(
        "engine.displacement",
        scaled("engine.displacement", 1.07, 1.25, "L", 1e-3),
        ("engine.displacement",),
        name="engine.displacement too large",
    ),
    Kind(
        "engine.speed_limit",
        scaled("engine.speed_limit", 1.45, 1.7, "rpm", np.pi / 30),
        ("strength.piston_speed",),
        ("strength.", "driveline.tyre_speed"),  # more revs are more speed
    ),
    Kind(
        "engine.rods",
        fixed('"sintered"'),
        ("strength.rod_load",),
        ("strength.", "boost.cut_strength", "failure."),
    ),
    Kind("engine.ring_gap", between(0.13, 0.20, "mm"), ("strength.ring_gap",)),
    Kind(
        "engine.valve_open_load",
        between(110, 170, "N"),
        ("strength.valve_float",),
        harms=lambda build: "engine.valve_mass" in build,
    ),
    Kind("engine.valve_seat_load", between(30, 32, "N"), ("strength.valve_seat",), harms=pulses_are_strong),
    # bolts
    Kind("sealing.head_bolt_size", fixed('"M6x1"'), ("strength.head_clamp",)),
    Kind(
        "fasteners.engaged_length",
        between(4, 6.5, "mm"),
        ("fastener.engagement",),
        harms=lambda build: "engaged_length" in build.table("fasteners")[0],  # the first goes into a hole
    ),
    Kind("fasteners.manual_torque", between(75, 110, "Nm"), ("fastener.overstress",)),
    Kind(
        "fasteners.manual_torque",
        between(1.0, 2.0, "Nm"),
        ("fastener.clamp", "fastener.seating"),
        name="bolts hardly tightened",
    ),
    Kind("fasteners.page", fixed(None), ("fastener.stated",), name="a torque without its page"),
    # joints; the first port is a hole of 1/8 inch taper in the block, the first joint the oil feed there
    Kind(
        "ports.half",
        one_of("1/8-27 NPT female", "M10x1 female", "Rc 1/4", "G 1/4 female", "R 1/8"),
        ("joint.mates",),
        ("joint.",),
        name="oil feed at the block: another thread",
    ),
    Kind("ports.material", one_of("nylon", "silicone", "epdm"), ("joint.rating",), ("joint.",)),
    Kind("ports.pressure", between(0.8, 3.0, "bar"), ("joint.rating",), ("joint.",)),
    Kind("ports.temperature", between(45, 75, "degC"), ("joint.rating",), ("joint.",)),
    Kind("joints.seal", one_of("tape", "copper washer", "nothing", "O-ring"), ("joint.seal",), ("joint.",)),
    Kind("joints.seal", fixed(None), ("joint.seal",), ("joint.",), name="seal not stated"),
    Kind("joints.tested", between(0.5, 3.0, "bar"), ("joint.tried",), ("joint.",)),
    Kind("joints.tried", fixed("false"), ("joint.tried",), ("joint.",)),
    Kind("engine.oil_pressure_cold", between(10.0, 13.0, "bar"), ("joint.tried",), ("joint.",)),
)
