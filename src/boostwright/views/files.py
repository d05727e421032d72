"""Writing a file so that it is whole or not there: first beside its place, then moved into it."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

__all__ = ["NO_FOLDER", "new_file", "write_bytes", "write_new", "write_text"]

NO_FOLDER = "there is no such folder"
"""What an OSError says where the folder that a file is to stand in is not there."""


def write_bytes(path: Path, content: bytes) -> None:
    """Write the content to `path`, replacing what is there in one step. Raises OSError."""
    _in_a_folder(path)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
        Path(name).chmod(mode)
        Path(name).replace(path)
    except BaseException:
        with suppress(OSError):
            Path(name).unlink()
        raise


def write_text(path: Path, content: str) -> None:
    """The same for text, as UTF-8 with line feeds."""
    write_bytes(path, content.encode("utf-8"))


def write_new(path: Path, content: str) -> None:
    """Write a file that must not be there yet, whole or not at all. Raises FileExistsError, OSError."""
    with new_file(path) as file:
        file.write(content.encode("utf-8"))


@contextmanager
def new_file(path: Path, over: bool = False) -> Iterator[IO[bytes]]:
    """A file to write into, which appears under its name as a whole when the block ends, or not at all.

    over: it may take the place of another. Raises FileExistsError where there is one of that name and it may
    not, OSError.
    """
    _in_a_folder(path)
    if path.exists() and not over:
        raise FileExistsError(errno.EEXIST, "there is a file of this name", str(path))
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o666 & ~_umask())
        if over:
            Path(name).replace(path)
            return
        try:
            os.link(name, path)  # refuses to replace
        except FileExistsError:
            raise
        except OSError:  # a file system without links
            with path.open("xb") as target, Path(name).open("rb") as whole:
                shutil.copyfileobj(whole, target)
    finally:
        with suppress(OSError):
            Path(name).unlink()


def _in_a_folder(path: Path) -> None:
    """Nothing where the folder of a file is there.

    Raises FileNotFoundError that names it: else the file beside the place would be named, which nobody knows.
    """
    if not path.parent.exists():
        raise FileNotFoundError(errno.ENOENT, NO_FOLDER, str(path.parent))


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
