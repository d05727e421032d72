"""The road and what is done on it: a seeded list of manoeuvres that fills about the minutes asked for."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from tools.drives import state as s
from tools.drives.car import Car

RPM = math.pi / 30.0
Rows = list[NDArray[np.float64]]

# what a block takes on the road [s], near enough to fill the minutes
_TAKES = {
    "pull": 25.0,
    "tip-in": 12.0,
    "halt": 37.0,
    "bend": 10.0,
    "hill": 26.0,
    "restart": 51.0,
    "traffic": 76.0,
}
# how many of each for half an hour
_SHARES = {"pull": 27, "tip-in": 14, "halt": 5, "bend": 9, "hill": 4, "restart": 2, "traffic": 1}


def manoeuvre(mode: int, **columns: float) -> NDArray[np.float64]:
    """One row of the plan; columns by their names in `state`, in small letters."""
    row = np.zeros(s.COLUMNS)
    row[s.MODE] = mode
    for name, value in columns.items():
        row[getattr(s, name.upper())] = value
    return row


def _scatter(rows: Rows, rng: np.random.Generator) -> Rows:
    """What differs between two like manoeuvres of one day: mixture, boost, slope."""
    for row in rows:
        row[s.FUEL_ERROR] = rng.normal(0.0, 0.008)
        row[s.BOOST_ERROR] = rng.normal(0.0, 600.0)
        row[s.GRADE] += rng.normal(0.0, 0.006)
    return rows


def _pull(rng: np.random.Generator, car: Car) -> Rows:
    top = car.top
    gear = int(rng.choice([2, 3, 3, 3, 4]))
    shifts = int(rng.random() < 0.35) if gear < 4 else 0
    ends = rng.uniform(0.72, 0.93) * top if gear < 4 else rng.uniform(0.62, 0.78) * top
    pull = manoeuvre(
        s.PULL,
        in_gear=gear,
        from_w=rng.uniform(0.30, 0.38) * top,
        to_w=ends,
        pedal_to=rng.choice([1.0, 1.0, 1.0, 0.85]),
        shifts=shifts,
        lasts=16.0,
        lift_to=rng.choice([0.0, 0.0, 0.25]),
    )
    if rng.random() < 0.12:
        pull[s.BLIP] = rng.uniform(0.3, 0.8)
    return [manoeuvre(s.CRUISE, speed=rng.uniform(11.0, 19.0), lasts=rng.uniform(2.0, 6.0)), pull]


def _halt(rng: np.random.Generator) -> Rows:
    return [
        manoeuvre(s.STOP),
        manoeuvre(s.IDLE, lasts=rng.uniform(12.0, 25.0)),
        manoeuvre(s.CRUISE, speed=rng.uniform(9.0, 16.0), lasts=rng.uniform(3.0, 8.0)),
    ]


def _restart(rng: np.random.Generator) -> Rows:
    return [
        manoeuvre(s.STOP),
        manoeuvre(s.OFF, lasts=rng.uniform(8.0, 20.0)),
        manoeuvre(s.START, lasts=rng.uniform(0.6, 1.4)),
        manoeuvre(s.IDLE, lasts=rng.uniform(10.0, 18.0)),
        manoeuvre(s.CRUISE, speed=rng.uniform(9.0, 14.0), lasts=rng.uniform(6.0, 12.0)),
    ]


def _traffic(rng: np.random.Generator) -> Rows:
    rows: Rows = []
    for _ in range(3):
        rows.append(manoeuvre(s.CRUISE, speed=rng.uniform(4.0, 9.0), lasts=rng.uniform(2.0, 6.0)))
        rows.append(manoeuvre(s.STOP))
        rows.append(manoeuvre(s.IDLE, lasts=rng.uniform(4.0, 10.0)))
    rows.append(manoeuvre(s.CRUISE, speed=13.0, lasts=3.0))
    return rows


def _block(name: str, rng: np.random.Generator, car: Car) -> Rows:
    if name == "pull":
        return _pull(rng, car)
    if name == "tip-in":
        step = manoeuvre(
            s.TIP_IN,
            speed=rng.uniform(13.0, 20.0),
            pedal_to=rng.uniform(0.6, 0.9),
            lasts=rng.uniform(1.0, 2.2),
        )
        return [step, manoeuvre(s.COAST, lasts=rng.uniform(0.5, 3.0))]
    if name == "halt":
        return _halt(rng)
    if name == "bend":
        return [manoeuvre(s.BEND, speed=rng.uniform(14.0, 20.0), lasts=rng.uniform(4.0, 7.0))]
    if name == "hill":
        grade = rng.uniform(0.02, 0.06) * rng.choice([1.0, 1.0, -1.0])
        return [
            manoeuvre(s.CRUISE, speed=rng.uniform(15.0, 24.0), lasts=rng.uniform(12.0, 25.0), grade=grade)
        ]
    if name == "restart":
        return _restart(rng)
    return _traffic(rng)


def plan_route(rng: np.random.Generator, car: Car, minutes: float) -> tuple[NDArray[np.float64], bool]:
    """The manoeuvres, one row each, and whether the car starts warm."""
    warm = bool(rng.random() < 0.6)
    share = (minutes * 60.0 - 40.0) / sum(_TAKES[name] * n for name, n in _SHARES.items())
    names: list[str] = []
    for name, n in _SHARES.items():
        whole = n * share
        names += [name] * int(whole + rng.random())
    rng.shuffle(names)
    rows = [
        manoeuvre(s.OFF, lasts=2.0),
        manoeuvre(s.START, lasts=rng.uniform(0.7, 1.3)),
        manoeuvre(s.IDLE, lasts=rng.uniform(8.0, 15.0)),
        manoeuvre(s.CRUISE, speed=12.0, lasts=10.0),
    ]
    for name in names:
        rows += _block(name, rng, car)
    rows += [manoeuvre(s.STOP), manoeuvre(s.IDLE, lasts=8.0), manoeuvre(s.OFF, lasts=2.0)]
    return np.array(_scatter(rows, rng)), warm
