"""`boostwright record FILE`: what was measured and done, and what is due."""

from __future__ import annotations

import argparse
import sys
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.cli import codes, output
from boostwright.cli.commands.check import refuse
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError, ReadingError

if TYPE_CHECKING:
    from boostwright.planning.readings.kept import Kept
    from boostwright.verbs.readings import LoadedJob

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright record my-car.toml                        what is due now: why, how, with what, what to expect
  boostwright record my-car.toml compression 13,1 13,2 13,1 13,2 bar --with "screwed gauge" --who Lena
  boostwright record my-car.toml oil_pressure_idle "1.5 +/- 0.1 bar" --photo gauge.jpg
  boostwright record my-car.toml coolant_gas none --when before --time "2025-04-12 09:40"
  boostwright record my-car.toml --done strip.sump --who Lena --witness Tom
  boostwright record my-car.toml --done decide.goal decide.list       several at once
  boostwright record my-car.toml --done 'decide.*'      says which are meant; with --yes they are written
  boostwright record my-car.toml --problem strip.nuts --kind "stud broken" --note "third from the front"
  boostwright record my-car.toml --override baseline.crankcase --who Lena --reason "manometer broke, \
      breather was blown through freely by mouth"
  boostwright record my-car.toml --list                 everything on record, with ids
  boostwright record my-car.toml --undo                 take back what was written last; nothing is deleted
  boostwright record my-car.toml --table > sheet.csv    a sheet for paper; fill in 'value' and read it back:
  boostwright record my-car.toml --sheet sheet.csv --who Lena --time 2025-04-12
  boostwright record my-car.toml --explain leak_down    one measurement in full

Every value has its unit; gauge or absolute follows from the measurement, or say barg, bara. Of measurements
that are taken at each cylinder write one value for each, from the belt end. A value far outside what this
build should show is not taken before you say --again (measured again) or --sure.

exit codes: 0 recorded, 1 recorded and a hold, 2 nothing was recorded, 3 recorded, outside for the first time.
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the build file")
    parser.add_argument("measurement", metavar="MEASUREMENT", nargs="?", help="key of what was measured")
    parser.add_argument(
        "values", metavar="VALUE", nargs="*", help="what the instrument showed, with its unit"
    )
    parser.add_argument("--with", dest="instrument", metavar="INSTRUMENT", default="", help="with what")
    parser.add_argument(
        "--who", metavar="NAME", default=None, help="who read or did it; else the computer's user"
    )
    parser.add_argument("--time", metavar="WHEN", default="", help="when, like '2025-04-12 09:40'; else now")
    parser.add_argument("--when", metavar="SIDE", default="", help="before, during or after the conversion")
    parser.add_argument("--step", metavar="STEP", default="", help="the commissioning step it was taken for")
    parser.add_argument(
        "--photo", metavar="PICTURE", action="append", default=[], help="keep a picture with it"
    )
    parser.add_argument("--witness", metavar="NAME", default="", help="who saw it, another person")
    parser.add_argument("--note", metavar="TEXT", default="", help="a remark")
    parser.add_argument("--again", "--sure", dest="sure", action="store_true", help="it stands as it is")
    for what, help_ in (("start", "a task begins"), ("pause", "it rests"), ("done", "it is done"),
                        ("reopen", "it has to be done again"), ("skip", "it is not needed"),
                        ("problem", "it stands still; say why with --note")):  # fmt: skip
        parser.add_argument(f"--{what}", metavar="TASK", nargs="+", action="extend", help=help_)
    parser.add_argument("--yes", action="store_true", help="write what a pattern like 'strip.*' stands for")
    parser.add_argument(
        "--torque",
        metavar="READ",
        action="append",
        default=[],
        help="with --done: 'JOINT = 24 Nm', read back",
    )
    parser.add_argument(
        "--override", metavar="TASK", default="", help="open its hold point against its data, with --who,"
    )
    parser.add_argument("--reason", metavar="TEXT", default="", help="why, in a sentence, and --witness")
    parser.add_argument("--kind", metavar="KIND", default="", help="of a problem, like 'stud broken'")
    parser.add_argument("--undo", metavar="ID", nargs="?", const="", default=None, help="take a record back")
    parser.add_argument("--list", action="store_true", help="everything on record")
    parser.add_argument(
        "--table", action="store_true", help="the sheet as CSV, with what is on record filled in"
    )
    parser.add_argument("--sheet", metavar="CSV", default="", help="read a filled-in sheet")
    parser.add_argument("--explain", metavar="KEY", default="", help="one measurement in full")
    parser.add_argument(
        "--store", metavar="WHERE", default="", help="another store than the one beside the file"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")


def _run(args: argparse.Namespace) -> int:
    try:
        return _one(args)
    except BuildFileError as refused:
        return refuse(refused, args.file)
    except ReadingError as refused:
        output.complain(str(refused))
        return codes.UNUSABLE


_EVENTS = {
    "start": "STARTED",
    "pause": "PAUSED",
    "done": "DONE",
    "reopen": "REOPENED",
    "skip": "NOT_NEEDED",
    "problem": "PROBLEM",
}


def _one(args: argparse.Namespace) -> int:
    """The one thing that the arguments ask for."""
    if args.who is not None and not args.who.strip():
        raise ReadingError("--who names nobody.", "Write a name, or leave it out for the computer's user.")
    args.who = args.who or ""
    events = [name for name in _EVENTS if getattr(args, name) is not None]
    asked = [f"--{name}" for name in events]
    asked += [f"--{name}" for name in ("list", "table") if getattr(args, name)]
    asked += [f"--{name}" for name in ("sheet", "explain", "override") if getattr(args, name)]
    asked += ["--undo"] if args.undo is not None else []
    asked += ["a measurement"] if args.measurement else []
    if len(asked) > 1:
        raise ReadingError(f"{' and '.join(asked)} are two things at once.", "Ask for one at a time.")
    if events:
        return _event(args, events[0])
    if args.torque and not args.done:
        raise ReadingError("--torque belongs to --done TASK.", "Say which task the joints were tightened in.")
    if args.reason and not args.override and args.undo is None:
        raise ReadingError("--reason belongs to --override TASK or --undo.", "Say what is to be opened.")
    if args.photo and not (events or args.measurement):
        raise ReadingError(
            "--photo belongs to a measurement or a task.", "'boostwright history FILE --attach' keeps others."
        )
    if args.override:
        return _override(args)
    if args.undo is not None:
        return _undo(args)
    if args.sheet:
        return _sheet(args)
    if args.measurement:
        return _reading(args)
    return _shown(args)


def _stamp(job: LoadedJob) -> tuple[str, str, str, str]:
    from boostwright import __version__
    from boostwright.library.version import data_version

    return job.build.name, __version__, data_version(), job.build.fingerprint


def _reading(args: argparse.Namespace) -> int:
    from boostwright import verbs
    from boostwright.build.recorded import Standing

    progress = output.Progress(args.json)
    kept = verbs.record_reading(
        args.file,
        verbs.AskedReading(
            args.measurement, " ".join(args.values), args.who, args.time, args.when, args.step,
            args.instrument, args.witness, args.note, tuple(Path(photo) for photo in args.photo), args.sure,
        ),
        args.store,
        progress,
    )  # fmt: skip
    progress.done()
    _say_kept(args, kept)
    judged = kept.judged
    if kept.of_step is not None and kept.of_step.grave:
        return codes.BREAKS if kept.of_step.grave == 2 else codes.UNKNOWN
    if judged is None or judged.state in (Standing.INSIDE, Standing.OPEN):
        return codes.FINE
    return codes.BREAKS if judged.holds_work else codes.UNKNOWN


def _event(args: argparse.Namespace, name: str) -> int:
    from boostwright import verbs
    from boostwright.job.records import Step

    names: list[str] = getattr(args, name)
    if any(verbs.is_pattern(one) for one in names) and not args.yes:
        return _shown_back(args, name)
    event = verbs.AskedEvent(
        "",
        Step[_EVENTS[name]],
        args.who,
        args.time,
        args.witness,
        args.note,
        args.kind,
        photos=tuple(Path(photo) for photo in args.photo),
        torques=tuple(args.torque),
    )
    kept = verbs.record_events(args.file, event, names, args.store)
    _say_kept(args, kept)
    return codes.UNKNOWN if kept.notes else codes.FINE


def _shown_back(args: argparse.Namespace, name: str) -> int:
    """Which tasks a pattern stands for; nothing is written."""
    from boostwright import verbs
    from boostwright.planning.tasks import tasks_for
    from boostwright.views.record_page import meant_report

    meant = verbs.tasks_meant(getattr(args, name), tasks_for(verbs.load_job(args.file, args.store).build))
    output.say(meant_report(meant, name, output.width()).rstrip(), sys.stderr if args.json else sys.stdout)
    return codes.UNUSABLE


def _override(args: argparse.Namespace) -> int:
    from boostwright import verbs

    kept = verbs.override_hold(
        args.file,
        args.override,
        who=args.who,
        reason=args.reason,
        witness=args.witness,
        where=args.store,
    )
    _say_kept(args, kept)
    return codes.FINE


def _say_kept(args: argparse.Namespace, kept: Kept) -> None:
    """What was recorded, as text or as JSON."""
    from boostwright import verbs
    from boostwright.views.record_page import kept_report, record_document

    if args.json:
        job = verbs.load_job(args.file, args.store)
        output.say(record_document(*_stamp(job), kept=kept).rstrip())
    else:
        output.say(kept_report(kept, output.width()).rstrip())


def _undo(args: argparse.Namespace) -> int:
    from boostwright import verbs
    from boostwright.views.record_page import record_document, undone_report

    kept = verbs.take_back(args.file, args.undo, args.who, args.note or args.reason, args.store)
    if args.json:
        job = verbs.load_job(args.file, args.store)
        output.say(record_document(*_stamp(job), kept=kept).rstrip())
    else:
        output.say(undone_report(kept, output.width()).rstrip())
    return codes.FINE


def _sheet(args: argparse.Namespace) -> int:
    from boostwright import verbs
    from boostwright.readers.decode import table_text
    from boostwright.views.record_page import grave, record_document, sheet_report

    text = table_text(Path(args.sheet).read_bytes())
    progress = output.Progress(args.json)
    kept = verbs.record_sheet(
        args.file, text, who=args.who, time=args.time, when=args.when, sure=args.sure, where=args.store,
        progress=progress,
    )  # fmt: skip
    progress.done()
    if args.json:
        job = verbs.load_job(args.file, args.store)
        output.say(record_document(*_stamp(job), sheet=kept).rstrip())
    else:
        where = sys.stderr if kept.faults else sys.stdout
        output.say(sheet_report(kept, args.sheet, output.width()).rstrip(), where)
    if kept.faults:
        return codes.UNUSABLE
    worst = max((grave(one, says) for (_, one), says in zip_longest(kept.kept, kept.of_steps)), default=0)
    return (codes.FINE, codes.UNKNOWN, codes.BREAKS)[worst]


def _shown(args: argparse.Namespace) -> int:
    """What is due, what is on record, the sheet, or one measurement."""
    from boostwright import verbs
    from boostwright.planning.moments import stated_zone
    from boostwright.planning.readings.due import side_now
    from boostwright.views import record_page

    job = verbs.load_job(args.file, args.store)
    stamp = _stamp(job)
    side = args.when or side_now(job.records)
    if side not in ("before", "during", "after"):
        raise ReadingError(f"'{side[:30]}' is no side of the conversion.", "Write before, during or after.")
    if args.explain:
        one, expected = verbs.measurement_and_range(job, args.explain, side)
        output.say(record_page.explain_report(one, expected, output.width()).rstrip())
    elif args.table:
        output.say(verbs.readings_sheet(job, args.when).rstrip())
    elif args.list:
        judged = verbs.judged_of(job)
        if args.json:
            output.say(record_page.record_document(*stamp, judged=judged, records=job.records).rstrip())
        else:
            zone, width = stated_zone(job.build), output.width()
            output.say(record_page.list_report(judged, job.records, job.build.name, width, zone).rstrip())
    else:
        due = verbs.due_readings(job, side)
        if args.json:
            output.say(record_page.record_document(*stamp, due=due).rstrip())
        else:
            output.say(record_page.due_report(due, side, job.build.name, output.width()).rstrip())
    return codes.FINE


COMMAND = Command(
    "record",
    "record what was measured and done; without more, what is to be measured now",
    "Takes a reading with its unit, says at once what this build should show and whether the change against"
    " before is\nmore than scatter, and keeps it beside the build file. 'check' and 'fit' then use it.",
    _EXAMPLES,
    _arguments,
    _run,
)
