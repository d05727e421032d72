"""Bracketed root of a function of one unknown, for many independent points at once.

`scipy.optimize.elementwise.find_root` does the same, and the tests compare with it; on a few dozen points of
a compressor map it takes two to three times as long (benchmarks/turbo.py), and the match solves thousands of
them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["Roots", "bracketed_root"]

Array = NDArray[np.float64]


class Roots(NamedTuple):
    """Roots and whether each of them closed."""

    x: Array
    closed: NDArray[np.bool_]


def bracketed_root(
    function: Callable[[Array], Array], left: Array, right: Array, rtol: float = 1e-11, max_steps: int = 80
) -> Roots:
    """Root of f between left and right, point by point, by Chandrupatla's method.

    Inverse quadratic interpolation where the last three points allow it, bisection where they do not; the
    bracket never opens.

    function: takes an array of the shape of left and gives one of the same shape; each entry hangs on its own
    argument only. left, right: ends with f of opposite sign, or zero at one of them. rtol: of the bracket's
    width over the root [-]. max_steps: function calls after the first two. Returns the ends' better one for
    each point; `closed` is False where the ends have no change of sign, f is not finite, or the steps ran
    out. Source: chandrupatla1997, from memory.
    """
    b, a = np.array(left, dtype=np.float64), np.array(right, dtype=np.float64)
    f_b, f_a = function(b), function(a)
    bracketed = np.isfinite(f_a) & np.isfinite(f_b) & (np.sign(f_a) * np.sign(f_b) <= 0)
    c, f_c = a, f_a
    best, error = np.where(np.abs(f_a) < np.abs(f_b), a, b), np.abs(a - b)
    t = np.full(a.shape, 0.5)
    for _ in range(max_steps):
        x = a + t * (b - a)
        f = np.where(bracketed, function(x), 0.0)
        same = np.sign(f) == np.sign(f_a)
        c, f_c = np.where(same, a, b), np.where(same, f_a, f_b)
        b, f_b = np.where(same, b, a), np.where(same, f_b, f_a)
        a, f_a = x, f
        nearer = np.abs(f_a) < np.abs(f_b)
        best = np.where(nearer, a, b)
        error = np.where(np.where(nearer, f_a, f_b) == 0, 0.0, np.abs(b - a))
        tolerance = rtol * np.abs(best)
        if np.all((error <= tolerance) | ~bracketed):
            break
        with np.errstate(divide="ignore", invalid="ignore"):
            xi, phi = (a - b) / (c - b), (f_a - f_b) / (f_c - f_b)
            curved = (phi**2 < xi) & ((1 - phi) ** 2 < 1 - xi)
            inverse = f_a / (f_b - f_a) * f_c / (f_b - f_c) + (c - a) / (b - a) * f_a / (f_c - f_a) * f_b / (
                f_c - f_b
            )
            least = np.minimum(0.5, 0.5 * tolerance / np.abs(b - a))
        t = np.where(curved & np.isfinite(inverse), inverse, 0.5)
        t = np.clip(t, least, 1 - least)
        t = np.where(np.isfinite(t), t, 0.5)
    return Roots(best, bracketed & (error <= rtol * np.abs(best)) & np.isfinite(best))
