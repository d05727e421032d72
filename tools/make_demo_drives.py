"""Write library/drives/*.csv: some minutes of a simulated drive for each demo build, with its own faults.

    .venv/bin/python tools/make_demo_drives.py

The drives come from tools/drives, which knows nothing of the models that review them. They are data of the
program, made again only when somebody wants other drives.
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))
LIBRARY: Final = ROOT / "src/boostwright/library"
MINUTES: Final = 5.0
RATE: Final = 10.0
DRIVES: Final = {"sound": 41, "planted": 42, "highland": 43}  # build: seed


def window(key: dict, rows: int) -> tuple[int, int]:
    """First and last row of the window in which most kinds of event can be seen."""
    length = int(MINUTES * 60.0 * RATE)
    events = [e for e in key["events"] if e["can_be_seen"]]
    best, start = -1, 0
    for first in range(0, rows - length, int(10 * RATE)):
        inside = {e["kind"] for e in events if first <= e["first_row"] and e["last_row"] < first + length}
        if len(inside) > best:
            best, start = len(inside), first
    return start, start + length


def main() -> int:
    """Write them all."""
    from tools.drives.drive import make_drive
    from tools.drives.write import write_drive

    (LIBRARY / "drives").mkdir(exist_ok=True)
    for name, seed in DRIVES.items():
        with tempfile.TemporaryDirectory() as place:
            drive = make_drive(LIBRARY / f"builds/{name}.toml", seed, 26.0, clean=False, rate=RATE)
            log, key = write_drive(drive, place)
            lines = log.read_text("utf-8").splitlines()
            told = json.loads(key.read_text("utf-8"))
        first, last = window(told, len(lines) - 1)
        target = LIBRARY / f"drives/{name}.csv"
        target.write_text("\n".join([lines[0], *lines[1 + first : 1 + last]]) + "\n", encoding="utf-8")
        kinds = sorted(
            {e["kind"] for e in told["events"] if e["can_be_seen"] and first <= e["first_row"] < last}
        )
        print(
            f"{target.relative_to(ROOT)}: {last - first} rows, {target.stat().st_size / 1e3:.0f} kB; {kinds}"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
