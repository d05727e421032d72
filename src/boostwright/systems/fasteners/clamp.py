"""What is left of a joint's clamp once its faces have settled and it has been hot, and what pries it open."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import OutOfRange
from boostwright.library.bolts import BoltMaterial, creep, head, settling, shaking, warmth
from boostwright.physics.bolts import (
    bolt_compliance,
    bolt_sections,
    clamped_compliance,
    embedding_loss,
    hot_preload,
)
from boostwright.physics.threads import stress_area
from boostwright.systems.fasteners.record import Fastener, Known
from boostwright.systems.fasteners.tightening import Missing, clamp_at

__all__ = ["COLD", "ClampLeft", "Heat", "clamp_left", "heat_of", "longer", "opening_force", "seating_force"]

Array = NDArray[np.float64]

COLD: Final = 293.15  # at which joints are tightened [K]
ROUGHNESS: Final = 25e-6  # Rz of turned and milled faces [m] (common practice, no source)
THREADED: Final = 0.5  # share of the grip in which the bolt has its thread (judgement)
PART: Final = 2.0  # diameter of the clamped part around a bolt over that of its face (judgement)
COMPLIANCE_SD: Final = 0.15  # of bolt and parts, from bolt to bolt (vdi2230 gives 10 to 20 %)
TOGETHER: Final = 0.8  # share of the variance of both temperatures that they have in common (judgement)
HOT_YIELD: Final = 0.8  # yield at 250 degC over that at 20 degC (iso898, from memory)
_HOT: Final = 773.15 - COLD  # rise at which the table gives the hot modulus [K]
_NO_HOT_MODULUS: Final = 0.6  # of a material that is not for it: it loses more than a tenth for each 100 K


class Heat(NamedTuple):
    """Temperatures of a joint at lasting full load [K]."""

    part: Known
    bolt: Known


class ClampLeft(NamedTuple):
    """Clamp of one bolt along its life [N]."""

    tightened: Known
    settled: Known  # cold again after the faces and the gasket have settled
    hot: Known  # at lasting full load, before creep
    least: Known  # the smaller of hot and cold-again, after some hundred hours


def heat_of(place: str, gas: Known, coolant: float) -> Heat | None:
    """How warm a joint on the exhaust becomes; None for a place that is not on it.

    gas: before the turbine [K]. coolant: [K]. The metal stands a share of the way between them, `warmth`.
    """
    row = warmth(place)
    if row is None:
        return None
    rise = gas.value - coolant

    def known(share: float) -> Known:
        return Known(coolant + share * rise, math.hypot(row.spread * rise, share * gas.sd))

    return Heat(known(row.part), known(row.bolt))


def longer(bolt: Fastener, factor: float) -> Fastener:
    """The same joint with sleeves under the heads that make its grip so many times longer."""
    grip = bolt.grip
    return bolt if grip is None else replace(bolt, grip=Known(factor * grip.value, grip.sd))


def clamp_left(
    bolt: Fastener, torque: float, heat: Heat | None, settled_before: bool = False
) -> ClampLeft | Missing:
    """Clamp of one bolt as tightened, settled, hot, and the least that is left.

    torque: [N m]. heat: None for a joint that stays cold. settled_before: tightened again after the first
    heat, so that settling and the gasket's set are made good. Spread: friction and wrench, settling, set,
    temperatures, expansion, compliance and creep, each moved by one standard deviation and added in squares.
    """
    tight = clamp_at(bolt, torque)
    wanting = [
        words
        for words, there in (
            ("size", bolt.thread is not None),
            ("lubricant", bolt.friction is not None),
            ("class", bolt.material is not None and bolt.strength is not None),
            ("grip_length", bolt.grip is not None),
            ("clamped_material", bolt.clamped is not None),
        )
        if not there
    ]
    if wanting or tight is None:
        return Missing(", ".join(wanting))
    moves = _moves()
    force = tight.value + tight.sd * moves[:, 0]
    again = 0.0 if settled_before else 1.0
    settle = np.maximum(1.0 + 0.5 * moves[:, 1], 0.0) * again
    gasket = 0.0 if bolt.gasket is None else bolt.gasket.set
    set_sd = 0.0 if bolt.gasket is None else bolt.gasket.spread
    taken = gasket * (1.0 + set_sd * moves[:, 2]) * again
    whole, cold = _compliances(bolt, COLD, COLD, 1.0 + COMPLIANCE_SD * moves[:, 3])
    after = np.maximum((force - embedding_loss(_settling(bolt) * settle, whole, cold)) * (1.0 - taken), 0.0)
    if heat is None:
        known = _known(after)
        return ClampLeft(tight, known, known, known)
    alike, apart = math.sqrt(TOGETHER) * moves[:, 4], math.sqrt(1.0 - TOGETHER) * moves[:, 5]
    part = heat.part.value + heat.part.sd * (alike + apart)
    hot_bolt = heat.bolt.value + heat.bolt.sd * (alike - apart)
    warm = _warm(bolt, after, part, hot_bolt, moves)
    stretched = np.maximum(warm - _yields_at(bolt), 0.0)
    kept = _kept(bolt, hot_bolt, moves[:, 6])
    least = np.minimum(warm - stretched, np.maximum(after - stretched, 0.0)) * kept
    return ClampLeft(tight, _known(after), _known(warm - stretched), _known(least))


def _moves() -> Array:
    """One row with nothing moved, then each of eight unknowns one deviation up and one down."""
    eye = np.eye(8)
    return np.vstack((np.zeros((1, 8)), eye, -eye))


def _known(values: Array) -> Known:
    """Middle and spread: half of the difference of each pair, added in squares."""
    n = (values.size - 1) // 2
    half = (values[1 : n + 1] - values[n + 1 :]) / 2
    return Known(float(values[0]), float(np.sqrt(np.sum(half**2))))


def _settling(bolt: Fastener) -> float:
    joints = 1 if bolt.gasket is None or bolt.gasket.name in ("none", "ring") else 2
    return settling(ROUGHNESS).whole(joints, 2 if bolt.in_nut else 1)


def _modulus(material: BoltMaterial, temperature: Array | float) -> Array:
    """Modulus at a temperature, on a straight line from 20 to 500 degC and on [Pa]."""
    left = _NO_HOT_MODULUS if material.hot_modulus is None else material.hot_modulus
    share = 1.0 - (1.0 - left) * (np.asarray(temperature) - COLD) / _HOT
    return np.asarray(material.modulus * np.maximum(share, 0.3))


def _compliances(
    bolt: Fastener, part_at: Array | float, bolt_at: Array | float, scale: Array
) -> tuple[Array, Array]:
    """Compliance of the bolt and of the parts [m/N]."""
    assert bolt.thread is not None
    assert bolt.grip is not None
    assert bolt.material is not None
    assert bolt.clamped is not None
    d, pitch, grip = bolt.thread.major, bolt.thread.pitch, bolt.grip.value
    try:
        row = head(d)
        face, hole = row.face, row.hole
    except OutOfRange:
        face, hole = 1.45 * d, 1.10 * d
    face = max(bolt.face or face, 1.05 * hole)
    tapped = not bolt.in_nut
    sections = bolt_sections(d, pitch, (1.0 - THREADED) * grip, THREADED * grip, tapped=tapped)
    own = bolt_compliance(sections, _modulus(bolt.material, bolt_at))
    clamped = clamped_compliance(
        grip, face, hole, PART * face, _modulus(bolt.clamped, part_at), tapped=tapped
    )
    return np.asarray(own * scale), np.asarray(clamped * scale)


def _yields_at(bolt: Fastener) -> float:
    """Force at which a hot bolt stretches for good [N]; what is above it is missing when it is cold again."""
    assert bolt.thread is not None
    assert bolt.strength is not None
    area = float(stress_area(bolt.thread.major, bolt.thread.pitch))
    return HOT_YIELD * bolt.strength.yield_stress * area


def _warm(bolt: Fastener, force: Array, part_at: Array, bolt_at: Array, moves: Array) -> Array:
    assert bolt.grip is not None
    assert bolt.material is not None
    assert bolt.clamped is not None
    factor = 1.0 + COMPLIANCE_SD * moves[:, 3]
    cold_bolt, cold_part = _compliances(bolt, COLD, COLD, factor)
    warm_bolt, warm_part = _compliances(bolt, part_at, bolt_at, factor)
    own = bolt.material.expansion * (bolt_at - COLD)
    theirs = bolt.clamped.expansion * (part_at - COLD)
    unsure = moves[:, 7] * np.hypot(bolt.material.spread * own[0], bolt.clamped.spread * theirs[0])
    return hot_preload(
        force, bolt.grip.value, cold_bolt + cold_part, warm_bolt + warm_part, own, theirs + unsure
    )


def _kept(bolt: Fastener, bolt_at: Array, move: Array) -> Array:
    """Share of the clamp that creep of the bolt leaves."""
    assert bolt.strength is not None
    assert bolt.material is not None
    name = bolt.strength.name
    family = (
        name
        if name in ("660", "21CrMoV5-7")
        else "austenitic stainless"
        if bolt.material.name == "austenitic stainless"
        else "carbon"
    )
    row = creep(family)
    lost = 1.0 - np.interp(bolt_at, row.temperatures, row.kept)
    return np.asarray(np.clip(1.0 - lost * (1.0 + row.spread * move), 0.0, 1.0))


def opening_force(bolt: Fastener, pressure: Known, area: Known, ports: int) -> Known:
    """Force on the whole joint that its bolts must hold: gas on the opening and on the gasket, and what hangs
    on it [N].

    F = p (A + m b 2 sqrt(pi n A)) + 2 M a L/s

    pressure: p above the air outside [Pa]. area: A of all ports together [m2]. ports: n. The gasket must keep
    m times p on its width b; a mass M shaken by a and hanging L out pries about the edge of a pattern s wide.
    Error: as the spread says; bending of thin flanges and heat between ports are not in it. Source:
    asmeviii2019 for m, from memory; the rest common practice.
    """
    row = shaking(bolt.clamps)
    gasket, width, spread = 0.0, 0.0, 0.0
    if bolt.gasket is not None:
        gasket, width, spread = bolt.gasket.factor, bolt.gasket.width, bolt.gasket.spread
    land = gasket * width * 2 * math.sqrt(math.pi * ports * area.value)
    gas = pressure.value * (area.value + land)
    gas_sd = math.hypot(
        pressure.sd * (area.value + land),
        pressure.value * math.hypot(area.sd, spread * land),
    )
    mass, mass_sd = bolt.hangs_on if bolt.hangs_on is not None else row.mass
    (a, a_sd), (lever, lever_sd) = row.acceleration, row.lever
    pry = 2.0 * mass * a * lever
    parts = (mass_sd / mass if mass > 0.0 else 0.0, a_sd / a, lever_sd / lever)
    return Known(gas + pry, math.hypot(gas_sd, pry * math.hypot(*parts)))


def seating_force(bolt: Fastener, area: Known, ports: int) -> Known | None:
    """Force on the whole joint that beds its gasket in when it is tightened [N]; None where none is asked.

    F = (b/2) 2 sqrt(pi n A) y, on half of the gasket's width b, which is what bears once the flange bends.

    area: A of all ports together [m2]. ports: n. Round ports; error 40 % by y, and the width. Source:
    asmeviii2019, from memory.
    """
    if bolt.gasket is None or bolt.gasket.seat <= 0.0:
        return None
    force = bolt.gasket.width * math.sqrt(math.pi * ports * area.value) * bolt.gasket.seat
    return Known(force, force * math.hypot(bolt.gasket.spread, 0.5 * area.sd / area.value))
