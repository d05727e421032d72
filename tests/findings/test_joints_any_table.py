"""Joints of every sort at random: findings stay whole, and more that is asked is less sure."""

from __future__ import annotations

import random
import re

import pytest

from boostwright.findings.joint_graph import drawn_joints
from boostwright.findings.model import Verdict
from boostwright.library.joint_materials import materials
from boostwright.systems.joints import Carried
from boostwright.views.numbers import fill
from tests.findings.test_joints import hose, joint, of, port
from tests.findings.test_subjects import found, maybe

HALVES = (
    "Rc 1/8", "R 1/8", "1/8-27 NPT male", "M10x1 female", "banjo M10x1", "-6 flare male 37",
    "-6 flare female 45", "-4 flare female", "hose 16 mm", "spigot 16 mm", "hose 300 mm", "v-band 63 mm",
    "flange 2 bolts 44 mm", "flange 3 bolts 44 mm", "quick connector 9.49 mm male", "slip 60 mm",
    "G 1/4 male", "M10 male",
)  # fmt: skip
MATERIALS = (*materials(), "")
CARRIES = (*(carried.value for carried in Carried), "")
SEALS = ("paste", "tape", "paste and tape", "washer", "clamp", "nothing", "own", "gasket", "")


def any_table(chance: random.Random) -> str:
    """Ports and joints of every sort, some with figures at the ends of their ranges."""
    tables = []
    names = [f"port {n}" for n in range(chance.randrange(1, 7))]
    for name in names:
        made = chance.choice(MATERIALS)
        lines = [f'material = "{made}"'] if made else []
        lines += [f'pressure = "{chance.choice((0.1, 5, 700))} bar"'] * (chance.random() < 0.3)
        lines += [f'temperature = "{chance.choice((40, 150, 1200))} degC"'] * (chance.random() < 0.3)
        lines += [f'ethanol = "{chance.choice((0, 10, 100))} %"'] * (chance.random() < 0.3)
        lines += [f'of = "part {chance.randrange(3)}"'] * (chance.random() < 0.7)
        tables.append(port(name, chance.choice(HALVES), "\n".join(lines)))
    chance.shuffle(names)
    for number in range(chance.randrange(1, 5)):
        ends = [names.pop() if names and chance.random() < 0.7 else chance.choice(HALVES) for _ in range(2)]
        more = "tried = true\n" * (chance.random() < 0.6)
        more += f"tested = '{chance.choice((0, 1, 6, 200))} bar'\n" * (chance.random() < 0.5)
        tables.append(
            joint(*ends, chance.choice(SEALS), chance.choice(CARRIES), more, name=f"joint {number % 3}")
        )
    return "".join(tables)


@pytest.mark.parametrize("seed", range(60))
def test_any_table_of_joints_gets_whole_findings(seed: int) -> None:
    given = of(any_table(random.Random(seed)))
    verdicts = {}
    for code in ("joint.mates", "joint.seal", "joint.rating", "joint.tried"):
        one = maybe(code, given)
        if one is None:
            assert code == "joint.rating"  # nothing goes through any of them
            continue
        verdicts[code] = one.verdict
        for text in (fill(one.cause), fill(one.remedy), *(fill(note) for note in one.notes)):
            assert text.endswith(".")
            assert "nan" not in text
            assert "{" not in text
        assert re.search(r"\d", fill(one.remedy))
        assert one.limit.source
    each = {joint.verdict for joint in drawn_joints(given)}
    assert (Verdict.BREAKS in each) == (Verdict.BREAKS in verdicts.values())


@pytest.mark.parametrize(
    ("carries", "permits", "section", "easy", "hard"),
    [
        ("oil", 6, "engine", 'oil_pressure_cold = "5 bar"', 'oil_pressure_cold = "9 bar"'),
        ("oil", 6, "engine", 'coolant_temperature = "80 degC"', 'coolant_temperature = "118 degC"'),
        ("coolant", 1.2, "cooling", 'cap_pressure = "0.9 bar"', 'cap_pressure = "1.8 bar"'),
        ("fuel", 6, "regulator", 'pressure = "2.5 bar"', 'pressure = "5 bar"'),
        ("air", 1.2, "wastegate", 'spike = "2 kPa"', 'spike = "60 kPa"'),
    ],
)
def test_more_asked_is_less_sure(carries: str, permits: float, section: str, easy: str, hard: str) -> None:
    def sure(line: str) -> float:
        tables = hose("nitrile", carries, f'pressure = "{permits} bar"')
        rest = "" if section == "engine" else f"[{section}]\n{line}\n"
        one = found("joint.rating", of(*tables, rest, engine=line if section == "engine" else ""))
        assert one.probability is not None
        return one.probability

    assert sure(hard) < sure(easy)
