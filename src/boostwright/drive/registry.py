"""Every detector of the review, by what it watches."""

from __future__ import annotations

from boostwright.drive.scene import Watch

__all__ = ["WATCHES"]

WATCHES: tuple[Watch, ...] = ()
