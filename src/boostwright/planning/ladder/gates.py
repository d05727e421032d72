"""Whether the gate behind each step is open, by what is on record; no clock and no model in it.

A gate opens when every reading of its step is recorded, inside its range, newer than the last change that
concerns it, and witnessed where that is asked. A reading out of its range breaks the step off: then one goes
back a step, the second time two, until a cause is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Final, Protocol

from boostwright.job.names import another
from boostwright.job.records import Override, Reading, Record, Step, TaskEvent, standing
from boostwright.library.measurements import measurements
from boostwright.planning.ladder.done import CAUSE, Tasks
from boostwright.planning.ladder.like import LIKE, power_against_before
from boostwright.planning.ladder.records import Change, Expected, Gate, Rung, Stands, State

__all__ = [
    "CAUSE",
    "SIGMAS",
    "falls",
    "gates_of",
    "judge_reading",
    "moment_at",
    "override_fault",
    "says_nothing",
]

SIGMAS: Final = 3.0
"""Standard deviations from the middle beyond which a reading no longer opens its gate. Two are printed; the
third keeps a ladder of a hundred readings from stopping for chance alone."""

_POWER: Final = "pull_power"
_APART: Final = 600.0  # two failures closer together than this are one attempt [s]
_LEAST_REASON: Final = 15  # characters
_TRIVIAL: Final = frozenset(
    {"because", "test", "testing", "whatever", "dont care", "don't care", "no reason", "n/a"}
)


def moment_at(time: str) -> float:
    """A record's time as seconds; times without a zone count as UTC. The far past where it cannot be read."""
    try:
        stamp = datetime.fromisoformat(time)
    except ValueError:
        return float("-inf")
    if stamp.tzinfo is None:
        time = f"{time}+00:00" if "T" in time or " " in time else f"{time}T00:00:00+00:00"
        stamp = datetime.fromisoformat(time)
    return stamp.timestamp()


# ------------------------------------------------------------------------------------------------ one reading


def judge_reading(expected: Expected, reading: Reading) -> tuple[State, str]:
    """Where one reading lies: state and a sentence; nothing is said here of its age or its witness."""
    if measurements()[expected.measurement].dimension is None:
        if reading.answer in expected.good:
            return State.GOOD, ""
        return State.BROKEN_OFF, f"'{reading.answer or 'no answer'}' does not let the work go on"
    if not reading.values:
        return State.MISSING, "no value was written"
    worst, words = State.GOOD, ""
    order = (State.GOOD, State.UNUSUAL, State.OUTSIDE, State.BROKEN_OFF)
    for value in reading.values:
        state, why = _judge_value(expected, value)
        if order.index(state) > order.index(worst):
            worst, words = state, why
    return worst, words


def _judge_value(expected: Expected, value: float) -> tuple[State, str]:
    if value != value:
        return State.OUTSIDE, "it is no number"
    if expected.stop_low is not None and value < expected.stop_low.value:
        return State.BROKEN_OFF, expected.stop_low.why
    if expected.stop_high is not None and value > expected.stop_high.value:
        return State.BROKEN_OFF, expected.stop_high.why
    if expected.middle is not None and expected.sd is not None:
        off = abs(value - expected.middle)
        if off > SIGMAS * expected.sd:
            return (
                State.OUTSIDE,
                "car and computation disagree by more than chance allows: find out which is wrong",
            )
        if off > 2.0 * expected.sd:
            return State.UNUSUAL, "19 of 20 such cars read nearer to the middle"
        return State.GOOD, ""
    if (expected.low is not None and value < expected.low) or (
        expected.high is not None and value > expected.high
    ):
        return State.OUTSIDE, "it is out of the usual range"
    return State.GOOD, ""


# ------------------------------------------------------------------------------------------------------ gates


def gates_of(
    rungs: Sequence[Rung],
    records: Iterable[Record],
    *,
    changes: Sequence[Change] = (),
    planned: frozenset[str] | None = None,
    held: Mapping[str, str] | None = None,
    never: Mapping[str, str] | None = None,
) -> tuple[Gate, ...]:
    """The gate behind each step.

    records: of the job, in the order of their arrival. changes: revisions of the build file. planned: keys of
    the tasks that this build's plan has; None: all that the steps name. held: tasks that do not count as
    done, for their hold points are shut, with the reason. never: tasks whose hold points nobody opens by
    name, with the reason: neither does an override of the step.
    """
    kept = standing(records)
    tasks = Tasks(kept, held or {}, never or {}, moment_at)
    read = [_readings(rung, kept, rungs) for rung in rungs]
    failures = [_failures(rung, rows) for rung, rows in zip(rungs, read, strict=True)]
    causes = [_cause(rung, kept) for rung in rungs]
    overrides = [_override(rung, kept) for rung in rungs]
    excused = [_excused(*each) for each in zip(rungs, read, overrides, failures, strict=True)]
    counted = [[] if free else rows for free, rows in zip(excused, failures, strict=True)]
    since, why_old = _since(rungs, counted, causes, tasks, changes)
    gates: list[Gate] = []
    before = True
    for i, rung in enumerate(rungs):
        fell = _fell(rung, read[i], changes)
        gate = _gate(rung, read[i], since[i], why_old[i], tasks, planned, overrides[i], fell)
        count = len(failures[i])
        back = 0 if gate.own or not count else _steps_back(failures[i], causes[i])
        why = gate.why
        if not before:
            why = (*why, "a gate before this one is shut")
        gates.append(
            Gate(
                rung.key,
                gate.own,
                before and gate.own,
                gate.readings,
                gate.waits,
                why,
                count,
                back,
                gate.override,
                gate.refused,
            )
        )
        before = before and gate.own
    return tuple(gates)


def _readings(rung: Rung, kept: Sequence[Record], rungs: Sequence[Rung]) -> dict[str, list[Reading]]:
    """The readings of a step by measurement, oldest first. One that names no step counts where only one step
    reads it; one that breaks off and whose harm does not wait, in every step that reads it, where it names
    none of them."""
    found: dict[str, list[Reading]] = {e.measurement: [] for e in rung.expected}
    steps = {name: {r.key for r in rungs if r.of(name) is not None} for name in found}
    for record in kept:
        if not isinstance(record, Reading) or record.measurement not in found or _before(record):
            continue
        mine = record.step == rung.key or (not record.step and len(steps[record.measurement]) == 1)
        if mine or (record.step not in steps[record.measurement] and _stops_at_once(rung, record)):
            found[record.measurement].append(record)
    for rows in found.values():
        rows.sort(key=lambda r: moment_at(r.time))
    return found


def _before(reading: Reading) -> bool:
    """Whether a reading was taken before the conversion: it says nothing of the engine as it is now."""
    if reading.when or reading.step:
        return reading.when == "before"
    return measurements()[reading.measurement].sides[0] == "before"


def _stops_at_once(rung: Rung, reading: Reading) -> bool:
    """Whether the harm that a reading shows does not wait for its step to be named."""
    expected = rung.of(reading.measurement)
    if expected is None or not measurements()[reading.measurement].at_once:
        return False
    return judge_reading(expected, reading)[0] is State.BROKEN_OFF


def _failures(rung: Rung, read: Mapping[str, list[Reading]]) -> list[float]:
    """When the step was broken off, each attempt once [s]."""
    bad = []
    for expected in rung.expected:
        for reading in read[expected.measurement]:
            if judge_reading(expected, reading)[0] in (State.OUTSIDE, State.BROKEN_OFF):
                bad.append(moment_at(reading.time))
    attempts: list[float] = []
    for moment in sorted(bad):
        if attempts and moment - attempts[-1] < _APART:
            attempts[-1] = moment
        else:
            attempts.append(moment)
    return attempts


def _excused(
    rung: Rung, read: Mapping[str, list[Reading]], override: Override | None, failures: Sequence[float]
) -> bool:
    """Whether an override that may stand was written after the last failure: then nobody has to go back."""
    if override is None or not failures or override_fault(rung, override):
        return False
    if moment_at(override.time) <= failures[-1] or rung.barred:
        return False
    bad = (State.OUTSIDE, State.BROKEN_OFF)
    return not any(
        e.never and read[e.measurement] and judge_reading(e, read[e.measurement][-1])[0] in bad
        for e in rung.expected
    )


def _cause(rung: Rung, kept: Sequence[Record]) -> float:
    """When a cause of the step's failure was last written [s]."""
    written = [
        moment_at(r.time)
        for r in kept
        if isinstance(r, TaskEvent)
        and r.task == rung.task
        and r.what == Step.PROBLEM.value
        and r.kind == CAUSE
        and not says_nothing(r.note)
    ]
    return max(written, default=float("-inf"))


def _steps_back(failures: Sequence[float], cause: float) -> int:
    return 2 if len(failures) > 1 and cause < failures[-1] else 1


def _since(
    rungs: Sequence[Rung],
    failures: Sequence[Sequence[float]],
    causes: Sequence[float],
    tasks: Tasks,
    changes: Sequence[Change],
) -> tuple[list[float], list[str]]:
    """From when on the readings of each step count, and what made older ones old."""
    since = [float("-inf")] * len(rungs)
    why = [""] * len(rungs)

    def later(i: int, moment: float, words: str) -> None:
        if moment > since[i]:
            since[i], why[i] = moment, words

    for i, rung in enumerate(rungs):
        for change in changes:
            named = _concerned(rung, change)
            if named:
                later(i, moment_at(change.time), f"the build was changed afterwards ({', '.join(named[:3])})")
        for task in (*rung.tasks, rung.task):
            if task in tasks.reopened:
                later(i, tasks.reopened[task], f"'{task}' was opened again afterwards")
    for k, attempts in enumerate(failures):
        if not attempts:
            continue
        first = max(0, k - _steps_back(attempts, causes[k]))
        for i in range(first, k + 1):
            later(i, attempts[-1], f"'{rungs[k].key}' was broken off afterwards")
    return since, why


def _concerned(rung: Rung, change: Change) -> list[str]:
    """The fields of a change on which a step rests."""
    return [f for f in change.fields if f.split(".")[0].split("[")[0] in rung.concerns]


def _gate(
    rung: Rung,
    read: Mapping[str, list[Reading]],
    since: float,
    why_old: str,
    tasks: Tasks,
    planned: frozenset[str] | None,
    override: Override | None,
    fell: tuple[State, str] | None,
) -> Gate:
    waits = tuple(t for t in rung.tasks if not tasks.counts(t) and (planned is None or t in planned))
    stands = tuple(_stand(e, read[e.measurement], since, why_old) for e in rung.expected)
    if fell is not None:
        stands = tuple(_with_fall(stand, fell) for stand in stands)
    short = [
        s for s in stands if not s.state.opens and not (s.expected.optional and s.state is State.MISSING)
    ]
    why = [tasks.waiting(task) for task in waits]
    why += [f"{measurements()[s.expected.measurement].words}: {_words(s)}" for s in short]
    why += [f"this step may not be gone: {one}" for one in rung.barred]
    own = not waits and not short and not rung.barred
    refused, stamped = "", None
    if override is not None and not own:
        refused = override_fault(rung, override) or _not_by_override(rung, short, override, since)
        refused = refused or _never_left(rung, waits, tasks)
        if not refused:
            own, stamped = True, override
    elif override is not None:
        stamped = override
    return Gate(rung.key, own, own, stands, waits, tuple(why), override=stamped, refused=refused)


def _fell(
    rung: Rung, read: Mapping[str, list[Reading]], changes: Sequence[Change]
) -> tuple[State, str] | None:
    """Whether the power of the last pull fell against the one before it at like boost."""
    if not read.get(_POWER):
        return None
    changed = [moment_at(one.time) for one in changes if _concerned(rung, one)]
    return power_against_before(
        read[_POWER], read.get("pull_peak", []), moment_at, max(changed, default=float("-inf"))
    )


def falls(gates: Iterable[Gate]) -> list[str]:
    """A sentence for each step whose last pull has less power than one before it at like boost."""
    return [
        f"POWER HAS FALLEN at '{gate.step}': {stand.why}."
        for gate in gates
        for stand in gate.readings
        if stand.expected.measurement == _POWER and stand.why.startswith(LIKE)
    ]


def _with_fall(stand: Stands, fell: tuple[State, str]) -> Stands:
    if stand.expected.measurement != _POWER or stand.state not in (State.GOOD, State.UNUSUAL):
        return stand
    return stand._replace(state=fell[0], why=fell[1])


def _words(stand: Stands) -> str:
    return stand.state.value + (f" ({stand.why})" if stand.why else "")


def _stand(expected: Expected, rows: Sequence[Reading], since: float, why_old: str) -> Stands:
    """The newest reading, and how it stands."""
    if not rows:
        return Stands(expected, State.MISSING, None, "")
    newest = rows[-1]
    state, why = judge_reading(expected, newest)
    if state.opens and moment_at(newest.time) <= since:
        return Stands(expected, State.OLD, newest, why_old)
    if state.opens and expected.witness and not another(newest.witness, newest.who):
        return Stands(expected, State.ALONE, newest, "a second person must have seen it and be named")
    return Stands(expected, state, newest, why)


# -------------------------------------------------------------------------------------------------- overrides


def _override(rung: Rung, kept: Sequence[Record]) -> Override | None:
    """The newest override of a step."""
    found = [r for r in kept if isinstance(r, Override) and r.gate == rung.key]
    return max(found, key=lambda r: moment_at(r.time)) if found else None


def says_nothing(reason: str) -> bool:
    """Whether a reason is no sentence that another person could weigh."""
    words = " ".join(reason.split())
    return (
        len(words) < _LEAST_REASON
        or len(set(words.casefold().split())) < 3
        or words.casefold() in _TRIVIAL
        or len(set(words.casefold()) - set(" .,-")) < 6
    )


class _Critical(Protocol):
    """A step, as far as an override asks for it."""

    @property
    def key(self) -> str: ...

    @property
    def critical(self) -> bool: ...


def override_fault(rung: _Critical, override: Override) -> str:
    """What is wrong with an override as it was written; '' where nothing is."""
    if not override.who.strip():
        return "An override needs the name of the person who answers for it."
    if says_nothing(override.reason):
        return (
            f"The reason '{override.reason}' says nothing. Write in a sentence of three words or"
            f" more what was seen"
            " and why the step is safe all the same."
        )
    if rung.critical and not another(override.witness, override.who):
        return f"'{rung.key}' is critical: a second person, with another name, must stand by the override."
    return ""


def _not_by_override(rung: Rung, short: Sequence[Stands], override: Override, since: float) -> str:
    """Why an override does not open this gate; '' where it does."""
    if rung.barred:
        return f"'{rung.key}' may not be gone at all with this build: {rung.barred[0]}"
    for stand in short:
        newer = stand.reading is not None and moment_at(stand.reading.time) > moment_at(override.time)
        if newer and stand.state in (State.OUTSIDE, State.BROKEN_OFF):
            return f"'{stand.expected.measurement}' went out of its range after the override was written."
    never = tuple(dict.fromkeys(s.expected.never for s in short if s.expected.never))
    if never:
        return f"No override opens '{rung.key}': {' '.join(never)}"
    if moment_at(override.time) <= since:
        return "Something changed after the override was written."
    return ""


def _never_left(rung: Rung, waits: Sequence[str], tasks: Tasks) -> str:
    """Why an override does not stand in for a task that is not done; '' where it does."""
    for task in waits:
        if task in tasks.never:
            return f"No override opens '{rung.key}' before {task} is done: {tasks.never[task]}"
    return ""
