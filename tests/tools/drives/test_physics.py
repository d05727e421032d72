"""The simulator's own model: balances, hand values, sensors' lag."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.labels import check
from tests.tools.drives.conftest import BUILD
from tools.drives import state as s
from tools.drives.car import R, read_car
from tools.drives.drive import Drive, play
from tools.drives.engine import friction_pressure
from tools.drives.gas import FLOW_PEAK, breathing, compressor_head, orifice
from tools.drives.route import manoeuvre
from tools.drives.sensors import HZ, Channel, channels, noise_free

DT = 1.0 / HZ


def pulls_of(drive: Drive) -> list[np.ndarray]:
    """True record of each full-pedal stretch in one gear, with the blow-off valve shut."""
    y = drive.truth.y
    found = []
    for at in np.flatnonzero((drive.truth.plan[:, s.MODE] == s.PULL) & (drive.truth.plan[:, s.SHIFTS] == 0)):
        part = y[(y[:, s.AT] == at) & (y[:, s.PHASE] == 2) & (y[:, s.T_PHASE] > 0.6)]
        if len(part) > 150:
            found.append(part)
    return found


def integral(x: np.ndarray) -> float:
    return float(np.trapezoid(x, dx=DT))


@check(
    "published",
    source="saintvenant1839",
    note="choked air: 0.0404 p/sqrt(T) in SI, from memory; half of the last digit",
)
def test_a_choked_orifice_passes_what_the_handbooks_say() -> None:
    assert orifice(1.0, 101325.0, 288.15, 20e3, 1.4) == pytest.approx(
        0.0404 * 101325 / math.sqrt(288.15), rel=0.0013
    )


@check("limit", note="no difference, no flow; never back; the same flow for all choked ratios")
def test_the_orifice_at_its_limits() -> None:
    assert orifice(1e-3, 1e5, 300.0, 1e5, 1.4) == 0.0
    assert orifice(1e-3, 1e5, 300.0, 1.2e5, 1.4) == 0.0
    assert orifice(1e-3, 1e5, 300.0, 0.5e5, 1.4) == pytest.approx(orifice(1e-3, 1e5, 300.0, 0.1e5, 1.4))
    near, far = orifice(1e-3, 1e5, 300.0, 0.97001e5, 1.4), orifice(1e-3, 1e5, 300.0, 0.96999e5, 1.4)
    assert near == pytest.approx(far, rel=2e-3)  # the straight part meets the curve


@check(
    "published",
    source="barnesmoss1975",
    note="0.97 + 0.15 n + 0.05 n^2 bar, from memory: 1.87 bar at 3000 rpm",
)
def test_friction_at_3000_rpm() -> None:
    assert friction_pressure(3000 * math.pi / 30) == pytest.approx(1.87e5, rel=1e-9)


@check(
    "published",
    source="moore1986",
    note="cubic: 1 + 3/2 x - 1/2 x^3 spans from the valley to twice the half height",
)
def test_the_compressor_stands_at_its_valley_and_its_peak() -> None:
    u, rho, d = 250.0, 1.15, 0.0545
    unit = rho * u * d * d
    valley, _ = compressor_head(0.0, u, rho, d)
    peak, slope = compressor_head(FLOW_PEAK * unit, u, rho, d)
    assert valley / u**2 == pytest.approx(0.36, abs=1e-9)
    assert peak / u**2 == pytest.approx(0.60, abs=1e-9)
    assert slope == pytest.approx(0.0, abs=1e-6)


@check(
    "published",
    source="heywood1988",
    note="section 6.2: (r - (pe/pi)^(1/gamma)) / (r - 1), from memory; one at equal pressures",
)
def test_residual_gas_takes_its_share_of_the_breathing() -> None:
    equal, part = breathing(0.6, 1e5, 1e5, 9.3), breathing(0.6, 4e4, 1e5, 9.3)
    assert part / equal == pytest.approx((9.3 - 2.5 ** (1 / 1.33)) / 8.3, rel=1e-9)


@check(
    "conservation", note="air in through the compressor is air into the cylinders and what the volumes gained"
)
def test_air_is_neither_made_nor_lost(clean: Drive) -> None:
    car = clean.truth.car
    for y in pulls_of(clean):
        stored = (car.v_pipe * y[:, s.P_C] + car.v_plenum * y[:, s.P_M]) / (R * y[:, s.T_IN])
        assert integral(y[:, s.M_C]) == pytest.approx(
            integral(y[:, s.AIR]) + stored[-1] - stored[0], rel=0.01
        )


@check("conservation", note="gas through turbine and gate is air and fuel")
def test_exhaust_gas_is_neither_made_nor_lost(clean: Drive) -> None:
    car = clean.truth.car
    for y in pulls_of(clean):
        stored = car.v_exhaust * y[:, s.P_E] / (R * y[:, s.T_EX])
        out = integral(y[:, s.M_TURB] + y[:, s.M_GATE]) + stored[-1] - stored[0]
        assert out == pytest.approx(integral(y[:, s.AIR] + y[:, s.FUEL]), rel=0.01)


@check("conservation", note="turbine work less compressor and bearing is what the shaft gains")
def test_the_shaft_keeps_its_energy(clean: Drive) -> None:
    car = clean.truth.car
    for y in pulls_of(clean):
        w = y[:, s.W_T]
        bearing = 1.6e-6 * w**2 * (car.wheel / 0.0545) ** 3
        gained = 0.5 * car.j_turbo * (w[-1] ** 2 - w[0] ** 2)
        worked = integral(0.98 * y[:, s.P_TURB])
        assert integral(0.98 * y[:, s.P_TURB] - y[:, s.P_COMP] - bearing) == pytest.approx(
            gained, abs=0.01 * worked
        )


@check(
    "conservation",
    note="work at the tyres is motion, height, rolling, drag; the wind's gusts are in the tolerance",
)
def test_the_car_keeps_its_energy(clean: Drive) -> None:
    car = clean.truth.car
    for y in pulls_of(clean):
        grade = clean.truth.plan[int(y[0, s.AT]), s.GRADE]
        v = y[:, s.V]
        air = 0.5 * car.p_a / (R * car.t_a) * car.drag_area
        lost = integral(v * (car.mass * 9.81 * (car.rolling + grade) + air * v**2))
        gained = 0.5 * (car.mass + car.j_wheels / car.wheel_radius**2) * (v[-1] ** 2 - v[0] ** 2)
        assert integral(v * y[:, s.FORCE]) == pytest.approx(lost + gained, rel=0.03)


@check(
    "limit", note="torque at the flywheel = heat x efficiency - losses, written out for one moment of a pull"
)
def test_torque_by_hand(clean: Drive) -> None:
    car = clean.truth.car
    y = pulls_of(clean)[0][-1]
    heat = min(y[s.AIR] / car.afr, y[s.FUEL]) * car.heating
    assert heat == pytest.approx(y[s.HEAT], rel=0.01)
    best = heat * car.burn / y[s.W]
    n = y[s.W] * 30 / math.pi / 1000
    rub = (0.97 + 0.15 * n + 0.05 * n**2) * 1e5
    lost = (rub + y[s.P_E] - y[s.P_M]) * car.displacement / (4 * math.pi)
    assert y[s.TORQUE] < best - lost  # spark is later than MBT
    assert y[s.TORQUE] > 0.80 * best - 1.1 * lost


@check("common practice", note="brake efficiency of a boosted petrol engine at full load, rich: 22 to 33 %")
def test_full_load_efficiency(clean: Drive) -> None:
    for y in pulls_of(clean):
        late = y[-80:]
        burnt = np.mean(late[:, s.FUEL]) * clean.truth.car.heating
        assert 0.20 < float(np.mean(late[:, s.TORQUE] * late[:, s.W])) / burnt < 0.33


@check(
    "common practice", note="0 to 100 km/h takes 1 to 2.2 times the kinetic energy over the greatest power"
)
def test_nought_to_a_hundred_is_that_of_such_a_car() -> None:
    car, _ = read_car(BUILD)
    plan = np.array(
        [
            manoeuvre(s.START, lasts=0.8),
            manoeuvre(s.IDLE, lasts=5.0),
            manoeuvre(
                s.PULL,
                in_gear=1,
                from_w=0.2 * car.top,
                to_w=0.95 * car.top,
                pedal_to=1.0,
                shifts=3,
                lasts=30.0,
            ),
        ]
    )
    truth = play(car, plan, np.zeros((0, s.EVENT_COLUMNS)), np.random.default_rng(1), 1.5, warm=True)
    y = truth.y
    pulling = y[(y[:, s.AT] == 2) & (y[:, s.PHASE] == 2)]
    assert pulling[-1, s.V] > 100 / 3.6
    fast = pulling[pulling[:, s.V] >= 100 / 3.6][0]
    seconds = fast[s.TIME] - pulling[0, s.TIME]
    power = float(np.max(pulling[:, s.TORQUE] * pulling[:, s.W]))
    least = 0.5 * car.mass * ((100 / 3.6) ** 2 - pulling[0, s.V] ** 2) / power
    assert least < seconds < 2.2 * least


@check(
    "limit",
    note="a first-order lag has gone 1 - 1/e of a step after its time constant; one sample each side",
)
def test_a_sensor_lags_as_it_says(clean: Drive) -> None:
    car = clean.truth.car
    step = Channel("x", "x", "-", lambda y, _: y[:, s.T_IN], 1, 0.5, 0.2, 0.0, 0.1, -10, 10)
    y = np.zeros((400, s.STATES))
    y[100:, s.T_IN] = 1.0
    seen = noise_free(step, y, car)
    when = int(np.argmax(seen >= 1 - math.exp(-1))) - 100
    assert abs(when / HZ - 0.7) <= 0.011
    assert seen[119] == 0.0


@check("limit", note="lambda comes later by two turns and by the volume of the pipe over its flow")
def test_lambda_comes_late_and_latest_at_idle(clean: Drive) -> None:
    car = clean.truth.car
    channel = next(c for c in channels(np.random.default_rng(1), car) if c.key == "lambda")
    delays = []
    for w, air, t_ex in ((89.0, 0.0022, 700.0), (500.0, 0.10, 1150.0)):
        y = np.zeros((800, s.STATES))
        y[:, [s.W, s.AIR, s.T_EX, s.RUN]] = w, air, t_ex, 1.0
        y[:400, s.LAM], y[400:, s.LAM] = 0.9, 1.0
        half = int(np.argmax(channel.truth(y, car) > 0.95)) - 400
        way = 0.0022 * car.p_a / (287.0 * (t_ex - 80.0)) / air
        assert half / HZ == pytest.approx(4 * math.pi / w + way, abs=0.016)
        delays.append(half / HZ)
    assert delays[0] > 5 * delays[1]


@check("limit", note="deep surge swings slower than the duct and its volume would by themselves")
def test_a_lift_with_the_blow_off_shut_surges_and_a_sound_one_does_not(clean: Drive) -> None:
    from tools.drives import kinds

    car = clean.truth.car
    plan = np.array(
        [
            manoeuvre(s.START, lasts=0.8),
            manoeuvre(s.IDLE, lasts=4.0),
            manoeuvre(
                s.PULL, in_gear=3, from_w=0.33 * car.top, to_w=0.85 * car.top, pedal_to=1.0, lasts=16.0
            ),
        ]
    )
    event = np.zeros((1, s.EVENT_COLUMNS))
    event[0, [s.KIND, s.WHERE, s.IN_PHASE, s.DURATION, s.SEVERITY]] = kinds.SURGING, 2, 3, 1.6, 1.0
    reversals = {}
    for name, rows in (("shut", event), ("sound", np.zeros((0, s.EVENT_COLUMNS)))):
        truth = play(car, plan, rows, np.random.default_rng(1), 1.0, warm=True)
        y = truth.y
        lift = y[(y[:, s.AT] == 2) & (y[:, s.PHASE] == 3) & (y[:, s.T_PHASE] < 1.0)]
        reversals[name] = int(np.sum(np.diff(np.sign(lift[:, s.M_C])) < 0))
    own = math.sqrt(1.4 * R * 320.0 / (car.inertance * car.v_pipe)) / (2 * math.pi)
    assert 3 <= reversals["shut"] < own
    assert reversals["sound"] <= 1
