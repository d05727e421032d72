"""Reading of ``threads.toml``: threads, flare fittings, banjo bolts and hose bores."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, Final, NamedTuple

from boostwright.library import read_text

__all__ = [
    "THREAD_SERIES",
    "Flare",
    "HoseRule",
    "Thread",
    "banjo_threads",
    "flare",
    "flares",
    "hose_rule",
    "quick_sizes",
    "threads",
    "unthreaded_fit",
]

THREAD_SERIES: Final = ("G", "R", "Rc", "Rp", "NPT", "metric_coarse", "metric_fine", "UNC", "UNF", "UN")
_INCH: Final = 0.0254


class Thread(NamedTuple):
    """One thread. Lengths in m, angles in rad; None where its standard gives no such value."""

    name: str
    series: str  # one of THREAD_SERIES
    major: float  # basic; of the pipe for NPT; at the gauge plane for R and Rc
    pitch: float
    flank_angle: float  # whole angle
    taper: float  # on the diameter; 0: parallel
    seat: str  # what seals: thread, washer
    standard: str
    source: str
    spread: float
    pitch_diameter: float | None = None  # as printed; at the small end for NPT, at the gauge plane for R
    mouth_pitch_diameter: float | None = None  # NPT: at the mouth of the female thread
    minor_diameter: float | None = None
    gauge_turns: float | None = None
    gauge_length: float | None = None  # small end to gauge plane: by hand
    useful_length: float | None = None
    tap_drill: float | None = None
    drill: str | None = None  # name of the drill in the rack


class Flare(NamedTuple):
    """One size of a flare fitting."""

    dash: int  # tube's outside diameter in sixteenths of an inch
    tube: float  # outside diameter [m]
    thread: str  # name of the thread
    cone_angle: float  # from the axis [rad]
    standard: str
    source: str


class HoseRule(NamedTuple):
    """Bores that are sold, and how much wider the spigot may be."""

    bores: tuple[float, ...]  # [m]
    spread: float  # [m]
    tightest: float  # most that the spigot may exceed the bore, share of the bore
    loosest: float  # least, negative: the spigot is smaller and the clamp pulls it in


@cache
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(read_text("threads.toml"))


@cache
def threads() -> dict[str, Thread]:
    """Every thread by its name, such as 'M10x1', '1/8-27 NPT', 'G 1/4', '9/16-18'."""
    found: dict[str, Thread] = {}
    for series in THREAD_SERIES:
        section = dict(_table()[series])
        for row in section.pop("rows"):
            values = {**section, **row}
            per_inch = values.pop("per_inch", None)
            if per_inch is not None:
                values["pitch"] = _INCH / per_inch
            thread = Thread(series=series, **values)
            if thread.name in found:
                raise ValueError(f"threads.toml has two rows {thread.name!r}")
            found[thread.name] = thread
    return found


@cache
def flares() -> dict[tuple[int, int], Flare]:
    """Every flare fitting by (angle in degrees, dash size), such as (37, 6)."""
    found = {}
    for degrees in (37, 45):
        section = _table()[f"flare_{degrees}"]
        for row in section["rows"]:
            found[degrees, int(row["dash"])] = Flare(
                cone_angle=section["cone_angle"],
                standard=section["standard"],
                source=section["source"],
                **row,
            )
    return found


def flare(degrees: int, dash: int) -> Flare:
    """One flare fitting. Raises KeyError."""
    return flares()[degrees, dash]


@cache
def banjo_threads() -> tuple[str, ...]:
    """Names of the threads in which banjo bolts are met."""
    return tuple(_table()["banjo"]["threads"])


@cache
def hose_rule() -> HoseRule:
    """Bores of push-on hose and what goes into them."""
    section = _table()["hose"]
    loosest, tightest = section["grip"]
    return HoseRule(tuple(section["bores"]), section["spread"], tightest, loosest)


@cache
def unthreaded_fit(kind: str) -> float:
    """How much the sizes of two v-bands, slip joints or flanges may differ [m]. Raises KeyError."""
    return {row["kind"]: float(row["fit"]) for row in _table()["unthreaded"]["rows"]}[kind]


@cache
def quick_sizes() -> tuple[float, ...]:
    """Outside diameters of the tube ends that quick connectors of fuel lines take [m]."""
    return tuple(float(size) for size in _table()["quick"]["sizes"])
