"""The answer to a pressure test of the charge pipes, for a terminal and for programs."""

from __future__ import annotations

import json
import textwrap
from typing import Any

from boostwright.findings.leak_answer import LeakAnswer
from boostwright.findings.model import Amount
from boostwright.findings.notes import cautions_for
from boostwright.views.numbers import say, say_band

__all__ = ["leak_json", "leak_page"]

_NAMES = (
    "volume",
    "start",
    "end",
    "seconds",
    "temperature",
    "area",
    "hole",
    "section",
    "boost",
    "flow",
    "air",
    "share",
)


def leak_page(answer: LeakAnswer, width: int = 80) -> str:
    """The answer in words, ending in a line break."""
    rows = [(amount.name, say_band(amount)) for amount in _amounts(answer).values()]
    wide = max(len(name) for name, _ in rows) + 2
    lines = ["Leak of the charge pipes", "─" * width]
    lines += [f"  {name:<{wide}}{said}" for name, said in rows]
    lines.append("")
    lines += _folded(
        f"Between {say(answer.smallest)} and {say(answer.largest)}: the first if the air in the pipes took"
        " no heat back while it expanded, the second if it stayed as warm as the walls.",
        width,
    )
    if answer.section is not None:
        lines += _folded(_section(answer), width)
    lines += _folded(_verdict(answer), width)
    if answer.from_build:
        lines += _folded(f"From the build file: {', '.join(answer.from_build)}.", width)
    lines += ["", *_folded("\n".join(c.text for c in cautions_for("charge.leak")), width)]
    return "\n".join(lines) + "\n"


def leak_json(answer: LeakAnswer, version: str) -> str:
    """The answer as JSON: SI values with their standard deviations, and as they are said.

    version: of the program.
    """
    made: dict[str, Any] = {"version": version}
    for name, amount in _amounts(answer).items():
        made[name] = {
            "value": amount.value,
            "sd": amount.sd,
            "kind": amount.kind.value,
            "words": say_band(amount),
        }
    made["hole_bounds"] = [answer.smallest.value, answer.largest.value]
    made["limit"] = None if answer.limit is None else {"value": answer.limit.value, "sd": answer.limit.sd}
    made["verdict"] = _verdict(answer)
    made["from_build"] = list(answer.from_build)
    return json.dumps(made, indent=2, ensure_ascii=False) + "\n"


def _amounts(answer: LeakAnswer) -> dict[str, Amount]:
    found = {name: getattr(answer, name) for name in _NAMES}
    return {name: amount for name, amount in found.items() if amount is not None}


def _section(answer: LeakAnswer) -> str:
    section, whole = answer.section, answer.area
    assert section is not None
    assert section.sd is not None
    if abs(section.value) < 2.0 * section.sd:
        return (
            "Whether the section cut off leaks at all these two tests cannot tell: the difference is"
            " within their"
            " own scatter. Time a longer fall, or measure the volumes."
        )
    if section.value < 0.0:
        return "With the section cut off it leaks more than without: the plug leaks, or a volume is wrong."
    share = min(1.0, section.value / whole.value)
    return f"About {share:.0%} of the leak is in the section cut off: {say_band(section)} of effective area."


def _verdict(answer: LeakAnswer) -> str:
    if answer.share is None or answer.limit is None:
        return "Say boost and the engine's air, or name a build file, and its share of the air is told too."
    missed = f"up to {say_band(answer.limit)} of the engine's air nobody misses."
    if answer.wanted is None:
        return f"This test cannot tell: {missed} Test again with a gauge and a volume that are better known."
    if answer.sure:
        return (
            f"Small enough at full load: {missed}"
            " At less speed the share is larger; 'check' judges it where it is worst."
        )
    seconds = say(answer.wanted)
    if answer.share.value <= answer.limit.value:
        return f"Perhaps small enough: {missed} It is sure when the same fall takes {seconds} or longer."
    search = f"Find it with soap, joint by joint, until the same fall takes {seconds} or longer."
    return f"Too much: {missed} {search}"


def _folded(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width)
