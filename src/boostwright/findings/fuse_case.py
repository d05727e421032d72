"""What the findings on the main fuse share: starts that it must live through, ratings that save its cable."""

from __future__ import annotations

import math
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


class Start(NamedTuple):
    """One kind of start against a fuse."""

    words: str
    use: PulseUse
    current: float  # of the stretch that uses most [A]
    time: float  # [s]


def start(case: Case, fuse: Fuse, warm: float) -> Start:
    """The usual start, thousands of times, or the stubborn one in frost, a hundred times: the worse.

    warm: cranking current [A].
    """
    hot = electric_constant("place", "boot").value
    slope = fuse_practice("temperature_slope").value
    frost, name = coldest(case)
    battery, volts = (electric_constant("battery", key).value for key in ("resistance", "open_voltage"))
    main = main_cable_of(case.build)
    circuit = 0.0 if main is None else float(start_circuit(main, hot).whole.total)
    inrush = inrush_current(warm, electric_constant("start", "inrush").value, volts, battery, circuit)
    rush = Pulse(inrush, electric_constant("start", "inrush_time").value)
    cold = cold_current(warm, frost, electric_constant("start", "cold").value)
    tried = []
    for words, turning, T, count in (
        ("at a usual warm start", Pulse(warm, electric_constant("start", "warm_time").value), hot, "starts"),
        (name, Pulse(cold, electric_constant("start", "cold_time").value), frost, "stubborn_starts"),
    ):
        each = [start_use(fuse, (one,), T, slope) for one in (rush, turning)]
        most = rush if each[0] >= each[1] else turning
        permitted = pulse_share(electric_constant("start", count).value)
        tried.append(Start(words, PulseUse(sum(each), permitted), most.current, most.time))
    return max(tried, key=lambda one: one.use.over)


def least_rating(case: Case) -> float | None:
    """The least rating that is sold which is sure to live through the starts [A]."""
    warm, sd, _ = cranking_of(case.build)
    more, kind = warm + deviations(Harm.WEAR) * sd, main_fuse_type(case.build)
    for rating in kind.ratings:
        use = start(case, Fuse(kind.gates, rating), more).use
        if use.use <= use.permitted - deviations(Harm.WEAR) * SHARE_SD:
            return rating
    return None


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
