"""`boostwright schema`: the JSON schemas, for editors and for programs."""

from __future__ import annotations

import argparse
import json

from boostwright.cli import codes, output
from boostwright.cli.commands.command import Command

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright schema > build.schema.json            of the build file: point your editor at it
  boostwright schema results > results.schema.json  of what check --json prints
  boostwright schema tables > tables.schema.json    of what tables --json prints
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "which",
        nargs="?",
        choices=("build", "results", "tables"),
        default="build",
        help="of the build file, of the results, or of the tables",
    )


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs

    made = {"build": verbs.build_schema, "results": verbs.results_schema, "tables": verbs.tables_schema}
    schema = made[args.which]()
    output.say(json.dumps(schema, indent=2, ensure_ascii=False))
    return codes.FINE


COMMAND = Command(
    "schema",
    "print a JSON schema, for editors and programs",
    "Prints the JSON schema (draft 2020-12) of the build file, of the results that `check --json` prints, or"
    " of the\nstarting calibration that `tables --json` prints.",
    _EXAMPLES,
    _arguments,
    _run,
)
