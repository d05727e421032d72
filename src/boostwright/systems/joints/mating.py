"""Whether two halves of a joint mate, why not, whether they start by hand all the same, and what mends it."""

from __future__ import annotations

from enum import Enum
from math import inf, nan, tan
from typing import Final, NamedTuple

from boostwright.library.halves import Gender, Half, Kind
from boostwright.library.seals import Seal
from boostwright.library.threads import Thread, hose_rule, unthreaded_fit
from boostwright.physics.threads import (
    PIPE_TAPER,
    largest_play,
    metric_diameters,
    npt_end_pitch_diameter,
    tapered_diameter,
    turns_until_bound,
    whitworth_diameters,
)
from boostwright.systems.joints.sealing import CARE, judge_seal

__all__ = ["Mating", "Reason", "Sureness", "hand_turns", "mates"]

_SAME_PITCH: Final = 2e-6  # [m]; 19 against 18 threads an inch differ by 74e-6
_SAME_DIAMETER: Final = 20e-6  # [m]; 5/16 inch and 8 mm differ by 62e-6
_STARTS: Final = 0.2  # turns from which a thread is felt to catch; low, as a warning too many costs nothing
_GRIP: Final = 0.25  # of the depth of thread that must overlap for any hold (our own)
_THREADED: Final = frozenset({Kind.THREAD, Kind.FLARE, Kind.BANJO})


class Reason(Enum):
    """Why two halves do not mate."""

    KIND = "they are different kinds of joint"
    BOTH_MALE = "both are male"
    BOTH_FEMALE = "both are female"
    PITCH = "pitch"
    DIAMETER = "diameter"
    FLANK = "flank angle"
    TAPER = "taper"
    SEAT = "seat"
    SIZE = "size"
    NO_SEAL = "no seal"
    WRONG_SEAL = "wrong seal"


class Sureness(Enum):
    """How sure the answer is."""

    SURE = "sure"
    LIKELY = "likely"  # a face, an angle or a pitch was not stated, or it is a compromise
    GUESS = "guess"


class Mating(NamedTuple):
    """The answer for two halves."""

    mates: bool
    reasons: tuple[Reason, ...]  # empty if they mate; the most telling first
    words: str
    sure: Sureness
    starts_by_hand: bool  # with `mates` False this is the dangerous case
    turns: float  # by hand until it binds; inf: nothing binds; nan: no thread
    adapter: str  # what mends it; empty if nothing is needed or none is sold
    seal_words: str
    compromise: bool = False  # made every day, but no standard says so
    care: str = CARE

    @property
    def dangerous(self) -> bool:
        """They start by hand although they do not mate."""
        return self.starts_by_hand and not self.mates


# ------------------------------------------------------------------------------------------ threads, by hand


def _basic_pitch_diameter(thread: Thread) -> float:
    if thread.series in ("G", "R", "Rc", "Rp"):
        return float(whitworth_diameters(thread.major, thread.pitch).pitch)
    if thread.series == "NPT":
        return float(npt_end_pitch_diameter(thread.major, thread.pitch))
    return float(metric_diameters(thread.major, thread.pitch).pitch)


def _tip(thread: Thread) -> float:
    """Pitch diameter where a male thread begins [m]."""
    here = _basic_pitch_diameter(thread)
    if thread.series in ("R", "Rc"):  # its basic diameter lies at the gauge plane
        return float(tapered_diameter(here, -(thread.gauge_length or 0.0)))
    return here


def _mouth(thread: Thread) -> float:
    """Pitch diameter where a female thread begins [m]."""
    here = _basic_pitch_diameter(thread)
    if thread.series == "NPT":
        return float(tapered_diameter(here, thread.gauge_length or 0.0))
    return here


def _looseness(male: Thread, female: Thread) -> float:
    """Most that the tolerances add to the play [m]: tapered threads are gauged to one turn either way."""
    medium = float(largest_play(male.major, male.pitch)) / 2
    return sum(PIPE_TAPER * half.pitch if half.taper else medium for half in (male, female))


def hand_turns(male: Thread, female: Thread) -> float:
    """Turns by hand until `male` binds in `female` [-]: 0 none, inf no end, nan: drops in.

    Both threads are taken at the loose end of a medium fit, since a loose pair goes furthest.
    """
    play = _mouth(female) - _tip(male) + _looseness(male, female)
    depth = min(male.pitch, female.pitch) * 0.54
    if play > 2 * depth * (1 - _GRIP):
        return nan
    taper = PIPE_TAPER if male.taper or female.taper else 0.0
    flank = max(male.flank_angle, female.flank_angle)
    same_pitch = abs(male.pitch - female.pitch) <= _SAME_PITCH
    if play >= 0 and same_pitch and not taper:
        return inf
    return float(turns_until_bound(play, male.pitch, female.pitch, flank, taper))


# ---------------------------------------------------------------------------------------------- comparison


def _differences(male: Thread, female: Thread) -> list[tuple[Reason, str]]:
    """Every way in which two threads differ so that they do not mate."""
    found = []
    if abs(male.pitch - female.pitch) > _SAME_PITCH:
        found.append((Reason.PITCH, f"pitch {_mm(male.pitch)} against {_mm(female.pitch)} mm"))
    if abs(male.major - female.major) > _SAME_DIAMETER:
        found.append((Reason.DIAMETER, f"diameter {_mm(male.major)} against {_mm(female.major)} mm"))
    if abs(tan(male.flank_angle / 2) - tan(female.flank_angle / 2)) > 1e-6:
        flanks = "60 against 55" if male.flank_angle > female.flank_angle else "55 against 60"
        found.append((Reason.FLANK, f"flank angle {flanks} degrees"))
    pipe = male.series == "R" and female.series in ("Rp", "G", "Rc")
    if bool(male.taper) != bool(female.taper) and not pipe:
        which = (
            "a tapered male thread in a parallel hole"
            if male.taper
            else "a parallel male thread in a tapered hole"
        )
        found.append((Reason.TAPER, which))
    return found


def _mm(length: float) -> str:
    return f"{1e3 * length:.3f}"


def _partner(half: Half) -> str:
    """The half that belongs to `half`, for the name of an adapter."""
    other = Gender.FEMALE if half.gender is Gender.MALE else Gender.MALE
    if half.kind is Kind.FLARE and half.flare:
        angle = f"{half.cone_degrees} degree" if half.cone_degrees else "same angle"
        return f"-{half.flare.dash} flare {angle} {other.value} ({half.flare.thread})"
    if half.thread is None:
        if half.kind is Kind.QUICK:
            return half._replace(gender=other).name
        other_kind = {Kind.HOSE: Kind.SPIGOT, Kind.SPIGOT: Kind.HOSE}.get(half.kind)
        if other_kind:
            return half._replace(kind=other_kind).name
        return half.name
    name = half.thread.name
    if half.kind is Kind.BANJO:
        return f"{name} {other.value} with a flat face"
    if half.thread.series == "R":
        name = f"Rc{name[1:]}"
    elif half.thread.series in ("Rc", "Rp"):
        name = f"R{name[2:]}"
    return f"{name} {other.value}"


def _adapter(a: Half, b: Half) -> str:
    return f"adapter {_partner(a)} to {_partner(b)}"


def _no(
    a: Half, b: Half, found: list[tuple[Reason, str]], turns: float = nan, sure: Sureness = Sureness.SURE
) -> Mating:
    """The answer for two halves that do not mate."""
    starts = turns >= _STARTS
    words = f"{a.name} and {b.name} do not mate: {'; '.join(text for _, text in found)}."
    if starts and turns == inf:
        words += " Careful: they screw right home by hand and still do not seal or hold as they should."
    elif starts:
        count = "about a turn" if turns < 1.5 else f"some {turns:.0f} turns"
        words += (
            f" Careful: they start by hand for {count} and then bind; a spanner ruins both, and it leaks."
        )
    return Mating(
        False,
        tuple(reason for reason, _ in found),
        words,
        sure,
        starts,
        turns,
        _adapter(a, b),
        "no seal mends this",
    )


def _sealed(
    a: Half,
    b: Half,
    words: str,
    sure: Sureness,
    seal: Seal,
    oil_feed: bool,
    turns: float,
    compromise: bool = False,
) -> Mating:
    """The answer for two halves that fit each other, judged by their seal."""
    judged = judge_seal(a, b, seal, oil_feed)
    if judged.suits:
        return Mating(True, (), words, sure, turns >= _STARTS, turns, "", judged.words, compromise)
    reason = Reason.NO_SEAL if judged.missing else Reason.WRONG_SEAL
    what = "nothing seals it" if judged.missing else f"{seal.value} does not belong there"
    return Mating(
        False, (reason,), f"{a.name} and {b.name} fit each other, but {what}. {judged.words}", sure,
        turns >= _STARTS, turns, "", judged.words, compromise,
    )  # fmt: skip


# -------------------------------------------------------------------------------------------- kinds of joint


def _flares(male: Half, female: Half, seal: Seal, oil_feed: bool) -> Mating:
    assert male.thread
    assert female.thread
    found = _differences(male.thread, female.thread)
    turns = hand_turns(male.thread, female.thread)
    angles = {male.cone_degrees, female.cone_degrees}
    if angles == {37, 45}:
        found.append(
            (
                Reason.SEAT,
                f"cone {male.cone_degrees} against {female.cone_degrees} degrees, which touch on a line",
            )
        )
    if found:
        return _no(male, female, found, turns)
    if None in angles:
        words = (
            f"{male.name} and {female.name} have the same thread, but a cone's angle is not stated: measure "
            "it, since 37 and 45 degrees screw together and leak."
        )
        return _sealed(male, female, words, Sureness.GUESS, seal, oil_feed, turns)
    return _sealed(male, female, f"{male.name} and {female.name} mate.", Sureness.SURE, seal, oil_feed, turns)


def _pipe_words(male: Thread, female: Thread) -> tuple[str, Sureness, bool]:
    """What to say of two threads that go together, how sure, and whether it is a compromise."""
    pair = (male.series, female.series)
    if pair == ("R", "G"):
        words = (
            f"{male.name} in {female.name} is a known compromise: the hole is not gauged for a taper, so the "
            "depth is by luck and hard tightening splits a thin boss. R belongs in Rp or Rc."
        )
        return words, Sureness.LIKELY, True
    if pair == ("G", "Rp"):
        words = f"{male.name} and {female.name} have the same thread; see that the hole has a flat face."
        return words, Sureness.LIKELY, False
    return f"{male.name} male and {female.name} female mate.", Sureness.SURE, False


def _threads(male: Half, female: Half, seal: Seal, oil_feed: bool) -> Mating:
    assert male.thread
    assert female.thread
    found = _differences(male.thread, female.thread)
    turns = hand_turns(male.thread, female.thread)
    assumed = male.pitch_assumed or female.pitch_assumed
    kinds = {male.kind, female.kind}
    if Kind.FLARE in kinds:
        found.append((Reason.SEAT, "one has a cone and the other has none to seal on"))
    if female.kind is Kind.BANJO:
        found.append((Reason.KIND, "a banjo bolt is male"))
    if found:
        return _no(male, female, found, turns, Sureness.LIKELY if assumed else Sureness.SURE)
    words, sure, compromise = _pipe_words(male.thread, female.thread)
    if male.kind is Kind.BANJO:
        words, sure = f"{male.name} goes into {female.name} if the hole has a flat face.", Sureness.LIKELY
    if assumed:
        words, sure = words + " The coarse pitch was assumed: measure it.", Sureness.GUESS
    return _sealed(male, female, words, sure, seal, oil_feed, turns, compromise)


def _hose(spigot: Half, hose: Half, seal: Seal) -> Mating:
    rule = hose_rule()
    bore, outside = hose.size or nan, spigot.size or nan
    over = (outside - bore) / bore
    slack = rule.spread / bore
    if not rule.loosest - slack <= over <= rule.tightest + slack:
        side = "too wide for" if over > 0 else "too thin for"
        text = f"a spigot of {1e3 * outside:.4g} mm is {side} a bore of {1e3 * bore:.4g} mm"
        return _no(spigot, hose, [(Reason.SIZE, text)])
    inside = rule.loosest <= over <= rule.tightest
    words = f"{spigot.name} goes into {hose.name}."
    return _sealed(spigot, hose, words, Sureness.SURE if inside else Sureness.LIKELY, seal, False, nan)


def _same_kind(a: Half, b: Half, seal: Seal) -> Mating:
    """Two v-bands, two slip halves or two flanges."""
    if a.bolts != b.bolts:
        return _no(a, b, [(Reason.SIZE, f"{a.bolts} against {b.bolts} bolts")])
    if abs((a.size or nan) - (b.size or nan)) > unthreaded_fit(a.kind.value) + 1e-9:
        text = f"{1e3 * (a.size or nan):.4g} against {1e3 * (b.size or nan):.4g} mm"
        return _no(a, b, [(Reason.SIZE, text)])
    words = f"{a.name} and {b.name} are of one size; makers' shapes of the ends differ, so compare them."
    return _sealed(a, b, words, Sureness.LIKELY, seal, False, nan)


def _quick(a: Half, b: Half, seal: Seal) -> Mating:
    """A tube end and a quick connector."""
    if a.size != b.size:
        text = f"a tube of {1e3 * (a.size or nan):.4g} against {1e3 * (b.size or nan):.4g} mm"
        return _no(a, b, [(Reason.SIZE, text)])
    words = f"{a.name} and {b.name} snap together; pull on it to see that it has latched."
    return _sealed(a, b, words, Sureness.LIKELY, seal, False, nan)


def mates(a: Half, b: Half, seal: Seal = Seal.UNSTATED, *, oil_feed: bool = False) -> Mating:
    """Whether two halves mate with the seal between them, and why not; their order does not matter.

    seal: UNSTATED judges the halves alone and says what seals them. oil_feed: in the oil feed of the turbo,
    where PTFE tape is refused.
    """
    if {a.kind, b.kind} == {Kind.HOSE, Kind.SPIGOT}:
        return _hose(*((a, b) if a.kind is Kind.SPIGOT else (b, a)), seal)
    if a.kind is b.kind and a.kind in (Kind.V_BAND, Kind.SLIP, Kind.FLANGE):
        return _same_kind(a, b, seal)
    if a.kind is b.kind is Kind.QUICK and a.gender is not b.gender:
        return _quick(a, b, seal)
    if not {a.kind, b.kind} <= _THREADED:
        if a.kind is b.kind:
            reason = Reason.BOTH_FEMALE if a.kind is Kind.HOSE else Reason.BOTH_MALE
            return _no(a, b, [(reason, f"two ends of {a.kind.value} do not go into each other")])
        return _no(a, b, [(Reason.KIND, f"{a.kind.value} against {b.kind.value}")])
    if a.gender is b.gender:
        reason = Reason.BOTH_MALE if a.gender is Gender.MALE else Reason.BOTH_FEMALE
        return _no(a, b, [(reason, reason.value)])
    male, female = (a, b) if a.gender is Gender.MALE else (b, a)
    if male.kind is Kind.FLARE and female.kind is Kind.FLARE:
        return _flares(male, female, seal, oil_feed)
    return _threads(male, female, seal, oil_feed)
