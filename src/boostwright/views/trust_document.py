"""What draws add to the JSON document."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from boostwright.findings.trust_records import Band, Chance, FindingOdds, Trust
from boostwright.uncertainty.odds import Odds

__all__ = ["trust_document"]


def trust_document(trust: Trust) -> dict[str, Any]:
    """The draws, in the form of `schema.results_schema`; SI, null for what is not a number."""
    return {
        "draws": trust.draws,
        "asked": trust.asked,
        "failed": dict(trust.failed),
        "seed": trust.seed,
        "ended": trust.ended,
        "unknowns": trust.unknowns,
        "whole": _chance(trust.whole),
        "safe": _chance(trust.safe),
        "findings": {code: _finding(code, found, trust) for code, found in trust.findings.items()},
        "bands": {name: _band(band) for name, band in trust.curves.items()},
        "readings": [
            {
                "key": r.key,
                "words": r.words,
                "instrument": r.instrument,
                "when": r.when,
                "minutes": _number(r.minutes),
                "price": _number(r.price),
                "drop": _number(r.drop),
                "error": _number(r.error),
                "cost": _number(r.cost),
                "rate": _number(r.rate),
                "findings": list(r.findings),
                "caution": r.caution,
            }
            for r in trust.readings
        ],
        "read_already": list(trust.read_already),
        "seconds": _number(trust.seconds),
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _odds(odds: Odds) -> dict[str, Any]:
    return {
        "probability": _number(odds.probability),
        "sampling_error": _number(odds.sampling_error),
        "draws": odds.draws,
        "bound": odds.bound,
    }


def _chance(chance: Chance) -> dict[str, Any]:
    return {
        "words": chance.words,
        "odds": _odds(chance.odds),
        "counted": chance.counted,
        "left_out": list(chance.left_out),
    }


def _three(values: tuple[float, float, float], sd: float) -> dict[str, Any]:
    low, middle, high = (_number(v) for v in values)
    return {"low": low, "middle": middle, "high": high, "sd": _number(sd)}


def _finding(code: str, found: FindingOdds, trust: Trust) -> dict[str, Any]:
    return {
        "odds": _odds(found.odds),
        "demand": _three(found.demand, found.demand_sd),
        "capacity": _three(found.capacity, found.capacity_sd),
        "corners": dict(found.corners),
        "told": _number(found.told),
        "unexplained": _number(trust.unexplained.get(code, math.nan)),
        "shares": [
            {
                "names": list(share.names),
                "words": share.words,
                "alone": _number(share.alone),
                "total": _number(share.total),
                "error": _number(share.error),
            }
            for share in trust.shares.get(code, ())
        ],
    }


def _band(band: Band) -> dict[str, Any]:
    return {
        name: [_number(float(v)) for v in np.asarray(getattr(band, name))]
        for name in ("low", "middle", "high", "told")
    }
