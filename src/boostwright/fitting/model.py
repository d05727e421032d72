"""The model at one set of factors, seen through what a run reads, and its slopes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.fitting.data import Conditions, Quantity
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import limited_spark
from boostwright.systems.engine.types import HeatLaw, ModelFactors, OperatingPoints
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of

__all__ = ["FACTORS", "FORMS", "NUISANCES", "Laws", "Seen", "Viewed", "field_value", "is_factor", "spread_of"]

Array = NDArray[np.float64]

FACTORS: Final = (
    "model.breathing",
    "model.breathing_slope",
    "model.breathing_curve",
    "model.friction",
    "model.burn",
    "model.heat",
    "model.knock",
    "model.knock_warmth",
)
NUISANCES: Final = ("lambda", "inlet temperature", "plenum pressure", "back pressure")
# No factors: added.
_STRAIGHT: Final = frozenset(
    {"model.breathing_slope", "model.breathing_curve", "model.knock_warmth"}
)  # no factors: added
_STEP: Final = 0.04  # of a factor's logarithm; the search of the best spark is good to 0.05 degrees
_NUISANCE_STEPS: Final = (0.02, 0.02, 0.5, 0.25)


@dataclass(frozen=True, slots=True)
class Laws:
    """Which of the published laws the model uses; the defaults are those of a plain check."""

    heat: HeatLaw = HeatLaw.WOSCHNI
    knock: float = 0.5  # weight of the guideline delay, as `CycleSolver` takes it


USUAL: Final = Laws()
FORMS: Final = {  # the other law of each pair between which nobody can choose beforehand
    "form.heat_law": Laws(heat=HeatLaw.HOHENBERG),
    "form.knock_law": Laws(knock=1.0),
}


def is_factor(path: str) -> bool:
    """Whether a field multiplies; the others are added to a logarithm."""
    return path not in _STRAIGHT


def field_value(path: str, middle: float, move: float) -> float:
    """The value of a field moved from its middle: factors by exp(move), the others by adding."""
    return middle + move if path in _STRAIGHT else middle * math.exp(move)


def spread_of(path: str, middle: float, sd: float) -> float:
    """The spread of a move that a field's spread stands for."""
    return sd if path in _STRAIGHT else sd / middle


@dataclass(frozen=True, slots=True)
class Seen:
    """What the model says, arrays (n,), in the scales of `Quantity`."""

    torque: Array
    air: Array
    fuel: Array  # for each cylinder and cycle
    spark: Array  # the later of best and knock-limited [rad]
    exhaust: Array  # [K]

    def of(self, quantity: Quantity) -> Array:
        """The row that stands beside readings of a quantity."""
        return {
            Quantity.TORQUE: self.torque,
            Quantity.AIR: self.air,
            Quantity.FUEL: self.fuel,
            Quantity.SPARK: self.spark,
            Quantity.EXHAUST: self.exhaust,
        }[quantity]


class Viewed:
    """The model of one build under the conditions of its run."""

    def __init__(self, build: Build, at: Conditions) -> None:
        self.engine, self.fuel, self.at = engine_of(build), fuel_of(build), at
        self.usual = {law: factors_of(build, law) for law in HeatLaw}
        self.middle = np.array([build.number(path) for path in FACTORS])

    def factors(self, move: Array, law: HeatLaw = HeatLaw.WOSCHNI) -> ModelFactors:
        """The model's factors, moved; move: (8,) in the order of FACTORS."""
        u = self.usual[law]
        return replace(
            u,
            breathing=u.breathing * math.exp(move[0]),
            breathing_slope=u.breathing_slope + float(move[1]),
            breathing_curve=u.breathing_curve + float(move[2]),
            friction=u.friction * math.exp(move[3]),
            burn=u.burn * math.exp(move[4]),
            heat=u.heat * math.exp(move[5]),
            knock=u.knock * math.exp(move[6]),
            knock_warmth=u.knock_warmth + float(move[7]),
        )

    def points(self, nuisance: Array) -> OperatingPoints:
        """Operating points with the run's conditions moved; nuisance: (4,) in the order of NUISANCES."""
        at = self.at
        lam, warm, plenum, back = (float(v) for v in nuisance)
        pressure = at.plenum * math.exp(plenum) if at.plenum_logged else at.plenum - plenum * at.drop
        return OperatingPoints(
            speed=at.speed,
            plenum_pressure=pressure,
            plenum_temperature=at.temperature * math.exp(warm),
            exhaust_pressure=at.exhaust + at.rise * (math.expm1(back) if back < 0.0 else back),
            lam=at.lam * math.exp(lam),
            spark=np.full(at.speed.shape, math.radians(-22.0)),
        )

    def see(self, move: Array, nuisances: list[Array], laws: Laws = USUAL) -> list[Seen]:
        """What the model says at one set of factors and several sets of conditions, in one batch."""
        solver = CycleSolver(
            self.engine,
            self.fuel,
            factors=self.factors(move, laws.heat),
            heat_law=laws.heat,
            knock_law=laws.knock,
        )
        sets = [self.points(nuisance).arrays() for nuisance in nuisances]
        whole = OperatingPoints(*(np.concatenate(column) for column in zip(*sets, strict=True)))
        found = limited_spark(solver, whole)
        cycle, n = found.at_used, self.at.speed.size
        per_cycle = cycle.fuel_flow * 4.0 * np.pi / (np.asarray(whole.speed) * self.engine.cylinders)
        spark = np.where(np.isfinite(found.used), found.used, math.radians(25.0))
        with np.errstate(invalid="ignore", divide="ignore"):
            columns = (
                np.log(np.maximum(cycle.torque, 1.0)),
                np.log(cycle.air_flow),
                np.log(per_cycle),
                spark,
                np.asarray(cycle.exhaust_manifold_temperature),
            )
        return [Seen(*(np.asarray(c)[k * n : (k + 1) * n] for c in columns)) for k in range(len(nuisances))]

    def slopes(self, move: Array, nuisance: Array) -> tuple[Seen, list[Seen]]:
        """What the model says, and its change for each unknown of FACTORS and NUISANCES, by differences."""
        moved = [nuisance + step * np.eye(len(NUISANCES))[k] for k, step in enumerate(_NUISANCE_STEPS)]
        here, *there = self.see(move, [nuisance, *moved])
        found = []
        for k in range(len(FACTORS)):
            (other,) = self.see(move + _STEP * np.eye(len(FACTORS))[k], [nuisance])
            found.append(_slope(here, other, _STEP))
        found += [_slope(here, t, step) for t, step in zip(there, _NUISANCE_STEPS, strict=True)]
        return here, found

    def other_laws(self, here: Seen, move: Array, nuisance: Array) -> dict[str, Seen]:
        """By what each of the other laws of FORMS changes what the model says."""
        found = {}
        for name, laws in FORMS.items():
            (there,) = self.see(move, [nuisance], laws)
            found[name] = _slope(here, there, 1.0)
        return found


def _slope(here: Seen, there: Seen, step: float) -> Seen:
    return Seen(
        *(
            (getattr(there, name) - getattr(here, name)) / step
            for name in ("torque", "air", "fuel", "spark", "exhaust")
        )
    )
