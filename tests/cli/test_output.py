"""Progress, colour and what a stream can carry."""

from __future__ import annotations

import errno
import io
import time

import pytest

from boostwright.cli import output


class Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_on_a_terminal_one_line_changes_and_is_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)
    monkeypatch.setenv("COLUMNS", "40")
    progress = output.Progress()
    progress("matching engine and turbo, which takes a while and more")
    progress("judging")
    progress.done()
    written = screen.getvalue()
    assert "\n" not in written
    assert all(len(part) <= 39 for part in written.split("\r"))
    assert written.endswith("\r")


def test_in_a_pipe_each_stage_is_a_line_and_said_once(
    capsys: pytest.CaptureFixture[str],
) -> None:
    progress = output.Progress()
    progress("matching")
    progress("matching")
    progress("judging")
    progress.done()
    assert capsys.readouterr().err == "matching ...\njudging ...\n"


def test_quiet_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    progress = output.Progress(quiet=True)
    progress("matching")
    progress.done()
    assert capsys.readouterr().err == ""


def test_a_long_first_stage_is_explained_once(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(output.Progress, "PATIENCE", 0.05)
    progress = output.Progress()
    progress("computing")
    time.sleep(0.4)
    progress("matching")
    time.sleep(0.2)
    progress.done()
    assert capsys.readouterr().err.count("compiles, once") == 1


def test_a_stage_that_says_how_far_it_is_is_not_explained(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(output.Progress, "PATIENCE", 0.05)
    progress = output.Progress()
    progress("draws: 16 of 256, 80 s left")
    time.sleep(0.3)
    progress.done()
    assert capsys.readouterr().err == "draws: 16 of 256, 80 s left ...\n"


def test_a_stage_that_ends_soon_is_not_explained(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(output.Progress, "PATIENCE", 0.2)
    progress = output.Progress()
    progress("computing")
    progress.done()
    time.sleep(0.4)
    assert "compiles" not in capsys.readouterr().err


@pytest.mark.parametrize(
    ("terminal", "settings", "wanted"),
    [
        (True, {"TERM": "xterm"}, True),
        (True, {"TERM": "xterm", "NO_COLOR": "1"}, False),
        (True, {"TERM": "dumb"}, False),
        (False, {"TERM": "xterm"}, False),
    ],
)
def test_colour_only_where_it_is_wanted(
    terminal: bool, settings: dict[str, str], wanted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    for name, value in settings.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr("sys.stdout", Screen() if terminal else io.StringIO())
    assert output.wants_colour() is wanted


@pytest.mark.parametrize(
    "number", [errno.ENOENT, errno.EISDIR, errno.EACCES, errno.ENOSPC, errno.EROFS, 9999]
)
def test_the_system_s_complaints_end_with_what_to_do(number: int) -> None:
    words = output.os_error_words(OSError(number, "strange", "a.toml"))
    assert words.startswith("a.toml: ")
    assert words.endswith(".")
    assert words.count(".") >= 2
