"""The pulls of a ladder, kept in the user's cache folder: computed once for each build, air and program."""

from __future__ import annotations

import hashlib
import os
import platform
import sys
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.planning.ladder import Air, Condition
    from boostwright.verbs.judging import Progress

__all__ = ["kept_conditions", "pulls_of"]

_VARIABLE = "BOOSTWRIGHT_CACHE"  # another folder, or 'off'
_MOST = 60  # files that stay; the oldest go


def _folder() -> Path | None:
    """Where they are kept; None where that is switched off."""
    said = os.environ.get(_VARIABLE, "")
    if said == "off":
        return None
    if said:
        return Path(said)
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path("~/.cache").expanduser()) / "boostwright" / "pulls"


@cache
def _program() -> str:
    """What the pulls are computed by: sources, libraries, machine."""
    import numpy as np

    import boostwright

    root = Path(boostwright.__file__).parent
    text = hashlib.sha256()
    for file in sorted(root.rglob("*.py")):
        state = file.stat()
        text.update(f"{file.relative_to(root)} {state.st_size} {state.st_mtime_ns}\n".encode())
    for part in (boostwright.__version__, np.__version__, sys.version, platform.machine()):
        text.update(part.encode())
    return text.hexdigest()


def _place(build: Build, air: Air) -> tuple[Path, str] | None:
    from boostwright.library.version import data_version
    from boostwright.planning.ladder.kept import mark_of

    folder = _folder()
    if folder is None:
        return None
    mark = mark_of(build, air, _program(), data_version())
    return folder / f"{mark[:32]}.json", mark


def kept_conditions(build: Build, air: Air) -> tuple[Condition, Condition | None] | None:
    """The conditions as they were computed before; None where they were not, or what is kept is damaged."""
    from boostwright.planning.ladder.kept import conditions_from

    place = _place(build, air)
    if place is None:
        return None
    file, mark = place
    try:
        text = file.read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        return None
    return conditions_from(text, mark, build)


def pulls_of(build: Build, air: Air, progress: Progress) -> tuple[Condition, Condition | None]:
    """The conditions of a ladder: kept ones, else computed and kept. That they cannot be kept is no fault."""
    from boostwright.planning import ladder
    from boostwright.planning.ladder.kept import conditions_text
    from boostwright.views.files import write_text

    found = kept_conditions(build, air)
    if found is not None:
        return found
    made = ladder.conditions_for(build, air, progress)
    place = _place(build, air)
    if place is not None:
        with suppress(OSError):
            place[0].parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            write_text(place[0], conditions_text(made, place[1]))
            _thin_out(place[0].parent)
    return made


def _thin_out(folder: Path) -> None:
    files = sorted(folder.glob("*.json"), key=lambda file: file.stat().st_mtime)
    for old in files[:-_MOST]:
        old.unlink(missing_ok=True)
