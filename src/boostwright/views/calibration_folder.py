"""The starting calibration written into a folder: text, JSON, CSV of every table, plots."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from boostwright.calibration.beside import Beside
from boostwright.calibration.edits import Edited
from boostwright.calibration.records import Calibration
from boostwright.views.calibration_document import calibration_document
from boostwright.views.calibration_page import calibration_report, table_report
from boostwright.views.files import write_bytes, write_text
from boostwright.views.table_csv import Stamp, cells_csv, settings_csv, table_csv

__all__ = ["stamp_words", "write_calibration"]

_MARK = b"\xef\xbb\xbf"  # by which a spreadsheet knows UTF-8


def stamp_words(calibration: Calibration, stamp: Stamp) -> str:
    """The line at the end of every page."""
    return f"boostwright {stamp.version} · data {stamp.data} · inputs {calibration.fingerprint[:16]}"


def write_calibration(
    calibration: Calibration,
    folder: Path,
    stamp: Stamp,
    *,
    edited: Edited | None = None,
    beside: Beside | None = None,
    semicolon: bool = False,
    progress: Callable[[str], None] = lambda _: None,
) -> tuple[Path, ...]:
    """Write tables.txt, tables.json, settings.csv, KEY.csv for each table, KEY_cells.csv for those over two
    axes, and the plots as SVG and PNG; returns their paths. edited: what a person changed, for tables.json.
    beside: what plots show besides. Raises OSError.
    """
    from boostwright.views.plots.calibration import draw_calibration

    folder.mkdir(parents=True, exist_ok=True)
    words = stamp_words(calibration, stamp)
    pages = [calibration_report(calibration, width=80, every=True)]
    pages += [table_report(table, calibration, width=100) for table in calibration.tables]
    report, document = folder / "tables.txt", folder / "tables.json"
    write_text(report, "\n\n".join([*pages, f"{words}\n"]))
    write_text(document, calibration_document(calibration, stamp, edited))
    sheet = folder / "settings.csv"
    write_bytes(sheet, _MARK + settings_csv(calibration, stamp, semicolon).encode("utf-8"))
    written = [report, document, sheet]
    for table in calibration.tables:
        made = [(f"{table.key}.csv", table_csv)]
        if len(table.axes) > 1:
            made.append((f"{table.key}_cells.csv", cells_csv))
        for name, make in made:
            path = folder / name
            write_bytes(path, _MARK + make(table, calibration, stamp, semicolon).encode("utf-8"))
            written.append(path)
    return (*written, *draw_calibration(calibration, folder, stamp.version, words, beside, progress))
