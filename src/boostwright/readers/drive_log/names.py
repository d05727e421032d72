"""What a heading says: its unit, and how well its words fit each quantity."""

from __future__ import annotations

import difflib
import re
import tomllib
import unicodedata
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any, Final, NamedTuple

from boostwright.library import read_text
from boostwright.readers.drive_log.units import any_unit, trailing

__all__ = [
    "NameFit",
    "Reading",
    "fits",
    "kind_word",
    "known_words",
    "plain_words",
    "readings",
    "says",
    "time_table",
]

_BRACKET: Final = re.compile(
    r"^(?P<name>.*?)\s*[\[({<](?P<unit>[^\[\](){}<>]*)[\])}>]\s*(?P<rest>[^\[\](){}<>]*)$"
)
_CAMEL: Final = re.compile(
    r"(?<=[a-zäöüß0-9])(?=[A-ZÄÖÜ])|(?<=[A-Z])(?=[A-Z][a-zäöü])|(?<=[A-Za-z])(?=[0-9]{1,2}(?:[^0-9]|$))"
)
_SPLIT: Final = re.compile(r"[^a-z0-9]+")
_CYLINDER: Final = re.compile(
    r"(?:cyl(?:inder|indre)?|zyl(?:inder)?|cilindro|cil|kr|retard|knock|retrait|klopf\w*|#|nr|no)\.?[\s_#.\-]*([1-9]|1[0-2])(?![0-9])"
    r"|(?<![0-9])([1-9]|1[0-2])[\s_.\-]*(?:cyl|zyl)",
    re.IGNORECASE,
)
_LAST_NUMBER: Final = re.compile(r"(?<![0-9])([1-9]|1[0-2])\s*$")
_ABBREVIATION: Final = 4  # letters, of one word at least
_ABBREVIATED: Final = 0.82
_SYMBOL: Final = 0.52  # n, p, v: letters of formulas are asked about
_LONG_ENOUGH: Final = 6  # letters, for a name within a compound word
_NEAR: Final = 0.88
_MISSPELT: Final = 0.62  # a word that is only nearly known is asked about


class Reading(NamedTuple):
    """One way to read a heading: the name without its unit, and the unit's text ('' for none)."""

    name: str
    unit: str
    bracketed: bool


class NameFit(NamedTuple):
    """How well a heading fits a quantity by its words alone."""

    key: str
    score: float  # 0 to 1
    matched: str  # the name that was found in it
    other: tuple[str, ...]  # words that make it something else


@cache
def _raw() -> dict[str, Any]:
    return tomllib.loads(read_text("log_words.toml"))


def _folded(text: str) -> str:
    text = text.replace("ß", "ss").replace("ẞ", "ss")
    text = unicodedata.normalize("NFKD", text)
    return "".join(c for c in text if not unicodedata.combining(c)).casefold()


@lru_cache(maxsize=50_000)
def plain_words(text: str) -> tuple[str, ...]:
    """The words of a heading without case, accents and signs."""
    text = text.replace("λ", " lambda ").replace("�", "")
    spaced = _CAMEL.sub(" ", text[:200])
    return tuple(w for w in _SPLIT.split(_folded(spaced)) if w)


def _german(words: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(w.replace("ae", "a").replace("oe", "o").replace("ue", "u") for w in words)


class _Words(NamedTuple):
    phrases: tuple[tuple[str, tuple[str, ...]], ...]  # key, words
    exact: dict[tuple[str, ...], tuple[str, ...]]  # sorted words: keys
    joined: dict[str, tuple[str, ...]]
    target: frozenset[str]
    same: frozenset[str]
    other: frozenset[str]
    generic: frozenset[str]
    symbols: dict[str, tuple[str, ...]]
    scale: frozenset[str]


@cache
def _words() -> _Words:
    raw = _raw()
    phrases: list[tuple[str, tuple[str, ...]]] = []
    exact: dict[tuple[str, ...], list[str]] = {}
    joined: dict[str, list[str]] = {}
    for key, names in raw["names"].items():
        for name in names:
            words = plain_words(name)
            if (key, words) in phrases:
                continue
            phrases.append((key, words))
            exact.setdefault(tuple(sorted(words)), []).append(key)
            joined.setdefault("".join(words), []).append(key)

    def flat(words: list[str]) -> frozenset[str]:
        return frozenset("".join(plain_words(w)) for w in words)

    q = raw["qualifiers"]
    return _Words(
        tuple(phrases),
        {k: tuple(v) for k, v in exact.items()},
        {k: tuple(v) for k, v in joined.items()},
        flat(q["target"]),
        flat(q["same"]),
        flat(q["other"]),
        flat(q["generic"]),
        {word: tuple(keys) for word, keys in raw["symbols"].items()},
        flat(q["scale"]),
    )


_TARGETS: Final = {
    "manifold_pressure": "boost_target",
    "charge_pressure": "boost_target",
    "lambda": "lambda_target",
    "spark_advance": "spark_table",
    "boost_target": "boost_target",
    "lambda_target": "lambda_target",
    "spark_table": "spark_table",
}
_ALWAYS_ASKED: Final = frozenset({"injector_duty", "gate_duty", "injector_pulse", "knock_retard", "pedal"})


@lru_cache(maxsize=20_000)
def fits(name: str) -> tuple[NameFit, ...]:
    """The quantities that a name without its unit can mean, best first, scores from 0 to 1."""
    words = plain_words(name)
    if not words or len(words) > 14:
        return ()
    best: dict[str, NameFit] = {}
    variants = {words, _german(words)}
    for variant in variants:
        for fit in _fits(variant):
            if fit.key not in best or fit.score > best[fit.key].score:
                best[fit.key] = fit
    return tuple(sorted(best.values(), key=lambda f: -f.score))


def _fits(words: tuple[str, ...]) -> list[NameFit]:
    known = _words()
    found: list[NameFit] = []
    bare = tuple(w for w in words if not w.isdigit())
    for form in {words, bare}:
        for key in known.exact.get(tuple(sorted(form)), ()) + known.joined.get("".join(form), ()):
            found.append(NameFit(key, 1.0, " ".join(words), ()))
    if found:
        return found
    here = set(bare)
    whole = "".join(bare)
    for key, phrase in known.phrases:
        if here.issuperset(phrase):
            rest = [w for w in bare if w not in phrase]
            score, base = 0.97, key
            if len(phrase) == 1 and phrase[0] in known.generic and any(w not in known.same for w in rest):
                score = 0.55
        elif len(joined := "".join(phrase)) >= _LONG_ENOUGH and joined in whole:
            left = whole.replace(joined, " ", 1).split()
            rest = [w for w in left if w not in ("s", "n", "r", "en")]
            score, base = 0.88, key
        else:
            continue
        if len(phrase) == 1 and len(phrase[0]) <= 2:
            score -= 0.15
        if key.startswith("fuel_trim"):
            rest = [w for w in rest if w not in known.scale]
        score, base, other = _with_rest(base, score, rest, known)
        weight = 0.012 * (len("".join(phrase)) - 6)
        found.append(
            NameFit(base, max(0.0, min(0.99, score + max(-0.03, min(weight, 0.03)))), " ".join(phrase), other)
        )
    if not found:
        found += [NameFit(key, _ABBREVIATED, name, ()) for key, name in _abbreviated(words, known)]
        found += [NameFit(key, _SYMBOL, " ".join(words), ()) for key in known.symbols.get("".join(words), ())]
    if not found and len(whole) >= _LONG_ENOUGH:
        near = difflib.get_close_matches(whole, known.joined, n=2, cutoff=_NEAR)
        for one in near:
            ratio = difflib.SequenceMatcher(None, whole, one).ratio()
            found += [NameFit(key, _MISSPELT * ratio, one, ()) for key in known.joined[one]]
    return found


def _abbreviated(words: tuple[str, ...], known: _Words) -> list[tuple[str, str]]:
    """Quantities whose name's words begin, in their order, with the heading's: 'Fahrgeschw.'."""
    bare = [w for w in words if not w.isdigit() and w not in known.same]
    if not bare or not any(len(w) >= _ABBREVIATION for w in bare):
        return []
    found = []
    for key, phrase in known.phrases:
        pairs = list(zip(phrase, bare, strict=False))
        if len(phrase) == len(bare) and all(p.startswith(w) and len(w) >= 3 for p, w in pairs):
            found.append((key, " ".join(phrase)))
    return found


def _with_rest(key: str, score: float, rest: list[str], known: _Words) -> tuple[float, str, tuple[str, ...]]:
    """Score, key and hindering words once the words beside the name are counted."""
    other: list[str] = []
    for word in rest:
        if len(word) == 1 and word not in known.target:
            score -= 0.03
        elif word in known.target or any(len(t) > 3 and word == t for t in known.target):
            if key in _TARGETS:
                key = _TARGETS[key]
            elif key not in _ALWAYS_ASKED:
                other.append(word)
        elif word in known.other:
            other.append(word)
        elif word in known.same:
            score -= 0.005
        else:
            score -= 0.1
    if other:
        score = min(score, 0.25)
    return score, key, tuple(other)


@lru_cache(maxsize=20_000)
def readings(heading: str) -> tuple[Reading, ...]:
    """The ways to read a heading, likeliest first: 'Boost [psi]', 'boost_psi', 'coolant °C', 'rpm'."""
    heading = heading.strip().strip('"').strip()[:200]
    found: list[Reading] = []
    match = _BRACKET.match(heading)
    if match:
        inside = match["unit"].strip()
        name = f"{match['name']} {match['rest']}".strip()
        if any_unit(inside):
            found.append(Reading(name, inside, True))
        else:
            parts = [p.strip() for p in re.split(r"[,;/|]", inside)]
            unit = next((p for p in parts if any_unit(p)), "")
            others = " ".join(p for p in parts if p != unit)
            if unit and unit != inside:
                kind = kind_word(others)
                found.append(Reading(f"{name} {others}", f"{unit} {kind}".strip() if kind else unit, True))
            else:
                blank = inside in ("", "-", "1", "--", "n/a")
                found.append(Reading(name if blank else f"{name} {inside}", "", False))
    words, marks = trailing()
    for mark in marks:
        if heading.casefold().endswith(mark) and len(heading) > len(mark):
            before = heading[: -len(mark)]
            if before[-1] in " _,-/.:" or mark in ("%", "°c", "°f", "°"):
                found.append(Reading(before.strip(" _,-/:"), heading[-len(mark) :].strip(), False))
                break
    else:
        tail = re.match(
            r"^(.*[^A-Za-z°%])((?:deg\s)?[A-Za-z]+)$|^(.*[a-zäöü])(KPA|kPa|PSI|Bar|RPM|Kpa|Psi)$", heading
        )
        if tail:
            before, unit = (tail[1], tail[2]) if tail[1] else (tail[3], tail[4])
            if unit.casefold() in words and before.strip(" _,-/.:"):
                found.append(Reading(before.strip(" _,-/:"), unit, False))
    found.append(Reading(heading, "", False))
    return tuple(found)


@cache
def time_table(name: str) -> dict[str, str]:
    """A table of words about time: 'months' or 'units'."""
    return {str(k): str(v) for k, v in _raw()["time"][name].items()}


@cache
def _kind_words() -> dict[str, frozenset[str]]:
    return {k: frozenset("".join(plain_words(w)) for w in v) for k, v in _raw()["kinds"].items()}


def kind_word(name: str) -> str:
    """'absolute' or 'gauge' where the words say so, else ''."""
    words = plain_words(name)
    pairs = {"".join(p) for p in pairwise(words)}
    for kind in ("absolute", "gauge"):
        if (set(words) | pairs) & _kind_words()[kind]:
            return kind
    return ""


def cylinder_of(name: str) -> int:
    """The cylinder that a heading names, 0 for none."""
    match = _CYLINDER.search(name)
    if match is None:
        match = _LAST_NUMBER.search(name.strip("_ ]).").replace("_", " "))
    return int(next((g for g in match.groups() if g), "0")) if match else 0


@cache
def known_words(table: str, key: str) -> frozenset[str]:
    """Words of one list of the file, each in one piece: ('time', 'elapsed') or ('long', 'name')."""
    return frozenset("".join(plain_words(w)) for w in _raw()[table][key])


def says(heading: str, table: str, key: str) -> bool:
    """True where one reading of a heading is in that list."""
    words = known_words(table, key)
    return any("".join(plain_words(r.name)) in words for r in readings(heading))
