"""What a person answered about the columns of a log: kept in the user's folder, used again for its like."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boostwright.readers.drive_log import Mapping

__all__ = ["forget_mapping", "keep_mapping", "known_mapping"]

_VARIABLE = "BOOSTWRIGHT_LOGS"  # another folder, or 'off'


def _file(fingerprint: str) -> Path | None:
    """Where the answers for logs of that kind lie; None where nothing is kept."""
    said = os.environ.get(_VARIABLE, "")
    if said == "off" or not fingerprint.isalnum():
        return None
    base = os.environ.get("XDG_DATA_HOME")
    folder = (Path(base) if base else Path("~/.local/share").expanduser()) / "boostwright" / "logs"
    return (Path(said) if said else folder) / f"{fingerprint}.json"


def known_mapping(fingerprint: str) -> Mapping | None:
    """The answers kept for logs with that fingerprint; None where there are none that can be read."""
    from boostwright.errors import LogRefused
    from boostwright.readers.drive_log import Mapping

    file = _file(fingerprint)
    if file is None:
        return None
    try:
        return Mapping.from_json(file.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, LogRefused):  # a damaged one is asked again
        return None


def keep_mapping(mapping: Mapping) -> Path | None:
    """Keep the answers for the next log of that kind; returns where. Raises OSError."""
    file = _file(mapping.fingerprint)
    if file is None:
        return None
    file.parent.mkdir(parents=True, exist_ok=True)
    new = file.with_name(f"{file.name}.{os.getpid()}")
    new.write_text(mapping.to_json(), "utf-8")
    new.replace(file)  # whole or not at all
    return file


def forget_mapping(fingerprint: str) -> bool:
    """Forget the answers for logs with that fingerprint; whether there were any."""
    file = _file(fingerprint)
    if file is None or not file.exists():
        return False
    with suppress(OSError):
        file.unlink()
        return True
    return False
