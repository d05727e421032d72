"""`boostwright leak`: what it prints, in words and as JSON, and its exit codes."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from statistics import NormalDist

import pytest

from boostwright import verbs
from boostwright.cli import codes, main

ASKED = ("--volume", "8 L", "--from", "70 kPa", "--to", "35 kPa", "--seconds", "6")


def test_it_prints_the_hole(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leak", *ASKED]) == codes.FINE
    said = capsys.readouterr().out
    assert "1.59" in said
    assert "goggles" in said  # the caution


def test_a_large_leak_has_an_exit_code_of_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    slow = ("--boost", "0.6 bar", "--air", "95 g/s")
    assert main(["leak", *ASKED, *slow]) == codes.FINE
    fast = ["leak", *ASKED[:-1], "1.5", *slow]
    assert main(fast) == codes.BREAKS
    assert "Too much" in capsys.readouterr().out


def test_the_time_that_it_names_is_sure(capsys: pytest.CaptureFixture[str]) -> None:
    """As in the finding of `check`: not one half, nine of ten."""
    at_boost = ("--boost", "0.6 bar", "--air", "95 g/s", "--json")
    assert main(["leak", *ASKED[:-1], "2", *at_boost]) == codes.BREAKS
    first = json.loads(capsys.readouterr().out)
    said = re.search(r"until the same fall takes ([0-9.]+)\ss", first["verdict"])
    assert said is not None
    seconds = float(said[1]) + 0.05
    assert main(["leak", *ASKED[:-1], f"{seconds}", *at_boost]) == codes.FINE
    again = json.loads(capsys.readouterr().out)
    assert again["verdict"].startswith("Small enough")
    share, limit = again["share"], again["limit"]
    room = (limit["value"] - share["value"]) / math.hypot(limit["sd"], share["sd"])
    assert room >= NormalDist().inv_cdf(0.9)
    assert main(["leak", *ASKED[:-1], "2.8", *at_boost]) == codes.FINE
    assert json.loads(capsys.readouterr().out)["verdict"].startswith("Perhaps small enough")


def test_json_holds_the_numbers_in_si(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leak", *ASKED, "--boost", "0.6 bar", "--air", "95 g/s", "--json"]) == codes.FINE
    made = json.loads(capsys.readouterr().out)
    assert made["start"]["value"] == 70e3
    assert made["share"]["value"] == pytest.approx(made["flow"]["value"] / 0.095)
    low, high = made["hole_bounds"]
    assert low < made["hole"]["value"] < high


def test_a_build_file_tells_volume_and_boost(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, text in verbs.demo_files("sound").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    words = ["leak", str(tmp_path / "sound.toml"), "--from", "40 kPa", "--to", "20 kPa", "--seconds", "30"]
    assert main(words) == codes.FINE
    said = capsys.readouterr().out
    assert "From the build file: volume, boost, air at full load." in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "are missing"),
        (("--volume", "8 L", "--from", "70 kPa", "--to", "35 kPa"), "--seconds is missing"),
        ((*ASKED[:-1], "soon"), "cannot be read"),
        (("no such file.toml", *ASKED), "no such file.toml"),
    ],
)
def test_bad_input_is_answered_in_words(
    words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["leak", *words]) == codes.UNUSABLE
    err = capsys.readouterr().err
    assert said in err
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("volume", "seconds", "said"),
    [
        ("4 L", "60", "of the leak is in the section"),
        ("4 L", "3.1", "cannot tell"),
        ("7.5 L", "2", "leaks more than without"),
    ],
)
def test_a_section_cut_off(volume: str, seconds: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leak", *ASKED, "--cut-volume", volume, "--cut-seconds", seconds]) == codes.FINE
    assert said in " ".join(capsys.readouterr().out.split())
