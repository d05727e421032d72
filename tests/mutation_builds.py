"""Builds to plant faults in: the sound demos and three more of other sizes. All invented."""

from __future__ import annotations

from boostwright.build.document import Build
from boostwright.library import read_bytes, read_text
from boostwright.readers.build_file import read_build

__all__ = ["SOUND_BUILDS", "with_its_map"]

_FORM = """
[build]
name = "{name}"
date = 2025-05-01

[goal]
boost = "{boost} bar"
power = "{power} kW"
boost_by = "{by} rpm"

[engine]
source = "measured"
class = "{kind}"
cylinders = {cylinders}
bore = "{bore} mm"
stroke = "{stroke} mm"
displacement = "{litres} L"
compression_ratio = "{ratio} +/- 0.2"
speed_limit = "{limit} rpm"
valve_gear = "direct"
pistons = "forged"
rods = "forged"
ring_gap = "{gap} mm"
compression_pressure = "{compression} bar"
leak_down = "{leak} %"
oil_pressure_idle = "1.6 bar"
oil_pressure_3000 = "4.2 bar"
coolant_gas = "none"
crankcase_pressure = "0.12 +/- 0.05 kPa"

[fuel]
source = "maker"
octane = "98 RON"
motor_octane = "88 MON"
poorest_octane = "98 RON"
ethanol = "5 %"
lambda_boost = "0.80 lambda"

[place]
source = "measured"
altitude = "{altitude} m"
temperature = "20 degC"

[turbo]
source = "measured"
compressor_inducer = "{inducer} mm"
compressor_exducer = "{exducer} mm"
turbine_inducer = "{turbine} mm"
turbine_exducer = "{outlet} mm"
turbine_housing = "{housing} in"
condition = "used"
axial_play = "0.05 mm"
speed_limit = "{shaft} rpm"
housing_material = "ni-resist"

[wastegate]
source = "measured"
type = "internal"
spring = "{spring} bar"
valve_diameter = "{gate} mm"
control = "solenoid"
creep = "1 kPa"
spike = "4 kPa"

[cooler]
source = "maker"
type = "air"
effectiveness = "72 %"
pressure_loss = "3 kPa"
ducted = true

[pipes]
source = "measured"
bore = "{pipe} mm"
length = "2.2 m"
bends = 5
filter_loss = "1.5 kPa"
clamp = "bolt"
bead = true

[leak_test]
source = "measured"
from = "40 kPa"
to = "20 kPa"
time = "25 s"

[blow_off]
source = "measured"
diameter = "30 mm"
lift = "8 mm"

[manifold]
source = "maker"
kind = "tubular"
volume = "{volume} L"
material = "ni-resist"

[exhaust]
source = "measured"
bore = "{exhaust} mm"
back_pressure = "14 kPa"
stock_back_pressure = "24 kPa"
flex = "bellows"
flex_length = "250 mm"
flex_distance = "220 mm"
fixed_length = "1.0 m"
bracket = "engine"
sensor_distance = "700 mm"
sensor_tilt = "30 deg"

[injectors]
source = "maker"
count = {cylinders}
flow = "{injector} cc/min"
flow_pressure = "3 bar"
test_fluid = "heptane"
dead_time = "0.9 ms"
resistance = "12.5 ohm"
condition = "new"

[pump]
source = "measured"
flow = "{pump} L/h"
flow_pressure = "3.6 bar"
flow_voltage = "13.2 V"
voltage = "13.1 V"
cable_area = "10 mm2"
cable_length = "4 m"
relay = true
earth = "cable"
connectors = 1

[regulator]
source = "measured"
pressure = "3.0 bar"
reference = "manifold"
line_bore = "{line} mm"
return_bore = "{line} mm"
seat_bore = "4.5 mm"

[controller]
sensor_fault = "limits"
injector_driver = "plain"
load = "speed-density"
boost_cut = "{cut} kPa"
speed_cut = "{limit} rpm"
table_top = "220 kPa"
timing_error = {{ value = "0.5 deg", source = "measured" }}
knock_sensor = true

[pressure_sensor]
ground_offset = "4 mV"
source = "maker"
highest = "250 kPa"
lowest = "20 kPa"
tap = "plenum"

[oil]
source = "measured"
grade = "10W-40"
temperature = "96 degC"
feed_bore = "4 mm"
turbo_flow = "0.9 L/min"
drain_bore = "19 mm"
drain_drop = "250 mm"
drain_slope = "50 deg"
drain_entry = "50 mm"
outlet_tilt = "5 deg"

[breather]
source = "measured"
hose_bore = "20 mm"
length = "0.7 m"
one_way_valve = true
outlet = "can"
can_volume = "1 L"
can_interval = "500 km"

[small_lines]
tank_purge = "tried"
idle_valve = "tried"
servo = "tried"
others = "none"

[ignition]
source = "measured"
plug_gap = "0.6 mm"
coil_voltage = "38 kV"
plug_heat = 2
base_timing = "10 deg"
base_timing_manual = "10 deg"
timing_locked = true

[battery]
source = "measured"
position = "boot"
cable_area = "{cable} mm2"
cable_length = "4 m"
cable_cover = "cross_linked_125"
cranking_current = "{crank} A"
fuse = "{fuse} A"
fuse_distance = "150 mm"
vented = true
mass = "14 kg"
hold_down = "plates"
hold_points = 4
[sealing]
source = "measured"
head_bolts = 4
head_bolt_size = "{bolt}"
head_bolt_class = "10.9"
gasket = "steel"

[[fasteners]]
source = "measured"
name = "turbo to manifold"
clamps = "turbine"
size = "M10x1.5"
class = "660"
count = 4
grip_length = "46 mm"
parent_material = "nut"
clamped_material = "nickel-iron"
lubricant = "hot-paste"
tool = "checked"
gasket = "steel"
whose = "part"
manual_torque = "38 Nm"
page = "maker's sheet, page 2"

[[fasteners]]
source = "measured"
name = "manifold to head"
clamps = "manifold"
size = "M8x1.25"
class = "8.8"
count = {studs}
grip_length = "36 mm"
engaged_length = "18 mm"
parent_material = "aluminium"
clamped_material = "nickel-iron"
lubricant = "hot-paste"
tool = "checked"
gasket = "steel"
whose = "car"
manual_torque = "18 Nm"
page = "manual, page 6-14"

[cooling]
source = "measured"
radiator_area = "{radiator} m2"
cap_pressure = "1.2 bar"
glycol = "40 %"
slope_before = "0.0 K"

[clutch]
source = "maker"
torque = "{clutch} Nm"

[car]
source = "measured"
mass = "1150 kg"
gears = "3.45 1.95 1.30 0.97 0.80"
final_drive = "4.0"
tyre = "185/65 R14"
tyre_speed = "240 km/h"
driven_wheels = "rear"
front_share = "53 %"
gearbox_torque = "{clutch} Nm"
brake_disc_mass = "7.0 kg"
brake_pads = "sport"
brake_fluid_date = 2024-10-01

[[neighbours]]
what = "brake line"
kind = "brake-line"
distance = {{ value = "260 mm", source = "measured" }}
beside = "turbine"
shield = "sheet"

[[ports]]
name = "oil gallery"
source = "measured"
half = "Rc 1/8"
material = "cast-iron"

[[ports]]
name = "feed hose"
source = "maker"
half = "R 1/8"
material = "ptfe"

[[joints]]
name = "oil feed at the block"
source = "measured"
from = "oil gallery"
to = "feed hose"
seal = "paste"
carries = "oil"
tried = true
tested = "8 bar"
"""

_ENGINES = (
    {
        "name": "Three of one litre", "boost": 0.35, "power": 58, "by": 4000, "kind": "four-valve",
        "cable": 70, "crank": 130, "fuse": 200,
        "radiator": 0.16, "clutch": 190,
        "cylinders": 3, "bore": 75.5, "stroke": 80.0, "litres": "1.07", "volume": 2.0, "ratio": 8.6,
        "limit": 6200,
        "compression": "12.9 13.0 12.9", "leak": "6 5 6", "altitude": 120, "inducer": 33.5, "exducer": 44.5,
        "turbine": 41, "outlet": 36, "housing": 0.60, "shaft": 230000, "spring": 0.24, "gate": 27, "pipe": 46,
        "exhaust": 54, "injector": 340, "pump": 130, "line": 8, "cut": 150, "gap": 0.44, "bolt": "M10x1.5",
        "studs": 8,
    },
    {
        "name": "Old two-valve four", "boost": 0.35, "power": 80, "by": 4000, "kind": "two-valve",
        "cable": 70, "crank": 190, "fuse": 225,
        "radiator": 0.26, "clutch": 310,
        "cylinders": 4, "bore": 84.0, "stroke": 86.0, "litres": "1.91", "volume": 3.2, "ratio": 8.0,
        "limit": 5800,
        "compression": "11.6 11.7 11.6 11.6", "leak": "7 6 7 6", "altitude": 250, "inducer": 42.5,
        "exducer": 56.5, "turbine": 52, "outlet": 46, "housing": 0.88, "shaft": 180000, "spring": 0.24,
        "gate": 32, "pipe": 57, "exhaust": 63, "injector": 430, "pump": 215, "line": 8, "cut": 147,
        "gap": 0.49, "bolt": "M11x1.5", "studs": 8,
    },
    {
        "name": "Straight six", "boost": 0.35, "power": 135, "by": 4000, "kind": "four-valve",
        "cable": 95, "crank": 230, "fuse": 250,
        "radiator": 0.34, "clutch": 430,
        "cylinders": 6, "bore": 82.0, "stroke": 79.0, "litres": "2.50", "volume": 4.0, "ratio": 8.4,
        "limit": 6000,
        "compression": "12.5 12.6 12.5 12.5 12.6 12.5", "leak": "6 6 5 6 7 6",
        "altitude": 60, "inducer": 49.5,
        "exducer": 66.0, "turbine": 62, "outlet": 55, "housing": 1.10, "shaft": 155000, "spring": 0.26,
        "gate": 40, "pipe": 64, "exhaust": 76, "injector": 400, "pump": 290, "line": 9, "cut": 150,
        "gap": 0.48, "bolt": "M11x1.5",
        "studs": 12,
    },
)  # fmt: skip

SOUND_BUILDS: dict[str, str] = {
    "sound": read_text("builds/sound.toml"),
    "highland": read_text("builds/highland.toml"),
    **{str(engine["name"]): _FORM.format(**engine) for engine in _ENGINES},
}


def with_its_map(text: str) -> Build:
    """A build and the compressor map of the demos that it may name."""
    return read_build(text.encode(), beside=lambda name: read_bytes(f"builds/{name}"))
