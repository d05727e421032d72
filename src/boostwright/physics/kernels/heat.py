"""Compiled gas-to-wall heat transfer in the cylinder, in logarithms that the rate equations have at hand."""

from __future__ import annotations

import math

from boostwright.physics.kernels.jit import inner, outer

__all__ = ["coefficient", "constant"]


@outer()
def constant(law, bore, factor):
    """Logarithm of the correlation's constant part, ``factor`` included; see `coefficient`."""
    factor = max(factor, 1.0e-12)  # no heat at all is asked for by 0
    if law == 0:
        return math.log(factor * 3.26) - 0.2 * math.log(bore) - 0.8 * math.log(1.0e3)
    return math.log(factor * 130.0) - 0.8 * math.log(1.0e5)


@inner()
def coefficient(law, c, lnp, lnT, V, lnw, lns):
    """Heat transfer coefficient [W/m2/K].

    Law 0, Woschni: h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8 (p in kPa), ``lnw`` = ln of the gas velocity w.
    Law 1, Hohenberg: h = 130 V^-0.06 p^0.8 T^-0.4 (S_p + 1.4)^0.8 (p in bar), ``lns`` = ln(S_p + 1.4).
    """
    if law == 0:
        return math.exp(c + 0.8 * (lnp + lnw) - 0.55 * lnT)
    return math.exp(c + 0.8 * (lnp + lns) - 0.4 * lnT - 0.06 * math.log(V))
