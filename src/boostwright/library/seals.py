"""What seals a joint, read from what a mechanic writes: 'copper washers', 'paste', 'O-ring', 'none'."""

from __future__ import annotations

import re
from enum import Enum
from typing import Final

__all__ = ["SEAL_WORDS", "Seal", "read_seals"]


class Seal(Enum):
    """What a person puts between the halves."""

    UNSTATED = "not stated"
    NOTHING = "nothing"
    PASTE = "paste"
    TAPE = "PTFE tape"
    WASHER = "washer"
    O_RING = "O-ring"
    CLAMP = "clamp"
    GASKET = "gasket"
    OWN = "its own seal"  # of a quick connector


SEAL_WORDS: Final = "nothing, paste, tape, washer, O-ring, clamp, gasket, own"
"""The words by which a seal is named, for a remedy."""

_LONGEST: Final = 80  # characters; nobody writes a longer seal
_DENIED: Final = r"\b(?:no|not|never|without)(?: any)?(?: ptfe)? [\w-]+"  # 'paste, no tape'
_KNOWN: Final = (
    (r"\bo[- ]?rings?\b", Seal.O_RING),
    (r"\btape\b", Seal.TAPE),
    (r"\b(paste|sealant|sealer|compound)\b", Seal.PASTE),
    (r"\b((crush|copper|bonded|sealing)[- ]?)*washers?\b", Seal.WASHER),
    (r"\b(clamps?|clips?|band)\b", Seal.CLAMP),
    (r"\bgaskets?\b", Seal.GASKET),
    (r"\b(its )?own( seal)?\b", Seal.OWN),
    (r"\b(nothing|none|metal on metal|cone)\b", Seal.NOTHING),
)


def read_seals(text: str) -> frozenset[Seal]:
    """Every seal that a text names; empty when it names none that we know. Never raises for a text.

    What it says is not there does not count: 'paste, no tape' is paste.
    """
    words = re.sub(_DENIED, "", " ".join(text[:_LONGEST].lower().split()))
    found = {seal for pattern, seal in _KNOWN if re.search(pattern, words)}
    if not found and re.search(r"\bptfe\b", words):  # with another word it is what that is made of
        found.add(Seal.TAPE)
    if len(found) > 1:
        found.discard(Seal.NOTHING)  # 'cone and clamp': something is there
    return frozenset(found)
