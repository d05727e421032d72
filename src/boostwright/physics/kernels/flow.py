"""Compiled flow through a poppet valve, both ways, with its slopes for the implicit step."""

from __future__ import annotations

import math

from boostwright.physics.kernels.jit import inner

__all__ = ["EPSILON", "nozzle", "valve_flow"]

EPSILON = 3.0e-3
"""Pressure drop share below which the square root at equal pressures is rounded off [-]."""


@inner()
def nozzle(x, g):
    """Flow function psi and dpsi/dx at pressure ratio ``x`` (downstream over upstream, <= 1) and gamma ``g``.

    The critical ratio and the choked value are fourth-degree fits of their closed forms over gamma 1.18-1.42
    (2e-8).
    """
    e = g - 1.3
    critical = 0.5457277339120477 + e * (
        -0.18071618877989243
        + e * (0.064917878120248 + e * (-0.024456375596192435 + e * 0.009463223873279242))
    )
    if x <= critical:
        choked = 0.6672623509879753 + e * (
            0.18073379923780875
            + e * (-0.0629746297511133 + e * (0.02677038777746025 - e * 0.012914849909097467))
        )
        return choked, 0.0
    d = 1.0 - x
    c = 2.0 * g / (g - 1.0)
    r = math.exp(math.log(x) / g)
    r_x = r / (g * x)
    s = c * r * (r - x)  # psi squared
    s_d = -c * (2.0 * r * r_x - r - x * r_x)  # its slope in d = 1 - x
    root = 1.0 / math.sqrt(d * d + EPSILON * EPSILON)
    square = s * d * root
    if square <= 1.0e-14:
        slope = math.sqrt(2.0 / EPSILON)
        return slope * d, -slope
    psi = math.sqrt(square)
    return psi, -0.5 * (s_d * d + s - s * d * d * root * root) * root / psi


@inner()
def valve_flow(area, p_a, RT_a, g_a, p_b, RT_b, g_b, reverse):
    """Flow from side a to b [kg/s] and its slopes on p_a and p_b [kg/s/Pa]; ``reverse`` scales b to a."""
    if area <= 0.0:
        return 0.0, 0.0, 0.0
    if p_a >= p_b:
        k = area / math.sqrt(RT_a)
        psi, slope = nozzle(p_b / p_a, g_a)
        return k * p_a * psi, k * (psi - p_b / p_a * slope), k * slope
    k = area * reverse / math.sqrt(RT_b)
    psi, slope = nozzle(p_a / p_b, g_b)
    return -k * p_b * psi, -k * slope, -k * (psi - p_a / p_b * slope)
