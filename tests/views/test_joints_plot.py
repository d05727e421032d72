"""The picture of the joints: every joint once, branches where they leave, and readable without colour."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import matplotlib as mpl
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg

from boostwright.findings.joint_graph import DrawnJoint, Part
from boostwright.findings.model import Verdict
from boostwright.findings.result import CheckResult
from boostwright.systems.joints import Carried
from boostwright.views.plots.joints import joints, rows_of
from boostwright.views.plots.style import RC, Sheet
from tests.sample import result
from tests.sample_joints import drawn


def sheet_of(found: tuple[DrawnJoint, ...]) -> Sheet | None:
    whole: CheckResult = result()
    assert whole.drawing is not None
    with mpl.rc_context(RC):  # type: ignore[arg-type]
        return joints(replace(whole, drawing=whole.drawing._replace(joints=found)), "foot")


def test_a_branch_begins_below_the_part_that_it_leaves() -> None:
    oil = [joint for joint in drawn() if joint.carries is Carried.OIL]
    first, second = rows_of(oil)
    assert [box.part.name for box in first.boxes] == ["engine block", "tee", "pressure switch"]
    assert [box.part.name for box in second.boxes] == ["tee", "feed hose", "turbo"]
    assert second.boxes[0].again
    assert second.first == 1
    assert second.joints[0].halves[0] == "-4 flare 37 degree male"  # turned to the way


PARTS = st.integers(0, 7).map(lambda n: Part(f"part {n}"))


@given(st.lists(st.tuples(PARTS, PARTS), max_size=25))
def test_every_joint_stands_once_between_its_own_parts(pairs: list[tuple[Part, Part]]) -> None:
    """Loops, tees, a joint of a part with itself, several joints between two parts."""
    found = [
        DrawnJoint(str(n), pair, ("a", "b"), "", Carried.OIL, Verdict.HOLDS, "")
        for n, pair in enumerate(pairs)
    ]
    rows = rows_of(found)
    names = Counter(joint.name for row in rows for joint in row.joints)
    assert names == Counter(joint.name for joint in found)
    for row in rows:
        assert len(row.boxes) == len(row.joints) + 1
        assert row.first + len(row.boxes) <= 4
        for place, joint in enumerate(row.joints):
            assert joint.parts == (row.boxes[place].part, row.boxes[place + 1].part)
    boxes = Counter(box.part for row in rows for box in row.boxes if not box.again)
    assert all(count == 1 for count in boxes.values())


def test_without_joints_there_is_no_picture() -> None:
    assert sheet_of(()) is None


def test_ports_that_nothing_is_joined_to_are_drawn_as_holes() -> None:
    whole: CheckResult = result()
    assert whole.drawing is not None
    ends = (Part("engine block"), Part("nothing", -1))
    why = "a hole, or a joint left out"
    hole = DrawnJoint("spare hole", ends, ("M10x1 female", ""), "", None, Verdict.UNKNOWN, why)
    with mpl.rc_context(RC):  # type: ignore[arg-type]
        sheet = joints(replace(whole, drawing=whole.drawing._replace(open_ends=(hole,))), "foot")
    assert sheet is not None
    words = [text.get_text().replace("\n", " ") for axis in sheet.figure.axes for text in axis.texts]
    assert "ports that nothing is joined to" in words
    assert "spare hole" in words
    assert "unknown: a hole, or a joint left out" in words


def test_the_verdict_is_in_words_and_marks_and_not_in_colour_alone() -> None:
    sheet = sheet_of(drawn())
    assert sheet is not None
    words = " ".join(text.get_text() for axis in sheet.figure.axes for text in axis.texts)
    for told in ("breaks: halves do", "tight: tested too", "unknown: not tried", "unknown: seal"):
        assert told in words.replace("\n", " ")
    styles = {line.get_linestyle() for axis in sheet.figure.axes for line in axis.lines}
    assert {"-", "--", ":"} & styles or len(styles) >= 2
    assert "halves do not mate (flank angle)" in sheet.sentence
    assert "Cross and broken line: breaks" in sheet.sentence


def test_nothing_lies_on_anything_else() -> None:
    sheet = sheet_of(drawn())
    assert sheet is not None
    canvas = FigureCanvasAgg(sheet.figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    texts = [t for t in (*sheet.figure.texts, *sheet.figure.axes[0].texts) if t.get_text().strip()]
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in texts]
    for n, (text, box) in enumerate(boxes):
        for other, there in boxes[n + 1 :]:
            apart = (
                box.x1 <= there.x0 + 1
                or there.x1 <= box.x0 + 1
                or box.y1 <= there.y0 + 2
                or there.y1 <= box.y0 + 2
            )
            assert apart, (text, other)


def test_a_file_with_very_many_joints_still_fits_a_sheet() -> None:
    many = tuple(
        DrawnJoint(f"joint {n}", (Part("a", 2 * n + 1), Part("b", 2 * n + 2)), ("x", "y"), "", Carried.FUEL,
                   Verdict.HOLDS, "")
        for n in range(300)
    )  # fmt: skip
    sheet = sheet_of(many)
    assert sheet is not None
    assert sheet.figure.get_figheight() < 60
    assert "260 joints found no room" in sheet.sentence
