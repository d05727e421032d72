"""What a fit found: factors of the model with their spreads, readings beside them, and what stayed open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Fit", "FitLine"]

Array = NDArray[np.float64]


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
        return cls(
            paths=tuple(str(p) for p in given["paths"]),
            lines=lines,
            forms=forms,
            chi_square=float(given["chi_square"]),
            told=int(given["told"]),
            words=tuple(str(w) for w in given["words"]),
            fingerprint=str(given["fingerprint"]),
            **arrays,
        )
