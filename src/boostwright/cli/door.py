"""From the words on the command line to one command, and from any mishap to one clear sentence."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

from boostwright.cli import codes, output
from boostwright.cli.commands import COMMANDS
from boostwright.errors import BoostwrightError, BuildFileError

__all__ = ["main"]

_ABOUT = """\
Judges the conversion of a naturally aspirated petrol car to a turbo, from one build file."""

_AFTER = """\
where to begin, in this order:
  1  boostwright new my-car.toml         write a commented build file, and fill in what you know
  2  boostwright explain engine.bore     what a field is, how to measure it, what is usual
  3  boostwright fit my-car.toml         fit the model to this engine's own torque curve, if you have one
  4  boostwright check my-car.toml       does it hold? Do what stands first, change the file, check again

then:
  boostwright check my-car.toml --out report    plots, report and results into a folder
  boostwright check my-car.toml --draws 256     how sure that is, and what to measure first
  boostwright leak my-car.toml                  the leak that a pressure test of the charge pipes shows
  boostwright ladder my-car.toml                from key-on to full load: the next step, where to break off
  boostwright review drive.csv --build my-car.toml     what a recorded drive shows, and what to change
  boostwright tables my-car.toml                the first tables for the engine controller
  boostwright torque my-car.toml                the torque sheet, with hold points
  boostwright history my-car.toml               what was kept, what changed, and going back
  boostwright plan my-car.toml                  who does what when, and will it be done in time?
  boostwright parts my-car.toml                 the parts list: what is missing, what to order first
  boostwright record my-car.toml                what to measure now; takes readings in
  boostwright demo sound                        a check of a build that ships with the program

exit codes:
  0  nothing breaks and nothing is unknown
  1  something breaks
  2  the command or a file cannot be used
  3  nothing breaks, but something is unknown
  4  the program itself went wrong
"""


class _Parser(argparse.ArgumentParser):
    """argparse with our words: what is wrong, and where help is."""

    def error(self, message: str) -> NoReturn:
        output.complain(f"{message[0].upper()}{message[1:]}.\nFor help: {self.prog} --help")
        raise SystemExit(codes.UNUSABLE)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="boostwright", description=_ABOUT, epilog=_AFTER,
        formatter_class=argparse.RawDescriptionHelpFormatter
    )  # fmt: skip
    parser.add_argument(
        "--version", action="store_true", help="print the version and that of the reference data"
    )
    commands = parser.add_subparsers(
        dest="command", metavar="command", title="commands", parser_class=_Parser
    )
    for command in COMMANDS:
        sub = commands.add_parser(
            command.name, help=command.help, description=command.about, epilog=command.examples,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )  # fmt: skip
        command.arguments(sub)
        sub.add_argument("--debug", action="store_true", help="show where in the program a mishap comes from")
        sub.set_defaults(run=command.run)
    return parser


def _refuse(parser: argparse.ArgumentParser, command: str | None, unread: Sequence[str]) -> NoReturn:
    """Say which words nobody reads, what they may have meant, and the command's own page of help."""
    from boostwright.quantity import nearest

    own = parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction) and command in action.choices:
            own = action.choices[command]
    known = [word for action in own._actions for word in action.option_strings]
    strange = [word.partition("=")[0] for word in unread if word.startswith("-")]
    near = [found[0] for word in strange if (found := nearest(word, known, count=1))]
    hint = f" Did you mean {' and '.join(near)}?" if near else ""
    output.complain(f"Unrecognized arguments: {' '.join(unread)}.{hint}\nFor help: {own.prog} --help")
    raise SystemExit(codes.UNUSABLE)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code. Never shows a traceback unless `--debug` asks for it."""
    debug = "--debug" in (sys.argv[1:] if argv is None else argv)
    try:
        return _run(argv)
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else codes.UNUSABLE
    except KeyboardInterrupt:
        output.complain("Stopped. Nothing half-written was left behind.")
        return codes.STOPPED
    except BrokenPipeError:
        _let_go_of_stdout()
        return codes.NOBODY_READS
    except Exception as mishap:
        if debug:
            raise
        return _explain(mishap)


def _run(argv: Sequence[str] | None) -> int:
    parser = _parser()
    args, unread = parser.parse_known_args(argv)
    if unread:
        _refuse(parser, args.command, unread)
    if args.version:
        from boostwright.cli.commands import version_line

        output.say(version_line())
        code = codes.FINE
    elif args.command is None:
        output.say(parser.format_help().rstrip())
        code = codes.UNUSABLE
    else:
        code = int(args.run(args))
    sys.stdout.flush()
    return code


def _explain(mishap: Exception) -> int:
    if isinstance(mishap, BuildFileError):  # with its faults it is printed by the command itself
        output.complain(str(mishap))
        return codes.UNUSABLE
    if isinstance(mishap, OSError):
        output.complain(output.os_error_words(mishap))
        return codes.UNUSABLE
    if isinstance(mishap, BoostwrightError):
        output.complain(str(mishap))
        return codes.WENT_WRONG if type(mishap).__name__ == "NotConverged" else codes.UNUSABLE
    output.complain(
        f"The program itself went wrong ({type(mishap).__name__}: {mishap}).\nYour file is as it was. Run"
        " the same command with --debug and report what it shows."
    )
    return codes.WENT_WRONG


def _let_go_of_stdout() -> None:
    """Point stdout at nothing, so that the interpreter's last flush has nowhere to fail."""
    try:
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, sys.stdout.fileno())
        os.close(nothing)
    except (OSError, ValueError):
        pass
