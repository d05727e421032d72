"""`boostwright ladder FILE`: where you are between key-on and full load, and what is in the way."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.cli import codes, output
from boostwright.cli.commands.check import refuse
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError

if TYPE_CHECKING:
    from boostwright.planning.ladder import Ladder

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright ladder my-car.toml                       where you are, what stands in the way, the next step
  boostwright ladder my-car.toml --all                 every step with its ranges and where to break off
  boostwright ladder my-car.toml --step pull-low       one step
  boostwright ladder my-car.toml --air "12 degC 101 kPa"     ranges in the air of today
  boostwright ladder my-car.toml --corner "pass road in August"
  boostwright ladder my-car.toml --sheet > sheet.txt   paper for the observer, one step a page, with blanks
  boostwright ladder my-car.toml --out ladder          text, sheet, CSV, JSON, plot of the expected pull
  boostwright ladder my-car.toml --override warm-up --name "N. Miller" --reason "crankcase hose \\
      was kinked at the manometer, read again without" --witness "A. Smith"

A gate opens when each reading of its step is recorded and inside its range ('boostwright record'). A person
can open most gates against their data, with name and reason; that stays in sight. What must never be signed
away - leaking fuel, lost oil pressure, a cut that does not act, knock - cannot be opened so.

exit codes: 0 every gate is open, 1 the next step may not be gone, or was broken off, 2 the command or the
file cannot be used, 3 something is still to be done or read.
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the build file")
    parser.add_argument("--all", action="store_true", help="write out every step")
    parser.add_argument("--step", metavar="KEY", default="", help="write out this step only, like 'pull-low'")
    parser.add_argument("--sheet", action="store_true", help="paper for the observer, one step a page")
    parser.add_argument("--csv", action="store_true", help="print every reading of every step as CSV")
    parser.add_argument("--json", action="store_true", help="print the ladder as JSON")
    parser.add_argument("--out", metavar="FOLDER", help="write text, sheet, CSV, JSON and a plot there")
    day = parser.add_mutually_exclusive_group()
    day.add_argument("--air", metavar="AIR", default="", help="of the day, like '12 degC 101 kPa'")
    day.add_argument("--corner", metavar="NAME", default="", help="one of the build's own worst days instead")
    parser.add_argument(
        "--override", metavar="STEP", default="", help="open this gate against its data, with"
    )
    parser.add_argument("--name", metavar="WHO", default="", help="who answers for it,")
    parser.add_argument("--reason", metavar="TEXT", default="", help="why, in a sentence,")
    parser.add_argument(
        "--witness", metavar="WHO", default="", help="and, for a critical step, a second person"
    )
    parser.add_argument(
        "--store", metavar="PLACE", default="", help="the store, where it is not beside the file"
    )
    parser.add_argument("--quiet", action="store_true", help="do not say what is being done")


def _run(args: argparse.Namespace) -> int:
    progress = output.Progress(args.quiet or args.json or args.csv)
    fault = _contradiction(args)
    if fault:
        output.complain(fault)
        return codes.UNUSABLE
    try:
        ladder = _made(args, progress)
    except BuildFileError as refused:
        progress.done()
        return refuse(refused, args.file)
    finally:
        progress.done()
    return _shown(ladder, args)


def _contradiction(args: argparse.Namespace) -> str:
    """What of the options does not go together; '' where all does."""
    from boostwright.library.ladder import ladder_steps
    from boostwright.quantity import nearest

    if not args.override and (args.name or args.reason or args.witness):
        return "--name, --reason and --witness belong to --override STEP; say which gate is to be opened."
    known = [step.key for step in ladder_steps()]
    if args.step and args.step not in known:
        close = nearest(args.step, known)
        hint = f" Did you mean '{close[0]}'?" if close else ""
        return f"there is no step '{args.step}'; there are: {', '.join(known)}.{hint}"
    if sum(map(bool, (args.sheet, args.csv, args.json))) > 1:
        return "--sheet, --csv and --json print different things; ask for one, or use --out FOLDER for all."
    return ""


def _made(args: argparse.Namespace, progress: output.Progress) -> Ladder:
    from boostwright import verbs

    path, where = Path(args.file), args.store
    if args.override:
        return verbs.override_gate(
            path,
            args.override,
            who=args.name,
            reason=args.reason,
            witness=args.witness,
            where=where,
            air=args.air,
            corner=args.corner,
            progress=progress,
        )
    return verbs.ladder(path, where=where, air=args.air, corner=args.corner, progress=progress)


def _shown(ladder: Ladder, args: argparse.Namespace) -> int:
    from boostwright import __version__
    from boostwright.library.version import data_version
    from boostwright.views import ladder_document, ladder_page

    data = data_version()
    stamp = f"boostwright {__version__} · data {data} · inputs {ladder.fingerprint[:16]}"
    if args.json:
        text = ladder_document.ladder_document(ladder, __version__, data)
    elif args.csv:
        text = ladder_document.ladder_csv(ladder)
    elif args.sheet:
        text = ladder_page.sheet(ladder, step=args.step, stamp=stamp)
    else:
        text = ladder_page.ladder_report(
            ladder, every=args.all, step=args.step, stamp=stamp, width=output.width()
        )
    output.say(text.rstrip("\n"))
    if args.out is not None:
        written = ladder_document.write_ladder(ladder, Path(args.out), __version__, data)
        where = sys.stderr if args.json or args.csv or args.sheet else sys.stdout
        output.say(f"\nWritten to {args.out}: {', '.join(p.name for p in written)}", where)
    return _code(ladder)


def _code(ladder: Ladder) -> int:
    if ladder.here >= len(ladder.rungs):
        return codes.FINE
    rung, gate = ladder.rungs[ladder.here], ladder.gates[ladder.here]
    return codes.BREAKS if rung.barred or gate.back else codes.UNKNOWN


COMMAND = Command(
    "ladder",
    "from key-on to full load: the next step, its ranges, where to break off; gates that data open",
    "Prints the commissioning step that comes next for this build: what must be done and read"
    " before, what to do,"
    " what\nevery reading should show at that very condition, and where to break off. The way past a"
    " step opens"
    " when its\nreadings are on record and inside their ranges.",
    _EXAMPLES,
    _arguments,
    _run,
)
