"""Invented builds with oil, breather and small lines, for the tests of what is judged of them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from boostwright.findings.blow_by_case import BlowBy
from boostwright.findings.case import Case
from boostwright.findings.model import Finding
from boostwright.findings.registry import find_all
from tests.findings.test_subjects import build, case, found
from tests.sample import goal
from tests.systems.turbo_parts import parts

__all__ = [
    "BREATHER", "CODES", "DAY", "ENGINE", "OIL", "SMALL_LINES", "SPRING", "capacity", "demand", "oiled",
    "text",
    "told",
]  # fmt: skip

DAY = "on an ordinary warm day"
ENGINE = (
    'oil_pressure_idle = { value = "1.6 bar", source = "measured" }\n'
    'oil_pressure_3000 = { value = "4.0 bar", source = "measured" }\n'
    'crankcase_pressure = { value = "0.2 +/- 0.06 kPa", source = "measured" }'
)
OIL = {
    "grade": '"5W-40"', "temperature": '"98 degC"', "drain_bore": '"18 mm"', "drain_drop": '"220 mm"',
    "drain_slope": '"45 deg"', "drain_entry": '"40 mm"', "outlet_tilt": '"5 deg"', "feed_bore": '"4 mm"',
}  # fmt: skip
BREATHER = {"hose_bore": '"18 mm"', "length": '"0.7 m"', "one_way_valve": "true"}
SMALL_LINES = dict.fromkeys(("tank_purge", "idle_valve", "servo", "others"), '"tried"')
SPRING = {
    "relief_shim": '"1 mm"', "relief_wire": '"2.0 mm"', "relief_outside": '"14 mm"', "relief_turns": "8",
    "relief_free_length": '"42 mm"', "relief_fitted_length": '"34 mm"', "relief_plunger": '"14 mm"',
    "relief_port_travel": '"4 mm"',
}  # fmt: skip
CODES = (
    "oil.feed_least", "oil.feed_most", "oil.idle_pressure", "oil.drain", "oil.drain_entry",
    "oil.outlet_tilt", "oil.level", "oil.heat", "crankcase.drain", "crankcase.seals", "lines.boost",
)  # fmt: skip


def text(
    oil: dict[str, str] = OIL, breather: dict[str, str] = BREATHER, small_lines: dict[str, str] = SMALL_LINES
) -> str:
    rows = []
    for section, fields in (("oil", oil), ("breather", breather), ("small_lines", small_lines)):
        if fields:
            rows.append(
                f"[{section}]\nsource = 'measured'\n" + "\n".join(f"{k} = {v}" for k, v in fields.items())
            )
    return "\n".join(rows) + "\n"


def oiled(
    rest: str | None = None, engine: str = ENGINE, blow_by: float = 0.4e-3, more: str = "", **line: Any
) -> Case:
    """A case with a turbo, and blow-by that is 1.4 times that before at every speed."""
    document = build(engine=engine, rest=(text() if rest is None else rest) + more)
    with_line = replace(goal(), **line)
    given = case(document, with_line)
    gas = np.full(with_line.speed.shape, 1.4 * blow_by)
    given.extra["blow_by"] = BlowBy(blow_by, {DAY: gas})
    given.extra["turbo_parts"] = parts()
    return given


def demand(code: str, of: Case) -> float:
    one = found(code, of).demand
    assert one is not None
    return one.value


def capacity(code: str, of: Case) -> float:
    one = found(code, of).capacity
    assert one is not None
    return one.value


def told(of: Case) -> dict[str, Finding]:
    return {f.code: f for f in find_all(of) if f.code.split(".")[0] in ("oil", "crankcase", "lines")}
