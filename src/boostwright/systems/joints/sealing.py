"""What seals a joint, and what must never be put there."""

from __future__ import annotations

from typing import Final, NamedTuple

from boostwright.library.halves import Gender, Half, Kind
from boostwright.library.seals import Seal

__all__ = ["CARE", "SealAnswer", "judge_seal"]

CARE: Final = (
    "On fuel, oil, brake and coolant lines the vehicle manual, the fitting maker's sheet and local law "
    "come before this rule."
)


class SealAnswer(NamedTuple):
    """Whether the seal suits the joint."""

    suits: bool
    missing: bool  # nothing is there where something is needed
    words: str  # what belongs there, and why the stated seal is wrong
    belongs: frozenset[Seal] = frozenset()


_TAPE_ON_OIL: Final = (
    "PTFE tape never goes on the oil feed of a turbo: a shred of it blocks the feed hole and the bearing "
    "runs dry."
)

_TAPE_ON_FUEL: Final = (
    "A shred of PTFE tape ends in a regulator's seat or an injector, which then stays open or runs lean."
)


def _wanted(male: Half, female: Half) -> tuple[frozenset[Seal], str]:
    """The seals that suit two halves of which one goes into the other, and the sentence for it."""
    kinds = {male.kind, female.kind}
    if Kind.FLARE in kinds:
        return frozenset({Seal.NOTHING}), "A flare seals metal on metal on its cone: nothing goes on it."
    if Kind.BANJO in kinds:
        return frozenset({Seal.WASHER}), "A banjo bolt needs a new washer on each side of the ring."
    if Kind.V_BAND in kinds:
        return frozenset({Seal.CLAMP}), "A v-band seals on its faces, drawn together by the clamp."
    if Kind.FLANGE in kinds:
        return frozenset(
            {Seal.GASKET, Seal.O_RING}
        ), "A flange needs its gasket, or the O-ring of its groove."
    if Kind.QUICK in kinds:
        return frozenset(
            {Seal.OWN, Seal.O_RING}
        ), "A quick connector seals by the O-rings inside it: oil them."
    if Kind.SLIP in kinds:
        return frozenset({Seal.CLAMP, Seal.NOTHING}), "A slip joint is held by its clamp and leaks a little."
    if Kind.HOSE in kinds:
        return frozenset({Seal.CLAMP}), "A push-on hose needs its clamp, behind the bead of the spigot."
    if male.thread and male.thread.taper:
        words = "A tapered thread needs paste or tape on the male thread."
        return frozenset({Seal.PASTE, Seal.TAPE}), words
    words = "A parallel thread does not seal: to hold a fluid it needs a washer or an O-ring on a flat face."
    return frozenset({Seal.WASHER, Seal.O_RING}), words


def judge_seal(a: Half, b: Half, seal: Seal, oil_feed: bool, fuel: bool = False) -> SealAnswer:
    """Whether `seal` suits two halves that fit each other (common practice).

    oil_feed: the joint lies in the oil feed of the turbo. fuel: it lies in the fuel line.
    """
    male, female = (b, a) if a.gender is Gender.FEMALE else (a, b)
    wanted, words = _wanted(male, female)
    barred = {Seal.TAPE} if oil_feed or fuel else set()
    if barred & wanted:
        words = words.replace("paste or tape", "paste that withstands petrol" if fuel else "paste")
        wanted = wanted - barred
    if seal in barred:
        why = _TAPE_ON_FUEL if fuel else _TAPE_ON_OIL
        return SealAnswer(False, False, f"{words} {why}", wanted)
    if seal is Seal.UNSTATED or seal in wanted:
        return SealAnswer(True, False, words, wanted)
    return SealAnswer(False, seal is Seal.NOTHING, words, wanted)
