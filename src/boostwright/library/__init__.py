"""Reference tables and demo builds, as data files."""

from __future__ import annotations

from pathlib import Path
from typing import Final

__all__ = ["demo_builds", "demo_drive", "demo_maps", "demo_path", "read_bytes", "read_folder", "read_text"]

_FOLDER: Final = Path(
    __file__
).parent  # the package is always unpacked; importlib.resources costs 15 ms at start


def read_bytes(name: str) -> bytes:
    """The bytes of one data file of the library, by its path below it. Raises FileNotFoundError."""
    return (_FOLDER / name).read_bytes()


def read_text(name: str) -> str:
    """The text of one data file of the library, by its path below it. Raises FileNotFoundError."""
    return read_bytes(name).decode("utf-8")


def read_folder(name: str) -> dict[str, str]:
    """The texts of all TOML files in one folder of the library, by file name, sorted."""
    return {path.name: path.read_text("utf-8") for path in sorted((_FOLDER / name).glob("*.toml"))}


def demo_builds() -> tuple[str, ...]:
    """The names of the demo builds that ship with the program, sorted."""
    return tuple(sorted(path.stem for path in (_FOLDER / "builds").glob("*.toml")))


def demo_maps() -> tuple[str, ...]:
    """The names of the map files that lie beside the demo builds, sorted."""
    return tuple(sorted(path.name for path in (_FOLDER / "builds").glob("*.csv")))


def demo_drive(name: str) -> Path:
    """The file of the recorded drive of a demo build."""
    return _FOLDER / "drives" / f"{name}.csv"


def demo_path(name: str) -> Path:
    """Where the demo build of that name lies. Raises KeyError."""
    if name not in demo_builds():
        raise KeyError(name)
    return _FOLDER / "builds" / f"{name}.toml"
