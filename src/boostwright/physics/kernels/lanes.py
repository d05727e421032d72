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

__all__ = ["LANES", "fast_exp", "fast_log"]

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
def fast_exp(x):
    """e^x for -700 < x < 700, relative error below 1e-14."""
    shifted = x * LOG2E + MAGIC
    k = shifted - MAGIC
    r = (x - k * LN2_HIGH) - k * LN2_LOW
    # Taylor to the eleventh power on |r| < 0.347
    p = 2.505210838544172e-08
    p = p * r + 2.755731922398589e-07
    p = p * r + 2.7557319223985893e-06
    p = p * r + 2.48015873015873e-05
    p = p * r + 0.0001984126984126984
    p = p * r + 0.001388888888888889
    p = p * r + 0.008333333333333333
    p = p * r + 0.041666666666666664
    p = p * r + 0.16666666666666666
    p = p * r + 0.5
    p = p * r + 1.0
    p = p * r + 1.0
    return p * _float_of((_bits(shifted) - MAGIC_BITS + 1023) << 52)


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
    p = 1.0 / 19.0
    p = p * s + 1.0 / 17.0
    p = p * s + 1.0 / 15.0
    p = p * s + 1.0 / 13.0
    p = p * s + 1.0 / 11.0
    p = p * s + 1.0 / 9.0
    p = p * s + 1.0 / 7.0
    p = p * s + 0.2
    p = p * s + 1.0 / 3.0
    p = p * s + 1.0
    return e * 0.6931471805599453 + 2.0 * f * p
