"""Power from how a car gathers speed: slopes of a logged speed with error, coast-down, wheels and crank.

A logged speed is a staircase or noisy, and power hangs on its slope. So every slope here carries a standard
deviation, and what the steps of the speed do to it is counted and not smoothed away.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import least_squares

from boostwright.errors import NotConverged, OutOfRange
from boostwright.physics.driveline import coast_down_speed

__all__ = [
    "CoastDown",
    "LocalSlope",
    "acceleration_step",
    "coast_down_fit",
    "crank_power",
    "fresh_rows",
    "local_slope",
    "quantum_of",
    "wheel_power",
]

Array = NDArray[np.float64]

_FEWEST: Final = 6  # readings in a window, for a curve of three coefficients and an idea of its scatter
_STAIRCASE: Final = 0.4  # share of rows that repeat the one before, from which only fresh ones count


class LocalSlope(NamedTuple):
    """A signal and its slope at chosen moments, arrays (m,); NaN where too few readings are near."""

    value: Array
    slope: Array  # [unit/s]
    slope_sd: Array
    readings: NDArray[np.int64]  # that it stands on


class CoastDown(NamedTuple):
    """Forces against a rolling car, F = F0 + F2 v^2, with their covariance."""

    F0: float  # [N]
    F2: float  # [N s2/m2]
    covariance: Array  # (2, 2)
    scatter: float  # of the speed about the curve [m/s]
    seconds: float


def acceleration_step(quantum: ArrayLike, rate: ArrayLike) -> Array:
    """Step of an acceleration taken from two neighbouring readings, q f [m/s2].

    quantum: least step of the speed [m/s]. rate: readings a second [1/s]. Exact.
    """
    return np.asarray(np.asarray(quantum, dtype=np.float64) * np.asarray(rate, dtype=np.float64))


def quantum_of(values: ArrayLike) -> float:
    """Least step in which a signal is written, (n,) [its unit]; 0 where all are alike or fewer than two.

    The least distance between two different values, told from round-off by a billionth of the range.
    """
    steps = np.diff(np.unique(np.asarray(values, dtype=np.float64)[np.isfinite(values)]))
    if not steps.size:
        return 0.0
    real = steps[steps > 1e-9 * float(np.sum(steps))]
    return float(np.min(real)) if real.size else 0.0


def fresh_rows(values: ArrayLike) -> NDArray[np.bool_]:
    """Rows of a signal (n,) that say something new.

    A logger writes a slow channel, or one of coarse steps, again and again until it changes. The row at which
    it changes is the one whose time is known; counting the repeats would count one reading many times. Where
    fewer than 40 % repeat (own judgement), all finite rows count.
    """
    v = np.asarray(values, dtype=np.float64)
    known = np.isfinite(v)
    where = np.flatnonzero(known)
    fresh = np.zeros(v.shape, dtype=bool)
    if where.size < 2:
        return known
    new = np.diff(v[where]) != 0.0
    if float(np.mean(~new)) < _STAIRCASE:
        return known
    fresh[where[1:][new]] = True  # the first value may be long old
    return fresh


def local_slope(t: ArrayLike, values: ArrayLike, at: ArrayLike, half: ArrayLike) -> LocalSlope:
    """Value and slope of a logged signal at chosen moments, by a curve through the readings near each.

    A parabola by least squares in each window; an error is the larger of the scatter about the parabola and
    of a step's q/sqrt(12). t: stamps (n,) [s]. values: (n,), NaN where there is none. at: moments (m,) [s].
    half: half the window, one or (m,) [s]. What is left of a steeper bend inside the window is not in the
    error. Own derivation (least squares).
    """
    time, v, moments = (np.asarray(x, dtype=np.float64) for x in (t, values, at))
    halves = np.broadcast_to(np.asarray(half, dtype=np.float64), moments.shape)
    use = fresh_rows(v) & np.isfinite(time)
    time, v = time[use], v[use]
    floor = quantum_of(v) / math.sqrt(12.0)
    found = [_window(time, v, float(a), float(h), floor) for a, h in zip(moments, halves, strict=True)]
    value, slope, sd, count = zip(*found, strict=True) if found else ((), (), (), ())
    return LocalSlope(np.array(value), np.array(slope), np.array(sd), np.array(count, dtype=np.int64))


def _window(t: Array, v: Array, at: float, half: float, floor: float) -> tuple[float, float, float, int]:
    near = np.abs(t - at) <= half
    n = int(np.count_nonzero(near))
    way = (t[near] - at) / half
    if n < _FEWEST or np.unique(way).size < _FEWEST or not way.min() < -0.25 or not way.max() > 0.25:
        return math.nan, math.nan, math.nan, n
    M = np.vander(way, 3, increasing=True)
    inverse = np.linalg.inv(M.T @ M)
    fitted = inverse @ M.T @ v[near]
    left = v[near] - M @ fitted
    scatter = math.sqrt(float(left @ left) / (n - 3))
    sd = max(scatter, floor) * math.sqrt(float(inverse[1, 1]))
    return float(fitted[0]), float(fitted[1]) / half, sd / half, n


def coast_down_fit(
    t: ArrayLike,
    speed: ArrayLike,
    m_eff: float,
    first: tuple[float, float] = (150.0, 0.4),
    prior_sd: tuple[float, float] = (math.inf, math.inf),
) -> CoastDown:
    """Forces against a car from its speed in neutral, by least squares on v(t) in closed form.

    t: (n,) [s]. speed: (n,) [m/s]. m_eff: mass with the wheels, clutch open [kg]. first: F0 [N] and F2 [N
    s2/m2] to begin with, and where the class has them. prior_sd: their spread there; infinite: the log alone.
    Level road and still air: the caller adds what slope and wind do. Raises OutOfRange for fewer than six
    readings or a speed that does not fall, NotConverged. Check W3 of the project's list; key wong2001.
    """
    time, v = np.asarray(t, dtype=np.float64), np.asarray(speed, dtype=np.float64)
    use = fresh_rows(v) & np.isfinite(time)
    time, v = time[use], v[use]
    if v.size < _FEWEST or not float(v[0]) > float(v[-1]) > 0.0:
        raise OutOfRange(
            f"A coast-down needs at least {_FEWEST} different speeds that fall; this one has {v.size}."
        )
    time = time - time[0]
    floor = max(quantum_of(v) / math.sqrt(12.0), 1e-6 * float(v[0]))
    weight = [0.0 if math.isinf(sd) else 1.0 / sd for sd in prior_sd]

    def left(x: Array) -> Array:
        F0, F2 = math.exp(x[1]), math.exp(x[2])
        off = (coast_down_speed(time, float(x[0]), m_eff, F0, F2) - v) / floor
        return np.append(off, [weight[0] * (F0 - first[0]), weight[1] * (F2 - first[1])])

    begin = np.array([v[0], math.log(first[0]), math.log(first[1])])
    found = least_squares(left, begin, xtol=1e-12, ftol=1e-12, gtol=1e-12)
    if not found.success:
        raise NotConverged(f"the coast-down of {time[-1]:.0f} s fits no rolling car: {found.message}")
    J, off = np.array(found.jac, dtype=np.float64), np.asarray(found.fun)[: v.size]
    more = max(1.0, float(off @ off) / max(v.size - 3, 1))  # scatter beyond the steps of the speed
    J[: v.size] /= math.sqrt(more)
    F0, F2 = math.exp(found.x[1]), math.exp(found.x[2])
    C = np.linalg.inv(J.T @ J)[1:, 1:] * np.outer((F0, F2), (F0, F2))
    return CoastDown(F0, F2, C, floor * math.sqrt(more), float(time[-1]))


def wheel_power(speed: ArrayLike, acceleration: ArrayLike, mass: ArrayLike, load: ArrayLike) -> Array:
    """Power that the driven wheels give to the road, (m a + F) v [W].

    speed: [m/s]. acceleration: [m/s2]. mass: of the car with its wheels' inertia, without the engine's [kg]
    (`driveline.effective_mass` at a total ratio of 0). load: `driveline.road_load` [N]. All broadcast.
    """
    v, a, m, F = (np.asarray(x, dtype=np.float64) for x in (speed, acceleration, mass, load))
    return np.asarray((m * a + F) * v)


def crank_power(
    speed: ArrayLike, acceleration: ArrayLike, m_eff: ArrayLike, load: ArrayLike, efficiency: ArrayLike
) -> Array:
    """Power at the crank, (m_eff a + F) v/eta [W]; inverse of `driveline.acceleration`.

    m_eff: `driveline.effective_mass` in the gear [kg]. efficiency: of gearbox and axle [-]; the rest as
    `wheel_power`. The engine's own inertia passes the gearbox as well here, as in `driveline`: below 1 %.
    """
    return np.asarray(
        wheel_power(speed, acceleration, m_eff, load) / np.asarray(efficiency, dtype=np.float64)
    )
