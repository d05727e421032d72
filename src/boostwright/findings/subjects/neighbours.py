"""What lies near the hot side: the warmest of it against its limit, and room for a rocking engine."""

from __future__ import annotations

import math

from boostwright.build.document import Build
from boostwright.findings.case import Case
from boostwright.findings.hot_case import Exposed, clearance, exposed, wall_of
from boostwright.findings.judge import probability_holds
from boostwright.findings.limits import Limit
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import deviations, sure_demand
from boostwright.systems.stated.hot_zone import StatedNeighbour, neighbours_of

__all__ = ["heat", "limit_key", "room", "survey"]

_LIMITS = {
    "fuel-line": "near_fuel",
    "coolant-hose": "near_coolant",
    "oil-hose": "near_oil",
    "silicone-hose": "near_silicone",
    "wiring": "near_wiring",
    "wiring-hot": "near_wiring_hot",
    "boot": "near_boot",
    "mount": "near_mount",
    "plastic": "near_plastic",
    "paint": "near_paint",
    "battery": "near_battery",
}
_FLUIDS = {"dot3": "near_brake_dot3", "dot4": "near_brake_dot4", "dot5.1": "near_brake_dot51"}
_BESIDE = {
    "turbine": "the turbine housing",
    "manifold": "the exhaust manifold",
    "downpipe": "the pipe behind the turbine",
}
_SHEETS = ("none", "sheet", "double")
_ROOMY = 0.15  # distance that most engine bays have to give [m]
_FIELDS = (
    "neighbours[].what",
    "neighbours[].kind",
    "neighbours[].distance",
    "neighbours[].beside",
    "neighbours[].shield",
    "neighbours[].sleeve",
)


def limit_key(build: Build, kind: str) -> str:
    """The limit of a kind of neighbour; that of a brake line hangs on its fluid."""
    return _FLUIDS[build.words("car.brake_fluid")] if kind == "brake-line" else _LIMITS[kind]


def _limit(case: Case, kind: str) -> Limit:
    return case.limits[limit_key(case.build, kind)]


@rule(
    "neighbours.heat",
    "Heat on the neighbours",
    asks="Does what lies near the hot side stay below the limit of its material?",
    demand="warmest neighbour for its material, on the road or standing after it, on its worst day",
    capacity="temperature that its material or its fluid stands for long",
    harm=Harm.SEVERE,
    harm_words="a line or a loom melts: fire, or brakes and engine that fail on the road",
    sense=Sense.AT_MOST,
    limits=(*_FLUIDS.values(), *_LIMITS.values()),
)
def heat(rule: Rule, case: Case) -> Finding | None:
    """Walls by the match's gas, radiation by distance, shield and sleeve, against air by road speed."""
    judged: list[tuple[float, Exposed, Limit]] = []
    for stated in neighbours_of(case.build):
        limit = _limit(case, stated.kind)
        seen = exposed(case, stated, limit.amount)
        if seen is None:
            return None
        chance = probability_holds(seen.warm, seen.most, rule.sense)
        judged.append((1.0 if chance is None else chance, seen, limit))
    if not judged:
        return None
    judged.sort(key=lambda one: one[0])
    _, worst, limit = judged[0]
    hot, what = _BESIDE[worst.stated.beside], worst.stated.what
    return rule.finding(
        worst.warm,
        worst.most,
        limit,
        place=Place(words=f"{what}, beside {hot}"),
        corner=worst.line.corner,
        cause=Phrase(
            f"At lasting full load the wall of {hot} comes to {{wall}}; {what},"
            f" {{distance}} away{_between(worst.stated)}, is warmest "
            + (
                "minutes after a hot stop, when no air moves."
                if worst.standing
                else "on the road, while the wall is hot."
            ),
            {"wall": worst.wall, "distance": Amount(worst.stated.distance, None, Kind.LENGTH)},
        ),
        remedy=_as_well(rule, case, _remedy(rule, case, worst), [seen for _, seen, _ in judged[1:]]),
        reading=Reading(
            "Temperature strips on each neighbour, read after a drive with full load and ten minutes' stop.",
            3600.0,
        ),
        notes=tuple(_note(rule, case, seen) for _, seen, _ in judged[1:]),
        about=(*_FIELDS, "car.brake_fluid", "build.use", "cooling.load_time", "cooling.radiator_area"),
    )


def _between(stated: StatedNeighbour) -> str:
    words = {"none": "", "sheet": " behind a sheet", "double": " behind two sheets"}[stated.shield]
    return words + (" in its sleeve" if stated.sleeve else "")


def _sure(rule: Rule, seen: Exposed) -> bool:
    return seen.warm.value <= sure_demand(seen.most, seen.warm, rule.sense, rule.harm)


def _note(rule: Rule, case: Case, seen: Exposed) -> Phrase:
    """One of the others, in a line, with the distance that is enough where it is not."""
    over = seen.warm.value > seen.most.value
    words = "holds" if _sure(rule, seen) else "too hot" if over else "not sure"
    amounts = {"warm": seen.warm, "most": Amount(seen.most.value, None, Kind.TEMPERATURE)}
    if words != "holds" and not case.drawn:
        away = clearance(case, seen, seen.stated, deviations(rule.harm))
        if math.isfinite(away):
            amounts["away"] = Amount(away, None, Kind.LENGTH)
            words += "; {away} away it is sure"
        else:
            words += "; no distance alone is sure"
    return Phrase(
        f"{seen.stated.what[:1].upper()}{seen.stated.what[1:]}: {{warm:band}} against {{most}}, {words}.",
        amounts,
    )


def _remedy(rule: Rule, case: Case, worst: Exposed) -> Phrase:
    """Distance, shield or sleeve that are enough, each with its number."""
    stated = worst.stated
    if _sure(rule, worst):
        return Phrase("Leave it; fix it so that it cannot come nearer, and look at it after the first drive.")
    if case.drawn:
        return Phrase("Move it away, or put a shield between.")
    z = deviations(rule.harm)
    ways: list[str] = []
    amounts: dict[str, Amount] = {}

    def way(changed: StatedNeighbour, words: str, name: str) -> bool:
        """Whether the change is enough at some distance; then it is named with it."""
        least = clearance(case, worst, changed, z)
        if not math.isfinite(least):
            return False
        near = least > stated.distance
        amounts[name] = Amount(least, None, Kind.LENGTH)
        ways.append(words + (f" and keep {{{name}}} from the hot surface" if near else ""))
        return True

    away = clearance(case, worst, stated, z)
    if math.isfinite(away):
        amounts["away"] = Amount(away, None, Kind.LENGTH)
        ways.append("keep it {away} from the hot surface")
    for shield, words in (
        ("sheet", "stand a sheet between, with air on both sides of it"),
        ("double", "stand two sheets between, with air about each"),
    ):
        more = _SHEETS.index(shield) > _SHEETS.index(stated.shield)
        if more and way(stated._replace(shield=shield), words, shield):
            break
    if not stated.sleeve:
        way(stated._replace(sleeve=True), "put it into a reflecting sleeve", "sleeve")
    if not ways:
        return _least_bad(case, worst)
    if worst.standing:
        ways.append("drive the last minutes before a stop easily")
    text = ", or ".join(ways[:3])
    return Phrase(f"{text[0].upper()}{text[1:]}.", amounts)


def _as_well(rule: Rule, case: Case, first: Phrase, others: list[Exposed]) -> Phrase:
    """The remedy of the worst one, and how far the others must stay that are not sure either."""
    if case.drawn:
        return first
    text, amounts = first.text, dict(first.amounts)
    for number, seen in enumerate(one for one in others if not _sure(rule, one)):
        away = clearance(case, seen, seen.stated, deviations(rule.harm))
        what = f"{seen.stated.what[:1].upper()}{seen.stated.what[1:]}"
        if math.isfinite(away):
            amounts[f"other{number}"] = Amount(away, None, Kind.LENGTH)
            text += f" {what} as well: keep it {{other{number}}} away, or shield it."
        else:
            text += f" {what} as well: no distance alone is sure, so shield it or lead it elsewhere."
    return Phrase(text, amounts)


def _least_bad(case: Case, worst: Exposed) -> Phrase:
    """Where neither distance nor sheet is sure: what is left, and how far the best of them goes."""
    away = max(worst.stated.distance, _ROOMY)
    best = worst.stated._replace(shield="double", sleeve=True, distance=away)
    then = exposed(case, best, _limit(case, worst.stated.kind).amount)
    return Phrase(
        "In that air neither distance nor sheet makes it sure. In a sleeve behind two sheets, {away} away,"
        " it comes to {then:band}; a part of better material, or more air past it, must do the rest.",
        {"away": Amount(away, None, Kind.LENGTH), "then": worst.warm if then is None else then.warm},
    )


@rule(
    "neighbours.room",
    "Room around the hot side",
    asks="Does nothing touch the hot side when the engine rocks?",
    demand="free distance of the nearest neighbour",
    capacity="free way that a rocking engine asks for",
    harm=Harm.WEAR,
    harm_words="it rubs through or burns where it touches",
    sense=Sense.AT_LEAST,
    limits=("near_clearance",),
)
def room(rule: Rule, case: Case) -> Finding | None:
    """The smallest stated distance against the limit."""
    stated = neighbours_of(case.build)
    if not stated or case.goal is None:
        return None
    nearest = min(stated, key=lambda one: one.distance)
    limit = case.limits["near_clearance"]
    demand = Amount(nearest.distance, nearest.distance_sd, Kind.LENGTH, nearest.what)
    least = Amount(sure_demand(limit.amount, demand, rule.sense, rule.harm), None, Kind.LENGTH)
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words=f"{nearest.what}, beside {_BESIDE[nearest.beside]}"),
        cause=Phrase(
            "Engine, turbo and downpipe rock on their mounts when torque sets in; body and lines do not."
        ),
        remedy=Phrase(
            "Give it {least} of free way, or carry it on the engine so that it rocks along."
            if nearest.distance < least.value
            else "Leave it; check again with the engine rocked by a bar.",
            {"least": least},
        ),
        reading=Reading("A lump of clay between them, the engine rocked by a bar, bonnet shut.", 900.0),
        about=("neighbours[].distance",),
    )


@rule(
    "neighbours.survey",
    "What lies near the hot side",
    asks="Has anybody looked what lies near manifold, turbine and downpipe?",
    demand="lines, looms, boots and panels that the build file states",
    capacity="a look around the hot side",
    harm=Harm.DAMAGE,
    harm_words="a line or a loom that nobody saw melts on the first long pull",
    sense=Sense.AT_LEAST,
)
def survey(rule: Rule, case: Case) -> Finding | None:
    """Unknown as long as the file states no neighbour; says how far bare lines and looms must stay away."""
    wall = None if neighbours_of(case.build) else wall_of(case, "turbine")
    if wall is None:
        return None
    amounts = {"wall": Amount(wall, None, Kind.TEMPERATURE)}
    parts = [] if case.drawn else _bare_clearances(case, amounts)
    text = f" Beside a bare turbine housing keep {', '.join(parts)}." if parts else ""
    return rule.finding(
        None,
        None,
        LimitRecord("readings", "the build file", "What nobody stated cannot be judged."),
        place=Place(words="around manifold, turbine and downpipe"),
        cause=Phrase(
            "The file names no neighbour of the hot side, whose walls come to {wall} and more at lasting full"
            " load.",
            amounts,
        ),
        remedy=Phrase(f"Look, measure, and write each into the file as [[neighbours]].{text}", amounts),
        reading=Reading(
            "With the hot side hung in place: a ruler to every line, loom, boot, mount and panel within"
            " 300 mm of it, the engine rocked by a bar.",
            2700.0,
        ),
        about=_FIELDS,
    )


def _bare_clearances(case: Case, amounts: dict[str, Amount]) -> list[str]:
    """How far the commonest neighbours must stay from the turbine housing, in words; amounts are added."""
    found = []
    for kind, words in (("brake-line", "brake lines"), ("fuel-line", "fuel lines"), ("wiring", "wiring")):
        bare = StatedNeighbour(words, kind, 0.15, 0.0, "turbine", "none", False)
        seen = exposed(case, bare, _limit(case, kind).amount)
        if seen is None:
            return []
        away, name = clearance(case, seen, bare, deviations(Harm.SEVERE)), kind.replace("-", "_")
        if math.isfinite(away):
            amounts[name] = Amount(away, None, Kind.LENGTH)
            found.append(f"{words} {{{name}}} away")
        else:
            found.append(f"{words} out of its air")
    return found
