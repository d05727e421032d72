"""The review of a recorded drive: stretches, pulls, notices, worst first, and what the log cannot show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from boostwright.build.document import Build
from boostwright.drive.facts import facts_of
from boostwright.drive.pulls import Pull, pulls_of
from boostwright.drive.rates import missed_between
from boostwright.drive.records import Notice, Stretch
from boostwright.drive.registry import WATCHES
from boostwright.drive.scene import Scene, Watch
from boostwright.drive.settle import settled
from boostwright.drive.signal import Signals
from boostwright.drive.stretches import stretches_of, ways_of
from boostwright.errors import OutOfRange
from boostwright.library.channels import channel_kinds
from boostwright.library.notice_kinds import notice_kinds
from boostwright.readers.drive_log.recording import Recording

__all__ = ["CannotShow", "Review", "review", "scene_of", "worst_first"]


class CannotShow(NamedTuple):
    """Kinds of notice that this log could not have shown, or not wholly, and why."""

    kinds: tuple[str, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class Review:
    """What a drive showed. notices: faults first, by what is at stake, then by how far out they are."""

    scene: Scene
    notices: tuple[Notice, ...]
    cannot_show: tuple[CannotShow, ...]

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """The drive in stretches, by their start."""
        return self.scene.stretches

    @property
    def pulls(self) -> tuple[Pull, ...]:
        """Every pull with its figures."""
        return self.scene.pulls

    @property
    def faults(self) -> tuple[Notice, ...]:
        """The notices that are to be mended."""
        return tuple(n for n in self.notices if n.fault)


def review(recording: Recording, build: Build | None = None) -> Review:
    """What a recorded drive shows, with the facts of its build where one is given.

    Raises OutOfRange when the recording has no engine speed, or no time that can be read.
    """
    scene = scene_of(recording, build)
    notices: list[Notice] = []
    cannot: list[CannotShow] = []
    for watch in WATCHES:
        reason = _lacks(scene, watch)
        if reason:
            cannot.append(CannotShow(watch.kinds, reason))
        else:
            notices.extend(watch.find(scene))
            words = channel_kinds()
            cannot.extend(
                CannotShow(watch.kinds, f"not recorded: {words[key].words}; so it does not show {what}")
                for key, what in watch.better
                if not scene.signals.cylinders(key)
            )
    cannot.extend(CannotShow(*missed) for missed in missed_between(scene))
    return Review(scene, tuple(sorted(settled(notices), key=worst_first)), tuple(cannot))


def scene_of(recording: Recording, build: Build | None = None) -> Scene:
    """The drive made ready for the detectors. Raises as `review`."""
    signals = Signals(recording)
    if "engine_speed" not in signals:
        raise OutOfRange(
            f"{recording.file}: no channel was recognised as engine speed, and without it no pull, idle or "
            "fault has its place: name its column."
        )
    facts = facts_of(build)
    ways = ways_of(signals, facts.ratios)
    stretches = stretches_of(signals, ways)
    return Scene(signals, ways, stretches, pulls_of(signals, ways, stretches), facts)


def _lacks(scene: Scene, watch: Watch) -> str:
    """What the log lacks for a detector, in words; '' where nothing."""
    signals, kinds = scene.signals, channel_kinds()
    for group in watch.needs:
        if not any(signals.cylinders(key) for key in group):
            return "not recorded: " + " or ".join(kinds[key].words for key in group)
    if watch.rate and watch.needs:
        rates = [signals.rate(k, c) for k in watch.needs[0] for c in signals.cylinders(k)]
        if max(rates) < watch.rate:
            words = " or ".join(kinds[key].words for key in watch.needs[0])
            return f"{words}: {max(rates):.3g} readings a second, and it takes {watch.rate:.3g} to see it"
    return ""


def worst_first(notice: Notice) -> tuple[bool, int, float, float]:
    """A key to sort by: faults first, by what is at stake and how soon, then by how far out they are."""
    return (not notice.fault, -notice_kinds()[notice.kind].rank, -notice.ratio, notice.start)
