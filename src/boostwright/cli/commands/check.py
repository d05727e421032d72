"""`boostwright check FILE`: does this build hold?"""

from __future__ import annotations

import argparse
import dataclasses
import errno
import os
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.cli import codes, output
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError, NotConverged, OutOfRange

if TYPE_CHECKING:
    from collections.abc import Callable

    from boostwright.build.document import Build
    from boostwright.drive.learned import Learned
    from boostwright.findings.result import CheckResult
    from boostwright.fitting import Fit
    from boostwright.trust.run import Draws

__all__ = ["COMMAND", "exit_code", "fitted_of", "folder_for", "judge", "learned_of", "options", "refuse"]

_EXAMPLES = """\
examples:
  boostwright check my-car.toml
  boostwright check my-car.toml --all             write out the findings that hold as well
  boostwright check my-car.toml --out report      plots, text and results.json into the folder 'report'
  boostwright check my-car.toml --json > results.json
  boostwright check my-car.toml --speeds "2000 3000 4000 5000 rpm"
  boostwright check my-car.toml --draws 256       odds from draws of all that is unsure, and what to measure
  boostwright check my-car.toml --draws auto      as many draws as the odds need; Ctrl-C keeps what is done

exit codes: 0 nothing breaks and nothing is unknown, 1 something breaks, 2 the command or the file cannot be
used, 3 nothing breaks but something is unknown.
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the build file")
    options(parser)


def options(parser: argparse.ArgumentParser) -> None:
    """The options that `check` and `demo` share."""
    parser.add_argument("--json", action="store_true", help="print the results as JSON instead of the report")
    parser.add_argument(
        "--out", metavar="FOLDER", help="write plots (SVG, PNG), report.txt and results.json there"
    )
    parser.add_argument("--all", action="store_true", help="write out the findings that hold as well")
    parser.add_argument(
        "--speeds", metavar="LIST", help="engine speeds to compute, like '2000 3000 4000 rpm'"
    )
    parser.add_argument(
        "--no-fit", action="store_true", help="leave out what 'boostwright fit' found of this engine"
    )
    parser.add_argument(
        "--no-drive", action="store_true", help="leave out what a recorded drive taught of this car"
    )
    parser.add_argument(
        "--draws",
        "--samples",
        dest="samples",
        metavar="N",
        type=_samples,
        help="odds from N draws of everything that is not sure, or 'auto'; about a minute and a half"
        " for 256 on two processors",
    )
    parser.add_argument(
        "--seed", metavar="N", type=_seed, default=1, help="of the draws; the same one gives the same odds"
    )
    parser.add_argument("--quiet", action="store_true", help="do not say what is being done")


_FEWEST, _MOST = 16, 4096  # draws


def _samples(text: str) -> int | None:
    """A number of draws; -1 for as many as it takes."""
    if text.strip().lower() == "auto":
        return -1
    try:
        count = int(text)
    except ValueError:
        count = 0
    if not _FEWEST <= count <= _MOST:
        raise argparse.ArgumentTypeError(
            f"'{text}' is no number of draws: say 'auto', or a whole number from {_FEWEST}, for fewer tell"
            f" nothing, to {_MOST}, which take half an hour"
        )
    return count


def _seed(text: str) -> int:
    if not text.isdigit() or len(text) > 9:
        raise argparse.ArgumentTypeError(f"'{text}' is no seed: say a whole number from 0 to 999999999")
    return int(text)


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs

    path = Path(args.file)
    try:
        build = verbs.with_step_ranges(verbs.load_job(path), output.Progress(args.quiet))
    except BuildFileError as refused:
        return refuse(refused, args.file)
    return judge(build, args)


def refuse(refused: BuildFileError, file: str) -> int:
    """Print every fault of a build file on stderr."""
    import sys

    from boostwright.views.faults import faults_report

    if refused.faults:
        output.say(faults_report(refused.faults, file, min(output.width(), 100)).rstrip(), sys.stderr)
    else:
        output.complain(str(refused))
    return codes.UNUSABLE


def judge(build: Build, args: argparse.Namespace) -> int:
    """Check a build, print what is asked for, and return the exit code."""
    from boostwright import verbs
    from boostwright.views.terminal import terminal_report

    progress = output.Progress(args.quiet)
    folder = folder_for(args.out) if args.out else None
    try:
        speeds = verbs.read_speeds(args.speeds) if args.speeds else None
        learned, driven = learned_of(build, args)
        fitted, note = fitted_of(build, args, progress)
        result = verbs.check(
            build,
            speeds=speeds,
            progress=progress,
            draws=_draws(args),
            partial=_partial(progress, args.quiet),
            fitted=fitted,
            learned=learned,
        )
        told = tuple(words for words in (verbs.used_words(build), note, driven) if words)
        if told:
            result = dataclasses.replace(result, warnings=(*told, *result.warnings))
        written = _write(result, folder, progress) if folder is not None else ()
    except BuildFileError as refused:  # a limit that the file changes cannot be read
        progress.done()
        return refuse(refused, build.file)
    finally:
        progress.done()
    if args.json:
        from boostwright.views.document import to_json

        output.say(to_json(result).rstrip())
    else:
        output.say(terminal_report(result, output.width(), output.wants_colour(), args.all).rstrip())
    if folder is not None:
        import sys

        where = sys.stderr if args.json else sys.stdout
        output.say(f"\nWritten to {folder}: {', '.join(p.name for p in written)}", where)
    return exit_code(result)


def fitted_of(build: Build, args: argparse.Namespace, progress: output.Progress) -> tuple[Fit | None, str]:
    """The fit to use, and a sentence on it. Draws want one: a torque curve is fitted to in passing then."""
    from boostwright import verbs

    if args.no_fit or build.get("baseline.torque") is None:
        return None, ""
    file = getattr(args, "file", None)
    kept = verbs.kept_fit(build, file) if file else None
    if kept is not None:
        said = f"Computed with fit {kept[1]} of this engine ('--no-fit' leaves it out)."
        return kept[0], said + _doubt(kept[0])
    if getattr(args, "samples", None) is None:
        return None, ""
    try:
        found = verbs.fit(build, progress=progress)
    except (OutOfRange, NotConverged) as mishap:
        return None, f"Not fitted to the torque curve of the file: {mishap}"
    return found, (
        "Fitted in passing to the torque curve of the file; 'boostwright fit' shows it and keeps it,"
        " '--no-fit' leaves it out." + _doubt(found)
    )


def learned_of(build: Build, args: argparse.Namespace) -> tuple[Learned | None, str]:
    """What the newest kept drive of the file taught, and a sentence on it."""
    from boostwright import verbs

    file = getattr(args, "file", None)
    if file is None or args.no_drive:
        return None, ""
    kept = verbs.kept_drive(build, file)
    if kept is None:
        return None, ""
    learned, number = kept
    said = f"Computed with what recorded drive {number} ({learned.file}) taught of this car"
    said += " ('--no-drive' leaves it out)."
    if learned.doubtful:
        words = "; ".join(line.words for line in learned.doubtful)
        said += f" Not taken over, for it is too far from what the file says: {words}. Look there first."
    return learned, said


def _doubt(fit: Fit) -> str:
    """What stands beside a fit whose readings contradict each other."""
    said = ""
    if fit.contradicted:
        said = (
            " Its readings contradict each other ('boostwright fit' says which): every figure here rests on"
            " them, so mend them first."
        )
    rail = fit.rail_of_stated
    if rail == rail:  # not NaN
        said += (
            " Injector times do not go with the other readings; a rail at"
            f" {rail:.2f} times the stated pressure would explain it: read the static fuel pressure before"
            " anything else, whatever its place in the list."
        )
    return said


def _draws(args: argparse.Namespace) -> Draws | None:
    if args.samples is None:
        return None
    from boostwright.trust.run import Draws

    return Draws(None if args.samples < 0 else args.samples, args.seed)


def _partial(progress: output.Progress, quiet: bool) -> Callable[[CheckResult], None]:
    """Says on stderr how the odds stand while draws go on."""
    import sys

    from boostwright.views.odds_words import so_far

    def told(result: CheckResult) -> None:
        if not quiet:
            progress.done()
            output.say(so_far(result), sys.stderr)

    return told


def folder_for(name: str) -> Path:
    """The folder for results, made now, so that a place that cannot be written is said before the work."""
    folder = Path(name)
    if folder.exists() and not folder.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, "not a folder", name)
    folder.mkdir(parents=True, exist_ok=True)
    if not os.access(folder, os.W_OK):
        raise PermissionError(errno.EACCES, "not writable", name)
    return folder


def _write(result: CheckResult, folder: Path, progress: output.Progress) -> tuple[Path, ...]:
    from boostwright.views.folder import write_folder

    return write_folder(result, folder, progress)


def exit_code(result: CheckResult) -> int:
    """0 nothing breaks and nothing is unknown, 1 something breaks, 3 something is unknown."""
    from boostwright.findings.model import Verdict

    return {Verdict.BREAKS: codes.BREAKS, Verdict.UNKNOWN: codes.UNKNOWN}.get(result.verdict, codes.FINE)


COMMAND = Command(
    "check",
    "does this build hold?",
    "Reads a build file, computes the engine before the turbo and with it, and says what holds, what is"
    " tight,\nwhat breaks and what cannot be told yet; worst first, with what to do next.",
    _EXAMPLES,
    _arguments,
    _run,
)
