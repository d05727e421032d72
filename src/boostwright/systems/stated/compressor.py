"""The compressor that a build states: its map, how far to trust it, and what was taken for granted.

A file of measured points comes first, then the wheel's sizes with one known point, then the sizes alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from boostwright.build.document import Build
from boostwright.build.map_points import MapPoints
from boostwright.library import compressor_points as points_table
from boostwright.library import turbo_sizes
from boostwright.physics.compressor import (
    R_AIR,
    CompressorMap,
    CompressorPoint,
    blade_mach,
    flow_coefficient,
)
from boostwright.physics.compressor_anchor import Touched, anchored
from boostwright.physics.compressor_fit import Contours, FitReport, Fitted, MeasuredPoints, fit_points
from boostwright.physics.compressor_points import (
    MapBand,
    Outside,
    PointsMap,
    Widening,
    outside_of,
    widened,
)
from boostwright.physics.compressor_sizes import (
    Band,
    Ground,
    WheelMap,
    WheelSizes,
    check_wheel,
    flow_limits,
    wheel_sizes,
)
from boostwright.systems.stated.known_point import known_point_of, told

__all__ = ["Basis", "StatedCompressor", "compressor_of"]

_SIZE_STEP: Final = 1e-3  # relative, of a diameter, for its share in the spread
_TYPICAL_MACH: Final = 1.0
_FEWEST_EFFICIENCIES: Final = 6
_SAME_STATE: Final = 0.005  # relative difference of two reference states that is none
_STATE: Final = ("turbo.map_reference_temperature", "turbo.map_reference_pressure")
_BOOSTED: Final = 1.05  # pressure ratio from which on the compressor matters
_SAFE_BELOW: Final = 0.3  # of the slowest line's speed
_SIDES: Final = {
    "faster": "faster than the speeds",
    "slower": "slower than the speeds",
    "left": "at less air than the flows",
    "right": "at more air than the flows",
}
_UNREAD: Final = (
    "The compressor map that the file names was not read, because the build did not come from a folder; the "
    "wheel sizes are used instead."
)


class Basis(Enum):
    """What a compressor's map stands on."""

    POINTS = "a map of measured points"
    KNOWN_POINT = "the wheel's sizes and one known point"
    SIZES = "the wheel's sizes alone"


@dataclass(frozen=True, slots=True)
class StatedCompressor:
    """A compressor's map and how far to trust it. SI units."""

    map: CompressorMap
    exducer: float  # [m]; the diameter that `operating_point` needs with this map
    basis: Basis
    band: MapBand  # one standard deviation inside the ground
    lines: tuple[float, ...]  # blade Mach numbers between which the map was measured or tried [-]
    widening: Widening
    warnings: tuple[str, ...] = ()
    touched: tuple[Touched, ...] = ()  # what a known point moved and narrowed
    report: FitReport | None = None  # of a fit to points

    def outside(self, point: CompressorPoint) -> Outside:
        """How far outside the measured ground operating points lie; arrays of their shape [-]."""
        return outside_of(point, self.lines)

    def band_at(self, point: CompressorPoint) -> MapBand:
        """One standard deviation at operating points; wider where they lie outside the ground."""
        return widened(self.band, self.outside(point), self.widening)

    def ground_words(self, point: CompressorPoint, crank_speed: ArrayLike) -> tuple[str, ...]:
        """A sentence for each side on which an operating line leaves the measured ground; none inside.

        Points without boost are no matter, nor are speeds a little below the slowest line: that way the map
        is known to hold. point: of the line, arrays (n,). crank_speed: (n,) [rad/s].
        """
        measured = "measured" if self.basis is Basis.POINTS else "tried"
        rpm = np.atleast_1d(np.asarray(crank_speed, dtype=np.float64)) * 30.0 / math.pi
        said = []
        for side, words in _SIDES.items():
            least = _SAFE_BELOW if side == "slower" else 0.0
            far = np.nan_to_num(np.broadcast_to(getattr(self.outside(point), side), rpm.shape))
            there = (far > least) & np.broadcast_to(point.pressure_ratio > _BOOSTED, rpm.shape)
            if not np.any(there):
                continue
            where = ", ".join(f"{v:.0f}" for v in rpm[there])
            said.append(
                f"At {where} rpm the compressor runs {words} that were {measured}, by up to "
                f"{100.0 * np.max(far[there]):.0f} %; what is said of it there is less sure, and its spread"
                " is widened."
            )
        return tuple(said)

    def one_deviation_worse(self) -> CompressorMap:
        """The map with its efficiency one standard deviation lower."""
        there = self.map
        if not isinstance(there, (WheelMap, PointsMap)):
            return there
        down = there.factors.efficiency - float(self.band.efficiency)
        return there.with_factors(there.factors._replace(efficiency=down))


def compressor_of(build: Build) -> StatedCompressor | None:
    """The compressor of the turbo; None when the build names none.

    Raises OutOfRange for a map of too few points, for wheels outside the ground of the estimate from sizes,
    and for a known point that tells nothing or cannot be.
    """
    if build.get("turbo.compressor_inducer") is None or build.get("turbo.compressor_exducer") is None:
        return None
    points = build.maps.get("turbo.compressor_map")
    if points is not None:
        return _from_points(build, points)
    unread: tuple[str, ...] = ()
    if build.get("turbo.compressor_map") is not None:
        unread = (_UNREAD,)
    return _from_sizes(build, unread)


# ------------------------------------------------------------------------------------------------ from points


def _from_points(build: Build, points: MapPoints) -> StatedCompressor:
    table = points_table.points_band()
    T_ref, p_ref, known, warnings = _reference(build, points)
    exducer, inducer = build.number("turbo.compressor_exducer"), build.number("turbo.compressor_inducer")
    estimated = sum(eta is not None for eta in points.efficiency) < _FEWEST_EFFICIENCIES
    fitted = _fitted(points, T_ref, p_ref, exducer, inducer, estimated)
    report = fitted.report
    warnings += _doubts(points, report, estimated)
    if build["turbo.compressor_exducer"].assumed:
        warnings += (
            "The compressor wheel's outlet diameter is assumed, so tip speed is unsure. Measure the wheel.",
        )
    unsure_flow = 0.0 if known else table.unknown_reference_flow
    unsure_speed = 0.0 if known else table.unknown_reference_speed
    eta = table.estimated_efficiency if estimated else math.hypot(table.efficiency, report.efficiency_rms)
    band = MapBand(
        flow=math.hypot(table.flow, report.flow_rms, unsure_flow),
        surge=math.hypot(table.surge, unsure_flow),
        head=math.hypot(table.head, report.head_rms, 2.0 * unsure_speed),
        speed=math.hypot(table.speed, report.head_rms / 2.0, unsure_speed),
        efficiency=eta,
    )
    return StatedCompressor(
        map=fitted.map,
        exducer=exducer,
        basis=Basis.POINTS,
        band=band,
        lines=fitted.map.lines,
        widening=points_table.widening(),
        warnings=warnings,
        report=report,
    )


def _reference(build: Build, points: MapPoints) -> tuple[float, float, bool, tuple[str, ...]]:
    """Reference state of the map, whether it is known, and what to say of it."""
    table = points_table.points_band()
    warnings: list[str] = []
    state: list[float | None] = []
    for path, in_file in zip(_STATE, (points.reference_temperature, points.reference_pressure), strict=True):
        stated = build.get(path)
        value = in_file if stated is None else float(stated.value)
        if (
            stated is not None
            and in_file is not None
            and abs(in_file / float(stated.value) - 1) > _SAME_STATE
        ):
            what = "temperature" if path.endswith("temperature") else "pressure"
            warnings.append(
                f"The build file and the compressor map state different reference {what}s; the build file's "
                "is taken. Look on the map's sheet which is right."
            )
        state.append(value)
    known = None not in state
    if not known:
        warnings.append(
            "The reference state of the compressor map is not stated whole; what is missing is taken as "
            f"{table.unknown_reference_temperature:.0f} K and {table.unknown_reference_pressure / 1e3:.0f} "
            f"kPa, and the map's flows count as {table.unknown_reference_flow:.0%} more unsure. It stands on "
            "the map's sheet: state turbo.map_reference_temperature and turbo.map_reference_pressure."
        )
    T_ref = state[0] if state[0] is not None else table.unknown_reference_temperature
    p_ref = state[1] if state[1] is not None else table.unknown_reference_pressure
    return T_ref, p_ref, known, tuple(warnings)


@lru_cache(maxsize=32)
def _fitted(
    points: MapPoints, T_ref: float, p_ref: float, exducer: float, inducer: float, estimated: bool
) -> Fitted:
    """The fit; kept, because corners and samples ask for the same one again."""
    recipe = turbo_sizes.compressor_recipe()
    speed = _array(points.speed) * (2.0 / exducer if points.tip_speed else 1.0)
    flow = np.array(points.flow) * (p_ref / (R_AIR * T_ref) if points.volume_flow else 1.0)
    ratio, eta = np.array(points.pressure_ratio), _array(points.efficiency)
    line = np.isfinite(speed)
    rms = inducer / exducer * math.sqrt((1.0 + recipe.hub_ratio**2) / 2.0)
    measured = MeasuredPoints(speed[line], flow[line], ratio[line], eta[line], T_ref, p_ref)
    if not estimated:
        return fit_points(measured, exducer, rms, Contours(flow[~line], ratio[~line], eta[~line]))
    bare = fit_points(measured._replace(efficiency=np.full(measured.flow.shape, np.nan)), exducer, rms)
    sized = _sized_efficiency(bare, measured, inducer, exducer)
    return fit_points(measured._replace(efficiency=sized), exducer, rms)


def _array(values: tuple[float | None, ...]) -> np.ndarray:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _sized_efficiency(bare: Fitted, points: MeasuredPoints, inducer: float, exducer: float) -> np.ndarray:
    """Efficiency of the estimate from sizes at the same place between surge and line end; for a map without
    efficiencies."""
    recipe = turbo_sizes.compressor_recipe()
    wheel = wheel_sizes(inducer, exducer, recipe)
    mach = blade_mach(points.speed, exducer, points.T_ref)
    phi = flow_coefficient(points.flow, points.speed, exducer, points.T_ref, points.p_ref)
    surge, end = bare.map.limits(mach)
    place = np.clip((phi - surge) / (end - surge), 0.0, 1.0)
    ours = np.clip(mach, *recipe.mach)
    limits = flow_limits(wheel, recipe, ours)
    return WheelMap(wheel, recipe)(limits.surge + place * (limits.end - limits.surge), ours).eta


def _doubts(points: MapPoints, report: FitReport, estimated: bool) -> tuple[str, ...]:
    """What in a map does not fit together, in sentences."""
    table = points_table.points_band()
    found: list[str] = []
    name = points.file or "the compressor map"
    if report.outliers:
        on_lines = [n for n, speed in zip(points.line, points.speed, strict=True) if speed is not None]
        lines = ", ".join(str(on_lines[i]) for i in report.outliers[:6])
        one = len(report.outliers) == 1
        found.append(
            f"{name}: the point{'' if one else 's'} on line{'' if one else 's'} {lines} lie"
            f"{'s' if one else ''} more than 10 % off the speed lines of the others. Read "
            f"{'it' if one else 'them'} off the map again."
        )
    if estimated:
        found.append(
            f"{name} has no efficiencies; they are estimated from the wheel's sizes, "
            f"{100 * table.estimated_efficiency:.0f} points unsure. Add the column if the map's sheet has it."
        )
    elif report.work_scatter > table.work_scatter or not (
        table.work_low <= report.work_range[0] and report.work_range[1] <= table.work_high
    ):
        found.append(
            f"{name}: speeds, pressure ratios and efficiencies do not go together as they do in one wheel "
            f"(work coefficient {report.work_range[0]:.2f} to {report.work_range[1]:.2f}, scatter "
            f"{report.work_scatter:.1%}). Look at units, efficiencies and the wheel's outlet diameter."
        )
    if report.crossing:
        found.append(
            f"{name}: speed lines cross, which no compressor's do. Look for points under a wrong speed."
        )
    return tuple(found)


# ------------------------------------------------------------------------------------------------- from sizes


def _from_sizes(build: Build, warnings: tuple[str, ...]) -> StatedCompressor:
    recipe = turbo_sizes.compressor_recipe()
    known: dict[str, float] = {}
    if build.is_stated("turbo.compressor_tip_width"):
        known["b2"] = build.number("turbo.compressor_tip_width")
    inducer, exducer = build.number("turbo.compressor_inducer"), build.number("turbo.compressor_exducer")
    wheel = wheel_sizes(inducer, exducer, recipe, **known)
    ground = check_wheel(wheel, recipe)
    band = turbo_sizes.compressor_band()
    if ground is Ground.PLAUSIBLE:
        factor = points_table.plausible_factor()
        band = Band(*(factor * sd for sd in band))
        low, high = (1e3 * d for d in recipe.tested_diameter)
        outside = (
            f"The compressor wheel of {1e3 * exducer:.1f} mm lies a little outside the wheels that the "
            f"estimate from sizes was tried on, {low:.0f} to {high:.0f} mm; its spreads are taken "
            f"{factor:g} times as wide."
        )
        warnings += (outside,)
    estimate = WheelMap(wheel, recipe)
    band = _with_sizes(build, wheel, estimate, band)
    point, doubts = known_point_of(build)
    touched: tuple[Touched, ...] = ()
    basis = Basis.SIZES
    if point is not None:
        result = anchored(estimate, band, points_table.shape_band(), point)
        estimate, band, touched = estimate.with_factors(result.factors), result.band, result.touched
        basis = Basis.KNOWN_POINT
        doubts += told(result.touched, result.surprise)
    return StatedCompressor(
        map=estimate,
        exducer=exducer,
        basis=basis,
        band=MapBand(band.choke, band.surge, band.head, band.speed, band.efficiency),
        lines=recipe.mach,
        widening=points_table.widening(),
        warnings=warnings + doubts,
        touched=touched,
    )


def _with_sizes(build: Build, wheel: WheelSizes, estimate: WheelMap, band: Band) -> Band:
    """The band with the spread of the two diameters in it, at a typical blade Mach number."""
    flows = []
    for D1, D2 in ((1.0, 1.0), (1.0 + _SIZE_STEP, 1.0), (1.0, 1.0 + _SIZE_STEP)):
        moved = wheel._replace(D1=wheel.D1 * D1, D2=wheel.D2 * D2)
        limits = flow_limits(moved, estimate.recipe, _TYPICAL_MACH)
        flows.append((float(limits.end) * moved.D2**2, float(limits.surge) * moved.D2**2))
    sds = (
        float(build["turbo.compressor_inducer"].sd) / wheel.D1,
        float(build["turbo.compressor_exducer"].sd) / wheel.D2,
    )

    def of(limit: int) -> float:
        slopes = [(flows[i][limit] / flows[0][limit] - 1.0) / _SIZE_STEP for i in (1, 2)]
        return math.hypot(*(slope * sd for slope, sd in zip(slopes, sds, strict=True)))

    return band._replace(
        choke=math.hypot(band.choke, of(0)),
        surge=math.hypot(band.surge, of(1)),
        head=math.hypot(band.head, 2.0 * sds[1]),  # the head goes with the square of the tip speed
        speed=math.hypot(band.speed, sds[1]),
    )
