"""`boostwright new [FILE]`: a commented build file to fill in."""

from __future__ import annotations

import argparse
from pathlib import Path

from boostwright.cli import codes, output
from boostwright.cli.commands.command import Command

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright new                              print it
  boostwright new my-car.toml                  write it; an existing file is never replaced
  boostwright new my-car.toml --force          replace it all the same
  boostwright new --class two-valve my-car.toml
  boostwright new --class list                 the engine classes
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "file", metavar="FILE", nargs="?", help="where to write it; without it, it is printed"
    )
    parser.add_argument(
        "--class", dest="engine_class", metavar="CLASS", help="engine class whose usual values stand in"
    )
    parser.add_argument("--force", action="store_true", help="replace FILE if it is there")


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs
    from boostwright.views.files import write_new, write_text

    if args.engine_class == "list":
        for name, words in verbs.engine_classes():
            output.say(f"{name:16} {words}")
        return codes.FINE
    text = verbs.new_build(args.engine_class)
    if args.file is None:
        output.say(text.rstrip())
        return codes.FINE
    path = Path(args.file)
    if path.is_dir():
        output.complain(f"{path}: this is a folder. Name a file inside it, like {path / 'my-car.toml'}")
        return codes.UNUSABLE
    if not path.parent.is_dir():
        output.complain(f"{path.parent}: there is no such folder. Make it first, or choose another.")
        return codes.UNUSABLE
    if args.force:
        write_text(path, text)
    else:
        try:
            write_new(path, text)
        except FileExistsError:
            output.complain(f"{path}: there is a file of this name already, and it stays as it is. Choose"
            " another name, "
                            "or add --force to replace it.")  # fmt: skip
            return codes.UNUSABLE
    output.say(
        f"Written: {path}. Fill in what you know, delete what you do not, then: boostwright check {path}"
    )
    return codes.FINE


COMMAND = Command(
    "new",
    "write a commented build file to fill in",
    "Writes a build file with every field, a comment for each, and the usual values of an engine class."
    " It passes\n`check` as it is; replace what you know.",
    _EXAMPLES,
    _arguments,
    _run,
)
