"""Sentences with what this build's own file says: the rules that `amounts` name in the tables of tasks."""

from __future__ import annotations

from boostwright.findings.model import Verdict
from boostwright.planning.tasks.ground import Ground
from boostwright.planning.tasks.how import How, amount, count
from boostwright.planning.tasks.studs import broken_studs, hollow_flange
from boostwright.quantity import Dimension, write

__all__: list[str] = []

_FIRST = 6  # names that are listed; the check itself shows them all


@amount("broken stud")
def _broken_stud(ground: Ground) -> How:
    found = broken_studs(ground)
    return count(
        found.expected,
        f"{found.studs} studs, each breaks in {100.0 * found.each:.1f} of 100 cases ({found.because}):"
        f" at least one in {100.0 * found.at_least_one:.0f} of 100.",
    )


@amount("law")
def _law(ground: Ground) -> How:
    """What the file plans that the law may not allow: asked about, never advised."""
    says = []
    if ground.stated("exhaust.catalyst") and not ground.flag("exhaust.catalyst"):
        says.append(
            "The file says that there is no catalyst. Taking one out, or driving without, is an offence in"
            " most places; nothing in this plan takes one out"
        )
    if ground.words("breather.outlet") == "open":
        says.append("A breather that ends in the open air is not allowed where crankcase gas must be burned")
    if ground.stated("blow_off.outlet") and ground.words("blow_off.outlet") == "open":
        says.append("Ask whether a blow-off valve that opens into the air passes for noise")
    return count(None, ". ".join(says) + "." if says else "")


@amount("daylight")
def _daylight(ground: Ground) -> How:
    """When the road may be used, as the file or its default says; where the sun stands is not worked out."""
    since, until = (ground.build.words(f"hours.road_{end}") for end in ("from", "until"))
    return count(
        None,
        f"By daylight only, {since} to {until} (hours.road_from, hours.road_until), and on a dry road; else"
        " it waits.",
    )


@amount("what breaks")
def _what_breaks(ground: Ground) -> How:
    if ground.result is None:
        return count(None, "Nobody has run the check on this file yet.")
    breaks = [f.code for f in ground.result.of(Verdict.BREAKS)]
    if not breaks:
        return count(0.0, "Nothing breaks in the file as it stands.")
    return count(float(len(breaks)), f"As the file stands, {len(breaks)} findings break: {_named(breaks)}.")


@amount("hollow flange")
def _hollow_flange(ground: Ground) -> How:
    kind = ground.words("manifold.kind") or "unknown"
    return count(None, f"In {100.0 * hollow_flange(ground):.0f} of 100 cases (manifold.kind: {kind}).")


@amount("untried joints")
def _untried(ground: Ground) -> How:
    rows = ground.build.table("joints")
    if not rows:
        return count(None, "The file lists no [[joints]] yet; the list of parts can only be guessed.")
    untried = [str(row["name"].value) for row in rows if "tried" not in row or row["tried"].value is not True]
    if not untried:
        return count(0.0, f"All {len(rows)} joints of the file have been put together by hand once.")
    return count(
        float(len(untried)),
        f"{len(untried)} of the file's {len(rows)} joints have not been tried: {_named(untried)}.",
    )


@amount("neighbours")
def _neighbours(ground: Ground) -> How:
    rows = ground.build.table("neighbours")
    if not rows:
        return count(None, "The file lists no [[neighbours]] of the hot side yet.")
    says = []
    for row in rows:
        distance, shield = row.get("distance"), row.get("shield")
        far = "" if distance is None else " " + write(distance.value, "mm", Dimension.LENGTH, digits=3)
        beside = f" from the {row['beside'].value}" if "beside" in row else ""
        shut = "" if shield is None or shield.value == "none" else f", shield: {shield.value}"
        says.append(f"{row['what'].value}{far}{beside}{shut}")
    return count(float(len(says)), f"In the file: {'; '.join(says)}.")


@amount("small lines")
def _small_lines(ground: Ground) -> How:
    says = []
    for name, words in (
        ("tank_purge", "tank purge"),
        ("idle_valve", "idle valve"),
        ("servo", "brake servo"),
        ("others", "others"),
    ):
        state = ground.words(f"small_lines.{name}") if ground.stated(f"small_lines.{name}") else "not stated"
        says.append(f"{words} {state}")
    return count(None, f"In the file: {', '.join(says)}.")


def _named(names: list[str]) -> str:
    more = f" and {len(names) - _FIRST} more" if len(names) > _FIRST else ""
    return ", ".join(names[:_FIRST]) + more
