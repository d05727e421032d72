"""One half of a joint, read from what a mechanic writes: 'R 1/8', 'M10x1 female', 'hose 16 mm'."""

from __future__ import annotations

import re
from enum import Enum
from functools import cache
from typing import Final, NamedTuple

from boostwright.library.threads import Flare, Thread, banjo_threads, flares, quick_sizes, threads
from boostwright.quantity import nearest

__all__ = ["Gender", "Half", "Kind", "Unread", "read_half"]

_LONGEST: Final = 80  # characters; nobody writes a longer half
_INCH: Final = 0.0254


class Kind(Enum):
    """What a half is."""

    THREAD = "thread"
    FLARE = "flare"
    BANJO = "banjo bolt"
    HOSE = "hose"
    SPIGOT = "spigot"
    V_BAND = "v-band"
    SLIP = "slip"
    FLANGE = "flange"
    QUICK = "quick connector"


class Gender(Enum):
    """Which side of the joint a half is."""

    MALE = "male"
    FEMALE = "female"
    NEITHER = "neither"


class Half(NamedTuple):
    """One half of a joint."""

    kind: Kind
    gender: Gender
    thread: Thread | None = None  # of thread, flare and banjo
    flare: Flare | None = None
    cone_degrees: int | None = None  # 37 or 45; None: not stated, or no cone
    size: float | None = None  # bore, outside diameter or nominal size of what has no thread [m]
    pitch_assumed: bool = False  # 'M10' was taken for the coarse thread
    bolts: int | None = None  # of a flange

    @property
    def name(self) -> str:
        """What it is called in an answer."""
        if self.kind in (Kind.THREAD, Kind.BANJO) and self.thread:
            start = "banjo bolt " if self.kind is Kind.BANJO else ""
            return f"{start}{self.thread.name} {self.gender.value}"
        if self.kind is Kind.FLARE and self.flare:
            angle = f"{self.cone_degrees} degree" if self.cone_degrees else "angle not stated,"
            return f"-{self.flare.dash} flare {angle} {self.gender.value}"
        if self.kind is Kind.QUICK:
            return f"{self.kind.value} {1e3 * (self.size or 0.0):.4g} mm {self.gender.value}"
        bolts = f" with {self.bolts} bolts" if self.bolts else ""
        return f"{self.kind.value} {1e3 * (self.size or 0.0):.4g} mm{bolts}"


class Unread(NamedTuple):
    """A text that is no half we know."""

    text: str
    why: str  # one sentence
    near: tuple[str, ...] = ()  # names that look alike

    @property
    def sentence(self) -> str:
        """The whole answer."""
        return self.why + (f" Near it: {', '.join(self.near)}." if self.near else "")


_SIGNS: Final = str.maketrans(
    {"–": "-", "—": "-", "−": "-", "×": "x", "*": "x", "°": " deg ", "½": " 1/2", "¼": " 1/4", "¾": " 3/4",
     "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8", "”": '"', "“": '"', "″": '"', ",": "."}
)  # fmt: skip
_GENDERS: Final = {
    "male": Gender.MALE, "m": Gender.MALE, "external": Gender.MALE, "outside": Gender.MALE,
    "bolt": Gender.MALE,
    "plug": Gender.MALE, "stud": Gender.MALE,
    "female": Gender.FEMALE, "f": Gender.FEMALE, "internal": Gender.FEMALE,
    "port": Gender.FEMALE, "hole": Gender.FEMALE, "nut": Gender.FEMALE, "tapped": Gender.FEMALE,
}  # fmt: skip
_SIZE: Final = r"(\d+[ -]\d+/\d+|\d+/\d+|\d+(?:\.\d+)?)"
_FILLERS: Final = frozenset(
    {"thread", "threaded", "a", "the", "with", "of", "sensor", "fitting", "end", "boss", "lambda", "spark",
     "o-ring", "oring", "adapter"}
)  # fmt: skip


def _plain(text: str) -> str:
    words = re.sub(r",(?=\s|$)", " ", text).translate(_SIGNS).lower()
    words = re.sub(r"(?<=\d)\s*x\s*(?=[\d.])", "x", words)
    words = re.sub(r"\b(an|jic)\s*-?\s*(\d{1,2})\b", r"\1 -\2", words)
    words = re.sub(r"(?:^|(?<=\s))-?(\d{1,2})\s?(an|jic)\b", r"-\1 \2", words)
    return " ".join(words.split())


def _take_gender(words: str) -> tuple[str, Gender | None, bool]:
    """The text without its words of gender, the gender, and whether two of them contradict each other."""
    found: set[Gender] = set()
    rest = []
    for word in words.split():
        gender = _GENDERS.get(word.strip(".()"))
        if gender:
            found.add(gender)
        elif word.strip(".()") not in _FILLERS:
            rest.append(word)
    return " ".join(rest), next(iter(found)) if len(found) == 1 else None, len(found) > 1


@cache
def _by_plain_name() -> dict[str, str]:
    """How a thread may be written, without blanks and in small letters, and its name in the table."""
    found: dict[str, str] = {}
    for name, thread in threads().items():
        forms = [name]
        if thread.series == "NPT":
            forms += [f"{name.split('-')[0]} npt", f"npt {name.split('-')[0]}", name.replace(" ", "")]
        if thread.series in ("G", "R"):
            size, per_inch = name.split(" ", 1)[1], round(_INCH / thread.pitch)
            word = "bspp" if thread.series == "G" else "bspt"
            for part in (size, f"{size}-{per_inch}"):
                forms += [f"{part} {word}", f"{word} {part}"]
            forms.append(f"{name}-{per_inch}")
            forms.append(f"{size}-{per_inch} {thread.series}")
        if thread.series in ("Rc", "Rp"):
            size, per_inch = name.split(" ", 1)[1], round(_INCH / thread.pitch)
            forms += [f"{name}-{per_inch}", f"{size}-{per_inch} {thread.series}"]
        if thread.series in ("UNC", "UNF", "UN"):
            forms += [f"{name} {thread.series}", f"{thread.series} {name}"]
            if thread.series != "UN":
                forms.append(f"{name.split('-')[0]} {thread.series}")
            forms.append(f"{name} un")
            forms.append(f"{name} unef")
        for form in forms:
            found.setdefault(form.lower().replace(" ", ""), name)
    return found


def _thread(words: str) -> tuple[Thread | None, bool]:
    """The thread that the words name, and whether its pitch was assumed."""
    words = re.sub(r'(\d)\s*("|in\b|inch\b)', r"\1", words)
    key = words.replace(" ", "")
    name = _by_plain_name().get(key) or _by_plain_name().get(f"{key}".replace(".0", ""))
    if name:
        return threads()[name], False
    metric = re.fullmatch(r"m(\d{1,2})(?:x(\d{1,2}(?:\.\d{1,3})?|\.\d{1,3}))?", key)
    if not metric:
        return None, False
    size, pitch = int(metric[1]), metric[2]
    for thread in threads().values():
        if not thread.series.startswith("metric") or round(thread.major * 1e3) != size:
            continue
        if pitch is None and thread.series == "metric_coarse":
            return thread, True
        if pitch is not None and abs(thread.pitch * 1e3 - float(pitch)) < 1e-6:
            return thread, False
    return None, False


def _unknown_thread(text: str, words: str) -> Unread:
    names = list(threads())
    near = nearest(words, names, cutoff=0.5)
    metric = re.match(r"m\s*(\d{1,2})\b", words)
    if metric:
        near = tuple(n for n in names if n.startswith(f"M{metric[1]}x")) or near
    return Unread(text, f"No thread in the table is called '{words[:30]}'.", near)


def _length(words: str) -> float | None:
    """A size such as '16 mm' or '3/4 in' [m]; without a unit it is None."""
    found = re.fullmatch(_SIZE + r'\s*(mm|in|inch|")', words.strip())
    if not found:
        return None
    parts = re.split(r"[ -]", found[1])
    value = 0.0
    for part in parts:
        above, _, below = part.partition("/")
        if below and float(below) == 0.0:
            return None
        value += float(above) / (float(below) if below else 1.0)
    value *= 1e-3 if found[2] == "mm" else _INCH
    return value if 5e-4 <= value <= 0.3 else None


_UNTHREADED: Final = (
    (re.compile(r"\b(v[- ]?band)\b( clamp)?( flange)?"), Kind.V_BAND),
    (re.compile(r"\b(slip)([- ](joint|fit|coupler|coupling))?\b"), Kind.SLIP),
    (re.compile(r"\bhose (tail|barb)\b|\b(spigot|barb|tail|tube|pipe)\b"), Kind.SPIGOT),
    (re.compile(r"\b(push[- ]?on )?hose\b( bore)?|\bcoupler\b"), Kind.HOSE),
    (re.compile(r"\bflange\b( spacing)?"), Kind.FLANGE),
)


def _read_unthreaded(text: str, words: str) -> Half | Unread | None:
    for pattern, kind in _UNTHREADED:
        found = pattern.search(words)
        if not found:
            continue
        rest = " ".join((words[: found.start()] + " " + words[found.end() :]).split())
        bolts = None
        if kind is Kind.FLANGE:
            rest, bolts = _take_bolts(rest)
            if bolts is None:
                return Unread(text, "A flange needs its bolts and their distance, as 'flange 2 bolts 44 mm'.")
        dash = re.fullmatch(r"(?:dash ?-?|-) ?(\d{1,2})", rest) if kind in (Kind.HOSE, Kind.SPIGOT) else None
        size = int(dash[1]) / 16 * _INCH if dash and 2 <= int(dash[1]) <= 32 else _only_length(rest)
        if size is None:
            return Unread(
                text,
                f"A {kind.value} needs its size with mm or in, between 0.5 and 300 mm, or its dash, as -6.",
            )
        side = {Kind.HOSE: Gender.FEMALE, Kind.SPIGOT: Gender.MALE}.get(kind, Gender.NEITHER)
        return Half(kind, side, size=size, bolts=bolts)
    return None


def _only_length(words: str) -> float | None:
    """The one size among other words without figures, such as 'silicone 51 mm' [m]; None for none or two."""
    found = re.search(_SIZE + r'\s*(mm|inch|in|")(?![a-z])', words)
    if not found or re.search(r"\d", words[: found.start()] + words[found.end() :]):
        return None
    return _length(found[0])


def _take_bolts(words: str) -> tuple[str, int | None]:
    """The text without its number of bolts, and the number."""
    found = re.search(r"\b(\d{1,2}|two|three|four|five|six) ?(?:-? ?bolts?|holes?)\b", words)
    if not found:
        return words, None
    number = _NUMBERS.get(found[1]) or int(found[1])
    return " ".join((words[: found.start()] + " " + words[found.end() :]).split()), number or None


_NUMBERS: Final = {"two": 2, "three": 3, "four": 4, "five": 5, "six": 6}


def _read_quick(text: str, words: str, gender: Gender | None) -> Half | Unread:
    """A quick connector of a fuel line, by the outside diameter of its tube."""
    rest = " ".join(re.sub(r"\b(quick|connectors?|connect|coupling|sae|j2044)\b", " ", words).split())
    size = _length(rest) or _length(f"{rest} in")  # '5/16' is a tube of so many inches
    sizes = quick_sizes()
    near = [known for known in sizes if size is not None and abs(known - size) <= 0.1e-3]
    if size is None or not near:
        listed = tuple(f"quick connector {1e3 * known:.4g} mm" for known in sizes)
        return Unread(text, "A quick connector needs the outside diameter of its tube.", listed[:4])
    if gender is None:
        return Unread(text, "Say whether the quick connector is male (the tube) or female.")
    return Half(Kind.QUICK, gender, size=near[0])


def _read_flare(text: str, words: str, gender: Gender | None) -> Half | Unread:
    angles = {37: r"\b37\b|\bjic\b|\ban\b(?=\W*\d)|\ban\b$", 45: r"\b45\b"}
    stated = [angle for angle, pattern in angles.items() if re.search(pattern, words)]
    if len(stated) > 1:
        return Unread(text, "A flare has one cone, 37 or 45 degrees; two are written.")
    bare = re.sub(r"\b(37|45)\b", " ", words)
    dash = re.search(r"(?:^|[\s(]|dash|an|jic)\s*-\s*(\d{1,2})\b|\bdash\s*(\d{1,2})\b", bare)
    size = int(dash[1] or dash[2]) if dash else None
    if size is None:
        for (degrees, number), row in flares().items():
            if row.thread in words and (not stated or degrees in stated):
                size = number
                break
    known = [d for d in (stated or [37, 45]) if (d, size) in flares()]
    if size is None or not known:
        names = tuple(f"-{n} flare {d}" for d, n in flares() if size is not None and abs(n - size) <= 2)[:4]
        return Unread(text, "A flare needs its dash size, such as '-6', and 37 or 45 degrees.", names)
    if gender is None:
        return Unread(text, "Say whether the flare is male or female.")
    row = flares()[known[0], size]
    if not stated and len({flares()[d, size].thread for d in known}) > 1:
        return Unread(text, f"A -{size} flare has another thread at 37 than at 45 degrees: say which.")
    return Half(Kind.FLARE, gender, threads()[row.thread], row, stated[0] if stated else None)


def _read_banjo(text: str, words: str, gender: Gender | None) -> Half | Unread:
    rest = re.sub(r"\bbanjo\b", " ", words).strip()
    thread, assumed = _thread(rest)
    if thread is None:
        return Unread(
            text, f"No banjo bolt is called '{rest[:30]}'.", nearest(rest, banjo_threads(), cutoff=0.4)
        )
    if thread.taper:
        return Unread(text, "A banjo bolt has a parallel thread.", banjo_threads()[:4])
    return Half(Kind.BANJO, gender or Gender.MALE, thread, pitch_assumed=assumed)


def read_half(text: str) -> Half | Unread:
    """The half that a text names, or an Unread that says what is wanting; never raises for a text."""
    if len(text) > _LONGEST:
        return Unread(text[:_LONGEST], f"A half is named in {_LONGEST} characters or fewer.")
    plain = _plain(text)
    if not plain:
        return Unread(text, "Nothing is written; a half looks like 'M10x1 female' or '-4 flare male 37'.")
    words, gender, both = _take_gender(plain)
    quick = re.search(r"\b(quick|j2044)\b", plain) is not None
    unthreaded = None if quick else _read_unthreaded(text, plain)
    if unthreaded is not None:
        return unthreaded
    if both:
        return Unread(text, "Male and female are both written; one half is one of them.")
    if quick:
        return _read_quick(text, words, gender)
    if re.search(r"\bbanjo\b", words):
        return _read_banjo(text, words, gender)
    if re.search(r"\b(flare|jic|an|dash)\b", words):
        return _read_flare(text, words, gender)
    boss = re.fullmatch(r"-(\d{1,2}) (?:orb|j1926)|(?:orb|j1926) -(\d{1,2})", words)
    if boss and (37, int(boss[1] or boss[2])) in flares():  # it has the thread of the 37 degree flare
        words = flares()[37, int(boss[1] or boss[2])].thread
    words = re.sub(r"\b(orb|j1926)\b", " ", words).strip()
    pipe = re.fullmatch(r"(?:bsp )?(\d+(?: \d+/\d+|/\d+)?)\"?(?:-\d+)?(?: bsp)?", words)
    if "bsp" in words.split() and pipe:
        near = tuple(name for part in ("G", "R", "Rc") if (name := f"{part} {pipe[1]}") in threads())
        return Unread(text, "BSP alone does not say whether it is parallel (G) or tapered (R, Rc).", near)
    form = re.search(r"\b(taper(?:ed)?|parallel)\b", words)
    words = " ".join(re.sub(r"\b(taper(?:ed)?|parallel)\b", " ", words).split())
    thread, assumed = _thread(words)
    if thread is None:
        return _unknown_thread(text, words)
    if form and form[1].startswith("taper") != bool(thread.taper):
        is_, other = ("tapered", "parallel") if thread.taper else ("parallel", "tapered")
        return Unread(
            text, f"{thread.name} is {is_}, and '{form[1]}' is written: the {other} one has another name."
        )
    own = {"R": Gender.MALE, "Rc": Gender.FEMALE, "Rp": Gender.FEMALE}.get(thread.series)
    if own and gender and own is not gender:
        if re.search(r"bspt", words):  # the trade's word serves both sides
            return Half(Kind.THREAD, gender, threads()["Rc" + thread.name[1:]])
        other = {"R": "Rc or Rp", "Rc": "R", "Rp": "R"}[thread.series]
        why = f"{thread.series} is always {own.value} (ISO 7-1); the {gender.value} one is {other}."
        size = thread.name.split(" ", 1)[1]
        return Unread(text, why, tuple(f"{part} {size}" for part in other.split(" or ")))
    if gender is None and own is None:
        return Unread(text, f"Say whether the {thread.name} is male or female.")
    return Half(Kind.THREAD, gender or own or Gender.NEITHER, thread, pitch_assumed=assumed)
