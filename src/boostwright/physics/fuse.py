"""Fuses: when one opens, whether it lives through an inrush, whether it opens before its cable is harmed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange

__all__ = [
    "CableProtection",
    "FuseGates",
    "OpeningBand",
    "PulseVerdict",
    "RatingChoice",
    "RatingRule",
    "cable_protection",
    "choose_ratings",
    "opening_band",
    "pulse_use",
    "rating_at",
    "rating_rule",
    "survives_pulse",
]

Array = NDArray[np.float64]

CONVENTIONAL_OVERLOAD: Final = (
    1.45  # of its continuous current that a cable bears until a fuse opens (iec60364) [-]
)


class FuseGates(NamedTuple):
    """Gates of a fuse type: at a multiple of the rated current it opens no earlier and no later than this."""

    ratio: Array  # current over rated current, rising [-]
    earliest: Array  # [s], falling
    latest: Array  # [s], falling; infinity where it need not open at all
    breaking_current: float = np.inf  # most that it can interrupt [A]
    quickest: float = 0.005  # however great the current, with the arc's time, as the latest [s] (judgement)


class OpeningBand(NamedTuple):
    """When a fuse opens; infinity: not, or not for certain. Both [s]."""

    earliest: Array
    latest: Array


def _checked(gates: FuseGates) -> FuseGates:
    """The gates as arrays; refuses those whose order would give a wrong time without a word."""
    ratio, earliest, latest = (np.asarray(x, dtype=np.float64) for x in gates[:3])
    if not (ratio.ndim == 1 and ratio.size >= 2 and ratio.shape == earliest.shape == latest.shape):
        raise OutOfRange(
            f"a fuse needs two gates or more, each with ratio, earliest and latest time; there are "
            f"{ratio.size}, {earliest.size} and {latest.size}"
        )
    if ratio[0] <= 0.0 or np.any(np.diff(ratio) <= 0.0):
        raise OutOfRange(f"the gates' current ratios must rise from above 0: {ratio.tolist()}")
    falling = np.all(earliest[1:] <= earliest[:-1]) and np.all(latest[1:] <= latest[:-1])
    if not falling or np.any(earliest <= 0.0) or np.any(latest < earliest):
        raise OutOfRange(
            f"at no gate may a fuse open later than at the one before, or earliest after latest: "
            f"earliest {earliest.tolist()} s, latest {latest.tolist()} s"
        )
    return FuseGates(ratio, earliest, latest, gates.breaking_current, gates.quickest)


def opening_band(
    gates: FuseGates, rating: ArrayLike, current: ArrayLike, *, by_steps: bool = False
) -> OpeningBand:
    """Earliest and latest opening time of a fuse at a steady current.

    Between two gates straight in log t over log I. Below the first it holds; where a gate has no latest time
    there is none up to the next. Past the last gate t I^2 stays, as heat has no time to leave; the latest is
    then no less than ``quickest``. Curves of fuses bend upwards in this net, so the line is on the safe side
    for the latest time and on the hopeful side for the earliest.

    gates: `FuseGates`. rating: rated current, at the temperature of the place (`rating_at`) [A]. current:
    [A]. by_steps: use no line but what the gates alone say: earliest as at the next gate, latest as at the
    last one. Error: at a gate every fuse of the standard lies in the band; between them see above.
    """
    ratios, earliest, latest, _, quickest = _checked(gates)
    ratio = np.abs(np.asarray(current, dtype=np.float64)) / np.asarray(rating, dtype=np.float64)
    within = np.clip(ratio, ratios[0], ratios[-1])
    past = (ratios[-1] / np.maximum(ratio, ratios[-1])) ** 2

    def line(times: Array) -> Array:
        certain = np.isfinite(times)
        if not np.any(certain):
            return np.full(ratio.shape, np.inf)
        logs = np.interp(np.log(within), np.log(ratios[certain]), np.log(times[certain]))
        return np.where(ratio < ratios[certain][0], np.inf, np.exp(logs) * past)

    late, early = line(latest), line(earliest)
    if by_steps:
        last = ratios.size - 1
        next_gate = np.clip(np.searchsorted(ratios, ratio, side="left"), 0, last)
        gate_before = np.clip(np.searchsorted(ratios, ratio, side="right") - 1, 0, last)
        early = np.where(np.isinf(early) | (ratio >= ratios[-1]), early, earliest[next_gate])
        late = np.where(np.isinf(late) | (ratio >= ratios[-1]), late, latest[gate_before])
    floor = min(quickest, float(latest[-1]))
    return OpeningBand(early, np.maximum(late, floor))


def rating_at(
    rating: ArrayLike, T: ArrayLike, slope: ArrayLike = 0.0015, T_rated: ArrayLike = 296.15
) -> Array:
    """Current at which a fuse in a hot or cold place behaves as at its rating, I_n (1 - s (T - T_rated)) [A].

    rating: I_n [A]. T: around the fuse [K]. slope: s, 0.001 to 0.002 (common practice, no source) [1/K].
    T_rated: [K]. Validity: 230 to 400 K. Heat makes it open earlier, cold later: take the hot end for
    `survives_pulse` and the cold end for `cable_protection`.
    """
    change = np.asarray(slope) * (np.asarray(T, dtype=np.float64) - np.asarray(T_rated))
    return np.asarray(np.asarray(rating) * np.maximum(1.0 - change, 0.0))


class PulseVerdict(NamedTuple):
    """Whether a fuse lives through a pulse."""

    survives: NDArray[np.bool_]
    margin: Array  # permitted time over that of the pulse [-]; above 1 it lives
    earliest: Array  # opening time at that current [s]


def survives_pulse(
    gates: FuseGates,
    rating: ArrayLike,
    current: ArrayLike,
    duration: ArrayLike,
    share: float = 1.0,
    *,
    by_steps: bool = False,
) -> PulseVerdict:
    """Whether the weakest fuse of a type lives through one pulse of current.

    It does where t < share x t_earliest(I). rating: [A]. current: of the pulse [A]. duration: t [s]. share:
    of the earliest time that may be used; 1 for one pulse from cold, less for one that comes again and again
    [-]. by_steps: as in `opening_band`.
    """
    earliest = opening_band(gates, rating, current, by_steps=by_steps).earliest
    t = np.asarray(duration, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        margin = np.where(np.isinf(earliest) | (t <= 0.0), np.inf, share * earliest / t)
    return PulseVerdict(np.asarray(margin > 1.0), margin, earliest)


def pulse_use(
    gates: FuseGates,
    rating: ArrayLike,
    currents: ArrayLike,
    durations: ArrayLike,
    preload: ArrayLike = 0.0,
    *,
    by_steps: bool = False,
) -> Array:
    """Use made of a fuse by a course of currents over the last axis [-]; at 1 the weakest one opens.

    w + sum of dt/t_earliest(I), w = (I_before/(r_1 I_n))^2: heat in the element before the course, r_1 being
    the first gate's ratio.

    currents: [A] and durations: [s], stretch by stretch, such as the inrush of a starter and then its
    cranking. rating: [A]. preload: I_before, that flowed for long before [A]; broadcasts with the result.
    Safe side where the currents fall; where a long weak stretch comes before a strong one the sum is too
    low: give the weak one as preload. by_steps: as in `opening_band`. (Our own rule.)
    """
    earliest = opening_band(gates, rating, currents, by_steps=by_steps).earliest
    warm = np.asarray(preload, dtype=np.float64) / (_checked(gates).ratio[0] * np.asarray(rating))
    return np.asarray(warm**2 + np.sum(np.asarray(durations, dtype=np.float64) / earliest, axis=-1))


class RatingRule(NamedTuple):
    """The two ratings that must stand in order. Shares [-], 1 or more is in order."""

    load: Array  # fuse's lasting current over the load's
    cable: Array  # cable's continuous current over the fuse's rating
    overload: Array  # overload that the cable bears over the current that opens the fuse for certain


def rating_rule(
    gates: FuseGates, rating: ArrayLike, load: ArrayLike, continuous: ArrayLike, lasting: ArrayLike = 0.75
) -> RatingRule:
    """Load, fuse and cable in order: I_load <= lasting x I_n, I_n <= I_z, I_opens <= 1.45 I_z.

    rating: I_n [A]. load: for good [A]. continuous: I_z, of the cable at its insulation's limit [A]. lasting:
    share of its rating that a fuse carries for good in a warm car, 0.70 to 0.80 (common practice, no source)
    [-]. I_opens: the first gate that has a latest time. Source: iec60364 for the last two, from memory; it is
    written for buildings. A load of seconds (starter) is judged by `pulse_use`, not by the first share.
    """
    checked = _checked(gates)
    certain = np.isfinite(checked.latest)
    opens = float(checked.ratio[certain][0]) if np.any(certain) else np.inf
    rated, hold = np.asarray(rating, dtype=np.float64), np.asarray(continuous, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return RatingRule(
            np.asarray(np.asarray(lasting) * rated / np.asarray(load, dtype=np.float64)),
            np.asarray(hold / rated),
            np.asarray(CONVENTIONAL_OVERLOAD * hold / (opens * rated)),
        )


class CableProtection(NamedTuple):
    """Whether a fuse opens before its cable reaches the limit, over a range of fault currents."""

    protects: bool
    margin: float  # worst withstand over latest opening time [-]; 1 or more protects
    current: float  # where [A]
    latest: float  # opening time there [s]
    withstand: float  # of the cable there [s]
    bare: tuple[float, float] | None  # lowest and highest current at which the cable is harmed first [A]
    interrupts: bool  # the fuse can break the greatest current of the range


def cable_protection(
    gates: FuseGates,
    rating: float,
    withstand: Callable[[Array], Array],
    least_current: float,
    most_current: float,
    points: int = 600,
    *,
    by_steps: bool = False,
) -> CableProtection:
    """Compare the fuse's latest opening time with the cable's withstand over every current of a range.

    Currents in even ratios and at every gate, on both sides of it, then closer about the worst. Where the
    cable's continuous current lies below the last current at which the fuse may hold for ever, nothing
    protects in between: that shows as margin 0.

    gates: `FuseGates`. rating: [A]. withstand: time [s] of an array of currents [A] that the cable bears, as
    by `time_to_temperature` or `short_circuit_time`; falling, infinity where it bears it for good.
    least_current, most_current: of the range, the latter that of a dead short [A]. points: of the
    course and of its closer part. by_steps: as in `opening_band`.
    """
    if not 0.0 < least_current < most_current < np.inf:
        raise OutOfRange(
            f"a range of fault currents from {least_current:g} to {most_current:g} A is none; the lowest "
            "must be above 0 and below the highest"
        )
    checked = _checked(gates)
    edges = checked.ratio * rating
    edges = np.concatenate((edges, edges * (1 - 1e-9)))
    inside = edges[(edges >= least_current) & (edges <= most_current)]

    def compared(currents: Array) -> tuple[Array, Array, Array]:
        late = opening_band(checked, rating, currents, by_steps=by_steps).latest
        bears = np.asarray(withstand(currents), dtype=np.float64)
        if bears.shape != currents.shape or np.any(np.isnan(bears)):
            raise OutOfRange(
                f"the cable's withstand must be one time for each of {currents.size} currents; it has shape "
                f"{bears.shape} and {int(np.isnan(bears).sum())} that are no number"
            )
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(np.isinf(bears), np.inf, bears / late), late, bears

    currents = np.unique(np.concatenate((np.geomspace(least_current, most_current, points), inside)))
    worst = int(np.argmin(compared(currents)[0]))
    closer = np.geomspace(currents[max(worst - 1, 0)], currents[min(worst + 1, currents.size - 1)], points)
    currents = np.unique(np.concatenate((currents, closer)))
    ratios, late, bears = compared(currents)
    worst = int(np.argmin(ratios))
    harmed = currents[ratios < 1.0]
    return CableProtection(
        protects=bool(ratios[worst] >= 1.0),
        margin=float(ratios[worst]),
        current=float(currents[worst]),
        latest=float(late[worst]),
        withstand=float(bears[worst]),
        bare=(float(harmed[0]), float(harmed[-1])) if harmed.size else None,
        interrupts=bool(most_current <= checked.breaking_current),
    )


class RatingChoice(NamedTuple):
    """How one rating does against start, load and cable; each 1 or more is in order [-]."""

    rating: float  # [A]
    holds: float  # permitted use over that of the pulses
    carries: float  # lasting current over the load's
    protects: float  # worst margin of `cable_protection`
    fits: bool  # all three


def choose_ratings(
    gates: FuseGates,
    ratings: Sequence[float],
    withstand: Callable[[Array], Array],
    most_current: float,
    pulses: Sequence[tuple[float, float]] = (),
    load: float = 0.0,
    *,
    share: float = 1.0,
    lasting: float = 0.75,
    preload: float = 0.0,
) -> tuple[RatingChoice, ...]:
    """Judge every rating that is sold: lives through the start, carries the load, protects the cable.

    gates: `FuseGates`. ratings: [A]. withstand: of the cable, as in `cable_protection`, which is asked from
    each rating, or half of most_current, up to most_current, of a dead short [A]. pulses: current [A] and
    duration [s], one after the other. load: for good [A]. share: of the earliest time that may be used, as in
    `survives_pulse` [-]. lasting: as in `rating_rule` [-]. preload: as in `pulse_use` [A]. Where none fits,
    the columns show whether cable or fuse is the smaller step.
    """
    found = []
    for rating in ratings:
        currents, durations = np.array(pulses, dtype=np.float64).reshape(-1, 2).T
        used = float(pulse_use(gates, rating, currents, durations, preload))
        holds = share / used if used > 0.0 else np.inf
        carries = lasting * rating / load if load > 0.0 else np.inf
        least = min(rating, 0.5 * most_current)
        protects = cable_protection(gates, rating, withstand, least, most_current).margin
        fits = holds > 1.0 and carries >= 1.0 and protects >= 1.0
        found.append(RatingChoice(rating, holds, carries, protects, bool(fits)))
    return tuple(found)
