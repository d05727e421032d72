"""Times of reading and reviewing recorded drives, against a bare Polars scan of the same file, same run.

    python benchmarks/drive_log.py                     all parts: some minutes
    python benchmarks/drive_log.py half_hour           only that part; parts: half_hour, large, memory
    python benchmarks/drive_log.py --json FILE         also write the figures there

The large file is messy: semicolons, decimal commas, a row of units, lines above, empty cells, words for
nothing, separators at the ends of the rows. The bare scan is told all of that beforehand, takes the mean
of every column, leaves out what it cannot read; the reader has to find it out, and gives only what it
recognised.
`memory` reviews a file of 2 GB in stretches, in a process of its own, and says its highest resident size.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import polars as pl
from common import ROOT, Report, Row, arguments, best_time

sys.path.insert(0, str(ROOT))

from boostwright import verbs
from boostwright.readers.drive_log import open_log
from tests.readers.drive_log.made import HEADS, cells, drive

PARTS = ("half_hour", "large", "memory")
COLUMNS, LARGE, HUGE = 40, 500, 2000  # MB
SHARE = 1.5  # of the bare scan's time, for reading
HALF_HOUR = 0.7  # seconds
REVIEWED, REVIEWED_SHARE = 2.0, 3.0  # reading and review: seconds, and share of the bare scan


def rows_of(seconds: float, rate: float) -> tuple[list[str], list[str], list[list[str]]]:
    """Headings, units, and rows as text: the made-up drive, and copies of its columns that nobody knows."""
    texts = cells(drive(seconds=seconds, rate=rate))
    heads = [HEADS[n][0] for n in texts] + [f"Channel {k}" for k in range(COLUMNS - len(texts))]
    units = [HEADS[n][1] for n in texts] + [""] * (COLUMNS - len(texts))
    known = list(texts.values())
    columns = known + [known[1 + k % (len(known) - 1)] for k in range(COLUMNS - len(texts))]
    return heads, units, [list(row) for row in zip(*columns, strict=True)]


def tidy(path: Path) -> None:
    """Half an hour at 50 rows a second."""
    heads, units, rows = rows_of(1800.0, 50.0)
    named = [f"{h} [{u}]" if u else h for h, u in zip(heads, units, strict=True)]
    path.write_text("\n".join([",".join(named), *(",".join(r) for r in rows)]) + "\n", encoding="utf-8")


def messy(path: Path, megabytes: int) -> int:
    """A file of that size; returns the lines above its rows."""
    heads, units, rows = rows_of(1800.0, 50.0)
    for k, row in enumerate(rows):
        if k % 97 == 5:
            row[4] = "---"
        if k % 89 == 7:
            row[5] = ""
        if k % 83 == 9:
            row[6] = "NaN"
    ends = [";".join(c.replace(".", ",") for c in row[1:]) + ";\r\n" for row in rows]
    with path.open("w", encoding="cp1252", newline="") as file:
        above = ["Written by;a bench", "Gerät;7", ";".join(heads) + ";", ";".join(units) + ";"]
        size = file.write("\r\n".join(above) + "\r\n")
        k = 0
        while size < megabytes * 1_000_000:
            chunk = "".join(
                f"{0.02 * (k + j):.2f}".replace(".", ",") + ";" + ends[(k + j) % len(ends)]
                for j in range(5000)
            )
            size += file.write(chunk)
            k += 5000
    return len(above)


def bare(path: Path, skip: int, separator: str, comma: bool) -> float:
    """The mean of every column, by a scan that knows beforehand how the file is written."""
    schema = {f"column_{k + 1}": pl.Float64 for k in range(COLUMNS + (1 if comma else 0))}
    scan = pl.scan_csv(
        path, has_header=False, skip_rows=skip, separator=separator, schema=schema, decimal_comma=comma,
        ignore_errors=True, encoding="utf8-lossy",
    )  # fmt: skip
    return float(scan.mean().collect(engine="streaming")["column_2"][0])


def in_stretches(path: Path) -> int:
    """The whole file in stretches; returns its rows."""
    last = 0
    for part in open_log(path).parts():
        last = int(part.clocks[0].row[-1]) + 1
    return last


def time_half_hour(report: Report, folder: Path) -> None:
    """What a person waits for after a drive."""
    path = folder / "half_hour.csv"
    tidy(path)
    report.title(
        f"half an hour at 50 Hz, {COLUMNS} columns, {path.stat().st_size / 1e6:.0f} MB; target for the wall"
    )
    found = open_log(path).read()
    assert len(found.clocks[0].stamp) == 90_000
    assert len(found.channels) == len(HEADS) - 1
    ours = best_time(lambda: open_log(path).read(), rounds=5)
    plain = best_time(lambda: bare(path, 1, ",", False), rounds=5)
    report.add(Row("open and read: wall", ours.wall, "s", target=HALF_HOUR, note=f"cpu {ours.cpu:.2f} s"))
    whole = best_time(lambda: verbs.review(path, remember=False), rounds=5)
    report.add(Row("read and review: wall", whole.wall, "s", target=REVIEWED, note=f"cpu {whole.cpu:.2f} s"))
    report.time("bare Polars scan", plain)


def time_large(report: Report, folder: Path) -> None:
    """A long day's file."""
    path = folder / "large.csv"
    skip = messy(path, LARGE)
    report.title(f"a messy file of {LARGE} MB in stretches")
    bare(path, skip, ";", True)  # the file is in memory from here on
    plain = best_time(lambda: bare(path, skip, ";", True), rounds=3, warm=False)
    ours = best_time(lambda: in_stretches(path), rounds=3, warm=False)
    report.time("open and read in stretches", ours)
    report.time("bare Polars scan", plain)
    report.add(Row("ratio of the walls", ours.wall / plain.wall, "", target=SHARE))
    report.add(Row("ratio of the CPU times", ours.cpu / plain.cpu, ""))
    whole = best_time(lambda: verbs.review(path, remember=False), rounds=2, warm=False)
    report.time("read and review", whole)
    ratio = whole.wall / plain.wall
    report.add(Row("read and review: ratio of the walls", ratio, "", target=REVIEWED_SHARE))
    path.unlink()


def tell_memory(report: Report, folder: Path) -> None:
    """The highest resident size, in a process of its own."""
    path = folder / "huge.csv"
    messy(path, HUGE)
    report.title(f"a messy file of {HUGE / 1000:g} GB in stretches")
    here = str(Path(__file__).parent)
    code = f"import sys; sys.path.insert(0, {here!r}); import drive_log; drive_log.alone({str(path)!r})"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    rows, most = ran.stdout.split()[-2:]
    report.add(Row("highest resident size", float(most), "MB", note=f"{int(rows):,} rows"))
    path.unlink()


def alone(path: str) -> None:
    """Read and review a file; print its rows and this process's highest resident size [MB]."""
    rows = verbs.review(path, remember=False).review.rows
    print(rows, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0)


def main() -> None:
    """Run the parts that were asked for."""
    parts, report = arguments(__doc__, PARTS)
    with tempfile.TemporaryDirectory() as folder:
        for name, work in zip(PARTS, (time_half_hour, time_large, tell_memory), strict=True):
            if name in parts:
                work(report, Path(folder))
    report.close()


if __name__ == "__main__":
    main()
