"""What a fit found: factors of the model with their spreads, readings beside them, and what stayed open."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["FARTHEST", "FEWEST", "SUSPECT", "Fit", "FitLine", "known_word"]

Array = NDArray[np.float64]


FEWEST: Final = 3  # readings of a row, to speak of it as one
ROW_OFF: Final = 1.2  # spreads by which a whole row stands to one side, from which it is named (judgement)
FUEL_OFF: Final = 1.5  # spreads by which injector times and the other readings part, to be said (judgement)
FARTHEST: Final = 3.0  # spreads from the class beyond which hardly any engine lies (judgement)
SUSPECT: Final = 2.5  # mean square of the residuals, above which something is wrong


def known_word(share: float) -> str:
    """How well a factor is known after the fit, from `Fit.known`: 'told', 'partly' or 'no'."""
    return "told" if share < 0.7 else "partly" if share < 0.9 else "no"


@dataclass(frozen=True, slots=True)
class FitLine:
    """One row of readings beside the model, arrays (n,).

    what: in workshop words. unit: of the values, SI. speed: crank [rad/s]. read: as read, brought to the
    crank. sd: of each reading [same unit]. before, after: of the model without and with the fit. used: which
    of them the fit took for equal; a retarded spark is only a bound.
    """

    what: str
    unit: str
    speed: Array
    read: Array
    sd: Array
    before: Array
    after: Array
    used: NDArray[np.bool_]

    def off(self) -> Array:
        """Read less fitted over the spread of each reading that counts, the others left out."""
        with np.errstate(divide="ignore", invalid="ignore"):
            found = np.where(self.used, (self.read - self.after) / self.sd, np.nan)
        return np.asarray(found[np.isfinite(found)])

    def aside(self) -> float:
        """By how many spreads the whole row stands to one side, on average; 0 where it does not."""
        off = self.off()
        one_side = off.size >= FEWEST and (np.all(off > 0.0) or np.all(off < 0.0))
        mean = float(np.mean(off)) if one_side else 0.0
        return mean if abs(mean) > ROW_OFF else 0.0


@dataclass(frozen=True, slots=True)
class Fit:
    """Factors of the model for one engine.

    paths: fields of the build, k of them. value, sd: in the unit of the field, with the laws of a plain check
    (k,). before, before_sd: what the class or the file says of them. between, between_sd: half-way between
    those laws and the others of their pairs, about which draws with either law scatter (k,). correlation:
    (k, k), with either law, of the logarithms where the field is a factor. forms: names of the laws, f of
    them.
    with_forms: correlation of factors and laws (k, f). lines: readings beside the model. chi_square: sum of
    squared residuals over their number, spreads of the model's form and of the class included; 1 is usual
    [-]. told: how many independent numbers the readings told beyond the class. singular: spread of the class
    over that of the readings alone, by direction. words:
    what was told and what not, sentences. fingerprint: of the build.
    """

    paths: tuple[str, ...]
    value: Array
    sd: Array
    before: Array
    before_sd: Array
    between: Array
    between_sd: Array
    correlation: Array
    forms: tuple[str, ...]
    with_forms: Array
    lines: tuple[FitLine, ...]
    chi_square: float
    told: int
    singular: Array
    words: tuple[str, ...]
    fingerprint: str
    fuel_off: float = math.nan
    fuel_off_sd: float = math.nan

    @property
    def known(self) -> Array:
        """Spread after over spread before, factors as shares of themselves (k,); see `known_word`."""
        scale = np.array([v / b if b > 0.0 else 1.0 for v, b in zip(self.value, self.before, strict=True)])
        before = np.where(self.before_sd > 0.0, self.before_sd, np.inf)
        return np.asarray(np.where(self.before_sd > 0.0, self.sd / scale / before, 1.0))

    @property
    def moved(self) -> Array:
        """How far each factor came out from the class, in its spreads (k,); factors as logarithms."""
        pairs = zip(self.value, self.before, self.before_sd, strict=True)
        return np.array(
            [
                0.0 if sd <= 0.0 else np.log(max(v / b, 1e-6)) * b / sd if b > 0.0 else (v - b) / sd
                for v, b, sd in pairs
            ]
        )

    @property
    def contradicted(self) -> bool:
        """Whether readings contradict each other or the engine, so that what rests on the fit is doubtful."""
        aside = any(line.aside() for line in self.lines)
        return self.chi_square > SUSPECT or aside or bool(np.any(np.abs(self.moved) > FARTHEST))

    @property
    def rail_of_stated(self) -> float:
        """Rail pressure over the stated one that would bring injector times and the rest together; NaN where
        they do not part by more than they may. The flow of an injector goes with the root of the pressure.
        """
        parted = abs(self.fuel_off) > FUEL_OFF * self.fuel_off_sd
        return math.exp(-2.0 * self.fuel_off) if parted else math.nan

    def together(self) -> dict[tuple[str, str], float]:
        """Correlations between fields, and between fields and laws of the model, for a sampled check."""
        found = {
            (path, form): float(self.with_forms[i, j])
            for i, path in enumerate(self.paths)
            for j, form in enumerate(self.forms)
        }
        for i, first in enumerate(self.paths):
            for j in range(i):
                if abs(self.correlation[i, j]) > 0.02:
                    found[first, self.paths[j]] = float(self.correlation[i, j])
        return found

    def to_plain(self) -> dict[str, Any]:
        """As plain lists and numbers, for a file."""
        return {
            "paths": list(self.paths),
            "value": self.value.tolist(),
            "sd": self.sd.tolist(),
            "before": self.before.tolist(),
            "before_sd": self.before_sd.tolist(),
            "correlation": self.correlation.tolist(),
            "between": self.between.tolist(),
            "between_sd": self.between_sd.tolist(),
            "forms": list(self.forms),
            "with_forms": self.with_forms.tolist(),
            "lines": [
                {
                    "what": line.what,
                    "unit": line.unit,
                    **{
                        name: getattr(line, name).tolist()
                        for name in ("speed", "read", "sd", "before", "after", "used")
                    },
                }
                for line in self.lines
            ],
            "chi_square": self.chi_square,
            "told": self.told,
            "singular": self.singular.tolist(),
            "words": list(self.words),
            "fuel_off": None if math.isnan(self.fuel_off) else [self.fuel_off, self.fuel_off_sd],
            "fingerprint": self.fingerprint,
        }

    @classmethod
    def from_plain(cls, given: Mapping[str, Any]) -> Fit:
        """The fit of `to_plain`. Raises KeyError, TypeError or ValueError for anything else."""
        arrays = {
            name: np.asarray(given[name], dtype=np.float64)
            for name in (
                "value",
                "sd",
                "before",
                "before_sd",
                "correlation",
                "between",
                "between_sd",
                "with_forms",
                "singular",
            )
        }
        k, forms = len(given["paths"]), tuple(str(f) for f in given["forms"])
        if any(
            arrays[n].shape != (k,) for n in ("value", "sd", "before", "before_sd", "between", "between_sd")
        ):
            raise ValueError("a fit with rows of unlike length")
        if arrays["with_forms"].shape != (k, len(forms)):
            raise ValueError("a fit with laws of unlike number")
        if arrays["correlation"].shape != (k, k) or not all(np.isfinite(a).all() for a in arrays.values()):
            raise ValueError("a fit whose numbers are none")
        lines = tuple(
            FitLine(
                what=str(line["what"]),
                unit=str(line["unit"]),
                used=np.asarray(line["used"], dtype=bool),
                **{
                    n: np.asarray(line[n], dtype=np.float64)
                    for n in ("speed", "read", "sd", "before", "after")
                },
            )
            for line in given["lines"]
        )
        parted = given.get("fuel_off")
        fuel_off, fuel_off_sd = (math.nan, math.nan) if parted is None else (float(v) for v in parted)
        return cls(
            paths=tuple(str(p) for p in given["paths"]),
            fuel_off=fuel_off,
            fuel_off_sd=fuel_off_sd,
            lines=lines,
            forms=forms,
            chi_square=float(given["chi_square"]),
            told=int(given["told"]),
            words=tuple(str(w) for w in given["words"]),
            fingerprint=str(given["fingerprint"]),
            **arrays,
        )
