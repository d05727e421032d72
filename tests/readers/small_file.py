"""A small build file, and short ways to say what is wrong with it."""

from __future__ import annotations

import pytest

from boostwright.build.document import Build
from boostwright.build.faults import Fault, Severity
from boostwright.errors import BuildFileError
from boostwright.readers.build_file import read_build

SMALL = """\
[build]
name = "Small"

[goal]
boost = "0.5 bar"

[engine]
source = "handbook"
class = "four-valve"
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
"""


def faults_of(text: str | bytes) -> tuple[Fault, ...]:
    data = text.encode() if isinstance(text, str) else text
    with pytest.raises(BuildFileError) as caught:
        read_build(data, "test.toml")
    faults: tuple[Fault, ...] = caught.value.faults
    for fault in faults:
        assert fault.line >= 1
        assert fault.why
        assert fault.remedy
        assert fault.severity is Severity.FAULT
        assert fault.sentence().startswith(f"line {fault.line}")
    return faults


def with_line(section: str, line: str) -> str:
    """The small file with one more line in a section."""
    if f"[{section}]" in SMALL:
        return SMALL.replace(f"[{section}]\n", f"[{section}]\n{line}\n")
    return f"{SMALL}\n[{section}]\n{line}\n"


def one_fault(section: str, line: str) -> Fault:
    faults = faults_of(with_line(section, line))
    assert len(faults) == 1, [f.sentence() for f in faults]
    return faults[0]


def read_small(section: str, line: str) -> Build:
    return read_build(with_line(section, line).encode())
