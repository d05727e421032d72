"""`boostwright history FILE`: what was kept of a build, and going back."""

from __future__ import annotations

import argparse
from pathlib import Path

from boostwright.cli import codes, output
from boostwright.cli.commands import history_files
from boostwright.cli.commands.command import Command

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright history my-car.toml                    what was kept, newest last
  boostwright history my-car.toml --keep --why "bigger injectors"   keep the file as it stands now
  boostwright history my-car.toml --diff 3 5         what changed from revision 3 to 5
  boostwright history my-car.toml --diff 5           what changed from revision 5 to the file as it stands
  boostwright history my-car.toml --restore 3        bring revision 3 back; what the file holds is kept first
  boostwright history my-car.toml --undo             take the last record back; nothing is deleted
  boostwright history my-car.toml --export car.job   the whole job as one file: file, records, photos, fits
  boostwright history my-car.toml --import car.job   take such a file in; writes my-car.toml if there is none
  boostwright history my-car.toml --photos           the photos and logs, with their numbers
  boostwright history my-car.toml --attach a.jpg b.csv --to oil.drill --note "before the tap"
  boostwright history my-car.toml --fetch 3 4 --into photos    out again as they were kept; 'all' for all
  boostwright history my-car.toml --store postgresql://bench@shop/cars   in a store that several devices share

The history stands beside the build file as NAME.history.sqlite; BOOSTWRIGHT_STORE names another place for all
commands, BOOSTWRIGHT_WHO your name. Nothing in it is ever changed: to go back is a revision of its own.

exit codes: 0 done, 2 it cannot be used, or two people changed the same build.
"""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the build file")
    act = parser.add_mutually_exclusive_group()
    act.add_argument("--keep", action="store_true", help="keep the file as it stands as a revision")
    act.add_argument(
        "--diff",
        metavar="N",
        nargs="+",
        type=_number,
        help="what changed from one revision to another, or to the file",
    )
    act.add_argument("--restore", metavar="N", type=_number, help="bring a revision back into the file")
    act.add_argument(
        "--take-mine",
        action="store_true",
        help="keep the file as the newest although another person changed the build too",
    )
    act.add_argument("--undo", action="store_true", help="take the last record back")
    act.add_argument("--export", metavar="ARCHIVE", help="write the whole job into one new file")
    act.add_argument("--import", metavar="ARCHIVE", dest="take_in", help="take such a file in")
    history_files.file_arguments(act)
    parser.add_argument(
        "--who", metavar="NAME", default="", help="who does it; your login name where left out"
    )
    parser.add_argument("--why", metavar="TEXT", default="", help="a few words on why")
    parser.add_argument(
        "--store",
        metavar="WHERE",
        default="",
        help="another SQLite file, or postgresql://NAME@HOST/DATABASE[#BUILD]",
    )
    parser.add_argument("--all", action="store_true", help="list everything, not only the last 40")
    parser.add_argument("--json", action="store_true", help="print the list or the difference as JSON")
    history_files.file_options(parser)


_SHOWN = 40


def _number(text: str) -> int:
    try:
        number = int(text)
    except ValueError:
        number = 0
    if not 1 <= number < 2**31:
        raise argparse.ArgumentTypeError(f"'{text}' is no number of a revision; they count from 1")
    return number


def _run(args: argparse.Namespace) -> int:
    from boostwright import verbs
    from boostwright.views import history_page as page
    from boostwright.views.clock import said_moment

    path = Path(args.file)
    wrong = history_files.misplaced(args)
    if wrong:
        output.complain(wrong)
        return codes.UNUSABLE
    if history_files.wants_files(args):
        return history_files.work_on_files(args, path, _fingerprint(path))
    if args.diff is not None:
        return _diff(args, path)
    if args.restore is not None:
        done = verbs.restore_revision(path, args.restore, args.who, args.why, args.store)
        output.say(page.restored_words(done, args.restore, path.name))
    elif args.keep or args.take_mine:
        kept, new = verbs.keep_file(path, args.who, args.why, args.store, over=args.take_mine)
        output.say(
            f"{path.name} is kept as revision {kept.number}."
            if new
            else f"{path.name} is revision {kept.number} already."
        )
    elif args.undo:
        gone = verbs.undo_record(path, args.who, args.why, args.store)
        if gone is None:
            output.complain("there is no record to take back")
            return codes.UNUSABLE
        output.say(
            f"Taken back: {page.record_words(gone)}, by {gone.who}, {said_moment(gone.time)}. It stays in the"
            " history."
        )
    elif args.export is not None:
        try:
            written = verbs.export_job(path, args.export, args.store)
        except FileExistsError:
            output.complain(f"{args.export}: there is a file of this name already. Choose another name.")
            return codes.UNUSABLE
        output.say(f"The whole job is in {written} ({written.stat().st_size / 1e6:.2f} MB).")
    elif args.take_in is not None:
        taken, files = verbs.import_job(path, args.take_in, args.store)
        output.say(page.imported_words(taken, [file.name for file in files], args.take_in))
    else:
        return _list(args, path)
    return codes.FINE


def _list(args: argparse.Namespace, path: Path) -> int:
    from boostwright import __version__, verbs
    from boostwright.library.version import data_version
    from boostwright.views import history_page as page

    history = verbs.job_history(path, args.store, None if args.all or args.json else _SHOWN)
    if not path.exists() and not (history.revisions or history.records or history.kept):
        output.complain(f"{path}: there is no such file, and nothing is kept of it in {history.shown}.")
        return codes.UNUSABLE
    if args.json:
        output.say(page.history_document(history, __version__, data_version(), _fingerprint(path)).rstrip())
    else:
        output.say(page.history_report(history, None if args.all else _SHOWN, output.width()).rstrip())
    return codes.FINE


def _diff(args: argparse.Namespace, path: Path) -> int:
    from boostwright import __version__, verbs
    from boostwright.library.version import data_version
    from boostwright.views import history_page as page

    if len(args.diff) > 2:
        output.complain("--diff compares two: name one revision, or two.")
        return codes.UNUSABLE
    older, newer = args.diff[0], args.diff[1] if len(args.diff) == 2 else None
    found = verbs.compare_revisions(path, older, newer, args.store)
    if args.json:
        output.say(
            page.difference_document(
                found, older, newer, __version__, data_version(), _fingerprint(path)
            ).rstrip()
        )
    else:
        name = f"{path.name} as it stands" if newer is None else f"revision {newer}"
        output.say(page.difference_report(found, f"revision {older}", name, output.width()).rstrip())
    return codes.FINE


def _fingerprint(path: Path) -> str:
    from boostwright import verbs
    from boostwright.errors import BuildFileError

    try:
        return verbs.load_build(path).fingerprint
    except (BuildFileError, OSError):
        return ""


COMMAND = Command(
    "history",
    "what was kept of a build, what changed, and going back",
    "Lists the revisions of the build file, the records and the fits, newest last; says what changed"
    " between two"
    " revisions,\nbrings one back, takes a record back, and hands the whole job on as one file.",
    _EXAMPLES,
    _arguments,
    _run,
)
