"""`boostwright torque FILE`: the torque sheet of the build."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from boostwright.cli import codes, output
from boostwright.cli.commands.check import refuse
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright torque my-car.toml               every joint: its torque and where that stands, or a hold point
  boostwright torque my-car.toml --out sheet   torque.txt for print, torque.csv and torque.json into a folder
  boostwright torque my-car.toml --json > torque.json

A printed torque with its page always wins. Worked out are only joints of your own making (whose = "own").
Everything else stays blank: a hold point until the printed figure is in the file.

exit codes: 0 every joint has its torque, 2 the command or the file cannot be used, 3 there are hold points.
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the build file")
    parser.add_argument("--json", action="store_true", help="print the sheet as JSON")
    parser.add_argument("--out", metavar="FOLDER", help="write torque.txt, torque.csv and torque.json there")


def _run(args: argparse.Namespace) -> int:
    from boostwright import __version__, verbs
    from boostwright.library.version import data_version
    from boostwright.systems.fasteners import Origin
    from boostwright.views import torque_page

    try:
        build = verbs.load_job(Path(args.file)).build
    except BuildFileError as refused:
        return refuse(refused, args.file)
    rows = verbs.torque(build)
    data = data_version()
    if args.json:
        document = torque_page.torque_document(rows, build.name, __version__, data, build.fingerprint)
        output.say(document.rstrip())
    else:
        stamp = f"boostwright {__version__} · data {data} · inputs {build.fingerprint[:16]}"
        output.say(torque_page.torque_report(rows, build.name, stamp, output.width()).rstrip())
    if args.out is not None:
        written = torque_page.write_torque(
            rows, build.name, Path(args.out), __version__, data, build.fingerprint
        )
        where = sys.stderr if args.json else sys.stdout
        output.say(f"\nWritten to {args.out}: {', '.join(p.name for p in written)}", where)
    return codes.UNKNOWN if any(row.origin is Origin.BLANK or row.stops for row in rows) else codes.FINE


COMMAND = Command(
    "torque",
    "the torque sheet: each joint's torque with its source, or a hold point",
    "Prints for every joint of the file the torque with its source, the passes, the state of the thread and"
    " when to tighten\nagain. A joint without a printed figure stays blank and is a hold point; only joints"
    " made for this conversion are\nworked out.",
    _EXAMPLES,
    _arguments,
    _run,
)
