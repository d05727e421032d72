"""The fit: factors that stand nearest to the readings and to what the class says, both by their spreads.

x = argmin sum ((read - model(x))/sd)^2 + sum ((x - x_prior)/sd_prior)^2, by Gauss and Newton with the slopes
kept until they no longer help; the spread afterwards is (J' J + P^-1)^-1. What the readings do not tell stays
where the class has it, with its spread.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.errors import NotConverged
from boostwright.fitting.data import (
    HUMP_SD,
    SPARK_LEVEL_SD,
    SPARK_TILT_SD,
    TORQUE_TILT_SD,
    Conditions,
    Quantity,
    Row,
    conditions_of,
    rows_of,
)
from boostwright.fitting.geometry import breathing_spread
from boostwright.fitting.model import FACTORS, NUISANCES, Seen, Viewed, field_value, is_factor, spread_of
from boostwright.fitting.record import Fit, FitLine
from boostwright.fitting.words import words_of

__all__ = ["fit", "posterior", "told"]

Array = NDArray[np.float64]

_ROUNDS: Final = 12
_TRIES: Final = 6  # shorter steps before a place counts as the best
_WORTH: Final = 0.02  # of the sum of squares: what is gained below it is noise of the search for the spark
_DAMPING: Final = 0.1
_BREATHING: Final = FACTORS[:3]
_STILL: Final = 0.02  # of a prior spread: a step shorter than this is none
_LONGEST: Final = 2.5  # prior spreads in one step
_KNOCK_PER_RAD: Final = math.degrees(0.044)  # of the integral's logarithm, over spark
# Of the knock factor from no boost to 0.7 bar, beside the two laws: published exponents of pressure run from
# 1.05 to 1.7, which their pair (1.24 and 1.7) covers in part: 0.24 ln 1.7 (judgement). And what the computed
# spark is off by itself, which a fit must not take for known of another run: level, and tilt over all speeds.
_KNOCK_CARRIED: Final = math.hypot(
    0.13, _KNOCK_PER_RAD * SPARK_LEVEL_SD, _KNOCK_PER_RAD * SPARK_TILT_SD / math.sqrt(3.0)
)
_CAUTION: Final = math.radians(10.0)  # that a map keeps off its limit at most (common practice)
_RETARDED: Final = 1.5  # spreads by which a logged spark is later than the model's, to be taken for retarded


@dataclass(frozen=True, slots=True)
class _Problem:
    """Rows and unknowns. Unknowns: factors, conditions, and what is added to rows: shifts that a row shares,
    tilts of the model's spark and torque over speed, and humps of breathing that no smooth factor follows.

    The unknowns are independent beforehand. Level, slope and curve of breathing are not, as cams and ports
    move all three: so the first unknowns are mixtures of the factors, and `mix` makes factors of them.
    """

    rows: tuple[Row, ...]
    prior_sd: Array  # (k,)
    mix: Array  # (factors, factors): moves of the factors = mix @ the first unknowns
    added: tuple[Array, ...]  # (n, q) for each row, what one unit of each of the last q unknowns adds to it
    retarded: bool = False  # whether the logged spark is taken for a cautious map

    def move(self, x: Array) -> Array:
        """Moves of the factors at unknowns x (k,)."""
        return np.asarray(self.mix @ x[: len(FACTORS)])

    @property
    def factor_sd(self) -> Array:
        """What each factor is unsure of beforehand, as a move."""
        return np.asarray(np.sqrt((self.mix**2) @ self.prior_sd[: len(FACTORS)] ** 2))


def fit(build: Build, progress: Callable[[str], None] = lambda _: None) -> Fit:
    """Fit the model's factors to what the file says of the engine before the conversion.

    build: with [baseline] torque; the rows logged with it are used where they stand. returns: see `Fit`.
    Raises OutOfRange where there is nothing to fit to, NotConverged where the fit does not settle.
    """
    at = conditions_of(build)
    rows = rows_of(build, at)
    model = Viewed(build, at)
    progress("computing the engine as the class has it")
    before, slopes = model.slopes(np.zeros(len(FACTORS)), np.zeros(len(NUISANCES)))
    progress("moving what is not known of valves, cams and runners")
    problem = _problem(build, model, rows, slopes)
    problem = replace(problem, retarded=_is_retarded(problem, before, slopes))
    found = _Search(model, problem, before, slopes).settle(progress)
    progress("fitting, with the other laws")
    others = model.other_laws(found.seen, problem.move(found.x), found.x[len(FACTORS) : _OWN])
    return _fit_of(build, at, problem, found, before, others)


@dataclass(frozen=True, slots=True)
class _At:
    """One place of the search. cost: sum of squares, those of the class included."""

    x: Array
    seen: Seen
    slopes: list[Seen]
    used: list[NDArray[np.bool_]]
    residual: Array
    cost: float


class _Search:
    """Steps of Gauss and Newton, shortened as Levenberg and Marquardt do until the sum of squares falls."""

    def __init__(self, model: Viewed, problem: _Problem, before: Seen, slopes: list[Seen]) -> None:
        self.model, self.problem = model, problem
        self.x = np.zeros(problem.prior_sd.size)
        self.seen, self.slopes = before, slopes

    def settle(self, progress: Callable[[str], None]) -> _At:
        """The best place. Raises NotConverged when no number comes out of the model."""
        at = self._at(self.x, self.seen, self.slopes)
        if not math.isfinite(at.cost):
            raise NotConverged(
                "the engine in the file computes to nothing at the speeds of the curve; check displacement,"
                " cams and compression, and the units of the speeds"
            )
        damping = _DAMPING
        for turn in range(_ROUNDS):
            progress(f"fitting, round {turn + 1}")
            better, damping = self._better(at, damping)
            if better is None:
                break
            moved = float(np.max(np.abs(better.x - at.x)[:_OWN] / self.problem.prior_sd[:_OWN]))
            gained = at.cost - better.cost
            seen, slopes = self._slopes(better.x)
            at = self._at(better.x, seen, slopes)
            if moved < _STILL or gained < _WORTH:
                break
        return at

    def _better(self, at: _At, damping: float) -> tuple[_At | None, float]:
        """A place of smaller cost, and the damping to go on with; None where there is none."""
        J = _jacobian(self.problem, at.slopes, at.used)
        for _ in range(_TRIES):
            step = _step(self.problem, J, at.residual, at.x, damping)
            x = at.x + step
            (seen,) = self.model.see(self.problem.move(x), [x[len(FACTORS) : _OWN]])
            there = self._at(x, seen, at.slopes)
            if there.cost < at.cost:
                return there, damping / 5.0
            damping = max(5.0 * damping, _DAMPING)
            if float(np.max(np.abs(step) / self.problem.prior_sd)) < _STILL:
                break
        return None, damping

    def _slopes(self, x: Array) -> tuple[Seen, list[Seen]]:
        return self.model.slopes(self.problem.move(x), x[len(FACTORS) : _OWN])

    def _at(self, x: Array, seen: Seen, slopes: list[Seen]) -> _At:
        used = _used(self.problem, seen, x)
        residual = _residual(self.problem, seen, x, used)
        cost = float(np.sum(residual**2) + np.sum((x / self.problem.prior_sd) ** 2))
        return _At(x, seen, slopes, used, residual, cost)


_OWN: Final = len(FACTORS) + len(NUISANCES)


def _problem(build: Build, model: Viewed, rows: tuple[Row, ...], slopes: list[Seen]) -> _Problem:
    at, k = model.at, len(FACTORS)
    alone = np.array([spread_of(p, build.number(p), max(float(build[p].sd), 1e-4)) for p in FACTORS])
    parts = breathing_spread(build, model.points(np.zeros(len(NUISANCES))), model.factors(np.zeros(k)))
    together = np.diag(alone**2)
    free = np.array([p in _BREATHING and not build.is_stated(p) for p in FACTORS])
    inner = np.zeros((k, k))
    inner[:3, :3] = parts.covariance
    together += np.where(np.outer(free, free), inner, 0.0)
    share, mix = np.linalg.eigh(together / np.outer(alone, alone))  # spreads of unlike size: relative first
    mix = alone[:, None] * mix
    priors = list(np.sqrt(share))
    warm = at.temperature_sd / float(np.mean(at.temperature))
    priors += [at.lam_sd, warm, at.drop_sd, at.rise_sd]
    n = at.speed.size
    way = (at.speed - at.speed.mean()) / max(0.5 * float(np.ptp(at.speed)), 1.0)
    tilts = {Quantity.SPARK: SPARK_TILT_SD, Quantity.TORQUE: TORQUE_TILT_SD}
    sds = [*(row.common for row in rows), *tilts.values(), *np.hypot(HUMP_SD, parts.left)]
    added = []
    for i, row in enumerate(rows):
        shifts = np.zeros((n, len(rows)))
        shifts[:, i] = 1.0
        tilted = np.column_stack([way if row.quantity is which else np.zeros(n) for which in tilts])
        humps = np.diag(slopes[0].of(row.quantity))  # a hump is a factor on the charge at one speed alone
        added.append(np.hstack([shifts, tilted, humps]))
    return _Problem(rows, np.maximum(priors + sds, 1e-6), mix, tuple(added))


def _jacobian(problem: _Problem, slopes: list[Seen], used: list[NDArray[np.bool_]]) -> Array:
    """Slopes of what is read over its spread, (m, k); a reading that is not used has none."""
    blocks = []
    for row, added, use in zip(problem.rows, problem.added, used, strict=True):
        own = _own(problem, [slope.of(row.quantity) for slope in slopes])
        blocks.append(np.where(use[:, None], np.hstack([own, added]) / row.sd[:, None], 0.0))
    return np.vstack(blocks)


def _own(problem: _Problem, slopes: list[Array]) -> Array:
    """Slopes of one row (n, f + c) over the first unknowns, from those over factors and conditions."""
    k, columns = len(FACTORS), np.column_stack(slopes)
    return np.hstack([columns[:, :k] @ problem.mix, columns[:, k:]])


def _residual(problem: _Problem, here: Seen, x: Array, used: list[NDArray[np.bool_]]) -> Array:
    """Read less model over its spread, (m,); of a cautious map what is beyond its caution."""
    parts = []
    for row, added, use in zip(problem.rows, problem.added, used, strict=True):
        off = row.value - here.of(row.quantity) - added @ x[_OWN:]
        if row.quantity is Quantity.SPARK and problem.retarded:
            off = np.where(off > _CAUTION, off - _CAUTION, off)
        off = off / row.sd
        parts.append(np.where(use, np.where(np.isfinite(off), off, np.inf), 0.0))
    return np.concatenate(parts)


def _step(problem: _Problem, J: Array, residual: Array, x: Array, damping: float) -> Array:
    """A damped step towards readings and class, no longer than a few spreads of the class."""
    P = np.diag(problem.prior_sd**-2)
    step = np.linalg.solve(J.T @ J + (1.0 + damping) * P, J.T @ residual - P @ x)
    longest = float(np.max(np.abs(step) / problem.prior_sd))
    return np.asarray(step * min(1.0, _LONGEST / max(longest, 1e-12)))


def posterior(J: Array, prior_sd: Array) -> Array:
    """Covariance after readings of slopes J (over their spreads) on unknowns with prior spreads: (J'J +
    P)^-1.
    """
    return np.asarray(np.linalg.inv(J.T @ J + np.diag(np.asarray(prior_sd, dtype=np.float64) ** -2)))


def _shifts(problem: _Problem, J: Array, others: dict[str, Seen], used: list[NDArray[np.bool_]]) -> Array:
    """By how much the factors would stand elsewhere, had the fit been made with the other laws (k, f).

    Linear: what another law adds to the model, the factors take back, x = -(J' J + P^-1)^-1 J' d.
    """
    gain = posterior(J, problem.prior_sd) @ J.T
    found = []
    for other in others.values():
        d = [
            np.where(use, other.of(row.quantity), 0.0) / row.sd
            for row, use in zip(problem.rows, used, strict=True)
        ]
        found.append(-problem.move(gain @ np.concatenate(d)))
    return np.column_stack(found)


def _alike(J: Array) -> dict[str, tuple[str, float]]:
    """For each factor the other whose effect runs most parallel to its own, and the cosine between them."""
    length = np.linalg.norm(J, axis=0)
    cosine = np.abs(J.T @ J) / np.maximum(np.outer(length, length), 1e-12)
    np.fill_diagonal(cosine, 0.0)
    most = cosine.argmax(axis=1)
    return {p: (FACTORS[most[i]], float(cosine[i, most[i]])) for i, p in enumerate(FACTORS)}


def told(covariance: Array, prior_sd: Array) -> Array:
    """How much readings told in each of k independent directions, falling: the spread of the class over that
    of the readings alone, both in that direction [-]. Above 1 the readings know more than the class.

    s = sqrt(1/l - 1), l the eigenvalues of the covariance in spreads of the class; for a linear model without
    other unknowns the singular values of slopes over spread of reading, times spread of the class.
    """
    share = np.linalg.eigvalsh(covariance / np.outer(prior_sd, prior_sd))
    return np.asarray(np.sqrt(np.maximum(1.0 / np.clip(share, 1e-12, 1.0) - 1.0, 0.0)))


def _is_retarded(problem: _Problem, seen: Seen, slopes: list[Seen]) -> bool:
    """Whether a logged spark stands later than the class can have it, on the whole: later than both the best
    and the knock-limited one by more than reading and class are unsure.
    """
    for row, added in zip(problem.rows, problem.added, strict=True):
        if row.quantity is Quantity.SPARK:
            own = _own(problem, [slope.spark for slope in slopes])
            moves = np.hstack([own, added]) * problem.prior_sd
            spread = np.sqrt(row.sd**2 + np.sum(moves**2, axis=1))
            return bool(np.mean((row.value - seen.spark) / spread) > _RETARDED)
    return False


def _used(problem: _Problem, seen: Seen, x: Array) -> list[NDArray[np.bool_]]:
    """Which readings count. A retarded spark counts where the model asks for a later one, and where it asks
    for one so early that no map is that cautious; between the two it says nothing.
    """
    found = []
    for row, added in zip(problem.rows, problem.added, strict=True):
        use = np.isfinite(row.value)
        if row.quantity is Quantity.SPARK and problem.retarded:
            off = row.value - added @ x[_OWN:] - seen.spark
            use &= (off < 0.0) | (off > _CAUTION)
        found.append(use)
    return found


def _fit_of(
    build: Build,
    at: Conditions,
    problem: _Problem,
    found: _At,
    before: Seen,
    others: dict[str, Seen],
) -> Fit:
    x, after, used = found.x, found.seen, found.used
    J = _jacobian(problem, found.slopes, used)
    k = len(FACTORS)
    shifts = _shifts(problem, J, others, used)
    count = max(int(sum(u.sum() for u in used)), 1)
    chi_square = found.cost / count
    covariance = posterior(J, problem.prior_sd)[:k, :k]
    singular = told(covariance, problem.prior_sd[:k])
    covariance, class_sd = problem.mix @ covariance @ problem.mix.T, problem.factor_sd
    spread = np.sqrt(np.diag(covariance))
    widened = np.minimum(spread * math.sqrt(max(chi_square, 1.0)), class_sd)
    whole = covariance / np.outer(spread, spread) * np.outer(widened, widened)
    whole += 0.25 * shifts @ shifts.T  # either law with even odds
    knock = FACTORS.index("model.knock")  # never less sure than the class has it
    room = max(class_sd[knock] ** 2 - whole[knock, knock], 0.0)
    whole[knock, knock] += min(_KNOCK_CARRIED**2, room)
    broad = np.sqrt(np.diag(whole))
    middle = np.array([build.number(path) for path in FACTORS])
    value, between = (
        np.array([field_value(p, m, move) for p, m, move in zip(FACTORS, middle, moves, strict=True)])
        for moves in (problem.move(x), problem.move(x) + 0.5 * shifts.sum(axis=1))
    )
    scale = np.array([v if is_factor(p) else 1.0 for p, v in zip(FACTORS, value, strict=True)])
    parted = _fuel_left_out(problem, J, found.residual, x, used)
    lines = tuple(_line(row, at, before, after, use) for row, use in zip(problem.rows, used, strict=True))
    made = Fit(
        paths=FACTORS,
        value=value,
        sd=widened * scale,
        before=middle,
        before_sd=np.array([float(build[p].sd) for p in FACTORS]),
        between=between,
        between_sd=broad * scale,
        correlation=whole / np.outer(broad, broad),
        forms=tuple(others),
        with_forms=0.5 * shifts / broad[:, None],
        lines=lines,
        chi_square=chi_square,
        told=int(np.sum(singular > 1.0)),
        singular=np.asarray(singular),
        words=(),
        fingerprint=build.fingerprint,
        fuel_off=parted[0],
        fuel_off_sd=parted[1],
    )
    return words_of(
        made, build, problem.rows, problem.retarded, _alike(J[:, :k] @ np.linalg.inv(problem.mix))
    )


def _fuel_left_out(
    problem: _Problem, J: Array, residual: Array, x: Array, used: list[NDArray[np.bool_]]
) -> tuple[float, float]:
    """Fuel by injector times less what all other readings make of it, mean of logarithms, and its spread.

    Linear about the fit x: without these rows it would stand at x + dx, dx = C (J' r - P^-1 x), C = (J' J +
    P^-1)^-1 of the others. NaN where there are none.
    """
    n = residual.size // len(problem.rows)
    for i, (row, use) in enumerate(zip(problem.rows, used, strict=True)):
        if row.quantity is not Quantity.FUEL or not use.any():
            continue
        theirs = np.ones(residual.size, dtype=bool)
        theirs[i * n : (i + 1) * n] = False
        C = posterior(J[theirs], problem.prior_sd)
        dx = C @ (J[theirs].T @ residual[theirs] - x * problem.prior_sd**-2)
        own = residual[~theirs] - J[~theirs] @ dx
        slope = (J[~theirs] * row.sd[:, None])[use].mean(axis=0)
        scatter = float(np.sqrt(np.sum(row.sd[use] ** 2))) / int(use.sum())
        return float(np.mean((own * row.sd)[use])), math.hypot(math.sqrt(float(slope @ C @ slope)), scatter)
    return math.nan, math.nan


def _line(row: Row, at: Conditions, before: Seen, after: Seen, used: NDArray[np.bool_]) -> FitLine:
    logged = row.quantity in (Quantity.TORQUE, Quantity.AIR, Quantity.FUEL)
    turn = np.exp if logged else np.asarray
    read, a, b = (
        np.asarray(turn(v), dtype=np.float64)
        for v in (row.value, before.of(row.quantity), after.of(row.quantity))
    )
    sd = np.hypot(row.sd, row.common) * (read if logged else 1.0)
    return FitLine(row.words, row.unit, at.speed, read, np.asarray(sd), a, b, used)
