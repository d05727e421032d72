"""What columns say about each other: one column settles what another leaves open."""

from __future__ import annotations

import numpy as np

from boostwright.library.channels import channel_kinds
from boostwright.quantity import Dimension
from boostwright.readers.drive_log.candidates import Guess
from boostwright.readers.drive_log.evidence import Scene, rules

__all__ = ["settle"]

Open = dict[int, list[Guess]]


def settle(open_: Open, scene: Scene, place: float) -> None:
    """Sharpen the guesses of each column by the other columns, in place.

    open_: guesses by column number. place: barometer to reckon with [Pa].
    """
    speed = _sure(open_, "engine_speed")
    _vacuum(open_, scene, place)
    _resting(open_, scene, speed, place)
    _idle(open_, scene, speed, place)
    _one_manifold(open_, scene, place)
    _same_units(open_)
    _mixture(open_, scene)
    _breathing(open_, scene, speed, place)
    _miles(open_)
    _road(open_, scene, speed)
    _targets(open_, scene, place)


def _sure(open_: Open, key: str, least: float = 0.75) -> int | None:
    """The surest column of that quantity."""
    best, at = least, None
    for number, found in open_.items():
        top = max(found, key=lambda g: g.score)
        if top.key == key and top.score >= best:
            best, at = top.score, number
    return at


def _change(open_: Open, number: int, factor: dict[int, tuple[float, str]]) -> None:
    """Multiply the value scores of one column's guesses, by their place in the list."""
    open_[number] = [
        g._replace(
            by_value=min(1.0, g.by_value * factor[k][0]),
            reason=g.reason + (f"; {factor[k][1]}" if factor[k][1] else ""),
        )
        if k in factor
        else g
        for k, g in enumerate(open_[number])
    ]


def _idles(open_: Open, scene: Scene) -> bool:
    """True where the log shows the engine idle, or its throttle closed while it runs."""
    speed, throttle = _sure(open_, "engine_speed"), _sure(open_, "throttle")
    if speed is None:
        return False
    rule = rules()["pressure"]
    revs = max(open_[speed], key=lambda g: g.score).unit.to_si(scene.looks[speed].value)
    if int(((revs > rule["idle"][0]) & (revs < rule["idle"][1])).sum()) >= 10:
        return True
    if throttle is None:
        return False
    opening = scene.looks[throttle]
    return int((opening.value <= opening.low + rule["closed"] * (opening.high - opening.low)).sum()) >= 10


def _vacuum(open_: Open, scene: Scene, place: float) -> None:
    """A manifold's pressure falls below the air's; a pressure before the throttle does not."""
    rule = rules()["pressure"]
    idles = _idles(open_, scene)
    for number, found in open_.items():
        look = scene.looks[number]
        if look.distinct < 5:
            continue
        factor = {}
        for k, guess in enumerate(found):
            if guess.key not in ("manifold_pressure", "charge_pressure"):
                continue
            low = float(guess.unit.to_si(look.quantiles[:1])[0]) + (place if guess.kind == "gauge" else 0.0)
            deep = low < rule["vacuum"] * place
            if guess.key == "charge_pressure":
                factor[k] = (0.45, "") if deep else (1.0, "it never falls below the air's pressure")
            else:
                factor[k] = (1.0, "it falls below the air's pressure") if deep else (0.85, "")
                if not deep and idles and any(g.key == "charge_pressure" for g in found):
                    factor[k] = (0.6, "")
        if factor:
            _change(open_, number, factor)


def _resting(open_: Open, scene: Scene, speed: int | None, place: float) -> None:
    """With the engine at rest, an absolute pressure shows the air's, a gauge pressure nothing."""
    if speed is None:
        return
    rule = rules()["pressure"]
    unit = max(open_[speed], key=lambda g: g.score).unit
    for number, found in list(open_.items()):
        if number == speed or channel_kinds()[found[0].key].dimension is not Dimension.PRESSURE:
            continue
        value, revs = scene.beside(number, speed)
        rest = np.abs(unit.to_si(revs)) < rule["resting"]
        if rest.sum() < 3:
            continue
        factor = {}
        for k, guess in enumerate(found):
            if guess.kind_said or guess.key == "barometer":
                continue
            at_rest = float(np.median(guess.unit.to_si(value[rest])))
            if guess.key == "fuel_pressure":
                continue  # the pump runs before the engine does
            if guess.kind == "absolute":
                fits = abs(at_rest - place) < rule["at_rest_absolute"] * place
            else:
                fits = abs(at_rest) < rule["at_rest_gauge"]
            factor[k] = (1.25, "as it shows with the engine at rest") if fits else (0.4, "")
        if factor:
            _change(open_, number, factor)


def _idle(open_: Open, scene: Scene, speed: int | None, place: float) -> None:
    """A petrol engine that idles has a deep vacuum in its manifold; it tells units apart."""
    if speed is None:
        return
    rule = rules()["pressure"]
    throttle = _sure(open_, "throttle")
    unit = max(open_[speed], key=lambda g: g.score).unit
    for number, found in list(open_.items()):
        if not any(g.key == "manifold_pressure" for g in found):
            continue
        value, revs = scene.beside(number, speed)
        revs = unit.to_si(revs)
        running = revs > rule["idle"][0]
        quiet = int((running & (revs < rule["idle"][1])).sum())
        if throttle is not None:
            opening = scene.looks[throttle]
            closed = opening.low + rule["closed"] * (opening.high - opening.low)
            quiet += int((scene.beside(number, throttle)[1] <= closed).sum())
        if quiet < 10:
            continue
        lowest = float(np.quantile(value[running], 0.02))
        factor = {}
        for k, guess in enumerate(found):
            if guess.key != "manifold_pressure" or (guess.unit_said and guess.kind_said):
                continue
            shown = float(guess.unit.to_si(np.array([lowest]))[0]) + (place if guess.kind == "gauge" else 0.0)
            low, high = rule["idle_pressure"]
            out = max(low - shown, shown - high, 0.0) / rule["idle_slope"]
            factor[k] = (max(0.05, 1.0 - out), "vacuum at idle" if out == 0.0 else "")
        if factor:
            _change(open_, number, factor)


def _one_manifold(open_: Open, scene: Scene, place: float) -> None:
    """Beside the manifold's own column, 'boost' never below it is the pressure before the throttle."""
    known = _sure(open_, "manifold_pressure")
    if known is None or any(g.key == "charge_pressure" for g in open_[known]):
        return
    rule = rules()["pressure"]
    best = max(open_[known], key=lambda g: g.score)
    for number, found in list(open_.items()):
        if number == known or {"charge_pressure", "manifold_pressure"} - {g.key for g in found}:
            continue
        charge = max((g for g in found if g.key == "charge_pressure"), key=lambda g: g.score)
        value, beside = scene.beside(number, known)
        inside = best.unit.to_si(beside) + (place if best.kind == "gauge" else 0.0)
        outside = charge.unit.to_si(value) + (place if charge.kind == "gauge" else 0.0)
        empty = inside < rule["vacuum"] * place
        if empty.sum() < rule["compared"] or len(np.unique(value[empty])) <= 2:
            continue  # a gauge that stays at nothing is the same sensor once more
        if float(np.quantile(outside - inside, 0.05)) > -rule["below_manifold"] * place:
            words = "it never stands below the manifold's"
            factor = {k: (1.0, words) for k, g in enumerate(found) if g.key == "charge_pressure"}
            factor |= {k: (0.6, "") for k, g in enumerate(found) if g.key == "manifold_pressure"}
            _change(open_, number, factor)


def _same_units(open_: Open) -> None:
    """A logger writes one dimension in one unit: what is sure of one column counts for the others."""
    for dimension in (Dimension.TEMPERATURE, Dimension.PRESSURE):
        said: dict[str, float] = {}
        for found in open_.values():
            top = max(found, key=lambda g: g.score)
            if channel_kinds()[top.key].dimension is not dimension:
                continue
            second = max(
                (g.score for g in found if g.key == top.key and g.unit.name != top.unit.name), default=0.0
            )
            if top.score >= 0.75 and top.score - second > 0.2:
                said[top.unit.name.split()[0]] = said.get(top.unit.name.split()[0], 0.0) + top.score
        if len(said) != 1:
            continue
        (name,) = said
        for number, found in open_.items():
            if channel_kinds()[found[0].key].dimension is not dimension:
                continue
            factor = {
                k: (1.0, f"in {name} like its like") if g.unit.name.split()[0] == name else (0.6, "")
                for k, g in enumerate(found)
                if not g.unit_said
            }
            if factor and any(g.unit.name.split()[0] == name and g.by_value > 0.3 for g in found):
                _change(open_, number, factor)


def _mixture(open_: Open, scene: Scene) -> None:
    """An air-fuel ratio shows its scale where the closed loop holds lambda 1."""
    rule = rules()["mixture"]
    held: float | None = None
    columns = [
        n
        for n, f in open_.items()
        if f[0].key in ("lambda", "lambda_target") and f[0].unit.name.startswith("AFR")
    ]
    for number in columns:
        value = scene.looks[number].value
        value = value[np.isfinite(value) & (value > 6.0) & (value < 20.0)]
        if len(value) < 50:
            continue
        counts, edges = np.histogram(value, bins=np.arange(6.0, 20.05, 0.05))
        top = int(np.argmax(counts))
        near = np.abs(value - 0.5 * (edges[top] + edges[top + 1])) < 0.15
        if near.mean() > 0.12:
            middle = float(np.median(value[near]))
            if held is None or scene.looks[number].distinct < 20:
                held = middle
    if held is None:
        return
    for number in columns:
        factor = {}
        for k, guess in enumerate(open_[number]):
            if guess.unit_said or not guess.unit.name.startswith("AFR"):
                continue
            off = abs(held * guess.unit.factor - 1.0)
            if off < rule["closed_loop"]:
                factor[k] = (1.3, f"closed loop holds {held:.2f}")
            else:
                factor[k] = (0.4 if off < 0.2 else 0.2, "")
        if any(f[0] > 1.0 for f in factor.values()):
            _change(open_, number, factor)


def _breathing(open_: Open, scene: Scene, speed: int | None, place: float) -> None:
    """The air that an engine draws tells the unit of its flow where only one makes it a car's engine."""
    pressure = _sure(open_, "manifold_pressure")
    if speed is None or pressure is None:
        return
    rule = rules()["breathing"]
    revs_unit = max(open_[speed], key=lambda g: g.score).unit
    best = max(open_[pressure], key=lambda g: g.score)
    for number, found in list(open_.items()):
        if found[0].key != "air_flow":
            continue
        flow, revs = scene.beside(number, speed)
        again, manifold = scene.beside(number, pressure)
        if len(flow) != len(again) or len(flow) < 30:
            continue
        manifold = best.unit.to_si(manifold) + (place if best.kind == "gauge" else 0.0)
        revs = revs_unit.to_si(revs)
        working = (revs > rule["speed"]) & (manifold > rule["pressure"])
        if working.sum() < 30:
            continue
        # four strokes: one filling in two turns, at the density of the manifold
        filled = (
            revs[working] / (4.0 * np.pi) * manifold[working] / (rule["gas_constant"] * rule["temperature"])
        )
        factor = {}
        for k, guess in enumerate(found):
            if guess.key == "air_flow" and not guess.unit_said:
                volume = float(np.median(guess.unit.to_si(flow[working]) / filled))
                inside = rule["least"] < volume < rule["most"]
                factor[k] = (1.1, f"an engine of about {1e3 * volume:.1f} L") if inside else (0.3, "")
        if factor:
            _change(open_, number, factor)


def _miles(open_: Open) -> None:
    """Who logs temperatures in degF drives in mph; who logs them in degC may do either."""
    tops = [max(found, key=lambda g: g.score) for found in open_.values()]
    warm = [
        g.unit.name
        for g in tops
        if channel_kinds()[g.key].dimension is Dimension.TEMPERATURE and g.score > 0.75
    ]
    if not warm or set(warm) != {"degF"}:
        return
    for number, found in list(open_.items()):
        if found[0].key == "road_speed":
            factor = {
                k: (1.0, "as temperatures are in degF") if g.unit.name == "mph" else (0.7, "")
                for k, g in enumerate(found)
                if g.key == "road_speed" and not g.unit_said
            }
            _change(open_, number, factor)


def _road(open_: Open, scene: Scene, speed: int | None) -> None:
    """Engine speed for road speed tells mph from km/h where one of them would need a gear that no car has."""
    if speed is None:
        return
    rule = rules()["road"]
    revs_unit = max(open_[speed], key=lambda g: g.score).unit
    for number, found in list(open_.items()):
        if found[0].key != "road_speed":
            continue
        value, revs = scene.beside(number, speed)
        revs = revs_unit.to_si(revs)
        factor = {}
        for k, guess in enumerate(found):
            if guess.key != "road_speed" or guess.unit_said:
                continue
            v = guess.unit.to_si(value)
            driving = (v > 8.0) & (revs > 125.0)
            if driving.sum() < 30:
                continue
            tallest = float(np.quantile(revs[driving] / v[driving], 0.05))
            if not rule["fewest"] < tallest < rule["most"]:
                factor[k] = (0.3, "")
            elif rule["usual_top_gear"][0] <= tallest <= rule["usual_top_gear"][1]:
                factor[k] = (
                    1.0,
                    f"{1000.0 * np.pi / 30.0 / tallest * 3.6:.0f} km/h for 1000 rpm in the tallest gear",
                )
            else:
                factor[k] = (0.92, "")
        if factor:
            _change(open_, number, factor)


def _targets(open_: Open, scene: Scene, place: float) -> None:
    """What the controller asks for stands near what is measured."""
    for key, of in (
        ("boost_target", ("charge_pressure", "manifold_pressure")),
        ("lambda_target", ("lambda",)),
    ):
        measured = next((n for k in of if (n := _sure(open_, k, 0.6)) is not None), None)
        if measured is None:
            continue
        best = max(open_[measured], key=lambda g: g.score)
        for number, found in list(open_.items()):
            if number == measured or found[0].key != key:
                continue
            asked, got = scene.beside(number, measured)
            if len(asked) < 30:
                continue
            shift = place if best.kind == "gauge" else 0.0
            real = best.unit.to_si(got) + shift
            loaded = (
                real > np.quantile(real, 0.9) if key == "boost_target" else np.ones(len(real), dtype=bool)
            )
            factor = {}
            for k, guess in enumerate(found):
                if guess.key != key or (guess.unit_said and guess.kind_said):
                    continue
                wanted = guess.unit.to_si(asked) + (place if guess.kind == "gauge" else 0.0)
                off = float(np.median(np.abs(wanted[loaded] - real[loaded]))) / max(
                    float(np.median(real[loaded])), 1e-9
                )
                factor[k] = (1.2, "it stands near what is measured") if off < 0.2 else (0.5, "")
            if factor:
                _change(open_, number, factor)
