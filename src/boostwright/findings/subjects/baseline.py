"""Is the computed engine the engine in front of you: torque per litre, and your own torque figures."""

from __future__ import annotations

import math

import numpy as np

from boostwright.build.values import Source
from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.physics.power_correction import iso_1585

__all__ = ["against_stated", "torque_per_litre"]

_MODEL_SD = 0.06  # of a computed full-load torque with class defaults: breathing and friction
_NEAR = 300.0 * math.pi / 30.0  # a stated point farther off says little of a computed one [rad/s]
_DRY = 0.99  # of the air's pressure: 1 kPa of vapour in 100 kPa, as in the reference atmosphere of iso1585
_REFERENCE = {  # total pressure [Pa] and temperature [K] to which a standard corrects
    "iso1585": (100.0e3, 298.15),
    "j1349": (100.0e3, 298.15),
    "din70020": (101.3e3, 293.15),
}
_FORMULA_SD = 0.01  # of the correction itself, within the window in which it counts (judgement)
_DRIVE_LOSS, _DRIVE_LOSS_SD = 0.12, 0.03  # between crank and wheels (common practice, no source)


@rule(
    "baseline.torque_per_litre",
    "Torque per litre before the turbo",
    asks="Does the computed engine give what such engines usually give?",
    demand="greatest computed torque over displacement",
    capacity="usual torque per litre of the class",
    harm=Harm.POOR_RUNNING,
    harm_words="a wrong input makes every other number wrong",
    sense=Sense.AT_LEAST,
    limits=("usual_torque_four_valve", "usual_torque_two_valve"),
)
def torque_per_litre(rule: Rule, case: Case) -> Finding | None:
    """max T / V_d against the low end of the usual band."""
    torque = case.baseline.result.torque
    best = int(np.nanargmax(torque))
    usual = float(torque[best]) / case.engine.displacement
    air = (
        case.ambient_pressure / 1.0e5 * 298.15 / case.ambient_temperature
    )  # usual figures are for common air
    two = case.engine.intake.count == 1
    limit = case.limits["usual_torque_two_valve" if two else "usual_torque_four_valve"]
    return rule.finding(
        Amount(
            usual / air,
            _MODEL_SD * usual / air,
            Kind.TORQUE_PER_VOLUME,
            "best of the computed curve, in common air",
        ),
        limit.amount,
        limit,
        place=Place(float(case.baseline.speeds[best])),
        cause=Phrase("Valve sizes, lifts, cam timing and compression ratio decide it."),
        remedy=Phrase("Check bore, stroke, valve sizes and cam timing in the file against the engine."),
        reading=Reading(
            "Look up the torque that the maker states for this engine code, and put it in the file.", 600.0
        ),
        about=(
            "engine.intake_lift",
            "engine.intake_closes",
            "engine.intake_valve_diameter",
            "engine.port_flow",
        ),
    )


@rule(
    "baseline.stated_torque",
    "Computed against your torque figures",
    asks="Does the computed engine agree with the torque that you state?",
    demand="largest difference between computed and stated torque, as a share",
    capacity="agreement to be expected",
    harm=Harm.POOR_RUNNING,
    harm_words="a wrong input or a sick engine makes every other number wrong",
    sense=Sense.AT_MOST,
    limits=("stated_torque",),
)
def against_stated(rule: Rule, case: Case) -> Finding | None:
    """max |T_computed / T_stated - 1| at the computed speeds that have a stated point near.

    Wheels count 12 % less. The stated figure is brought from its weather, or from the atmosphere of its
    standard, to the air of the place for which the engine is computed (iso1585).
    """
    speeds, torques = case.stated("baseline.speed"), case.stated("baseline.torque")
    if speeds is None or torques is None:
        return None
    at, given = np.asarray(speeds.value, dtype=float), np.asarray(torques.value, dtype=float)
    line = case.baseline
    away = np.min(np.abs(line.speeds[:, np.newaxis] - at), axis=1)
    near = (away <= _NEAR) & (line.speeds >= at[0]) & (line.speeds <= at[-1])
    if not near.any():
        return None
    speed = line.speeds[near]
    stated = np.interp(speed, at, given)
    spread = np.broadcast_to(np.asarray(torques.sd or 0.0, dtype=float), at.shape)
    sd = np.interp(speed, at, spread) / stated
    loss_sd = 0.0
    if case.word("baseline.at") == "wheels":
        stated, loss_sd = stated / (1.0 - _DRIVE_LOSS), _DRIVE_LOSS_SD
    weather, weather_sd = _weather(case)
    ratio = line.result.torque[near] / (stated * weather)
    worst = int(np.argmax(np.abs(ratio - 1.0)))
    off = abs(float(ratio[worst]) - 1.0)
    limit = case.limits["stated_torque"]
    more = "more" if ratio[worst] > 1.0 else "less"
    return rule.finding(
        Amount(
            off,
            math.hypot(float(sd[worst]), loss_sd, weather_sd),
            Kind.SHARE,
            "largest difference from your figures, brought to the air of the place",
        ),
        limit.amount,
        limit,
        place=Place(float(speed[worst])),
        cause=Phrase(
            f"The model gives {{off}} {more} than you state, both in the air of the place.",
            {"off": Amount(off, None, Kind.SHARE)},
        ),
        remedy=Phrase(
            "Check the figures, the weather they were read in, and the engine's valve and cam data."
        ),
        reading=Reading(
            "Two full-load pulls before the conversion, with lambda and manifold pressure.", 3600.0
        ),
        about=("baseline.torque", "engine.intake_closes", "engine.runner_length", "engine.port_flow"),
    )


def _weather(case: Case) -> tuple[float, float]:
    """What turns a stated torque into one in the air of the place, and its relative standard deviation.

    A curve on paper that says nothing of its weather is taken as one in the reference atmosphere of ISO 1585.
    """
    place = float(iso_1585(_DRY * case.ambient_pressure, case.ambient_temperature).factor)
    label = case.word("baseline.correction") or "none"
    told = any(case.build.is_stated(f"baseline.{name}") for name in ("temperature", "barometer"))
    torque = case.build.get("baseline.torque")
    on_paper = torque is not None and torque.source is not Source.MEASURED and not told
    if label == "none" and on_paper:
        label = "iso1585"
    if label != "none":
        pressure, temperature = _REFERENCE[label]
        return float(iso_1585(_DRY * pressure, temperature).factor) / place, _FORMULA_SD
    air = case.amount("baseline.barometer", Kind.PRESSURE, "barometer")
    warm = case.amount("baseline.temperature", Kind.TEMPERATURE, "air")
    pressure = case.ambient_pressure if air is None else air.value
    temperature = case.ambient_temperature if warm is None else warm.value
    pressure_sd = 1.5e3 if air is None else air.sd or 0.0
    temperature_sd = 0.0 if warm is None else warm.sd or 0.0
    sd = math.hypot(_FORMULA_SD, 1.2 * pressure_sd / pressure, 0.6 * temperature_sd / temperature)
    return float(iso_1585(_DRY * pressure, temperature).factor) / place, sd
