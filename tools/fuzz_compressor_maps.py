"""Feed damaged compressor maps to the reader: it must answer each with points or with faults, never with a
traceback.

    .venv/bin/python -m tools.fuzz_compressor_maps 20000
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Callable
from functools import cache

from boostwright.errors import BuildFileError, OutOfRange
from boostwright.library import read_bytes
from boostwright.readers.compressor_map import read_compressor_map
from tools.fuzz_build_files import Tally, trouble_with

SLOW = 0.25
"""A file that takes longer than this is a failure [s of processor time]."""

_BITS = (
    b";", b",", b"\t", b"\n", b"\r\n", b"#", b"# reference temperature = ",
    b"# reference pressure = 1 barg\n",
    b'"', b"\x00", b"\xff", b"\xb0C", b"\xef\xbb\xbf", b"%", b"(", b"[", b"]", b"nan", b"inf", b"-1", b"--",
    b"1e999", b"1,500", b"1.234,5", b"0,0", b"9" * 500, b"x" * 3000, b";" * 400, b"speed", b"flow", b"PR",
    b"eta", b"rpm", b"lb/min", b"m3/s", b"cfm", b"m/s", b"kg/h", b"bar", b"\xe2\x88\x92", b"sep=;\n",
    b"\xd9\xa3",
)  # fmt: skip
_HEADERS = (
    b"speed [rpm]; flow [kg/s]; pressure ratio; efficiency [%]", b"speed,flow,pr,eta\nrpm,lb/min,,",
    b"u2 (m/s)\tvolume flow (m3/s)\tratio\teta", b"sped;mas flow;presure ratio\nrpm;kg/min;-",
)  # fmt: skip


@cache
def seeds() -> tuple[bytes, ...]:
    """Files to start from: the demo's map as it is, with commas, and with tabs and decimal commas."""
    plain = read_bytes("builds/sound_compressor.csv")
    return (plain, plain.replace(b"; ", b","), plain.replace(b"; ", b"\t").replace(b".", b","))


def _flip(data: bytearray, chance: random.Random) -> bytearray:
    for _ in range(chance.randint(1, 8)):
        data[chance.randrange(len(data))] = chance.randrange(256)
    return data


def _insert(data: bytearray, chance: random.Random) -> bytearray:
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(data) + 1)
        data[at:at] = chance.choice(_BITS)
    return data


def _cell(data: bytearray, chance: random.Random) -> bytearray:
    """Another content in some cell."""
    rows = bytes(data).split(b"\n")
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(rows))
        sign = next((s for s in (b";", b"\t", b",") if s in rows[at]), b";")
        cells = rows[at].split(sign)
        cells[chance.randrange(len(cells))] = (
            chance.choice(_BITS) if chance.random() < 0.4 else b"%g" % chance.uniform(-10, 2e5)
        )
        rows[at] = sign.join(cells)
    return bytearray(b"\n".join(rows))


def _rows(data: bytearray, chance: random.Random) -> bytearray:
    """Rows doubled, lost, swapped, or another header."""
    rows = bytes(data).split(b"\n")
    kind = chance.randrange(4)
    at = chance.randrange(len(rows))
    if kind == 0:
        rows[at:at] = [rows[chance.randrange(len(rows))]] * chance.choice((1, 2, 50))
    elif kind == 1:
        del rows[at : at + chance.randint(1, 12)]
    elif kind == 2:
        other = chance.randrange(len(rows))
        rows[at], rows[other] = rows[other], rows[at]
    else:
        rows[at:at] = [chance.choice(_HEADERS)]
    return bytearray(b"\n".join(rows))


def _drop(data: bytearray, chance: random.Random) -> bytearray:
    at = chance.randrange(len(data))
    del data[at : at + chance.randint(1, 40)]
    return data


_CHANGES: tuple[Callable[[bytearray, random.Random], bytearray], ...] = (
    _flip, _insert, _insert, _cell, _cell, _cell, _rows, _rows, _drop,
)  # fmt: skip


def fuzzed(number: int) -> bytes:
    """The damaged file of that number."""
    chance = random.Random(number)
    data = bytearray(chance.choice(seeds()))
    if chance.random() < 0.02:
        data = bytearray(chance.randbytes(chance.randrange(400)))
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        data = chance.choice(_CHANGES)(data or bytearray(b"\n"), chance)
    return bytes(data)


def judge(data: bytes, fit: bool = False) -> tuple[str, str]:
    """What the reader makes of the bytes: ('points' or 'refused', '') or ('failed', what went wrong); with
    `fit` the points that are read are fitted too, which may refuse them."""
    started = time.process_time()
    outcome = "points"
    try:
        read = read_compressor_map(data, "map.csv")
        said = [trouble_with(note) for note in read.notes]
        hash(read.points)
    except BuildFileError as error:
        outcome = "refused"
        said = [trouble_with(fault) for fault in error.faults]
        if not error.faults:
            said.append("refused without a fault")
    except Exception as error:  # noqa: BLE001 - that is what is looked for
        return "failed", f"{type(error).__name__}: {str(error)[:200]}"
    if time.process_time() - started > SLOW:
        said.append(f"took {time.process_time() - started:.2f} s")
    if fit and outcome == "points":
        said.append(_fit_trouble(read.points))
    bad = [text for text in said if text]
    return ("failed", bad[0]) if bad else (outcome, "")


def _fit_trouble(points: object) -> str:
    import numpy as np

    from boostwright.build.map_points import MapPoints
    from boostwright.physics.compressor import operating_point
    from boostwright.systems.stated.compressor import _fitted

    assert isinstance(points, MapPoints)
    try:
        fitted = _fitted(points, 298.0, 100e3, 0.0545, 0.0415, not points.with_efficiency)
    except OutOfRange:
        return ""
    except Exception as error:  # noqa: BLE001 - that is what is looked for
        return f"fit: {type(error).__name__}: {str(error)[:200]}"
    flow = np.geomspace(0.2, 1.2, 9) * max(points.flow)
    at = operating_point(fitted.map, 0.0545, flow, 1.5, 298.0, 100e3)
    usable = all(np.all(np.isfinite(v)) for v in (at.speed, at.efficiency, at.outlet_temperature, at.power))
    return (
        "" if usable and np.all((at.efficiency > 0) & (at.efficiency <= 1)) else "fit: no number at a point"
    )


def run(first: int, count: int, fit: bool = False) -> Tally:
    """Read the files of the numbers first .. first + count - 1."""
    tally = Tally()
    for number in range(first, first + count):
        started = time.process_time()
        outcome, what = judge(fuzzed(number), fit)
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
    parser.add_argument("--fit", action="store_true", help="fit what could be read, too")
    parser.add_argument("--only", type=int, help="print the file of this number and what becomes of it")
    args = parser.parse_args()
    if args.only is not None:
        data = fuzzed(args.only)
        sys.stdout.buffer.write(data + b"\n--\n")
        print(judge(data, args.fit))
        return 0
    tally = run(args.first, args.count, args.fit)
    for number, what in tally.failures[:20]:
        print(f"file {number}: {what}")
    counts = ", ".join(f"{count} {name}" for name, count in sorted(tally.counts.items()))
    print(f"{counts}; slowest {tally.slowest * 1000:.0f} ms (file {tally.slowest_number})")
    return 1 if tally.failures else 0


if __name__ == "__main__":
    sys.exit(main())
