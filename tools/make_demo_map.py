"""Make the invented compressor map of the demo build `sound`.

The map comes from the wheel's sizes, bent on purpose: another slope of the work, a later surge, a wider choke
and a twist with speed that the fitted form does not have; then it is scattered and rounded as if it were read
off a printed sheet. So the fit is tried on lines that it did not draw itself.

    .venv/bin/python tools/make_demo_map.py
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from boostwright.library.turbo_sizes import compressor_recipe
from boostwright.physics.compressor import GAMMA_AIR, R_AIR, pressure_ratio_of_head
from boostwright.physics.compressor_sizes import WheelMap, flow_limits, wheel_sizes

TARGET = Path(__file__).parents[1] / "src" / "boostwright" / "library" / "builds" / "sound_compressor.csv"
SPEEDS = (70e3, 92e3, 112e3, 128e3, 142e3, 154e3)  # rpm at the reference state
T_REF, P_REF = 298.0, 100e3
POINTS = 8

HEAD = """# Compressor map of the demo build 'sound'. Invented: no such turbo.
# Made from wheel sizes (41.5 and 54.5 mm) by the program's own recipe, bent on purpose, scattered by half a
# percent and rounded as read off a sheet; see tools/make_demo_map.py. Flow and speed are corrected to the
# reference state.
# reference temperature = 298 K
# reference pressure = 100 kPa
speed; mass flow; pressure ratio; efficiency
rpm; kg/s; -; %
"""


def rows() -> list[str]:
    """The points, one line each."""
    recipe = compressor_recipe()
    wheel = wheel_sizes(0.0415, 0.0545, recipe, backsweep=np.radians(34.0))
    sized = WheelMap(wheel, recipe)
    chance = np.random.default_rng(1964)
    found = []
    for rpm in SPEEDS:
        omega = rpm * np.pi / 30
        tip = omega * wheel.D2 / 2
        mach = np.asarray(tip / np.sqrt(GAMMA_AIR * R_AIR * T_REF))
        limits = flow_limits(wheel, recipe, mach)
        surge = float(limits.surge) * (1.04 - 0.05 * np.sin(2.5 * float(mach)))
        phi = np.linspace(surge, 0.985 * float(limits.end), POINTS)
        at = sized(phi, np.full(phi.shape, float(mach)))
        place = (phi - surge) / (phi[-1] - surge)
        eta = at.eta + 0.012 * np.sin(3.0 * place) - 0.01 * (float(mach) - 1.0)
        head = at.psi * (1 + 0.03 * place - 0.05 * place**6) * (1 + 0.02 * np.sin(4.0 * float(mach)))
        ratio = pressure_ratio_of_head(head, mach)
        flow = 1.03 * phi * P_REF / (R_AIR * T_REF) * tip * wheel.D2**2
        flow = flow * (1 + 0.005 * chance.standard_normal(POINTS))
        ratio = 1 + (ratio - 1) * (1 + 0.005 * chance.standard_normal(POINTS))
        eta = eta + 0.004 * chance.standard_normal(POINTS)
        for m, r, e in zip(flow, ratio, eta, strict=True):
            found.append(f"{rpm:.0f}; {m:.4f}; {r:.3f}; {100 * e:.1f}")
    return found


def main() -> None:
    """Write the file."""
    TARGET.write_text(HEAD + "\n".join(rows()) + "\n", encoding="utf-8")
    print(f"{TARGET.name}: {len(rows())} points")


if __name__ == "__main__":
    main()
