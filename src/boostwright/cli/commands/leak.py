"""`boostwright leak`: how large is the hole that a pressure test shows, and what does it cost?"""

from __future__ import annotations

import argparse
from pathlib import Path

from boostwright.cli import codes, output
from boostwright.cli.commands.check import refuse
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright leak --volume "8 L" --from "70 kPa" --to "35 kPa" --seconds 6
  boostwright leak --volume "8 L" --from "10 psi" --to "5 psi" --seconds "9 s" --temperature "12 degC"
  boostwright leak my-car.toml --from "0.7 bar" --to "0.35 bar" --seconds 14    volume, boost from it
  boostwright leak my-car.toml                  the test that the file states in [leak_test]
  boostwright leak --volume "8 L" --from "70 kPa" --to "35 kPa" --seconds 6 --boost "0.6 bar" --air "95 g/s"
  boostwright leak --volume "9 L" --from "70 kPa" --to "35 kPa" --seconds 3 --cut-volume "4 L" --cut-seconds 5

Pressures count above the outside air unless they say 'bara' or 'psia'.

exit codes: 0 the leak is small or its share is not known, 1 it is too large, 2 a reading is missing or
cannot be used.
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", nargs="?", help="a build file, for volume, boost and air")
    parser.add_argument("--volume", metavar="V", default="", help="volume under pressure, like '8 L'")
    parser.add_argument("--from", dest="start", metavar="P", default="", help="pressure at the start")
    parser.add_argument("--to", dest="end", metavar="P", default="", help="pressure at the end")
    parser.add_argument("--seconds", metavar="T", default="", help="time in which it fell")
    parser.add_argument("--temperature", metavar="T", default="", help="of the air in the pipes; 20 degC")
    parser.add_argument("--boost", metavar="P", default="", help="boost at which to say what is lost")
    parser.add_argument("--air", metavar="M", default="", help="air of the engine there, like '95 g/s'")
    parser.add_argument(
        "--cut-volume", metavar="V", default="", help="volume left when a section was plugged off, and"
    )
    parser.add_argument(
        "--cut-seconds", metavar="T", default="", help="the time of the same fall then: how much is in it"
    )
    parser.add_argument("--json", action="store_true", help="print the answer as JSON")


def _run(args: argparse.Namespace) -> int:
    from boostwright import __version__, verbs
    from boostwright.findings.leak_answer import LeakAsked
    from boostwright.views.leak_page import leak_json, leak_page

    build = None
    if args.file:
        try:
            build = verbs.load_job(Path(args.file)).build
        except BuildFileError as refused:
            return refuse(refused, args.file)
    asked = LeakAsked(
        args.volume,
        args.start,
        args.end,
        args.seconds,
        args.temperature,
        args.boost,
        args.air,
        args.cut_volume,
        args.cut_seconds,
    )
    answer = verbs.leak(asked, build)
    page = leak_json(answer, __version__) if args.json else leak_page(answer, min(output.width(), 100))
    output.say(page.rstrip())
    if answer.share is not None and answer.limit is not None and answer.share.value > answer.limit.value:
        return codes.BREAKS
    return codes.FINE


COMMAND = Command(
    "leak",
    "how large is the leak that a pressure test of the charge pipes shows?",
    "Works out the leak of the charge pipes from the time in which a pressure test loses its pressure: the"
    " round hole\nthat would leak as much, the air that it loses at boost, and its share of the engine's"
    " air.",
    _EXAMPLES,
    _arguments,
    _run,
)
