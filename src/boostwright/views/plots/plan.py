"""The plan on a sheet: a lane for each person, the days below one another, and when it may be done."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from boostwright.planning.plan import Plan
from boostwright.planning.problem import Slot
from boostwright.views.plan_words import chance_words, clock, moment_words
from boostwright.views.plots.style import BLUE, GREY, INK, PAPER, RED, RULE, Sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["plan_sheet"]

HOUR, DAY = 3600.0, 86400.0
WIDTH = 6.0  # [inch]; narrow, so that a phone shows it whole
LANE, GAP = 0.34, 0.34  # height of one person's lane, gap between days [inch]
FILLS = {
    "baseline": ("white", ""), "battery": ("white", "..."), "strip": ("white", "///"),
    "breathing": ("#e4dfd2", ""), "oil": ("#e4dfd2", "///"), "turbo": ("#b9b3a5", ""),
    "fuel": ("#b9b3a5", "///"), "charge": ("#e4dfd2", "..."), "control": ("#e4dfd2", "xxx"),
    "prove": ("#6d6a63", ""), "run": ("#23272b", ""),
}  # fmt: skip
"""Tone and hatching of each phase: they differ without colour."""


def plan_sheet(plan: Plan, foot: str) -> Sheet:
    """The sheet: title with the verdict, one strip for each day with a lane a person, the finish below."""
    from matplotlib.figure import Figure

    days = _days(plan)
    people = [w.name for w in plan.problem.workers if any(w.name in s.who for s in plan.schedule.slots)]
    strip = LANE * max(1, len(people)) + GAP
    end = moment_words(plan.calendar, plan.calendar.end)
    head, below, finish = 0.95, 0.95, 1.7
    height = head + strip * max(1, len(days)) + 0.55 + finish + below
    figure = Figure(figsize=(WIDTH, height))
    title = f"Done by {end}: {chance_words(plan.outlook.chance)}"
    figure.text(0.02, 1.0 - 0.1 / height, title, fontsize=13.0, weight="bold", va="top")
    times = dict(plan.outlook.times)
    likely = (
        f"In one case of two by {moment_words(plan.calendar, times[0.5])}, in four of five by"
        f" {moment_words(plan.calendar, times[0.8])}."
    )
    figure.text(0.02, 1.0 - 0.38 / height, likely, fontsize=9.0, va="top")
    top = 1.0 - head / height
    left, right = 0.19, 0.98
    low, high = _hours(plan, days)
    for k, day in enumerate(days):
        bottom = top - ((k + 1) * strip - GAP) / height
        axis = figure.add_axes((left, bottom, right - left, (strip - GAP) / height))
        _strip(axis, plan, day, people, low, high, last=k == len(days) - 1)
    bottom = (below + 0.1) / height
    _finish(figure.add_axes((left, bottom, right - left, finish / height)), plan)
    _legend(figure, plan, height)
    sentence = (
        "A lane for each person, hours along, days below one another; triangle: hold point, red line:"
        " the end."
    )
    figure.text(0.02, 0.07 / height, foot, fontsize=6.0, color=GREY, va="bottom")
    return Sheet("plan", f"The plan of {plan.name}", sentence, figure)


def _days(plan: Plan) -> list[float]:
    """Midnights [s from zero] of the days with work in the plan."""
    found: dict[object, float] = {}
    for slot in plan.schedule.slots:
        for piece in slot.pieces:
            moment = plan.calendar.moment(piece.start)
            midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
            found.setdefault(moment.date(), plan.calendar.seconds(midnight))
    return sorted(found.values())


def _hours(plan: Plan, days: list[float]) -> tuple[float, float]:
    """Earliest and latest hour of a day on which somebody works."""
    low, high = 24.0, 0.0
    for slot in plan.schedule.slots:
        for piece in slot.pieces:
            start, end = plan.calendar.moment(piece.start), plan.calendar.moment(piece.end)
            low = min(low, start.hour + start.minute / 60.0)
            high = max(high, (end.hour + end.minute / 60.0) or 24.0)
    del days
    return math.floor(low), math.ceil(high)


def _strip(
    axis: Axes, plan: Plan, day: float, people: list[str], low: float, high: float, last: bool
) -> None:
    """One day: lanes from the top down."""
    axis.set_xlim(low, high)
    axis.set_ylim(len(people) - 0.5, -0.5)
    axis.grid(visible=True, axis="x")
    for lane in range(len(people) + 1):
        axis.axhline(lane - 0.5, color=RULE, linewidth=0.5, zorder=0.5)
    for k, name in enumerate(people):
        worker = next(w for w in plan.problem.workers if w.name == name)
        for window in worker.windows:
            start, end = (window.start - day) / HOUR, (window.end - day) / HOUR
            if end > low and start < high:
                axis.barh(k, end - start, left=start, height=0.98, color="#f3ecdc", zorder=0.3)
    for slot in plan.schedule.slots:
        for number, piece in enumerate(slot.pieces):
            start, end = (piece.start - day) / HOUR, (piece.end - day) / HOUR
            if end <= low or start >= high or end <= start:
                continue
            for name in slot.who:
                if name in people:
                    _bar(axis, plan, slot, people.index(name), start, end)
            if number == len(slot.pieces) - 1 and plan.by_key[slot.task].hold is not None:
                for name in slot.who[:1]:
                    if name in people:
                        axis.plot(
                            [end],
                            [people.index(name) - 0.36],
                            marker="v",
                            markersize=4.5,
                            color=RED,
                            zorder=6,
                            clip_on=False,
                            markeredgecolor=PAPER,
                            markeredgewidth=0.4,
                        )  #
    limit = (plan.calendar.end - day) / HOUR
    if low <= limit <= high:
        axis.axvline(limit, color=RED, linewidth=1.8, zorder=5)
    if plan.turning is not None and plan.turning.back is not None:
        back = (plan.turning.back - day) / HOUR
        if low <= back <= high:
            axis.axvline(back, color=BLUE, linewidth=1.4, linestyle=(0, (4, 2)), zorder=5)
            axis.annotate("turn back", (back, -0.5), xytext=(0, 1), textcoords="offset points", fontsize=6.8,
                          color=BLUE, ha="center", va="bottom", annotation_clip=False)  # fmt: skip
    ticks = [h for h in range(int(low), int(high) + 1) if h % 2 == 0]
    axis.set_xticks(ticks)
    axis.tick_params(axis="x", length=0, labelsize=7.0, labelbottom=True, pad=1.5)
    axis.set_yticks(range(len(people)), [_short(name) for name in people])
    axis.tick_params(axis="y", length=0, labelsize=7.4)
    for side in ("left", "bottom"):
        axis.spines[side].set_visible(False)
    moment = plan.calendar.moment(day + 12 * HOUR)
    axis.annotate(
        f"{moment:%a}\n{moment.day} {moment:%b}", (0.0, 0.5), xycoords="axes fraction", xytext=(-62, 0),
        textcoords="offset points", fontsize=8.6, weight="bold", va="center", ha="left",
        annotation_clip=False,
    )  # fmt: skip
    del last


def _short(name: str) -> str:
    return {"machine shop": "shop", "second person": "second"}.get(name, name[:8])


def _bar(axis: Axes, plan: Plan, slot: Slot, lane: int, start: float, end: float) -> None:
    fill, hatch = FILLS.get(plan.by_key[slot.task].phase, ("white", ""))
    axis.barh(
        lane, end - start, left=start, height=0.66, facecolor=fill, edgecolor=INK, hatch=hatch, linewidth=0.6,
        zorder=3,
    )  # fmt: skip


def _finish(axis: Axes, plan: Plan) -> None:
    """Share of the runs that are done by each moment, with the end and the usual points."""
    known = np.sort(plan.finish[np.isfinite(plan.finish)])
    total = len(plan.finish)
    if not known.size:
        axis.set_axis_off()
        axis.text(0.5, 0.5, "In no run is it done within the hours that the plan knows.", ha="center")
        return
    calendar = plan.calendar
    low = min(known[0], calendar.end) - 0.15 * DAY
    high = max(float(np.quantile(known, 0.97)), calendar.end) + 0.3 * DAY
    shares = 100.0 * np.arange(1, known.size + 1) / total
    axis.step(known, shares, where="post", color=INK, linewidth=1.6)
    axis.fill_between(known, shares, step="post", color=RULE, alpha=0.6, linewidth=0.0)
    axis.axvline(calendar.end, color=RED, linewidth=1.8)
    for share, at in plan.outlook.times[:2]:
        if at < high:
            axis.plot([at], [100.0 * share], marker="o", markersize=4.5, color=INK, markerfacecolor=PAPER)
            moment = calendar.moment(at)
            axis.annotate(f"{100 * share:.0f} %  {moment:%a} {clock(moment)}", (at, 100.0 * share),
                          xytext=(5, -9), textcoords="offset points", fontsize=7.6)  # fmt: skip
    axis.annotate("the end", (calendar.end, 100.0), xytext=(-3, 1), textcoords="offset points", fontsize=7.4,
                  color=RED, ha="right", va="top")  # fmt: skip
    axis.set_xlim(low, high)
    axis.set_ylim(0.0, 102.0)
    axis.set_yticks([0, 20, 50, 80, 100])
    axis.set_ylabel("done [% of runs]", fontsize=8.0)
    first = calendar.moment(low).replace(hour=0, minute=0, second=0, microsecond=0)
    ticks, names = [], []
    count = max(1, math.ceil((high - low) / DAY / 8))
    for k in range(int((high - low) / DAY) + 2):
        at = calendar.seconds(first) + k * DAY
        if low <= at <= high and k % count == 0:
            moment = calendar.moment(at + 2 * HOUR)
            ticks.append(at)
            names.append(f"{moment:%a}\n{moment.day} {moment:%b}")
    axis.set_xticks(ticks, names, ha="left")
    axis.tick_params(labelsize=7.4)


def _legend(figure: Figure, plan: Plan, height: float) -> None:
    """Tones of the phases that the plan has, and the marks."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    phases = list(dict.fromkeys(plan.by_key[slot.task].phase for slot in plan.schedule.slots))
    handles: list[object] = []
    for phase in phases:
        fill, hatch = FILLS.get(phase, ("white", ""))
        handles.append(Patch(facecolor=fill, edgecolor=INK, hatch=hatch, linewidth=0.6, label=phase))
    handles.append(Line2D([], [], marker="v", color=RED, linestyle="none", markersize=5, label="hold point"))
    figure.legend(
        handles=handles, loc="lower left", bbox_to_anchor=(0.015, 0.2 / height), ncol=6, fontsize=7.2,
        frameon=False, handlelength=1.5, columnspacing=1.0, handletextpad=0.5,
    )  # fmt: skip
