"""The command line as a person meets it: exit codes, mishaps in words, nothing half-written."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from boostwright import verbs
from boostwright.cli import main
from boostwright.library import demo_builds, read_text
from boostwright.verbs import demo_build, load_build
from boostwright.views.schema import results_schema

RUN = (sys.executable, "-m", "boostwright")


def run(
    *words: str, env: dict[str, str] | None = None, cwd: Path | None = None
) -> subprocess.CompletedProcess[str]:
    """A process of its own, without a terminal."""
    environment = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLUMNS")} | (env or {})
    return subprocess.run(
        [*RUN, *words], capture_output=True, text=True, env=environment, cwd=cwd, timeout=300
    )


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sound demo build as a file."""
    folder = tmp_path_factory.mktemp("builds")
    for name, text in verbs.demo_files("sound").items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "sound.toml"


@pytest.fixture(scope="module")
def checked(
    sound: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[subprocess.CompletedProcess[str], Path]:
    """One check with --out, shared."""
    folder = tmp_path_factory.mktemp("out") / "new" / "report"
    return run("check", str(sound), "--speeds", "2000 3500 5000 6000 rpm", "--out", str(folder)), folder


# ---------------------------------------------------------------------------------------------------- the
# main job


def test_check_prints_the_verdict_first_and_says_what_it_wrote(
    checked: tuple[subprocess.CompletedProcess[str], Path],
) -> None:
    done, folder = checked
    assert done.returncode in (0, 3), done.stderr
    lines = done.stdout.splitlines()
    assert "Lake hatchback" in lines[0]
    assert any(word in lines[2] for word in ("holds", "tight", "unknown", "breaks"))
    assert max(map(len, lines[:-2])) <= 80
    assert "\033[" not in done.stdout
    assert f"Written to {folder}" in done.stdout
    names = {p.name for p in folder.iterdir()}
    assert {"report.txt", "results.json", "margins.svg", "margins.png", "torque_and_power.svg"} <= names
    assert not [n for n in names if n.startswith(".")]


def test_progress_goes_to_stderr_in_plain_lines(
    checked: tuple[subprocess.CompletedProcess[str], Path],
) -> None:
    done, _ = checked
    assert "computing the engine before the turbo ..." in done.stderr.splitlines()
    assert "\r" not in done.stderr


def test_the_results_file_follows_the_schema_and_the_report_agrees(
    checked: tuple[subprocess.CompletedProcess[str], Path],
) -> None:
    done, folder = checked
    results = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(results_schema()).validate(results)
    report = (folder / "report.txt").read_text(encoding="utf-8")
    flat = " ".join(report.split())
    for finding in results["findings"]:
        assert " ".join(finding["odds"].split()) in flat
    assert results["made_by"]["inputs"] in flat
    assert done.returncode == {"breaks": 1, "unknown": 3}.get(results["verdict"]["word"], 0)


def test_json_is_alone_on_stdout(sound: Path) -> None:
    done = run("check", str(sound), "--json", "--speeds", "2000 3500 5000", "--quiet")
    assert json.loads(done.stdout)["build"]["name"] == "Lake hatchback"
    assert done.stderr == ""


@pytest.mark.parametrize("name", demo_builds())
def test_every_demo_build_is_answered_in_words(name: str) -> None:
    done = run("demo", name, "--quiet", "--speeds", "2000 3500 5000")
    assert done.returncode in (0, 1, 2, 3)
    assert "Traceback" not in done.stderr + done.stdout
    assert done.stdout or ".toml:" in done.stderr


# ---------------------------------------------------------------------------------------------------------
# mishaps


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["check", "nowhere.toml"], 2, "nowhere.toml: there is no such file"),
        (["check", "."], 2, "this is a folder"),
        (["check", "empty.toml"], 2, "empty.toml:1"),
        (["check"], 2, "For help"),
        (["chek"], 2, "For help"),
        (["check", "x.toml", "--sped"], 2, "For help: boostwright check --help"),
        (["review", "drive.csv", "--bulid", "x.toml"], 2, "Did you mean --build?"),
        (["tables", "."], 2, "Inside it: empty.toml"),
        ([], 2, ""),
        (["explain", "engine.boar"], 0, "engine.bore"),
        (["explain", "no.such.thing.at.all"], 2, "There is no field"),
        (["demo", "unsound"], 2, "there is no demo build named 'unsound'; there are: "),
        (["new", "--class", "steam"], 2, "there is no engine class 'steam'"),
        (["new", "."], 2, "this is a folder"),
        (["new", "no/such/folder/a.toml"], 2, "no such folder"),
    ],
)
def test_a_mishap_is_one_clear_answer(words: list[str], code: int, says: str, tmp_path: Path) -> None:
    (tmp_path / "empty.toml").write_text("")
    done = run(*words, cwd=tmp_path)
    assert done.returncode == code, done.stderr
    assert says in done.stdout + done.stderr
    assert "Traceback" not in done.stderr


def test_an_unreadable_file_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refuse(*_: object) -> bytes:
        raise PermissionError(13, "Permission denied", "locked.toml")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert main(["check", "locked.toml"]) == 2
    assert "locked.toml: you may not open this" in capsys.readouterr().err


@pytest.mark.parametrize(
    "speeds", ["3000 2000 4000 rpm", "3000 rpm", "fast", "3000 4000 5000 kW", "1 2 3 rpm"]
)
def test_speeds_that_make_no_sense_are_said(speeds: str, sound: Path) -> None:
    done = run("check", str(sound), "--speeds", speeds, "--quiet")
    assert done.returncode == 2
    assert f"the speeds '{speeds}'" in done.stderr


FAULTY = """\
[build]
name = "Crooked"
[goal]
boost = "0.5 bar"
[engine]
class = "four-valve"
cylinders = 4
bore = "82 L"
stroke = "9 mm"
comprssion_ratio = 10
"""


def test_a_faulty_file_is_answered_with_every_fault_by_line(tmp_path: Path) -> None:
    (tmp_path / "crooked.toml").write_text(FAULTY)
    done = run("check", "crooked.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    places = [int(found) for found in re.findall(r"^crooked\.toml:(\d+)", done.stderr, re.MULTILINE)]
    assert places == sorted(places)
    assert {8, 9, 10} <= set(places)
    assert "compression_ratio" in done.stderr
    assert "35 mm to 120 mm" in done.stderr
    assert max(map(len, done.stderr.splitlines())) <= 80


def test_an_inner_mishap_is_a_sentence_and_debug_shows_where(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], sound: Path
) -> None:
    from boostwright import verbs

    def trip(*_: object, **__: object) -> None:
        raise RuntimeError("a wheel came off")

    monkeypatch.setattr(verbs, "check", trip)
    assert main(["check", str(sound), "--quiet"]) == 4
    err = capsys.readouterr().err
    assert "RuntimeError: a wheel came off" in err
    assert "--debug" in err
    assert "Traceback" not in err
    with pytest.raises(RuntimeError):
        main(["check", str(sound), "--quiet", "--debug"])


def test_stopped_by_the_person(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], sound: Path
) -> None:
    from boostwright import verbs

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(verbs, "check", stop)
    assert main(["check", str(sound), "--quiet"]) == 130
    assert "Stopped" in capsys.readouterr().err


def test_a_pipe_that_nobody_reads_ends_quietly(tmp_path: Path) -> None:
    process = subprocess.Popen([*RUN, "explain"], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.close()
    assert process.stderr is not None
    err = process.stderr.read()
    assert process.wait(timeout=60) == 141
    assert err == b""


# ----------------------------------------------------------------------------------------------------------
# others


def test_new_writes_a_file_that_passes_and_never_replaces(tmp_path: Path) -> None:
    assert run("new", "car.toml", cwd=tmp_path).returncode == 0
    written = (tmp_path / "car.toml").read_bytes()
    again = run("new", "car.toml", cwd=tmp_path)
    assert again.returncode == 2
    assert "stays as it is" in again.stderr
    assert (tmp_path / "car.toml").read_bytes() == written
    assert run("new", "car.toml", "--force", "--class", "two-valve", cwd=tmp_path).returncode == 0
    assert (tmp_path / "car.toml").read_bytes() != written
    done = run("check", "car.toml", "--speeds", "2000 3500 5000", "--quiet", cwd=tmp_path)
    assert done.returncode in (0, 1, 3), done.stderr


def test_a_demo_is_copied_into_a_folder_that_is_made_for_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "new" / "car"
    assert main(["demo", "sound", "--copy", str(folder)]) == 0
    assert f"Written: {folder / 'sound.toml'}" in capsys.readouterr().out
    (tmp_path / "file").write_text("")
    assert main(["demo", "sound", "--copy", str(tmp_path / "file")]) == 2
    said = capsys.readouterr().err
    assert ".part" not in said
    assert str(tmp_path / "file") in said


def test_demo_copies_its_file(tmp_path: Path) -> None:
    assert run("demo", "sound", "--copy", str(tmp_path)).returncode == 0
    assert (tmp_path / "sound.toml").read_text(encoding="utf-8") == read_text("builds/sound.toml")
    assert run("demo", "sound", "--copy", str(tmp_path)).returncode == 2
    for name in ("sound", "highland"):  # a copy is whole: the maps that it names lie beside it
        run("demo", name, "--copy", str(tmp_path))
        assert load_build(tmp_path / f"{name}.toml").fingerprint == demo_build(name).fingerprint
    listed = run("demo")
    assert listed.returncode == 0
    assert set(demo_builds()) <= {line.split()[0] for line in listed.stdout.splitlines()}


def test_schemas_are_json_schemas() -> None:
    for which in ("build", "results"):
        done = run("schema", which)
        jsonschema.Draft202012Validator.check_schema(json.loads(done.stdout))


def test_explain_a_section_a_finding_and_everything() -> None:
    assert "engine.bore" in run("explain", "engine").stdout
    told = run("explain", "knock.half_burned").stdout
    assert "latest useful half-burned point" in told
    listed = run("explain").stdout
    assert "strength.peak_pressure" in listed
    assert "pressure_sensor" in listed


def test_version_names_program_and_data() -> None:
    from boostwright import __version__
    from boostwright.library.version import data_version

    assert run("--version").stdout == f"boostwright {__version__}, data {data_version()}\n"


def test_help_says_in_which_order_to_begin() -> None:
    said = run("--help").stdout
    begin = said[said.index("where to begin, in this order:") :]
    places = [begin.index(f"boostwright {word} ") for word in ("new", "explain", "fit", "check")]
    assert places == sorted(places)
    listed = [said.index(f"\n    {word} ") for word in ("new", "explain", "fit", "check")]
    assert listed == sorted(listed)


def test_draws_go_by_that_name_and_by_samples(sound: Path) -> None:
    for option in ("--draws", "--samples"):
        done = run("check", str(sound), option, "3")
        assert done.returncode == 2
        assert "'3' is no number of draws" in done.stderr


@pytest.mark.parametrize("command", ["check", "new", "explain", "demo", "warm-up", "schema"])
def test_every_command_has_help_with_examples(command: str) -> None:
    done = run(command, "--help")
    assert done.returncode == 0
    assert "examples:" in done.stdout
    assert f"boostwright {command}" in done.stdout


def test_a_terminal_that_knows_only_ascii(sound: Path) -> None:
    done = run("check", str(sound), "--speeds", "2000 3500 5000", env={"PYTHONIOENCODING": "ascii"})
    assert done.stdout.isascii()
    assert "+/-" in done.stdout
    assert "UnicodeEncodeError" not in done.stderr


def test_the_door_loads_no_model() -> None:
    heavy = "{'numba', 'scipy', 'matplotlib', 'numpy', 'pydantic'}"
    code = f"import sys, boostwright, boostwright.cli; print(sorted({heavy} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stdout.strip() == "[]"


def test_check_without_out_loads_no_plotting(sound: Path) -> None:
    code = (
        f"import sys\nfrom boostwright.cli import main\nmain(['check', {str(sound)!r}, '--speeds', '2000"
        " 3500 5000', '--quiet'])\nprint('matplotlib' in sys.modules, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=300)
    assert done.stderr.strip().endswith("False")


def test_a_place_that_is_no_folder_is_said_before_the_work(sound: Path, tmp_path: Path) -> None:
    (tmp_path / "report").write_text("a file")
    done = run("check", str(sound), "--out", str(tmp_path / "report"))
    assert done.returncode == 2
    assert "a folder is needed" in done.stderr
    assert "computing" not in done.stderr
    assert (tmp_path / "report").read_text() == "a file"


def test_a_folder_that_is_not_there_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", str(tmp_path / "nowhere" / "car.toml")]) == 2
    said = capsys.readouterr().err
    assert "nowhere: there is no such folder" in said
    assert ".part" not in said
