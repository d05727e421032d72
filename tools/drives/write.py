"""The files: one CSV and one key."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from tools.drives.drive import Drive
from tools.drives.sensors import Channel


def _decimals(step: float) -> int:
    """Digits after the point that show a step."""
    for digits in range(6):
        if abs(step * 10**digits - round(step * 10**digits)) < 1e-9:
            return digits
    return 6


def _cells(drive: Drive, channel: Channel) -> list[str]:
    """A channel's column as text, for the rows that are kept."""
    log = drive.log
    column = log.columns[channel.key]
    levels, where = np.unique(column.readings, return_inverse=True)
    digits = _decimals(channel.step)
    words = np.array([f"{level * channel.step:.{digits}f}" for level in levels], dtype=object)
    n = len(log.true)
    if drive.logger.holds:
        last = np.zeros(n, dtype=np.int64)
        last[column.rows] = np.arange(len(column.rows))
        cells = words[where[np.maximum.accumulate(last)]]
    else:
        cells = np.full(n, "", dtype=object)
        cells[column.rows] = words[where]
    return list(cells[log.kept])


def csv_text(drive: Drive) -> str:
    """The log: a row of headings with units, then the rows."""
    log = drive.log
    digits = _decimals(drive.logger.resolution)
    columns = [[f"{t:.{digits}f}" for t in log.stamps[log.kept]]]
    columns += [_cells(drive, channel) for channel in drive.logger.present]
    heads = ["time (s)", *(f"{c.heading} ({c.unit})" for c in drive.logger.present)]
    return "\n".join([",".join(heads), *map(",".join, zip(*columns, strict=True))]) + "\n"


def write_drive(drive: Drive, folder: str | Path) -> tuple[Path, Path]:
    """Write drive_N.csv and drive_N.key.json (clean_N for a clean drive); returns their paths."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    name = f"{'clean' if drive.key['clean'] else 'drive'}_{drive.key['seed']}"
    log, key = folder / f"{name}.csv", folder / f"{name}.key.json"
    log.write_text(csv_text(drive), encoding="utf-8")
    key.write_text(json.dumps(drive.key, indent=1) + "\n", encoding="utf-8")
    return log, key
