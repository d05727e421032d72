"""A demo build with single fields changed, added or taken out."""

from __future__ import annotations

import re
from collections.abc import Mapping

from boostwright.build.document import Build
from boostwright.library import read_text
from tests.mutation_builds import with_its_map

__all__ = ["changed"]


def changed(fields: Mapping[str, str | None], of: str = "sound") -> Build:
    """The demo build with fields set to these TOML values; None takes a field out."""
    text = read_text(f"builds/{of}.toml")
    for path, value in fields.items():
        section, _, name = path.partition(".")
        head = re.search(rf"^\[{section}\]\n", text, flags=re.MULTILINE)
        if head is None:
            text += f"\n[{section}]\n"
            head = re.search(rf"^\[{section}\]\n", text, flags=re.MULTILINE)
        assert head is not None
        after = text.find("\n[", head.end())
        end = len(text) if after < 0 else after + 1
        body = re.sub(rf"^{name} = .*\n", "", text[head.end() : end], flags=re.MULTILINE)
        line = "" if value is None else f"{name} = {value}\n"
        text = text[: head.end()] + line + body + text[end:]
    return with_its_map(text)
