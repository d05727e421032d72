"""A short name for the reference data that this copy ships: it changes when any data file changes."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

__all__ = ["data_version"]

_DATA = (".toml", ".csv", ".json", ".npz", ".npy")


@cache
def data_version() -> str:
    """The first twelve digits of a SHA-256 over every data file in this room, by name and content."""
    digest = hashlib.sha256()
    for name, file in sorted(_data_files(files("boostwright.library"), "")):
        digest.update(name.encode())
        digest.update(b"\0")
        digest.update(file.read_bytes())
        digest.update(b"\0")
    return digest.hexdigest()[:12]


def _data_files(folder: Traversable, prefix: str) -> list[tuple[str, Traversable]]:
    found: list[tuple[str, Traversable]] = []
    for entry in folder.iterdir():
        if entry.is_dir():
            found += _data_files(entry, f"{prefix}{entry.name}/")
        elif entry.name.endswith(_DATA):
            found.append((prefix + entry.name, entry))
    return found
