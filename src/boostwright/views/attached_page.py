"""The photos and logs of a job on a terminal and in JSON."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping, Sequence
from datetime import tzinfo
from pathlib import Path
from typing import Any, Final

from boostwright.store import Attachment
from boostwright.views.clock import said_moment, zone_words

__all__ = [
    "ATTACHED_FORMAT", "attached_document", "attached_plain", "attached_report", "attached_words",
    "fetched_words", "kept_words",
]  # fmt: skip

ATTACHED_FORMAT = 1
"""The number of the documents' form; it grows when a field changes its meaning or goes away."""

_SORTS: Final = {"image": "photo", "video": "film", "text": "log"}


def size_words(size: int) -> str:
    """A size in bytes with three figures."""
    for unit, factor in (("MB", 1e6), ("kB", 1e3)):
        if size >= 0.9995 * factor:
            return f"{size / factor:.3g} {unit}"
    return f"{size} B"


def attached_words(one: Attachment) -> str:
    """A photo or a log in a few words: what it is, its number, name and size."""
    sort = _SORTS.get(one.mime.partition("/")[0], "file")
    return f"{sort} {one.number}: {one.name}, {size_words(one.size)}" + (f" ({one.note})" if one.note else "")


def attached_report(
    every: Sequence[Attachment],
    subjects: Mapping[str, str],
    name: str,
    width: int = 80,
    zone: tzinfo | None = None,
) -> str:
    """The photos and logs, oldest first, as one text ending in a line break.

    subjects: what each of them is bound to, in words, by the id of the record. zone: of the times;
    None for UTC.
    """
    width = max(60, min(width, 110))
    lines = [f"Photos and logs of {name}; {zone_words(zone)}", "─" * width]
    for one in every:
        start = f"{said_moment(one.time, zone, named=False)}  {one.who[:12]:12}  "
        of = f", of: {subjects.get(one.record, 'a record that is not here')}" if one.record else ""
        lines += textwrap.wrap(
            f"{attached_words(one)}{of}", width, initial_indent=start, subsequent_indent=" " * len(start)
        )
    if not every:
        lines.append("None is kept yet. --attach keeps one; so does --photo of `boostwright record`.")
    else:
        lines.append("─" * width)
        whole = sum({one.digest: one.size for one in every}.values())
        lines.append(
            f"{len(every)} of them, {size_words(whole)}. --fetch NUMBER writes one into a file, --fetch all"
            " each."
        )
    return "\n".join(lines) + "\n"


def kept_words(kept: Sequence[Attachment], subjects: Mapping[str, str]) -> str:
    """What was attached."""
    rows = []
    for one in kept:
        of = f", with: {subjects.get(one.record, 'its record')}" if one.record else ", with the build"
        rows.append(f"Kept as {attached_words(one)}{of}.")
    return "\n".join(rows)


def fetched_words(rows: Sequence[tuple[Attachment, Path, bool]]) -> str:
    """What was written, each with whether it was there already."""
    return "\n".join(
        f"{'Written' if written else 'There already, the same'}: {path} ({size_words(one.size)})"
        for one, path, written in rows
    )


def attached_plain(one: Attachment) -> dict[str, Any]:
    """One as plain data; size [bytes]."""
    return {
        "number": one.number, "time": one.time, "who": one.who, "digest": one.digest, "name": one.name,
        "note": one.note, "record": one.record, "type": one.mime, "size": one.size,
    }  # fmt: skip


def attached_document(
    rows: Sequence[dict[str, Any]], build: str, version: str, data: str, fingerprint: str
) -> str:
    """Rows of `attached_plain`, with more where more is known, as JSON: sizes in bytes, times UTC."""
    stamp = {"format": ATTACHED_FORMAT, "version": version, "data": data, "fingerprint": fingerprint}
    return json.dumps({**stamp, "build": build, "attachments": rows}, indent=2, ensure_ascii=False) + "\n"
