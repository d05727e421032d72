"""What is not known for sure about a build, and one draw of it as a build and a form of the models.

What a person stated, what stands in for what nobody stated, and what is not known of the models are listed
alike: a name, words, a marginal distribution and why it has this shape.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostwright.build.catalogue import Field, FieldType, catalogue
from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.errors import OutOfRange
from boostwright.findings.form import SPARK_LEVEL_SD, SPARK_TILT_SD, Form
from boostwright.findings.prepare import CONTROL_SD
from boostwright.library import transient, turbo_sizes
from boostwright.library.unknowns import FormUnknown, unknown_rules
from boostwright.physics.compressor_sizes import WheelFactors
from boostwright.systems.engine.types import BurnLaw, HeatLaw
from boostwright.systems.stated.compressor import StatedCompressor, compressor_of
from boostwright.systems.stated.turbine import turbine_of
from boostwright.uncertainty.marginals import (
    Bounded,
    HeavyTail,
    LogNormal,
    Marginal,
    Normal,
    TwoPoint,
    TwoSided,
)

__all__ = ["Unknown", "Unknowns", "drawn_build", "drawn_form", "unknowns_of"]

Array = NDArray[np.float64]

_MAP_SIZES = ("turbo.compressor_inducer", "turbo.compressor_exducer")
_STRETCH = 8.0  # spreads beyond which no draw goes, to keep factors positive
_LEAST_FACTOR = 0.05


@dataclass(frozen=True, slots=True)
class Unknown:
    """One thing that is not known for sure.

    name: a field of the build, or 'form.…' for the models'. words: in workshop words. marginal: of its value
    [SI of the field; factors [-]]. reason: why its distribution has this shape. source: where its value comes
    from; None for a form.
    """

    name: str
    words: str
    marginal: Marginal
    reason: str
    source: Source | None = None

    @property
    def is_form(self) -> bool:
        """Whether it belongs to the models and not to the build."""
        return self.source is None


@dataclass(frozen=True, slots=True)
class Unknowns:
    """All unknowns of a build and which of them move together. correlation: (d, d) of their normal scores."""

    every: tuple[Unknown, ...]
    correlation: Array

    @property
    def names(self) -> tuple[str, ...]:
        """Their names, in the order of the columns of a draw."""
        return tuple(u.name for u in self.every)

    @property
    def marginals(self) -> tuple[Marginal, ...]:
        """Their distributions, in the same order."""
        return tuple(u.marginal for u in self.every)

    def groups(self) -> tuple[tuple[int, ...], ...]:
        """Columns that move together, each column in one group; singles alone."""
        linked = np.abs(self.correlation) > 0.0
        seen: set[int] = set()
        found = []
        for start in range(len(self.every)):
            if start in seen:
                continue
            group, todo = {start}, [start]
            while todo:
                new = {int(k) for k in np.flatnonzero(linked[todo.pop()])} - group
                group |= new
                todo += sorted(new)
            seen |= group
            found.append(tuple(sorted(group)))
        return tuple(found)


def unknowns_of(build: Build, together: Mapping[tuple[str, str], float] | None = None) -> Unknowns:
    """The unknowns of a build, in the catalogue's order, the models' own last.

    build: the document. together: correlations of a fit between fields, added to those of the table; None:
    no fit.
    """
    spoken = {name for pair in together or () for name in pair}
    fitted = together is not None
    every = _fields(build, fitted) + _forms(build, fitted and "form.heat_law" not in spoken)
    place = {u.name: i for i, u in enumerate(every)}
    correlation = np.eye(len(every))
    pairs = {(p.first, p.second): p.value for p in unknown_rules().together} | dict(together or {})
    for (first, second), value in pairs.items():
        if first in place and second in place:
            i, j = place[first], place[second]
            correlation[i, j] = correlation[j, i] = value
    return Unknowns(tuple(every), correlation)


# --------------------------------------------------------------------------------------------- fields


def _fields(build: Build, fitted: bool) -> list[Unknown]:
    """The fields of a build that are not known for sure; chosen ones and mere readings are left out, after a
    fit also those whose effect it has absorbed.
    """
    left_out = set(unknown_rules().left_out)
    if fitted:
        left_out |= set(unknown_rules().absorbed)
    if build.maps.get("turbo.compressor_map") is not None:
        left_out |= set(_MAP_SIZES)  # the map was measured with the wheel as it is
    grounds = {}
    if build.turbine_map is None:  # the estimate from sizes has no ground outside
        grounds["turbo.turbine_housing"] = turbo_sizes.turbine_recipe().area_over_radius
    found = []
    for path, known in catalogue().fields.items():
        if path in left_out or not _can_be_unknown(known):
            continue
        value = build.get(path)
        if value is None or not value.sd or isinstance(value.value, (str, bool, tuple)):
            continue
        marginal, reason = _marginal(known, value, grounds.get(path))
        found.append(Unknown(path, known.words, marginal, reason, value.source))
    return found


def _can_be_unknown(known: Field) -> bool:
    return (
        known.type is FieldType.QUANTITY
        and not known.many
        and "[]" not in known.path
        and "check" in known.used_by
        and known.section != "baseline"
    )


def _marginal(known: Field, value: StatedValue, ground: tuple[float, float] | None) -> tuple[Marginal, str]:
    """The distribution of a value, inside the range in which the field can be and the ground of the model
    that reads it, and why it has this shape.
    """
    rules = unknown_rules()
    middle, sd = float(value.value), float(value.sd)
    bent = rules.two_sided.get(known.path)
    low, high = known.low, known.high
    if ground is not None and ground[0] < middle < ground[1]:
        low, high = ground
    positive = middle > 0.0 and low is not None and low >= 0.0
    relative = sd / abs(middle) if middle else math.inf
    inner: Marginal
    if bent is not None and value.source is not Source.MEASURED:
        inner, reason = TwoSided(middle, bent.below * sd, bent.above * sd), bent.reason
    elif positive and rules.even_up_to < relative <= 1.0:
        inner, reason = LogNormal(middle, sd), "a positive quantity of wide spread: off by factors"
    elif value.source.value in rules.heavy:
        inner = HeavyTail(middle, sd, rules.heavy_freedom)
        reason = rules.heavy[value.source.value]
    else:
        inner, reason = Normal(middle, sd), "nothing speaks for another shape"
    if low is None and high is None:
        return inner, reason
    return Bounded(inner, -math.inf if low is None else low, math.inf if high is None else high), reason


# --------------------------------------------------------------------------------------------- models


def _forms(build: Build, one_heat_law: bool) -> list[Unknown]:
    """What is not known of the models, as far as this build uses them.

    one_heat_law: fitted with the usual law of wall heat by a fit that does not say how its factors go with
    another: then that law is no unknown, as another would contradict what was read.
    """
    bands = _bands(build)
    found = []
    for form in unknown_rules().forms:
        if one_heat_law and form.name == "form.heat_law":
            continue
        if form.kind == "either":
            found.append(Unknown(form.name, form.words, TwoPoint(0.0, 1.0, 0.5), form.reason))
        elif form.name in bands:
            middle, sd = bands[form.name]
            found.append(_band(form, middle, sd))
    return found


def _band(form: FormUnknown, middle: float, sd: float) -> Unknown:
    least = _LEAST_FACTOR if middle else -_STRETCH * sd
    inner: Marginal = Normal(middle, sd)
    if middle and sd > unknown_rules().even_up_to:
        inner = LogNormal(middle, sd)
    return Unknown(
        form.name, form.words, Bounded(inner, least, middle + _STRETCH * sd), form.reason or "a band"
    )


def _bands(build: Build) -> dict[str, tuple[float, float]]:
    """Middle and spread of what is not known of the models; factors [-], control [Pa], walls [K], spark
    [rad].
    """
    found = {
        "form.control": (0.0, CONTROL_SD),
        "form.spark_level": (0.0, SPARK_LEVEL_SD),
        "form.spark_tilt": (0.0, SPARK_TILT_SD),
    }
    try:
        compressor = compressor_of(build)
        if compressor is None:
            return {}
        turbine = turbine_of(build)
    except OutOfRange:
        return {}  # the check itself says why
    band = turbo_sizes.turbine_band()
    found |= _compressor_bands(compressor)
    found["form.turbine_area"] = (1.0, turbine.area_sd)
    found["form.turbine_efficiency"] = (0.0, turbine.efficiency_sd)
    found["form.bearing"] = (1.0, band.bearing)
    if build.get("turbo.inertia") is None:
        found["form.inertia"] = (1.0, transient.inertia_recipe().spread)
    found["form.wall_start"] = (0.0, transient.heat_lag().start_spread)
    return {name: (middle, sd) for name, (middle, sd) in found.items() if sd > 0.0}


def _compressor_bands(compressor: StatedCompressor) -> dict[str, tuple[float, float]]:
    band = compressor.band
    return {
        "form.choke": (1.0, float(band.flow)),
        "form.surge": (1.0, float(band.surge)),
        "form.head": (1.0, float(band.head)),
        "form.compressor_efficiency": (0.0, float(band.efficiency)),
    }


# ---------------------------------------------------------------------------------------------- draws


def drawn_form(names: Sequence[str], values: Array) -> Form:
    """The form of the models at one draw. names: of the unknowns. values: (d,) in their order."""
    at = dict(zip(names, (float(v) for v in values), strict=True))
    return Form(
        knock_law=at.get("form.knock_law", 0.5),
        heat_law=HeatLaw.WOSCHNI if at.get("form.heat_law", 0.0) < 0.5 else HeatLaw.HOHENBERG,
        burn_law=BurnLaw.WIEBE if at.get("form.burn_law", 0.0) < 0.5 else BurnLaw.ENTRAINMENT,
        compressor=WheelFactors(
            choke=at.get("form.choke", 1.0),
            surge=at.get("form.surge", 1.0),
            head=at.get("form.head", 1.0),
            efficiency=at.get("form.compressor_efficiency", 0.0),
        ),
        turbine_area=at.get("form.turbine_area", 1.0),
        turbine_efficiency=at.get("form.turbine_efficiency", 0.0),
        bearing=at.get("form.bearing", 1.0),
        control=at.get("form.control", 0.0),
        inertia=at.get("form.inertia", 1.0),
        wall_start=at.get("form.wall_start", 0.0),
        spark_level=at.get("form.spark_level", 0.0),
        spark_tilt=at.get("form.spark_tilt", 0.0),
        drawn=True,
    )


def drawn_build(build: Build, names: Sequence[str], values: Array) -> Build:
    """The build at one draw: what was drawn has no spread left, and what nobody stated stays assumed.

    build: as stated. names: of the unknowns; those of the models are passed over. values: (d,) [SI] in their
    order. An assumed value that is worked out from others follows them: its own departure from the middle is
    added to what the drawn others make of it.
    """
    drawn = {name: float(v) for name, v in zip(names, values, strict=True) if not name.startswith("form.")}
    stated = {
        path: replace(value, value=drawn[path], sd=0.0) if path in drawn else value
        for path, value in build.values.items()
    }
    assumed: dict[str, StatedValue] = {}
    made = replace(build, values=stated, _defaults=assumed)
    hanging = []
    for path, value in drawn.items():
        if path in stated:
            continue
        default = catalogue().default(path, build.engine_class)
        if default is not None and (default.of or default.air_at):
            hanging.append(path)
        else:
            assumed[path] = replace(build[path], value=value, sd=0.0)
    for path in hanging:
        middle = made.get(path)
        assert middle is not None
        departure = drawn[path] - float(build[path].value)
        assumed[path] = replace(middle, value=_on_ground(path, float(middle.value) + departure, made), sd=0.0)
    return made


def _on_ground(path: str, value: float, made: Build) -> float:
    """An assumed wheel size [m], no further out than the wheels on which the estimate from sizes stands: what
    nobody stated is some wheel of the trade, and one beyond the estimate's ground cannot be computed.
    """
    wheels, turbines = turbo_sizes.compressor_recipe(), turbo_sizes.turbine_recipe()
    if path == "turbo.compressor_exducer":
        inducer = made.number("turbo.compressor_inducer")
        low, high = (inducer / math.sqrt(trim / 100.0) for trim in reversed(wheels.trim))
    elif path == "turbo.turbine_inducer":
        low, high = turbines.plausible_diameter
    elif path == "turbo.turbine_exducer":
        wheel = made.number("turbo.turbine_inducer")
        low, high = (wheel * math.sqrt(trim / 100.0) for trim in turbines.trim)
    elif path == "turbo.turbine_housing":
        low, high = turbines.area_over_radius
    else:
        return value
    inside = 1e-3 * (high - low)
    return min(max(value, low + inside), high - inside)
