"""Bolted joints: proof load, preload and torque at assembly, their scatter, and what of the preload is lost.

A bolt is known by its major diameter and pitch; the diameters of its thread come from `threads`. The words
'head' and 'bearing' mean the turned face, head or nut. Torque figures of the vehicle's and the part's maker
go before anything worked out here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.threads import metric_diameters, stress_area

__all__ = [
    "BoltSection",
    "Friction",
    "Preload",
    "PreloadScatter",
    "assembly_preload",
    "bearing_diameter",
    "bolt_compliance",
    "bolt_sections",
    "clamped_compliance",
    "cone_slope",
    "embedding_loss",
    "equivalent_stress",
    "hot_preload",
    "preload_for_torque",
    "preload_scatter",
    "proof_load",
    "short_form_torque",
    "torque_factor",
    "torque_for_preload",
]

Array = NDArray[np.float64]

PITCH_PART: Final = 0.16  # 1/(2 pi), the slope of the thread in the torque [-] (vdi2230)
THREAD_PART: Final = 0.58  # 1/(2 cos 30 deg), the friction of the thread in the torque [-] (vdi2230)
FLANK: Final = 1.155  # 1/cos 30 deg [-]
PLASTIC_TWIST: Final = (
    1.5  # 3/2: torsion stress of a section that yields throughout over the elastic one (vdi2230)
)


def _floats(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


class Friction(NamedTuple):
    """Coefficients of friction of a bolted joint [-]. Fields broadcast."""

    thread: ArrayLike
    head: ArrayLike  # under the turned face


class Preload(NamedTuple):
    """Assembly preload and the torque that gives it."""

    force: Array  # [N]
    torque: Array  # [N m]


class PreloadScatter(NamedTuple):
    """Preload of a tightened bolt and its scatter by cause (shares of the mean, one standard deviation)."""

    mean: Array  # [N]
    sd: Array  # [N]
    from_tool: Array  # [-]
    from_thread: Array  # [-]
    from_head: Array  # [-]
    tightening_factor: Array  # largest over smallest preload at two standard deviations [-]


class BoltSection(NamedTuple):
    """A length of bolt of one cross-section. Fields broadcast."""

    length: ArrayLike  # [m]
    area: ArrayLike  # [m2]


def proof_load(proof_stress: ArrayLike, major: ArrayLike, pitch: ArrayLike) -> Array:
    """Proof load Fp = Sp As [N].

    proof_stress: Sp of the property class [Pa]. major, pitch: [m]. All broadcast. Exact by definition
    (iso898); its tables round to three digits.
    """
    return np.asarray(_floats(proof_stress) * stress_area(major, pitch))


def bearing_diameter(outer: ArrayLike, hole: ArrayLike) -> Array:
    """Mean diameter at which friction under the head acts, D_Km = (d_w + d_h)/2 [m].

    outer: d_w of the bearing face [m]. hole: d_h, or the face's inner diameter where that is larger [m].
    Source: vdi2230, from memory. Raises OutOfRange where the hole is wider than the face.
    """
    d_w, d_h = _floats(outer), _floats(hole)
    if np.any(d_h >= d_w):
        raise OutOfRange(
            f"The hole ({hole!r} m) is as wide as the face that should bear on its rim ({outer!r} m); "
            "give the outer diameter of head, nut or washer first, the hole second."
        )
    return np.asarray((d_w + d_h) / 2)


def _twist(major: ArrayLike, pitch: ArrayLike, thread_friction: ArrayLike) -> Array:
    """Torsion stress over tensile stress at tightening, with plastic twist [-]."""
    found, P = metric_diameters(major, pitch), _floats(pitch)
    d0 = (found.pitch + found.root) / 2
    lead = P / (np.pi * found.pitch) + FLANK * _floats(thread_friction)
    return np.asarray(PLASTIC_TWIST * found.pitch / d0 * lead)


def _torque_arm(major: ArrayLike, pitch: ArrayLike, bearing: ArrayLike, friction: Friction) -> Array:
    """Torque over preload [m]."""
    d2 = metric_diameters(major, pitch).pitch
    return np.asarray(
        PITCH_PART * _floats(pitch)
        + THREAD_PART * d2 * _floats(friction.thread)
        + _floats(bearing) / 2 * _floats(friction.head)
    )


def torque_for_preload(
    force: ArrayLike, major: ArrayLike, pitch: ArrayLike, bearing: ArrayLike, friction: Friction
) -> Array:
    """Tightening torque M = F (0.16 P + 0.58 d2 mu_G + D_Km mu_K/2) [N m].

    force: preload [N]. major, pitch: of the thread [m]. bearing: D_Km, `bearing_diameter` [m]. friction:
    `Friction` [-]. All broadcast. 60 degree threads without prevailing torque: a locking nut adds its own.
    Error: 1 % of the form for shallow threads; the friction, known to 20 %, rules. Source: vdi2230, from
    memory.
    """
    return np.asarray(_floats(force) * _torque_arm(major, pitch, bearing, friction))


def preload_for_torque(
    torque: ArrayLike, major: ArrayLike, pitch: ArrayLike, bearing: ArrayLike, friction: Friction
) -> Array:
    """Preload that a torque gives [N]; inverse of `torque_for_preload`, the same arguments."""
    return np.asarray(_floats(torque) / _torque_arm(major, pitch, bearing, friction))


def assembly_preload(
    yield_stress: ArrayLike,
    major: ArrayLike,
    pitch: ArrayLike,
    bearing: ArrayLike,
    friction: Friction,
    share: ArrayLike = 0.9,
) -> Preload:
    """Preload and torque at which tension and twist together reach a share of yield.

    F = v A0 Rp/sqrt(1 + 3 (3/2 d2/d0 (P/(pi d2) + 1.155 mu_G))^2), A0 = pi/4 d0^2, d0 = (d2 + d3)/2

    yield_stress: Rp0.2 [Pa]. major, pitch: [m]. bearing: D_Km [m]. friction: `Friction`. share: v, 0.9 usual
    [-]. All broadcast. For bolts whose thread is the narrowest section; a waisted shank holds less. Use the
    LOWEST likely friction: that is where twist leaves most tension and a given torque loads the bolt most.
    Error: 1 % of the published tables. Source: vdi2230, from memory.
    """
    twist = _twist(major, pitch, friction.thread)
    force = np.asarray(
        _floats(share) * _floats(yield_stress) * stress_area(major, pitch) / np.sqrt(1 + 3 * twist**2)
    )
    return Preload(force, torque_for_preload(force, major, pitch, bearing, friction))


def equivalent_stress(
    force: ArrayLike, major: ArrayLike, pitch: ArrayLike, thread_friction: ArrayLike
) -> Array:
    """Stress of a bolt while it is tightened, tension and twist together [Pa].

    s = F/A0 sqrt(1 + 3 (3/2 d2/d0 (P/(pi d2) + 1.155 mu_G))^2), the stress of `assembly_preload`.

    force: preload [N]. major, pitch: [m]. thread_friction: mu_G [-]. All broadcast. For bolts whose thread is
    the narrowest section. Half of the twist goes back once the wrench is off. Source: vdi2230, from memory.
    """
    twist = _twist(major, pitch, thread_friction)
    return np.asarray(_floats(force) / stress_area(major, pitch) * np.sqrt(1 + 3 * twist**2))


def short_form_torque(force: ArrayLike, major: ArrayLike, factor: ArrayLike = 0.2) -> Array:
    """Torque by the short form T = K F d [N m].

    force: [N]. major: d [m]. factor: K, 0.2 dry to 0.15 oiled [-]. Error: 20 to 30 %; common practice, no
    source.
    """
    return np.asarray(_floats(factor) * _floats(force) * _floats(major))


def torque_factor(major: ArrayLike, pitch: ArrayLike, bearing: ArrayLike, friction: Friction) -> Array:
    """Factor K of the short form that the long form means, (0.16 P + 0.58 d2 mu_G + D_Km mu_K/2)/d [-].

    Arguments as `torque_for_preload`.
    """
    return np.asarray(_torque_arm(major, pitch, bearing, friction) / _floats(major))


def preload_scatter(
    torque: ArrayLike,
    major: ArrayLike,
    pitch: ArrayLike,
    bearing: ArrayLike,
    friction: Friction,
    spread: Friction,
    tool_spread: ArrayLike,
    correlation: ArrayLike = 0.0,
) -> PreloadScatter:
    """Preload from a torque and how far it scatters by friction and wrench, to first order.

    F = M/k, k = 0.16 P + 0.58 d2 mu_G + D_Km mu_K/2;
    (s_F/F)^2 = (s_M/M)^2 + a^2 + b^2 + 2 r a b, a = 0.58 d2 s_G/k, b = D_Km s_K/(2 k).

    torque: M [N m]. major, pitch, bearing: [m]. friction, spread: means and standard deviations [-].
    tool_spread: s_M/M of the wrench, one standard deviation [-]. correlation: r between the two frictions,
    1 where one oil wets both [-]. All broadcast. The tightening factor is (1 + 2 s)/(1 - 2 s), infinite where
    s reaches one half. Error: second order, 4 % of the mean at 20 % friction. Source: gum2008 for the rule.
    """
    arm = _torque_arm(major, pitch, bearing, friction)
    d2, tool, r = metric_diameters(major, pitch).pitch, _floats(tool_spread), _floats(correlation)
    a = THREAD_PART * d2 * _floats(spread.thread) / arm
    b = _floats(bearing) / 2 * _floats(spread.head) / arm
    share = np.sqrt(tool**2 + a**2 + b**2 + 2 * r * a * b)
    mean = _floats(torque) / arm
    with np.errstate(divide="ignore"):
        factor = np.where(share < 0.5, (1 + 2 * share) / np.maximum(1 - 2 * share, 0.0), np.inf)
    whole = np.zeros(np.broadcast(mean, share).shape)
    return PreloadScatter(
        mean + whole, mean * share, tool + whole, a + whole, b + whole, np.asarray(factor + whole)
    )


def bolt_sections(
    major: ArrayLike, pitch: ArrayLike, shank_length: ArrayLike, thread_length: ArrayLike, *, tapped: bool
) -> tuple[BoltSection, ...]:
    """Elastic lengths of a hexagon bolt of full shank, the parts in head, thread and nut included.

    Head 0.5 d on the shank's area; shank; free thread on the root's area; engaged thread 0.5 d on the root's
    area; nut 0.4 d, tapped hole 0.33 d, on the shank's area.

    major, pitch: [m]. shank_length, thread_length: within the grip [m]. tapped: a tapped hole instead of a
    nut. Source: vdi2230, from memory.
    """
    d = _floats(major)
    full, root = np.pi / 4 * d**2, np.pi / 4 * metric_diameters(major, pitch).root ** 2
    return (
        BoltSection(0.5 * d, full),
        BoltSection(_floats(shank_length), full),
        BoltSection(_floats(thread_length) + 0.5 * d, root),
        BoltSection((0.33 if tapped else 0.4) * d, full),
    )


def bolt_compliance(sections: Sequence[BoltSection], modulus: ArrayLike) -> Array:
    """Lengthening of a bolt for each newton, sum of l/(E A) [m/N].

    sections: `BoltSection`s in series, such as `bolt_sections`. modulus: E [Pa], at its temperature. Error:
    10 % by the lengths in head and thread. Source: vdi2230, from memory.
    """
    parts = [_floats(s.length) / _floats(s.area) for s in sections]
    return np.asarray(sum(parts, start=np.float64(0.0)) / _floats(modulus))


def cone_slope(grip: ArrayLike, face: ArrayLike, part_diameter: ArrayLike, *, tapped: bool) -> Array:
    """Slope tan(phi) of the cone that carries the clamping force [-].

    bolt and nut: 0.362 + 0.032 ln(l/(2 d_w)) + 0.153 ln(D/d_w); tapped: 0.348 + 0.013 ln(l/d_w) +
    0.193 ln(D/d_w).

    grip: l [m]. face: d_w [m]. part_diameter: D of the clamped part around the bolt [m]. tapped: as in
    `bolt_sections`. Validity: l/d_w 0.2 to 10, D/d_w 1 to 4 (a wider part counts as 4). Source: vdi2230, from
    memory.
    """
    length = _floats(grip) / _floats(face)
    width = np.log(np.clip(_floats(part_diameter) / _floats(face), 1.0, 4.0))
    if tapped:
        return np.asarray(0.348 + 0.013 * np.log(length) + 0.193 * width)
    return np.asarray(0.362 + 0.032 * np.log(length / 2) + 0.153 * width)


def clamped_compliance(
    grip: ArrayLike,
    face: ArrayLike,
    hole: ArrayLike,
    part_diameter: ArrayLike,
    modulus: ArrayLike,
    *,
    tapped: bool,
) -> Array:
    """Shortening of the clamped parts for each newton: cones from head and nut, a sleeve where they fill the
    part [m/N].

    d_P = (2/(w d_h t) ln((d_w + d_h)(D' - d_h)/((d_w - d_h)(D' + d_h))) + 4/(D'^2 - d_h^2)(l - (D' - d_w)/
    (w t)))/(pi E), D' = min(D, d_w + w l t), t = tan(phi), w = 1 for a nut, 2 for a tapped hole.

    grip: l [m]. face: d_w [m]. hole: d_h [m]. part_diameter: D, not below d_w [m]. modulus: E, one for all
    clamped parts [Pa]. All broadcast. Error: 10 to 20 % for a bolt in the middle of a flat part; gaskets are
    not in it: add theirs. Source: vdi2230, from memory.
    """
    length, d_w, d_h = _floats(grip), _floats(face), _floats(hole)
    bearing_diameter(d_w, d_h)  # refuses a hole wider than the face
    slope, w = cone_slope(grip, face, part_diameter, tapped=tapped), 2.0 if tapped else 1.0
    D = np.minimum(np.maximum(_floats(part_diameter), d_w), d_w + w * length * slope)
    cone = 2 / (w * d_h * slope) * np.log((d_w + d_h) * (D - d_h) / ((d_w - d_h) * (D + d_h)))
    sleeve = 4 / (D**2 - d_h**2) * (length - (D - d_w) / (w * slope))
    return np.asarray((cone + sleeve) / (np.pi * _floats(modulus)))


def embedding_loss(settling: ArrayLike, bolt: ArrayLike, clamped: ArrayLike) -> Array:
    """Preload lost as rough faces flatten, F_Z = f_Z/(d_S + d_P) [N].

    settling: f_Z, all faces together [m]. bolt, clamped: compliances d_S, d_P [m/N]. All broadcast. Steel and
    aluminium without gasket, paint or sealant: those creep far more. Error: 50 %. Source: vdi2230, from
    memory.
    """
    return np.asarray(_floats(settling) / (_floats(bolt) + _floats(clamped)))


def hot_preload(
    cold: ArrayLike,
    grip: ArrayLike,
    compliance_cold: ArrayLike,
    compliance_hot: ArrayLike,
    bolt_strain: ArrayLike,
    clamped_strain: ArrayLike,
) -> Array:
    """Preload after heating, F = (F0 d0 + (e_P - e_S) l)/d [N], 0 where the joint comes loose.

    cold: F0 [N]. grip: l [m]. compliance_cold, compliance_hot: bolt and parts together, d_S + d_P, with the
    modulus of each temperature [m/N]. bolt_strain, clamped_strain: free expansion e_S, e_P, coefficient times
    rise of temperature [-]. All broadcast. Elastic: above about 300 degC (carbon steel) or 550 degC
    (austenitic) creep takes more and hour by hour. A value above the yield load at heat means that the bolt
    has stretched, and is looser than F0 when cold. Source: vdi2230, from memory; exact for elastic parts.
    """
    closing = (_floats(clamped_strain) - _floats(bolt_strain)) * _floats(grip)
    force = (_floats(cold) * _floats(compliance_cold) + closing) / _floats(compliance_hot)
    return np.asarray(np.maximum(force, 0.0))
