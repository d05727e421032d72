"""How a harmful value is drawn for a field, and in which builds it is a fault at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from boostwright.build.document import Build

__all__ = [
    "Draw",
    "Kind",
    "Rng",
    "between",
    "figure",
    "fixed",
    "has_can",
    "needs_cooler",
    "one_cylinder",
    "one_of",
    "over_boost",
    "pulses_are_strong",
    "runs_warm",
    "scaled",
    "states",
    "stiffer",
    "thirst",
    "turbine",
    "wheels",
]

Rng = np.random.Generator
Draw = Callable[[Build, Rng], str | None]  # what to write instead; None takes the line out


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of fault."""

    field: str  # section.name
    draw: Draw
    found_by: tuple[str, ...]  # one of these must warn
    related: tuple[str, ...] = ()  # beginnings of codes that may break too
    computed: bool = False  # whether cycle and match must run again
    name: str = ""
    harms: Callable[[Build], bool] = lambda _: True  # whether it is a fault in that build at all

    @property
    def label(self) -> str:
        """What the fault is, for a message."""
        return self.name or self.field


def between(low: float, high: float, unit: str, digits: int = 3) -> Draw:
    return lambda _, rng: f'"{figure(rng.uniform(low, high), digits)} {unit}"'


def figure(value: float, digits: int = 3) -> str:
    return f"{float(f'{value:.{digits}g}'):.10g}"


def fixed(text: str | None) -> Draw:
    return lambda _build, _rng: text


def scaled(field: str, low: float, high: float, unit: str, si: float, digits: int = 3) -> Draw:
    """The value of a field times a factor, in a unit that is `si` times the SI one."""

    def draw(build: Build, rng: Rng) -> str:
        return f'"{figure(build.number(field) / si * rng.uniform(low, high), digits)} {unit}"'

    return draw


def thirst(low: float, high: float) -> Draw:
    """A pump that gives so much of what the wanted power drinks: 0.44 L/h a kilowatt (330 g/kWh, rich)."""

    def draw(build: Build, rng: Rng) -> str:
        return f'"{figure(0.44e-3 * build.number("goal.power") * rng.uniform(low, high))} L/h"'

    return draw


def one_cylinder(field: str, low: float, high: float, unit: str, si: float) -> Draw:
    """A row of readings with one cylinder off by a factor."""

    def draw(build: Build, rng: Rng) -> str:
        values = [v / si for v in build.numbers(field)]
        values[int(rng.integers(len(values)))] *= rng.uniform(low, high)
        return f'"{" ".join(figure(v) for v in values)} {unit}"'

    return draw


def wheels(low: float, high: float) -> Draw:
    """Inducer and exducer of the compressor, both times one factor."""

    def draw(build: Build, rng: Rng) -> str:
        factor = rng.uniform(low, high)
        inducer = 1e3 * factor * build.number("turbo.compressor_inducer")
        exducer = 1e3 * factor * build.number("turbo.compressor_exducer")
        return f'"{figure(inducer, 4)} mm"\ncompressor_exducer = "{figure(exducer, 4)} mm"'

    return draw


def turbine(low: float, high: float) -> Draw:
    """Both diameters of the turbine wheel times one factor, and a housing to match."""

    def draw(build: Build, rng: Rng) -> str:
        factor = rng.uniform(low, high)
        inducer, exducer = (
            1e3 * factor * build.number(f"turbo.turbine_{end}") for end in ("inducer", "exducer")
        )
        housing = min(1.45, 1.6 * build.number("turbo.turbine_housing") / 0.0254)
        return (
            f'"{figure(inducer, 4)} mm"\nturbine_exducer = "{figure(exducer, 4)} mm"'
            f'\nturbine_housing = "{figure(housing)} in"'
        )

    return draw


def over_boost(low: float, high: float, field_unit: str) -> Draw:
    """An absolute pressure [kPa] that lies so far between the outside air and the boost asked for."""

    def draw(build: Build, rng: Rng) -> str:
        pressure = build.barometer + build.number("goal.boost") * rng.uniform(low, high)
        return f'"{figure(pressure / 1e3)} {field_unit}"'

    return draw


def stiffer(low: float, high: float) -> Draw:
    """A spring that opens so much above the boost asked for [bar]."""

    def draw(build: Build, rng: Rng) -> str:
        return f'"{figure(build.number("goal.boost") / 1e5 + rng.uniform(low, high))} bar"'

    return draw


def pulses_are_strong(build: Build) -> bool:
    """Whether the boost is high enough that a spring of 30 N is too soft for the pulses of it."""
    return build.number("goal.boost") > 0.39e5


def one_of(*texts: str) -> Draw:
    """One of some words."""
    return lambda _, rng: f'"{texts[int(rng.integers(len(texts)))]}"'


def needs_cooler(build: Build) -> bool:
    """Whether the boost is more than is driven without a cooler: 0.35 bar (common practice, no source)."""
    return build.number("goal.boost") > 0.36e5


def states(field: str) -> Callable[[Build], bool]:
    """Whether a build states a field without which the fault is none."""
    return lambda build: build.is_stated(field)


def runs_warm(build: Build) -> bool:
    """Whether the coolant stands at 92 degC or more, so that it boils at its hottest walls without a cap."""
    return build.number("engine.coolant_temperature") >= 365.0


def has_can(build: Build) -> bool:
    """Whether the breather ends in a can."""
    return build.is_stated("breather.outlet") and build.words("breather.outlet") == "can"
