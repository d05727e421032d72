"""`boostwright demo NAME`: the main job on an invented build that ships with the program."""

from __future__ import annotations

import argparse
from pathlib import Path

from boostwright.cli import codes, output
from boostwright.cli.commands import check, review, tables
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright demo                      the names of the demo builds
  boostwright demo sound                check one
  boostwright demo sound --out report
  boostwright demo sound --tables --out tables      its starting tables instead
  boostwright demo sound --drive --out drive        the review of its recorded drive instead
  boostwright demo sound --copy .       copy its files here, to look at and to change
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "name", metavar="NAME", nargs="?", help="a demo build; without it, their names are listed"
    )
    parser.add_argument("--copy", metavar="FOLDER", help="copy its files there instead of checking it")
    parser.add_argument("--tables", action="store_true", help="make its starting tables instead of a check")
    parser.add_argument("--drive", action="store_true", help="review its recorded drive instead of a check")
    check.options(parser)


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs

    demos = verbs.demo_builds()
    if args.name is None:
        for name, words in demos.items():
            output.say(f"{name:16} {words}")
        return codes.FINE
    if args.name not in demos:
        output.complain(f"there is no demo build named '{args.name}'; there are: {', '.join(demos)}")
        return codes.UNUSABLE
    if args.copy is not None:
        return _copy(args.name, Path(args.copy))
    try:
        build = verbs.demo_build(args.name)
    except BuildFileError as refused:
        return check.refuse(refused, f"{args.name}.toml")
    if args.drive:
        return review.of_demo(build, verbs.demo_drive(args.name), args)
    return tables.of_demo(build, args) if args.tables else check.judge(build, args)


def _copy(name: str, folder: Path) -> int:
    """Write a demo build, the maps that it names and its recorded drive into a folder, made where it is not
    there; replace nothing.
    """
    from boostwright import verbs
    from boostwright.views.files import write_new

    files = {folder / file: text for file, text in verbs.demo_files(name).items()}
    files[folder / f"{name}_drive.csv"] = verbs.demo_drive(name).read_text("utf-8")
    there = next((target for target in files if target.exists()), None)
    if there is None:
        folder.mkdir(parents=True, exist_ok=True)
        for target, text in files.items():
            try:
                write_new(target, text)
            except FileExistsError:  # it came while we wrote
                there = target
                break
            output.say(f"Written: {target}")
    if there is not None:
        output.complain(f"{there}: there is a file of this name already, and it stays as it is.")
        return codes.UNUSABLE
    return codes.FINE


COMMAND = Command(
    "demo",
    "check an invented build that ships with the program",
    "Runs `check` on a demo build, or copies its file. The cars, the parts and the people in them are"
    " invented.",
    _EXAMPLES,
    _arguments,
    _run,
)
