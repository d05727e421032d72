"""Battery, its cable and fuse, and the pump's wiring of a build; what it leaves out takes the usual."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from boostwright.build.document import Build
from boostwright.library.cables import between, heat_cable, insulation, joint
from boostwright.library.electrics import electric_constant
from boostwright.library.fuses import FuseType, fuse_type
from boostwright.physics.cable import Joint, resistance_at
from boostwright.physics.pump_wiring import SupplyPath, linear_operating_point, path_resistance
from boostwright.systems.electrics import Fuse, MainCable

__all__ = [
    "PumpFeed",
    "PumpLoad",
    "battery_moved",
    "cranking_of",
    "fuse_of",
    "fused",
    "main_cable_of",
    "main_fuse_type",
    "pump_feed_of",
    "pump_wiring_stated",
]

_COVER: Final = "pvc_85"  # where the file names none (judgement)
_WIRE_SPREAD: Final = 0.02  # of the resistance of a cable by its standard (iec60228)
_BOUGHT: Final = 0.03  # of the section of a cable that is still to be bought, as one whose print is read
_STARTER_LUGS: Final = 4  # of the feed: battery, fuse on both sides, starter
_BODY_LUGS: Final = 4  # of a return by the body: at the battery's bolt, and the engine's strap
_BODY_BOLTS: Final = 3  # of the battery's lead, and the strap from body to engine


def _word(build: Build, path: str, usual: str) -> str:
    stated = build.get(path)
    return usual if stated is None else str(stated.value)


def battery_moved(build: Build) -> bool:
    """Whether the battery has left the engine bay."""
    return build.words("battery.position") != "bay"


def fused(build: Build) -> bool | None:
    """Whether a fuse stands in the positive cable; None when the file does not say."""
    if build.is_stated("battery.fused"):
        return build.flag("battery.fused")
    return True if build.is_stated("battery.fuse") else None


def main_fuse_type(build: Build) -> FuseType:
    """The type of the main fuse."""
    return fuse_type(_word(build, "battery.fuse_type", "bolted"))


def fuse_of(build: Build) -> Fuse | None:
    """The main fuse; None where no rating is stated or there is none."""
    rating = build.get("battery.fuse")
    if rating is None or fused(build) is False:
        return None
    return Fuse(main_fuse_type(build).gates, float(rating.value))


def cranking_of(build: Build) -> tuple[float, float, bool]:
    """Warm cranking current and its standard deviation [A], and whether it was stated."""
    stated = build.get("battery.cranking_current")
    if stated is not None:
        return float(stated.value), float(stated.sd or 0.0), True
    usual = electric_constant("start", "current")
    return usual.value * build.displacement, usual.sd * build.displacement, False


def main_cable_of(build: Build, section: float | None = None) -> MainCable | None:
    """The starter's cable; None where the file does not state both its section and its length.

    section: another one in place of the stated [m2].
    """
    area, length = build.get("battery.cable_area"), build.get("battery.cable_length")
    if area is None or length is None:
        return None
    metal = float(area.value) if section is None else section
    cover = _word(build, "battery.cable_cover", _COVER)
    lie = _word(build, "battery.cable_lie", "under_carpet" if battery_moved(build) else "free")
    by_cable = _word(build, "battery.return", "body") == "cable"
    feed = [joint("battery_clamp"), *[joint("crimped_lug")] * _STARTER_LUGS]
    if fused(build):
        feed.append(joint("bolted_fuse"))
    back = [joint("battery_clamp")]
    if by_cable:
        back += [joint("crimped_lug")] * 2
    else:
        back += [
            *[joint("crimped_lug")] * _BODY_LUGS,
            *[joint("body_bolt")] * _BODY_BOLTS,
            joint("body_path"),
        ]
    rated = insulation(cover)
    row = between(metal)
    section_sd = float(area.sd or 0.0) / float(area.value) if section is None else _BOUGHT
    length_sd = float(length.sd or 0.0) / float(length.value)
    return MainCable(
        cable=heat_cable(metal, cover, lie),
        section=metal,
        feed_length=float(length.value),
        back_length=float(length.value) if by_cable else 0.0,
        feed_joints=tuple(feed),
        back_joints=tuple(back),
        spread=math.hypot(row.spread, section_sd, length_sd),
        short_temperature=rated.short_circuit,
        continuous=rated.continuous,
    )


# ------------------------------------------------------------------------------------------------- pump


class PumpFeed(NamedTuple):
    """The pump's supply."""

    voltage: float  # at its terminals [V]
    voltage_sd: float
    source: float  # at the battery's posts [V]
    current: float  # [A]
    current_sd: float
    current_stated: bool
    path: SupplyPath  # [ohm]
    resistance: float  # of the whole path [ohm]

    @property
    def drop(self) -> float:
        """Lost on the way [V]."""
        return self.source - self.voltage

    @property
    def drop_sd(self) -> float:
        """Of what is lost: the source's own spread is none of it [V]."""
        own = electric_constant("battery", "running_voltage").sd
        return math.sqrt(max(self.voltage_sd**2 - own**2, 0.0))


@dataclass(frozen=True, slots=True)
class PumpLoad:
    """What the pump is asked for, from its curve: flow [m3/s] at a pressure [Pa], its rated voltage [V]."""

    flow: float
    pressure: float
    voltage: float


def pump_wiring_stated(build: Build) -> bool:
    """Whether the file states the pump's wire: section and length."""
    return build.is_stated("pump.cable_area") and build.is_stated("pump.cable_length")


def _many(kind: str, count: float) -> Joint:
    one = joint(kind)
    return Joint(count * one.resistance, math.sqrt(count) * one.sd)


def pump_feed_of(build: Build, load: PumpLoad, section: float | None = None) -> PumpFeed | None:
    """Voltage at the pump's terminals from its wiring; None where no wiring is stated.

    section: of a wire in place of the stated one [m2].

    V = V_source - R I; the current of a pump at one pressure hardly changes with its voltage, as its torque
    does not. I as stated, else flow times pressure over efficiency and voltage. Wires at the place's
    temperature. Error: 10 to 15 % of the current, contacts as their rows say.
    """
    if not pump_wiring_stated(build):
        return None
    area, length = build["pump.cable_area"], build["pump.cable_length"]
    T = electric_constant("place", "boot")
    metal = float(area.value) if section is None else section
    metal_sd = float(area.sd or 0.0) / metal if section is None else _BOUGHT
    wire = float(resistance_at(between(metal).resistance_20 * float(length.value), T.value))
    wire_spread = math.hypot(_WIRE_SPREAD, metal_sd, float(length.sd or 0.0) / float(length.value))
    relay = build.get("pump.relay")
    own_relay = relay is not None and relay.value is True
    stated_plugs = build.get("pump.connectors")
    plugs = electric_constant("pump", "plugs").value if stated_plugs is None else float(stated_plugs.value)
    switch = electric_constant("pump", "ignition_switch")
    contact = joint("relay_contact") if own_relay else Joint(switch.value, switch.sd)
    tank, pins, fuse = joint("tank_bulkhead"), _many("connector_pin", plugs), joint("blade_fuse")
    by_cable = _word(build, "pump.earth", "body") == "cable"
    bolts = _many("body_bolt", 2)
    back = wire if by_cable else bolts.resistance + joint("body_path").resistance
    path = SupplyPath(wire, contact.resistance, fuse.resistance, tank.resistance + pins.resistance, back)
    joints_sd = math.hypot(contact.sd, fuse.sd, tank.sd, pins.sd, 0.0 if by_cable else bolts.sd)
    wires = wire * (2.0 if by_cable else 1.0)
    source = electric_constant("battery", "running_voltage")
    current, current_sd, told = _pump_current(build, load)
    point = linear_operating_point(source.value, path, current, 0.0)
    R = float(path_resistance(path))
    sd = math.hypot(source.sd, current * math.hypot(joints_sd, wire_spread * wires), R * current_sd)
    volts = float(point.voltage)
    # where the path does not let it run at that current, nothing is left at its terminals
    return PumpFeed(
        volts if math.isfinite(volts) else 0.0, sd, source.value, current, current_sd, told, path, R
    )


def _pump_current(build: Build, load: PumpLoad) -> tuple[float, float, bool]:
    stated = build.get("pump.current")
    if stated is not None:
        return float(stated.value), float(stated.sd or 0.0), True
    eta = electric_constant("pump", "efficiency")
    current = load.flow * load.pressure / (eta.value * load.voltage)
    return current, current * eta.sd / eta.value, False
