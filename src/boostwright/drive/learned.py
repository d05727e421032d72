"""What a drive taught: unknowns before and after, the breathing correction, where it is only continued."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build

__all__ = ["DOUBTFUL", "BreathingMap", "Learned", "LearnedLine", "learned_build", "learned_note"]

Array = NDArray[np.float64]

DOUBTFUL: Final = 2.5  # spreads from where it stood, beyond which a move is not taken over (judgement)
FORM: Final = 1  # of the record; it grows with its fields


@dataclass(frozen=True, slots=True)
class LearnedLine:
    """One unknown before and after. Values of fields in SI; of sensors and models the move.

    known: spread after over spread before, as moves [-]; see `fitting.record.known_word`.
    """

    name: str
    words: str
    dimension: str
    before: float
    before_sd: float
    after: float
    after_sd: float
    known: float
    is_field: bool

    @property
    def moved(self) -> float:
        """How far it moved, in spreads beforehand [-]."""
        return 0.0 if self.before_sd <= 0.0 else (self.after - self.before) / self.before_sd


@dataclass(frozen=True, slots=True)
class BreathingMap:
    """Factor on the model's charge over crank speed (n,) [rad/s] and manifold pressure (m,) [Pa], SI.

    factor, sd: (n, m), sd of the factor; before_sd: what it was beforehand. covered: (n, m) whether readings
    stand near; elsewhere it is a smooth continuation of those and says so. seen_*: the places read (c,), what
    each said alone and its standard deviation.
    """

    speed: Array
    pressure: Array
    factor: Array
    sd: Array
    before_sd: Array
    covered: NDArray[np.bool_]
    seen_speed: Array
    seen_pressure: Array
    seen_factor: Array
    seen_sd: Array


@dataclass(frozen=True, slots=True)
class Learned:
    """What one drive taught of one build.

    file: of the drive. fingerprint: of the build. correlation: (k, k) between the fields among `lines`, of
    their moves. chi_square: of the readings by what was known beforehand, near 1 where the belief was right;
    left: the same about the answer. readings: places that counted. words: sentences on what was told and what
    not.
    """

    file: str
    fingerprint: str
    lines: tuple[LearnedLine, ...]
    correlation: Array
    breathing: BreathingMap
    chi_square: float
    left: float
    readings: int
    words: tuple[str, ...]

    @property
    def fields(self) -> tuple[LearnedLine, ...]:
        """The lines that are fields of the build."""
        return tuple(line for line in self.lines if line.is_field)

    @property
    def doubtful(self) -> tuple[LearnedLine, ...]:
        """The fields that moved too far to be believed without a look; nothing takes them over."""
        return tuple(line for line in self.fields if _doubtful(line))

    def line(self, name: str) -> LearnedLine:
        """One line. Raises KeyError."""
        for one in self.lines:
            if one.name == name:
                return one
        raise KeyError(name)

    def together(self) -> dict[tuple[str, str], float]:
        """Correlations between fields that are worth their name, for a sampled check."""
        names = [line.name for line in self.fields]
        return {
            (names[i], names[j]): float(self.correlation[i, j])
            for i in range(len(names))
            for j in range(i)
            if abs(self.correlation[i, j]) > 0.02
        }

    def to_plain(self) -> dict[str, Any]:
        """As plain lists and numbers, for JSON."""
        return {
            "form": FORM,
            "file": self.file,
            "fingerprint": self.fingerprint,
            "lines": [{name: getattr(line, name) for name in LearnedLine.__slots__} for line in self.lines],
            "correlation": self.correlation.tolist(),
            "breathing": {name: getattr(self.breathing, name).tolist() for name in BreathingMap.__slots__},
            "chi_square": self.chi_square,
            "left": self.left,
            "readings": self.readings,
            "words": list(self.words),
        }

    @classmethod
    def from_plain(cls, given: Mapping[str, Any]) -> Learned:
        """The record of `to_plain`. Raises KeyError, TypeError or ValueError for anything else."""
        if given["form"] != FORM:
            raise ValueError(
                f"what a drive taught is kept in form {given['form']!r}; this program reads {FORM}"
            )
        lines = tuple(LearnedLine(**line) for line in given["lines"])
        kept = given["breathing"]
        arrays = {name: np.asarray(kept[name], dtype=np.float64) for name in BreathingMap.__slots__}
        shape = (arrays["speed"].size, arrays["pressure"].size)
        if any(arrays[name].shape != shape for name in ("factor", "sd", "before_sd", "covered")):
            raise ValueError("a breathing correction whose table does not fit its axes")
        correlation = np.asarray(given["correlation"], dtype=np.float64)
        fields = sum(line.is_field for line in lines)
        if correlation.shape != (fields, fields) or not np.isfinite(correlation).all():
            raise ValueError("correlations that do not fit the fields")
        covered = arrays.pop("covered") > 0.5
        return cls(
            str(given["file"]),
            str(given["fingerprint"]),
            lines,
            correlation,
            BreathingMap(covered=covered, **arrays),
            float(given["chi_square"]),
            float(given["left"]),
            int(given["readings"]),
            tuple(str(w) for w in given["words"]),
        )


def learned_note(file: str) -> str:
    """What stands beside a value that a drive moved."""
    return f"with what a recorded drive showed: {file}"


def _doubtful(line: LearnedLine) -> bool:
    """Whether a move is too far to be believed. More knock than the model has is believed however far it is:
    to doubt it would leave the spark where the engine was heard to knock.
    """
    return abs(line.moved) > DOUBTFUL and not (line.name == "model.knock" and line.moved > 0.0)


def learned_build(build: Build, learned: Learned) -> Build:
    """The build with what a drive taught of its fields.

    What the file states was the prior, with its spread, so what was learned holds it as well; the file itself
    is not touched. Fields without spread, those that the drive told nothing of, and those that it would
    move by more than DOUBTFUL of their spreads stay: something else is wrong then. Taking the revision
    back gives the build as it was.
    """
    stated, assumed = dict(build.values), {}
    for line in learned.fields:
        old = build.get(line.name)
        if old is None or not old.sd or line.known > 0.98 or _doubtful(line):
            continue
        new = replace(old, value=line.after, sd=line.after_sd, note=learned_note(learned.file))
        if build.is_stated(line.name):
            stated[line.name] = new
        else:
            assumed[line.name] = new
    return replace(build, values=stated, _defaults=assumed)
