"""Make the gas tables of the package: equilibrium burned gas and species polynomials, with Cantera.

    python tools/make_gas_tables.py            writes src/boostwright/library/gas/burned_gas.npz and .toml

Recipe. Fresh mixture: petrol C8.26H15.5 and ethanol in dry air (O2 0.20946, N2 0.78084, Ar 0.00970 by mole)
at each node of lambda and of the mixing share s (mass share, in the mixture, of the ethanol-and-its-air
part). Burned gas: twelve species (N2 O2 CO2 H2O CO H2 OH H O NO N and inert Ar) with the NASA
seven-coefficient polynomials that Cantera ships in ``nasa_gas.yaml``.

1. Frozen burned composition Y: equilibrium at 1700 K and 20 bar.
2. Above 1600 K the table holds the excess over the frozen gas, dh = h_eq - h_frozen and dR = R_eq - R_frozen,
   times s(T), a smooth step from 0 at 1600 K to 1 at 1800 K, at T 1650..3500 K and 20 pressures evenly spaced
   in ln p.
3. Each species and the petrol vapour get one polynomial cp(t) = sum c_i t^i, t = T/1000, i = 0..6, by least
   squares on cp and h together, exact in h at 298.15 K. The fit is linear, so a mixture's polynomial is the
   mass-weighted sum. Burned species: 250..3400 K. Air and fuel vapour: 250..1500 K, with light weight up to
   3400 K.
"""

from __future__ import annotations

import argparse
import datetime as dt
import itertools
import json
from pathlib import Path

import cantera as ct
import numpy as np

from boostwright.physics import fuel

HERE = Path(__file__).resolve().parent.parent / "src" / "boostwright" / "library" / "gas"
R_UNIVERSAL = 8.31446261815324

BURNED = ("N2", "O2", "CO2", "H2O", "CO", "H2", "OH", "H", "O", "NO", "N", "Ar")
T_FREEZE, P_FREEZE = 1700.0, 20e5
T_ALL = (250.0, 50.0, 66)  # first, step, count: 250..3500 K
FIRST_EXCESS = 28  # index of the first temperature with an excess: 1650 K
P_FIRST, P_LAST, P_COUNT = 0.2e5, 400e5, 20
LAM_NODES = (
    0.60, 0.62, 0.64, 0.66, 0.68, 0.70, 0.72, 0.74, 0.76, 0.78, 0.80, 0.82, 0.84, 0.86, 0.88, 0.90, 0.92,
    0.94, 0.955, 0.97, 0.98, 0.988, 0.994, 1.0, 1.006, 1.012, 1.02, 1.03, 1.045, 1.06, 1.08, 1.10, 1.125,
    1.15, 1.18, 1.21, 1.25, 1.30, 1.36, 1.43, 1.51, 1.60,
)  # fmt: skip
S_NODES = (0.0, 0.5, 1.0)


def temperatures() -> np.ndarray:
    """The nodes in temperature [K]."""
    return T_ALL[0] + T_ALL[1] * np.arange(T_ALL[2])


def log_pressures() -> np.ndarray:
    """The nodes in ln(p/Pa)."""
    return np.linspace(np.log(P_FIRST), np.log(P_LAST), P_COUNT)


def switch(T: np.ndarray) -> np.ndarray:
    """Smooth step from frozen (0, up to 1600 K) to equilibrium (1, from 1800 K)."""
    x = np.clip((T - 1600.0) / 200.0, 0.0, 1.0)
    return x * x * (3 - 2 * x)


def burned_gas() -> ct.Solution:
    """The twelve-species ideal gas."""
    known = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    return ct.Solution(thermo="ideal-gas", species=[known[n] for n in BURNED])


def elements(lam: float, share: float) -> dict[str, float]:
    """Species amounts that carry the elements of the mixture at ``lam`` and mixing share ``share``, any
    scale.
    """
    total = dict.fromkeys(("CO", "H2", "O2", "N2", "Ar"), 0.0)
    for part, f in ((1 - share, fuel.PETROL), (share, fuel.ETHANOL)):
        afr = fuel.stoichiometric_air_fuel_ratio_by_atoms(*f[:3])
        n_fuel = part / (1 + lam * afr) / f.molar_mass
        n_air = part * lam * afr / (1 + lam * afr) / fuel.AIR_MOLAR_MASS
        total["CO"] += n_fuel * f.carbon
        total["H2"] += n_fuel * f.hydrogen / 2
        total["O2"] += n_fuel * (f.oxygen - f.carbon) / 2 + n_air * fuel.AIR_O2
        total["N2"] += n_air * fuel.AIR_N2
        total["Ar"] += n_air * fuel.AIR_AR
    return total


def frozen_composition(gas: ct.Solution, lam: float, share: float) -> np.ndarray:
    """Mass fractions of the frozen burned gas."""
    gas.TPX = T_FREEZE, P_FREEZE, elements(lam, share)
    gas.equilibrate("TP", rtol=1e-11)
    return gas.Y.copy()


def excess(
    gas: ct.Solution, lam: float, share: float, Y: np.ndarray, T: np.ndarray, ln_p: np.ndarray
) -> np.ndarray:
    """(h_eq - h_frozen, R_eq - R_frozen) [J/kg, J/kg/K] at every T and p, shape (2, len(T), len(ln_p))."""
    out = np.empty((2, len(T), len(ln_p)))
    mix = elements(lam, share)
    for (i, t), (j, lp) in itertools.product(enumerate(T), enumerate(ln_p)):
        gas.TPX = t, np.exp(lp), mix
        gas.equilibrate("TP", rtol=1e-10)
        h, R = gas.enthalpy_mass, R_UNIVERSAL * 1e3 / gas.mean_molecular_weight
        gas.TPY = t, np.exp(lp), Y
        out[:, i, j] = h - gas.enthalpy_mass, R - R_UNIVERSAL * 1e3 / gas.mean_molecular_weight
    return out


def fit_polynomial(T: np.ndarray, cp: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Coefficients c_i of cp(t) = sum c_i t^i, t = T/1000: weighted least squares on cp and its integral from
    298.15 K.

    T [K] evenly spaced, cp [J/kg/K] and weight of the same shape. The enthalpy part is weighted so that 1 %
    of cp and 1 kJ/kg (per 1 kJ/kg/K of mean cp) count alike.
    """
    t = T / 1000.0
    t_ref = 0.29815
    i = np.arange(7)
    A_cp = t[:, None] ** i
    A_h = (t[:, None] ** (i + 1) - t_ref ** (i + 1)) / (i + 1)  # h/1000
    h = np.concatenate([[0.0], np.cumsum((cp[1:] + cp[:-1]) / 2 * np.diff(t))])
    h -= np.interp(t_ref, t, h)
    A = np.vstack([A_cp * weight[:, None], 10 * A_h * weight[:, None]])
    b = np.concatenate([cp * weight, 10 * h * weight])
    return np.linalg.lstsq(A, b, rcond=None)[0]


def petrol_vapour_cp(T: np.ndarray) -> np.ndarray:
    """Specific heat of petrol vapour [J/kg/K]; Heywood 1988, table 4.11 (from memory), held level above 1500
    K.
    """
    t = np.minimum(T, 1500.0) / 1000.0
    molar = -24.078 + 256.63 * t - 201.68 * t**2 + 64.75 * t**3 + 0.5808 / t**2  # [cal/mol/K]
    return molar * 4.184 / fuel.PETROL.molar_mass


def polynomials(gas: ct.Solution) -> dict[str, np.ndarray]:
    """Fitted polynomials [J/kg/K] and enthalpies at 298.15 K [J/kg] of all species."""
    known = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}

    def cp(name: str, T: np.ndarray) -> np.ndarray:
        M = gas.molecular_weights[BURNED.index(name)] if name in BURNED else 1e3 * fuel.ETHANOL.molar_mass
        return np.array([known[name].thermo.cp(t) for t in T]) / M

    T_b = np.arange(250.0, 3401.0, 2.0)
    w_b = np.ones_like(T_b)
    burned = np.array([fit_polynomial(T_b, cp(n, T_b), w_b) for n in BURNED])
    h298 = np.array([known[n].thermo.h(298.15) for n in BURNED]) / gas.molecular_weights
    h298[[BURNED.index(n) for n in ("N2", "O2", "Ar", "H2")]] = 0.0  # elements: zero by convention

    T_f = np.arange(250.0, 3401.0, 2.0)
    w_f = np.where(T_f <= 1500.0, 1.0, 0.003)
    air_cp = sum(
        x * M * 1e-3 / fuel.AIR_MOLAR_MASS * cp(n, T_f)
        for n, x, M in (
            ("N2", fuel.AIR_N2, 28.0134),
            ("O2", fuel.AIR_O2, 31.9988),
            ("Ar", fuel.AIR_AR, 39.948),
        )
    )
    return {
        "burned_cp": burned,
        "burned_h298": h298,
        "burned_molar_mass": gas.molecular_weights * 1e-3,
        "air_cp": fit_polynomial(T_f, air_cp, w_f),
        "petrol_cp": fit_polynomial(T_f, petrol_vapour_cp(T_f), w_f),
        "ethanol_cp": fit_polynomial(T_f, cp("C2H5OH", T_f), w_f),
    }


def build(
    lam_nodes: tuple[float, ...] = LAM_NODES, s_nodes: tuple[float, ...] = S_NODES
) -> dict[str, np.ndarray]:
    """All arrays of the data file."""
    gas = burned_gas()
    T, ln_p = temperatures()[FIRST_EXCESS:], log_pressures()
    shape = (len(lam_nodes), len(s_nodes))
    Y = np.empty((*shape, len(BURNED)))
    ex = np.empty((*shape, 2, len(T), len(ln_p)))
    for (a, lam), (b, s) in itertools.product(enumerate(lam_nodes), enumerate(s_nodes)):
        Y[a, b] = frozen_composition(gas, lam, s)
        ex[a, b] = excess(gas, lam, s, Y[a, b], T, ln_p) * switch(T)[None, :, None]
    return {
        "lam_nodes": np.array(lam_nodes),
        "s_nodes": np.array(s_nodes),
        "T_grid": np.array(T_ALL),
        "first_excess": np.array(FIRST_EXCESS),
        "ln_p": ln_p,
        "composition": Y,
        "h_excess": ex[:, :, 0].astype(np.float32),
        "R_excess": ex[:, :, 1].astype(np.float32),
        **polynomials(gas),
    }


def sidecar(arrays: dict[str, np.ndarray]) -> str:
    """The text that says where the data come from and how to make them again."""
    shape = arrays["h_excess"].shape
    return f'''# Where burned_gas.npz comes from and how to make it again.
made_with = "tools/make_gas_tables.py"
date = {dt.datetime.now(tz=dt.UTC).date().isoformat()}
cantera = "{ct.__version__}"
numpy = "{np.__version__}"
species_data = "nasa_gas.yaml as shipped with Cantera: NASA seven-coefficient polynomials (mcbride1993)"
petrol_vapour = "C8.26H15.5, cp from Heywood 1988 table 4.11 (from memory)"
air = "O2 {fuel.AIR_O2}, N2 {fuel.AIR_N2}, Ar {fuel.AIR_AR} by mole, dry"
species = {json.dumps(BURNED)}
freeze_temperature = {T_FREEZE}  # K
freeze_pressure = {P_FREEZE}  # Pa
excess_shape = {list(shape)!r}  # lambda, mixing share, temperature, ln p
lambda_nodes = {[float(x) for x in arrays["lam_nodes"]]!r}
mixing_share_nodes = {[float(x) for x in arrays["s_nodes"]]!r}
recipe = """{__doc__.strip()}"""
'''


def main() -> None:
    """Write the data file and its sidecar."""
    parser = argparse.ArgumentParser(description="Make the gas tables of the package with Cantera.")
    parser.add_argument("--folder", type=Path, default=HERE, help="where to write")
    folder = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    arrays = build()
    np.savez_compressed(folder / "burned_gas.npz", **arrays)
    (folder / "burned_gas.toml").write_text(sidecar(arrays), encoding="utf-8")
    print(f"wrote {folder / 'burned_gas.npz'} ({(folder / 'burned_gas.npz').stat().st_size / 1e6:.2f} MB)")


if __name__ == "__main__":
    main()
