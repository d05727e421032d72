"""How the figures of a recorded drive are said: a unit for each kind of quantity, moments from its start."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from boostwright.drive.records import Notice, Reading
from boostwright.findings.model import Amount, Kind
from boostwright.library.channels import channel_kinds
from boostwright.library.notice_kinds import notice_kinds
from boostwright.quantity import Dimension
from boostwright.views.numbers import say_band

__all__ = [
    "KINDS",
    "PLOTTED",
    "channel_words",
    "moment",
    "notice_words",
    "place_words",
    "reading_amount",
    "reading_words",
]

KINDS: Final[Mapping[str, Kind]] = {
    Dimension.PRESSURE.value: Kind.PRESSURE_SMALL,
    Dimension.TEMPERATURE.value: Kind.TEMPERATURE,
    Dimension.TEMPERATURE_DIFFERENCE.value: Kind.TEMPERATURE_DIFFERENCE,
    Dimension.ANGLE.value: Kind.ANGLE,
    Dimension.SPARK.value: Kind.CRANK_DIFFERENCE,
    Dimension.ROTATION.value: Kind.ENGINE_SPEED,
    Dimension.SPEED.value: Kind.ROAD_SPEED,
    Dimension.MASS_FLOW.value: Kind.MASS_FLOW,
    Dimension.VOLUME_FLOW.value: Kind.VOLUME_FLOW,
    Dimension.TORQUE.value: Kind.TORQUE,
    Dimension.POWER.value: Kind.POWER,
    Dimension.TIME.value: Kind.DELAY,
    Dimension.VOLTAGE.value: Kind.VOLTAGE_DROP,
    Dimension.MIXTURE.value: Kind.RATIO,
    Dimension.SHARE.value: Kind.SHARE,
    Dimension.RATIO.value: Kind.RATIO,
    Dimension.COUNT.value: Kind.COUNT,
    Dimension.LENGTH.value: Kind.LENGTH,
}
"""The kind of amount in which a reading of each dimension is shown."""


PLOTTED: Final[Mapping[str, tuple[str, float, float]]] = {
    Dimension.PRESSURE.value: ("kPa", 1.0e3, 0.0),
    Dimension.TEMPERATURE.value: ("degC", 1.0, 273.15),
    Dimension.SPARK.value: ("deg", math.pi / 180.0, 0.0),
    Dimension.ROTATION.value: ("rpm", math.pi / 30.0, 0.0),
    Dimension.SPEED.value: ("km/h", 1.0 / 3.6, 0.0),
    Dimension.SHARE.value: ("%", 0.01, 0.0),
    Dimension.TIME.value: ("ms", 1.0e-3, 0.0),
    Dimension.MASS_FLOW.value: ("g/s", 1.0e-3, 0.0),
    Dimension.VOLTAGE.value: ("V", 1.0, 0.0),
    Dimension.MIXTURE.value: ("", 1.0, 0.0),
    Dimension.RATIO.value: ("g", 1.0, 0.0),
    Dimension.TORQUE.value: ("N m", 1.0, 0.0),
    Dimension.POWER.value: ("kW", 1.0e3, 0.0),
    Dimension.LENGTH.value: ("m", 1.0, 0.0),
}
"""Unit, factor and offset in which a signal of each dimension is drawn: shown = (SI - offset) / factor."""


def reading_amount(reading: Reading) -> Amount:
    """The reading as an amount that every door can show."""
    return Amount(reading.value, reading.sd, KINDS[reading.dimension], reading.of)


def reading_words(reading: Reading) -> str:
    """'boost over its target: 9.7 ± 1.2 kPa'."""
    return f"{reading.of}: {say_band(reading_amount(reading))}"


def moment(seconds: float) -> str:
    """A moment of the drive from its start: '12:31.2' or '1:02:31.2'."""
    tenths = round(max(0.0, seconds) * 10.0)
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    clock = f"{minutes}:{rest / 10:04.1f}"
    return f"{hours}:{minutes:02}:{rest / 10:04.1f}" if hours else clock


def place_words(notice: Notice) -> str:
    """Where it is: moment, length, rows of the file, and the figures of that moment."""
    lasts = notice.end - notice.start
    words = f"at {moment(notice.start)}"
    if lasts >= 0.05:
        words += f", {lasts:.1f} s long" if lasts < 60.0 else f", {moment(lasts)} min long"
    words += (
        f" (row {notice.first_row + 1})"
        if notice.first_row == notice.last_row
        else f" (rows {notice.first_row + 1} to {notice.last_row + 1})"
    )
    also = [reading_words(one) for one in notice.also]
    if notice.stretch is not None and notice.stretch.gear:
        also.append(f"gear {notice.stretch.gear}")
    return ", ".join([words, *also])


def notice_words(notice: Notice) -> str:
    """What the kind of notice is called, beginning with a capital."""
    words = notice_kinds()[notice.kind].words
    return words[:1].upper() + words[1:]


def channel_words(keys: Sequence[str]) -> str:
    """The quantities by their plain names."""
    kinds = channel_kinds()
    return ", ".join(kinds[k].words if k in kinds else k for k in dict.fromkeys(keys))
