"""`boostwright demo NAME`: the main job on an invented build that ships with the program."""

from __future__ import annotations

import argparse
from pathlib import Path

from boostwright.cli import codes, output
from boostwright.cli.commands import check
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright demo                      the names of the demo builds
  boostwright demo sound                check one
  boostwright demo sound --out report
  boostwright demo sound --copy .       copy its file here, to look at and to change
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "name", metavar="NAME", nargs="?", help="a demo build; without it, their names are listed"
    )
    parser.add_argument("--copy", metavar="FOLDER", help="copy the build file there instead of checking it")
    check.options(parser)


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs
    from boostwright.views.files import write_new

    demos = verbs.demo_builds()
    if args.name is None:
        for name, words in demos.items():
            output.say(f"{name:16} {words}")
        return codes.FINE
    if args.name not in demos:
        output.complain(f"there is no demo build named '{args.name}'; there are: {', '.join(demos)}")
        return codes.UNUSABLE
    if args.copy is not None:
        target = Path(args.copy) / f"{args.name}.toml"
        try:
            write_new(target, verbs.demo_text(args.name))
        except FileExistsError:
            output.complain(f"{target}: there is a file of this name already, and it stays as it is.")
            return codes.UNUSABLE
        output.say(f"Written: {target}")
        return codes.FINE
    try:
        build = verbs.demo_build(args.name)
    except BuildFileError as refused:
        return check.refuse(refused, f"{args.name}.toml")
    return check.judge(build, args)


COMMAND = Command(
    "demo",
    "check an invented build that ships with the program",
    "Runs `check` on a demo build, or copies its file. The cars, the parts and the people in them are"
    " invented.",
    _EXAMPLES,
    _arguments,
    _run,
)
