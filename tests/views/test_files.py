"""Files are whole or not there."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from boostwright.views.files import NO_FOLDER, new_file, write_bytes, write_new, write_text


def test_writing_replaces_in_one_step_and_leaves_nothing_behind(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_text(path, "one")
    write_text(path, "two µ")
    assert path.read_bytes() == "two µ".encode()
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_a_replaced_file_keeps_its_rights(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("one")
    path.chmod(0o640)
    write_bytes(path, b"two")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_new_file_never_replaces(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_new(path, "one")
    with pytest.raises(FileExistsError):
        write_new(path, "two")
    assert path.read_text() == "one"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_a_folder_that_is_not_there_is_an_error_of_the_system(tmp_path: Path) -> None:
    """It names the folder, and not the file that would have been written first beside the place."""
    for write in (
        lambda: write_text(tmp_path / "no" / "a.txt", "one"),
        lambda: write_new(tmp_path / "no" / "a.txt", "one"),
    ):
        with pytest.raises(FileNotFoundError, match=NO_FOLDER) as said:
            write()
        assert said.value.filename == str(tmp_path / "no")


def test_a_new_file_may_be_let_replace_another_and_does_so_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("one")

    def half() -> None:
        with new_file(path, over=True) as file:
            file.write(b"tw")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        half()
    assert path.read_text() == "one"
    with new_file(path, over=True) as file:
        file.write(b"two")
    assert path.read_text() == "two"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]
