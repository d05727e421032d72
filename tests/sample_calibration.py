"""A small calibration made by hand, with every kind of table, setting and check that the doors must show."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.beside import Beside
from boostwright.calibration.records import Axis, Calibration, Check, Origin, Setting, Table
from boostwright.findings.limited_pressure import SpeedCeilings
from boostwright.quantity import Dimension, PressureKind

CAUTION = (
    "A starting point for a competent person with a wideband and knock detection, on a closed course or"
    " dynamometer wherever local law does not allow it on the road."
)
DEG = np.pi / 180.0
RPM = np.pi / 30.0
SPEEDS = np.array([800.0, 1500.0, 2000.0, 2500.0, 3000.0, 3500.0, 4000.0, 5000.0, 6000.0, 6500.0]) * RPM
PRESSURES = np.array([30.0, 50.0, 70.0, 85.0, 100.0, 115.0, 130.0, 145.0, 160.0, 175.0, 190.0]) * 1e3

SPEED = Axis("engine_speed", "engine speed", Dimension.ROTATION, SPEEDS)
PRESSURE = Axis(
    "manifold_pressure", "manifold pressure", Dimension.PRESSURE, PRESSURES, PressureKind.ABSOLUTE
)
VOLTS = Axis("battery_voltage", "battery voltage", Dimension.VOLTAGE, np.array([8.0, 10.0, 12.0, 13.5, 15.0]))


def origins(shape: tuple[int, ...], kind: Origin = Origin.MODEL) -> NDArray[np.object_]:
    made = np.empty(shape, dtype=object)
    made[...] = kind
    return made


def filled(value: float, shape: tuple[int, ...]) -> NDArray[np.float64]:
    return np.full(shape, value)


def grid_tables() -> tuple[Table, ...]:
    n, p = SPEEDS[:, None] / RPM / 1000.0, PRESSURES[None, :] / 1e5
    shape = (SPEEDS.size, PRESSURES.size)
    trajectory = np.interp(SPEEDS / RPM, [800, 2000, 3000, 6500], [0.35, 1.05, 1.6, 1.55]) * 1e5
    visited = np.abs(PRESSURES[None, :] - trajectory[:, None]) < 16e3
    filling = 0.62 + 0.2 * np.exp(-(((n - 4.0) / 2.6) ** 2)) + 0.13 * np.minimum(p, 1.4)
    mbt = (38.0 - 11.0 * p + 1.6 * n) * DEG
    knock = (46.0 - 26.0 * p + 2.4 * n) * DEG
    visited |= PRESSURES[None, :] < trajectory[:, None]
    spark = np.minimum(mbt, knock - 2.5 * DEG)
    knock_edge = np.where(knock < 60 * DEG, knock, np.nan)
    lam = np.clip(1.0 - 0.21 * np.maximum(p - 0.8, 0.0), 0.8, 1.0) + 0.0 * n
    origin = origins(shape)
    origin[2:6, 3:5] = Origin.BASELINE
    pulse = (1.2 + 7.8 * filling * p / lam) * 1e-3
    return (
        Table("volumetric_efficiency", "volumetric efficiency at plenum density", Dimension.SHARE,
              (SPEED, PRESSURE), filling, filled(0.03, shape), origin, visited),
        Table("injector_pulse", "injector pulse, dead time included", Dimension.TIME, (SPEED, PRESSURE),
              pulse, 0.05 * pulse, origins(shape), visited,
              high=(0.85 * 4.0 * np.pi / SPEEDS)[:, None] + 0.0 * p,
              high_why="the injector would be open longer than 85 % of two turns"),
        Table("lambda_target", "lambda target", Dimension.MIXTURE, (SPEED, PRESSURE), lam,
              filled(0.012, shape), origins(shape, Origin.RULE), visited,
              notes=("Rich under load for the exhaust valve and knock; it costs fuel and plugs.",),
              low=filled(0.72, shape), low_why="richer than this fouls the plugs",
              high=np.where(p > 1.0, 0.92, 1.06) + 0.0 * n,
              high_why="leaner than this under load melts the exhaust valve"),
        Table("spark", "spark before top dead centre", Dimension.SPARK, (SPEED, PRESSURE), -spark,
              filled(1.4 * DEG, shape), origins(shape), visited,
              low=-knock_edge, low_why="the charge knocks from here on"),
    )  # fmt: skip


def sample_beside() -> Beside:
    """MBT and ceilings that go with the sample."""
    n, p = SPEEDS[:, None] / RPM / 1000.0, PRESSURES[None, :] / 1e5
    mbt = -(38.0 - 11.0 * p + 1.6 * n) * DEG
    knock = np.where(SPEEDS > 2000 * RPM, 1.86e5 - 2e3 * np.arange(SPEEDS.size), np.nan)
    return Beside(mbt, SpeedCeilings(SPEEDS, knock, np.where(np.isfinite(knock), 1.74e5, np.nan)))


def row_tables() -> tuple[Table, ...]:
    warm = Axis("coolant_temperature", "coolant temperature", Dimension.TEMPERATURE,
                np.array([253.15, 273.15, 293.15, 323.15, 353.15]))  # fmt: skip
    n, v, w = SPEEDS.size, VOLTS.values.size, warm.values.size
    target = np.interp(SPEEDS / RPM, [800, 2000, 3000, 6500], [1.0, 1.05, 1.6, 1.55]) * 1e5
    return (
        Table("dead_time", "injector dead time", Dimension.TIME, (VOLTS,),
              np.array([2.6, 1.7, 1.2, 0.95, 0.8]) * 1e-3, filled(8e-5, (v,)), origins((v,), Origin.MAKER),
              np.array([False, False, True, True, False])),
        Table("warm_up_fuel", "warm-up enrichment", Dimension.RATIO, (warm,),
              np.array([1.6, 1.38, 1.22, 1.08, 1.0]), filled(0.06, (w,)), origins((w,), Origin.RULE),
              np.zeros(w, dtype=bool)),
        Table("boost_target", "boost target", Dimension.PRESSURE, (SPEED,), target, filled(3e3, (n,)),
              origins((n,)), np.ones(n, dtype=bool), pressure=PressureKind.ABSOLUTE),
        Table("gate_duty", "boost solenoid duty", Dimension.SHARE, (SPEED,),
              np.where(target > 1.3e5, 0.32, np.nan), filled(0.06, (n,)), origins((n,)),
              np.ones(n, dtype=bool), notes=("Empty where the gate is shut anyway.",)),
    )  # fmt: skip


def sample_calibration(checks: tuple[Check, ...] | None = None) -> Calibration:
    settings = (
        Setting("boost_cut", "boost cut", Dimension.PRESSURE, 1.8e5, 2.5e3, Origin.MODEL,
                "spring 0.45 bar, creep 0.1 bar, spike 0.15 bar and sensor tolerance below it",
                PressureKind.ABSOLUTE),
        Setting("speed_limit", "engine speed limit", Dimension.ROTATION, 6500 * RPM, 0.0, Origin.MAKER,
                "as the build states"),
    )  # fmt: skip
    if checks is None:
        checks = (
            Check("arithmetic", "The cells reproduce the sizing arithmetic to 0.1 %.", True),
            Check("cut.knock", "The cut at 180 kPa lies 3 kPa above what knocks at 3000 rpm on"
                  " the hot day.", False, (("boost_target", 4, 0),), "Lower the cut to 174 kPa absolute."),
            Check("cut.sensor", "The full scale of the pressure sensor is not stated.", None, (),
                  "State sensors.manifold_pressure_range."),
            Check("monotone", "Spark does not rise with pressure in any column.", True),
        )  # fmt: skip
    return Calibration(
        "Saturday saloon", "a1b2c3d4e5f60718293a4b5c6d7e8f90", (*grid_tables(), *row_tables()), settings,
        checks,
        (CAUTION,),
        ("Intake temperature is assumed.",), ("Acceleration fuel: the model is steady.",), 0.9,
    )  # fmt: skip
