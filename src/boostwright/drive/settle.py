"""Notices that stand after those of broken sensors are known: what a broken sensor says proves nothing."""

from __future__ import annotations

from collections.abc import Iterable

from boostwright.drive.records import Notice

__all__ = ["settled"]

OF_SENSORS = frozenset({"sensor-frozen", "sensor-spikes", "sensor-at-its-end", "channel-slow"})
_SHARE = 0.5  # of a notice's time that a broken sensor must cover


def settled(notices: Iterable[Notice]) -> list[Notice]:
    """The notices without those that rest on a sensor which was itself at fault for half of that time."""
    every = list(notices)
    broken: dict[str, list[tuple[float, float]]] = {}
    for notice in every:
        if notice.kind in OF_SENSORS:
            for channel in notice.channels:
                broken.setdefault(channel, []).append((notice.start, notice.end))
    return [n for n in every if n.kind in OF_SENSORS or not _rests_on(n, broken)]


def _rests_on(notice: Notice, broken: dict[str, list[tuple[float, float]]]) -> bool:
    length = max(notice.end - notice.start, 1e-3)
    for channel in notice.channels:
        covered = sum(
            max(0.0, min(notice.end, b + 0.5) - max(notice.start, a - 0.5))
            for a, b in broken.get(channel, [])
        )
        if covered >= _SHARE * length:
            return True
    return False
