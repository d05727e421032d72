"""Draws on all processors: in order, as they come, and what is done is kept when somebody breaks off."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait

import numpy as np
from numpy.typing import NDArray

from boostwright.trust.draw import Draw, Request, draw

__all__ = ["BrokenOff", "drawn", "processors"]

Array = NDArray[np.float64]

_AHEAD = 2  # draws that wait for each processor


class BrokenOff(Exception):
    """Somebody broke off; what was done by then has been handed over."""


def processors() -> int:
    """How many processors this program may use."""
    if hasattr(os, "sched_getaffinity"):
        return max(len(os.sched_getaffinity(0)), 1)
    return max(os.cpu_count() or 1, 1)


def drawn(
    request: Request,
    rows: Sequence[Array],
    processes: int | None = None,
    stopping: Callable[[], None] = lambda: None,
) -> Generator[tuple[int, Draw], None, None]:
    """Draw at every row of values; yields (place, draw) as they are ready, in no order.

    request: what all draws share. rows: of values (d,) each. processes: how many at a time; None: one for
    each processor, 1: in this process. stopping: called at once when somebody breaks off, for the draws under
    way still take seconds. Raises BrokenOff in place of KeyboardInterrupt, after the processes
    have ended.
    """
    n = processors() if processes is None else processes
    if n <= 1 or len(rows) <= 1:
        try:
            for place, row in enumerate(rows):
                yield place, draw(request, row)
        except KeyboardInterrupt:
            stopping()
            raise BrokenOff from None
        return
    # a fork inherits compiled kernels and tables; elsewhere each process loads them from the cache
    how = "fork" if sys.platform.startswith("linux") else "spawn"
    pool = ProcessPoolExecutor(
        n, mp_context=multiprocessing.get_context(how), initializer=_begin, initargs=(request,)
    )
    waiting: dict[Future[Draw], int] = {}
    try:
        todo = iter(enumerate(rows))
        _fill(pool.submit, waiting, todo, n * _AHEAD)
        while waiting:
            ready, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for one in ready:
                yield waiting.pop(one), one.result()
            _fill(pool.submit, waiting, todo, n * _AHEAD)
    except KeyboardInterrupt:
        stopping()
        raise BrokenOff from None
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _fill(
    submit: Callable[..., Future[Draw]],
    waiting: dict[Future[Draw], int],
    todo: Iterator[tuple[int, Array]],
    most: int,
) -> None:
    while len(waiting) < most:
        following = next(todo, None)
        if following is None:
            return
        place, row = following
        waiting[submit(_one, row)] = place


_REQUEST: list[Request] = []  # of this process


def _begin(request: Request) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the first process decides when to end
    _REQUEST[:] = [request]


def _one(row: Array) -> Draw:
    return draw(_REQUEST[0], row)
