"""`boostwright parts`: text, JSON, CSV, what is noted, exit codes, mistakes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.cli import main


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv("BOOSTWRIGHT_STORE", raising=False)
    path = tmp_path / "car.toml"
    path.write_text(verbs.demo_text("sound"), encoding="utf-8")
    (tmp_path / "sound_compressor.csv").write_text(verbs.demo_files("sound")["sound_compressor.csv"])
    return path


def lines_of(said: str) -> dict[str, dict[str, object]]:
    return {one["line"]: one for one in json.loads(said)["lines"]}


def test_the_list_on_a_terminal(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", str(file), "--day", "2025-05-10", "--today", "2025-04-12"]) == 1
    said = capsys.readouterr().out
    assert max(map(len, said.splitlines())) <= 80
    plain = " ".join(said.split())
    assert "At least one line is missing on 2025-05-10" in plain
    assert "Budget 3900 EUR, 450 EUR of it kept back" in plain
    assert "To be ordered first" in plain
    assert "vehicle manual" in plain
    assert not (file.parent / "car.history.sqlite").exists()


def test_each_missing_line_says_by_when_it_must_be_ordered(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """2025-04-14 is a Monday; the work begins on Wednesday and goes on to the Monday after."""
    hours = '\n[hours]\nsource = "maker"\nstart = "2025-04-16 08:00"\nend = "2025-04-21 20:00"\n'
    file.write_text(file.read_text() + hours)
    assert main(["parts", str(file), "--today", "2025-04-14", "--json"]) == 1
    document = json.loads(capsys.readouterr().out)
    due = {one["line"]: one for one in document["order_first"]}
    needed = {one["needed"] for one in due.values()}
    assert min(needed) >= "2025-04-14"
    assert max(needed) > min(needed), "not all on one day"
    missing = {one["line"] for one in document["lines"] if one["state"] == "missing" and one["tasks"]}
    assert missing <= due.keys()
    assert document["odds"]["planned"]
    late = [one for one in due.values() if one["late"]]
    assert late
    assert all(one["by"] < "2025-04-14" and one["odds"] > 0.1 for one in late)
    assert all(one["odds"] <= 0.101 for one in due.values() if not one["late"])
    assert main(["parts", str(file), "--today", "2025-04-14", "--missing"]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "come too late for their first task in more than 1 of 10 cases" in said
    assert said.count("order by ") + said.count("too late for ") > 30
    assert main(["parts", str(file), "--today", "2025-04-14", "--csv"]) == 1
    rows = {row["line"]: row for row in csv.DictReader(io.StringIO(capsys.readouterr().out))}
    for key, one in due.items():
        assert (rows[key]["needed_on"], rows[key]["order_by"]) == (one["needed"], one["by"])
        assert rows[key]["too_late"] == ("too late" if one["late"] else "")


def test_a_day_that_has_gone_by_is_refused(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    argv = ["parts", str(file), "--day", "2025-04-13", "--today", "2025-04-14", "--have", "part.turbo"]
    assert main(argv) == 2
    said = capsys.readouterr().err
    assert "2025-04-13, has gone by: today is 2025-04-14. Name today or a later day." in " ".join(
        said.split()
    )
    assert not (file.parent / "car.history.sqlite").exists(), "nothing is noted"


def test_without_a_plan_the_list_says_so(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file.write_text(file.read_text() + '\n[hours]\nsource = "maker"\nday_from = "21:00"\n')
    assert main(["parts", str(file)]) == 1
    said = capsys.readouterr()
    assert "no plan that would say when each part is needed" in " ".join(said.out.split())
    assert "To be ordered first" not in said.out


def test_what_is_noted_is_kept(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", str(file), "--have", "seal.*", "fluid.oil-filter", "--who", "N", "--json"]) == 1
    first = lines_of(capsys.readouterr().out)
    assert first["fluid.oil-filter"]["state"] == "have"
    assert main(["parts", str(file), "--json"]) == 1
    again = lines_of(capsys.readouterr().out)
    assert again == first
    seals = [one["state"] for key, one in again.items() if key.startswith("seal.")]
    assert set(seals) == {"have"}
    assert again["spare.seal.drain-hose-top"]["state"] == "missing"
    argv = ["parts", str(file), "--ordered", "gasket.turbo-to-manifold", "--expected", "2025-05-02"]
    assert main([*argv, "--price", "18,50"]) == 2  # has gone by
    assert "--expected 2025-05-02 has gone by" in capsys.readouterr().err.replace("\n", " ")
    argv += ["--today", "2025-04-20"]
    assert main([*argv, "--price", "18,50", "--from", "gasket shop", "--json"]) == 1
    ordered = lines_of(capsys.readouterr().out)["gasket.turbo-to-manifold"]
    assert (ordered["state"], ordered["expected"], ordered["seller"]) == (
        "ordered",
        "2025-05-02",
        "gasket shop",
    )
    assert ordered["price"] == {"low": 18.5, "high": 18.5, "source": ordered["price"]["source"]}  # type: ignore[index]
    assert main(["parts", str(file), "--broken", "part.turbo", "--json"]) == 1
    assert lines_of(capsys.readouterr().out)["part.turbo"]["state"] == "missing"


def test_the_spreadsheets_forms(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", str(file), "--csv", "--semicolon"]) == 1
    said = capsys.readouterr().out
    assert said.startswith("\ufeffline;group;state;"), (
        "without its mark a spreadsheet takes it for another code"
    )
    rows = list(csv.DictReader(io.StringIO(said.removeprefix("\ufeff"), newline=""), delimiter=";"))
    assert said.count("\r\n") == said.count("\n") == len(rows) + 1, "the last line ends as the others"
    assert main(["parts", str(file), "--csv"]) == 1
    assert capsys.readouterr().out.startswith("line,group,state,")
    folder = tmp_path / "new" / "list"
    assert main(["parts", str(file), "--json", "--out", str(folder)]) == 1
    printed = json.loads(capsys.readouterr().out)
    assert json.loads((folder / "parts.json").read_text("utf-8")) == printed
    assert [row["line"] for row in rows] == [one["line"] for one in printed["lines"]]
    assert (folder / "parts.csv").read_bytes().count(b"\r\n") == len(rows) + 1
    assert "Parts list" in (folder / "parts.txt").read_text("utf-8")
    assert main(["parts", str(file), "--semicolon", "--out", str(folder)]) == 1
    assert (folder / "parts.csv").read_bytes().startswith(b"\xef\xbb\xbfline;group;state;")
    capsys.readouterr()


def test_what_is_to_be_found_out_has_its_own_code(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = file.read_text("utf-8").replace('seal = "gasket"\n', "", 1)
    file.write_text(text, encoding="utf-8")
    assert main(["parts", str(file)]) == 3
    said = " ".join(capsys.readouterr().out.split())
    assert "what makes 'drain at the turbo' tight is not stated" in said


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["--have", "part.turbi"], "no line 'part.turbi'. Near it: part.turbo"),
        (["--day", "tomorrow"], "'tomorrow' is no day; write it like 2025-06-14"),
        (["--have", "part.turbo", "--price", "-3"], "'-3' is no price"),
        (["--have", "part.turbo", "--price", "much"], "'much' is no price"),
        (["--have", "part.turbo", "--quantity", "few"], "'few' is no amount"),
        (["--json", "--csv"], "choose one of them"),
    ],
)
def test_mistakes_are_said(
    argv: list[str], words: str, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["parts", str(file), *argv]) == 2
    assert words in " ".join(capsys.readouterr().err.split())
    assert not (file.parent / "car.history.sqlite").exists()


def test_a_file_that_cannot_be_used(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", str(file.parent / "none.toml")]) == 2
    file.write_text(
        file.read_text("utf-8").replace('state = "have"', 'state = "perhaps"', 1), encoding="utf-8"
    )
    assert main(["parts", str(file)]) == 2
    assert "perhaps" in capsys.readouterr().err


def test_the_help_has_examples(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", "--help"]) == 0
    said = capsys.readouterr().out
    assert "--missing --day" in said
    assert "exit codes" in said


def test_a_list_from_a_spreadsheet_is_taken_over(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["parts", str(file), "--csv"]) == 1
    rows = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    column = rows[0].index("state")
    for row in rows[1:]:
        row[column] = "have" if row[0].startswith("gasket.") else row[column]
    sheet = tmp_path / "filled.csv"
    with sheet.open("w", encoding="utf-8", newline="") as opened:
        csv.writer(opened).writerows(rows)
    assert main(["parts", str(file), "--read", str(sheet), "--json"]) == 1
    lines = lines_of(capsys.readouterr().out)
    assert {one["state"] for key, one in lines.items() if key.startswith("gasket.")} == {"have"}
    rows[3][column] = "eaten"
    with sheet.open("w", encoding="utf-8", newline="") as opened:
        csv.writer(opened).writerows(rows)
    assert main(["parts", str(file), "--read", str(sheet)]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "row 4: 'eaten' is no state" in said
    assert "Nothing of the list was taken over" in said
