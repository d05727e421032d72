"""The photos and logs of `boostwright history FILE`: list them, keep them, get them out."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostwright.cli import codes, output

if TYPE_CHECKING:
    from boostwright.store import Attachment

__all__ = ["file_arguments", "file_options", "misplaced", "wants_files", "work_on_files"]


def file_arguments(act: Any) -> None:
    """What can be done with photos and logs, one of which is chosen."""
    act.add_argument("--photos", action="store_true", help="list the photos and logs, with their numbers")
    act.add_argument("--attach", metavar="PICTURE", nargs="+", help="keep photos or logs with the build")
    act.add_argument(
        "--fetch",
        metavar="N",
        nargs="+",
        type=_numbered,
        help="write photos or logs into files; 'all' for all",
    )


def file_options(parser: argparse.ArgumentParser) -> None:
    """How it is done."""
    parser.add_argument(
        "--to",
        metavar="WHAT",
        default="",
        help="with --attach: the measurement, task, part, gate or record that it shows",
    )
    parser.add_argument(
        "--note", metavar="TEXT", default="", help="with --attach: a few words to stand by it"
    )
    parser.add_argument("--into", metavar="FOLDER", default=".", help="with --fetch: where to (else here)")
    parser.add_argument("--force", action="store_true", help="with --fetch: replace files that are there")
    parser.add_argument("--quiet", action="store_true", help="do not say how far a large file is")


def _numbered(text: str) -> int:
    """A number of a photo; 0 for all."""
    if text.casefold() == "all":
        return 0
    if not text.isascii() or not text.isdigit() or not 1 <= int(text[:12]) < 2**31:
        raise argparse.ArgumentTypeError(
            f"'{text[:40]}' is no number of a photo or log; --photos lists them, and 'all' means all"
        )
    return int(text)


def wants_files(args: argparse.Namespace) -> bool:
    """Whether photos and logs are what is asked for."""
    return bool(args.photos or args.attach or args.fetch)


def misplaced(args: argparse.Namespace) -> str:
    """Says which word stands without the one that it belongs to; '' for none."""
    if not args.attach and (args.to or args.note):
        return f"{'--to' if args.to else '--note'} goes with --attach: it says what a photo shows."
    if not args.fetch and (args.force or args.into != "."):
        return f"{'--force' if args.force else '--into'} goes with --fetch."
    return ""


def work_on_files(args: argparse.Namespace, path: Path, fingerprint: str) -> int:
    """Do what is asked and say it, in words or as JSON. Raises HistoryError, OSError."""
    from boostwright import __version__, verbs
    from boostwright.library.version import data_version
    from boostwright.views import attached_page as page
    from boostwright.views.history_page import record_words

    told = output.Progress(args.quiet)
    more: list[dict[str, Any]] = []
    if args.attach:
        shown: Sequence[Attachment] = verbs.attach_files(
            path, args.attach, to=args.to, note=args.note, who=args.who, where=args.store, told=told
        )
    elif args.fetch:
        numbers = [] if 0 in args.fetch else args.fetch
        try:
            fetched = verbs.fetch_files(
                path, numbers, args.into, over=args.force, where=args.store, told=told
            )
        except FileExistsError as there:
            told.done()
            output.complain(
                f"{there.filename}: there is a file of this name already, and it stays as it is; --force lets"
                " the kept one take its place."
            )
            return codes.UNUSABLE
        shown = [one.attachment for one in fetched]
        more = [{"file": str(one.path), "written": one.written} for one in fetched]
    else:
        shown = verbs.attachments(path, args.store)
    told.done()
    if args.json:
        rows = [page.attached_plain(one) for one in shown]
        for row, extra in zip(rows, more, strict=False):
            row.update(extra)
        text = page.attached_document(rows, path.name, __version__, data_version(), fingerprint)
    elif args.fetch:
        text = page.fetched_words(fetched)
    else:
        history = verbs.job_history(path, args.store)
        by_id = {one.id: one for one in history.records}
        subjects = {known: record_words(one, by_id) for known, one in by_id.items()}
        text = (
            page.kept_words(shown, subjects) + _others(args, path)
            if args.attach
            else page.attached_report(shown, subjects, path.name, output.width(), history.zone)
        )
    output.say(text.rstrip())
    return codes.FINE


def _others(args: argparse.Namespace, path: Path) -> str:
    """Which other records --to could have meant; '' where there is one."""
    from boostwright import verbs
    from boostwright.views.history_page import choice_words

    about = verbs.records_about(path, args.to, args.store) if args.to else ()
    return choice_words(about, args.to) if len(about) > 1 else ""
