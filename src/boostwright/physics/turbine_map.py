"""A turbine from measured points: effective area, shape of its swallowing, parabola of its efficiency.

Maps are drawn in corrected flow, m sqrt(T03/T_ref)/(p03/p_ref), and corrected speed, n sqrt(T_ref/T03). The
gas of the rig, burned or air, is taken as air of the reference temperature: the swallowing of petrol exhaust
at the same area then follows from its own R and gamma.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.gas import cp_air
from boostwright.physics.turbine import (
    ExhaustGas,
    TurbineRecipe,
    blade_speed_ratio,
    isentropic_drop,
    turbine_flow,
)
from boostwright.physics.turbine_unit import EfficiencyParabola

__all__ = ["FEWEST_POINTS", "MappedTurbine", "TurbineFit", "fit_turbine"]

Array = NDArray[np.float64]

R_AIR: Final = 287.05  # [J/(kg K)]
REFERENCE: Final = (288.15, 101325.0)
"""Reference state that is taken where a map states none [K], [Pa]; costs up to 6 % of flow (judgement)."""
FEWEST_POINTS: Final = 4
"""Points that an area and an exponent are fitted to; with fewer the exponent stays 2."""
EXPONENTS: Final = (1.6, 2.4)
"""Range of the swallowing's exponent (remembered) [-]."""
BEST_RATIOS: Final = (0.50, 0.80)
"""Range of the blade speed ratio of best efficiency [-]."""
_SPREAD: Final = 0.05  # of speed ratio that points must span before its best value is fitted [-]
_NO_STATE_SD: Final = 0.04  # of the area, reference state not stated (judgement)
_MAP_SD: Final = 0.02  # of the area, read off a sheet (judgement)
_MAP_ETA_SD: Final = 0.02  # of the efficiency; hot and cold rigs differ (judgement)


class MappedTurbine(NamedTuple):
    """A turbine of which a map is known; answers as `turbine_unit.Turbine`."""

    diameter: float  # wheel, inlet [m]
    area: float  # effective [m2]
    exponent: float  # of the swallowing form [-]
    peak: float  # best efficiency, total to static [-]
    best_speed_ratio: float  # where it is [-]
    floor: float  # least efficiency [-]

    @property
    def parabola(self) -> EfficiencyParabola:
        """What `efficiency` follows."""
        return EfficiencyParabola(self.peak, self.best_speed_ratio, self.floor)

    def efficiency(self, speed_ratio: ArrayLike) -> Array:
        """Total-to-static efficiency [-] at a speed ratio: eta_max (2 x - x^2), x over its best value."""
        x = np.asarray(speed_ratio, dtype=np.float64) / self.best_speed_ratio
        return np.asarray(np.clip(self.peak * (2 * x - x**2), self.floor, self.peak))


class TurbineFit(NamedTuple):
    """A fitted turbine and how good the ground under it is."""

    turbine: MappedTurbine
    flow_rms: float  # relative, of the points about the swallowing [-]
    flow_worst: float  # greatest [-]
    efficiency_rms: float  # absolute; NaN where none was fitted [-]
    expansion: tuple[float, float]  # smallest and largest ratio of the points [-]
    speed_ratio: tuple[float, float]  # of the points with efficiency and speed; NaN: none [-]
    area_sd: float  # relative, one standard deviation [-]
    efficiency_sd: float  # absolute [-]
    taken: tuple[str, ...]  # what was taken for granted, in sentences

    def one_worse(self) -> tuple[MappedTurbine, MappedTurbine]:
        """The turbine with a wider area, and with less efficiency, by one standard deviation each."""
        t = self.turbine
        return (
            t._replace(area=t.area * (1 + self.area_sd)),
            t._replace(peak=max(t.peak - self.efficiency_sd, t.floor)),
        )


def fit_turbine(
    expansion_ratio: ArrayLike,
    flow: ArrayLike,
    efficiency: ArrayLike,
    speed: ArrayLike,
    diameter: float,
    recipe: TurbineRecipe,
    *,
    usual_peak: float,
    efficiency_sd: float,
    reference: tuple[float | None, float | None] = (None, None),
) -> TurbineFit:
    """Fit swallowing and efficiency to the points of a map.

    Swallowing: m = A p_ref/sqrt(R T_ref) k(e) sqrt(1 - ER^-e), A and e by least squares of the relative flow
    error. Efficiency: eta_max (2 x - x^2) over the blade speed ratio where speeds are stated and spread, else
    the best value alone from the points' greatest efficiency; else the estimate.

    expansion_ratio: p03/p4, above 1, shape (n,) [-]. flow: corrected [kg/s]. efficiency: total to static, NaN
    where not stated [-]. speed: corrected, NaN where not stated [rad/s]. diameter: wheel inlet [m]. recipe:
    constants for what the points do not say. usual_peak, efficiency_sd: best efficiency of the estimate from
    sizes and its spread. reference: temperature [K] and pressure [Pa] of the map, None where not stated.

    Efficiencies of sheets are often the product with the bearing loss, 3 to 5 points: read low then. Raises
    OutOfRange for no usable point, or points that no swallowing runs through within 15 %.
    """
    from scipy.optimize import least_squares

    ratio, m, eta, n = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (expansion_ratio, flow, efficiency, speed))
    )
    use = (ratio > 1.02) & (m > 0)
    if not use.any():
        raise OutOfRange("The turbine map has no point with an expansion ratio above 1.02 and a flow.")
    ratio, m, eta, n = (a[use] for a in (ratio, m, eta, n))
    taken = []
    T_ref, p_ref = (REFERENCE[i] if v is None else v for i, v in enumerate(reference))
    if None in reference:
        taken.append(
            f"The turbine map does not state its reference state; {REFERENCE[0] - 273.15:.0f} degC and "
            f"{REFERENCE[1] / 1e3:.1f} kPa are taken."
        )
    gas = _rig_gas(T_ref)

    def error(x: Array) -> Array:
        ours = turbine_flow(
            np.exp(x[0]), p_ref, T_ref, p_ref / ratio, gas, float(x[1]) if x.size > 1 else 2.0
        )
        return np.asarray(np.log(ours / m))

    start = np.log(np.median(m / turbine_flow(1.0, p_ref, T_ref, p_ref / ratio, gas)))
    if ratio.size >= FEWEST_POINTS and np.ptp(ratio) > 0.3:
        found = least_squares(
            error, [start, 2.0], loss="soft_l1", f_scale=0.02, x_scale=[0.1, 0.4],
            bounds=([-np.inf, EXPONENTS[0]], [np.inf, EXPONENTS[1]]),
        ).x  # fmt: skip
    else:
        found = least_squares(error, [start], loss="soft_l1", f_scale=0.02).x
        taken.append(
            "The turbine map has too few points for the shape of its swallowing; the usual one is used."
        )
    left = error(found)
    rms = float(np.sqrt(np.mean(left**2)))
    if rms > 0.15:
        i = int(np.argmax(np.abs(left)))
        raise OutOfRange(
            f"No swallowing line runs through the points of the turbine map: they scatter by "
            f"{100 * rms:.0f} %, "
            f"most at ratio {ratio[i]:.2f} and {m[i]:.4f} kg/s. One housing's map is one line of flow over "
            "expansion ratio; check that the points are of one housing and the flows corrected."
        )
    exponent = float(found[1]) if found.size > 1 else 2.0
    peak, best, eta_rms, span = _fit_efficiency(
        ratio, eta, n, (diameter, T_ref, gas), (usual_peak, recipe.best_speed_ratio), taken
    )
    known = np.isfinite(eta).any()
    return TurbineFit(
        MappedTurbine(diameter, float(np.exp(found[0])), exponent, peak, best, recipe.eta_floor),
        rms,
        float(np.max(np.abs(left))),
        eta_rms,
        (float(ratio.min()), float(ratio.max())),
        span,
        float(np.hypot(np.hypot(_MAP_SD, rms), _NO_STATE_SD if None in reference else 0.0)),
        float(np.hypot(_MAP_ETA_SD, 0.0 if np.isnan(eta_rms) else eta_rms)) if known else efficiency_sd,
        tuple(taken),
    )


def _rig_gas(T: float) -> ExhaustGas:
    """Air about the rig's temperature, straight over the drop."""
    hot, cold = float(cp_air(T)), float(cp_air(max(0.8 * T, 250.0)))
    slope = (hot - cold) / (T - max(0.8 * T, 250.0)) if T > 260.0 else 0.0
    return ExhaustGas(R_AIR, hot, slope, T)


def _fit_efficiency(
    ratio: Array,
    eta: Array,
    speed: Array,
    rig: tuple[float, float, ExhaustGas],
    usual: tuple[float, float],
    taken: list[str],
) -> tuple[float, float, float, tuple[float, float]]:
    """Best efficiency, its speed ratio, rms, and the range of speed ratios that the points cover."""
    diameter, T_ref, gas = rig
    none = (np.nan, np.nan)
    known = np.isfinite(eta)
    if not known.any():
        taken.append("The turbine map states no efficiency; the estimate from the wheel's size is used.")
        return usual[0], usual[1], np.nan, none
    both = known & np.isfinite(speed)
    if not both.any():
        taken.append("The turbine map states no speeds; its greatest efficiency is taken for the best one.")
        return float(np.max(eta[known])), usual[1], np.nan, none
    x = blade_speed_ratio(speed[both], diameter, isentropic_drop(gas, T_ref, ratio[both]))
    y = eta[both]
    span = (float(x.min()), float(x.max()))
    best, top = usual[1], np.nan
    if both.sum() >= FEWEST_POINTS and np.ptp(x) >= _SPREAD:
        # eta = b x - c x^2, linear in b and c: the best ratio is b/(2 c), the best value b^2/(4 c)
        b, c = np.linalg.lstsq(np.stack([x, -(x**2)], axis=1), y, rcond=None)[0]
        if c > 0 and BEST_RATIOS[0] <= b / (2 * c) <= BEST_RATIOS[1]:
            best, top = float(b / (2 * c)), float(b**2 / (4 * c))
    if np.isnan(top):
        z = x / best
        shape = 2 * z - z**2
        top = float(np.sum(shape * y) / np.sum(shape**2))
        taken.append(
            f"The turbine map's points do not show at which speed ratio it works best; {best:.2f} is taken."
        )
    top = min(top, 0.85)
    z = x / best
    return top, best, float(np.sqrt(np.mean((top * (2 * z - z**2) - y) ** 2))), span
