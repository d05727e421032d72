"""`boostwright history FILE --attach PICTURE --to TASK` where several records stand of the task."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.cli.door import main


def test_the_problem_comes_first_and_the_others_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, picture = tmp_path / "car.toml", tmp_path / "x.png"
    file.write_text(verbs.demo_text("sound"), encoding="utf-8")
    (tmp_path / "sound_compressor.csv").write_text(verbs.demo_files("sound")["sound_compressor.csv"])
    picture.write_bytes(b"\x89PNG\r\n\x1a\n" + b"\0" * 20)
    task = "strip.nuts"
    for words in (["--start", task], ["--problem", task, "--note", "third"], ["--pause", task]):
        assert main(["record", str(file), *words, "--who", "Lena"]) in (0, 3)
    started, trouble, paused = (one.id for one in verbs.load_job(file).records)
    capsys.readouterr()
    assert main(["history", str(file), "--attach", str(picture), "--to", task]) == 0
    said = capsys.readouterr().out
    assert [one.record for one in verbs.attachments(file)] == [trouble]
    assert f"bound to {trouble[:8]}" in said
    assert said.index(paused[:8]) < said.index(started[:8])
    assert main(["history", str(file), "--attach", str(picture), "--to", started[:8]]) == 0
    assert "--to ID" not in capsys.readouterr().out
    assert verbs.attachments(file)[-1].record == started
