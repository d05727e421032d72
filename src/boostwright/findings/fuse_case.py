"""What the findings on the main fuse share: starts that it must live through, ratings that save its cable."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from boostwright.findings.case import Case
from boostwright.findings.electric_case import coldest
from boostwright.findings.model import Amount, Harm, Kind
from boostwright.findings.sure import deviations
from boostwright.library.cables import cables
from boostwright.library.electrics import electric_constant
from boostwright.library.fuses import FuseType, fuse_practice, pulse_share
from boostwright.systems.electrics import (
    Fuse,
    MainCable,
    Pulse,
    PulseUse,
    ShortCircuit,
    cold_current,
    inrush_current,
    largest_rating,
    short_circuit,
    start_circuit,
    start_use,
)
from boostwright.systems.stated.electrics import cranking_of, main_cable_of, main_fuse_type

__all__ = ["SHARE_SD", "Pair", "Start", "faults", "least_rating", "pair", "saved", "start", "sure_rating"]

SHARE_SD = 0.1  # of the share that a fuse may use of its opening time (library/fuses.toml)


_HABITS = ("inrush", "inrush_time", "warm_time", "cold_time", "cold")  # of a starter, each with its spread


class Start(NamedTuple):
    """One kind of start against a fuse."""

    words: str
    use: PulseUse
    sd: float  # of its use: cranking current, inrush, how long they last, and thick oil [-]
    current: float  # of the stretch that uses most [A]
    time: float  # [s]

    @property
    def room(self) -> float:
        """Standard deviations up to what is permitted [-]."""
        return (self.use.permitted - self.use.use) / math.hypot(self.sd, SHARE_SD)


def start(case: Case, fuse: Fuse, warm: float, warm_sd: float = 0.0) -> Start:
    """The usual start, thousands of times, or the stubborn one in frost, a hundred times: the less sure.

    warm, warm_sd: cranking current and its standard deviation [A]. Each spread moves the use by itself, to
    the worse side: a fuse's opening time falls with a high power of the current.
    """
    habits = {name: electric_constant("start", name) for name in _HABITS}
    usual = {name: row.value for name, row in habits.items()}
    middle = _starts(case, fuse, warm, usual)
    moved = [_starts(case, fuse, warm, usual | {name: row.value + row.sd}) for name, row in habits.items()]
    if warm_sd > 0.0:
        moved.append(_starts(case, fuse, warm + warm_sd, usual))
    kinds = []
    for i, one in enumerate(middle):
        kinds.append(one._replace(sd=math.hypot(*(more[i].use.use - one.use.use for more in moved))))
    return min(kinds, key=lambda one: one.room)


def _starts(case: Case, fuse: Fuse, warm: float, habits: Mapping[str, float]) -> tuple[Start, Start]:
    """Both kinds of start, without their spread. habits: the starter's, by name [SI]."""
    hot = electric_constant("place", "boot").value
    slope = fuse_practice("temperature_slope").value
    frost, name = coldest(case)
    battery, volts = (electric_constant("battery", key).value for key in ("resistance", "open_voltage"))
    main = main_cable_of(case.build)
    circuit = 0.0 if main is None else float(start_circuit(main, hot).whole.total)
    rush = Pulse(inrush_current(warm, habits["inrush"], volts, battery, circuit), habits["inrush_time"])
    cold = cold_current(warm, frost, habits["cold"])

    def one(words: str, turning: Pulse, T: float, count: str) -> Start:
        each = [start_use(fuse, (pulse,), T, slope) for pulse in (rush, turning)]
        most = rush if each[0] >= each[1] else turning
        permitted = pulse_share(electric_constant("start", count).value)
        return Start(words, PulseUse(sum(each), permitted), 0.0, most.current, most.time)

    return (
        one("at a usual warm start", Pulse(warm, habits["warm_time"]), hot, "starts"),
        one(name, Pulse(cold, habits["cold_time"]), frost, "stubborn_starts"),
    )


def least_rating(case: Case) -> float | None:
    """The least rating that is sold which is sure to live through the starts [A]."""
    warm, sd, _ = cranking_of(case.build)
    kind, sure = main_fuse_type(case.build), deviations(Harm.WEAR)
    fuses = (Fuse(kind.gates, rating) for rating in kind.ratings)
    return next((fuse.rating for fuse in fuses if start(case, fuse, warm, sd).room >= sure), None)


def faults(main: MainCable) -> tuple[ShortCircuit, ShortCircuit, ShortCircuit]:
    """Fault currents of a cable in the middle, with a weaker arc, and with a weaker battery; each by one
    standard deviation.
    """
    arc, battery = electric_constant("fault", "arc_share"), electric_constant("battery", "resistance")
    T, volts = electric_constant("place", "cable").value, electric_constant("battery", "open_voltage").value
    return (
        short_circuit(main, T, volts, battery.value, arc.value),
        short_circuit(main, T, volts, battery.value, arc.value - arc.sd),
        short_circuit(main, T, volts, battery.value + battery.sd, arc.value),
    )


def saved(case: Case, main: MainCable) -> Amount:
    """Largest rating of the main fuse's type that saves a cable [A], with its spread."""
    slope, reference = (fuse_practice(name).value for name in ("temperature_slope", "rated_temperature"))
    frost, _ = coldest(case)
    cold = 1.0 + slope * max(0.0, reference - frost)
    gates = main_fuse_type(case.build).gates
    found = largest_rating(gates, main, faults(main), electric_constant("place", "boot").value, cold)
    middle = float(found[0])
    sd = math.hypot(*(found[1:] - middle), 2.0 * main.spread * middle)
    return Amount(middle, sd, Kind.CURRENT, "largest rating that saves the cable")


def sure_rating(capacity: Amount, kind: FuseType) -> float | None:
    """The largest rating that is sold and sure to stay below a capacity [A]."""
    sure = capacity.value - deviations(Harm.SEVERE) * (capacity.sd or 0.0)
    return max((rating for rating in kind.ratings if rating <= sure), default=None)


class Pair(NamedTuple):
    """A cable and a fuse that go together."""

    section: float  # [m2]
    rating: float  # [A]


def pair(case: Case, fitted: float) -> Pair | None:
    """The thinnest cable from the fitted one on that is sure to be saved by the least fuse which is sure to
    live through the starts; None where none is sold, or in a draw, which needs no remedy.
    """
    least = None if case.drawn else least_rating(case)
    if least is None:
        return None
    for section in [fitted, *(size for size in sorted(cables()) if size > fitted * 1.01)]:
        main = main_cable_of(case.build, section)
        if main is None:
            return None
        largest = sure_rating(saved(case, main), main_fuse_type(case.build))
        if largest is not None and largest >= least:
            return Pair(section, least)
    return None
