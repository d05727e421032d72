"""Fitting a compressor map to measured points: speed lines, efficiency, surge line and line ends."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.compressor import (
    PointStatus,
    blade_mach,
    flow_coefficient,
    head_coefficient,
    operating_point,
    pressure_ratio_of_head,
)
from boostwright.physics.compressor_points import (
    LineForm,
    PointsMap,
    efficiency_surface,
    line_head,
    speed_line,
)

__all__ = [
    "FEWEST_LINES",
    "FEWEST_POINTS",
    "Contours",
    "FitReport",
    "Fitted",
    "MeasuredPoints",
    "fit_points",
    "line_numbers",
    "radial_distance",
]

Array = NDArray[np.float64]

FEWEST_LINES: Final = 3
FEWEST_POINTS: Final = 12
_FULL_LINES, _FULL_POINTS = 4, 20  # from here on with the quadratic terms
_SURFACE_POINTS: Final = 40  # with efficiency, before a surface may be fitted
_FEWEST_EFFICIENCIES: Final = 6
_STEEP: Final = 0.8  # of the head at the line's top: below, the line falls steeply
_NO_HEAD: Final = 0.05  # of the largest head: below, head over efficiency says nothing of the work

_SCALE: Final = 0.02  # of the robust loss: residuals above it count less and less
_PRIOR: Final = 0.03  # weight of the pulls on the exponent and the quadratic terms
_USUAL_EXPONENT: Final = 2.5
_RISING: Final = 5.0  # weight of the pull on choke flows that fall with speed
_SAME_LINE: Final = 0.025  # relative step of speed that begins a new line
_OUTLIER: Final = 0.10  # radial; five times the loss's scale
_MOST_OUTLIERS: Final = 0.15  # of all points; with more of them, who is to say which are wrong
_EFFICIENCY_CAP: Final = 0.82
_LARGEST_END: Final = 0.995  # of the choke flow, where a vertical line ends
_FOLDS: Final = 5
_BETTER: Final = 0.9  # of the error: as much must the surface gain on points held back


class MeasuredPoints(NamedTuple):
    """Measured points at one reference state; arrays of one shape (n,)."""

    speed: Array  # corrected shaft speed [rad/s]
    flow: Array  # corrected mass flow [kg/s]
    pressure_ratio: Array  # total to total [-]
    efficiency: Array  # isentropic; NaN where not known [-]
    T_ref: float  # [K]
    p_ref: float  # [Pa]


class Contours(NamedTuple):
    """Points of contours of efficiency, whose speed is not known; arrays of one shape (k,)."""

    flow: Array  # corrected mass flow [kg/s]
    pressure_ratio: Array  # [-]
    efficiency: Array  # [-]


class _Efficiencies(NamedTuple):
    """Points with efficiency, in similarity variables; arrays of one shape."""

    phi: Array
    psi: Array
    mach: Array
    eta: Array


class FitReport(NamedTuple):
    """What came of a fit; all dimensionless."""

    lines: int  # measured speed lines with two points or more
    points: int
    radial_rms: float  # of the radial residual
    ratio_rms: float  # relative, of the pressure ratio
    ratio_worst: float  # the same, largest
    head_rms: float  # relative, of the pressure ratio less one, steep ends left out
    flow_rms: float  # relative, of the flow on steep ends; 0 where there are none
    efficiency_rms: float  # absolute, steep ends left out; NaN where no efficiency was fitted
    efficiency_worst: float
    held_back: tuple[
        float, float
    ]  # rms on points held back: from head and work, from the surface; NaN: not tried
    work_scatter: (
        float  # relative, of the work coefficient about a straight line in flow; NaN without efficiency
    )
    work_range: tuple[float, float]  # smallest and largest work coefficient
    outliers: tuple[int, ...]  # points more than 10 % off, by index
    crossing: bool  # True where fitted lines cross inside the ground


class Fitted(NamedTuple):
    """A fitted map and how well it fits."""

    map: PointsMap
    report: FitReport


def line_numbers(speed: Array) -> NDArray[np.int64]:
    """Which speed line each point belongs to, 0 for the slowest; a step of 2.5 % begins a new one.

    speed: (n,) in any unit. Returns (n,).
    """
    order = np.argsort(speed, kind="stable")
    steps = np.diff(speed[order]) > _SAME_LINE * speed[order][1:]
    numbers = np.empty(speed.size, dtype=np.int64)
    numbers[order] = np.concatenate(([0], np.cumsum(steps)))
    return numbers


def radial_distance(form: LineForm, phi: Array, psi: Array, mach: Array) -> Array:
    """How far points lie outside a fitted line, seen from its centre [-].

    (z^c + (psi/psi_z)^c)^(1/c) - 1 with z as in `line_head`; psi/psi_z - 1 left of the top. Flat and vertical
    parts of a line count alike, where a vertical distance would see nothing but choke. phi, psi, mach: one
    shape [-].
    """
    line = speed_line(form, mach)
    z = np.maximum((phi - line.top) / (line.zero - line.top), 0.0)
    y = np.maximum(psi / line.head, 0.0)
    c = line.exponent
    return np.asarray((z**c + y**c) ** (1.0 / c) - 1.0)


def fit_points(
    points: MeasuredPoints, D2: float, rms_ratio: float = 0.53, contours: Contours | None = None
) -> Fitted:
    """Fit a map to measured points.

    Robust least squares (soft L1, scale 0.02) on the radial distance, with weak pulls of the exponent to 2.5
    and of the quadratic terms to 0. Efficiency from a linear work coefficient; from 40 points with efficiency
    on also from a surface, where that does better on points held back. Left and right ends of the lines are
    kept as measured. Points more than 10 % off are left out and named in the report, as long as they are few.

    points: at their reference state. D2: exducer diameter that turns speed into Mach number [m]; a wrong one
    scales the similarity variables and nothing else. rms_ratio: rms diameter of the inducer over D2, for the
    head at no flow [-]. contours: points of known efficiency and unknown speed, at the same reference
    state; the fitted lines give the speed. Returns the map and its report. Raises OutOfRange for fewer than 3
    lines or 12 points: such a map is no map. Error: `FitReport`; on open maps of turbocharger wheels 1 to
    1.5 % of pressure ratio.
    """
    line = line_numbers(points.speed)
    counts = np.bincount(line)
    whole = int(np.sum(counts >= 3))
    _refuse_few(whole, points.flow.size)
    mach = blade_mach(points.speed, D2, points.T_ref)
    phi = flow_coefficient(points.flow, points.speed, D2, points.T_ref, points.p_ref)
    psi = head_coefficient(points.pressure_ratio, mach)
    full = whole >= _FULL_LINES and points.flow.size >= _FULL_POINTS
    form = _fit_form(phi, psi, mach, full)
    good = np.abs(radial_distance(form, phi, psi, mach)) <= _OUTLIER
    if 0 < np.sum(~good) <= _MOST_OUTLIERS * phi.size:
        form = _fit_form(phi[good], psi[good], mach[good], full)
    else:
        good[:] = True

    zero = speed_line(form, mach).zero
    machs, left, right = [], [], []
    for one in np.unique(line):
        there = (line == one) & good
        if there.sum() < 2:
            continue
        machs.append(float(mach[there].mean()))
        left.append(float((phi / zero)[there].min()))
        right.append(float(min((phi / zero)[there].max(), _LARGEST_END)))
    left = [min(a, 0.95 * b) for a, b in zip(left, right, strict=True)]
    told = points.efficiency if contours is None else np.append(points.efficiency, contours.efficiency)
    best = np.nanmax(told) if np.isfinite(told).any() else 0.0
    bare = PointsMap(
        form=form,
        lines=tuple(machs),
        surge_share=tuple(left),
        end_share=tuple(right),
        work=(0.7, 0.0, 0.0, 0.0, 0.0),
        surface=None,
        best_efficiency=float(max(_EFFICIENCY_CAP, best + 0.01)),
        rms_ratio=rms_ratio,
    )
    known = np.isfinite(points.efficiency) & good & (psi > _NO_HEAD * psi.max())
    sample = _Efficiencies(phi[known], psi[known], mach[known], points.efficiency[known])
    if contours is not None and contours.flow.size:
        found = _on_contours(bare, points, D2, contours)
        sample = _Efficiencies(*(np.concatenate(both) for both in zip(sample, found, strict=True)))
    fitted, held_back = _with_efficiency(bare, sample)
    return Fitted(fitted, _report(fitted, points, (phi, psi, mach), sample, held_back))


def _on_contours(bare: PointsMap, points: MeasuredPoints, D2: float, contours: Contours) -> _Efficiencies:
    """Contour points with the speed that the fitted lines give them; those off the map left out."""
    at = operating_point(bare, D2, contours.flow, contours.pressure_ratio, points.T_ref, points.p_ref)
    on_map = at.status == PointStatus.ON_MAP
    phi = flow_coefficient(contours.flow, at.speed, D2, points.T_ref, points.p_ref)
    psi = head_coefficient(contours.pressure_ratio, at.mach)
    return _Efficiencies(phi[on_map], psi[on_map], at.mach[on_map], contours.efficiency[on_map])


def _refuse_few(lines: int, points: int) -> None:
    if lines >= FEWEST_LINES and points >= FEWEST_POINTS:
        return
    raise OutOfRange(
        f"The compressor map has {lines} speed line{'' if lines == 1 else 's'} of three points or more and "
        f"{points} points in all; a map needs at least {FEWEST_LINES} lines and {FEWEST_POINTS} points, four "
        "lines and 20 points to be good. Read more points off the map, or leave the file out and state the "
        "wheel sizes and one known point (turbo.known_flow and what belongs to it)."
    )


def _fit_form(phi: Array, psi: Array, mach: Array, full: bool) -> LineForm:
    """The coefficients, fitted in variables scaled to one so that no unit and no diameter matters."""
    phi_0, psi_0, mach_0 = float(phi.max()), float(psi.max()), float(mach.max())
    x, y, s = phi / phi_0, psi / psi_0, mach / mach_0
    grid = np.linspace(float(s.min()), 1.0, 12)
    middle = float(np.median(s)) ** 2

    def unpacked(p: Array) -> LineForm:
        if full:
            return LineForm((p[0], p[1], p[2]), (p[3], p[4], p[5]), (p[6], p[7], p[8]), (p[9], p[10]))
        return LineForm((p[0], p[1], 0.0), (p[2], p[3], 0.0), (p[4], p[5], 0.0), (p[6], p[7]))

    def residuals(p: Array) -> Array:
        form = unpacked(p)
        choke_flow = speed_line(form, grid).zero * grid
        falling = _RISING * np.maximum(-np.diff(choke_flow), 0.0)
        exponent = form.shape[0] + form.shape[1] * middle - _USUAL_EXPONENT
        pulls = _PRIOR * np.array((form.top[2], form.zero[2], form.head[2], exponent, form.shape[1] / 3.0))
        return np.concatenate((radial_distance(form, x, y, s), falling, pulls))

    best = None
    for exponent in (2.0, 4.0):
        start = np.array((0.3, 0.0, 0.0, 1.4, 0.0, 0.0, 1.0, 0.0, 0.0, exponent, 0.0))
        if not full:
            start = start[[0, 1, 3, 4, 6, 7, 9, 10]]
        from scipy.optimize import least_squares  # lazily: SciPy is slow to import

        found = least_squares(residuals, start, loss="soft_l1", f_scale=_SCALE, method="trf", max_nfev=150)
        if best is None or found.cost < best.cost:
            best = found
    form = unpacked(best.x)  # type: ignore[union-attr]

    def scaled(row: tuple[float, ...], by: float, powers: tuple[int, ...]) -> tuple[float, ...]:
        return tuple(float(c * by / mach_0**n) for c, n in zip(row, powers, strict=True))

    return LineForm(
        scaled(form.top, phi_0, (0, 1, 2)),  # type: ignore[arg-type]
        scaled(form.zero, phi_0, (0, 1, 2)),  # type: ignore[arg-type]
        scaled(form.head, psi_0, (0, 2, 3)),  # type: ignore[arg-type]
        scaled(form.shape, 1.0, (0, 2)),  # type: ignore[arg-type]
    )


def _with_efficiency(bare: PointsMap, sample: _Efficiencies) -> tuple[PointsMap, tuple[float, float]]:
    """The map with its work coefficient and, where it pays, the surface of efficiency."""
    not_tried = (float("nan"), float("nan"))
    phi, psi, mach, eta = sample
    if eta.size < _FEWEST_EFFICIENCIES:
        return bare, not_tried
    line = speed_line(bare.form, mach)
    head = np.maximum(line_head(line, phi), 0.0)
    linear = replace(bare, work=_fit_work(phi, psi, mach, eta))
    if eta.size < _SURFACE_POINTS:
        return linear, not_tried
    terms = efficiency_surface(mach, phi / line.zero)
    fold = np.arange(eta.size) % _FOLDS
    wrong_a, wrong_b = np.zeros(eta.size), np.zeros(eta.size)
    for one in range(_FOLDS):
        out, rest = fold == one, fold != one
        terms_a = _fit_work(phi[rest], psi[rest], mach[rest], eta[rest])
        work = _linear_work(terms_a, phi[out], mach[out])
        wrong_a[out] = np.clip(head[out] / work, 0.0, bare.best_efficiency) - eta[out]
        wrong_b[out] = terms[out] @ _fit_surface(terms[rest], eta[rest]) - eta[out]
    flat = head >= _STEEP * line.head
    held_back = (_rms(wrong_a[flat]), _rms(wrong_b[flat]))
    if held_back[1] > _BETTER * held_back[0]:
        return linear, held_back
    surface = tuple(float(c) for c in _fit_surface(terms, eta))
    return replace(linear, surface=surface), held_back


def _linear_work(terms: tuple[float, float, float, float, float], phi: Array, mach: Array) -> Array:
    l0, l1, l2, l3, l4 = terms
    work = l0 + mach * (l1 + l2 * mach) + (l3 + l4 * mach) * phi
    return np.asarray(np.maximum(work, 0.1 * float(np.median(work))))


def _fit_work(phi: Array, psi: Array, mach: Array, eta: Array) -> tuple[float, float, float, float, float]:
    """lam = l0 + l1 M + l2 M^2 + (l3 + l4 M) phi through lam = psi/eta, by robust linear least squares."""
    lam = psi / eta
    weight = eta / lam  # a wrong work coefficient counts as the efficiency that it spoils
    few = eta.size < 12
    columns = [np.ones(phi.shape), mach, phi] if few else [np.ones(phi.shape), mach, mach**2, phi, mach * phi]
    terms = np.stack(columns, axis=1)

    def residuals(p: Array) -> Array:
        return np.asarray((terms @ p - lam) * weight)

    start, *_ = np.linalg.lstsq(terms * weight[:, None], lam * weight, rcond=None)
    from scipy.optimize import least_squares  # lazily: SciPy is slow to import

    found = least_squares(residuals, start, loss="soft_l1", f_scale=_SCALE).x
    if few:
        return float(found[0]), float(found[1]), 0.0, float(found[2]), 0.0
    return float(found[0]), float(found[1]), float(found[2]), float(found[3]), float(found[4])


def _fit_surface(terms: Array, eta: Array) -> Array:
    start, *_ = np.linalg.lstsq(terms, eta, rcond=None)

    def residuals(p: Array) -> Array:
        return np.asarray(terms @ p - eta)

    from scipy.optimize import least_squares  # lazily: SciPy is slow to import

    return np.asarray(least_squares(residuals, start, loss="soft_l1", f_scale=_SCALE).x)


def _report(
    fitted: PointsMap,
    points: MeasuredPoints,
    place: tuple[Array, Array, Array],
    sample: _Efficiencies,
    held_back: tuple[float, float],
) -> FitReport:
    phi, psi, mach = place
    radial = radial_distance(fitted.form, phi, psi, mach)
    on_line = line_head(speed_line(fitted.form, mach), phi)
    ratio = pressure_ratio_of_head(on_line, mach)
    wrong = ratio / points.pressure_ratio - 1.0
    off = np.abs(radial) > _OUTLIER
    steep = on_line < _STEEP * speed_line(fitted.form, mach).head
    flat = ~steep & ~off
    head_wrong = (ratio - points.pressure_ratio) / np.maximum(points.pressure_ratio - 1.0, 0.02)
    # At a given flow and speed a steep end has any head, so its efficiency there says nothing of the fit.
    line = speed_line(fitted.form, sample.mach)
    flat_sample = line_head(line, sample.phi) >= _STEEP * line.head
    eta_wrong = (fitted(sample.phi, sample.mach).eta - sample.eta)[flat_sample]
    lam = sample.psi / sample.eta
    straight = _linear_work(fitted.work, sample.phi, sample.mach) if lam.size else lam
    nothing = float("nan")
    return FitReport(
        lines=len(fitted.lines),
        points=phi.size,
        radial_rms=_rms(radial),
        ratio_rms=_rms(wrong),
        ratio_worst=float(np.max(np.abs(wrong))),
        head_rms=_rms(head_wrong[flat]) if flat.any() else 0.0,
        flow_rms=_rms(radial[steep & ~off]) if (steep & ~off).any() else 0.0,
        efficiency_rms=_rms(eta_wrong) if eta_wrong.size else nothing,
        efficiency_worst=float(np.max(np.abs(eta_wrong))) if eta_wrong.size else nothing,
        held_back=held_back,
        work_scatter=_rms(lam / straight - 1.0) if lam.size >= _FEWEST_EFFICIENCIES else nothing,
        work_range=(float(lam.min()), float(lam.max())) if lam.size else (nothing, nothing),
        outliers=tuple(int(i) for i in np.flatnonzero(off)),
        crossing=_crossing(fitted),
    )


def _crossing(fitted: PointsMap) -> bool:
    """True where, inside the measured ground, more speed at the same flow gives less pressure."""
    mach = np.linspace(fitted.lines[0], fitted.lines[-1], 40)[:, None]
    surge, end = fitted.limits(mach)
    flow = np.linspace(float(np.min(surge * mach)), float(np.max(end * mach)), 60)[None, :]
    phi = flow / mach
    inside = (phi >= surge) & (phi <= end)
    ratio = pressure_ratio_of_head(fitted.head(phi, mach), mach)
    fell = np.diff(ratio, axis=0) < -1e-4
    return bool(np.any(fell & inside[1:] & inside[:-1]))


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(np.square(values)))) if values.size else 0.0
