"""Values that follow from what is stated in another way."""

from __future__ import annotations

import math
from collections.abc import Mapping

from boostwright.build.values import StatedValue

__all__ = ["cam_events"]


def cam_events(values: Mapping[str, StatedValue]) -> dict[str, StatedValue]:
    """The four cam events where durations and lobe centres are stated: event = centre -/+ duration / 2.

    The spreads of centre and duration are taken as independent. Returns an empty dict where nothing is to be
    worked out; the events are at the same lift point (engine.cam_lift_point) as the durations.
    """
    found: dict[str, StatedValue] = {}
    for side in ("intake", "exhaust"):
        duration = values.get(f"engine.{side}_duration")
        centre = values.get(f"engine.{side}_centre")
        if duration is None or centre is None:
            continue
        sd = math.hypot(centre.sd, duration.sd / 2)
        for what, half in (("opens", -0.5), ("closes", 0.5)):
            path = f"engine.{side}_{what}"
            if path in values:
                continue
            angle = centre.value + half * duration.value
            note = "from duration and lobe centre"
            found[path] = StatedValue(
                path, angle, sd, duration.source, duration.line, duration.text, None, note
            )
    return found
