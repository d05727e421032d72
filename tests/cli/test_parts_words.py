"""What `boostwright parts` says of keys that fit nothing, of orders, and of hours that are over."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.cli.door import main
from boostwright.job import PartEvent
from boostwright.planning.parts import State
from boostwright.views.parts_page import account_words


@pytest.fixture
def file(tmp_path: Path) -> Path:
    for name, text in verbs.demo_files("highland").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path / "highland.toml"


def test_a_pattern_that_fits_nothing_notes_nothing(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", str(file), "--unplanned", "--have", "part.turbo", "sail.*"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "No line of this build's list is like 'sail.*', and nothing was noted." in said
    assert "gasket" in said
    assert verbs.load_job(file).records == ()


@pytest.mark.parametrize("name", ["sound", "highland", "planted"])
def test_the_example_of_the_help_fits_every_build(name: str) -> None:
    """No source: what --help shows has to work."""
    lines = {line.key for line in verbs.parts(verbs.demo_build(name), plan=False).lines}
    assert "part.turbo" in lines
    assert any(key.startswith("gasket.") for key in lines)


def test_an_order_with_an_open_question_is_counted() -> None:
    build = verbs.demo_build("highland")
    line = next(one for one in verbs.parts(build, plan=False).counted if one.state is State.FIND)
    event = PartEvent("a", "L", "2025-04-01T10:00:00.000+00:00", line.key, "ordered", price=310.5)
    for records, told in (((), False), ((event,), True)):
        found = verbs.parts(build, records, plan=False)
        said = next(account_words(verbs.parts_account(build, found)))
        assert ("(1 of them ordered all the same)" in said) is told


@pytest.mark.parametrize("command", ["parts", "plan"])
def test_a_weekend_that_is_over_is_said_to_be_over(
    command: str, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    day = date.today() - timedelta(days=400)  # noqa: DTZ011
    build = verbs.load_build(file)
    text = "\n".join(row for row in file.read_text().splitlines() if not row.startswith(("start =", "end =")))
    hours = f'start = "{day} 08:00"\nend = "{day + timedelta(days=1)} 20:00"\n'
    there = "\n[hours]\n" in text
    text = text.replace("\n[hours]\n", f"\n[hours]\n{hours}") if there else f"{text}\n[hours]\n{hours}"
    file.write_text(text)
    assert verbs.load_build(file).fingerprint != build.fingerprint
    main([command, str(file), *(["--quick"] if command == "plan" else [])])
    said = capsys.readouterr()
    flat = " ".join((said.out + said.err).split())
    assert "The hours of this job are over" in flat
    assert "nobody can" not in flat
