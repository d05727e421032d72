"""`boostwright record` says what the ladder's own step expects, where its pulls were computed before."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import boostwright.planning.ladder as planning
from boostwright import verbs
from boostwright.build.document import Build
from boostwright.build.recorded import Standing
from boostwright.cli import main
from boostwright.findings.model import Verdict
from boostwright.findings.result import CheckResult
from boostwright.planning.ladder import Air, Condition
from tests.planning.ladder.made import condition


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The sound build in a folder, a cache of its own, and the hand-made engine."""
    for name, text in verbs.demo_files("sound").items():
        (tmp_path / name).write_text(text, encoding="utf-8")

    def made(_: object, air: Air, __: object = None) -> tuple[Condition, Condition]:
        return condition(air=air), condition(38.0e3, air=air)

    monkeypatch.setattr(planning, "conditions_for", made)
    monkeypatch.setenv("BOOSTWRIGHT_CACHE", str(tmp_path / "kept"))
    return tmp_path / "sound.toml"


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    code = main(list(words))
    return code, " ".join(capsys.readouterr().out.split())


def of_ladder(capsys: pytest.CaptureFixture[str], file: Path, step: str, name: str) -> dict[str, Any]:
    document = json.loads(run(capsys, "ladder", str(file), "--json")[1])
    rung = next(one for one in document["steps"] if one["step"] == step)
    found: dict[str, Any] = next(one for one in rung["readings"] if one["measurement"] == name)
    return found


def test_it_is_judged_as_the_ladder_will(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = of_ladder(capsys, file, "pull-low", "pull_duty")
    where = ("record", str(file), "pull_duty")
    for share, code, word in ((asked["middle"], 3, "inside"), (0.75, 3, "OUTSIDE"), (0.9, 1, "STOP")):
        got, text = run(capsys, *where, f"{100 * share:.3f} %", "--step", "pull-low", "--who", "L")
        assert got == code, text
        assert f" {word} " in text
        assert "STOP above 85 %" in text
        assert "EARLY Before its turn: the ladder stands at step 1, 'key-on', and 'pull-low' is step" in text
        assert "in the step 'pull-low'" in text
        after = of_ladder(capsys, file, "pull-low", "pull_duty")
        assert (after["low"], after["high"]) == (asked["low"], asked["high"])
        assert after["state"] in {"in its range", "out of its range", "beyond where the step is broken off"}
        assert after["state"].capitalize() in text


def test_the_document_carries_it(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = of_ladder(capsys, file, "pull-low", "pull_peak")
    _, text = run(capsys, "record", str(file), "pull_peak", "121 kPa", "--step", "pull-low", "--json")
    says = json.loads(text)["of_step"]
    assert says["step"] == "pull-low"
    assert (says["low"], says["high"]) == (asked["low"], asked["high"])


def test_a_step_that_is_not_named_is_the_only_one_that_reads_it(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "ladder", str(file), "--quiet")
    assert "in the step 'blips'" in run(capsys, "record", str(file), "blip_sync", "0", "--who", "L")[1]
    shared = run(capsys, "record", str(file), "pull_duty", "40 %", "--who", "L")[1]
    assert "in the step" not in shared


def test_without_pulls_at_hand_it_points_to_the_ladder_where_the_step_has_no_load(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = run(capsys, "record", str(file), "blip_sync", "0", "--who", "L")
    assert code == 0
    assert "boostwright ladder FILE gives the range" in text
    assert "in the step" not in text


def test_a_reading_under_load_is_judged_whether_the_pulls_are_at_hand_or_not(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lean pull is never taken without a word."""
    monkeypatch.setenv("BOOSTWRIGHT_CACHE", "off")
    code, text = run(
        capsys, "record", str(file), "pull_lambda", "0,95 lambda", "--step", "pull-low", "--who", "L"
    )
    assert code == 1
    assert " STOP " in text


def test_the_worst_of_a_sheet_stands_first(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = file.with_name("sheet.csv")
    sheet.write_text(
        'measurement,value,step\nblip_sync,0,\npull_duty,75 %,pull-low\npull_lambda,"0,95 lambda",pull-low\n',
        "utf-8",
    )
    code, text = run(capsys, "record", str(file), "--sheet", str(sheet), "--who", "L")
    assert code == 1
    assert "1 inside or not judged, 1 OUTSIDE, 1 STOP." in text
    assert text.index(" STOP Beyond") < text.index(" OUTSIDE Out of") < text.index("blip")


def test_a_sheet_is_judged_by_its_steps(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = of_ladder(capsys, file, "pull-low", "pull_duty")
    sheet = file.with_name("sheet.csv")

    def read(duty: str, *more: str) -> tuple[int, str]:
        rows = f"pull_duty,{duty} %,pull-low\nblip_sync,0,\npull_intake,31 degC,\n"
        sheet.write_text(f"measurement,value,step\n{rows}", "utf-8")
        return run(capsys, "record", str(file), "--sheet", str(sheet), "--who", "L", *more)

    code, text = read(f"{100 * asked['middle']:.3f}", "--json")
    assert code == 3  # before its turn
    duty, blips, intake = json.loads(text)["recorded"]
    assert (duty["of_step"]["low"], duty["of_step"]["step"]) == (asked["low"], "pull-low")
    assert blips["of_step"]["step"] == "blips"
    assert intake["of_step"] is None  # several steps read it, and none is named
    code, text = read("91")
    assert code == 1
    assert " STOP " in text


def test_a_pull_outside_its_own_range_is_a_finding_of_the_check(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """75 % of duty is nothing for the catalogue, which knows no engine, but not what this one should show."""
    where = ("--step", "pull-low", "--who", "L")
    run(capsys, "record", str(file), "pull_duty", "75 %", *where)
    plain = verbs.load_job(file)
    (before,) = [one for one in plain.build.recorded if one.key == "pull_duty"]
    (after,) = [one for one in verbs.with_step_ranges(plain).recorded if one.key == "pull_duty"]
    assert before.standing is not Standing.OUTSIDE
    assert (after.standing, after.at_once) == (Standing.OUTSIDE, "")
    assert after.high is not None
    assert after.high < 0.75
    run(capsys, "record", str(file), "pull_lambda", "0,95 lambda", *where)
    found = verbs.check(verbs.with_step_ranges(verbs.load_job(file)), speeds=(200.0, 300.0, 400.0))
    (finding,) = [one for one in found.findings if one.code == "record.outside"]
    assert finding.verdict is Verdict.BREAKS
    assert finding.demand is not None
    assert finding.demand.value == 2.0
    assert "Break 'pull-low' off" in finding.remedy.text


def test_plan_and_check_judge_a_pull_alike(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the check breaks stands in the plan's first lines: both must see the step's own range."""
    run(capsys, "record", str(file), "pull_lambda", "0,95 lambda", "--step", "pull-low", "--who", "L")
    seen: list[Standing] = []
    whole = verbs.check

    def check(build: Build, **given: Any) -> CheckResult:
        seen.extend(one.standing for one in build.recorded if one.key == "pull_lambda")
        return whole(build, speeds=(200.0, 300.0, 400.0), **{k: given[k] for k in given if k == "progress"})

    monkeypatch.setattr(verbs, "check", check)
    run(capsys, "plan", str(file), "--seconds", "0", "--samples", "100", "--quiet")
    assert seen == [Standing.OUTSIDE]
