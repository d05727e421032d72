"""Every detector of the review, by what it watches."""

from __future__ import annotations

from boostwright.drive import (
    boost_cut,
    boost_faults,
    engine_faults,
    misfire,
    slow_faults,
    steady_surge,
    watch_list,
)
from boostwright.drive.scene import Watch

__all__ = ["WATCHES"]

WATCHES: tuple[Watch, ...] = (
    *boost_faults.WATCHES,
    *boost_cut.WATCHES,
    *engine_faults.WATCHES,
    *slow_faults.WATCHES,
    *steady_surge.WATCHES,
    *misfire.WATCHES,
    *watch_list.WATCHED,
)
