"""The pressure sensor and the engine controller that a build states."""

from __future__ import annotations

from typing import Final

from boostwright.build.document import Build
from boostwright.physics.pressure_sensor import Transfer
from boostwright.systems.sensing import Controller, LoadFrom, PressureSensor, Reaction

__all__ = ["UNKNOWN_END", "controller_of", "pressure_sensor_of"]

UNKNOWN_END: Final = 105.0e3  # of a sensor whose transfer nobody has stated [Pa absolute] (common practice)
_LOWEST: Final = 15.0e3  # of one whose bottom nobody has stated [Pa absolute] (common practice, no source)
_SIGNAL: Final = (0.40, 4.65)  # usual ends of a ratiometric signal [V] (common practice, no source)
_REACTIONS: Final = {
    "limits": Reaction.STOPS,
    "cuts": Reaction.STOPS,
    "ignores": Reaction.NOTHING,
    "none": Reaction.NOTHING,
}


def _number(build: Build, path: str) -> float | None:
    stated = build.get(path)
    return None if stated is None else float(stated.value)


def _reaction(build: Build, path: str) -> Reaction:
    stated = build.get(path)
    return Reaction.UNKNOWN if stated is None else _REACTIONS[str(stated.value)]


def pressure_sensor_of(build: Build, unknown_end: float = UNKNOWN_END) -> PressureSensor:
    """The sensor; one of unknown range is taken to end at ``unknown_end`` [Pa absolute].

    Where one end of the signal is stated and lies beyond the usual other one, that keeps its usual distance.
    """
    highest, lowest = (
        _number(build, "pressure_sensor.highest"),
        _number(build, "pressure_sensor.lowest"),
    )
    signals = (
        _number(build, "pressure_sensor.voltage_lowest"),
        _number(build, "pressure_sensor.voltage_highest"),
    )
    ends = [usual if own is None else own for own, usual in zip(signals, _SIGNAL, strict=True)]
    if not ends[0] < ends[1]:
        bottom, top = _SIGNAL
        ends = (
            [ends[1] - (top - bottom), ends[1]] if signals[0] is None else [ends[0], ends[0] + top - bottom]
        )
    transfer = Transfer(
        _LOWEST if lowest is None else lowest, unknown_end if highest is None else highest, ends[0], ends[1]
    )
    return PressureSensor(transfer, highest is not None)


def controller_of(build: Build) -> Controller:
    """The controller."""
    return Controller(
        load=LoadFrom(build.words("controller.load")),
        boost_cut=_number(build, "controller.boost_cut"),
        table_top=_number(build, "controller.table_top"),
        closed_loop_below=_number(build, "controller.closed_loop_below"),
        meter_highest=_number(build, "controller.meter_highest"),
        torque_limit=_number(build, "controller.torque_limit"),
        electronic_throttle=build.words("throttle.kind") == "electronic",
        on_sensor_fault=_reaction(build, "controller.sensor_fault"),
        on_lean=_reaction(build, "controller.lean_guard"),
    )
