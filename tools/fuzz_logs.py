"""Feed the reader of recorded drives with damaged files, as many as wanted.

    .venv/bin/python -m tools.fuzz_logs 1000000
    .venv/bin/python -m tools.fuzz_logs --only NUMBER      print that file and read it once
    .venv/bin/python -m tools.fuzz_logs --atheris 600      led by coverage, so many seconds, where installed

Every file is made from a number, so a bad one can be made again. The reader must answer each with a
recording that hangs together or with a LogRefused that has a reason and a remedy, and must not take long.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np

from boostwright.errors import LogRefused
from boostwright.library.channels import channel_kinds
from boostwright.readers.drive_log import Mapping, Recording, open_log

SLOW = 10.0
"""A file that takes longer than this counts as a hang [s of processor time]."""

_BLOCK = 500
_HEADS = (
    "Time [s]",
    "Engine Speed [rpm]",
    "MAP [kPa]",
    "Throttle [%]",
    "AFR",
    "Coolant (°C)",
    "Speed_kmh",
    "Gear",
)
_BITS = (
    b"\0",
    b"\r",
    b"\n",
    b"\r\n",
    b'"',
    b'""',
    b"'",
    b",",
    b";",
    b"\t",
    b"|",
    b"#",
    b"//",
    b"sep=;\n",
    b"\xef\xbb\xbf",
    b"\xff\xfe",
    b"\xc3",
    b"\xe9",
    b"\xb0C",
    "°C".encode(),
    b" kPa",
    b"%",
    b"nan",
    b"NaN",
    b"inf",
    b"-inf",
    b"1e999",
    b"-1e-999",
    b"9" * 400,
    b"1.2.3",
    b"1,234,567.8",
    b"0x1F",
    b"--",
    b"---",
    b"#N/A",
    b"ON",
    b"off",
    b"12:61:99",
    b"2026-13-45T25:00:00Z",
    b"31.02.2026",
    b"13:05:22.120",
    b"00:00:00",
    b"1e12",
    b"1777899922120",
    b"[kPa]",
    b"(psi)",
    b"time",
    b"Zeit",
    b"name",
    b"value",
    b"unit",
    b"lambda",
    b"rpm",
    b" " * 300,
    b"," * 300,
    b"\xe2\x88\x925",
)


def _rows(count: int, chance: random.Random) -> list[list[str]]:
    rows = []
    for k in range(count):
        load = 0.5 + 0.5 * math.sin(k / 9.0)
        rpm = 850.0 + 4000.0 * load * min(1.0, k / 20.0) + chance.gauss(0.0, 8.0)
        rows.append(
            [
                f"{0.1 * k:.2f}",
                f"{rpm:.0f}",
                f"{25 + 80 * load + chance.random():.1f}",
                f"{100 * load:.1f}",
                f"{14.7 - 2.5 * (load > 0.9) + chance.gauss(0, 0.05):.2f}",
                f"{60 + 0.2 * k:.0f}",
                f"{rpm / 40:.1f}",
                f"{1 + k // 20}",
            ]
        )
    return rows


@cache
def seeds() -> tuple[bytes, ...]:
    """Files to start from: one short drive in many habits."""
    chance = random.Random(7)
    rows = _rows(36, chance)
    found = []
    for separator, decimal, end in (
        (",", ".", "\n"),
        (";", ",", "\r\n"),
        ("\t", ".", "\r"),
        ("|", ".", "\n"),
    ):
        lines = [separator.join(_HEADS)] + [separator.join(c.replace(".", decimal) for c in r) for r in rows]
        text = end.join(lines) + end
        found += [text.encode(), text.encode("latin-1"), text.encode("utf-16")]
    bare = [h.split(" [")[0].split(" (")[0].split("_")[0] for h in _HEADS]
    units = ["s", "rpm", "kPa", "%", "", "°C", "km/h", ""]
    found.append("\n".join([";".join(bare), ";".join(units), *(";".join(r) for r in rows)]).encode())
    clock = [[f"13:05:{k // 10:02d}.{k % 10}00", *r[1:]] for k, r in enumerate(rows)]
    found.append("\n".join([",".join(("Clock", *_HEADS[1:])), *(",".join(r) for r in clock)]).encode())
    dated = [["04.05.2026", *c] for c in clock]
    found.append(
        "\n".join([";".join(("Datum", "Zeit", *_HEADS[1:])), *(";".join(r) for r in dated)]).encode()
    )
    long = ["time,name,value,unit"] + [
        f"{r[0]},{bare[k]},{r[k]},{units[k]}" for r in rows for k in range(1, len(_HEADS))
    ]
    found.append("\n".join(long).encode())
    inside = [
        [c + " " + u if u and k else c for k, (c, u) in enumerate(zip(r, units, strict=True))] for r in rows
    ]
    found.append("\n".join([",".join(bare), *(",".join(r) for r in inside)]).encode())
    groups = [",".join([*_HEADS[:3], "", *_HEADS[:1], *_HEADS[3:]])]
    groups += [
        ",".join([*r[:3], "", *([f"{0.2 * k:.2f}", *r[3:]] if k < 18 else [""] * 6)])
        for k, r in enumerate(rows)
    ]
    found.append("\n".join(groups).encode())
    below = "\n".join([",".join(_HEADS[:4]), *(",".join(r[:4]) for r in rows)])
    below += "\n\nsecond\n" + "\n".join(
        [",".join((_HEADS[0], *_HEADS[4:])), *(",".join((r[0], *r[4:])) for r in rows)]
    )
    found.append(below.encode())
    return tuple(found)


def _flip(data: bytearray, chance: random.Random) -> bytearray:
    for _ in range(chance.randint(1, 8)):
        data[chance.randrange(len(data))] = chance.randrange(256)
    return data


def _insert(data: bytearray, chance: random.Random) -> bytearray:
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(data) + 1)
        data[at:at] = chance.choice(_BITS)
    return data


def _cut(data: bytearray, chance: random.Random) -> bytearray:
    at = chance.randrange(len(data) + 1)
    return data[:at] if chance.random() < 0.7 else data[at:]


def _drop(data: bytearray, chance: random.Random) -> bytearray:
    at = chance.randrange(len(data))
    del data[at : at + chance.choice((1, 3, 20, 200))]
    return data


def _lines(data: bytearray, chance: random.Random) -> bytearray:
    lines = bytes(data).split(b"\n")
    kind = chance.randrange(5)
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    if kind == 0:
        lines[a], lines[b] = lines[b], lines[a]
    elif kind == 1:
        lines[a:a] = [lines[b]] * chance.choice((1, 2, 50))
    elif kind == 2:
        lines[a : a + 2] = [b"".join(lines[a : a + 2])]
    elif kind == 3:
        chance.shuffle(lines)
    else:
        del lines[min(a, b) : max(a, b)]
    return bytearray(b"\n".join(lines))


def _cells(data: bytearray, chance: random.Random) -> bytearray:
    """Other cells here and there, or down a whole column."""
    lines = bytes(data).split(b"\n")
    mark = max((b",", b";", b"\t", b"|"), key=data.count)
    column = chance.randrange(9)
    whole = chance.random() < 0.3
    word = chance.choice(_BITS)
    for k in range(len(lines)) if whole else [chance.randrange(len(lines)) for _ in range(6)]:
        cells = lines[k].split(mark)
        at = column if whole else chance.randrange(len(cells))
        if at < len(cells):
            cells[at] = (
                word
                if chance.random() < 0.7
                else b"%g" % (chance.gauss(0, 1) * 10.0 ** chance.randint(-5, 15))
            )
        lines[k] = mark.join(cells)
    return bytearray(b"\n".join(lines))


def _marks(data: bytearray, chance: random.Random) -> bytearray:
    """Another sign in the place of one."""
    signs = (b",", b";", b"\t", b".", b" ", b"\n", b'"', b":", b"|")
    return bytearray(bytes(data).replace(chance.choice(signs), chance.choice((*signs, b""))))


def _splice(data: bytearray, chance: random.Random) -> bytearray:
    other = chance.choice(seeds())
    at, cut = chance.randrange(len(data) + 1), chance.randrange(len(other))
    return data[:at] + bytearray(other[cut:])


_CHANGES: tuple[Callable[[bytearray, random.Random], bytearray], ...] = (
    _flip,
    _insert,
    _insert,
    _cut,
    _drop,
    _lines,
    _lines,
    _cells,
    _cells,
    _cells,
    _marks,
    _splice,
)


def fuzzed(number: int) -> bytes:
    """The damaged file of that number."""
    chance = random.Random(number)
    if chance.random() < 0.01:
        return chance.randbytes(chance.randrange(2000))
    data = bytearray(chance.choice(seeds()))
    for _ in range(chance.choice((0, 1, 1, 2, 2, 3, 6))):
        data = chance.choice(_CHANGES)(data or bytearray(b"\n"), chance)
    return bytes(data)


def trouble_with(found: Recording) -> str:
    """What does not hang together in a recording, or ''."""
    kinds = channel_kinds()
    for clock in found.clocks:
        if clock.stamp.shape != clock.row.shape or clock.stamp.dtype != np.float64:
            return f"a clock of {clock.stamp.shape} stamps and {clock.row.shape} rows"
        if np.isinf(clock.stamp).any():
            return "a stamp is infinite"
        if (np.diff(clock.row) <= 0).any():
            return "rows do not count up"
    for channel in found.channels:
        if channel.key not in kinds:
            return f"no such quantity: {channel.key}"
        if not 0 <= channel.clock < len(found.clocks):
            return f"no such clock: {channel.clock}"
        if channel.value.shape != found.clocks[channel.clock].stamp.shape:
            return f"{channel.heading}: {channel.value.shape} values on another clock"
        if np.isinf(channel.value).any() or channel.value.dtype != np.float64:
            return f"{channel.heading}: an infinite value"
        if not 0.0 < channel.confidence <= 1.0:
            return f"{channel.heading}: confidence {channel.confidence}"
    return ""


def judge(data: bytes, path: Path) -> tuple[str, str]:
    """('read' or 'refused' or 'failed', what is wrong) for one file, which is written to path first."""
    path.write_bytes(data)
    try:
        log = open_log(path)
        found = log.read()
        wrong = trouble_with(found)
        for part in log.parts(rows=1000, overlap_seconds=1.0):
            wrong = wrong or trouble_with(part)
        try:
            same = Mapping.from_json(log.mapping.to_json()) == log.mapping
        except LogRefused:
            same = False
        wrong = wrong or ("" if same else "the mapping is not the same once it was written and read")
        if any(not q.why for q in log.questions):
            wrong = wrong or "a question without its reason"
    except LogRefused as error:
        return (
            ("refused", "")
            if error.why and error.remedy and error.code
            else ("failed", f"bare refusal {error!r}")
        )
    except KeyboardInterrupt:
        raise
    except BaseException as error:  # noqa: BLE001 - any other is what is sought; a panic is no Exception
        return "failed", f"{type(error).__name__}: {error}"[:300]
    return ("failed", wrong) if wrong else ("read", "")


@dataclass
class Tally:
    """What came of many files."""

    counts: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    slowest: float = 0.0


def run(first: int, count: int) -> Tally:
    """Judge the files of so many numbers."""
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drive.csv"
        for number in range(first, first + count):
            began = time.process_time()
            answer, why = judge(fuzzed(number), path)
            took = time.process_time() - began
            tally.slowest = max(tally.slowest, took)
            if took > SLOW:
                answer, why = "failed", f"{took:.1f} s"
            tally.counts[answer] += 1
            if answer == "failed":
                tally.failures.append(f"{number}: {why}")
    return tally


def _led_by_coverage(seconds: float) -> None:
    """Let atheris look for files, where a person has installed it."""
    try:
        import atheris
    except ImportError:
        sys.exit("atheris is not installed here; `pip install atheris` where it has a wheel for this Python")
    folder = tempfile.mkdtemp()
    path = Path(folder) / "drive.csv"

    def one(data: bytes) -> None:
        answer, why = judge(data, path)
        if answer == "failed":
            raise RuntimeError(why)

    corpus = Path(folder) / "corpus"
    corpus.mkdir()
    for k, seed in enumerate(seeds()):
        (corpus / f"{k}").write_bytes(seed)
    atheris.instrument_all()
    atheris.Setup([sys.argv[0], f"-max_total_time={seconds:.0f}", "-max_len=20000", str(corpus)], one)
    atheris.Fuzz()


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("count", type=int, nargs="?", default=2000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--only", type=int)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--atheris", type=float, metavar="SECONDS")
    given = parser.parse_args()
    if given.atheris:
        _led_by_coverage(given.atheris)
        return
    if given.only is not None:
        data = fuzzed(given.only)
        sys.stdout.buffer.write(data + b"\n")
        with tempfile.TemporaryDirectory() as folder:
            print(judge(data, Path(folder) / "drive.csv"))
            open_log(Path(folder) / "drive.csv").read()
        return
    total = Tally()
    starts = range(given.first, given.first + given.count, _BLOCK)
    with ProcessPoolExecutor(given.processes) as pool:
        jobs = [pool.submit(run, s, min(_BLOCK, given.first + given.count - s)) for s in starts]
        for done in as_completed(jobs):
            tally = done.result()
            total.counts += tally.counts
            total.failures += tally.failures
            total.slowest = max(total.slowest, tally.slowest)
            for line in tally.failures:
                print(line, flush=True)
    print(dict(total.counts), f"slowest {total.slowest:.2f} s, {len(total.failures)} failures")
    sys.exit(1 if total.failures else 0)


if __name__ == "__main__":
    main()
