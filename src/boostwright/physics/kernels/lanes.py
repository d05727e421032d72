"""Arithmetic for loops that treat several operating points side by side, one in each lane of the processor's
vectors.

The compiler turns such a loop into vector code only if nothing in it calls out or branches. So the
exponential and the logarithm are written out here, on the bits of the numbers, and choices are made by
selecting between two values.
"""

from __future__ import annotations

from llvmlite import ir
from numba import types
from numba.extending import intrinsic

from boostwright.physics.kernels.jit import chain

__all__ = ["LANES", "fast_exp", "fast_log", "near_power"]

LANES = 8
"""Operating points side by side; the stride of every lane array."""

_INT64 = ir.IntType(64)
_DOUBLE = ir.DoubleType()


@intrinsic
def _bits(_context, x):  # noqa: ARG001
    """The 64 bits of a float as an integer."""

    def build(_c, builder, _signature, args):
        return builder.bitcast(args[0], _INT64)

    return types.int64(types.float64), build


@intrinsic
def _float_of(_context, x):  # noqa: ARG001
    """The float that has these 64 bits."""

    def build(_c, builder, _signature, args):
        return builder.bitcast(args[0], _DOUBLE)

    return types.float64(types.int64), build


MAGIC = 6755399441055744.0  # 1.5 * 2^52: adding it rounds to an integer, held in the low bits
MAGIC_BITS = 0x4338000000000000
LOG2E = 1.4426950408889634
LN2_HIGH = 0.6931471803691238
LN2_LOW = 1.9082149292705877e-10
MANTISSA = 0x000FFFFFFFFFFFFF
ONE = 0x3FF0000000000000
TWO52 = 0x4330000000000000


@chain()
def _taylor(r):
    """e^r for |r| < 0.35 to the eleventh power, in pairs: the processor works on several at a time."""
    r2 = r * r
    r4 = r2 * r2
    low = (1.0 + r) + (0.5 + 0.16666666666666666 * r) * r2
    middle = (0.041666666666666664 + 0.008333333333333333 * r) + (
        0.001388888888888889 + 0.0001984126984126984 * r
    ) * r2
    high = (2.48015873015873e-05 + 2.7557319223985893e-06 * r) + (
        2.755731922398589e-07 + 2.505210838544172e-08 * r
    ) * r2
    return low + (middle + high * r4) * r4


@chain()
def fast_exp(x):
    """e^x for -700 < x < 700, relative error below 1e-14."""
    shifted = x * LOG2E + MAGIC
    k = shifted - MAGIC
    r = (x - k * LN2_HIGH) - k * LN2_LOW
    return _taylor(r) * _float_of((_bits(shifted) - MAGIC_BITS + 1023) << 52)


@chain()
def fast_log(x):
    """ln x for normal positive x, absolute error below 1e-15 times the greater of 1 and |ln x|."""
    bits = _bits(x)
    mantissa = _float_of((bits & MANTISSA) | ONE)
    power = _float_of((bits >> 52) | TWO52) - (4503599627370496.0 + 1023.0)
    big = mantissa > 1.4142135623730951
    m = 0.5 * mantissa if big else mantissa
    e = power + 1.0 if big else power
    f = (m - 1.0) / (m + 1.0)
    s = f * f
    s2 = s * s
    s4 = s2 * s2
    low = (1.0 + (1.0 / 3.0) * s) + (0.2 + (1.0 / 7.0) * s) * s2
    middle = (1.0 / 9.0 + (1.0 / 11.0) * s) + (1.0 / 13.0 + (1.0 / 15.0) * s) * s2
    high = 1.0 / 17.0 + (1.0 / 19.0) * s
    p = low + (middle + high * s4) * s4
    return e * 0.6931471805599453 + 2.0 * f * p


CENTRE = 0.3  # of the exponents that `near_power` meets
EXP_CENTRE = 0.7408182206817179


@chain()
def near_power(x, n):
    """x^n for 0.52 < x <= 1 and 0.55 < n < 0.9, relative error below 1e-13; no bits to take apart.

    A valve of a gas with gamma up to 1.42 chokes inside this range.
    """
    f = (x - 1.0) / (x + 1.0)
    s = f * f
    s2 = s * s
    s4 = s2 * s2
    low = (1.0 + (1.0 / 3.0) * s) + (0.2 + (1.0 / 7.0) * s) * s2
    middle = (1.0 / 9.0 + (1.0 / 11.0) * s) + (1.0 / 13.0 + (1.0 / 15.0) * s) * s2
    high = (1.0 / 17.0 + (1.0 / 19.0) * s) + (1.0 / 21.0 + (1.0 / 23.0) * s) * s2
    r = 2.0 * f * n * (low + (middle + high * s4) * s4) + CENTRE
    return EXP_CENTRE * _taylor(r)
