"""`boostwright parts FILE`: the parts list of the build."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostwright.cli import codes, output
from boostwright.cli.commands.check import refuse
from boostwright.cli.commands.command import Command
from boostwright.errors import BuildFileError

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.findings.result import CheckResult
    from boostwright.job import PartEvent, Record
    from boostwright.planning.parts import PartsList

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  boostwright parts my-car.toml                what is to be found out; then the list by where to buy
  boostwright parts my-car.toml --missing --day 2025-06-14     what to order first, odds on that day
  boostwright parts my-car.toml --have part.turbo 'gasket.*'   it is here; kept in the history
  boostwright parts my-car.toml --ordered part.manifold --expected 2025-06-10 --price 310
  boostwright parts my-car.toml --csv --semicolon > parts.csv
  boostwright parts my-car.toml --read parts.csv   what you changed in that list, back into the history
  boostwright parts my-car.toml --out list     parts.txt for print, parts.csv and parts.json into a folder
  boostwright parts my-car.toml --json > parts.json

What you have can stand in the file, too: a table [[shelf]] for each line; 'boostwright explain shelf'.

exit codes: 0 all there, 1 something is missing or on its way, 2 the command or the file cannot be used,
3 something is to be found out.
"""

_NOTED = {
    "have": "have",
    "ordered": "ordered",
    "lost": "missing",
    "broken": "broken",
    "not_needed": "not needed",
}


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no day; write it like 2025-06-14") from None


def _sum(text: str) -> float:
    from boostwright.quantity import Dimension, QuantityError, read

    try:
        value = read(
            text if any(c.isalpha() or c == "€" for c in text) else f"{text} EUR", Dimension.MONEY
        ).value
    except QuantityError:
        value = -1.0
    if not 0.0 <= value <= 1e5:
        raise argparse.ArgumentTypeError(f"'{text}' is no price; write 0 to 100000 EUR, like 18.50")
    return value


def _amount(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= 1e5:
        raise argparse.ArgumentTypeError(f"'{text}' is no amount; write 0 to 100000, in the unit of the line")
    return value


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the build file")
    parser.add_argument("--missing", action="store_true", help="only what is not there and not ordered")
    parser.add_argument(
        "--day",
        metavar="DAY",
        type=_day,
        help="when the parts are needed, like 2025-06-14 (else each when its first task begins by the plan)",
    )
    parser.add_argument("--today", metavar="DAY", type=_day, help="from which day it is seen (else today)")
    parser.add_argument(
        "--check", action="store_true", help="judge the build first, for tasks that hang on it"
    )
    parser.add_argument(
        "--unplanned", action="store_true", help="joints and sections alone, without the tasks"
    )
    parser.add_argument("--json", action="store_true", help="print the list as JSON")
    parser.add_argument("--csv", action="store_true", help="print the list as CSV (RFC 4180)")
    parser.add_argument("--semicolon", action="store_true", help="CSV with semicolons and decimal commas")
    parser.add_argument("--out", metavar="FOLDER", help="write parts.txt, parts.csv and parts.json there")
    parser.add_argument(
        "--store", metavar="PLACE", default="", help="where records are kept, if not beside FILE"
    )
    parser.add_argument("--quiet", action="store_true", help="do not say what is being done")
    noted = parser.add_argument_group("to note what happened to lines, by their keys")
    for name, words in (
        ("have", "they are here"),
        ("ordered", "they are ordered, today"),
        ("lost", "they are missing after all"),
        ("broken", "they broke and are needed anew"),
        ("not-needed", "this build does without them"),
    ):
        noted.add_argument(f"--{name}", metavar="KEY", nargs="+", default=[], help=words)
    noted.add_argument("--read", metavar="LIST.csv", help="take over what was changed in a list of --csv")
    noted.add_argument(
        "--who", metavar="NAME", default="", help="who says so; your login name where left out"
    )
    noted.add_argument("--price", metavar="EUR", type=_sum, help="of each of these lines")
    noted.add_argument("--quantity", metavar="N", type=_amount, help="how much of each is there")
    noted.add_argument("--expected", metavar="DAY", type=_day, help="when it is to be here")
    noted.add_argument("--from", metavar="SELLER", dest="seller", default="", help="who sells it")
    noted.add_argument(
        "--is", metavar="WORDS", dest="said", default="", help="what it is, where the list asks"
    )


def _events(args: argparse.Namespace, keys: tuple[str, ...]) -> list[PartEvent]:
    """What the person notes; a key with * or ? stands for all that it fits."""
    from fnmatch import fnmatchcase

    from boostwright.job import PartEvent, new_id, now

    more: dict[str, Any] = {
        "quantity": args.quantity,
        "price": args.price,
        "expected": "" if args.expected is None else args.expected.isoformat(),
        "seller": args.seller,
        "said": args.said,
    }
    return [
        PartEvent(new_id(), args.who, now(), key, what, **more)
        for name, what in _NOTED.items()
        for asked in getattr(args, name)
        for key in ([key for key in keys if fnmatchcase(key, asked)] or [asked])
    ]


def _note(args: argparse.Namespace) -> str:
    if args.unplanned:
        return "What only tasks need, such as consumables and tools, is left out (--unplanned)."
    if not args.check:
        return "Tasks that hang on a finding of the check are not in it; --check judges the build first."
    return ""


def _needed(
    args: argparse.Namespace,
    build: Build,
    records: Iterable[Record],
    found: PartsList,
    today: date,
    result: CheckResult | None,
) -> tuple[dict[str, date], str]:
    """The day on which each line is needed, by the plan, and '' or why there is none."""
    from boostwright import verbs
    from boostwright.errors import NoPlan
    from boostwright.planning.moments import local_zone

    if args.day is not None or args.unplanned:
        return {}, ""
    zone = local_zone()
    now = datetime.now(zone)
    seen = now if args.today is None else datetime.combine(today, now.timetz())
    try:
        return verbs.parts_needed(verbs.LoadedJob(build, tuple(records)), found, seen, zone, result), ""
    except (BuildFileError, NoPlan) as mishap:
        why = str(mishap).partition("\n")[0].rstrip(".")
        return {}, f"There is no plan that would say when each part is needed ({why}); --day names a day."


def _run(args: argparse.Namespace) -> int:
    from boostwright import __version__, verbs
    from boostwright.library.version import data_version
    from boostwright.planning.parts import State
    from boostwright.views import parts_page, parts_table

    if args.json and args.csv:
        output.complain("--json and --csv are two forms of one list: choose one of them.")
        return codes.UNUSABLE
    today = args.today or date.today()  # noqa: DTZ011  a day of the calendar on the wall
    verbs.not_gone_by(args.day, today)
    if args.expected is not None and args.expected < today:
        output.complain(
            f"--expected {args.expected} has gone by: today is {today}. Name a day from today on, or say"
            " --have if it is here. Nothing was noted."
        )
        return codes.UNUSABLE
    path = Path(args.file)
    try:
        build, records = verbs.load_job(path, args.store)
    except BuildFileError as refused:
        return refuse(refused, args.file)
    plan = not args.unplanned
    result = None
    if args.check and plan:
        progress = output.Progress(args.quiet)
        result = verbs.check(build, progress=progress)
        progress.done()
    found = verbs.parts(build, records, result=result, plan=plan)
    events = _events(args, tuple(line.key for line in found.lines))
    if args.read is not None:
        read, faults = verbs.read_parts(Path(args.read), found, args.who)
        if faults:
            rows = [f"{args.read}, row {fault.line}: {fault.why}. {fault.remedy}" for fault in faults]
            output.complain("\n".join([*rows, "Nothing of the list was taken over."]))
            return codes.UNUSABLE
        events += read
    noted = tuple(events)
    if noted:
        noted, waits = verbs.note_parts(path, noted, found, args.store)
        if waits:
            output.complain(waits)
        found = verbs.parts(build, [*records, *noted], result=result, plan=plan)
    needed, why_not = _needed(args, build, [*records, *noted], found, today, result)
    account = verbs.parts_account(
        build, found, day=args.day, today=today, needed=needed, note=f"{_note(args)} {why_not}".strip()
    )
    data = data_version()
    if args.json:
        text = parts_table.parts_document(account, build.name, __version__, data, build.fingerprint)
    elif args.csv:
        text = parts_table.parts_csv(account, args.semicolon, mark=args.semicolon)
    else:
        stamp = f"boostwright {__version__} · data {data} · inputs {build.fingerprint[:16]}"
        text = parts_page.parts_report(account, build.name, stamp, output.width(), args.missing)
    output.say(text.removesuffix("\n"))
    if args.out is not None:
        written = parts_page.write_parts(
            account, build.name, Path(args.out), __version__, data, build.fingerprint, args.semicolon
        )
        where = sys.stderr if args.json or args.csv else sys.stdout
        output.say(f"\nWritten to {args.out}: {', '.join(p.name for p in written)}", where)
    if found.open:
        return codes.UNKNOWN
    return codes.FINE if all(line.state is State.HAVE for line in found.counted) else codes.BREAKS


COMMAND = Command(
    "parts",
    "the parts list: what each joint and task needs, what is missing, costs, odds, what to order first",
    "Lists all that the conversion takes: parts with their halves, seals, clamps, bolts, fluids, tools, each"
    " with\nits price, its lead time and where it stands. What a joint or a task needs and nothing in the"
    " file says\nstands first, as a thing to be found out.",
    _EXAMPLES,
    _arguments,
    _run,
)
