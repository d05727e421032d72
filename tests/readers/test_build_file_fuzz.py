"""Damaged files: whatever the bytes, the reader answers with a build or with faults, and soon.

tools/fuzz_build_files.py makes the files and runs as many as wanted by hand.
"""

from __future__ import annotations

from typing import Any

import pytest

from boostwright.build.faults import Fault
from boostwright.errors import BuildFileError
from boostwright.readers.build_file import read_build
from tools import fuzz_build_files as fuzz

FILES = 2000
BLOCKS = 8


@pytest.mark.parametrize("block", range(BLOCKS))
def test_two_thousand_damaged_files(block: int) -> None:
    size = FILES // BLOCKS
    tally = fuzz.run(10_000_000 + block * size, size)
    assert not tally.failures, tally.failures[:5]
    assert sum(tally.counts.values()) == size
    assert tally.counts.get("build", 0) > 0  # the damage leaves some files whole, so both ways are walked
    assert tally.counts.get("refused", 0) > size / 2


def test_the_judge_sees_what_must_not_happen(monkeypatch: pytest.MonkeyPatch) -> None:
    def answer(error: Exception) -> Any:
        def reader(data: bytes) -> Any:
            raise error

        return reader

    def fault(**changed: Any) -> Fault:
        whole = {
            "code": "x",
            "line": 1,
            "field": "",
            "written": "",
            "allowed": "",
            "why": "so",
            "remedy": "Do it.",
        }
        return Fault(**{**whole, **changed})

    for error in (
        KeyError("x"),
        RecursionError(),
        BuildFileError("no faults", ()),
        BuildFileError("x", (fault(line=0),)),
        BuildFileError("x", (fault(remedy=" "),)),
        BuildFileError("x", (fault(why=""),)),
    ):
        monkeypatch.setattr(fuzz, "read_build", answer(error))
        assert fuzz.judge(b"")[0] == "failed"
    monkeypatch.setattr(fuzz, "read_build", answer(BuildFileError("x", (fault(),))))
    assert fuzz.judge(b"")[0] == "refused"


LINE = b'bore = "86 mm"\n'
PATHOLOGICAL = {
    "open lists": b"a = [\n" * 5000,
    "deep lists": b"[engine]\na = " + b"[" * 1900 + b"\n" + LINE,
    "deep lists on many lines": b"[engine]\n" + (b"a = " + b"[" * 500 + b"\n") * 900,
    "open texts": b"[engine]\n" + b"a = '''\n" * 5000,
    "open tables": b"[engine]\n" + b"a = {b = {c = \n" * 5000,
    "long dotted name": b"[engine]\n" + b"a." * 900 + b"b = 1\n",
    "many long dotted names": b"[engine]\n" + (b"a." * 900 + b"b = 1\n") * 99,
    "long header": b"[" + b"a." * 900 + b"b]\n",
    "many long names": b"[engine]\n" + b"".join(b"k%d%s = 1\n" % (n, b"rod" * 90) for n in range(1500)),
    "many sections": b"".join(b"[section%d]\nx = 1\n" % n for n in range(2400)),
    "many tables": b"[[joints]]\n" * 4900,
    "many ports of one name": b"[[ports]]\nname = 'a'\nhalf = 'Rc 1/8'\n" * 500,
    "many strange halves": b"".join(
        b"[[ports]]\nname = '%s%d'\nhalf = '%s'\n" % (b"oil hole " * 8, n, b"1/8-27 NTP x" * 6)
        for n in range(499)
    ),
    "many strange ends": b"".join(
        b"[[ports]]\nname = '%s%d'\nhalf = 'Rc 1/8'\n" % (b"oil hole " * 8, n) for n in range(490)
    )
    + b"".join(
        b"[[joints]]\nname = 'a'\nfrom = '%sx%d'\nto = '%d/8 NTP'\nseal = 'gum'\n" % (b"oil hloe " * 8, n, n)
        for n in range(490)
    ),
    "many doubles": b"[engine]\n" + LINE * 4900,
    "huge whole number": b"[engine]\ncylinders = " + b"9" * 1900 + b"\n",
    "huge number": b"[engine]\nrod_length = " + b"9" * 1900 + b".5\n",
    "long row": b"[baseline]\nspeed = [" + b",".join([b'"1 rpm"'] * 200) + b"]\n",
    "many rows": b"[baseline]\nspeed = [\n" + b'"1000 rpm",\n' * 4000 + b"]\n",
    "one long line": b"[engine]\nbore = '" + b"x" * 400_000 + b"'\n",
    "comments": b"# " + b"x" * 1900 + b"\n",
    "only brackets": b"[" * 100_000,
    "only quotes": b'"' * 100_000,
    "control characters": bytes(range(32)) * 5000,
    "every byte": bytes(range(256)) * 1000,
    "bad utf-8 on every line": b'[engine]\na = "\xff"\n' + b'x = "\xb0"\n' * 4000,
    "backslashes": b'[engine]\na = "' + b"\\" * 1500 + b'\n',
    "plus minus": b'[engine]\nbore = "' + b"+/-" * 60 + b'"\n',
    "spaces": b"[engine]\nbore " + b" " * 1900 + b"=\n",
    "digits and spaces": b'[engine]\nbore = "' + b"1 " * 95 + b'"\n',
}  # fmt: skip


@pytest.mark.parametrize("name", PATHOLOGICAL)
def test_hostile_files_end(name: str) -> None:
    """Files made to take quadratic or exponential time; `tools/fuzz_build_files.py` times each file."""
    with pytest.raises(BuildFileError) as caught:
        read_build(PATHOLOGICAL[name])
    assert caught.value.faults
    assert not [trouble for fault in caught.value.faults if (trouble := fuzz.trouble_with(fault))]
