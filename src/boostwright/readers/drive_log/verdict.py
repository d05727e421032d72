"""Whether a file is the record of a drive at all: what plays, or sweeps, or was standardised is none."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import LogRefused
from boostwright.library.channels import channel_kinds
from boostwright.readers.drive_log.convert import Air
from boostwright.readers.drive_log.evidence import Scene, rules
from boostwright.readers.drive_log.mapping import ColumnMapping, Question
from boostwright.readers.drive_log.units import unit_named

__all__ = ["judge"]

Array = NDArray[np.float64]

_TOGETHER = (
    ("throttle", "manifold_pressure"),
    ("pedal", "throttle"),
    ("engine_speed", "road_speed"),
    ("manifold_pressure", "injector_pulse"),
    ("manifold_pressure", "injector_duty"),
    ("manifold_pressure", "air_flow"),
    ("manifold_pressure", "spark_advance"),
    ("engine_speed", "injector_duty"),
    ("engine_speed", "air_flow"),
)
_RISING = _TOGETHER[:3]  # of these, the one never falls where the other rises


def judge(
    scene: Scene, columns: Sequence[ColumnMapping], questions: Sequence[Question], air: Air, file: str
) -> list[str]:
    """What may be judged only in part, with the reason, for a file that is the record of a drive.

    Raises LogRefused where it is none.
    """
    with np.errstate(over="ignore", invalid="ignore"):  # broken cells may be as large as numbers can be
        return _judged(scene, columns, questions, air, file)


def _judged(
    scene: Scene, columns: Sequence[ColumnMapping], questions: Sequence[Question], air: Air, file: str
) -> list[str]:
    changing = [n for n, look in scene.looks.items() if look.distinct > 10]
    _prepared(scene, changing, file)
    read = {c.key: c for c in columns if c.key and c.cylinder == 0}
    _nothing_known(read, questions, columns, file)
    _sweep(scene, changing, file)
    values = _values(scene, read)
    _repeats(scene, changing, file)
    limits = _uncoupled(scene, read, values, file)
    limits += _bench(scene, read, values)
    maybe = _asked(columns, questions)
    limits += _diesel(maybe | read, _values(scene, maybe | read), air, file)
    if "engine_speed" not in read:
        limits.append("no engine speed was recognised: pulls, duty and road power cannot be judged")
    return limits


def _asked(columns: Sequence[ColumnMapping], questions: Sequence[Question]) -> dict[str, ColumnMapping]:
    """By key: what a column in question may be, for the mixture and the absolute manifold pressure."""
    found: dict[str, ColumnMapping] = {}
    by_number = {c.column: c for c in columns}
    for question in questions:
        for candidate in question.candidates:
            if candidate.key == "lambda" or (
                candidate.key == "manifold_pressure" and "absolute" in candidate.unit
            ):
                mapped = by_number[question.column]
                found.setdefault(candidate.key, mapped._replace(key=candidate.key, unit=candidate.unit))
    return found


def _values(scene: Scene, read: dict[str, ColumnMapping]) -> dict[str, Array]:
    """By key: values (n,) in SI as they are counted in the file, beside the engine speed."""
    base = read.get("engine_speed")
    found: dict[str, Array] = {}
    if base is None:
        return found
    for key, mapped in read.items():
        unit = unit_named(mapped.unit, channel_kinds()[key].dimension)
        if unit is None:
            continue
        n = len(scene.looks[base.column].value)
        if scene.clock_of[mapped.column] == scene.clock_of[base.column]:
            value = scene.looks[mapped.column].value
            at = np.where(np.isfinite(value), np.arange(n), -1)
            last = np.maximum.accumulate(at)
            value = np.where(last >= 0, value[np.maximum(last, 0)], math.nan)
        else:
            ta = scene.stamp[scene.clock_of[base.column]]
            tb, other = scene.stamp[scene.clock_of[mapped.column]], scene.looks[mapped.column].value
            good = np.isfinite(tb) & np.isfinite(other)
            if good.sum() < 2:
                continue
            order = np.argsort(tb[good], kind="stable")
            value = np.interp(ta, tb[good][order], other[good][order], left=math.nan, right=math.nan)
        found[key] = unit.to_si(value)
    return found


def _prepared(scene: Scene, changing: list[int], file: str) -> None:
    """Z-scores, and columns scaled to 0..1."""
    rule = rules()["standard"]
    if len(changing) < rule["channels"]:
        return
    centred = scaled = 0
    for number in changing:
        value = scene.looks[number].value
        value = value[np.isfinite(value)]
        mean, spread = float(value.mean()), float(value.std())
        centred += abs(mean) < rule["centred"] and abs(spread - 1.0) < rule["spread"]
        low, high = float(value.min()), float(value.max())
        scaled += -0.001 <= low < rule["low"] and rule["high"] < high <= 1.001
    for count, words in ((centred, "a mean of 0 and a spread of 1"), (scaled, "values from 0 to 1 exactly")):
        if count >= rule["share"] * len(changing):
            raise LogRefused(
                "standardised",
                f"{count} of {len(changing)} changing columns of {file} have {words}: they were prepared for"
                " statistics, and units and zero points are gone",
                "Take the file that the logger wrote.",
            )


def _nothing_known(
    read: dict[str, ColumnMapping], questions: Sequence[Question], columns: Sequence[ColumnMapping], file: str
) -> None:
    asked = {c.key for q in questions for c in q.candidates}
    engine = {"engine_speed", "manifold_pressure", "charge_pressure", "lambda", "throttle"}
    if engine & (set(read) | asked):
        return
    heads = ", ".join(repr(c.heading) for c in list(columns)[:8] if c.heading) or "none"
    raise LogRefused(
        "no-engine",
        f"no column of {file} shows an engine that runs, so it is not a log of a drive; its headings are"
        f" {heads}",
        "If it is a log of an engine, say what its columns are; else take another file.",
    )


def _sweep(scene: Scene, changing: list[int], file: str) -> None:
    """All values at once through their range, or each in even steps."""
    rule = rules()["demo"]
    if len(changing) < rule["channels"]:
        return
    rows = len(scene.looks[changing[0]].value)
    if rows < rule["rows"]:
        return
    base = max(changing, key=lambda n: scene.looks[n].distinct)
    alike = ramps = 0
    for number in changing:
        a, b = scene.beside(base, number)
        if len(a) >= rule["rows"] and a.std() > 0.0 and b.std() > 0.0:
            swings = _turns(a) >= rule["swings"]
            alike += swings and abs(float(np.corrcoef(_ranks(a), _ranks(b))[0, 1])) > rule["alike"]
        value = scene.looks[number].value
        value = value[np.isfinite(value)]
        steps = np.abs(np.diff(value))
        moving = steps > 0.0
        if moving.mean() > rule["moving"]:
            size, finest = float(np.median(steps[moving])), _last_digit(value)
            even = np.abs(steps - size) <= rule["within"] * size + 1.01 * finest
            ramps += size > 2.5 * finest and float(np.mean(even)) > rule["ramp"]
    for count, words in ((alike, "rise and fall together"), (ramps, "run up and down in even steps")):
        if count >= rule["share"] * len(changing):
            raise LogRefused(
                "demo-sweep",
                f"{count} of {len(changing)} changing columns of {file} {words}: this is a show"
                " of all values,"
                " and no drive",
                "Take a log that was recorded with the engine running.",
            )


def _last_digit(value: Array) -> float:
    """What one step of the last written digit is."""
    for digits in range(7):
        step = 10.0**-digits
        if np.all(
            np.abs(value / step - np.round(value / step)) < 1e-6 * np.maximum(1.0, np.abs(value / step))
        ):
            return step
    return 1e-7


def _repeats(scene: Scene, changing: list[int], file: str) -> None:
    """Exactly the same again and again."""
    rule = rules()["emulator"]
    periods: list[int] = []
    liveliest = sorted(changing, key=lambda n: -scene.looks[n].distinct)[:12]
    for k, number in enumerate(liveliest):
        if k - len(periods) > 6:
            return
        value = scene.looks[number].value
        value = value[np.isfinite(value)]
        n = len(value)
        if n < rule["rows"]:
            continue
        period = _period(value, n // int(rule["cycles"]), float(rule["repeats"]))
        if period:
            periods.append(period)
    if len(periods) < rule["channels"]:
        return
    middle = float(np.median(periods))
    same = sum(
        abs(p / middle - round(p / middle)) < 0.02 or abs(middle / p - round(middle / p)) < 0.02
        for p in periods
    )
    if same >= max(rule["channels"], 0.5 * len(liveliest)):
        raise LogRefused(
            "emulator",
            f"{same} columns of {file} repeat themselves exactly, every {middle:.0f} rows: this"
            " was played by a"
            " device, and not driven",
            "Take a log that was recorded in the car.",
        )


def _period(value: Array, longest: int, repeats: float) -> int:
    """Rows after which a column repeats itself, 0 for never."""
    centred = value - value.mean()
    n = len(centred)
    if longest < 8 or not centred.any():
        return 0
    length = 1 << (2 * n - 1).bit_length()
    spectrum = np.fft.rfft(centred, length)
    auto = np.fft.irfft(spectrum * np.conj(spectrum), length)[: longest + 1]
    auto = auto / np.arange(n, n - longest - 1, -1)
    peaks = np.flatnonzero((auto[1:-1] >= auto[:-2]) & (auto[1:-1] > auto[2:])) + 1
    peaks = peaks[(peaks >= 8) & (auto[peaks] > 0.9 * auto[0])]
    for peak in peaks[np.argsort(-auto[peaks])][:4]:
        for lag in (peak - 1, peak, peak + 1):
            a, b = centred[:-lag], centred[lag:]
            if a.std() > 0.0 and b.std() > 0.0 and float(np.corrcoef(a, b)[0, 1]) > repeats:
                return int(lag)
    return 0


def _ranks(value: Array) -> Array:
    _, inverse, counts = np.unique(value, return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(counts) - 0.5 * (counts - 1))[inverse], dtype=np.float64)


def _turns(value: Array) -> int:
    """How often a course crosses its median."""
    above = value > np.median(value)
    return int((above[1:] != above[:-1]).sum())


def _uncoupled(
    scene: Scene, read: dict[str, ColumnMapping], values: dict[str, Array], file: str
) -> list[str]:
    """What hangs together in every car does not here; or only one sensor goes with nothing."""
    rule = rules()["emulator"]
    speed = values.get("engine_speed")
    if speed is None or len(speed) < rule["rows"]:
        return []
    good = np.isfinite(speed) & (speed > rule["runs"])
    if good.sum() < rule["rows"] or not _stirs("engine_speed", speed[good]):
        return []
    if "throttle" in values and not _stirs("throttle", values["throttle"][good]):
        return []  # nobody drove
    stamp = scene.stamp[scene.clock_of[read["engine_speed"].column]]
    step = float(np.nanmedian(np.diff(stamp)))
    span = max(1, round(rule["change"] / step)) if step > 0.0 else 1
    seen = []
    for one, other in _TOGETHER:
        if one in values and other in values:
            both = good & np.isfinite(values[one]) & np.isfinite(values[other])
            a, b = values[one][both], values[other][both]
            if len(a) >= rule["rows"] and _stirs(one, a) and _stirs(other, b):
                seen.append((_beyond_chance(a, b, span, (one, other) in _RISING), one, other))
    apart = [pair for pair in seen if pair[0] < 0.0]
    if len(seen) < rule["pairs"] or len(apart) < rule["pairs"] or max(seen)[0] >= rule["sure"]:
        return []
    one, other = max(apart)[1:]
    common = set.intersection(*({a, b} for _, a, b in apart))
    if common and len(apart) == len(seen):
        words = channel_kinds()[common.pop()].words
        return [f"{words} goes with nothing else in the file: what it shows cannot be trusted"]
    names = " and ".join(channel_kinds()[k].words for k in (one, other))
    raise LogRefused(
        "emulator",
        f"hardly anything in {file} hangs together as in a car: {names} do not go together, as if an"
        " emulator played them",
        "Take a log that was recorded in the car, or see whether its columns are what their headings say.",
    )


def _stirs(key: str, value: Array) -> bool:
    """True where a quantity moves enough to be compared: at rest and at idle there is but noise."""
    value = value[np.isfinite(value)]
    return len(value) > 0 and float(np.ptp(np.quantile(value, (0.05, 0.95)))) > rules()["stirs"][key]


def _beyond_chance(a: Array, b: Array, span: int, rising: bool = False) -> float:
    """By how much the rank correlation (n,) of two courses, or of their changes over a span, is no chance."""
    rule = rules()["emulator"]
    # by chance two slow courses agree the better, the seldomer they cross their middle
    turns = max(min(_turns(a), _turns(b)), 1)
    chance = min(rule["most_apart"], max(rule["apart"], rule["chance"] / math.sqrt(turns)))
    size: Callable[[float], float] = float if rising else abs
    level = size(float(np.corrcoef(_ranks(a), _ranks(b))[0, 1])) - chance
    if level >= rule["plain"]:
        return level
    da, db = a[span:] - a[:-span], b[span:] - b[:-span]
    moving = (np.abs(da) > rule["stirs"] * np.ptp(a)) | (np.abs(db) > rule["stirs"] * np.ptp(b))
    da, db = da[moving], db[moving]
    if len(da) < rule["turns"] or min(_turns(da), _turns(db)) < rule["turns"] or not (da.std() and db.std()):
        return level
    change = size(float(np.corrcoef(_ranks(da), _ranks(db))[0, 1])) - rule["change_apart"]
    return min(level, change)  # levels may agree by chance where their changes do not


def _bench(scene: Scene, read: dict[str, ColumnMapping], values: dict[str, Array]) -> list[str]:
    """Steady speeds one after the other, and no road: an engine on a bench."""
    rule = rules()["bench"]
    speed = values.get("engine_speed")
    if speed is None or len(speed) < rule["rows"]:
        return []
    road = values.get("road_speed")
    if road is not None and np.isfinite(road).any() and float(np.nanmax(road)) > 3.0:
        return []
    stamp = scene.stamp[scene.clock_of[read["engine_speed"].column]]
    step = float(np.nanmedian(np.diff(stamp))) if len(stamp) > 2 else 0.0
    width = max(2, int(rule["window"] / step)) if step > 0.0 else 10
    if len(speed) < 3 * width:
        return []
    good = np.where(np.isfinite(speed), speed, 0.0)
    parts = good[: len(good) // width * width].reshape(-1, width)
    running = parts.mean(axis=1) > rule["least_speed"]
    calm = running & (np.ptp(parts, axis=1) < 2.0 * rule["within"] * np.maximum(parts.mean(axis=1), 1.0))
    if not running.any() or calm.sum() < rule["steady"] * running.sum():
        return []
    levels = np.sort(parts.mean(axis=1)[calm])
    steps = 1 + int((np.diff(levels) > 0.05 * levels[1:]).sum())
    if steps < rule["steps"]:
        return []
    limit = (
        f"it looks like a bench test: {steps} steady speeds and no road speed. Pulls, gears,"
        " lifts and road power"
        " cannot be judged"
    )
    return [limit]


def _diesel(read: dict[str, ColumnMapping], values: dict[str, Array], air: Air, file: str) -> list[str]:
    """No vacuum at idle, lean under load, no spark: the rules for petrol do not hold."""
    rule = rules()["diesel"]
    speed, pressure = values.get("engine_speed"), values.get("manifold_pressure")
    if pressure is None:
        pressure = values.get("charge_pressure")
        mapped = read.get("charge_pressure")
    else:
        mapped = read["manifold_pressure"]
    if (
        speed is None
        or pressure is None
        or mapped is None
        or "spark_advance" in read
        or "spark_table" in read
    ):
        return []
    unit = unit_named(mapped.unit, channel_kinds()[mapped.key].dimension)
    gauge = unit is not None and unit.kind is not None and unit.kind.value == "gauge"
    absolute = pressure + (air.pressure if gauge else 0.0)
    idling = (speed > 50.0) & (speed < 140.0) & np.isfinite(absolute)
    if idling.sum() < rule["rows"] or float(np.median(absolute[idling])) < rule["depression"] * air.pressure:
        return []
    if float(np.nanmax(speed)) > rule["most_speed"]:
        return []
    mixture = values.get("lambda")
    loaded = absolute > rule["load"] * air.pressure
    lean = mixture is not None and np.isfinite(mixture[loaded]).sum() >= rule["rows"]
    if lean and mixture is not None:
        middle = float(np.nanmedian(mixture[loaded]))
        if middle < rule["lean_load"]:
            return []
        raise LogRefused(
            "diesel",
            f"{file} is of a diesel: no vacuum at idle ({np.median(absolute[idling]) / 1e3:.0f}"
            " kPa), no spark, and"
            f" lambda {middle:.2f} under load; all that is judged here holds for petrol",
            "Take the log of a petrol engine.",
        )
    if mapped.key == "manifold_pressure":
        limit = (
            "there is no vacuum at idle, and no spark and no mixture are logged: it may be a"
            " diesel, for which none"
            " of the rules here hold"
        )
        return [limit]
    return []
