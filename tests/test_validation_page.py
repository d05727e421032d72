"""The validation page is current, and every known disagreement has a test that fails for it."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests import disagreements

ROOT = Path(__file__).resolve().parent.parent


def test_the_page_is_what_the_labels_say() -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "make_validation.py"), "--check"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr or "run: make validation"


def test_every_disagreement_has_its_test() -> None:
    """An entry without a test would be a claim that nobody checks."""
    text = "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "tests").rglob("test_*.py"))
    quoted = set(re.findall(r'"([A-Z]\d+)"', text))
    assert set(disagreements.known()) <= quoted


def test_an_unknown_disagreement_cannot_be_claimed() -> None:
    with pytest.raises(KeyError):
        disagreements.disagreement("Z99")


def test_an_entry_must_be_complete(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "disagreements.toml"
    monkeypatch.setattr(disagreements, "FILE", file)
    for text, says in (
        ('[[disagreement]]\nid = "X1"\nwhat = "a"\n', "must have exactly"),
        (
            '[[disagreement]]\nid="X1"\nwhat="a"\nours="b"\ntheirs="c"\nsource="d"\nwhy="e"\n' * 2,
            "stands twice",
        ),
    ):
        file.write_text(text, encoding="utf-8")
        disagreements.known.cache_clear()
        with pytest.raises(ValueError, match=says):
            disagreements.known()
    disagreements.known.cache_clear()
