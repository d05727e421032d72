"""The joints as a picture: parts as boxes, a row for each way that oil, fuel, coolant or air takes."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from boostwright.findings.joint_graph import DrawnJoint, Part
from boostwright.findings.model import Verdict
from boostwright.findings.result import CheckResult
from boostwright.systems.joints import Carried
from boostwright.views.plots.style import GREY, INK, PAPER, RED, Sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["joints", "rows_of"]

_WIDTH = 11.0  # of the sheet [inch]
_SIDE = 0.3  # free at both sides [inch]
_COLUMNS = 4  # boxes beside one another
_BOX, _BOX_HEIGHT = 1.42, 0.50  # [inch]
_GAP = (_WIDTH - 2 * _SIDE - _COLUMNS * _BOX) / (_COLUMNS - 1)
_ROW, _HEADING = 1.12, 0.34  # height of a row of boxes and of its heading [inch]
_MOST_ROWS = 40  # on one sheet
_WORDS = {
    Carried.OIL: "oil under pressure",
    Carried.OIL_DRAIN: "oil that runs home",
    Carried.COOLANT: "coolant",
    Carried.FUEL: "fuel",
    Carried.AIR: "charge air",
    Carried.COOLED_AIR: "charge air behind the cooler",
    Carried.EXHAUST: "exhaust gas before the turbine",
    Carried.EXHAUST_OUT: "exhaust gas behind the turbine",
    Carried.CRANKCASE: "gas out of the crankcase",
    Carried.SIGNAL: "signal or vacuum",
    Carried.NOTHING: "nothing; it holds",
    None: "not said what goes through",
}
_HOLES = "ports that nothing is joined to"


class Box(NamedTuple):
    """A part in a row; `again` when it stands in another row of its circuit too."""

    part: Part
    again: bool


class Row(NamedTuple):
    """Boxes beside one another, a joint between each two."""

    first: int  # column of the first box
    boxes: tuple[Box, ...]
    joints: tuple[DrawnJoint, ...]


def rows_of(found: Sequence[DrawnJoint]) -> list[Row]:
    """The joints of one circuit laid out in rows: along each way as far as it goes, branches in rows of their
    own that begin with the part that they leave. Every joint stands in one row.
    """
    left = list(found)
    rows: list[Row] = []
    drawn: set[Part] = set()
    while left:
        start, column = _start(left, drawn, rows)
        boxes = [Box(start, start in drawn)]
        chain: list[DrawnJoint] = []
        here = start
        while column + len(chain) + 1 < _COLUMNS:
            onward = next((joint for joint in left if here in joint.parts), None)
            if onward is None:
                break
            left.remove(onward)
            here = onward.parts[1] if onward.parts[0] == here else onward.parts[0]
            chain.append(onward if onward.parts[1] == here else _turned(onward))
            boxes.append(Box(here, here in drawn or any(here == box.part for box in boxes)))
        drawn |= {box.part for box in boxes}
        rows.append(Row(column, tuple(boxes), tuple(chain)))
    return rows


def _turned(joint: DrawnJoint) -> DrawnJoint:
    """The same joint from its other end."""
    return joint._replace(parts=joint.parts[::-1], halves=joint.halves[::-1])


def _start(left: Sequence[DrawnJoint], drawn: set[Part], rows: Sequence[Row]) -> tuple[Part, int]:
    """The part with which the next row begins, and its column: a branch goes on where it leaves."""
    for row in reversed(rows):
        for place, box in reversed(list(enumerate(row.boxes))):
            if any(box.part in joint.parts for joint in left):
                column = row.first + place
                return box.part, column if column < _COLUMNS - 1 else 0
    ends = [part for joint in left for part in joint.parts]
    single = [part for part in ends if ends.count(part) == 1 and part not in drawn]
    return (single or ends)[0], 0


def joints(result: CheckResult, foot: str) -> Sheet | None:
    """Parts as boxes, joints as lines between them with the mark of their verdict; None without joints."""
    from matplotlib.figure import Figure

    found = result.drawing.joints if result.drawing is not None else ()
    if not found:  # ports alone are no picture
        return None
    groups: _Groups = [
        (words, rows_of(there)) for carried, words in _WORDS.items() if (there := _carrying(found, carried))
    ]
    holes = result.drawing.open_ends if result.drawing is not None else ()
    if holes:
        groups.append((_HOLES, rows_of(holes)))
    groups, left_out = _shortened(groups)
    title = "Joints: what is screwed or clamped to what"
    sentence = _sentence(found, left_out)
    lines = textwrap.wrap(sentence, 168)
    top, bottom = 0.50, 0.42 + 0.165 * len(lines)
    height = top + bottom + sum(_HEADING + _ROW * len(rows) for _, rows in groups)
    figure = Figure(figsize=(_WIDTH, height))
    figure.text(_SIDE / _WIDTH, 1 - 0.13 / height, title, fontsize=11.5, weight="bold", va="top")
    figure.text(
        _SIDE / _WIDTH, (bottom - 0.1) / height, "\n".join(lines), fontsize=8.6, va="top", linespacing=1.3
    )
    figure.text(_SIDE / _WIDTH, 0.09 / height, foot, fontsize=6.5, color=GREY, va="bottom")
    axis = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axis.set_axis_off()
    axis.set_xlim(0.0, _WIDTH)
    axis.set_ylim(0.0, height)
    y = height - top
    for words, rows in groups:
        axis.text(_SIDE, y - 0.12, words, fontsize=9.2, weight="bold", va="center")
        axis.plot([_SIDE, _WIDTH - _SIDE], [y - 0.24] * 2, color=GREY, linewidth=0.5)
        y -= _HEADING
        for row in rows:
            _draw_row(axis, row, y - 0.44)
            y -= _ROW
    return Sheet("joints", title, sentence, figure)


def _carrying(found: Iterable[DrawnJoint], carried: Carried | None) -> list[DrawnJoint]:
    return [joint for joint in found if joint.carries is carried]


_Groups = list[tuple[str, list[Row]]]


def _shortened(groups: _Groups) -> tuple[_Groups, int]:
    """As many rows as a sheet takes, and how many joints are left out."""
    kept: _Groups = []
    room, left_out = _MOST_ROWS, 0
    for words, rows in groups:
        if room:
            kept.append((words, rows[:room]))
        left_out += sum(len(row.joints) for row in rows[room:])
        room -= min(room, len(rows))
    return kept, left_out


def _sentence(found: Sequence[DrawnJoint], left_out: int) -> str:
    """What the picture shows, the bad ones by name, and how to read it."""
    bad = [joint for joint in found if joint.verdict is not Verdict.HOLDS]
    count = "1 joint" if len(found) == 1 else f"{len(found)} joints"
    if bad:
        bad.sort(key=lambda joint: (joint.verdict is not Verdict.BREAKS, joint.verdict is Verdict.TIGHT))
        named = "; ".join(f"{joint.name}: {joint.why}" for joint in bad[:4])
        more = f"; and {len(bad) - 4} more" if len(bad) > 4 else ""
        told = f"{count}, of which {len(bad)} do not hold for sure ({named}{more})."
    else:
        told = f"{count}, and all of them hold."
    more = f" {left_out} joints found no room on this sheet." if left_out else ""
    return (
        f"{told}{more} Full square: holds. Half square: tight. Dotted square and line: unknown. Cross and"
        " broken line: breaks. Dashed box: the same part once more."
    )


def _x(column: int) -> float:
    """Left edge of a box [inch]."""
    return _SIDE + column * (_BOX + _GAP)


def _draw_row(axis: Axes, row: Row, y: float) -> None:
    from matplotlib.patches import Rectangle

    for place, box in enumerate(row.boxes):
        x = _x(row.first + place)
        style = (0, (4, 3)) if box.again else "-"
        axis.add_patch(
            Rectangle(
                (x, y - 0.5 * _BOX_HEIGHT), _BOX, _BOX_HEIGHT, facecolor=PAPER,
                edgecolor=GREY if box.again else INK, linewidth=0.9, linestyle=style, zorder=2.0,
            )
        )  # fmt: skip
        axis.text(
            x + 0.5 * _BOX, y, _wrapped(box.part.name, 21, 3), fontsize=8.2, ha="center", va="center",
            linespacing=1.1, color=GREY if box.again else INK, zorder=2.1,
        )  # fmt: skip
    for place, joint in enumerate(row.joints):
        _draw_joint(axis, joint, _x(row.first + place) + _BOX, y)


def _draw_joint(axis: Axes, joint: DrawnJoint, x: float, y: float) -> None:
    """The line with its mark; the name above it, both halves and the seal below."""
    breaks = joint.verdict is Verdict.BREAKS
    colour = RED if breaks else INK
    middle, free = x + 0.5 * _GAP, 0.10
    style = {Verdict.UNKNOWN: (0, (1, 1.6)), Verdict.TIGHT: (0, (6, 2))}.get(joint.verdict, "-")
    gap = 0.30 if breaks else free
    for ends in ((x, middle - gap), (middle + gap, x + _GAP)):
        axis.plot(ends, (y, y), color=colour, linewidth=1.3, linestyle=style, zorder=1.5)
    _mark(axis, joint.verdict, middle, y, colour)
    axis.text(
        middle, y + 0.14, _wrapped(joint.name, 25, 2), fontsize=7.6, ha="center", va="bottom", linespacing=1.1
    )
    below = [_cut(half, 34) for half in joint.halves if half]
    if joint.seal:
        below.append(_cut("nothing between them" if joint.seal == "nothing" else joint.seal, 34))
    axis.text(
        middle, y - 0.13, "\n".join(below), fontsize=6.5, ha="center", va="top", linespacing=1.15, color=INK
    )
    if joint.why:
        words = f"{joint.verdict.value}: {joint.why}"
        axis.text(
            middle, y - 0.135 - 0.107 * len(below), _wrapped(words, 25, 2), fontsize=7.0, ha="center",
            va="top", weight="bold", color=colour, linespacing=1.05,
        )  # fmt: skip


def _mark(axis: Axes, verdict: Verdict, x: float, y: float, colour: str) -> None:
    """The mark of a verdict: full square, half square, cross, dotted square."""
    from matplotlib.patches import Rectangle

    half = 0.055
    if verdict is Verdict.BREAKS:
        for turn in (1.0, -1.0):
            axis.plot(
                (x - half, x + half),
                (y - turn * half, y + turn * half),
                color=colour,
                linewidth=1.9,
                zorder=3.0,
            )
        return
    dotted = (0, (1, 1)) if verdict is Verdict.UNKNOWN else "-"
    low = (x - half, y - half)
    axis.add_patch(
        Rectangle(
            low,
            2 * half,
            2 * half,
            facecolor=PAPER,
            edgecolor=colour,
            linewidth=1.0,
            linestyle=dotted,
            zorder=3.0,
        )
    )
    filled = {Verdict.HOLDS: 2 * half, Verdict.TIGHT: half}.get(verdict, 0.0)
    if filled:
        axis.add_patch(Rectangle(low, filled, 2 * half, facecolor=colour, edgecolor="none", zorder=3.1))


def _wrapped(text: str, width: int, lines: int) -> str:
    """A text in a few lines, its rest cut off."""
    found = textwrap.wrap(text, width) or [""]
    if len(found) > lines:
        found = [*found[: lines - 1], _cut(f"{found[lines - 1]} {found[lines]}", width)]
    return "\n".join(found)


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"
