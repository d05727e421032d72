"""Limits that a build file changes."""

from __future__ import annotations

import pytest

from boostwright.build.document import Build
from boostwright.errors import BuildFileError
from boostwright.findings.limit_edits import _DIMENSIONS, _example, edits_of
from boostwright.findings.limits import shipped_limits
from boostwright.readers.build_file import read_build

HEAD = """[build]
name = "Edited"
[goal]
boost = "0.5 bar"
[engine]
class = "four-valve"
cylinders = 4
bore = "82 mm"
stroke = "80 mm"
"""


def build(*rows: tuple[str, str, str]) -> Build:
    tables = "".join(
        f'[[limits]]\nlimit = "{key}"\nvalue = "{value}"\nreason = "{reason}"\n'
        for key, value, reason in rows
    )
    return read_build((HEAD + tables).encode(), "edited.toml")


@pytest.mark.parametrize("key", sorted(shipped_limits()))
def test_every_limit_can_be_changed_and_its_own_value_reads_back(key: str) -> None:
    limit = shipped_limits()[key]
    (edit,) = edits_of(build((key, _example(limit), "as shipped, for the test")))
    assert edit.value == pytest.approx(limit.amount.value, rel=1e-3)
    changed = shipped_limits().edited((edit,))[key]
    assert changed.record.edited
    assert changed.record.source.startswith("the build file, line ")
    assert limit.amount.kind in _DIMENSIONS


def test_a_spread_may_be_stated_or_left() -> None:
    (stated,) = edits_of(build(("injector_duty", "90 +/- 2 %", "bench-flowed")))
    (left,) = edits_of(build(("injector_duty", "90 %", "bench-flowed")))
    assert stated.value == left.value == pytest.approx(0.9)
    assert stated.sd == pytest.approx(0.01)
    assert left.sd is None


def test_a_build_without_edits_has_none() -> None:
    assert edits_of(read_build(HEAD.encode())) == ()


def test_all_faults_are_found_with_line_and_remedy() -> None:
    with pytest.raises(BuildFileError) as refused:
        edits_of(
            build(
                ("injector_dutty", "90 %", "bench-flowed"),
                ("leak_down", "18 bar", "fresh rings"),
                ("oil_pressure_idle", "1.8 bar absolute", "gauge reads so"),
                ("tip_speed", "540 m/s", "-"),
                ("piston_speed_cast", "20 m/s", "old"),
                ("piston_speed_cast", "21 m/s", "older"),
            )
        )
    faults = refused.value.faults
    assert [f.line for f in faults] == sorted(f.line for f in faults)
    text = " ".join(f.sentence() for f in faults)
    assert "Nearest: injector_duty" in text
    assert "limits.value = 18 bar" in text
    assert '"15 %"' in text
    assert "this limit is gauge" in text
    assert "without a reason" in text
    assert "changed twice" in text
    assert len(faults) == 5
