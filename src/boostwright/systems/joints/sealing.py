"""What seals a joint, and what must never be put there."""

from __future__ import annotations

from enum import Enum
from typing import Final, NamedTuple

from boostwright.systems.joints.halves import Gender, Half, Kind

__all__ = ["CARE", "Seal", "SealAnswer", "judge_seal"]

CARE: Final = (
    "On fuel, oil, brake and coolant lines the vehicle manual, the fitting maker's sheet and local law "
    "come before this rule."
)


class Seal(Enum):
    """What a person puts between the halves."""

    UNSTATED = "not stated"
    NOTHING = "nothing"
    PASTE = "paste"
    TAPE = "PTFE tape"
    WASHER = "washer"
    O_RING = "O-ring"
    CLAMP = "clamp"


class SealAnswer(NamedTuple):
    """Whether the seal suits the joint."""

    suits: bool
    missing: bool  # nothing is there where something is needed
    words: str  # what belongs there, and why the stated seal is wrong


_TAPE_ON_OIL: Final = (
    "PTFE tape never goes on the oil feed of a turbo: a shred of it blocks the feed hole and the bearing "
    "runs dry. Use paste that withstands hot oil, on the male thread, clear of its first two turns."
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
    if Kind.SLIP in kinds:
        return frozenset({Seal.CLAMP, Seal.NOTHING}), "A slip joint is held by its clamp and leaks a little."
    if Kind.HOSE in kinds:
        return frozenset({Seal.CLAMP}), "A push-on hose needs its clamp, behind the bead of the spigot."
    if male.thread and male.thread.taper:
        words = "A tapered thread needs paste or tape on the male thread."
        return frozenset({Seal.PASTE, Seal.TAPE}), words
    words = "A parallel thread does not seal: to hold a fluid it needs a washer or an O-ring on a flat face."
    return frozenset({Seal.WASHER, Seal.O_RING}), words


def judge_seal(a: Half, b: Half, seal: Seal, oil_feed: bool) -> SealAnswer:
    """Whether `seal` suits two halves that fit each other (common practice).

    oil_feed: the joint lies in the oil feed of the turbo.
    """
    male, female = (b, a) if a.gender is Gender.FEMALE else (a, b)
    wanted, words = _wanted(male, female)
    if oil_feed and Seal.TAPE in wanted:
        wanted = wanted - {Seal.TAPE}
        words = words.replace("paste or tape", "paste, never tape in an oil feed,")
    if oil_feed and seal is Seal.TAPE:
        return SealAnswer(False, False, _TAPE_ON_OIL if Seal.PASTE in wanted else f"{words} {_TAPE_ON_OIL}")
    if seal is Seal.UNSTATED or seal in wanted:
        return SealAnswer(True, False, words)
    return SealAnswer(False, seal is Seal.NOTHING, words)
