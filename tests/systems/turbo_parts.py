"""Invented turbo parts for tests: plausible sizes and losses, common practice, no source."""

from __future__ import annotations

from typing import Any

from boostwright.systems.turbo import Ambient, Cooler, Restriction, TurboParts

INCH = 0.0254
AMBIENT = Ambient(100e3, 298.15)
INLET = Restriction(2.5e3, 0.15, 1.17)
CHARGE_PIPES = Restriction(2.3e3, 0.15, 1.9)
EXHAUST = Restriction(22e3, 0.15, 111e3 / (288.5 * 1030.0))
COOLER = Cooler(Restriction(4e3, 0.15, 2.0, 1.8), effectiveness=0.72)


def parts(
    compressor: tuple[float, float] = (0.0445, 0.0590),
    turbine: tuple[float, float, float] = (0.050, 0.044, 0.60 * INCH),
    **others: Any,
) -> TurboParts:
    """A turbo that suits a two-litre engine, unless told otherwise."""
    usual: dict[str, Any] = {
        "inlet": INLET,
        "charge_pipes": CHARGE_PIPES,
        "exhaust": EXHAUST,
        "cooler": COOLER,
    }
    return TurboParts.from_sizes(compressor, turbine, **(usual | others))
