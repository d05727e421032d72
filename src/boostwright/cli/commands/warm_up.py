"""`boostwright warm-up`: compile what is compiled once, so that the first check does not have to wait."""

from __future__ import annotations

import argparse

from boostwright.cli import codes, output
from boostwright.cli.commands.command import Command

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright warm-up
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--quiet", action="store_true", help="do not say what is being done")


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs

    progress = output.Progress(args.quiet)
    try:
        seconds = verbs.warm_up(progress)
    finally:
        progress.done()
    if not args.quiet:
        output.say(f"Ready after {seconds:.1f} s. The compiled parts are kept for next time.")
    return codes.FINE


COMMAND = Command(
    "warm-up",
    "compile once what the first check would otherwise wait for",
    "Compiles the engine cycle for this machine and keeps it. Takes up to some tens of seconds once, then"
    " next to\nnothing.",
    _EXAMPLES,
    _arguments,
    _run,
)
