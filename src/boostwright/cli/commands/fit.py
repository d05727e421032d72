"""`boostwright fit FILE`: the model fitted to the engine in front of you."""

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
  boostwright fit my-car.toml              fit, and keep the result beside the file
  boostwright fit my-car.toml --dry-run    fit and show, keep nothing
  boostwright fit my-car.toml --list       the fits that were kept
  boostwright fit my-car.toml --undo       take the newest one back
  boostwright fit my-car.toml --out report   the plot of read against computed as well

Needs [baseline] with speeds and torque; 'boostwright explain baseline' says what else can stand there. The
build file is never changed. 'boostwright check' uses the newest fit of the file as it stands, and says so.
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the build file")
    parser.add_argument("--dry-run", action="store_true", help="fit and show, but keep nothing")
    parser.add_argument("--list", action="store_true", help="list the fits that were kept")
    parser.add_argument("--undo", action="store_true", help="take the newest fit back; nothing is deleted")
    parser.add_argument("--json", action="store_true", help="print the fit as JSON instead of the report")
    parser.add_argument("--out", metavar="FOLDER", help="write the plot, fit.txt and fit.json there")
    parser.add_argument("--quiet", action="store_true", help="do not say what is being done")


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs
    from boostwright.views.fit_page import fit_document, fit_list, fit_report

    path = Path(args.file)
    try:
        build = verbs.load_job(path).build
    except BuildFileError as refused:
        return refuse(refused, args.file)
    if args.list:
        output.say(fit_list(verbs.kept_fits(path), build.fingerprint).rstrip())
        return codes.FINE
    if args.undo:
        taken = verbs.undo_fit(build, path)
        if taken is None:
            output.complain("there is no fit of this file to take back")
            return codes.UNUSABLE
        output.say(f"Fit {taken} is taken back; 'boostwright fit {args.file}' makes another.")
        return codes.FINE
    progress = output.Progress(args.quiet)
    try:
        found = verbs.fit(build, progress=progress)
    finally:
        progress.done()
    number = None if args.dry_run else verbs.keep_fit(build, path, found)
    if args.json:
        output.say(fit_document(found, number).rstrip())
    else:
        told = verbs.used_words(build)
        report = fit_report(found, build.name, number, output.width()).rstrip()
        output.say(f"{told}\n\n{report}" if told else report)
    if args.out is not None:
        from boostwright import __version__
        from boostwright.views.fit_folder import write_fit

        written = write_fit(found, build.name, number, Path(args.out), __version__)
        output.say(f"\nWritten to {args.out}: {', '.join(p.name for p in written)}")
    return codes.FINE


COMMAND = Command(
    "fit",
    "fit the model to this very engine, from what it gave before the conversion",
    "Fits breathing, friction, burn, wall heat and knock of the model to the torque curve of the file and to"
    " what was\nlogged with it, each as far as the readings can tell; says what they could not tell.",
    _EXAMPLES,
    _arguments,
    _run,
)
