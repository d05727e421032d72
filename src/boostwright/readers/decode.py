"""The bytes of a build file to its lines."""

from __future__ import annotations

import re
from typing import Final

from boostwright.build.faults import Fault

__all__ = ["LARGEST_FILE", "decode", "table_text"]

LARGEST_FILE: Final = 512 * 1024
"""A build file is never larger than this [bytes]."""

_NAME = re.compile(r"[ \t]*([A-Za-z0-9_.\-]{1,60})[ \t]*=")


def table_text(data: bytes) -> str:
    """The text of a table as a spreadsheet saves it: UTF-8 or UTF-16 with their marks, else Windows-1252, in
    which every letter of a note stays what it was.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def decode(data: bytes) -> tuple[list[str], list[Fault]]:
    """The lines of the file's bytes, and a fault for each line that is not UTF-8.

    A line that is not UTF-8 is read as Windows-1252 so that its value can still be looked at.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return [], [
            Fault(
                "not-utf8", 1, "", "", "UTF-8", "the file is saved as UTF-16", "Save it again as UTF-8 text."
            )
        ]
    if len(data) > LARGEST_FILE:
        return [], [
            Fault(
                "too-large",
                1,
                "",
                f"{len(data)} bytes",
                f"up to {LARGEST_FILE} bytes",
                "a build file is a few hundred lines of text",
                "Check that this is the build file.",
            )
        ]
    try:
        return _lines(data.removeprefix(b"\xef\xbb\xbf").decode("utf-8")), []
    except UnicodeDecodeError:
        pass
    faults: list[Fault] = []
    lines: list[str] = []
    raw = data.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    for number, line in enumerate(raw.split(b"\n"), 1):
        try:
            lines.append(line.decode("utf-8"))
        except UnicodeDecodeError as error:
            guess = line.decode("cp1252", errors="replace")
            bad = line[error.start]
            column = len(line[: error.start].decode("utf-8", errors="replace")) + 1
            shown = bytes([bad]).decode("cp1252", errors="replace")
            meant = f" (a Windows '{shown}')" if shown.isprintable() and shown != "\ufffd" else ""
            name = _name_of(guess)
            faults.append(
                Fault(
                    "not-utf8",
                    number,
                    name,
                    f"byte 0x{bad:02X}{meant}",
                    "UTF-8",
                    "this line holds a byte that is not UTF-8 text",
                    "Save the file as UTF-8, or write the sign in plain letters (degC, +/-, mm2).",
                    column,
                )
            )
            lines.append(guess)
    return lines, faults


def _lines(text: str) -> list[str]:
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")


def _name_of(line: str) -> str:
    match = _NAME.match(line)
    return match[1] if match else ""
