"""How well the review of a drive finds what the simulator planted, on drives that nobody built it with.

    .venv/bin/python -m tools.judge_review --seeds 1000-1019 --minutes 55 --clean 2000-2003

Each planted event that its key says can be seen in that log counts once. It is found when a notice of an
accepted kind overlaps its rows, 2 s allowed. A notice much longer than the event is no find: one notice over
the whole drive would find everything. A false alarm is a notice of a fault that overlaps no planted event of
any kind; on a clean drive every notice of a fault is one. What was noticed under another name counts apart.

Which names are accepted stands in ACCEPTED: the plain name, and beside it the name of the symptom only where
the log lacks what would tell the causes apart.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple, Protocol

__all__ = ["ACCEPTED", "Score", "score"]

ROOT: Final = Path(__file__).resolve().parents[1]
BUILD: Final = ROOT / "src/boostwright/library/builds/sound.toml"
ALLOWED_SECONDS: Final = 2.0  # between a notice and the event
LONGEST: Final = (3.0, 30.0)  # a notice lasts at most so many times the event, and so many seconds more

ACCEPTED: Final[dict[str, tuple[str, ...]]] = {  # kind planted: kinds of notices
    "overshoot": ("boost-over-target",),
    "creep": ("boost-creep",),
    "boost-oscillation": ("boost-oscillation",),
    "charge-leak": (
        "charge-leak",
        "boost-short",
    ),  # one pressure alone does not tell a leak from an open gate
    "gate-not-shutting": ("gate-not-shutting", "boost-short"),
    "lean-feed": ("lean",),
    "rail-sag": ("fuel-pressure-low",),
    "pulse-saturated": ("pulse-at-its-end",),
    "misfire": ("misfire", "lean-not-real"),  # lambda alone does not tell unburned air from a leak's air
    "exhaust-leak": ("exhaust-leak", "lean-not-real"),
    "rich-under-boost": ("rich",),
    "lambda-rich-limit": ("lambda-at-its-rich-end",),
    "voltage-sag": ("voltage-low",),
    "knock-tip-in": ("knock-transient",),
    "knock-sustained": ("knock-sustained",),
    "shift-cut": ("torque-cut",),
    "idle-hunting": ("idle-hunting",),
    "intake-soak": ("intake-soak",),
    "cooler-blocked": ("cooler-weak",),
    "coolant-slope": ("coolant-rising",),
    "oil-low": ("oil-pressure-low",),
    "oil-starved": ("oil-pressure-dip",),
    "clutch-slip": ("clutch-slip",),
    "surge-at-lift": ("surge",),
    "crankcase-rise": ("crankcase-pressure",),
    "sensor-frozen": ("sensor-frozen",),
    "sensor-spikes": ("sensor-spikes",),
    "sensor-out-of-range": ("sensor-at-its-end",),
    "lambda-cold": ("lambda-not-ready",),
    "speed-dropouts": ("speed-dropout",),
    "clock-gap": ("clock-gap",),
    "clock-repeats": ("clock-repeats",),
    "clock-jump-back": ("clock-jump-back",),
    "slow-channel": ("channel-slow",),
}


class Noticed(Protocol):
    """What the judge wants of a notice."""

    @property
    def kind(self) -> str: ...
    @property
    def fault(self) -> bool: ...
    @property
    def first_row(self) -> int: ...
    @property
    def last_row(self) -> int: ...


class Score(NamedTuple):
    """What became of one drive."""

    found: tuple[dict[str, Any], ...]  # events of the key
    missed: tuple[dict[str, Any], ...]
    beyond_sight: tuple[dict[str, Any], ...]  # events that the key says cannot be seen in this log
    misnamed: tuple[Noticed, ...]  # faults noticed where another was planted
    false_alarms: tuple[Noticed, ...]
    hours: float

    @property
    def share(self) -> float:
        """Of the events that can be seen, those found."""
        seen = len(self.found) + len(self.missed)
        return len(self.found) / seen if seen else float("nan")


def _overlap(notice: Noticed, event: dict[str, Any], slack: float) -> bool:
    return notice.first_row <= event["last_row"] + slack and notice.last_row >= event["first_row"] - slack


def score(notices: Sequence[Noticed], key: dict[str, Any]) -> Score:
    """Hold the notices of a review against the key of the drive."""
    rate = float(key["logger"]["rows_a_second"])
    slack = ALLOWED_SECONDS * rate
    found, missed, beyond = [], [], []
    for event in key["events"]:
        if not event["can_be_seen"]:
            beyond.append(event)
            continue
        most = LONGEST[0] * (event["last_row"] - event["first_row"]) + LONGEST[1] * rate
        hit = any(
            n.kind in ACCEPTED[event["kind"]]
            and _overlap(n, event, slack)
            and n.last_row - n.first_row <= most
            for n in notices
        )
        (found if hit else missed).append(event)
    misnamed, false = [], []
    for notice in notices:
        if not notice.fault:
            continue
        near = [e for e in key["events"] if _overlap(notice, e, slack)]
        if not near:
            false.append(notice)
        elif not any(notice.kind in ACCEPTED[e["kind"]] for e in near):
            misnamed.append(notice)
    hours = float(key["true_seconds"]) / 3600.0
    return Score(tuple(found), tuple(missed), tuple(beyond), tuple(misnamed), tuple(false), hours)


def judged(
    build: Path, seed: int, minutes: float, clean: bool, folder: Path, model: bool = True
) -> tuple[Score, float]:
    """A drive made, reviewed as a person would, and held against its key; and the seconds of the review."""
    from boostwright import verbs
    from tools.drives.drive import make_drive
    from tools.drives.write import write_drive

    drive = make_drive(build, seed, minutes, clean=clean, rate=None)
    log, key = write_drive(drive, folder)
    began = time.perf_counter()
    review = verbs.review(log, verbs.load_build(build), remember=False, model=model)
    took = time.perf_counter() - began
    result = score(review.notices, json.loads(key.read_text("utf-8")))
    log.unlink()
    return result, took


def _numbers(text: str) -> list[int]:
    low, _, high = text.partition("-")
    return list(range(int(low), int(high or low) + 1)) if text else []


def main() -> int:
    """Judge the seeds asked for and print the tally."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--build", type=Path, default=BUILD)
    ask.add_argument("--seeds", default="", help="drives with planted events, like 1000-1019")
    ask.add_argument("--clean", default="", help="drives without, like 2000-2003")
    ask.add_argument("--minutes", type=float, default=55.0, help="of each drive with events")
    ask.add_argument("--clean-minutes", type=float, default=30.0)
    ask.add_argument(
        "--each", action="store_true", help="list what was missed and what was raised for nothing"
    )
    ask.add_argument("--alone", action="store_true", help="the log alone, nothing beside the model")
    asked = ask.parse_args()
    seen, got, named, hours, alarms = Counter[str](), Counter[str](), Counter[str](), 0.0, Counter[str]()
    shares = []
    with tempfile.TemporaryDirectory() as place:
        for seed in _numbers(asked.seeds):
            result, took = judged(asked.build, seed, asked.minutes, False, Path(place), not asked.alone)
            shares.append(result.share)
            seen.update(e["kind"] for e in (*result.found, *result.missed))
            got.update(e["kind"] for e in result.found)
            named.update(n.kind for n in result.misnamed)
            total = len(result.found) + len(result.missed)
            print(
                f"seed {seed}: {len(result.found)} of {total} found ({100 * result.share:.0f} %),"
                f" {len(result.misnamed)} under another name, {len(result.false_alarms)} for nothing,"
                f" {len(result.beyond_sight)} beyond sight; review {took:.1f} s"
            )
            if asked.each:
                for event in result.missed:
                    print(f"    missed {event['kind']} rows {event['first_row']}-{event['last_row']}")
                for n in result.false_alarms:
                    print(f"    for nothing {n.kind} rows {n.first_row}-{n.last_row}")
        for seed in _numbers(asked.clean):
            result, took = judged(asked.build, seed, asked.clean_minutes, True, Path(place), not asked.alone)
            hours += result.hours
            alarms.update(n.kind for n in result.false_alarms)
            print(f"clean {seed}: {len(result.false_alarms)} for nothing; review {took:.1f} s")
            if asked.each:
                for n in result.false_alarms:
                    print(f"    for nothing {n.kind} rows {n.first_row}-{n.last_row}")
    for kind in sorted(seen):
        print(f"  {kind:22} {got[kind]:4} of {seen[kind]:4}")
    if shares:
        print(f"all: {sum(got.values())} of {sum(seen.values())}, worst seed {100 * min(shares):.0f} %")
        print("under another name: " + (", ".join(f"{k} {n}" for k, n in named.most_common()) or "none"))
    if hours:
        print(f"clean: {sum(alarms.values())} for nothing in {hours:.1f} h; {dict(alarms)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
