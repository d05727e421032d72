"""Who does what at the first fire, by the people that the build file names."""

from __future__ import annotations

from typing import Final

from boostwright.build.document import Build
from boostwright.library.ladder import StepTable, crew_words

__all__ = ["crew_of", "people_there"]

_STEP: Final = "first-fire"
_SECOND: Final = "The second person"
_THREE: Final = 3


def _names(build: Build) -> tuple[str, ...]:
    """Names as the file gives them, without the signs that mark a gap."""
    said = [str(row["name"].value) for row in build.table("people") if "name" in row]
    return tuple(name.replace("{", "(").replace("}", ")") for name in said)


def people_there(build: Build, step: StepTable) -> tuple[str, ...]:
    """As what people are needed in a step: at the first fire three, or two where no third is named."""
    if step.key != _STEP or len(_names(build)) >= _THREE:
        return step.people
    return tuple(who for who in step.people if who != "observer")


def crew_of(build: Build, step: StepTable) -> tuple[str, ...]:
    """What each person does at the first fire; empty at other steps. Where one alone is named it says first
    that one alone does not do it.
    """
    if step.key != _STEP:
        return ()
    words, names = crew_words(), _names(build)
    if len(names) >= _THREE:
        return tuple(_named(text, names) for text in words.three)
    if len(names) == 2:
        return tuple(_named(text, names) for text in words.two)
    first = names[0] if names else "one person"
    told = (words.alone.format(first=first),)
    return told + tuple(_named(text, (first[0].upper() + first[1:], _SECOND)) for text in words.two)


def _named(text: str, names: tuple[str, ...]) -> str:
    return text.format(**dict(zip(("first", "second", "third"), names, strict=False)))
