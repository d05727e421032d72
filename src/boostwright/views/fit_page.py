"""What a fit says on a terminal and in JSON."""

from __future__ import annotations

import json
import math
import textwrap
from collections.abc import Sequence
from typing import Any

import numpy as np

from boostwright.findings.model import Amount, Kind
from boostwright.fitting.record import Fit, FitLine, known_word
from boostwright.store import Revision
from boostwright.views.numbers import say_band

__all__ = ["FIT_FORMAT", "fit_document", "fit_list", "fit_report"]

FIT_FORMAT = 1
"""The number of the document's form; it grows when a field changes its meaning or goes away."""

_RPM = math.pi / 30.0
_SHOWN: dict[str, tuple[float, float, str, int]] = {  # SI unit -> factor, offset, unit shown, decimals
    "N m": (1.0, 0.0, "N m", 0),
    "kg/s": (1e3, 0.0, "g/s", 1),
    "kg": (1e6, 0.0, "mg", 1),
    "rad": (-180.0 / math.pi, 0.0, "deg before TDC", 1),
    "K": (1.0, -273.15, "degC", 0),
}
_NAMES = {
    "model.breathing": "breathing, middle of the speeds",
    "model.breathing_slope": "breathing, towards the top",
    "model.breathing_curve": "breathing, towards both ends",
    "model.friction": "friction",
    "model.burn": "burn speed",
    "model.heat": "wall heat",
    "model.knock": "knock",
    "model.knock_warmth": "knock, with the end gas's heat",
}


def fit_report(fit: Fit, name: str, number: int | None, width: int = 80) -> str:
    """The fit as one text ending in a line break."""
    width = max(60, min(width, 100))
    kept = f"kept as revision {number}" if number is not None else "not kept"
    lines = [f"{name}: the model fitted to this engine ({kept})", "─" * width, ""]
    for sentence in fit.words:
        lines += textwrap.wrap(sentence, width)
    lines += [
        "",
        "Factors of the model (what follows ± holds the truth 19 times out of 20)",
        "─" * width,
    ]
    lines.append(f"{'':33}{'class or file':>18}{'fitted':>18}{'known':>9}")
    for i, path in enumerate(fit.paths):
        before = _factor(fit.before[i], fit.before_sd[i])
        after = _factor(fit.value[i], fit.sd[i])
        word = known_word(float(fit.known[i]))
        lines.append(f"{_NAMES.get(path, path):33}{before:>18}{after:>18}{word:>9}")
    for line in fit.lines:
        lines += ["", *_line(line, width)]
    square = fit.chi_square
    lines += [
        "",
        *textwrap.wrap(
            f"Mean square of what is left over, in spreads, less what all points of a row share: {square:.2f}"
            " (1 or less is as it should be). A spread is half of what stands after ±.",
            width,
        ),
    ]
    return "\n".join(lines) + "\n"


def _factor(value: float, sd: float) -> str:
    """A factor of the model with its spread, rounded by that."""
    return say_band(Amount(float(value), float(sd), Kind.RATIO))


def _line(line: FitLine, width: int) -> list[str]:
    factor, offset, unit, decimals = _SHOWN.get(line.unit, (1.0, 0.0, line.unit, 2))
    rows = [f"{line.what[0].upper()}{line.what[1:]} [{unit}]", "─" * min(width, 62)]
    rows.append(f"{'rpm':>7}{'read':>15}{'class':>10}{'fitted':>10}{'left over':>14}")
    for k in range(line.speed.size):
        read, before, after = (factor * a[k] + offset for a in (line.read, line.before, line.after))
        sd = abs(factor) * line.sd[k]
        left = (read - after) / sd if sd > 0.0 else math.nan
        note = f"{0.0 if abs(left) < 0.05 else left:+.1f} spreads" if line.used[k] else "bound only"
        rows.append(
            f"{line.speed[k] / _RPM:7.0f}{f'{read:.{decimals}f} ± {2 * sd:.{decimals}f}':>15}"
            f"{before:10.{decimals}f}{after:10.{decimals}f}{note:>14}"
        )
    return rows


def fit_document(fit: Fit, number: int | None) -> str:
    """The fit as JSON text, SI, ending in a line break."""
    whole: dict[str, Any] = {"format": FIT_FORMAT, "revision": number, **fit.to_plain()}
    return json.dumps(_clean(whole), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _clean(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _clean(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_clean(v) for v in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def fit_list(revisions: Sequence[Revision], fingerprint: str) -> str:
    """The history, newest first, one line each."""
    revisions = [one for one in revisions if one.kind in ("fit", "no fit")]
    if not revisions:
        return "Nothing has been kept beside this file yet.\n"
    taken = {int(r.content["of"]) for r in revisions if r.kind == "no fit"}
    lines = []
    for revision in reversed(revisions):
        if revision.kind == "no fit":
            said = f"fit {revision.content['of']} taken back"
        else:
            values = np.asarray(revision.content["value"])
            said = f"fit, breathing {values[0]:.2f}"
            if revision.number in taken:
                said += ", taken back"
            elif revision.inputs != fingerprint:
                said += ", of the file as it was then"
        lines.append(f"{revision.number:4}  {revision.time}  {revision.who:12}  {said}")
    return "\n".join(lines) + "\n"
