"""Whether a file is the record of a drive at all: what plays, or sweeps, or was standardised is none."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import LogRefused
from boostwright.library.channels import channel_kinds
from boostwright.readers.drive_log.convert import Air
from boostwright.readers.drive_log.coupled import ranks, turns, uncoupled
from boostwright.readers.drive_log.evidence import Scene, rules
from boostwright.readers.drive_log.mapping import ColumnMapping, Question
from boostwright.readers.drive_log.units import unit_named

__all__ = ["judge"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


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
    limits = uncoupled(scene, read, values, file)
    limits += _bench(scene, read, values)
    maybe = _asked(scene, columns, questions)
    limits += _diesel(maybe | read, _values(scene, maybe | read), air, file)
    if "engine_speed" not in read:
        limits.append("no engine speed was recognised: pulls, duty and road power cannot be judged")
    return limits


def _asked(
    scene: Scene, columns: Sequence[ColumnMapping], questions: Sequence[Question]
) -> dict[str, ColumnMapping]:
    """By key: what a column in question may be, for the mixture and the absolute manifold pressure."""
    found: dict[str, ColumnMapping] = {}
    by_number = {c.column: c for c in columns}
    least = rules()["mixture"]["least_ratio"]
    for question in questions:
        small = scene.looks[question.column].quantiles[2] < least if question.column in scene.looks else False
        for candidate in question.candidates:
            if (candidate.key == "lambda" and (candidate.unit == "lambda" or not small)) or (
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
            swings = turns(a) >= rule["swings"]
            alike += swings and abs(float(np.corrcoef(ranks(a), ranks(b))[0, 1])) > rule["alike"]
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
    closed = _closed(values, idling, (speed > 50.0) & np.isfinite(absolute), absolute)
    if closed.sum() < rule["rows"] or float(np.median(absolute[closed])) < rule["depression"] * air.pressure:
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
            f"{file} is of a diesel: no vacuum at idle or without load"
            f" ({np.median(absolute[closed]) / 1e3:.0f} kPa), no spark, and"
            f" lambda {middle:.2f} under load; all that is judged here holds for petrol",
            "Take the log of a petrol engine.",
        )
    if mapped.key == "manifold_pressure" and idling.sum() >= rule["rows"]:
        limit = (
            "there is no vacuum at idle, and no spark and no mixture are logged: it may be a"
            " diesel, for which none"
            " of the rules here hold"
        )
        return [limit]
    return []


def _closed(values: dict[str, Array], idling: Mask, running: Mask, absolute: Array) -> Mask:
    """Rows (n,) in which a petrol engine sucks: at idle, else with a closed throttle, else the lowest."""
    rule = rules()["diesel"]
    if idling.sum() >= rule["rows"]:
        return idling
    for key in ("pedal", "throttle"):
        if key in values and np.isfinite(values[key]).any():
            low, high = np.nanmin(values[key]), np.nanmax(values[key])
            shut = running & (values[key] <= low + rules()["pressure"]["closed"] * (high - low))
            if shut.sum() >= rule["rows"]:
                return np.asarray(shut)
    if not running.any():
        return running
    return np.asarray(running & (absolute <= np.quantile(absolute[running], rule["emptiest"])))
