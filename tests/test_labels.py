"""The labels and the skip flag do what the validation page and CI rely on."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.labels import KINDS, LabelError, check

ROOT = Path(__file__).parent.parent


def test_every_kind_makes_a_mark() -> None:
    for kind in KINDS:
        source = "" if kind == "common practice" else "a book"
        mark = check(kind, id="A1", source=source, note="page 1").mark
        assert mark.name == "check"
        assert mark.kwargs == {"kind": kind, "id": "A1", "source": source, "note": "page 1"}


@pytest.mark.parametrize(
    ("kind", "id", "source", "says"),
    [
        ("guess", None, "a book", "none of"),
        ("published", None, " ", "must say its source"),
        ("reference library", None, "", "must say its source"),
        ("measured", None, "", "must say its source"),
        ("common practice", None, "a book", "has no source"),
        ("limit", "first", "", "letter"),
        ("limit", "A", "", "letter"),
    ],
)
def test_a_label_without_use_is_refused(kind: str, id: str | None, source: str, says: str) -> None:
    with pytest.raises(LabelError, match=says):
        check(kind, id=id, source=source)


def _run(folder: Path, text: str, **flags: str) -> subprocess.CompletedProcess[str]:
    """Run pytest on one small test file under this project's own conftest."""
    (folder / "test_inner.py").write_text(text)
    (folder / "conftest.py").write_text("from tests.conftest import *\n")
    (folder / "pytest.ini").write_text("[pytest]\nmarkers =\n    check: label\n")
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("BOOSTWRIGHT_", "PYTEST_"))}
    environment |= {"PYTHONPATH": str(ROOT), **flags}
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:cacheprovider",
        "-p",
        "no:xdist",
        "-c",
        "pytest.ini",
        ".",
    ]
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, timeout=120, check=False
    )


ONE_SKIP = "import pytest\ndef test_a():\n    pytest.skip('no such tool here')\ndef test_b():\n    pass\n"
FILE_SKIP = "import pytest\npytest.importorskip('no_such_module_anywhere')\ndef test_a():\n    pass\n"


@pytest.mark.parametrize("text", [ONE_SKIP, FILE_SKIP], ids=["one test", "whole file"])
def test_a_skip_is_said_and_fails_only_under_the_flag(tmp_path: Path, text: str) -> None:
    flag = "BOOSTWRIGHT_SKIPS_FAIL"
    without = _run(tmp_path, text + "def test_c():\n    pass\n", **{flag: "0"})
    assert without.returncode in (0, 5), (
        without.stdout
    )  # 5: the only file skipped itself, nothing was collected
    assert "what could not be run" in without.stdout
    assert "1 x " in without.stdout
    under = _run(tmp_path, text, **{flag: "1"})
    assert under.returncode not in (0, 5), under.stdout
    assert "BOOSTWRIGHT_SKIPS_FAIL is set" in under.stdout


def test_an_expected_failure_is_no_skip(tmp_path: Path) -> None:
    text = "import pytest\n@pytest.mark.xfail(strict=True)\ndef test_a():\n    assert False\n"
    assert _run(tmp_path, text, BOOSTWRIGHT_SKIPS_FAIL="1").returncode == 0


def test_a_mark_made_by_hand_is_refused(tmp_path: Path) -> None:
    text = "import pytest\n@pytest.mark.check(kind='guess')\ndef test_a():\n    pass\n"
    ran = _run(tmp_path, text)
    assert ran.returncode == 4, ran.stdout
    assert "label without use" in ran.stdout + ran.stderr
