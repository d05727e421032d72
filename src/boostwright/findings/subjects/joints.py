"""The joints of the conversion: do their halves mate, and does the right thing seal them."""

from __future__ import annotations

from collections.abc import Sequence

from boostwright.findings.case import Case
from boostwright.findings.joint_case import Answer, answers_of, plain, seals_for
from boostwright.findings.joint_words import FULL_TURNS, MOST_NAMED, count_of, names_of, place_of
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    LimitRecord,
    Phrase,
    Place,
    Reading,
    Sense,
)
from boostwright.findings.registry import Rule, rule
from boostwright.library.halves import Kind as HalfKind
from boostwright.library.seals import Seal
from boostwright.systems.joints import Carried
from boostwright.systems.stated.joints import open_ports

__all__ = ["fit", "sealed"]

_ABOUT = ("joints[].from", "joints[].to")


@rule(
    "joint.mates",
    "Halves that mate",
    asks="Do both halves of every joint go together, thread by thread?",
    demand="joints whose halves agree in pitch, diameter, flank, taper and seat, by the tables of standards",
    capacity="the joints in the file",
    harm=Harm.SEVERE,
    harm_words="the thread binds or the seat leaks: oil or fuel sprays on a hot exhaust, or the day is lost",
    sense=Sense.AT_LEAST,
    of_the_file=True,
)
def fit(rule: Rule, case: Case) -> Finding | None:
    """Every pair by `systems.joints.mates`; unknown with no joint listed, or a cone's angle not said."""
    answers = answers_of(case)
    if not answers:
        return _not_listed(rule) if case.goal is not None else None
    wrong = sorted((a for a in answers if not a.mating.mates), key=lambda a: a.order)
    guessed = [a for a in answers if a.undecided]
    demand = count_of(len(answers) - len(wrong), "joints whose halves mate")
    total = count_of(len(answers), "joints in the file")
    turns = Amount(float(FULL_TURNS), None, Kind.COUNT)
    about = _ABOUT
    gaps = tuple(end.port for end in open_ports(case.build))
    if wrong:
        first = wrong[0]
        record = _record(first)
        text = plain(first.mating.words)
        if first.joint.tried:
            text += " The file says that it was tried by hand: then a name is wrong, or a thread is spoilt."
        if len(wrong) > 1:
            text += f" The same trouble: {names_of([a.joint for a in wrong[1:]])}."
        return rule.finding(
            demand,
            total,
            record,
            place=place_of(first.joint),
            cause=Phrase(text),
            remedy=_mend(first, turns),
            reading=_GAUGES,
            notes=tuple(
                Phrase(f"{plain(a.joint.name)}: {plain(a.mating.words)} {_way(a)}") for a in wrong[1:4]
            ),
            about=about,
        )
    if guessed:
        first = guessed[0]
        return rule.finding(
            demand,
            total,
            _record(first),
            place=place_of(first.joint),
            cause=Phrase(plain(first.mating.words)),
            remedy=Phrase(
                "Measure it and write it into the file; a joint must take {turns} full turns by hand.",
                {"turns": turns},
            ),
            reading=_GAUGES,
            about=about,
            undecided=True,
        )
    if gaps:
        return _open(rule, demand, total, gaps)
    weak = [a for a in answers if a.mating.compromise]
    missing = _missing(case, answers)
    return rule.finding(
        demand,
        total,
        _record(answers[0]),
        place=Place(words=f"all {len(answers)} of them"),
        cause=Phrase("Every pair has one pitch, one diameter, one flank, one taper and one seat."),
        remedy=Phrase(
            "Put each pair together by hand all the same, clean and dry: {turns} full turns without a"
            " spanner.",
            {"turns": turns},
        ),
        reading=_GAUGES,
        notes=(*(Phrase(f"{plain(a.joint.name)}: {plain(a.mating.words)}") for a in weak[:3]), *missing),
        about=about,
    )


def _record(answer: Answer) -> LimitRecord:
    """The standard by which a pair is judged."""
    for end in answer.joint.ends:
        if end.half.thread is not None:
            row = end.half.flare or end.half.thread
            return LimitRecord(
                "threads", row.source, f"{row.standard}; one joint that does not mate is enough."
            )
    return LimitRecord("threads", "common practice, no source", "One joint that does not mate is enough.")


def _open(rule: Rule, demand: Amount, total: Amount, gaps: tuple[str, ...]) -> Finding:
    """A port that nothing is joined to: a hole that pours, or a joint left out of the list."""
    listed = ", ".join(plain(name) for name in gaps[:MOST_NAMED])
    more = f" and {len(gaps) - MOST_NAMED} more" if len(gaps) > MOST_NAMED else ""
    return rule.finding(
        demand,
        total,
        LimitRecord(
            "joints", "the build file", "Each joint has two halves; a port without its other is a hole."
        ),
        place=Place(words=plain(gaps[0])),
        cause=Phrase(f"Nothing is joined to: {listed}{more}. An open hole pours or sucks."),
        remedy=Phrase(
            "Add the {gaps} joints or plugs that are missing to the file, or take the ports out of it.",
            {"gaps": count_of(len(gaps), "")},
        ),
        reading=Reading("Lay the parts out and follow each line from end to end with a finger.", 1800.0),
        about=_ABOUT,
        undecided=True,
    )


def _missing(case: Case, answers: Sequence[Answer]) -> tuple[Phrase, ...]:
    """Circuits that every conversion opens and that the list leaves out."""
    wanted = {Carried.OIL: "the oil feed", Carried.OIL_DRAIN: "the drain", Carried.AIR: "the charge pipes"}
    water = case.stated("turbo.water_cooled")
    if water is not None and water.value:
        wanted[Carried.COOLANT] = "the turbo's coolant"
    there = {answer.joint.carries for answer in answers}
    named = [words for carried, words in wanted.items() if carried not in there]
    if not named:
        return ()
    return (Phrase(f"Not in the list, so not judged: {', '.join(named)}."),)


_GAUGES = Reading(
    "Pitch gauge on both threads, calliper over the crests, taper by the second turn, angle gauge on a cone.",
    1200.0,
)


_SCREWED = (HalfKind.THREAD, HalfKind.FLARE, HalfKind.BANJO)


def _way(answer: Answer) -> str:
    """What mends a pair, in words."""
    adapter = answer.mating.adapter
    return f"It wants an {plain(adapter)}." if adapter else ""


def _mend(answer: Answer, turns: Amount) -> Phrase:
    adapter = plain(answer.mating.adapter) or "the half that belongs to it"
    if not any(half.kind in _SCREWED for half in (answer.joint.a.half, answer.joint.b.half)):
        return Phrase(
            f"Do not force it. Fit an {adapter}, or change one half for one of the other's size, and push it"
            " home by hand before a clamp or bolt goes on."
        )
    return Phrase(
        f"Do not force it. Fit an {adapter}, or change one half for one of the other's thread; then it must"
        " take {turns} full turns by hand.",
        {"turns": turns},
    )


def _not_listed(rule: Rule) -> Finding:
    return rule.finding(
        None,
        None,
        LimitRecord("joints", "the build file", "Nobody can say of a joint that is not named that it fits."),
        place=Place(words="oil, coolant, fuel and charge air"),
        cause=Phrase("The file names no joint, so nothing is known of threads, hoses and seals."),
        remedy=Phrase(
            "List the joints that you will make under [[joints]]: at least the {feed} ends of the oil feed,"
            " the {feed} of the drain, and whatever carries fuel, coolant or boost.",
            {"feed": Amount(2.0, None, Kind.COUNT)},
        ),
        reading=Reading(
            "Lay the parts out on the floor, put every pair together by hand and measure each thread.", 7200.0
        ),
        about=_ABOUT,
    )


@rule(
    "joint.seal",
    "What seals the joints",
    asks="Does the right thing make each joint tight, and nothing that does not belong there?",
    demand="joints that are sealed as their kind wants it",
    capacity="the joints in the file that hold a fluid",
    harm=Harm.DAMAGE,
    harm_words="it leaks, or a shred of tape blocks the turbo's feed and the bearing runs dry",
    sense=Sense.AT_LEAST,
    of_the_file=True,
)
def sealed(rule: Rule, case: Case) -> Finding | None:
    """Every seal by `systems.joints.judge_seal`; unknown where one is needed and none is stated."""
    answers = answers_of(case)
    if not answers:
        return None
    wrong = sorted((a for a in answers if a.wrong_seal is not None), key=lambda a: a.order)
    wanting = [a for a in answers if a.seal_wanting]
    bad = wrong or wanting
    demand = count_of(len(answers) - len(wrong), "joints sealed as they should be")
    total = count_of(len(answers), "joints in the file")
    record = LimitRecord(
        "joints", "common practice, no source", "Each kind of joint seals in one place only."
    )
    if not bad:
        return rule.finding(
            demand,
            total,
            record,
            place=Place(words=f"all {len(answers)} of them"),
            cause=Phrase(
                "Each has what its kind wants: paste on tapers, washers on faces, nothing on cones."
            ),
            remedy=Phrase(
                "New washers and O-rings each time; keep paste off the first {turns} turns of a thread.",
                {"turns": Amount(2.0, None, Kind.COUNT)},
            ),
            reading=_LOOK,
            about=("joints[].seal",),
        )
    first = bad[0]
    others = [a.joint for a in bad[1:]]
    return rule.finding(
        demand,
        total,
        record,
        place=place_of(first.joint),
        cause=_seal_cause(first),
        remedy=Phrase(
            f"Clean the joint, look through its bore against the light, then: {_belongs(first)}."
            " {bad} of {all} joints must be changed or named.",
            {"bad": count_of(len(bad), ""), "all": total},
        ),
        reading=_LOOK,
        notes=(Phrase(f"Also: {names_of(others)}."),) if others else (),
        about=("joints[].seal",),
        undecided=not wrong,
    )


def _seal_cause(first: Answer) -> Phrase:
    answer = first.wrong_seal
    if answer is None:
        return Phrase("Nobody said what seals it.")
    seals = " and ".join(sorted(seal.value for seal in first.joint.seals))
    return Phrase(plain(f"{seals[:1].upper()}{seals[1:]} is stated there. {answer.words}"))


_LOOK = Reading("Take the joint apart and look at thread, face and cone under a lamp.", 900.0)


_SEALS = {
    Seal.PASTE: "paste for that fluid on the male thread, clear of its first two turns",
    Seal.WASHER: "a new washer on each face",
    Seal.O_RING: "a new O-ring",
    Seal.CLAMP: "a clamp, behind the bead where there is one",
    Seal.GASKET: "a new gasket",
    Seal.NOTHING: "nothing at all, clean cones",
    Seal.OWN: "the O-rings inside it, oiled",
    Seal.TAPE: "tape on the male thread, clear of its first two turns",
}


def _belongs(answer: Answer) -> str:
    """What belongs between the halves, the first that suits."""
    wanted = seals_for(answer.joint)
    return next((words for seal, words in _SEALS.items() if seal in wanted), "mend the pair itself")
