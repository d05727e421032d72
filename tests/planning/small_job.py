"""A small made-up job with the plan's own keys, and builds with hours, for tests that need no whole car."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from boostwright.build.document import Build
from boostwright.planning.task import Effort, Lag, Task
from boostwright.readers.build_file import read_build

LISBON = ZoneInfo("Europe/Lisbon")
MONDAY = datetime(2026, 11, 30, 12, tzinfo=UTC)

BASE = """\
[build]
name = "Small job"

[goal]
boost = "0.5 bar"
power = "150 kW"

[engine]
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
compression_ratio = "9.8"

[turbo]
compressor_inducer = "44 mm"
compressor_exducer = "58 mm"

[injectors]
flow = "440 cc/min"
flow_pressure = "3 bar"
"""


def build_with(text: str = "") -> Build:
    """A build that passes, with some more sections."""
    return read_build(f"{BASE}\n{text}".encode(), "small.toml")


def task(
    key: str,
    minutes: float,
    after: tuple[str, ...] = (),
    crew: tuple[str, ...] = ("lead",),
    place: str = "bay",
    *,
    lags: tuple[Lag, ...] = (),
    opens: tuple[str, ...] = (),
    closes: tuple[str, ...] = (),
    critical: bool = False,
    in_one_go: bool = True,
    odds: float = 1.0,
) -> Task:
    """One task with three points round its likeliest minutes."""
    seconds = 60.0 * minutes
    return Task(
        key, f"Do {key}.", key.partition(".")[0], crew, place, Effort(0.6 * seconds, seconds, 2.2 * seconds),
        after, lags, odds, opens=opens, closes=closes, critical=critical, in_one_go=in_one_go,
    )  # fmt: skip


BOTH = ("lead", "helper")
DRIVE = ("driver", "observer")


def small_job() -> tuple[Task, ...]:
    """Twenty-six tasks from the first reading to the full pull."""
    cure = Lag("oil.sump_on", 7200.0, "sealant cures")
    return (
        task("decide.list", 60, place="desk"),
        task("baseline.compression", 35, ("decide.list",), BOTH, opens=("plugs_out",)),
        task("baseline.plugs", 15, ("baseline.compression",), closes=("plugs_out",)),
        task("baseline.go", 20, ("baseline.plugs",), BOTH, "desk"),
        task("turbo.bench", 40, ("decide.list",), place="bench"),
        task("battery.out", 10, ("baseline.go",), opens=("battery_disconnected",)),
        task("battery.cable", 90, ("battery.out",), opens=("battery_wiring_open",), in_one_go=False),
        task("battery.first_start", 20, ("battery.cable",), BOTH,
             closes=("battery_disconnected", "battery_wiring_open"), critical=True),
        task("battery.hot_joints", 15, ("battery.first_start",)),
        task("strip.stands", 25, ("battery.hot_joints",), BOTH, "lift", opens=("on_stands",), critical=True),
        task("strip.battery_off", 3, ("strip.stands",), place="lift", opens=("battery_disconnected",)),
        task("strip.oil_out", 15, ("strip.battery_off",), place="lift", opens=("oil_empty",)),
        task("strip.nuts", 45, ("strip.battery_off",), place="lift"),
        task("strip.broken_stud", 90, ("strip.nuts",), place="lift", odds=0.3),
        task("strip.manifold", 40, ("strip.nuts", "strip.broken_stud"), opens=("manifold_off", "ports_open")),
        task("strip.sump", 90, ("strip.oil_out",), BOTH, "lift", opens=("sump_off",)),
        task("oil.drill", 20, ("strip.sump",), place="bench"),
        task("oil.sump_on", 50, ("oil.drill",), BOTH, "lift", opens=("sealant_curing",),
             closes=("sump_off",)),
        task("oil.fill", 15, ("oil.sump_on",), lags=(cure,), closes=("oil_empty", "sealant_curing")),
        task("fuel.injectors", 40, ("strip.battery_off",), BOTH, opens=("fuel_open",), critical=True),
        task("turbo.on", 90, ("strip.manifold", "turbo.bench"), BOTH,
             closes=("manifold_off", "ports_open", "exhaust_loose"), opens=("turbo_unprimed",)),
        task("prove.fuel_dry", 20, ("fuel.injectors",), BOTH, closes=("fuel_open",), critical=True),
        task("prove.prime", 10, ("turbo.on", "oil.fill"), closes=("turbo_unprimed",)),
        task("prove.car", 20, ("prove.prime", "prove.fuel_dry"), place="lift",
             closes=("on_stands", "battery_disconnected")),
        task("run.first_drive", 40, ("prove.car",), DRIVE, "road", critical=True),
        task("run.survey", 20, ("run.first_drive",), place="yard"),
        task("run.full_pull", 25, ("run.survey",), DRIVE, "road", critical=True),
        task("run.heat_soak", 25, ("run.full_pull",), DRIVE, "road", critical=True),
        task("run.margins", 40, ("run.heat_soak",), place="desk"),
    )  # fmt: skip
