"""The Python door: what it offers, and that it offers it late."""

from __future__ import annotations

import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import boostwright as bw


def test_all_is_exact_and_everything_in_it_is_there() -> None:
    assert sorted(bw.__all__) == bw.__all__
    for name in bw.__all__:
        assert getattr(bw, name) is not None
    assert set(bw.__all__) - {"__version__"} == set(bw._HOME)


def test_no_name_stands_in_the_way_of_a_room() -> None:
    """`boostwright.plan` is what one does; a room of that name could no longer be reached."""
    rooms = {room.name for room in pkgutil.iter_modules(bw.__path__)}
    assert {"planning", "store", "verbs"} <= rooms
    assert not rooms & set(bw.__all__)
    for name in ("check", "fit", "ladder", "parts", "plan", "torque"):
        assert callable(getattr(bw, name)), f"{name} is a room and not what one does"


def test_all_that_a_person_can_do_is_described() -> None:
    page = (Path(__file__).resolve().parents[1] / "docs" / "python_api.md").read_text("utf-8")
    silent = [name for name in bw.__all__ if not re.search(rf"\b{name}\b", page)]
    assert silent == ["__version__"]


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="has no attribute 'chekc'"):
        _ = bw.chekc


def test_importing_loads_nothing_heavy() -> None:
    code = "import sys, boostwright; print({'numpy', 'numba', 'scipy', 'matplotlib'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stdout.strip() == "set()"


@pytest.fixture(scope="module")
def result() -> bw.CheckResult:
    return bw.check(bw.demo_build("sound"), speeds=np.array([2000.0, 3500.0, 5000.0]) * np.pi / 30)


def test_check_gives_typed_arrays_in_si(result: bw.CheckResult) -> None:
    assert result.baseline.speeds.shape == (3,)
    assert result.baseline.result.torque.shape == (3,)
    assert 50.0 < result.baseline.result.torque[1] < 300.0
    assert result.goal is not None
    assert result.goal.boost.shape == (3,)
    assert len(result.fingerprint) >= 16
    assert result.findings
    assert result.not_covered
    assert set(result.seconds) >= {"total", "match", "engine before the turbo"}


def test_findings_come_worst_first_and_hold_no_constant_demand(result: bw.CheckResult) -> None:
    weights = [f.weight for f in result.findings]
    assert weights == sorted(weights, reverse=True)
    codes = [f.code for f in result.findings]
    assert len(set(codes)) == len(codes)
    assert {"knock.half_burned", "strength.peak_pressure", "fuel.injector_duty", "turbo.surge"} <= set(codes)


def test_the_same_build_gives_the_same_answer(result: bw.CheckResult) -> None:
    again = bw.check(bw.demo_build("sound"), speeds=np.array([2000.0, 3500.0, 5000.0]) * np.pi / 30)
    first, second = bw.document(result), bw.document(again)
    first.pop("seconds")
    second.pop("seconds")
    assert first == second


def test_an_edited_limit_changes_the_verdict_and_shows(result: bw.CheckResult) -> None:
    edit = bw.LimitEdit("injector_duty", 0.4, 0.01, "these stick open early on the bench")
    speeds = np.array([2000.0, 3500.0, 5000.0]) * np.pi / 30
    edited = bw.check(bw.demo_build("sound"), speeds=speeds, limits=(edit,))
    found = next(f for f in edited.findings if f.code == "fuel.injector_duty")
    assert found.verdict is bw.Verdict.BREAKS
    assert found.limit.edited
    assert "stick open" in bw.terminal_report(edited)
    before = next(f for f in result.findings if f.code == "fuel.injector_duty")
    assert before.verdict is not bw.Verdict.BREAKS


@pytest.mark.parametrize("speeds", [[300.0], [300.0, 200.0, 400.0], [100.0, float("nan"), 300.0]])
def test_speeds_that_do_not_rise_are_refused(speeds: list[float]) -> None:
    with pytest.raises(bw.OutOfRange, match="rises"):
        bw.check(bw.demo_build("sound"), speeds=speeds)
