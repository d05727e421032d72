"""The places of the state vector, of what events change, and of the columns that the drive is planned in."""

from __future__ import annotations

from itertools import count

# --- state of car and engine at one moment (SI)
_s = count()
TIME = next(_s)
AT = next(_s)  # index of the manoeuvre
PHASE = next(_s)
T_PHASE = next(_s)
T_MAN = next(_s)
W = next(_s)  # crankshaft [rad/s]
V = next(_s)  # road [m/s]
GEAR = next(_s)  # 0 is neutral
GEAR_WANTED = next(_s)
SHIFT = next(_s)  # seconds left of a gear change
CLUTCH = next(_s)  # share of the clutch's capacity
PEDAL = next(_s)
BRAKE = next(_s)  # deceleration asked [m/s2]
V_RAMP = next(_s)
PEDAL_I = next(_s)
SHIFTS_LEFT = next(_s)
FLAT = next(_s)  # 1 while a gear change keeps the pedal down and the controller cuts torque by spark
THETA = next(_s)  # throttle opening, 0 to 1
IDLE_I = next(_s)  # idle air, slow part: share of the throttle's area
IDLE_P = next(_s)  # its quick part
P_C = next(_s)  # before the throttle [Pa]
P_M = next(_s)  # plenum [Pa]
P_E = next(_s)  # before the turbine [Pa]
M_C = next(_s)  # compressor [kg/s]
W_T = next(_s)  # turbo shaft [rad/s]
GATE = next(_s)  # 0 shut to 1
DUTY = next(_s)  # gate solenoid
GATE_I = next(_s)
BLOW = next(_s)  # blow-off valve
FILM = next(_s)  # fuel on the walls [kg]
TRIM = next(_s)  # closed-loop trim
LAM = next(_s)  # of the gas that leaves the cylinders
LAM_SEEN = next(_s)  # what the controller's own loop works with
P_RAIL = next(_s)  # absolute [Pa]
BATTERY = next(_s)
T_COOL = next(_s)
T_OIL = next(_s)
T_BAY = next(_s)
T_CORE = next(_s)  # metal of the charge cooler
T_IN = next(_s)  # charge at the plenum
T_EX = next(_s)  # gas before the turbine
RETARD = next(_s)  # cylinder 1; the next five belong to the others
_ = [next(_s) for _ in range(5)]
SPARK = next(_s)
SPARK_TABLE = next(_s)
NOISE_LEVEL = next(_s)  # knock sensor, shares of full scale
RUN = next(_s)
FAN = next(_s)
PULSE = next(_s)
INJ_DUTY = next(_s)
LAM_TARGET = next(_s)
TORQUE = next(_s)  # at the flywheel [N m]
AIR = next(_s)  # into the cylinders [kg/s]
FUEL = next(_s)  # into the cylinders [kg/s]
P_OIL = next(_s)
P_CASE = next(_s)
TARGET = next(_s)  # boost target, absolute [Pa]
SINCE_START = next(_s)
CUT = next(_s)  # seconds that a boost cut still lasts
LEAN_MIXED = next(_s)  # oxygen that reaches the sensor but not from the mixture, in lambda
HEAT = next(_s)  # fuel power burnt [W]
POWER_LOSS = next(_s)  # friction and pumping [W]
M_TH = next(_s)
M_TURB = next(_s)
M_GATE = next(_s)
P_TURB = next(_s)  # turbine power [W]
P_COMP = next(_s)
SLIP = next(_s)  # clutch, crank speed minus input shaft [rad/s]
FORCE = next(_s)  # at the tyres [N]
MISFIRE = next(_s)
SHIFT_CUT = next(_s)
CLOSED = next(_s)  # seconds that the pedal has been up
STATES = next(_s)

# --- what events change
_m = count()
HOLD_GATE = next(_m)
GATE_MOST = next(_m)
GATE_LEAST = next(_m)
GATE_WAVE = next(_m)
LEAK = next(_m)
FEED = next(_m)
RAIL_SAG = next(_m)
SMALL_INJECTOR = next(_m)
MISSED = next(_m)
EXHAUST_LEAK = next(_m)
RICH = next(_m)
VOLTS_LOST = next(_m)
CUT_SPARK = next(_m)
IDLE_WAVE = next(_m)
SOAK = next(_m)
FAN_LOST = next(_m)
OIL_LOST = next(_m)
STARVED = next(_m)
CLUTCH_LOST = next(_m)
BLOW_STUCK = next(_m)
CASE_RISE = next(_m)
COOLING_LOST = next(_m)
MODIFIERS = next(_m)

# --- columns of a manoeuvre
_c = count()
MODE = next(_c)
SPEED = next(_c)  # [m/s]
LASTS = next(_c)  # [s]
IN_GEAR = next(_c)
FROM_W = next(_c)  # [rad/s]
TO_W = next(_c)
PEDAL_TO = next(_c)
SHIFTS = next(_c)
GRADE = next(_c)
FUEL_ERROR = next(_c)
BOOST_ERROR = next(_c)  # [Pa]
BLIP = next(_c)  # a harmless retard that the knock sensor takes for one [deg]
LIFT_TO = next(_c)
COLUMNS = next(_c)

OFF, START, IDLE, CRUISE, PULL, TIP_IN, STOP, COAST, BEND = range(9)
MODES = ("off", "start", "idle", "cruise", "pull", "tip-in", "stop", "coast", "bend")

# --- columns of an event that the engine model plays
KIND, WHERE, IN_PHASE, DELAY, DURATION, SEVERITY, EXTRA, OVER = range(8)
EVENT_COLUMNS = 8
