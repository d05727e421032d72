"""The plan on a sheet: a lane for each person, the days below one another, and when it may be done."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from boostwright.planning.plan import Plan
from boostwright.planning.problem import Slot
from boostwright.views.plan_words import by_words, chance_words, length_words, moment_words
from boostwright.views.plots.style import BLUE, GREY, INK, PAPER, RED, RULE, Sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["plan_sheet"]

HOUR, DAY = 3600.0, 86400.0
WIDTH = 4.8  # [inch]; narrow, so that a phone shows it whole
LANE, GAP = 0.3, 0.4  # height of one person's lane, gap between days [inch]
HEAD, FINISH, BELOW = 1.12, 1.6, 1.2  # title, the curve, and what stands below it [inch]
LEFT, RIGHT = 0.215, 0.975
NEAR = 2.5  # hours between two marks below which their words would meet
THERE = "#f1e8d4"  # somebody is there
FILLS = {
    "baseline": ("white", ""), "battery": ("white", "...."), "strip": ("white", "////"),
    "breathing": ("#dcd5c6", ""), "oil": ("#dcd5c6", "////"), "charge": ("#dcd5c6", "...."),
    "turbo": ("#a8a294", ""), "fuel": ("#a8a294", "////"), "control": ("#a8a294", "...."),
    "prove": ("#5d5a54", ""), "run": ("#23272b", ""),
}  # fmt: skip
"""Tone and hatching of each phase: they differ without colour."""


def plan_sheet(plan: Plan, foot: str) -> Sheet:
    """The sheet: title with the verdict, a strip for each day with a lane a person, the finish below."""
    from matplotlib.figure import Figure

    days = _days(plan)
    lanes = {day: _there(plan, day) for day in days}
    height = HEAD + sum(LANE * len(names) + GAP for names in lanes.values()) + 0.3 + FINISH + BELOW
    figure = Figure(figsize=(WIDTH, height))
    end = moment_words(plan.calendar, plan.calendar.end)
    title = f"Done by {end}: {chance_words(plan.outlook.chance)}"
    figure.text(0.02, 1.0 - 0.1 / height, title, fontsize=12.0, weight="bold", va="top")
    times = dict(plan.outlook.times)
    likely = (
        f"In one case of two {by_words(plan.calendar, times[0.5])},\nin four of five"
        f" {by_words(plan.calendar, times[0.8])}."
    )
    if plan.lacking:
        likely += f"\n{length_words(plan.second_hours)} of it need a second person who is not there yet."
    figure.text(0.02, 1.0 - 0.36 / height, likely, fontsize=8.6, va="top", linespacing=1.25)
    low, high = _hours(plan)
    top = height - HEAD
    for day in days:
        bottom = top - LANE * len(lanes[day])
        axis = figure.add_axes((LEFT, bottom / height, RIGHT - LEFT, (top - bottom) / height))
        _strip(axis, plan, day, lanes[day], low, high)
        top = bottom - GAP
    _finish(figure.add_axes((LEFT, BELOW / height, RIGHT - LEFT, FINISH / height)), plan)
    _legend(figure, plan, height)
    sentence = (
        "A lane for each person, hours along, days below one another; triangle: hold point, red line: end."
    )
    figure.text(0.02, 0.07 / height, foot, fontsize=6.0, color=GREY, va="bottom")
    return Sheet("plan", f"The plan of {plan.name}", sentence, figure)


def _days(plan: Plan) -> list[float]:
    """Midnights [s from zero] of the days with work in the plan, and of the day of the end."""
    moments = [plan.calendar.moment(p.start) for slot in plan.schedule.slots for p in slot.pieces]
    found: dict[object, float] = {}
    for moment in moments:
        midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
        found.setdefault(moment.date(), plan.calendar.seconds(midnight))
    return sorted(found.values())


def _there(plan: Plan, day: float) -> list[str]:
    """Who works on a day, in the order of the people."""
    busy = {
        name
        for slot in plan.schedule.slots
        for piece in slot.pieces
        if piece.end > day and piece.start < day + DAY and piece.end > piece.start
        for name in slot.who
    }
    return [worker.name for worker in plan.problem.workers if worker.name in busy] or [""]


def _hours(plan: Plan) -> tuple[float, float]:
    """Earliest and latest hour of a day on which somebody works."""
    low, high = 24.0, 0.0
    for slot in plan.schedule.slots:
        for piece in slot.pieces:
            start, end = plan.calendar.moment(piece.start), plan.calendar.moment(piece.end)
            low = min(low, start.hour + start.minute / 60.0)
            high = max(high, (end.hour + end.minute / 60.0) or 24.0)
    end = plan.calendar.moment(plan.calendar.end)
    return math.floor(low), math.ceil(max(high, (end.hour + end.minute / 60.0) or 24.0) + 0.01)


def _strip(axis: Axes, plan: Plan, day: float, people: list[str], low: float, high: float) -> None:
    """One day: lanes from the top down."""
    axis.set_xlim(low, high)
    axis.set_ylim(len(people) - 0.5, -0.5)
    axis.grid(visible=True, axis="x")
    axis.grid(visible=False, axis="y")
    for k, name in enumerate(people):
        windows = next((w.windows for w in plan.problem.workers if w.name == name), ())
        for window in windows:
            start, end = (window.start - day) / HOUR, (window.end - day) / HOUR
            if end > low and start < high:
                axis.barh(k, end - start, left=start, height=0.94, color=THERE, zorder=0.3)
    for slot in plan.schedule.slots:
        for number, piece in enumerate(slot.pieces):
            start, end = (piece.start - day) / HOUR, (piece.end - day) / HOUR
            if end <= low or start >= high or end <= start:
                continue
            lanes = [people.index(name) for name in slot.who if name in people]
            for lane in lanes:
                _bar(axis, plan, slot, lane, start, end)
            if lanes and number == len(slot.pieces) - 1 and plan.by_key[slot.task].hold is not None:
                _hold(axis, lanes[0], end)
    _lines(axis, plan, day, low, high)
    axis.set_xticks([h for h in range(int(low), int(high) + 1) if h % 2 == 0])
    axis.tick_params(axis="x", length=0, labelsize=7.0, pad=1.5)
    axis.set_yticks(range(len(people)), [_short(name) for name in people])
    axis.tick_params(axis="y", length=0, labelsize=7.4)
    for side in ("left", "bottom"):
        axis.spines[side].set_visible(False)
    moment = plan.calendar.moment(day + 12 * HOUR)
    axis.annotate(
        f"{moment:%a}\n{moment.day} {moment:%b}", (0.0, 0.5), xycoords="axes fraction", xytext=(-72, 0),
        textcoords="offset points", fontsize=8.6, weight="bold", va="center", ha="left",
        annotation_clip=False,
    )  # fmt: skip


def _short(name: str) -> str:
    return {"machine shop": "shop", "second person": "second"}.get(name, name[:8])


def _bar(axis: Axes, plan: Plan, slot: Slot, lane: int, start: float, end: float) -> None:
    fill, hatch = FILLS.get(plan.by_key[slot.task].phase, ("white", ""))
    axis.barh(
        lane, end - start, left=start, height=0.66, facecolor=fill, edgecolor=INK, hatch=hatch, linewidth=0.5,
        zorder=3,
    )  # fmt: skip
    if fill == FILLS["run"][0]:  # a black bar shows its ends in the colour of the paper
        axis.plot([end, end], [lane - 0.31, lane + 0.31], color=PAPER, linewidth=0.8, zorder=3.2)


def _hold(axis: Axes, lane: int, at: float) -> None:
    axis.plot(
        [at], [lane - 0.37], marker="v", markersize=4.6, color=RED, zorder=6, clip_on=False,
        markeredgecolor=PAPER, markeredgewidth=0.5,
    )  # fmt: skip


def _lines(axis: Axes, plan: Plan, day: float, low: float, high: float) -> None:
    """The end, now, and the moment to turn back, on the day they fall on."""
    marks: list[tuple[float, str, Any, str]] = [(plan.calendar.end, RED, "-", "the end")]
    whole = plan.worth is not None and plan.worth.at >= plan.calendar.end  # nothing is apart by then
    if plan.turning is not None and plan.turning.back is not None and not whole:
        marks.append((plan.turning.back, BLUE, (0, (4, 2)), "turn back"))
    if plan.progress.begun:
        marks.append((plan.now, INK, (0, (1, 1)), "now"))
    shown = sorted(((at - day) / HOUR, colour, style, words) for at, colour, style, words in marks)
    shown = [mark for mark in shown if low <= mark[0] <= high]
    for k, (hour, colour, style, words) in enumerate(shown):
        near = [j for j, other in enumerate(shown) if j != k and abs(other[0] - hour) < NEAR]
        side = "right" if hour > high - 1.0 else "center"
        if near:  # two that stand close turn their words away from each other
            side = "right" if k < max(near) else "left"
        axis.axvline(hour, color=colour, linewidth=1.6, linestyle=style, zorder=5, clip_on=False)
        axis.annotate(
            words, (hour, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 2),
            textcoords="offset points", fontsize=7.0, color=colour, va="bottom", annotation_clip=False,
            ha=side,
        )  # fmt: skip


def _finish(axis: Axes, plan: Plan) -> None:
    """Share of the runs that are done by each moment, with the end and the usual points."""
    known = np.sort(plan.finish[np.isfinite(plan.finish)])
    if not known.size:
        axis.set_axis_off()
        axis.text(0.5, 0.5, "In no run is it done within the hours that the plan knows.", ha="center")
        return
    calendar = plan.calendar
    low = min(float(known[0]), calendar.end) - 0.6 * DAY
    high = max(float(np.quantile(known, 0.97)), calendar.end) + 0.6 * DAY
    shares = 100.0 * np.arange(1, known.size + 1) / len(plan.finish)
    axis.step(known, shares, where="post", color=INK, linewidth=1.6)
    axis.fill_between(known, shares, step="post", color=RULE, alpha=0.6, linewidth=0.0)
    axis.axvline(calendar.end, color=RED, linewidth=1.8)
    left = calendar.end < low + 0.25 * (high - low)
    axis.annotate(
        "the end", (calendar.end, 101.0), xytext=(4 if left else -4, 0), textcoords="offset points",
        fontsize=7.4, color=RED, ha="left" if left else "right", va="top",
    )  # fmt: skip
    axis.set_xlim(low, high)
    axis.set_ylim(0.0, 104.0)
    for share, at in plan.outlook.times[:2]:
        if not at < high:
            continue
        axis.plot([at], [100.0 * share], marker="o", markersize=4.5, color=INK, markerfacecolor=PAPER)
        right = at > low + 0.66 * (high - low)
        axis.annotate(
            f"{100 * share:.0f} %  {moment_words(calendar, at)}", (at, 100.0 * share),
            xytext=(-7 if right else 7, -8), textcoords="offset points", fontsize=7.6, va="center",
            ha="right" if right else "left",
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.8},
        )  # fmt: skip
    axis.set_yticks([0, 20, 50, 80, 100])
    axis.set_ylabel("done [% of runs]", fontsize=8.0)
    _dates(axis, plan, low, high)


def _dates(axis: Axes, plan: Plan, low: float, high: float) -> None:
    """Days along the lower edge, at their midnight, no more than fit."""
    calendar = plan.calendar
    step = max(1, math.ceil((high - low) / DAY / 6))
    first = calendar.moment(low).replace(hour=0, minute=0, second=0, microsecond=0)
    ticks, names = [], []
    for k in range(int((high - low) / DAY) + 2):
        at = calendar.seconds(first) + k * DAY
        if low <= at <= high - 0.04 * (high - low) and (k - 1) % step == 0:
            moment = calendar.moment(at + 2 * HOUR)
            ticks.append(at)
            names.append(f"{moment:%a}\n{moment.day} {moment:%b}")
    axis.set_xticks(ticks, names)
    axis.tick_params(labelsize=7.4)


def _legend(figure: Figure, plan: Plan, height: float) -> None:
    """Tones of the phases that the plan has, and the marks."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    phases = [
        key for key in FILLS if any(plan.by_key[slot.task].phase == key for slot in plan.schedule.slots)
    ]
    handles: list[Patch | Line2D] = []
    for phase in phases:
        fill, hatch = FILLS[phase]
        handles.append(Patch(facecolor=fill, edgecolor=INK, hatch=hatch, linewidth=0.6, label=phase))
    handles.append(Patch(facecolor=THERE, edgecolor="none", label="there"))
    handles.append(Line2D([], [], marker="v", color=RED, linestyle="none", markersize=5, label="hold point"))
    figure.legend(
        handles=handles, loc="lower left", bbox_to_anchor=(0.005, 0.18 / height), ncol=4, fontsize=7.2,
        frameon=False, handlelength=1.8, columnspacing=1.2, handletextpad=0.5,
    )  # fmt: skip
