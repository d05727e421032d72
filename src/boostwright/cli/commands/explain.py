"""`boostwright explain FIELD`: what a field is, how to measure it, what is usual."""

from __future__ import annotations

import argparse

from boostwright.cli import codes, output
from boostwright.cli.commands.command import Command

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright explain engine.bore
  boostwright explain engine             every field of a section
  boostwright explain                    the sections
  boostwright explain knock.half_burned  a finding: what it sets against what
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("field", metavar="FIELD", nargs="?", help="a field, a section or a finding")


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs

    output.say(verbs.explain(args.field or "", width=min(output.width(), 100)).rstrip())
    return codes.FINE


COMMAND = Command(
    "explain",
    "what a field is, how to measure it, what is usual",
    "Explains a field of the build file: what it is, how to measure it, what is usual, what stands in"
    " when you leave it\nout, and what a wrong value does. Also explains a section, or a finding by its"
    " code.",
    _EXAMPLES,
    _arguments,
    _run,
)
