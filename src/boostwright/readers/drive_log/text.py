"""From the bytes of a log to lines in UTF-8: encoding, byte order mark, line ends, block by block."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

from boostwright.errors import LogRefused

__all__ = ["HEAD", "TextHabit", "blocks", "habit_of", "probes"]

HEAD: Final = 1 << 20
"""So much of the file's beginning is looked at closely [bytes]."""

_PROBE: Final = 96 * 1024
_LONGEST_LINE: Final = 8 << 20
_BOMS: Final = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


class TextHabit(NamedTuple):
    """How the bytes of a file become lines."""

    encoding: str
    bom: int  # bytes before the text
    bare_cr: bool  # some lines end with a carriage return alone
    size: int  # of the file [bytes]


def habit_of(path: Path) -> TextHabit:
    """The habit of the file's text. Raises LogRefused where the file is empty, or holds no text."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(HEAD)
            file.seek(max(0, size // 2))
            later = file.read(_PROBE)
            file.seek(max(0, size - _PROBE))
            later += file.read(_PROBE)
    except OSError as error:
        raise LogRefused(
            "no-file", f"{path.name} cannot be opened: {error.strerror}", "Look at its name and its rights."
        ) from None
    if not head.replace(b"\0", b"").removeprefix(codecs.BOM_UTF8).strip(b" \t\r\n;,|\xff\xfe"):
        raise LogRefused("empty", f"{path.name} is empty", "Copy it from the logger once more.")
    for mark, name in _BOMS:
        if head.startswith(mark):
            return TextHabit(name, len(mark), _bare_cr(head, name), size)
    encoding = _guessed(head, later)
    if encoding is None:
        raise LogRefused(
            "no-text",
            f"{path.name} holds no text, and is no log in ASAM MDF 4",
            "Let the logger or its program write a CSV file, or MDF 4.",
        )
    return TextHabit(encoding, 0, _bare_cr(head, encoding), size)


def _guessed(head: bytes, later: bytes) -> str | None:
    zeros = head[:4096].count(0)
    if zeros > 0.2 * len(head[:4096]):
        even, odd = head[:4096:2].count(0), head[1:4096:2].count(0)
        if odd > 4 * even:
            return "utf-16-le"
        if even > 4 * odd:
            return "utf-16-be"
        return None
    odd_signs = sum(
        head[:4096].count(bytes([sign]))
        for sign in range(1, 32)
        if sign not in (9, 10, 11, 12, 13, 26, 28, 29, 30, 31)
    )
    if zeros + odd_signs > 0.02 * len(head[:4096]):
        return None
    if head.isascii() and later.isascii():
        return "utf-8"
    for sample in (head, later):
        decoder = codecs.getincrementaldecoder("utf-8")()
        start = 0
        if sample is later:  # it may begin within a letter
            while start < min(4, len(sample)) and sample[start] & 0xC0 == 0x80:
                start += 1
        try:
            decoder.decode(sample[start:])
        except UnicodeDecodeError as error:
            at = error.start + start
            joint = sample is later and abs(at - len(later) // 2) < 8  # two probes were laid end to end
            if not joint:
                return "cp1252" if _is_cp1252(head + later) else "latin-1"
    return "utf-8"


def _is_cp1252(sample: bytes) -> bool:
    return not any(sign in sample for sign in (b"\x81", b"\x8d", b"\x8f", b"\x90", b"\x9d"))


def _bare_cr(head: bytes, encoding: str) -> bool:
    text = head.decode(encoding, "replace")
    return text.replace("\r\n", "").count("\r") > 0


def blocks(path: Path, habit: TextHabit, size: int = 16 << 20) -> Iterator[bytes]:
    """The whole file as UTF-8, whole lines in each block, every line ended with a line feed.

    Raises LogRefused where a line does not end.
    """
    plain = habit.encoding == "utf-8"
    narrow = habit.encoding in ("cp1252", "latin-1")
    decoder = None if plain else codecs.getincrementaldecoder(habit.encoding)("replace")
    left = b""
    with path.open("rb") as file:
        file.seek(habit.bom)
        while True:
            raw = file.read(size)
            last = not raw
            if decoder is None or (narrow and raw.isascii()):
                block = raw
            else:
                block = decoder.decode(raw, last).encode("utf-8", "replace")
            if habit.bare_cr:
                block = left + block
                left = b""
                if block.endswith(b"\r") and not last:
                    block, left = block[:-1], b"\r"
                block = block.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
                left, block = b"", (block + left if left else block)
                if block.endswith(b"\r"):
                    left, block = b"\r", block[:-1]
            else:
                block, left = left + block, b""
            if b"\0" in block:
                block = block.replace(b"\0", b"")
            cut = len(block) if last else block.rfind(b"\n") + 1
            left = block[cut:] + left
            block = block[:cut]
            if len(left) > _LONGEST_LINE:
                raise LogRefused(
                    "no-lines",
                    f"a line of {path.name} is longer than {_LONGEST_LINE >> 20} MB",
                    "This is no table of text; let the logger write one row for each moment.",
                )
            if block:
                yield block
            if last:
                return


def probes(path: Path, habit: TextHabit, count: int) -> list[str]:
    """Whole lines from places all over the file, the beginning left out."""
    found = []
    wide = 4 if habit.encoding.startswith("utf-32") else 2 if habit.encoding.startswith("utf-16") else 1
    with path.open("rb") as file:
        for k in range(1, count + 1):
            at = habit.bom + (habit.size - habit.bom) * k // (count + 1)
            at -= (at - habit.bom) % wide
            file.seek(at)
            text = file.read(_PROBE).decode(habit.encoding, "replace")
            lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")[1:-1]
            if lines:
                found.append("\n".join(lines))
    return found
