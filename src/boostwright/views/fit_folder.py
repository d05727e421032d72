"""A fit written into a folder: text, JSON, and the plot of read against computed."""

from __future__ import annotations

import io
from pathlib import Path

from boostwright.fitting.record import Fit
from boostwright.views.files import write_bytes
from boostwright.views.fit_page import fit_document, fit_report

__all__ = ["write_fit"]


def write_fit(fit: Fit, name: str, number: int | None, folder: Path, version: str) -> tuple[Path, ...]:
    """Write fit.txt, fit.json, fit.svg and fit.png; returns their paths. Raises OSError."""
    import matplotlib as mpl

    from boostwright.views.plots.fit import fit_sheet
    from boostwright.views.plots.style import RC

    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for ending, text in (
        ("txt", fit_report(fit, name, number, 100)),
        ("json", fit_document(fit, number)),
    ):
        path = folder / f"fit.{ending}"
        write_bytes(path, text.encode("utf-8"))
        written.append(path)
    foot = f"boostwright {version} · inputs {fit.fingerprint[:16]} · {name}"
    with mpl.rc_context(RC):  # type: ignore[arg-type]  # its keys are a list of words in the stubs
        sheet = fit_sheet(fit, foot)
        for ending in ("svg", "png"):
            buffer = io.BytesIO()
            metadata = {"Date": None} if ending == "svg" else {"Software": f"boostwright {version}"}
            sheet.figure.savefig(buffer, format=ending, dpi=132, metadata=metadata)
            path = folder / f"fit.{ending}"
            write_bytes(path, buffer.getvalue())
            written.append(path)
    return tuple(written)
