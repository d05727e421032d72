"""Oil pressure, fuel pressure, injector pulse and voltage, each against what this drive shows otherwise."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from boostwright.drive.habit import Blocks, habit, late
from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene
from boostwright.drive.windows import robust_sd, running_max, running_mean, running_median, running_min, spans

__all__ = ["barometer_of", "fuel_pressure", "oil_pressure", "pulse_at_its_end", "rail_follows", "voltage"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_AIR = (5e4, 1.1e5)  # Pa: no car drives beyond; what reads so is no air pressure
_FEW = 50  # blocks from which a drive has habits
_STANDARD = 101_325.0  # Pa, where no barometer is recorded
_SURE = 6.0  # standard deviations of its own usual scatter that make a notice
_SLOW_SURE = 5.0  # the same for what lasts: it is looked at far less often
_SWING = 2.5  # times what four of five seconds of the minute around reach
_COLD = 2.0  # cold oil stands at the relief valve, which opens and shuts: so many times the dip
_AFTER_START = 2.0  # s of running before a pump has its pressure
_KNOTS = (
    0.0,
    100.0,
    150.0,
    200.0,
    250.0,
    300.0,
    400.0,
    500.0,
)  # rad/s: bends of a pump's line with its relief


def barometer_of(scene: Scene) -> float:
    """Pressure of the air outside [Pa]: as recorded, else what the manifold shows with the engine off."""
    for key in ("barometer", "manifold_pressure"):
        x = scene.signals.get(key)
        if x is None:
            continue
        if key == "manifold_pressure":
            x = x[scene.signals["engine_speed"] < 5.0]
        x = x[(x > _AIR[0]) & (x < _AIR[1])]
        if x.size > 10:
            return float(np.median(x))
    return _STANDARD


def oil_pressure(scene: Scene) -> list[Notice]:
    """Oil pressure below what this drive shows at that speed and oil heat: for long, or in a short dip."""
    signals = scene.signals
    blocks = Blocks(signals, max(0.1, 1.0 / signals.rate("oil_pressure")))
    pressure, speed = blocks.get("oil_pressure"), blocks.get("engine_speed")
    if pressure is None or speed is None:
        return []
    running = _for(speed > 42.0, blocks.blocks(_AFTER_START))
    if running.sum() < _FEW:
        return []
    thin = blocks.blocks(0.3)
    lags = (0.02, 0.1, 0.2)
    fits = [habit(_pump(late(speed, lag, blocks.step)), pressure, running, 2 * thin).sd for lag in lags]
    followed = late(speed, lags[int(np.argmin(fits))], blocks.step)
    usual = habit(_oil_features(blocks, followed), pressure, running, thin).usual
    off = np.where(running, pressure - usual, 0.0)
    found = _oil_low(scene, blocks, off, usual, running)
    found += _oil_dips(scene, blocks, off, usual, running, followed)
    return found + _oil_at_idle(scene)


def _oil_at_idle(scene: Scene) -> list[Notice]:
    """Hot idle against the reading that was taken before the work, less what a turbo lets through."""
    before = scene.facts.oil_pressure_idle
    signals = scene.signals
    heat = signals.get("oil_temperature")
    hot = heat if heat is not None else signals.get("coolant_temperature")
    if before is None or hot is None:
        return []
    place = np.flatnonzero(scene.ways.idle & (hot > scene.limit("oil-pressure-low", "hot")))
    if place.size < signals.samples(5.0):
        return []
    idle = signals["oil_pressure"][place]
    pressure, sd = float(np.nanmedian(idle)), max(robust_sd(idle), signals.noise("oil_pressure"))
    least = before * scene.limit("oil-pressure-low", "of_before") - scene.limit("oil-pressure-low", "turbo")
    if not pressure < least:
        return []
    size = Reading("oil pressure at hot idle", pressure, sd, "pressure", "oil_pressure")
    also = (Reading("the reading before the work", before, 0.0, "pressure"),)
    note = "against the reading taken before the work, at hot idle"
    ratio = (before - pressure) / max(sd, 1e3)
    first, last = int(place[0]), int(place[-1])
    return [
        scene.notice("oil-pressure-low", first, last, size, ratio, ("oil_pressure",), also=also, note=note)
    ]


def _pump(speed: Array) -> Array:
    return np.array([np.ones(speed.size), *(np.clip(speed - k, 0.0, None) / 100.0 for k in _KNOTS)]).T


def _oil_features(blocks: Blocks, speed: Array) -> Array:
    """Pump lines by speed, each with its drift over oil temperature; viscosity falls like an exponential."""
    temperature = blocks.get("oil_temperature")
    if temperature is not None:
        x = (late(temperature, 5.0, blocks.step) - 360.0) / 30.0
        drifts = [np.ones(speed.size), x, np.exp(-np.clip(x, -2.5, 3.0))]
    else:  # the oil's own slow warming: by coolant, work done, time
        pressure = blocks.get("manifold_pressure")
        work = speed * (pressure if pressure is not None else 1e5) / 3e7
        coolant = blocks.get("coolant_temperature")
        drifts = [np.ones(speed.size), late(work, 150.0, blocks.step), late(work, 500.0, blocks.step)]
        since = blocks.t - blocks.t[0]
        drifts += [np.exp(-since / 200.0), np.exp(-since / 600.0)]
        if coolant is not None:
            drifts.append((late(coolant, 30.0, blocks.step) - 360.0) / 30.0)
    lines = _pump(speed)
    return np.concatenate([lines * d[:, None] for d in drifts], axis=1)


def _oil_low(scene: Scene, blocks: Blocks, off: Array, usual: Array, running: Mask) -> list[Notice]:
    level = running_median(off, blocks.blocks(20.0))
    sd = robust_sd(level[running])
    least = max(_SLOW_SURE * sd, scene.limit("oil-pressure-low", "share") * float(np.median(usual[running])))
    found = []
    for a, b in spans((level < -least) & running, least=blocks.blocks(10.0), join=blocks.blocks(30.0)):
        lost = float(np.median(off[a:b]))
        size = Reading(
            "oil pressure against its usual at that speed and heat", lost, sd, "pressure", "oil_pressure"
        )
        share = Reading("share of its usual that is lost", -lost / float(np.median(usual[a:b])), 0.0, "share")
        found.append(
            _say(scene, blocks, "oil-pressure-low", a, b, size, -lost / sd, ("oil_pressure",), (share,))
        )
    return found


def _oil_dips(
    scene: Scene, blocks: Blocks, off: Array, usual: Array, running: Mask, speed: Array
) -> list[Notice]:
    quick = running_max(np.abs(np.gradient(speed, blocks.step)), blocks.blocks(0.8)) > 60.0
    if np.isfinite(scene.ways.idle_speed):  # below idle the pump's line is not known
        quick |= running_min(speed, blocks.blocks(0.8)) < 0.95 * scene.ways.idle_speed
    calm = running & ~quick  # where speed runs away in a gear change, the pump's own lag is all that shows
    dip = running_mean(np.where(calm, off, np.nan), blocks.blocks(0.4)) - running_median(
        off, blocks.blocks(8.0)
    )
    dip = np.where(calm & np.isfinite(dip), dip, 0.0)
    sd = robust_sd(dip[calm])
    least = np.maximum(_SURE * sd, scene.limit("oil-pressure-dip", "share") * np.maximum(usual, 0.0))
    least = np.maximum(least, scene.limit("oil-pressure-dip", "least"))
    second = blocks.blocks(1.0)  # cold oil swings more: what most seconds of the minute around reach counts
    peaks = np.abs(dip[: dip.size // second * second]).reshape(-1, second).max(axis=1)
    swing = ndimage.percentile_filter(peaks, 80, size=60, mode="nearest")
    at = np.minimum(np.arange(dip.size) // second, max(peaks.size - 1, 0))
    least = np.maximum(least, _SWING * swing[at]) if peaks.size else least
    oil = blocks.get("oil_temperature")
    oil = oil if oil is not None else blocks.get("coolant_temperature")
    if oil is not None:
        least = np.where(oil < scene.limit("oil-pressure-dip", "cold"), _COLD * least, least)
    found = []
    for a, b in spans(dip < -least, least=blocks.blocks(0.25), join=blocks.blocks(0.5)):
        deepest = float(dip[a:b].min())
        size = Reading("dip of the oil pressure", deepest, sd, "pressure", "oil_pressure")
        also = (_at(blocks, "engine_speed", a, b), _at(blocks, "oil_pressure", a, b))
        found.append(
            _say(scene, blocks, "oil-pressure-dip", a, b, size, -deepest / sd, ("oil_pressure",), also)
        )
    return found


def fuel_pressure(scene: Scene) -> list[Notice]:
    """Fuel pressure across the injector below its usual at that fuel flow and manifold pressure."""
    signals = scene.signals
    key = "fuel_pressure" if "fuel_pressure" in signals else "fuel_pressure_difference"
    blocks = Blocks(signals, max(0.1, 1.0 / signals.rate(key)))
    rail, manifold, speed = blocks.get(key), blocks.get("manifold_pressure"), blocks.get("engine_speed")
    if rail is None or manifold is None or speed is None:
        return []
    across = rail
    if key == "fuel_pressure":
        across = rail + barometer_of(scene) - late(manifold, 0.03, blocks.step)
    running = _for(speed > 42.0, blocks.blocks(_AFTER_START))
    if running.sum() < _FEW:
        return []
    flow, p = _fuel_flow(blocks, speed, manifold), manifold / 1e5
    rise = np.gradient(late(p, 0.1, blocks.step), blocks.step)
    columns = [np.ones(p.size), flow, flow * flow, p, np.maximum(p - 1.0, 0.0), rise]
    fit = habit(np.array(columns).T, across, running, blocks.blocks(0.2))
    calm = running & (np.abs(rise) < 2.0)
    off = np.where(calm, running_mean(np.where(running, across - fit.usual, np.nan), blocks.blocks(1.0)), 0.0)
    sd = max(robust_sd(off[calm]), signals.quantum(key) / math.sqrt(12.0 * blocks.blocks(1.0)))
    least = max(_SURE * sd, scene.limit("fuel-pressure-low", "share") * float(np.median(across[running])))
    found = []
    for a, b in spans(off < -least, least=blocks.blocks(0.4), join=blocks.blocks(0.6)):
        lost = float(np.nanmin(off[a:b]))
        size = Reading("fuel pressure across the injector against its usual", lost, sd, "pressure", key)
        low = Reading("fuel pressure across the injector", float(across[a:b].min()), sd, "pressure", key)
        also = (low, _at(blocks, "manifold_pressure", a, b), _at(blocks, "engine_speed", a, b))
        found.append(_say(scene, blocks, "fuel-pressure-low", a, b, size, -lost / sd, (key,), also))
    return found


def rail_follows(scene: Scene) -> list[Notice]:
    """A rail whose pressure does not rise with the manifold's: less is across the injector with boost."""
    signals = scene.signals
    blocks = Blocks(signals, max(0.2, 1.0 / signals.rate("fuel_pressure")))
    rail, manifold, speed = (blocks.get(k) for k in ("fuel_pressure", "manifold_pressure", "engine_speed"))
    if rail is None or manifold is None or speed is None or blocks.count < _FEW:
        return []
    steady = _for(speed > 42.0, blocks.blocks(_AFTER_START))
    steady &= np.abs(np.gradient(manifold, blocks.step)) < 20e3
    if steady.sum() < 50 or np.ptp(manifold[steady]) < 30e3:
        return []
    spread = manifold - float(np.mean(manifold[steady]))
    follows = float(np.sum(spread[steady] * rail[steady]) / np.sum(spread[steady] ** 2))
    error = float(np.std(rail[steady] - follows * spread[steady]) / np.sqrt(np.sum(spread[steady] ** 2)))
    least = scene.limit("rail-not-following", "least")
    if follows > least:
        return []
    boosted = np.flatnonzero(steady & (manifold > barometer_of(scene)))
    a, b = (int(boosted[0]), int(boosted[-1]) + 1) if boosted.size else (0, blocks.count)
    size = Reading("rise of the rail for each rise of the manifold", follows, error, "ratio", "fuel_pressure")
    told = scene.facts.rail_follows
    note = (
        "" if told is None else f"the build says that its regulator {'has' if told else 'has no'} hose there"
    )
    ratio = (1.0 - follows) / max(error, 1e-3)
    channels = ("fuel_pressure", "manifold_pressure")
    return [_say(scene, blocks, "rail-not-following", a, b, size, ratio, channels, note=note)]


def _fuel_flow(blocks: Blocks, speed: Array, manifold: Array) -> Array:
    """Fuel flow in its own unit, 1 at a usual full load: by the injectors where recorded, else by the air."""
    duty, pulse = blocks.get("injector_duty"), blocks.get("injector_pulse")
    if duty is not None:
        return duty
    return speed * (pulse / 0.03 if pulse is not None else manifold / 4e5) / 600.0


def pulse_at_its_end(scene: Scene) -> list[Notice]:
    """Injectors that are open for so long of each cycle that their fuel no longer follows what is asked."""
    signals = scene.signals
    duty = signals.get("injector_duty")
    if duty is None:
        pulse = signals["injector_pulse"]
        duty = pulse * signals["engine_speed"] / (4.0 * math.pi)  # one pulse in each cycle
    limit = scene.limit("pulse-at-its-end", "duty")
    smooth = running_mean(np.where(scene.ways.running, duty, 0.0), signals.samples(0.1))
    found = []
    for a, b in spans(smooth > limit, least=signals.samples(0.15), join=signals.samples(0.5)):
        top = float(np.nanmax(smooth[a:b]))
        noise = signals.noise("injector_duty") if "injector_duty" in signals else 0.01
        size = Reading("share of the time that the injectors are open", top, noise, "share", "injector_duty")
        also = tuple(
            _mean(scene, k, a, b) for k in ("engine_speed", "manifold_pressure", "lambda") if k in signals
        )
        channel = "injector_duty" if "injector_duty" in signals else "injector_pulse"
        ratio = 1.0 + (top - limit) / max(noise, 0.005)
        stretch = scene.stretch_at(a, "pull")
        found.append(
            scene.notice("pulse-at-its-end", a, b, size, ratio, (channel,), stretch=stretch, also=also)
        )
    return found


def voltage(scene: Scene) -> list[Notice]:
    """Voltage below its level of the minute around for longer than a fan's start takes; or never charged."""
    signals = scene.signals
    blocks = Blocks(signals, max(0.25, 1.0 / signals.rate("battery_voltage")))
    volts, speed = blocks.get("battery_voltage"), blocks.get("engine_speed")
    if volts is None or speed is None:
        return []
    running = _for(speed > 60.0, blocks.blocks(3.0))
    if running.sum() < _FEW:
        return []
    level = running_median(np.where(running, volts, np.nan), blocks.blocks(60.0))
    off = np.where(running & np.isfinite(level), volts - level, 0.0)
    sd = max(robust_sd(off[running]), signals.quantum("battery_voltage") / math.sqrt(12.0))
    least = max(_SURE * sd, scene.limit("voltage-low", "dip"))
    found = _not_charged(scene, blocks, volts, running, sd)
    for a, b in spans(
        off < -least, least=blocks.blocks(scene.limit("voltage-low", "time")), join=blocks.blocks(0.6)
    ):
        if volts[a:b].min() < 0.5 * float(np.median(volts[running])):
            continue  # no battery falls so low with the engine running: that is its wire
        lost = float(off[a:b].min())
        charged = volts[a:b].min() > scene.limit("voltage-low", "fed")
        mild = bool(charged and -lost < scene.limit("voltage-low", "matters"))
        note = "the alternator still feeds all, and injectors and pump hardly feel it" if mild else ""
        size = Reading("voltage against its level", lost, sd, "voltage", "battery_voltage")
        lowest = Reading("lowest voltage", float(volts[a:b].min()), sd, "voltage", "battery_voltage")
        also = (lowest, _at(blocks, "engine_speed", a, b))
        channels = ("battery_voltage",)
        said = _say(scene, blocks, "voltage-low", a, b, size, -lost / sd, channels, also, note)
        found.append(said._replace(fault=said.fault and not mild))
    return found


def _not_charged(scene: Scene, blocks: Blocks, volts: Array, running: Mask, sd: float) -> list[Notice]:
    """A running engine whose voltage is a battery's own for most of the drive: nothing charges it."""
    middle = float(np.median(volts[running]))
    if not 0.5 * scene.limit("voltage-low", "charged") < middle < scene.limit("voltage-low", "charged"):
        return []
    place = np.flatnonzero(running)
    size = Reading("voltage with the engine running", middle, sd, "voltage", "battery_voltage")
    ratio = (scene.limit("voltage-low", "charged") - middle) / sd
    a, b, note = int(place[0]), int(place[-1]) + 1, "for most of the drive: the battery is not charged"
    return [_say(scene, blocks, "voltage-low", a, b, size, ratio, ("battery_voltage",), note=note)]


def _for(mask: Mask, blocks: int) -> Mask:
    """Places where it has been so for a while."""
    since = np.arange(mask.size) - np.maximum.accumulate(np.where(~mask, np.arange(mask.size), -1))
    return np.asarray(mask & (since > blocks))


def _at(blocks: Blocks, key: str, a: int, b: int) -> Reading:
    x = blocks.get(key)
    value = float(np.median(x[a:b])) if x is not None else float("nan")
    words, dimension = _WORDS[key]
    return Reading(words, value, 0.0, dimension, key)


def _mean(scene: Scene, key: str, a: int, b: int) -> Reading:
    words, dimension = _WORDS[key]
    there = scene.signals[key][a:b]
    there = there[np.isfinite(there)]
    return Reading(words, float(there.mean()) if there.size else float("nan"), 0.0, dimension, key)


_WORDS = {
    "engine_speed": ("engine speed", "speed of rotation"),
    "manifold_pressure": ("manifold pressure", "pressure"),
    "oil_pressure": ("oil pressure there", "pressure"),
    "lambda": ("lambda", "mixture"),
}


def _say(
    scene: Scene,
    blocks: Blocks,
    kind: str,
    a: int,
    b: int,
    size: Reading,
    ratio: float,
    channels: tuple[str, ...],
    also: tuple[Reading, ...] = (),
    note: str = "",
) -> Notice:
    first = int(blocks.place[a])
    last = int(blocks.place[min(b, blocks.count) - 1]) + blocks.samples - 1
    stretch = scene.stretch_at((first + last) // 2, "pull", "idle")
    return scene.notice(kind, first, last, size, ratio, channels, stretch=stretch, also=also, note=note)
