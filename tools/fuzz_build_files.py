"""Feed the build-file reader with damaged files, as many as wanted.

    .venv/bin/python tools/fuzz_build_files.py 1000000

Every file is made from a number, so a bad one can be made again: `--only NUMBER` prints it and reads it
once. The reader must answer each with a build or with a BuildFileError whose every fault has a line, a reason
and a remedy, and must not take long.
"""

from __future__ import annotations

import argparse
import contextlib
import random
import re
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from functools import cache

from boostwright.build.catalogue import catalogue
from boostwright.build.faults import Fault
from boostwright.build.new_file import new_build
from boostwright.errors import BuildFileError
from boostwright.library import demo_builds, demo_path
from boostwright.quantity import Dimension, unit_names
from boostwright.readers.build_file import read_build

SLOW = 0.25
"""A file that takes longer than this is a failure, unless the machine itself halted [s of processor time]."""

_BLOCK = 2000
_NEEDFUL = (
    b"[build]\nname = 'x'\n[goal]\nboost = '0.5 bar'\n"
    b"[engine]\ncylinders = 4\nbore = '86 mm'\nstroke = '86 mm'"
).split(b"\n")
_UNITS = [name.encode() for dimension in Dimension for name in unit_names(dimension)]
_SIBLINGS = {
    name.encode(): [other.encode() for other in unit_names(dimension)]
    for dimension in Dimension
    for name in unit_names(dimension)
}
_WRITTEN = re.compile(rb"(?<=\")(-?[0-9]+(?:\.[0-9]+)?)( ?[A-Za-z%:][^\"\\+]*)(?=\")")
_NUMBERS = [
    b"0",
    b"-1",
    b"1e308",
    b"-1e309",
    b"1e-400",
    b"nan",
    b"inf",
    b"-inf",
    b"9" * 400,
    b"0x10",
    b"1_000",
    b"1,5",
    b"1.5.5",
    b"1,500",
    b"0,7",
    b"+-3",
    b"1/0",
    b"1/3",
    b"\xc2\xbd",
    b"5 +/- 5",
    b"5 +/-",
    b"1e",
    b"--1",
    b"1 2 3",
    b"12-13",
    b"\xd9\xa3",
    b"1979-05-27",
    b"07:32:00",
    b"true",
    b"[1, 2]",
    b"{}",
    b"''",
    b'""',
]
_BITS = [
    b"[",
    b"]",
    b"[[",
    b"]]",
    b"{",
    b"}",
    b"=",
    b"==",
    b".",
    b"..",
    b",",
    b"#",
    b'"',
    b'"""',
    b"'",
    b"'''",
    b"\\",
    b"\\u0000",
    b"\x00",
    b"\x1b",
    b"\x7f",
    b"\r",
    b"\r\n",
    b"\n",
    b"\t",
    b"\xff",
    b"\xc3",
    b"\xc3\x28",
    b"\xed\xa0\x80",
    b"\xef\xbb\xbf",
    b"\xe2\x80\xae",
    b" ",
    b"a" * 3000,
    b"[" * 200,
    b"{a=" * 100,
    b'"' * 300,
    b"x." * 300,
    b"value",
    b"source",
    b"\xc2\xb1",
    b"%",
    b"\xc2\xb0",
    b"+/-",
    b" bara",
    b" psig",
    b"-",
    b"9" * 30,
    b"[[joints]]\n",
    b"[[ports]]\n",
    b'half = "1/8-27 NPT male"\n',
    b'from = "oil gallery"\n',
    b'seal = "tape"\n',
    b" female",
    b"-6 flare 37",
    b"[engine]\n",
    b"[[readings]]\n",
    b"source = 'measured'\n",
    b"value = { value = { value = 1 } }\n",
    b"= 1\n",
    b"a = [\n",
    b"a = '''\n",
    b"[a.b.c.d.e.f]\n",
]


@cache
def seeds() -> tuple[bytes, ...]:
    """Files to start from: the demo builds, and new files with and without their remarks."""
    found = [demo_path(name).read_bytes() for name in demo_builds()]
    for name in catalogue().classes:
        fresh = new_build(name)
        lines = [
            line[1:] if line.startswith("#") and not line.startswith(("# ", "#=")) else line
            for line in fresh.split("\n")
            if not line.startswith("# ")
        ]
        found += [fresh.encode(), "\n".join(lines).encode()]
    return tuple(found)


@cache
def _words() -> tuple[bytes, ...]:
    known = catalogue()
    return tuple(name.encode() for name in (*known.sections, *{f.name for f in known.fields.values()}))


def _flip(data: bytearray, chance: random.Random) -> bytearray:
    for _ in range(chance.randint(1, 8)):
        data[chance.randrange(len(data))] = chance.randrange(256)
    return data


def _insert(data: bytearray, chance: random.Random) -> bytearray:
    for _ in range(chance.randint(1, 3)):
        at = chance.randrange(len(data) + 1)
        data[at:at] = chance.choice(_BITS)
    return data


def _cut(data: bytearray, chance: random.Random) -> bytearray:
    return data[: chance.randrange(len(data) + 1)]


def _drop(data: bytearray, chance: random.Random) -> bytearray:
    at = chance.randrange(len(data))
    del data[at : at + chance.randint(1, 40)]
    return data


def _lines(
    change: Callable[[list[bytes], random.Random], None],
) -> Callable[[bytearray, random.Random], bytearray]:
    def changed(data: bytearray, chance: random.Random) -> bytearray:
        lines = bytes(data).split(b"\n")
        change(lines, chance)
        return bytearray(b"\n".join(lines))

    return changed


def _shuffle(lines: list[bytes], chance: random.Random) -> None:
    if chance.random() < 0.3:
        chance.shuffle(lines)
    else:
        for _ in range(chance.randint(1, 6)):
            a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
            lines[a], lines[b] = lines[b], lines[a]


def _double(lines: list[bytes], chance: random.Random) -> None:
    at = chance.randrange(len(lines))
    many = chance.choice((1, 1, 1, 2, 40))
    lines[at:at] = [lines[chance.randrange(len(lines))]] * many


def _join(lines: list[bytes], chance: random.Random) -> None:
    at = chance.randrange(len(lines))
    lines[at : at + 2] = [b"".join(lines[at : at + 2])]


def _value(lines: list[bytes], chance: random.Random) -> None:
    """Another number, unit or form behind some '='."""
    with_value = [n for n, line in enumerate(lines) if b"=" in line]
    if not with_value:
        return
    for _ in range(chance.randint(1, 5)):
        at = chance.choice(with_value)
        name = lines[at].partition(b"=")[0]
        number = chance.choice(_NUMBERS) if chance.random() < 0.5 else b"%g" % chance.uniform(-10, 2000)
        unit = chance.choice(_UNITS) if chance.random() < 0.8 else b""
        form = chance.choice(
            (b'"%s %s"', b'"%s%s"', b"%s%s", b'{ value = "%s %s" }', b'["%s %s"]', b"'%s %s'")
        )
        lines[at] = name + b"= " + form % (number, unit)


def _number(lines: list[bytes], chance: random.Random) -> None:
    """Another number before the same unit, or another unit of the same dimension."""
    found = [n for n, line in enumerate(lines) if _WRITTEN.search(line)]
    for _ in range(chance.randint(1, 6) if found else 0):
        at = chance.choice(found)
        match = _WRITTEN.search(lines[at])
        if match is None:
            continue
        number, unit = match.groups()
        if chance.random() < 0.7:
            scale = chance.choice((-1.0, 0.0, 0.1, 0.5, 0.9, 1.1, 1.5, 2.0, 10.0, 25.4, 1000.0, 1e9))
            text = b"%.4g" % (float(number) * scale)
            number = text.replace(b".", b",") if chance.random() < 0.2 else text
        if chance.random() < 0.4:
            unit = chance.choice(_SIBLINGS.get(unit.strip(), [unit.strip()]))
        spread = chance.choice((b"", b"", b" +/- 0.1", b" +/- 3 %", b" \xc2\xb1 1"))
        lines[at] = (
            lines[at][: match.start()] + number + spread + b" " + unit.strip() + lines[at][match.end() :]
        )


def _name(lines: list[bytes], chance: random.Random) -> None:
    """A misspelt, moved or dotted name."""
    at = chance.randrange(len(lines))
    name, equals, value = lines[at].partition(b"=")
    word = bytearray(name.strip() or chance.choice(_words()))
    kind = chance.randrange(5)
    if kind == 0 and word:
        del word[chance.randrange(len(word))]
    elif kind == 1:
        word[chance.randrange(len(word) + 1) : 0] = b"x"
    elif kind == 2:
        word = bytearray(chance.choice(_words()))
    elif kind == 3:
        word = bytearray(chance.choice(_words()) + b"." + bytes(word))
    else:
        word = bytearray(b".".join([bytes(word)] * chance.choice((2, 3, 30))))
    lines[at] = bytes(word) + (b" " + equals + value if equals else b" = 1")


def _header(lines: list[bytes], chance: random.Random) -> None:
    word = chance.choice(_words())
    form = chance.choice((b"[%s]", b"[[%s]]", b"[%s.sub]", b"[ %s ]", b"[%s", b"['%s']", b"[%s]]"))
    lines.insert(chance.randrange(len(lines) + 1), form % word)


_CHANGES: tuple[Callable[[bytearray, random.Random], bytearray], ...] = (
    _flip,
    _insert,
    _insert,
    _cut,
    _drop,
    _lines(_shuffle),
    _lines(_double),
    _lines(_join),
    _lines(_value),
    _lines(_value),
    _lines(_number),
    _lines(_number),
    _lines(_number),
    _lines(_name),
    _lines(_name),
    _lines(_header),
)


def fuzzed(number: int) -> bytes:
    """The damaged file of that number."""
    chance = random.Random(number)
    data = bytearray(chance.choice(seeds()))
    if chance.random() < 0.85:  # a piece of it: quicker, and the damage is denser
        lines = bytes(data).split(b"\n")
        start = chance.randrange(len(lines))
        header = next((line for line in reversed(lines[: start + 1]) if line.startswith(b"[")), b"")
        piece = [header, *lines[start : start + chance.randint(1, 40)]]
        if chance.random() < 0.7:  # with what no file is without
            piece = _NEEDFUL + piece
        data = bytearray(b"\n".join(piece))
    if chance.random() < 0.02:
        data = bytearray(chance.randbytes(chance.randrange(400)))
    for _ in range(chance.choice((1, 1, 2, 2, 3, 6))):
        if not data:
            data = bytearray(b"\n")
        data = chance.choice(_CHANGES)(data, chance)
    return bytes(data)


def trouble_with(fault: Fault) -> str:
    """What a fault lacks, or ''."""
    if not isinstance(fault.line, int) or fault.line < 1:
        return f"no line: {fault}"
    if not fault.why.strip() or not fault.remedy.strip():
        return f"no reason or no remedy: {fault}"
    if len(fault.sentence()) > 2000:
        return f"a sentence of {len(fault.sentence())} characters: {fault.code}"
    return ""


def _again(data: bytes) -> float:
    """Seconds that reading takes with all loaded."""
    started = time.process_time()
    with contextlib.suppress(BuildFileError):
        read_build(data)
    return time.process_time() - started


def judge(data: bytes) -> tuple[str, str]:
    """What the reader makes of the bytes: ('build' or 'refused', '') or ('failed', what went wrong)."""
    started = time.process_time()
    try:
        build = read_build(data)
        outcome = "build"
        said = [trouble_with(note) for note in build.notes]
        if len(build.fingerprint) != 64 or not build.assumed():
            said.append("no fingerprint or nothing assumed")
    except BuildFileError as error:
        outcome = "refused"
        said = [trouble_with(fault) for fault in error.faults]
        if not error.faults:
            said.append("refused without a fault")
    except Exception as error:  # noqa: BLE001 - that is what is looked for
        return "failed", f"{type(error).__name__}: {str(error)[:200]}"
    spent = time.process_time() - started
    if spent > SLOW:  # what is loaded once, at the first file that asks for it, is no time of the reader's
        spent = _again(data)
    if spent > SLOW:
        said.append(f"took {spent:.2f} s")
    bad = [text for text in said if text]
    return ("failed", bad[0]) if bad else (outcome, "")


@dataclass
class Tally:
    """What came of many files."""

    counts: dict[str, int] = field(default_factory=dict)
    failures: list[tuple[int, str]] = field(default_factory=list)
    slowest: float = 0.0
    slowest_number: int = 0


def run(first: int, count: int) -> Tally:
    """Read the files of the numbers first .. first + count - 1."""
    tally = Tally()
    for number in range(first, first + count):
        data = fuzzed(number)
        started = time.process_time()
        outcome, what = judge(data)
        spent = time.process_time() - started
        if spent > tally.slowest:
            tally.slowest, tally.slowest_number = spent, number
        tally.counts[outcome] = tally.counts.get(outcome, 0) + 1
        if outcome == "failed":
            tally.failures.append((number, what))
    return tally


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("count", type=int, nargs="?", default=2000, help="how many files")
    parser.add_argument("--first", type=int, default=0, help="number of the first file")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--only", type=int, help="print the file of this number and what becomes of it")
    args = parser.parse_args()
    if args.only is not None:
        data = fuzzed(args.only)
        sys.stdout.buffer.write(data + b"\n--\n")
        print(judge(data))
        return 0
    started = time.perf_counter()
    total = Tally()
    blocks = range(args.first, args.first + args.count, _BLOCK)
    with ProcessPoolExecutor(args.processes) as pool:
        jobs = [pool.submit(run, b, min(_BLOCK, args.first + args.count - b)) for b in blocks]
        for done, job in enumerate(as_completed(jobs), 1):
            part = job.result()
            for name, count in part.counts.items():
                total.counts[name] = total.counts.get(name, 0) + count
            for failure in part.failures:
                total.failures.append(failure)
                if len(total.failures) <= 20:
                    print(f"\nfile {failure[0]}: {failure[1]}", flush=True)
            if part.slowest > total.slowest:
                total.slowest, total.slowest_number = part.slowest, part.slowest_number
            files = sum(total.counts.values())
            rate = files / (time.perf_counter() - started)
            if done % 5 == 0 or done == len(jobs):
                line = f"{files} of {args.count} files, {rate:.0f} a second, {len(total.failures)} failed"
                print(f"\r{line}", end="" if sys.stdout.isatty() and done < len(jobs) else "\n", flush=True)
    counts = ", ".join(f"{count} {name}" for name, count in sorted(total.counts.items()))
    print(f"{counts}; slowest {total.slowest * 1000:.0f} ms (file {total.slowest_number})")
    return 1 if total.failures else 0


if __name__ == "__main__":
    sys.exit(main())
