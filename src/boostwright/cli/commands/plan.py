"""`boostwright plan FILE`: who does what when, and will it be done in time?"""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.cli import codes, output
from boostwright.cli.commands.check import refuse
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError, NoPlan, OutOfRange

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from boostwright.findings.result import CheckResult
    from boostwright.planning.calendar import Person
    from boostwright.planning.plan import Plan, Wishes
    from boostwright.verbs.planning import Planned
    from boostwright.verbs.readings import LoadedJob

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright plan my-car.toml                       will it be done in time, and what is done when by whom
  boostwright plan my-car.toml --list                the list alone, day by day, for the wall
  boostwright plan my-car.toml --out plan            plan.svg, .png, .txt, .csv, .json and .ics into a folder
  boostwright plan my-car.toml --at "Saturday 14:30"     go on from there, with what was recorded so far
  boostwright plan my-car.toml --from-now            the same, from this minute
  boostwright plan my-car.toml --people "L home, H helper, E electrician"    what a third person buys
  boostwright plan my-car.toml --deadline "Monday 20:00" --evenings 4
  boostwright plan my-car.toml --quick               no check, no search, no what-if: an answer in seconds
  boostwright plan my-car.toml --left-out            tasks that this build does not need, and why
  boostwright plan my-car.toml --json > plan.json

People, hours and evenings stand in the build file: 'boostwright explain people', 'boostwright explain hours'.

exit codes: 0 done in time in four of five cases or better, 1 it does not fit, 2 the command or the file
cannot be used, 3 something is held until a reading is understood.
"""

FITS = 0.8


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the build file")
    parser.add_argument("--list", action="store_true", help="print the list of tasks alone")
    parser.add_argument(
        "--left-out", action="store_true", help="print what this build does not need, and why"
    )
    parser.add_argument(
        "--out", metavar="FOLDER", help="write plan.svg, .png, .txt, .csv, .json and .ics there"
    )
    parser.add_argument("--json", action="store_true", help="print the plan as JSON")
    parser.add_argument("--from-now", action="store_true", help="plan what is left, from this minute on")
    parser.add_argument(
        "--at", metavar="WHEN", default="", help="plan what is left from then, 'Saturday 14:30'"
    )
    parser.add_argument(
        "--people", metavar="LIST", default="", help="instead of the file's: 'L home, H helper'"
    )
    parser.add_argument("--deadline", metavar="WHEN", default="", help="instead of hours.end: 'Monday 20:00'")
    parser.add_argument("--evenings", metavar="N", type=int, help="instead of hours.evenings: 0 to 60")
    parser.add_argument("--until", metavar="TASK", default="", help="the task at which it counts as done")
    parser.add_argument(
        "--store", metavar="PLACE", default="", help="where records are kept, if not beside FILE"
    )
    parser.add_argument("--samples", metavar="N", type=int, default=10000, help="runs of the plan; 10000")
    parser.add_argument("--seed", metavar="N", type=int, default=1, help="of the runs and of the search; 1")
    parser.add_argument("--seconds", metavar="S", type=float, default=10.0, help="budget of the search; 10")
    parser.add_argument("--quick", action="store_true", help="no check, no search, no what-if")
    parser.add_argument("--quiet", action="store_true", help="do not say what is being done")


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs
    from boostwright.planning.moments import local_zone

    _refuse_numbers(args)
    zone, now = local_zone(), datetime.now(UTC)
    progress = output.Progress(args.quiet)
    whole = not (args.json or args.list or args.left_out)
    try:
        job = verbs.load_job(Path(args.file), args.store)
        wishes = _wishes(args, job, now, zone)
        result = None
        if not args.quick:
            _first_answer(args, job, now, zone, wishes, progress)
            progress("checking the build")
            result = verbs.check(verbs.with_step_ranges(job, progress), progress=progress)
        progress.PATIENCE = 3600.0  # nothing is compiled from here on
        made = verbs.plan(
            job,
            now,
            zone,
            wishes=wishes,
            result=result,
            what_if=not args.quick and not args.list,
            say=progress,
            first=(lambda found: _head(found, result, progress)) if whole else None,
        )
    except BuildFileError as refused:
        progress.done()
        return refuse(refused, args.file)
    except NoPlan as trouble:
        progress.done()
        output.complain(str(trouble))
        return codes.UNUSABLE
    finally:
        progress.done()
    _print(args, job, made, now)
    for doubt in made.plan.doubts:
        output.complain(doubt)
    if made.plan.held:
        return codes.UNKNOWN
    return codes.FINE if made.plan.outlook.chance.probability >= FITS else codes.BREAKS


def _first_answer(
    args: argparse.Namespace,
    job: LoadedJob,
    now: datetime,
    zone: ZoneInfo,
    wishes: Wishes,
    progress: output.Progress,
) -> None:
    """On stderr, in seconds: what a quick rule says before the check and the search."""
    from boostwright import verbs
    from boostwright.views.plan_verdict import first_line

    if args.quiet:
        return
    progress("a first answer by rule")
    try:
        found = verbs.first_answer(job, now, zone, wishes=wishes)
    except NoPlan:  # the plan proper says so, with the reasons
        return
    progress.done()
    output.say(f"First answer, before the check and the search: {first_line(found)}", sys.stderr)


def _head(found: Plan, result: CheckResult | None, progress: output.Progress) -> None:
    """The verdict at once; what would help takes some seconds more."""
    from boostwright.findings.model import Verdict
    from boostwright.views.plan_page import head_report

    progress.done()
    breaks = [] if result is None else [finding.code for finding in result.of(Verdict.BREAKS)]
    output.say(head_report(found, output.width(), list(dict.fromkeys(breaks))).rstrip())
    sys.stdout.flush()


def _print(args: argparse.Namespace, job: LoadedJob, made: Planned, now: datetime) -> None:
    from boostwright import __version__
    from boostwright.library.version import data_version
    from boostwright.views import plan_page
    from boostwright.views.plan_document import plan_document

    data, fingerprint = data_version(), job.build.fingerprint
    stamp = f"boostwright {__version__} · data {data} · inputs {fingerprint[:16]}"
    if args.json:
        document = plan_document(
            made.plan, __version__, data, fingerprint, made.levers, made.choices, made.left_out
        )
        output.say(document.rstrip())
    elif args.left_out:
        output.say(plan_page.left_out_report(made.left_out, output.width()).rstrip())
    elif args.list:
        output.say(plan_page.list_report(made.plan, stamp, output.width()).rstrip())
    else:
        page = plan_page.rest_report(made.plan, made.levers, made.choices, stamp, output.width())
        output.say(page.rstrip())  # its head is there already
    if args.out is not None:
        from boostwright.views.plan_folder import write_plan

        written = write_plan(
            made.plan,
            made.levers,
            made.choices,
            made.left_out,
            Path(args.out),
            __version__,
            data,
            fingerprint,
            now,
        )
        where = sys.stderr if args.json else sys.stdout
        output.say(f"\nWritten to {args.out}: {', '.join(p.name for p in written)}", where)


def _refuse_numbers(args: argparse.Namespace) -> None:
    for name, value, low, high, why in (
        ("--samples", args.samples, 100, 50000, "fewer say nothing, more cost memory"),
        ("--seed", args.seed, 0, 2**31 - 1, "a whole number"),
        ("--seconds", args.seconds, 0.0, 600.0, "ten minutes are enough for any plan"),
        ("--evenings", args.evenings, 0, 60, "two months of evenings are another kind of plan"),
    ):
        if value is not None and not low <= value <= high:
            raise OutOfRange(f"{name} {value}: from {low} to {high}; {why}.")


def _wishes(args: argparse.Namespace, job: LoadedJob, now: datetime, zone: ZoneInfo) -> Wishes:
    from boostwright.planning.moments import MomentError, read_moment, resolved, zone_of
    from boostwright.planning.plan import Wishes

    if args.at and args.from_now:
        raise OutOfRange("--at and --from-now say two things; give one of them.")
    at = now if args.from_now else None
    if args.at:
        stated = job.build.get("hours.time_zone")
        try:
            place = zone_of(str(stated.value)) if stated is not None else zone
            at = resolved(read_moment(args.at), now.astimezone(place).date(), place)
        except MomentError as mishap:
            raise OutOfRange(f"--at '{args.at}': {mishap}.") from None
    if args.deadline:
        try:
            read_moment(args.deadline)
        except MomentError as mishap:
            raise OutOfRange(f"--deadline '{args.deadline}': {mishap}.") from None
    return Wishes(
        at=at, people=_people(args.people) if args.people else None, evenings=args.evenings,
        end=args.deadline,
        goal=args.until, samples=args.samples, seed=args.seed, seconds=0.0 if args.quick else args.seconds,
    )  # fmt: skip


def _people(text: str) -> tuple[Person, ...]:
    """'L home, H helper' as people. Raises OutOfRange."""
    from boostwright.library.working_hours import working_hours
    from boostwright.planning.calendar import Person
    from boostwright.quantity import nearest

    known = working_hours().acts_as
    found = []
    for entry in text.split(","):
        name, _, skill = entry.strip().partition(" ")
        if not name:
            raise OutOfRange(f"--people '{text}': a name is missing. Write them like 'L home, H helper'.")
        skill = skill.strip() or "home"
        if skill not in known:
            near = nearest(skill, known, 1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            raise OutOfRange(
                f"--people: '{skill}' of {name} is no skill; there are {', '.join(known)}.{hint}"
            )
        found.append(Person(name, skill))
    return tuple(found)


COMMAND = Command(
    "plan",
    "who does what when, and will it be done in time?",
    "Makes the whole job of this build as tasks, puts them into the hours of the people there are, and"
    " says with\nwhat probability it is done in time, until when there is a way back, how the car is left"
    " each night, and\nwhat would help.",
    _EXAMPLES,
    _arguments,
    _run,
)
