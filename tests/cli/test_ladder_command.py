"""`boostwright ladder`: text, card, sheet, CSV, JSON, folder, overrides, exit codes, refusals."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

import boostwright.planning.ladder as planning
from boostwright import verbs
from boostwright.cli import main
from boostwright.library.ladder import ladder_steps
from boostwright.planning.ladder import Air, Condition
from boostwright.store import open_job
from tests.planning.ladder.made import climbed, condition, hold_readings

STEPS = [step.key for step in ladder_steps()]


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The sound build in a folder; its pulls come from the hand-made engine, so that no match runs."""
    for name, text in verbs.demo_files("sound").items():
        (tmp_path / name).write_text(text, encoding="utf-8")

    def made(build: object, air: Air, progress: object = None) -> tuple[Condition, Condition]:
        return condition(air=air), condition(38.0e3, air=air)

    monkeypatch.setattr(planning, "conditions_for", made)
    return tmp_path / "sound.toml"


def said(capsys: pytest.CaptureFixture[str]) -> str:
    return capsys.readouterr().out


def climb(file: Path, to: str) -> None:
    """Records as if everything up to a step had been done and read, hold points of the tasks included."""
    _, records = climbed(to)
    with open_job(file) as job:
        job.add(*records, *hold_readings())


def test_it_says_where_one_is_and_what_is_in_the_way(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ladder", str(file), "--quiet"]) == 3
    text = said(capsys)
    assert max(map(len, text.splitlines())) <= 80
    flat = " ".join(text.split())
    assert "You are at step 1 of 19: Key on, engine standing" in flat
    assert "in the way" in flat
    assert "not read yet" in flat
    assert "Fuel pressure after priming" in flat
    assert "kPa absolute" in flat
    assert "vehicle manual" in flat
    assert "Petrol under pressure burns" in flat


def test_records_move_it_on(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    climb(file, "cut-test")
    assert main(["ladder", str(file), "--quiet"]) == 3
    flat = " ".join(said(capsys).split())
    assert "You are at step 11 of 19" in flat
    assert "closed course or a dynamometer" in flat
    assert "driver, observer: 2 people" in flat
    assert "do not stab the brake" in flat
    assert "as it was read at key-on" in flat


@pytest.mark.parametrize("step", STEPS)
def test_each_step_by_itself(file: Path, capsys: pytest.CaptureFixture[str], step: str) -> None:
    assert main(["ladder", str(file), "--quiet", "--step", step]) in (1, 3)
    text = said(capsys)
    assert f"[{step}]" in text
    assert "{" not in text
    assert max(map(len, text.splitlines())) <= 80


def test_the_sheet_is_for_paper(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ladder", str(file), "--quiet", "--sheet"]) == 3
    pages = said(capsys).split("\f")
    assert len(pages) == len(STEPS)
    for page in pages:
        lines = page.splitlines()
        assert max(map(len, lines)) <= 80
        assert "________" in page
        assert "STOP AT ONCE" in page
        blanks = [line for line in lines if line.endswith("  ________")]
        assert {len(line) for line in blanks} == {80}  # aligned at the right edge
    assert main(["ladder", str(file), "--quiet", "--sheet", "--step", "blips"]) == 3
    assert "\f" not in said(capsys)


def test_csv_json_and_text_agree(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "new" / "ladder"
    assert main(["ladder", str(file), "--json", "--out", str(out)]) == 3
    printed = json.loads(said(capsys))
    assert printed == json.loads((out / "ladder.json").read_text("utf-8"))
    assert printed["format"] == 1
    assert printed["version"]
    assert printed["data"]
    assert len(printed["fingerprint"]) == 64
    assert printed["here"] == "key-on"
    assert [s["step"] for s in printed["steps"]] == STEPS
    rows = list(csv.DictReader(io.StringIO((out / "ladder.csv").read_text("utf-8"))))
    assert len(rows) == sum(len(s["readings"]) for s in printed["steps"])
    flat = [(s, r) for s in printed["steps"] for r in s["readings"]]
    for row, (step, read) in zip(rows, flat, strict=True):
        assert (row["step"], row["measurement"]) == (step["step"], read["measurement"])
        assert (row["expect_low"] == "") == (read["low"] is None)
        if row["unit"] == "kPa absolute" and read["low"] is not None:
            assert float(row["expect_low"]) == pytest.approx(read["low"] / 1e3, rel=1e-4)
        if row["unit"] == "degC" and read["high"] is not None:
            assert float(row["expect_high"]) == pytest.approx(read["high"] - 273.15, rel=1e-4)
    assert main(["ladder", str(file), "--csv"]) == 3
    assert said(capsys) == (out / "ladder.csv").read_text("utf-8")
    for name in ("ladder.txt", "sheet.txt", "expected_pull.svg", "expected_pull.png"):
        assert (out / name).stat().st_size > 2000


def test_the_air_of_the_day_moves_the_ranges(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ladder", str(file), "--json", "--air", "2 degC 90 kPa"]) == 3
    cold = json.loads(said(capsys))
    assert cold["air"]["pressure"] == pytest.approx(90e3)
    key = {r["measurement"]: r for r in cold["steps"][0]["readings"]}
    assert key["map_key_on"]["middle"] == pytest.approx(90e3)
    assert key["air_key_on"]["middle"] == pytest.approx(275.15)
    assert main(["ladder", str(file), "--json", "--corner", "pass road in August"]) == 3
    assert json.loads(said(capsys))["air"]["pressure"] == pytest.approx(82e3, rel=0.01)


def override(file: Path, step: str, *more: str) -> list[str]:
    return [
        "ladder", str(file), "--quiet", "--override", step, "--name", "N. Miller", "--reason",
        "the gauge was seen to stick and a second one read well", *more,
    ]  # fmt: skip


def test_an_override_is_kept_and_shown_on_every_page(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    climb(file, "first-retorque")
    assert main(override(file, "blips")) == 3
    assert "OPENED AGAINST ITS DATA by N. Miller" in " ".join(said(capsys).split())
    for more in ([], ["--all"], ["--step", "key-on"], ["--sheet"], ["--sheet", "--step", "key-on"]):
        main(["ladder", str(file), "--quiet", *more])
        text = said(capsys)
        for page in text.split("\f"):
            assert "a second one read well" in " ".join(page.split())
    main(["ladder", str(file), "--json"])
    found = json.loads(said(capsys))
    assert [o["gate"] for o in found["overrides"]] == ["blips"]
    assert found["here"] == "first-drive"
    assert main(override(file, "warm-up")) == 2
    assert "needs no override" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("step", "more", "says"),
    [
        ("cut-test", ["--witness", "A. Smith"], "no boost, ever"),
        ("key-on", ["--witness", "A. Smith"], "never signed away"),
        ("key-on", [], "second person"),
        ("blips", ["--reason", "ok"], "says nothing"),
        ("blips", ["--name", " "], "name"),
        ("blip", [], "Did you mean 'blips'"),
        ("more-boost", ["--witness", "A. Smith"], "No override opens"),
    ],
)
def test_what_is_no_override_is_refused_and_not_kept(
    file: Path, capsys: pytest.CaptureFixture[str], step: str, more: list[str], says: str
) -> None:
    assert main(override(file, step, *more)) == 2
    assert says in " ".join(capsys.readouterr().err.split())
    with open_job(file) as job:
        assert job.records() == ()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--step", "pull-hi"], "Did you mean"),
        (["--air", "lukewarm"], "cannot be read"),
        (["--corner", "nowhere"], "pass road in August"),
        (["--name", "N"], "belong to --override"),
        (["--json", "--csv"], "different things"),
    ],
)
def test_what_cannot_be_used_is_said(
    file: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], says: str
) -> None:
    assert main(["ladder", str(file), "--quiet", *arguments]) == 2
    assert says in " ".join(capsys.readouterr().err.split())


def test_a_barred_step_and_a_broken_off_one_end_with_1(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    climb(file, "cut-test")

    def hot(build: object, air: Air, progress: object = None) -> Any:
        return condition(air=air, duty=condition().duty * 2.4), None

    monkeypatch.setattr(planning, "conditions_for", hot)
    assert main(["ladder", str(file), "--quiet"]) == 1
    assert "THIS STEP MAY NOT BE GONE" in said(capsys)


def test_a_later_change_of_the_file_shuts_what_it_concerns(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Kept as a revision or only written: the pull on another spring has not been driven."""
    climb(file, "full-pull")
    assert main(["ladder", str(file), "--json"]) == 3
    alone = json.loads(said(capsys))
    assert alone["here"] == "heat-soak"
    assert "history" in alone["warnings"][0]
    assert main(["history", str(file), "--keep", "--why", "as driven"]) == 0
    said(capsys)
    text = file.read_text("utf-8")
    file.write_text(text.replace('name = "N"', 'name = "Nora"'), encoding="utf-8")
    main(["ladder", str(file), "--json"])
    assert json.loads(said(capsys))["here"] == "heat-soak"  # who works on it concerns no step
    file.write_text(text.replace('spring = "0.27 bar"', 'spring = "0.31 bar"'), encoding="utf-8")
    for keep in (False, True):
        if keep:
            assert main(["history", str(file), "--keep", "--why", "stiffer spring"]) == 0
            said(capsys)
        assert main(["ladder", str(file), "--json"]) == 3
        changed = json.loads(said(capsys))
        assert changed["here"] == "blips"
        assert "wastegate.spring" in " ".join(changed["steps"][STEPS.index("pull-low")]["why_shut"])
