"""What was wrong with the clock of the log: rows missing, stamps that stand still, a clock set back."""

from __future__ import annotations

from boostwright.drive.records import Notice, Reading
from boostwright.drive.scene import Scene

__all__ = ["clock_faults"]

_KINDS = {
    "gap": ("clock-gap", "time without rows"),
    "repeats": ("clock-repeats", "time of repeated stamps"),
    "jump-back": ("clock-jump-back", "time that the clock steps back"),
}


def clock_faults(scene: Scene) -> list[Notice]:
    """One notice for each repair of the time base that is more than a single broken stamp."""
    found = []
    signals = scene.signals
    for number, base in enumerate(signals.clocks):
        if base is None:
            continue
        for fault in base.faults:
            if fault.kind not in _KINDS:
                continue
            kind, words = _KINDS[fault.kind]
            row = signals.recording.clocks[number].row
            first, last = signals.at(float(base.t[fault.first])), signals.at(float(base.t[fault.last]))
            size = Reading(words, fault.size, base.step, "time")
            notice = scene.notice(kind, first, last, size, fault.size / base.step, ())
            found.append(notice._replace(first_row=int(row[fault.first]), last_row=int(row[fault.last])))
    return found
