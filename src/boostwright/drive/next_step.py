"""The verdict of a drive on the ladder: is the next step open, and what to change, smallest change first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from boostwright.drive.learned import Learned
from boostwright.drive.outside import Outside
from boostwright.drive.pull_readings import readings_of_pull
from boostwright.drive.records import Notice, Stretch
from boostwright.drive.road_power import RoadPower
from boostwright.drive.rows import Rows
from boostwright.job.records import Reading
from boostwright.library.learned_changes import learned_changes
from boostwright.library.measurements import measurements
from boostwright.library.notice_kinds import notice_kinds
from boostwright.planning.ladder import Ladder, Rung, Stands, State, judge_reading

__all__ = ["Change", "NextStep", "changes_of", "next_step"]

_NEAR: Final = (
    300.0 * math.pi / 30.0
)  # by which a pull may start later or end elsewhere than its step [rad/s]
_FAR: Final = 2.0  # spreads beforehand from which a move asks for something (judgement)
_WORTH: Final = 0.03  # of the charge, from which a fuel table is worth a change (judgement)
_NUMBERS, _LOOK = 1, 2  # efforts of `library.learned_changes`


@dataclass(frozen=True, slots=True)
class Change:
    """One thing to do. effort: a key of `library.learned_changes.EFFORTS`, the least first.

    words: what to do. why: which reading asks for it. first: nothing goes on before it. ratio: how far out,
    in standard deviations. about: name of an unknown, kind of a notice or measurement.
    """

    effort: int
    words: str
    why: str
    first: bool
    ratio: float
    about: str


@dataclass(frozen=True, slots=True)
class NextStep:
    """What a drive says of the step that the ladder is at.

    rung: that step; None where the ladder is done. pull: the pull that counts for it; None where none does.
    readings: for the record, if the person takes them over. stands: each reading that the step asks for.
    opens: whether its gate opens with them. why: what stands in the way, sentences. changes: what to do.
    """

    rung: Rung | None
    pull: Stretch | None
    readings: tuple[Reading, ...]
    stands: tuple[Stands, ...]
    opens: bool
    why: tuple[str, ...]
    changes: tuple[Change, ...]


def next_step(
    ladder: Ladder,
    drive: Rows,
    powers: Sequence[RoadPower],
    outside: Outside,
    notices: Sequence[Notice] = (),
    learned: Learned | None = None,
    *,
    who: str = "",
    time: str = "",
    file: str = "",
) -> NextStep:
    """The verdict of a drive.

    ladder: as it stands. drive: all rows. powers: of the pulls, each with its stretch. notices: of the review
    and of the comparison with the model. learned: what the drive taught. who, time, file: for the readings.
    """
    changes = changes_of(notices, learned)
    if ladder.here >= len(ladder.rungs):
        return NextStep(None, None, (), (), True, (), changes)
    rung, gate = ladder.rungs[ladder.here], ladder.gates[ladder.here]
    why = [f"this step may not be gone: {one}" for one in rung.barred]
    why += [f"'{ladder.names.get(task, task)}' is not done" for task in gate.waits]
    if rung.speeds is None:
        why.append("the step that comes next is no pull; a log of pulls does not open it")
        return NextStep(rung, None, (), gate.readings, False, tuple(why), changes)
    power, elsewhere = _pull_for(rung, drive, powers)
    if power is None:
        return NextStep(rung, None, (), gate.readings, False, (*why, elsewhere), changes)
    readings = readings_of_pull(power.stretch, drive, outside, power, who, time, rung.key, file)
    stands = _stands(rung, gate.readings, readings)
    bad = [s for s in stands if not s.state.opens and not (s.expected.optional and s.state is State.MISSING)]
    why += [_sentence(s) for s in bad]
    grave = [
        n
        for n in notices
        if n.fault and notice_kinds()[n.kind].harm == "engine" and _within(n, power.stretch)
    ]
    why += [f"in this very pull: {notice_kinds()[n.kind].words}" for n in grave]
    return NextStep(rung, power.stretch, readings, stands, not why, tuple(why), (*_stops(bad), *changes))


def _pull_for(rung: Rung, drive: Rows, powers: Sequence[RoadPower]) -> tuple[RoadPower | None, str]:
    """The pull that covers the step's speeds best and goes not beyond; a sentence where there is none."""
    assert rung.speeds is not None
    low, high = rung.speeds
    best, miss, beyond = None, math.inf, False
    for power in powers:
        omega = drive.of(power.stretch).get("engine_speed")
        omega = omega[omega == omega]
        if not omega.size:
            continue
        start, end = float(omega[0]), float(omega.max())
        if end > high + _NEAR:
            beyond = True
        late, off = max(0.0, start - low), abs(end - high)
        if late < _NEAR and off < _NEAR and late + off < miss:
            best, miss = power, late + off
    if best is not None:
        return best, ""
    went = " One went past the speed at which this step ends." if beyond else ""
    return None, f"no pull of this drive goes from where the step begins to where it ends.{went}"


def _stands(rung: Rung, before: Sequence[Stands], readings: Sequence[Reading]) -> tuple[Stands, ...]:
    """Each reading of the step: as the log has it, else as it is on record."""
    new = {reading.measurement: reading for reading in readings}
    old = {stand.expected.measurement: stand for stand in before}
    found = []
    for expected in rung.expected:
        reading = new.get(expected.measurement)
        if reading is None:
            stood = old.get(expected.measurement)
            found.append(stood or Stands(expected, State.MISSING, None, "the log does not show it"))
            continue
        state, why = judge_reading(expected, reading)
        found.append(Stands(expected, state, reading, why))
    return tuple(found)


def _sentence(stand: Stands) -> str:
    words = measurements()[stand.expected.measurement].words
    return f"{words}: {stand.state.value}{': ' + stand.why if stand.why else ''}"


def _within(notice: Notice, pull: Stretch) -> bool:
    return notice.start < pull.end and notice.end > pull.start


def _stops(bad: Sequence[Stands]) -> tuple[Change, ...]:
    """What the readings beyond their limits ask for at once."""
    found = []
    for stand in bad:
        measured = measurements()[stand.expected.measurement]
        if stand.state is State.BROKEN_OFF:
            words = measured.at_once or "No further pull before its cause is found."
            found.append(Change(_LOOK, words, _sentence(stand), True, math.inf, stand.expected.measurement))
    return tuple(found)


def changes_of(notices: Sequence[Notice], learned: Learned | None) -> tuple[Change, ...]:
    """What to do after a drive, the smallest change first, the same thing once.

    What can cost the engine comes before everything else, whatever its effort.
    """
    found = [change for notice in notices if notice.fault for change in _by_notice(notice)]
    if learned is not None:
        found += _by_learning(learned)
    once: dict[str, Change] = {}
    for change in found:
        kept = once.get(change.words)
        if kept is None or change.ratio > kept.ratio:
            once[change.words] = change
    return tuple(sorted(once.values(), key=lambda c: (not c.first, c.effort, -c.ratio)))


def _by_notice(notice: Notice) -> list[Change]:
    """The first thing that a notice asks for; the rest of its list stands beside the notice itself."""
    kind = notice_kinds()[notice.kind]
    if not kind.change:
        return []
    return [Change(_LOOK, kind.change[0], kind.words, kind.harm == "engine", notice.ratio, notice.kind)]


def _by_learning(learned: Learned) -> list[Change]:
    rules = learned_changes()
    found = []
    for line in learned.lines:
        rule = rules.get(line.name)
        if rule is None or abs(line.moved) < _FAR:
            continue
        why = f"{line.words}: moved by {abs(line.moved):.1f} of its spreads"
        found.append(Change(rule.effort, rule.words, why, False, abs(line.moved), line.name))
    chart = learned.breathing
    off = abs(chart.factor - 1.0)
    worth = chart.covered & (off > _WORTH) & (off > _FAR * chart.sd)
    if worth.any():
        share = 100.0 * float(worth.sum()) / float(max(chart.covered.sum(), 1))
        why = f"over {share:.0f} % of the ground that was driven the engine breathes otherwise than the model"
        ratio = float((off / chart.sd)[worth].max())
        found.append(Change(_NUMBERS, rules["model.breathing"].words, why, False, ratio, "model.breathing"))
    return found
