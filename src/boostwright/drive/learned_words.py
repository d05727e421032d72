"""Sentences on what a drive taught and what it could not."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from boostwright.drive.learned import DOUBTFUL, Learned
from boostwright.fitting.record import known_word

__all__ = ["words_of"]

_MISFIT: Final = 2.5  # mean square of what is left, above which something is wrong (judgement)
_ROWS: Final = {
    "torque": "torque by the road",
    "air_meter": "the air meter",
    "air_injectors": "injectors and lambda",
    "rail": "fuel pressure",
    "exhaust": "exhaust temperature",
    "intake": "charge temperature",
    "boost": "boost",
}


def words_of(learned: Learned, unknowns: int, keys: Sequence[str]) -> tuple[str, ...]:
    """What was told and what not, one sentence each. unknowns: their number. keys: of rows that counted."""
    read = ", ".join(_ROWS[key] for key in dict.fromkeys(keys))
    found = [f"{learned.readings} places of the engine were read, by {read}; {unknowns} things were unknown."]
    named = [line for line in learned.lines if not line.name.startswith("road.")]
    told = [line.words for line in named if known_word(line.known) == "told"]
    silent = [line.words for line in named if line.is_field and known_word(line.known) == "no"]
    if told:
        found.append(f"Told by the drive: {'; '.join(told)}.")
    if silent:
        found.append(f"Not told, and left as it was: {'; '.join(silent)}.")
    chart = learned.breathing
    share = float(np.mean(chart.covered))
    if share < 1.0:
        found.append(
            f"Readings stand near {100 * share:.0f} % of the breathing table. Elsewhere it is a smooth"
            " continuation that goes back to the model, with the spread that it had."
        )
    for line in named:
        if abs(line.moved) > DOUBTFUL:
            found.append(
                f"'{line.words}' moved by {abs(line.moved):.1f} of its spreads: look at it before you"
                " believe it." + (" Neither check nor tables use it." if line in learned.doubtful else "")
            )
    if learned.left > _MISFIT:
        found.append(
            "What is left between readings and model is more than their spreads explain: something in the"
            " drive or in the file is not as it says."
        )
    return tuple(found)
