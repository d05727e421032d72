"""What all tests share: a skip is said aloud, and with BOOSTWRIGHT_SKIPS_FAIL=1 it is a failure."""

from __future__ import annotations

import os
from collections.abc import Generator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from tests.labels import LabelError, validate

# No test is timed: how long an example may take is for the benchmarks, and a busy machine is no fault.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

# No test reads or leaves pulls in the folder of whoever runs it; the tests of that folder name their own.
os.environ["BOOSTWRIGHT_CACHE"] = "off"

SKIPS_FAIL = os.environ.get("BOOSTWRIGHT_SKIPS_FAIL", "") not in ("", "0")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Refuse a `check` mark that did not come through tests.labels."""
    for item in items:
        for mark in item.iter_markers("check"):
            given: dict[str, Any] = dict(mark.kwargs)
            try:
                validate(given.pop("kind"), given.pop("id"), given.pop("source"), given.pop("note"))
            except (KeyError, LabelError) as fault:
                raise pytest.UsageError(
                    f"{item.nodeid}: label without use: {fault}; make it with tests.labels.check"
                ) from None
            if mark.args or given:
                raise pytest.UsageError(f"{item.nodeid}: label has parts unknown to tests.labels.check")


def _reason(report: pytest.TestReport | pytest.CollectReport) -> str:
    where = report.longrepr
    return str(where[2]) if isinstance(where, tuple) else str(where)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Turn a skip into a failure when the flag is set. An expected failure ('xfail') is no skip and stays."""
    report = yield
    if SKIPS_FAIL and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped, and BOOSTWRIGHT_SKIPS_FAIL is set: {_reason(report)}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """The same for a whole file that skips itself while it is read."""
    report = yield
    if SKIPS_FAIL and report.outcome == "skipped":
        report.outcome = "failed"
        report.longrepr = (
            f"{collector.nodeid} skipped as a whole, and BOOSTWRIGHT_SKIPS_FAIL is set: {_reason(report)}"
        )
    return report


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say what could not be run, and why; one line a reason."""
    reasons: dict[str, list[str]] = {}
    for report in terminalreporter.stats.get("skipped", []):
        reasons.setdefault(_reason(report).removeprefix("Skipped: "), []).append(report.nodeid)
    lines = [
        f"{len(names)} x {reason} ({names[0]}{', ...' if len(names) > 1 else ''})"
        for reason, names in sorted(reasons.items())
    ]
    terminalreporter.section("what could not be run", sep="-")
    for line in lines or ["nothing: every test that was asked for has run"]:
        terminalreporter.write_line(line)
    target = os.environ.get("BOOSTWRIGHT_NOT_RUN_FILE")
    if target:
        Path(target).write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
