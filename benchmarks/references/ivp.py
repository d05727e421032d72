"""The engine cycle by `scipy.integrate.solve_ivp`: our own rate equations, another integrator.

Everything that is a numerical method of ours (steps, Runge-Kutta, the implicit valve step, the interpolated
marks) is replaced; everything that is an equation (rates, switching from one gas model to the next at equal
volume, mass and energy, what one cycle hands to the next) is called from the kernels. So a difference in the
answers is a difference of integration. The right-hand sides are compiled with the engine's tables as
constants and all that varies as one flat array, because handing named tuples over would cost more than the
rates themselves.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, get_type_hints

import numba as nb
import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from boostwright.physics.kernels import burn as burning
from boostwright.physics.kernels import cycle as whole
from boostwright.physics.kernels.closed_phase import compress_rates, expand_rates, to_frozen
from boostwright.physics.kernels.gas import hermite
from boostwright.physics.kernels.lane_state import N_OPEN
from boostwright.physics.kernels.open_phase import open_rates
from boostwright.physics.kernels.records import Boundary, Charge, WiebeLaw
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import OperatingPoints

__all__ = ["FIGURES", "TIGHT", "IvpCycle", "IvpResult", "Recipe"]

Array = NDArray[np.float64]
MARKS = (0.1, 0.5, 0.9)
FIGURES = ("work", "mass", "p_max", "h_out", "heat", "knock_a")
"""Result columns that are compared, names of `kernels.cycle.R`."""


class Recipe(NamedTuple):
    """Which integrators, and how tight."""

    closed: str = "DOP853"
    open: str = "DOP853"
    rtol: float = 1.0e-5  # of the gas exchange
    closed_rtol: float = 1.0e-5
    settled: bool = False  # temperature from energy to the last digit in the open phase, not to 3e-5 K


TIGHT = Recipe("DOP853", "DOP853", 1.0e-9, 1.0e-10, True)


class IvpResult(NamedTuple):
    """One converged point."""

    columns: Array  # as the kernel's result row, what is not computed is NaN
    state: Array  # as the kernel's
    cycles: int
    calls: int  # of the right-hand sides
    converged: bool


def _unpacker(record: type, start: int) -> Callable[[Array], Any]:
    """A compiled function that reads ``record`` back from a flat array, from place ``start`` on."""
    parts = [
        f"int(q[{start + j}])" if kind is int else f"q[{start + j}]"
        for j, kind in enumerate(get_type_hints(record).values())
    ]
    space: dict[str, Any] = {record.__name__: record}
    exec(f"def read(q):\n    return {record.__name__}({', '.join(parts)})", space)
    return nb.njit(space["read"])


def _flat(*records: tuple[float, ...]) -> Array:
    return np.array([float(v) for r in records for v in r])


N_CHARGE = len(Charge._fields)
N_BOUNDARY = len(Boundary._fields)
_charge = _unpacker(Charge, 0)
_law = _unpacker(WiebeLaw, N_CHARGE)
_boundary = _unpacker(Boundary, N_CHARGE)


def _right_hand_sides(cyl: Any, gas: Any) -> tuple[Callable[..., Array], ...]:
    """dy/dtheta of compression, burn, expansion and gas exchange, compiled for one engine and fuel."""

    @nb.njit(error_model="numpy")
    def compression(theta, y, q):  # type: ignore[no-untyped-def]
        f = np.empty(6)
        f[0], f[1], f[2], f[3], f[4], f[5], _ = compress_rates(theta, y[0], y[1], cyl, gas, _charge(q))
        return f

    @nb.njit(error_model="numpy")
    def burn(theta, y, q):  # type: ignore[no-untyped-def]
        f = np.empty(11)
        burning.burn_rates(theta, y, f, cyl, gas, _charge(q), _law(q))
        return f

    @nb.njit(error_model="numpy")
    def expansion(theta, y, q):  # type: ignore[no-untyped-def]
        f = np.empty(4)
        f[0], f[1], f[2], f[3] = expand_rates(theta, y[0], y[1], cyl, gas, _charge(q))
        return f

    @nb.njit(error_model="numpy")
    def exchange(theta, y, q, guess):  # type: ignore[no-untyped-def]
        """``guess``: temperatures of cylinder and port from the last call; third entry: settle fully."""
        f = np.empty(N_OPEN)
        c = _charge(q)
        b = _boundary(q)
        Tc = guess[0]
        Tp = guess[1]
        if guess[2] > 0.0:
            Tc, Tp, _ = open_rates(theta, y, f, Tc, Tp, cyl, gas, c, b)
        Tc, Tp, _ = open_rates(theta, y, f, Tc, Tp, cyl, gas, c, b)
        if Tc > 150.0 and Tp > 150.0:  # not from a trial step that went astray
            guess[0] = Tc
            guess[1] = Tp
        return f

    @nb.njit(error_model="numpy")
    def port(theta, y, q, guess):  # type: ignore[no-untyped-def]
        """Both valves shut: the cylinder's own rates are left out, other equations hold there."""
        f = exchange(theta, y, q, guess)
        f[:3] = 0.0
        f[10:12] = 0.0
        return f

    return compression, burn, expansion, exchange, port


class IvpCycle:
    """Cycles of one solver's engine, fuel and model choices at one operating point, by solve_ivp."""

    def __init__(self, solver: CycleSolver, point: OperatingPoints) -> None:
        self.inputs, *_ = solver.solve(point)
        self.cyl, self.gas, self.pts = solver.tables, self.inputs.gas, self.inputs.kernel
        self.row = int(self.inputs.rows[0])
        self.sides = _right_hand_sides(self.cyl, self.gas)
        cyl = self.cyl
        overlap = {solver.engine.intake.opens, solver.engine.exhaust.closes}
        self.events = np.array([cyl.evo, *sorted(a for a in overlap if cyl.evo < a < cyl.ivc), cyl.ivc])
        self.calls = 0

    def at(self, solver: CycleSolver, point: OperatingPoints) -> None:
        """Move to another point of the same engine, fuel and lambda; nothing is compiled again."""
        inputs = solver._inputs(point)
        if inputs.found[0].lam != self.inputs.found[0].lam:
            raise ValueError("the compiled right-hand sides hold the gas tables of another lambda")
        self.inputs, self.pts = inputs, inputs.kernel

    def converge(self, state: Array, recipe: Recipe, tolerance: float = 1.0e-4, most: int = 60) -> IvpResult:
        """Cycle from ``state`` until it repeats within ``tolerance``, both as the kernel has them."""
        z = np.array(state, dtype=float)
        whole.carry_over(z, 0, self.pts)
        self.calls = 0
        r = np.full(whole.N_RESULT, np.nan)
        for count in range(1, most + 1):
            r = self.cycle(z, recipe)
            if r[whole.R.change] <= tolerance:
                return IvpResult(r, z, count, self.calls, True)
        return IvpResult(r, z, most, self.calls, False)

    def cycle(self, z: Array, recipe: Recipe) -> Array:
        """One cycle from ``z``, replaced by the state a cycle later; returns the kernel's result columns."""
        R = whole.R
        c = whole.charge_of(z, 0, self.cyl, self.gas, self.pts)
        b = whole.boundary_of(z, 0, self.cyl, self.gas, self.pts)
        r = np.full(whole.N_RESULT, np.nan)
        T, burned, U, work, heat = self._closed(z, c, recipe, r)
        s, Tc, Tp = self._open(z, c, b, T, burned, U, recipe, r)
        r[R.work] = work + s[10]
        r[R.mass], r[R.burned], r[R.t_ivc], r[R.p_ivc] = c.m, c.y, z[12], c.p_ref
        r[R.heat_closed], r[R.heat] = heat, heat + s[11]
        r[[R.fresh, R.h_fresh, R.m_out, R.h_out, R.b_out, R.m_back]] = s[12:18]
        self._hand_over(z, s, c, Tc, Tp, r)
        return r

    def _solve(
        self, side: int, span: tuple[float, float], y: Array, scale: Array, args: tuple[Any, ...],
        method: str, rtol: float, **more: Any,
    ) -> Any:  # fmt: skip
        answer = solve_ivp(self.sides[side], span, y, method, args=args, rtol=rtol, atol=rtol * scale, **more)
        if answer.status < 0:
            raise ArithmeticError(f"solve_ivp at {np.degrees(span)} degrees: {answer.message}")
        self.calls += answer.nfev
        return answer

    def _volume(self, theta: float) -> float:
        cyl = self.cyl
        return float(hermite((theta - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)[0])

    def _closed(self, z: Array, c: Any, recipe: Recipe, r: Array) -> tuple[float, float, float, float, float]:
        """Compression, burn, expansion; T, burned mass, energy at exhaust opening, work, wall heat."""
        R, cyl, gas = whole.R, self.cyl, self.gas
        energy = c.p_ref * cyl.swept
        q = _flat(c)
        y = np.array([z[12], z[12], 0.0, 0.0, 0.0, 0.0])
        scale = np.array([z[12], z[12], 1.0, 1.0, energy, energy])
        how = (recipe.closed, recipe.closed_rtol)
        end = self._solve(0, (cyl.theta0, c.spark), y, scale, (q,), *how).y[:, -1]
        T, V = end[0], self._volume(c.spark)
        r[R.t_spark], r[R.p_spark] = T, c.m * c.R * T / V
        law = burning.wiebe_law(T, V, c, gas, self.pts.durations)
        Tu, Tb, p, mb = burning.start_flame(T, c.m * c.R * T / V, V, gas, c)
        y = np.array([Tu, Tb, p, mb, mb, end[1], end[2], end[3], end[4], end[5], 0.0])
        scale = np.array([Tu, Tb, p, c.m, c.m, Tu, 1.0, 1.0, energy, energy, energy])
        span = (c.spark, cyl.evo)
        found = self._solve(1, span, y, scale, (_flat(c, law),), *how, events=self._marks(c))
        t, end = found.t[-1], found.y[:, -1].copy()
        peaks = [(end[2], t), *((e[2], a) for e, a in zip(found.y_events[0], found.t_events[0], strict=True))]
        r[R.p_max], r[R.a_max] = max(peaks)
        for column, angles in zip((R.ca10, R.ca50, R.ca90), found.t_events[1:4], strict=True):
            r[column] = angles[0] if angles.size else 0.0
        cut = found.y_events[4][0] if len(found.y_events[4]) else end
        r[R.knock_a], r[R.knock_c], r[R.t_unburned], r[R.unburnt] = cut[6], cut[7], cut[0], end[10]
        Tu, T, p, mb, work, heat = end[0], end[1], end[2], end[3], end[8], end[9]
        if t < cyl.evo - 1.0e-9:
            T, p = burning.merge(Tu, T, p, mb, self._volume(t), gas, c)
            mb = c.m
            scale = np.array([T, p, energy, energy])
            y = np.array([T, p, 0.0, 0.0])
            end = self._solve(2, (t, cyl.evo), y, scale, (q,), *how).y[:, -1]
            T, p, work, heat = end[0], end[1], work + end[2], heat + end[3]
        r[R.m_evo] = mb / c.m
        T, burned, U = to_frozen(T, p, mb, Tu, gas, c)
        return T, burned, U, work, heat

    def _marks(self, c: Any) -> list[Callable[..., float]]:
        """Events of the burn: pressure peak, angle marks, end of the knock integral, all burned."""
        burn = self.sides[1]

        def peak(theta: float, y: Array, q: Array) -> float:
            return float(burn(theta, y, q)[2])

        def share(x: float) -> Callable[..., float]:
            return lambda _theta, y, _q: y[3] - x * c.m

        peak.direction = -1.0  # type: ignore[attr-defined]
        done = share(burning.BURNED_ENOUGH)
        done.terminal = True  # type: ignore[attr-defined]
        return [peak, *(share(x) for x in MARKS), share(c.knock_end), done]

    def _open(
        self, z: Array, c: Any, b: Any, T: float, burned: float, U: float, recipe: Recipe, r: Array
    ) -> tuple[Array, float, float]:
        """Port alone until the exhaust opens, then all, in pieces between the valve events; end state,
        temperatures.
        """
        cyl = self.cyl
        s = np.zeros(N_OPEN)
        s[:10] = z[:10]
        energy = c.m * 1.0e6
        scale = np.array(
            [c.m, c.m, energy, z[3], z[3], z[3] * 1.0e6, c.m * c.omega, c.m, c.m, energy]
            + [c.p_ref * cyl.swept] * 2 + [c.m, energy, c.m, energy, c.m, c.m]
        )  # fmt: skip
        guess = np.array([T, z[13], float(recipe.settled)])
        q = _flat(c, b)
        if cyl.runner_length > 0.0:
            guess[0] = z[12]
            span = (cyl.theta0, cyl.evo)
            s = self._solve(4, span, s, scale, (q, guess), recipe.open, recipe.rtol).y[:, -1].copy()
        s[:3] = c.m, burned, U
        guess[0] = T
        at_bdc = {}
        for start, end in zip(self.events[:-1], self.events[1:], strict=True):
            stops = [a for a in (np.pi, 3.0 * np.pi) if start <= a < end]
            found = self._solve(
                3, (start, end), s, scale, (q, guess), recipe.open, recipe.rtol, t_eval=[*stops, end]
            )
            s = found.y[:, -1].copy()
            at_bdc.update({a: found.y[10, j] for j, a in enumerate(stops)})
        r[whole.R.pump] = at_bdc[3.0 * np.pi] - at_bdc[np.pi]
        guess[2] = 1.0
        self.sides[3](cyl.ivc, s, q, guess)
        return s, float(guess[0]), float(guess[1])

    def _hand_over(self, z: Array, s: Array, c: Any, Tc: float, Tp: float, r: Array) -> None:
        """What the next cycle starts from, and how far it moved; as `kernels.cycle.one_cycle` does."""
        R = whole.R
        mean, back = s[15] / s[14], s[16] / s[14]
        moved = [
            abs(s[0] - z[0]) / z[0],
            abs(s[1] / s[0] - c.y),
            abs(Tc - z[12]) / z[12],
            abs(mean - z[10]) * 1.0e-6 * s[17] / c.m,
            abs(s[12] - z[14]) / s[12],
        ]
        if self.cyl.runner_length > 0.0:
            moved.append(abs(Tp - z[13]) / z[13])
            moved.append(abs(s[3] - z[3]) / z[3])
            moved.append(abs(s[6] - z[6]) / (s[12] * c.omega))
        if c.law == 1:
            moved.append(0.02 * abs(r[R.ca50] - z[15]))
        z[:10] = s[:10]
        z[10], z[11], z[12], z[13], z[14], z[15] = mean, back, Tc, Tp, s[12], r[R.ca50]
        r[R.change] = max(moved)
