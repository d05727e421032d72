"""Boost over speed: what to aim at, and what the valve in the gate's signal line must take off for it."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.records import Origin, Table
from boostwright.calibration.work import Work, origins, speed_axis
from boostwright.quantity import Dimension, PressureKind
from boostwright.systems.wastegate import Control, Gate, GateAnswers

__all__ = ["boost_tables"]

Array = NDArray[np.float64]

_HELD: Final = 2.0e3  # within which a boost counts as the one asked for [Pa]


def boost_tables(work: Work) -> tuple[tuple[Table, ...], tuple[str, ...]]:
    """Boost target, share of the signal to take off and duty of the valve; and what cannot be said."""
    case = work.case
    goal = case.goal
    if goal is None:
        return (), (f"No boost target and no gate duty: {case.no_goal}",)
    asked = case.ambient_pressure + work.build.number("goal.boost")
    reached = goal.plenum_pressure
    value = np.where(goal.turbine_enough, np.minimum(reached, asked), reached)
    notes = [
        (
            "Where the turbine cannot drive the boost asked for, what it reaches: so that a control that"
            " sums up its"
            " error does not wind up before boost is there."
        )
    ]
    over = goal.settled & (reached > asked + _HELD)
    if over.any():
        notes.append(
            "The gate lets more through than is asked for at some speeds; no target brings that down."
        )
    if (~goal.settled).any():
        notes.append("No number where the match of engine and turbo did not settle.")
    axis = speed_axis(goal.speed)
    n = goal.speed.size
    target = Table(
        "boost_target",
        "manifold pressure to aim at with the throttle open",
        Dimension.PRESSURE,
        (axis,),
        value,
        goal.boost_sd,
        origins((n,), Origin.MODEL),
        goal.settled.copy(),
        tuple(notes),
        pressure=PressureKind.ABSOLUTE,
    )
    more, missing = _gate(work)
    return (target, *more), missing


def _gate(work: Work) -> tuple[tuple[Table, ...], tuple[str, ...]]:
    build = work.build
    answers: GateAnswers | None = work.case.extra.get("gate")
    assert work.case.goal is not None
    if answers is None:
        return (), ("Gate duty: the match gave no answer for the gate.",)
    gate = answers.gate
    if gate.control is Control.SPRING:
        return (), ("No gate duty: a spring alone holds the boost, and no valve is in its signal line.",)
    if not build.is_stated("wastegate.spring"):
        why = (
            "Gate duty: nobody has stated at which pressure the actuator moves; with a guessed spring"
            " the duty would"
            " be a guess. Measure it with a hand pump and state wastegate.spring."
        )
        return (), (why,)
    if gate.duty is not None:
        return (), ("No gate duty: the bleed is set by hand, the controller does not move it.",)
    share, sd = _share(gate, answers)
    axis = speed_axis(work.case.goal.speed)
    n = share.size
    where = np.isfinite(share)
    notes = [
        "Force balance of the gate at the pressures of the match: spring, diaphragm, exhaust on the valve."
    ]
    if not where.all():
        notes.append(
            "No number where the gate stays shut or where nothing that the valve does holds the target."
        )
    tables = [
        Table(
            "gate_signal_share",
            "share of the signal's pressure that must not reach the diaphragm",
            Dimension.SHARE,
            (axis,),
            share,
            sd,
            origins((n,), Origin.MODEL),
            where.copy(),
            tuple(notes),
        )
    ]
    pulsed = build.words("wastegate.control") == "solenoid"
    if pulsed and not build.is_stated("wastegate.solenoid"):
        return tuple(tables), (
            (
                "Gate duty: the file does not state how the solenoid valve is plumbed (wastegate.solenoid),"
                " and a bleed"
                " and a three-port valve ask for quite different duties. The share of the signal to take off"
                " is given."
            ),
        )
    gain_sd = gate.spread.gain / gate.gain
    duty = answers.gate_duty
    duty_sd = np.hypot(sd / gate.gain * (gate.full - gate.dead), duty * gain_sd)
    tables.append(
        replace(
            tables[0],
            key="gate_duty",
            words="duty of the solenoid valve",
            value=duty.copy(),
            sd=duty_sd,
            notes=(*notes, "A first guess for a control that closes the loop; begin on the spring alone."),
        )
    )
    return tuple(tables), ()


def _share(gate: Gate, answers: GateAnswers) -> tuple[Array, Array]:
    """Share of the signal that the valve takes off where it holds the target, and its spread [-].

    The signal at the diaphragm of one pascal at the tap over none outside is what the valve lets through.
    """
    duty = answers.gate_duty
    left = gate.signal(np.ones(duty.shape), 0.0, np.nan_to_num(duty))
    share = np.where(np.isfinite(duty), 1.0 - left, np.nan)
    asked = np.maximum(answers.boost_asked, 1.0)
    s = gate.spread
    sd = np.sqrt(s.bench_crack**2 + s.hysteresis**2) / asked
    return share, np.where(
        np.isfinite(share), np.hypot(sd, (1.0 - share) * s.diaphragm_area / gate.diaphragm_area), np.nan
    )
