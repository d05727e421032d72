"""`boostwright tables FILE`: the first tables for the engine controller."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.cli import codes, output
from boostwright.cli.commands.check import fitted_of, folder_for, learned_of, refuse
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError, OutOfRange

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.calibration.edits import Edited
    from boostwright.calibration.records import Calibration
    from boostwright.verbs.edited_tables import EditedFile
    from boostwright.verbs.tables import Tabled
    from boostwright.views.table_csv import Stamp

__all__ = ["COMMAND", "of_demo"]

_EXAMPLES = """\
examples:
  boostwright tables my-car.toml                    do the tables agree, what is set to what, where each binds
  boostwright tables my-car.toml --brief            the verdict and the checks alone
  boostwright tables my-car.toml --show spark       one table in full; 'all' for every one
  boostwright tables my-car.toml --out tables       CSV of each table, JSON, text and plots into a folder
  boostwright tables my-car.toml --speeds "800 1500 2500 3500 4500 5500 6500 rpm" \\
      --pressures "30 50 70 100 120 140 160 kPa absolute"     breakpoints of your controller
  boostwright tables my-car.toml --probability 0.95      more distance to knock
  boostwright tables my-car.toml --edited tables/spark.csv tables/lambda_target.csv
                                                    what you changed, and which limit it passes
  boostwright tables my-car.toml --edited tables/spark.csv --keep     the tables hold it from now on
  boostwright tables my-car.toml --undo             take the newest kept edits back
  boostwright tables my-car.toml --json > tables.json

A starting point for a competent person with a wideband and knock detection, on a closed course or
dynamometer wherever local law does not allow it on the road.

exit codes: 0 every check holds and no edit passes a limit, 1 a check does not hold or an edit passes a
limit, 2 the command or a file cannot be used, 3 nothing fails but something cannot be told.
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the build file")
    options(parser)
    parser.add_argument("--show", metavar="KEY", help="print one table in full, like 'spark'; 'all' for each")
    parser.add_argument("--semicolon", action="store_true", help="CSV with semicolons and decimal commas")
    parser.add_argument("--speeds", metavar="LIST", help="breakpoints, like '800 2000 4000 6000 rpm'")
    parser.add_argument("--pressures", metavar="LIST", help="breakpoints, like '30 60 100 150 kPa absolute'")
    parser.add_argument(
        "--probability", metavar="P", type=float, default=0.9,
        help="that the spark's distance to knock covers its spread; 0.9",
    )  # fmt: skip
    parser.add_argument(
        "--edited", metavar="CSV", nargs="+", default=[], help="tables of --out that you changed"
    )
    parser.add_argument("--keep", action="store_true", help="keep these edits; the tables hold them then")
    parser.add_argument("--undo", action="store_true", help="take the newest kept edits back")
    parser.add_argument("--no-edits", action="store_true", help="leave out kept edits")
    parser.add_argument(
        "--no-fit", action="store_true", help="leave out what 'boostwright fit' found of this engine"
    )
    parser.add_argument(
        "--no-drive", action="store_true", help="leave out what a recorded drive taught of this car"
    )


def options(parser: argparse.ArgumentParser) -> None:
    """The options of an answer, whatever it is about."""
    parser.add_argument("--brief", action="store_true", help="print the verdict and the checks alone")
    parser.add_argument("--all", action="store_true", help="write out the checks that hold, and every edit")
    parser.add_argument("--json", action="store_true", help="print the calibration as JSON")
    parser.add_argument("--out", metavar="FOLDER", help="write CSV, JSON, text and plots there")
    parser.add_argument("--quiet", action="store_true", help="do not say what is being done")


def of_demo(build: Build, given: argparse.Namespace) -> int:
    """The tables of a demo build, the verdict and the checks alone; returns the exit code.

    given: `all`, `json`, `out`, `quiet`.
    """
    parser = argparse.ArgumentParser()
    _arguments(parser)
    args = parser.parse_args([build.file, "--brief", "--no-edits", "--no-fit", "--no-drive"])
    for name in ("all", "json", "out", "quiet"):
        setattr(args, name, getattr(given, name))
    return _answer(build, args, [])


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs

    fault = _contradiction(args)
    if fault:
        output.complain(fault)
        return codes.UNUSABLE
    try:
        build = verbs.load_job(Path(args.file)).build
    except BuildFileError as refused:
        return refuse(refused, args.file)
    if args.undo:
        return _undo(build, args)
    files = _edited_files(args)
    return codes.UNUSABLE if files is None else _answer(build, args, files)


def _answer(build: Build, args: argparse.Namespace, files: list[EditedFile]) -> int:
    """Make the tables, print and write what is asked for, and return the exit code."""
    from boostwright import verbs

    progress = output.Progress(args.quiet)
    folder = folder_for(args.out) if args.out else None
    try:
        tabled, told = _made(build, args, files, progress)
        edited, notes = _edits(build, tabled, files, args, progress)
    except BuildFileError as refused:
        progress.done()
        return refuse(refused, args.file)
    finally:
        progress.done()
    if notes is None:
        return codes.UNUSABLE
    shown = tabled.calibration if edited is None else edited.calibration
    _print(shown, edited, (*told, *notes), args)
    if args.keep and edited is not None:
        number = verbs.keep_tables(build, args.file, edited)
        where = sys.stderr if args.json else sys.stdout
        output.say(
            f"\nKept as revision {number}; 'boostwright tables {args.file} --undo' takes it back.", where
        )
    if folder is not None:
        _write(shown, edited, tabled, folder, args, progress)
    return _code(shown, edited)


def _contradiction(args: argparse.Namespace) -> str:
    """What of the options does not go together; '' where all does."""
    if args.keep and not args.edited:
        return "--keep keeps edits; say which with --edited CSV."
    if args.undo and (args.edited or args.keep):
        return "--undo takes kept edits back and reads none; leave --edited and --keep out."
    if args.json and args.show:
        return "--json prints every table, and --show one as text; ask for one of them."
    from boostwright.quantity import nearest
    from boostwright.readers.table_form import TABLES

    if args.show and args.show != "all" and args.show not in TABLES:
        near = nearest(args.show, TABLES, count=1)
        hint = f" Did you mean '{near[0]}'?" if near else ""
        return f"there is no table '{args.show}'; there can be: {', '.join(TABLES)}.{hint}"
    return ""


def _undo(build: Build, args: argparse.Namespace) -> int:
    from boostwright import verbs

    taken = verbs.undo_tables(build, args.file)
    if taken is None:
        output.complain("there are no kept edits of this file to take back")
        return codes.UNUSABLE
    output.say(f"The edits of revision {taken} are taken back.")
    return codes.FINE


def _edited_files(args: argparse.Namespace) -> list[EditedFile] | None:
    """The edited files with their heads; None, with every fault printed, where one cannot be used."""
    from boostwright import verbs

    found, good = [], True
    for name in args.edited:
        try:
            found.append(verbs.read_edited(name))
        except BuildFileError as refused:
            refuse(refused, name)
            good = False
    return found if good else None


def _made(
    build: Build, args: argparse.Namespace, files: list[EditedFile], progress: output.Progress
) -> tuple[Tabled, tuple[str, ...]]:
    """The calibration on the breakpoints that are asked for, and what it rests on in sentences."""
    from boostwright import verbs

    stated = verbs.edited_breakpoints(files)
    speeds = verbs.read_speeds(args.speeds) if args.speeds else stated.get("engine_speed")
    pressures = verbs.read_pressures(args.pressures) if args.pressures else stated.get("manifold_pressure")
    fitted, note = fitted_of(build, args, progress)
    learned, driven = learned_of(build, args)
    made = verbs.tables(
        build,
        speeds=speeds,
        pressures=pressures,
        probability=args.probability,
        fitted=fitted,
        learned=learned,
        progress=progress,
    )
    return made, tuple(words for words in (verbs.used_words(build), note, driven) if words)


def _edits(
    build: Build,
    tabled: Tabled,
    files: list[EditedFile],
    args: argparse.Namespace,
    progress: output.Progress,
) -> tuple[Edited | None, tuple[str, ...] | None]:
    """What was edited and what is to be said of it; the second is None where a file cannot be used."""
    from boostwright import verbs

    if not files:
        kept = None if args.no_edits else verbs.kept_tables(build, args.file)
        if kept is None:
            older = None if args.no_edits else verbs.older_tables(build, args.file)
            said = (
                f"Edits kept as revision {older} belong to the file as it was, and are left out: edit again."
            )
            return None, () if older is None else (said,)
        edited, lost = verbs.with_kept_tables(tabled, kept)
        said = (
            f"With the edits that {kept.who or 'someone'} kept as revision {kept.number}, {kept.time[:10]}"
            " ('--no-edits' leaves them out)."
        )
        return edited, (said, *lost)
    cells, good = [], True
    for file in files:
        try:
            cells.append(verbs.read_edited_cells(tabled.calibration, file))
        except BuildFileError as refused:
            progress.done()
            refuse(refused, file.name)
            good = False
    if not good:
        return None, None
    progress("checking the edited tables")
    notes = tuple(note for one in cells for note in one.notes)
    return verbs.edit_tables(tabled, cells), notes


def _print(
    shown: Calibration, edited: Edited | None, notes: tuple[str, ...], args: argparse.Namespace
) -> None:
    from boostwright.views.calibration_document import calibration_document
    from boostwright.views.calibration_folder import stamp_words
    from boostwright.views.calibration_page import calibration_report
    from boostwright.views.edit_page import edit_report

    stamp, width, every = _stamp(), output.width(), args.all
    words = stamp_words(shown, stamp)
    if args.json:
        output.say(calibration_document(shown, stamp, edited).rstrip())
        for note in notes:
            output.complain(note)
        return
    if args.show:
        page = _tables_shown(shown, args.show, words, width)
    elif edited is not None and (args.edited or edited.cells):
        page = edit_report(edited, notes=notes, stamp=words, width=width, every=every)
        if not (args.edited or args.brief):
            page += "\n" + calibration_report(shown, stamp=words, width=width, every=every)
    else:
        page = calibration_report(shown, stamp=words, width=width, every=every, told=notes, brief=args.brief)
    output.say(page.rstrip())


def _tables_shown(shown: Calibration, key: str, stamp: str, width: int) -> str:
    from boostwright.quantity import nearest
    from boostwright.views.calibration_page import table_report

    known = [table.key for table in shown.tables]
    if key == "all":
        return "\n".join(table_report(table, shown, stamp=stamp, width=width) for table in shown.tables)
    if key not in known:
        near = nearest(key, known)
        hint = f" Did you mean '{near[0]}'?" if near else ""
        raise OutOfRange(f"there is no table '{key}'; there are: {', '.join(known)}.{hint}")
    return table_report(shown.table(key), shown, stamp=stamp, width=width)


def _stamp() -> Stamp:
    from boostwright import __version__
    from boostwright.library.version import data_version
    from boostwright.views.table_csv import Stamp

    return Stamp(__version__, data_version())


def _write(
    shown: Calibration,
    edited: Edited | None,
    tabled: Tabled,
    folder: Path,
    args: argparse.Namespace,
    progress: output.Progress,
) -> None:
    from boostwright.views.calibration_folder import write_calibration

    try:
        written = write_calibration(
            shown,
            folder,
            _stamp(),
            edited=edited,
            beside=tabled.beside,
            semicolon=args.semicolon,
            progress=progress,
        )
    finally:
        progress.done()
    where = sys.stderr if args.json else sys.stdout
    sheets = sum(path.suffix == ".csv" for path in written)
    plots = sum(path.suffix == ".png" for path in written)
    said = f"tables.txt, tables.json, {sheets} CSV files and {plots} plots (SVG, PNG)"
    output.say(f"\nWritten to {folder}: {said}", where)


def _code(shown: Calibration, edited: Edited | None) -> int:
    """1 where a check does not hold or an edit passes a limit, 3 where something cannot be told."""
    if any(check.holds is False for check in shown.checks) or (edited is not None and edited.hurts):
        return codes.BREAKS
    return codes.UNKNOWN if any(check.holds is None for check in shown.checks) else codes.FINE


COMMAND = Command(
    "tables",
    "the first tables for the engine controller, and what edits of them pass",
    "Makes filling, mixture, spark, dead time, boost and the limits that go with them from the model that"
    " judged the\nparts, each cell with spread and source; says whether they agree with one another, and what"
    " a table edited by\nhand changes.",
    _EXAMPLES,
    _arguments,
    _run,
)
