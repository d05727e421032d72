"""Halves of joints: reading their names, whether they mate, what seals them."""

from __future__ import annotations

import random

import pytest

from boostwright.library.threads import threads
from boostwright.systems.joints import (
    Half,
    Mating,
    Reason,
    Seal,
    Sureness,
    Unread,
    hand_turns,
    mates,
    read_half,
)
from tests.labels import check


def half(text: str) -> Half:
    found = read_half(text)
    assert isinstance(found, Half), found
    return found


def ask(a: str, b: str, seal: Seal = Seal.UNSTATED, oil_feed: bool = False) -> Mating:
    one, other = half(a), half(b)
    answer = mates(one, other, seal, oil_feed=oil_feed)
    turned = mates(other, one, seal, oil_feed=oil_feed)
    assert turned.mates is answer.mates
    assert set(turned.reasons) == set(answer.reasons)
    assert turned.starts_by_hand is answer.starts_by_hand
    return answer


@check("limit", id="Q7", note="mutual exclusion by pitch, diameter, flank and cone; follows from Q1 to Q6")
@pytest.mark.parametrize(
    ("a", "b", "reasons", "starts"),
    [
        ("1/8-27 NPT male", "Rc 1/8", {Reason.PITCH, Reason.DIAMETER, Reason.FLANK}, True),
        ("R 1/8", "1/8-27 NPT female", {Reason.PITCH, Reason.DIAMETER, Reason.FLANK}, True),
        ("1/8 NPT male", "G 1/8 female", {Reason.PITCH, Reason.DIAMETER, Reason.FLANK, Reason.TAPER}, True),
        ("1/8 NPT male", "M10x1 female", {Reason.PITCH, Reason.DIAMETER, Reason.TAPER}, True),
        ("M10x1 male", "1/8 NPT female", {Reason.PITCH, Reason.DIAMETER, Reason.TAPER}, True),
        ("9/16-18 male", "M14x1.5 female", {Reason.PITCH, Reason.DIAMETER}, False),
        ("M14x1.5 male", "9/16-18 female", {Reason.PITCH, Reason.DIAMETER}, True),
        ("-4 flare male 37", "-4 flare female 45", {Reason.SEAT}, True),
        ("-6 flare male 37", "-6 flare female 45", {Reason.SEAT, Reason.DIAMETER}, False),
        ("G 1/8 male", "Rc 1/8", {Reason.TAPER}, True),
        ("-6 flare male 37", "9/16-18 female", {Reason.SEAT}, True),
        ("M10x1 male", "M10x1 male", {Reason.BOTH_MALE}, False),
        ("M10x1 female", "G 1/8 female", {Reason.BOTH_FEMALE}, False),
        ("hose 16 mm", "M10x1 male", {Reason.KIND}, False),
        ("hose 16 mm", "spigot 22 mm", {Reason.SIZE}, False),
    ],
)
def test_refused(a: str, b: str, reasons: set[Reason], starts: bool) -> None:
    answer = ask(a, b)
    assert not answer.mates
    assert set(answer.reasons) == reasons
    assert " to " in answer.adapter
    assert ("Careful" in answer.words) is answer.dangerous
    assert answer.starts_by_hand is starts
    assert answer.dangerous is starts


@check("common practice", note="pairs that the standards make for each other")
@pytest.mark.parametrize(
    ("a", "b", "seal"),
    [("R 1/8", "Rc 1/8", Seal.PASTE), ("R 1/8 male", "Rp 1/8", Seal.TAPE),
     ("1/8 NPT male", "1/8-27 NPT female", Seal.PASTE),
     ("G 1/4 male", "G 1/4 female", Seal.WASHER), ("banjo M10x1", "M10x1 female", Seal.WASHER),
     ("-4 flare male 37", "-4 flare female 37", Seal.NOTHING), ("hose 16 mm", "spigot 16 mm", Seal.CLAMP),
     ("v-band 63 mm", "v-band 63 mm", Seal.CLAMP),
     ("flange 2 bolts 44 mm", "flange 2 bolts 44 mm", Seal.GASKET),
     ("quick connector 7.89 mm male", "quick connector 7.89 mm female", Seal.OWN)],
)  # fmt: skip
def test_mates_with_its_own_seal_and_no_other(a: str, b: str, seal: Seal) -> None:
    good = ask(a, b, seal)
    assert good.mates
    assert good.reasons == ()
    wrong = Seal.WASHER if seal is not Seal.WASHER else Seal.PASTE
    assert ask(a, b, wrong).reasons == (Reason.WRONG_SEAL,)
    if seal is not Seal.NOTHING:
        assert ask(a, b, Seal.NOTHING).reasons == (Reason.NO_SEAL,)


def test_adapters_go_from_one_half_to_the_other() -> None:
    wrong = ask("quick connector 7.89 mm female", "quick connector 9.49 mm male")
    assert "7.89 mm male" in wrong.adapter
    assert "9.49 mm female" in wrong.adapter
    bolts = ask("flange 2 bolts 44 mm", "flange 4 bolts 60 mm")
    assert bolts.reasons == (Reason.SIZE,)


@check("common practice", note="R in a G hole is done, and is no standard's pair")
def test_r_in_g_is_a_compromise() -> None:
    answer = ask("R 1/8", "G 1/8 female", Seal.PASTE)
    assert answer.mates
    assert answer.compromise
    assert answer.sure is Sureness.LIKELY


@check("common practice", note="no tape in the oil feed of a turbo")
def test_no_tape_in_the_oil_feed() -> None:
    assert ask("R 1/8", "Rc 1/8", Seal.TAPE).mates
    fed = ask("R 1/8", "Rc 1/8", Seal.TAPE, oil_feed=True)
    assert fed.reasons == (Reason.WRONG_SEAL,)
    assert "never" in fed.words
    assert ask("R 1/8", "Rc 1/8", Seal.PASTE, oil_feed=True).mates
    assert "or tape" not in ask("R 1/8", "Rc 1/8", oil_feed=True).seal_words
    assert "manual" in fed.care


@check("published", source="iso7", note="gauge turns, from memory; one turn either way on each half")
@pytest.mark.parametrize("size", ["1/8", "1/4", "3/8", "1/2", "3/4"])
def test_a_tapered_pair_goes_in_by_its_gauge_length(size: str) -> None:
    male, female = threads()[f"R {size}"], threads()[f"Rc {size}"]
    assert male.gauge_turns is not None
    assert hand_turns(male, female) == pytest.approx(male.gauge_turns, abs=2.1)


@check("limit", note="a thread mates with itself and only with itself among the parallel ones of the table")
def test_parallel_threads_exclude_each_other() -> None:
    rows = [name for name, row in threads().items() if row.series.startswith(("metric", "UN", "G"))]
    for a in rows:
        for b in rows:
            assert ask(f"{a} male", f"{b} female").mates is (a == b), (a, b)


@pytest.mark.parametrize("name", threads())
def test_every_name_of_the_table_is_read(name: str) -> None:
    side = "male" if threads()[name].series not in ("Rc", "Rp") else "female"
    assert half(f"{name} {side}").thread == threads()[name]


@pytest.mark.parametrize(
    ("text", "word"),
    [("M10x1.3 male", "M10x1"), ("R 1/8 female", "Rc 1/8"), ("M10x1", "male or female"), ("", "Nothing"),
     ("hose", "size"), ("hose 16", "its dash"), ("-7 flare male 37", "-6 flare 37"),
     ("M10x1 male female", "both"),
     ("1/8-27 NTP male", "1/8-27 NPT"),
     ("-6 flare male", "37"), ("banjo R 1/8", "parallel")],
)  # fmt: skip
def test_what_is_wanting_is_said(text: str, word: str) -> None:
    found = read_half(text)
    assert isinstance(found, Unread)
    assert word in found.sentence


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("AN6 male", "-6 flare 37 degree male"), ("6AN male", "-6 flare 37 degree male"),
        ("JIC 6 female", "-6 flare 37 degree female"), ("-6 AN male", "-6 flare 37 degree male"),
        ("M10×1,0 F", "M10x1 female"), ("1/8-27 NPT, male", "1/8-27 NPT male"),
        ("1/8-28 BSPT female, taper", "Rc 1/8 female"), ("M12x1.5 O-ring port", "M12x1.5 female"),
        ("9/16-18 ORB female", "9/16-18 female"), ("-6 ORB female", "9/16-18 female"),
        ("M18x1.5 lambda boss female", "M18x1.5 female"), ("M14x1.25 spark plug", "M14x1.25 male"),
        ("M8x1.25 stud", "M8x1.25 male"), ("silicone hose 51 mm", "hose 51 mm"),
        ("coupler 2 in", "hose 50.8 mm"), ("hose -6", "hose 9.525 mm"),
        ("two-bolt drain flange 44 mm", "flange 44 mm with 2 bolts"),
        ("5/16 quick connector male", "quick connector 7.89 mm male"),
        ("SAE J2044 9.49 mm female", "quick connector 9.49 mm female"),
    ],
)  # fmt: skip
def test_workshop_words_are_read(text: str, name: str) -> None:
    assert half(text).name == name


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("1/8 BSP male", "parallel (G) or tapered"), ("M10x1 taper male", "M10x1 is parallel"),
        ("Rc 1/8 parallel", "Rc 1/8 is tapered"), ("hose 16 mm 19 mm", "size"), ("flange 44 mm", "bolts"),
        ("quick connector 7 mm male", "7.89 mm"), ("quick connector 7.89 mm", "male (the tube) or female"),
    ],
)  # fmt: skip
def test_what_says_too_little_or_too_much_is_told(text: str, word: str) -> None:
    found = read_half(text)
    assert isinstance(found, Unread)
    assert word in found.sentence


def test_an_unstated_angle_or_pitch_is_a_guess() -> None:
    assert ask("-4 flare male", "-4 flare female 37").sure is Sureness.GUESS
    assert ask("M10 male", "M10x1.5 female").sure is Sureness.GUESS


WORDS = (
    "M10x1 M x 1/8 -27 NPT R Rc G male female flare 37 45 -4 dash hose mm in 1/0 ½ ² ٣ banjo . - x. é v-band"
)
PIECES = [*WORDS.split(), "9" * 30, " ", "\n"]
REAL = [f"{name} {side}" for name in threads() for side in ("male", "female")]
REAL += [
    "-4 flare male 37",
    "-6 flare female 45",
    "hose 16 mm",
    "spigot 3/4 in",
    "v-band 63 mm",
    "banjo M10x1",
]


def any_text(chance: random.Random) -> str:
    """Pieces at random, or a real name with up to two of its characters changed."""
    if chance.random() < 0.5:
        return chance.choice([" ", ""]).join(chance.choice(PIECES) for _ in range(chance.randrange(8)))
    text = list(chance.choice(REAL))
    for _ in range(chance.randrange(3)):
        text[chance.randrange(len(text))] = chance.choice('0123456789 xM/-."²é½')
    return "".join(text)


def test_no_text_breaks_the_reader() -> None:
    chance = random.Random(20)
    halves = []
    for _ in range(2000):
        found = read_half(any_text(chance))
        if isinstance(found, Half):
            halves.append(found)
        else:
            assert found.sentence
    assert 200 < len(halves) < 1800
    for a in halves[:80]:
        for b in halves[:80]:
            assert isinstance(mates(a, b, chance.choice(list(Seal))), Mating)
