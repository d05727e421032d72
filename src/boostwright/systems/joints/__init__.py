"""Joints of the conversion: whether two halves mate, what seals them, and what mends it if they do not."""

from boostwright.library.halves import Gender, Half, Kind, Unread, read_half
from boostwright.library.seals import Seal, read_seals
from boostwright.systems.joints.mating import Mating, Reason, Sureness, hand_turns, mates
from boostwright.systems.joints.records import Carried, End, Joint
from boostwright.systems.joints.sealing import SealAnswer, judge_seal

__all__ = [
    "Carried",
    "End",
    "Gender",
    "Half",
    "Joint",
    "Kind",
    "Mating",
    "Reason",
    "Seal",
    "SealAnswer",
    "Sureness",
    "Unread",
    "hand_turns",
    "judge_seal",
    "mates",
    "read_half",
    "read_seals",
]
