"""Notices that stand after those of broken sensors are known: what a broken sensor says proves nothing."""

from __future__ import annotations

from collections.abc import Iterable

from boostwright.drive.boost_cut import EFFECTS
from boostwright.drive.records import Notice

__all__ = ["settled"]

OF_SENSORS = frozenset({"sensor-frozen", "sensor-spikes", "sensor-at-its-end", "channel-slow"})
_SHARE = 0.5  # of a notice's time that a broken sensor must cover


def settled(notices: Iterable[Notice]) -> list[Notice]:
    """The notices without those that rest on a sensor which was itself at fault for half of that time.

    Nor do those stand that only show a boost cut at work: lean, weak and swinging while it trips.
    """
    every = list(notices)
    broken: dict[str, list[tuple[float, float]]] = {}
    for notice in every:
        if notice.kind in OF_SENSORS:
            for channel in notice.channels:
                broken.setdefault(channel, []).append((notice.start, notice.end))
    left = [n for n in every if n.kind in OF_SENSORS or not _rests_on(n, broken)]
    cuts = [(n.start, n.end) for n in left if n.kind == "boost-cut"]
    return [n for n in left if n.kind not in EFFECTS or not _covered(n, cuts)]


def _rests_on(notice: Notice, broken: dict[str, list[tuple[float, float]]]) -> bool:
    return any(_covered(notice, broken.get(channel, [])) for channel in notice.channels)


def _covered(notice: Notice, times: list[tuple[float, float]]) -> bool:
    length = max(notice.end - notice.start, 1e-3)
    covered = sum(max(0.0, min(notice.end, b + 0.5) - max(notice.start, a - 0.5)) for a, b in times)
    return covered >= _SHARE * length
