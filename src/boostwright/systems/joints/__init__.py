"""Joints of the conversion: whether two halves mate, what seals them, and what mends it if they do not."""

from boostwright.systems.joints.halves import Gender, Half, Kind, Unread, read_half
from boostwright.systems.joints.mating import Mating, Reason, Sureness, hand_turns, mates
from boostwright.systems.joints.sealing import Seal

__all__ = [
    "Gender",
    "Half",
    "Kind",
    "Mating",
    "Reason",
    "Seal",
    "Sureness",
    "Unread",
    "hand_turns",
    "mates",
    "read_half",
]
