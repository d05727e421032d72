"""Area and radius of a spherical flame in a disc-shaped chamber, against the volume that it encloses.

The chamber is a disc of radius R and height h = V/(pi R^2). The sphere of radius r is centred on its roof,
off the axis by e R. With the arc angle phi(rho) of the circle of radius rho = sqrt(r^2 - z^2) that lies
inside the bore,

    A_f = r int phi dz,      V_f = int S(rho) dz,      0 <= z <= min(h, r)

S being the part of the circle's area inside the bore. Thus dV_f/dr = A_f exactly. The integrals are split
where the circle first touches the bore and where it leaves it, and mapped so that the root-like ends are
smooth.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange

__all__ = ["HEIGHT_RANGE", "FlameTable", "flame_area_radius", "flame_sphere", "flame_table"]

Array = NDArray[np.float64]

HEIGHT_RANGE: Final = (0.1, 2.6)  # h/R covered: TDC of a 21:1 engine to BDC of a long-stroke one
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
_MAPPED = -np.cos(np.pi * (_NODES + 1) / 2)  # -1..1, crowded at both ends
_MAPPED_WEIGHTS = np.pi / 2 * np.sin(np.pi * (_NODES + 1) / 2) * _WEIGHTS


class FlameTable(NamedTuple):
    """Flame geometry at ln(h/R) = ln_h0 + i dln_h (rows) and (V_f/V)^(1/3) = j/60 (columns)."""

    ln_h0: float
    dln_h: float
    area: Array  # (16, 61) flame area over R^2 [-]
    radius: Array  # (16, 61) flame radius over R [-]


def flame_sphere(radius: ArrayLike, height: ArrayLike, offset: float) -> tuple[Array, Array]:
    """Area and enclosed volume of the flame, in units of R^2 and R^3.

    radius: flame radius over bore radius [-]. height: chamber height over bore radius [-]. They broadcast.
    offset: distance of the centre from the axis over bore radius, 0..0.95 [-].
    """
    r, h = np.broadcast_arrays(np.asarray(radius, dtype=np.float64), np.asarray(height, dtype=np.float64))
    e = max(float(offset), 1.0e-9)
    top = np.minimum(h, r)
    # Below z = leaves the circle is wholly outside the bore, above z = touches wholly inside.
    leaves = np.sqrt(np.maximum(r**2 - (1 + e) ** 2, 0.0))
    touches = np.sqrt(np.maximum(r**2 - (1 - e) ** 2, 0.0))
    z0, z1 = np.minimum(leaves, top), np.minimum(touches, top)
    area = 2 * np.pi * r * (top - z1)
    volume = np.pi * (r**2 * (top - z1) - (top**3 - z1**3) / 3) + np.pi * z0
    half = ((z1 - z0) / 2)[..., None]
    z = ((z1 + z0) / 2)[..., None] + half * _MAPPED
    rho2 = np.maximum(r[..., None] ** 2 - z**2, 1.0e-30)
    rho = np.sqrt(rho2)
    d = (rho2 + e**2 - 1) / (2 * e)  # from the flame's axis to the common chord
    alpha = np.arccos(np.clip(d / rho, -1.0, 1.0))
    beta = np.arccos(np.clip(e - d, -1.0, 1.0))
    chord = np.sqrt(np.maximum(rho2 - d**2, 0.0))
    area += r * np.sum(half * _MAPPED_WEIGHTS * 2 * alpha, axis=-1)
    volume += np.sum(half * _MAPPED_WEIGHTS * (rho2 * alpha + beta - e * chord), axis=-1)
    return np.asarray(area), np.asarray(volume)


@lru_cache(maxsize=64)
def flame_table(offset: float = 0.25, rows: int = 16, columns: int = 61) -> FlameTable:
    """Flame area and radius of a chamber with the flame centre at ``offset`` bore radii from the axis.

    Returns the :class:`FlameTable`; its arrays are shared and must not be written to. Bilinear reading of
    the area is good to 1 % rms from x = 0.1 to 0.97; where the flame meets the walls, up to 12 % in a cell.
    """
    if not 0.0 <= offset <= 0.95:
        raise OutOfRange(
            f"flame centre at {offset:g} bore radii from the axis; between 0 (centre) and 0.95 (wall)"
        )
    ln_h = np.linspace(np.log(HEIGHT_RANGE[0]), np.log(HEIGHT_RANGE[1]), rows)
    h = np.exp(ln_h)[:, None]
    x = np.linspace(0.0, 1.0, columns)[None, :]
    r_max = np.sqrt((1 + offset) ** 2 + h**2)
    target = np.pi * h * x**3
    # Sample, read backwards in the cube root of the volume, then finish with safeguarded Newton: dV/dr = A.
    # The samples crowd at the far wall, where the area goes to zero.
    share = 1.0 - (1.0 - np.linspace(0.0, 1.0, 201)) ** 1.5
    samples = share * r_max
    _, volume = flame_sphere(samples, h, offset)
    r = np.array([np.interp(np.cbrt(target[k]), np.cbrt(volume[k]), samples[k]) for k in range(rows)])
    lo, hi = np.zeros_like(r), np.broadcast_to(r_max, r.shape)
    for _ in range(6):
        area, volume = flame_sphere(r, h, offset)
        miss = volume - target
        hi, lo = np.where(miss > 0, r, hi), np.where(miss > 0, lo, r)
        with np.errstate(divide="ignore", invalid="ignore"):
            new = r - miss / area
        r = np.where((new >= lo) & (new <= hi), new, (lo + hi) / 2)
    r[:, 0], r[:, -1] = 0.0, r_max[:, 0]
    area, _ = flame_sphere(r, h, offset)
    area[:, 0] = area[:, -1] = 0.0
    return FlameTable(
        float(ln_h[0]), float(ln_h[1] - ln_h[0]), np.ascontiguousarray(area), np.ascontiguousarray(r)
    )


def flame_area_radius(table: FlameTable, height: ArrayLike, share: ArrayLike) -> tuple[Array, Array]:
    """Area over R^2 and radius over R [-] by bilinear reading of ``table``.

    height: chamber height over bore radius [-]. share: enclosed volume over chamber volume V_f/V [-]. They
    broadcast. Beyond the table the edge is held.
    """
    rows, columns = table.area.shape
    u = np.clip((np.log(height) - table.ln_h0) / table.dln_h, 0.0, rows - 1.0)
    v = np.clip(np.cbrt(share) * (columns - 1), 0.0, columns - 1.0)
    i = np.minimum(np.floor(u).astype(np.int64), rows - 2)
    j = np.minimum(np.floor(v).astype(np.int64), columns - 2)
    a, b = u - i, v - j

    def read(f: Array) -> Array:
        return np.asarray(
            (1 - a) * ((1 - b) * f[i, j] + b * f[i, j + 1])
            + a * ((1 - b) * f[i + 1, j] + b * f[i + 1, j + 1])
        )

    return read(table.area), read(table.radius)
