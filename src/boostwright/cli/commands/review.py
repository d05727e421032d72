"""`boostwright review LOG --build FILE`: what a recorded drive shows, worst first."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.cli import codes, output
from boostwright.cli.commands.check import refuse
from boostwright.cli.commands.command import Command
from boostwright.errors import BoostwrightError, BuildFileError, LogRefused

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.drive.reviewed import ReviewedDrive

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright review drive.csv --build my-car.toml             the verdict, then what was noticed, worst first
  boostwright review drive.csv --build my-car.toml --all       every moment, every column as it was taken
  boostwright review drive.csv --build my-car.toml --out drive     the report, JSON and plots into a folder
  boostwright review drive.csv --build my-car.toml --column "MAP=manifold_pressure kPa absolute"
  boostwright review drive.csv --build my-car.toml --column "aux 1="     leave that column out
  boostwright review drive.csv --build my-car.toml --keep      kept: 'check' uses it from now on
  boostwright review --build my-car.toml --undo                take the newest kept drive back
  boostwright review drive.csv --json > drive.json             without a build: what the log alone can tell

CSV of any habit and ASAM MDF4 are read. What a column is, is concluded from its name, unit, range and
behaviour together; where two answers are close, you are asked. What you say with --column is remembered for
the next log with the same headings.

exit codes: 0 nothing to mend, 1 something can cost the engine or a part, 2 the command or a file cannot be
used, 3 something else was noticed, or a column must be asked for.
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "log", metavar="LOG", nargs="?", help="the recorded drive: CSV of any habit, or ASAM MDF4"
    )
    parser.add_argument("--build", metavar="FILE", help="the build file of the car that was driven")
    parser.add_argument(
        "--column",
        metavar="'HEADING=QUANTITY UNIT'",
        action="append",
        default=[],
        help="what a column is; may be said several times",
    )
    parser.add_argument(
        "--quick", action="store_true", help="the log alone: set nothing beside the model, learn nothing"
    )
    parser.add_argument(
        "--fresh", action="store_true", help="neither use nor keep what was said of such a log before"
    )
    parser.add_argument(
        "--all", action="store_true", help="every moment, every column, what is explained too"
    )
    parser.add_argument(
        "--keep", action="store_true", help="keep log, verdict and what was learned with the build"
    )
    parser.add_argument(
        "--record",
        action="store_true",
        help="enter the readings of the pull for the ladder, with",
    )
    parser.add_argument("--who", metavar="NAME", default="", help="who answers for them")
    parser.add_argument("--list", action="store_true", help="list the drives that were kept")
    parser.add_argument("--undo", action="store_true", help="take the newest kept drive back")
    parser.add_argument("--json", action="store_true", help="print the review as JSON")
    parser.add_argument("--out", metavar="FOLDER", help="write the report, JSON and plots there")
    parser.add_argument("--quiet", action="store_true", help="do not say what is being done")


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs

    fault = _contradiction(args)
    if fault:
        output.complain(fault)
        return codes.UNUSABLE
    progress = output.Progress(args.quiet or args.json)
    try:
        build = None if args.build is None else verbs.load_job(args.build).build
        if args.list or args.undo:
            return _kept(build, args)
        drive = verbs.review(
            args.log,
            build,
            file=args.build,
            columns=args.column,
            remember=not args.fresh,
            model=not args.quick,
            progress=progress,
            partial=lambda early: _say_early(early, args, progress),
        )
    except BuildFileError as refused:
        progress.done()
        return refuse(refused, args.build)
    except LogRefused as refused:
        progress.done()
        output.complain(f"{args.log}: {refused.why}. {refused.remedy}")
        return codes.UNUSABLE
    except BoostwrightError as refused:
        progress.done()
        output.complain(f"{args.log}: {refused}")
        return codes.UNUSABLE
    finally:
        progress.done()
    code = _shown(drive, args)
    if args.keep and build is not None:
        number = verbs.keep_drive(build, args.build, drive, args.log)
        where = sys.stderr if args.json else sys.stdout
        output.say(
            f"\nKept as drive {number}; 'boostwright review --build {args.build} --undo' takes it back.",
            where,
        )
    if args.record and args.build is not None:
        where = sys.stderr if args.json else sys.stdout
        output.say(f"\n{verbs.record_drive(args.build, drive, who=args.who)}", where)
    return code


def of_demo(build: Build, log: Path, given: argparse.Namespace) -> int:
    """The review of a demo build's own drive; returns the exit code. given: `all`, `json`, `out`, `quiet`."""
    from boostwright import verbs

    args = argparse.Namespace(all=given.all, json=given.json, out=given.out, quiet=given.quiet)
    progress = output.Progress(args.quiet or args.json)
    try:
        drive = verbs.review(
            log,
            build,
            remember=False,
            progress=progress,
            partial=lambda early: _say_early(early, args, progress),
        )
    finally:
        progress.done()
    return _shown(drive, args)


def _contradiction(args: argparse.Namespace) -> str:
    """What of the options does not go together; '' where all does."""
    if (args.keep or args.record or args.list or args.undo) and args.build is None:
        return "--keep, --record, --list and --undo need --build FILE: a drive is kept with its build."
    if args.log is None and not (args.list or args.undo):
        return "name the log: boostwright review LOG --build FILE."
    if (args.keep or args.record) and args.quick:
        return "--quick learns nothing and asks no ladder; leave it out with --keep or --record."
    if args.record and not args.who.strip():
        return "--record needs --who NAME: who answers for the readings."
    return ""


def _kept(build: Build | None, args: argparse.Namespace) -> int:
    """List the kept drives, or take the newest back."""
    from boostwright import verbs
    from boostwright.views.drive_page import drive_list

    if args.list:
        output.say(drive_list(verbs.kept_drives(args.build)).rstrip())
        return codes.FINE
    taken = None if build is None else verbs.undo_drive(build, args.build)
    if taken is None:
        output.complain("there is no drive of this file to take back")
        return codes.UNUSABLE
    output.say(f"Drive {taken} is taken back; the log itself stays with the build.")
    return codes.FINE


def _say_early(early: ReviewedDrive, args: argparse.Namespace, progress: output.Progress) -> None:
    """The verdict of the log alone, before the model is asked."""
    from boostwright.views.drive_page import headline

    if not (args.quiet or args.json):
        progress.done()
        output.say(f"\nThe log alone: {headline(early.review)}\n", sys.stderr)


def _shown(drive: ReviewedDrive, args: argparse.Namespace) -> int:
    from boostwright import __version__
    from boostwright.library.version import data_version
    from boostwright.views import drive_document, drive_page

    data = data_version()
    mark = f" · inputs {drive.fingerprint[:16]}" if drive.fingerprint else ""
    stamp = f"boostwright {__version__} · data {data}{mark}"
    if args.json:
        output.say(drive_document.drive_document(drive, __version__, data).rstrip())
    else:
        output.say(drive_page.drive_report(drive, every=args.all, stamp=stamp, width=output.width()).rstrip())
    if args.out is not None:
        progress = output.Progress(args.quiet or args.json)
        try:
            written = drive_document.write_drive(drive, Path(args.out), __version__, data, stamp, progress)
        finally:
            progress.done()
        where = sys.stderr if args.json else sys.stdout
        output.say(f"\nWritten to {args.out}: {', '.join(p.name for p in written)}", where)
    return exit_code(drive)


def exit_code(drive: ReviewedDrive) -> int:
    """What the review comes to."""
    from boostwright.library.notice_kinds import notice_kinds

    harms = {notice_kinds()[n.kind].harm for n in drive.review.faults}
    if harms & {"engine", "part"}:
        return codes.BREAKS
    return codes.UNKNOWN if harms or drive.questions else codes.FINE


COMMAND = Command(
    "review",
    "what a recorded drive shows, worst first, and what to change",
    "Reads a recorded drive and says what happened in it: pulls, boost, mixture, fuel pressure, knock,"
    " temperatures, oil, the\nlog itself. Each notice has its moment, its size with its uncertainty, and the"
    " smallest change to begin with; what the log\ncannot show is said.",
    _EXAMPLES,
    _arguments,
    _run,
)
