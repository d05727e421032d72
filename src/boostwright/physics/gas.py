"""Gas of the cylinder: fresh mixture, frozen burned gas and burned gas in chemical equilibrium.

One :class:`Mixture` holds the data of one lambda, one ethanol share and one petrol heating value. All
enthalpies are absolute [J/kg]: the elements at 298.15 K are zero, hence dry air at 298.15 K is zero.

Three gases:

* fresh: dry air and fuel vapour, never reacting. h(T) = h0_f + 1000 sum c_i t^(i+1)/(i+1), t = T/1000;
* frozen burned: the equilibrium composition of 1700 K and 20 bar, held fixed; the same form with h0_b, cp_b;
* equilibrium burned: h(T, ln p) and R(T, ln p) as uniform tensor-product cubic B-splines (twice continuously
  differentiable); below 1600 K it is the frozen gas, above 1800 K equilibrium, with a smooth step between.

The enthalpy of formation of the fuel vapour is not taken from a table. It is set so that burning the vapour
completely at 298.15 K, water staying vapour, gives out the stated lower heating value of the *liquid* plus
the heat of vaporisation: h_fuel(298.15 K) = lhv + h_vap + (products' enthalpy). A fuel that enters as vapour
thus carries h_vap with it; the heat that evaporated it must have been taken from the charge or the walls
before.

Data: ``library/gas/burned_gas.npz``, made by ``tools/make_gas_tables.py`` with Cantera (recipe in the .toml
beside it).
"""

from __future__ import annotations

import importlib.resources
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics import fuel

__all__ = [
    "ETHANOL_RANGE",
    "LAM_RANGE",
    "R_UNIVERSAL",
    "T_REFERENCE",
    "EquilibriumState",
    "EquilibriumTable",
    "Mixture",
    "cp_air",
    "cp_burned_frozen",
    "cp_fresh",
    "equilibrium",
    "h_air",
    "h_burned_frozen",
    "h_equilibrium",
    "h_fresh",
    "mixture",
    "r_equilibrium",
]

Array = NDArray[np.float64]

R_UNIVERSAL: Final = 8.31446261815324  # [J/mol/K], exact since 2019
T_REFERENCE: Final = 298.15  # [K]
LAM_RANGE: Final = (0.6, 1.6)
ETHANOL_RANGE: Final = (0.0, 1.0)


class EquilibriumTable(NamedTuple):
    """Uniform tensor-product cubic B-splines over T and ln p.

    With u = (T - T0)/dT, i = floor(u), x = u - i and likewise j, y for ln p, and the weights
    w = ((1-x)^3, 3x^3-6x^2+4, -3x^3+3x^2+3x+1, x^3)/6:

        value = sum_a sum_b w_a(x) w_b(y) C[i+a, j+b],   a, b = 0..3

    Cells 0 <= i <= nT-2 and 0 <= j <= nP-2, where C has the shape (nT+2, nP+2).
    """

    T0: float  # first node [K]
    dT: float  # spacing [K]
    lnp0: float  # first node, ln(p/Pa)
    dlnp: float  # spacing
    h_spline: Array  # (nT+2, nP+2) coefficients of h [J/kg]
    r_spline: Array  # (nT+2, nP+2) coefficients of R [J/kg/K]


class Mixture(NamedTuple):
    """Gas data of one mixture. Arrays are float64, C-contiguous, read-only."""

    lam: float  # lambda [-]
    ethanol_share: float  # by volume of liquid [-]
    fuel_fraction: float  # fuel per fresh mixture, by mass [-]
    afr_stoich: float  # stoichiometric air-fuel ratio of the blend, by mass [-]
    lhv: float  # lower heating value of the liquid blend [J/kg fuel]
    h_vap: float  # heat of vaporisation of the blend [J/kg fuel]
    R_f: float  # gas constant of the fresh mixture [J/kg/K]
    R_b: float  # gas constant of the frozen burned gas [J/kg/K]
    cp_f: Array  # (7,) coefficients of cp(t) = sum c_i t^i, t = T/1000, fresh [J/kg/K]
    cp_b: Array  # (7,) the same, frozen burned
    h0_f: float  # offset of the fresh enthalpy [J/kg]
    h0_b: float  # offset of the frozen burned enthalpy [J/kg]
    table: EquilibriumTable  # equilibrium burned gas


class EquilibriumState(NamedTuple):
    """Equilibrium burned gas and its partial derivatives, of the interpolant itself."""

    h: Array  # [J/kg]
    R: Array  # [J/kg/K]
    h_T: Array  # at constant p [J/kg/K]
    h_p: Array  # at constant T [J/kg/Pa]
    R_T: Array  # [J/kg/K2]
    R_p: Array  # [J/kg/K/Pa]


class _Data(NamedTuple):
    lam_nodes: Array
    s_nodes: Array
    T: Array
    ln_p: Array
    first_excess: int
    composition: Array
    h_excess: Array
    R_excess: Array
    to_T: Array  # spline coefficients from node values, along T
    to_P: Array
    burned_cp: Array
    burned_h298: Array
    burned_molar_mass: Array
    air_cp: Array
    petrol_cp: Array
    ethanol_cp: Array


def _spline_operator(n: int) -> Array:
    """Matrix (n+2, n) from node values to coefficients of the uniform cubic B-spline, not-a-knot ends."""
    A = np.zeros((n + 2, n + 2))
    for k in range(n):
        A[k, k : k + 3] = 1 / 6, 4 / 6, 1 / 6
    A[n, :5] = A[n + 1, -5:] = 1.0, -4.0, 6.0, -4.0, 1.0
    return np.ascontiguousarray(np.linalg.inv(A)[:, :n])


@lru_cache(maxsize=1)
def _data() -> _Data:
    """Read the data file once."""
    path = importlib.resources.files("boostwright.library").joinpath("gas", "burned_gas.npz")
    with path.open("rb") as stream, np.load(stream, allow_pickle=False) as f:
        first, step, count = f["T_grid"]
        T = first + step * np.arange(int(count))
        return _Data(
            lam_nodes=f["lam_nodes"],
            s_nodes=f["s_nodes"],
            T=T,
            ln_p=f["ln_p"],
            first_excess=int(f["first_excess"]),
            composition=f["composition"],
            h_excess=f["h_excess"].astype(np.float64),
            R_excess=f["R_excess"].astype(np.float64),
            to_T=_spline_operator(len(T)),
            to_P=_spline_operator(len(f["ln_p"])),
            burned_cp=f["burned_cp"],
            burned_h298=f["burned_h298"],
            burned_molar_mass=f["burned_molar_mass"],
            air_cp=f["air_cp"],
            petrol_cp=f["petrol_cp"],
            ethanol_cp=f["ethanol_cp"],
        )


def _lagrange(nodes: Array, x: float) -> Array:
    """Weights of the polynomial through all nodes at ``x``."""
    w = np.ones(len(nodes))
    for i in range(len(nodes)):
        for j in range(len(nodes)):
            if i != j:
                w[i] *= (x - nodes[j]) / (nodes[i] - nodes[j])
    return w


def _node_weights(lam: float, w_ethanol: float) -> list[tuple[int, Array]]:
    """Weights of the table nodes: (lambda index, weights over the mixing-share nodes), ...

    Across lambda the interpolation is linear in the fuel mass fraction, along the mixing share quadratic:
    both keep the mass fractions of the elements exact.
    """
    d = _data()
    afr_p = fuel.stoichiometric_air_fuel_ratio_by_atoms(*fuel.PETROL[:3])
    afr_e = fuel.stoichiometric_air_fuel_ratio_by_atoms(*fuel.ETHANOL[:3])
    afr = (1 - w_ethanol) * afr_p + w_ethanol * afr_e

    def fuel_fraction(x: float) -> float:
        return 1 / (1 + x * afr)

    k = int(np.clip(np.searchsorted(d.lam_nodes, lam, side="right") - 1, 0, len(d.lam_nodes) - 2))
    lo, hi = float(d.lam_nodes[k]), float(d.lam_nodes[k + 1])
    a = (fuel_fraction(lam) - fuel_fraction(lo)) / (fuel_fraction(hi) - fuel_fraction(lo))
    out = []
    for index, node, weight in ((k, lo, 1 - a), (k + 1, hi, a)):
        share = w_ethanol * (1 + node * afr_e) / (1 + node * afr)
        out.append((index, weight * _lagrange(d.s_nodes, share)))
    return out


def _offset(cp: Array, h298: float) -> float:
    """h0 of the polynomial whose enthalpy at 298.15 K is ``h298``."""
    t, i = T_REFERENCE / 1000, np.arange(7)
    return float(h298 - 1000 * np.sum(cp * t ** (i + 1) / (i + 1)))


@lru_cache(maxsize=512)
def mixture(
    lam: float, ethanol_share: float = 0.0, petrol_heating_value: float = fuel.PETROL.heating_value
) -> Mixture:
    """Gas data of petrol blended with ethanol, burned with dry air at ``lam``.

    lam: lambda, 0.6..1.6 [-]. ethanol_share: volume share of ethanol in the liquid, 0..1 [-].
    petrol_heating_value: lower heating value of the liquid petrol part [J/kg].
    Returns the :class:`Mixture`; the same object for the same arguments.
    Raises OutOfRange outside the ranges, which are those of the tables.
    """
    if not LAM_RANGE[0] <= lam <= LAM_RANGE[1]:
        raise OutOfRange(
            f"lambda {lam:g} is outside {LAM_RANGE[0]:g}..{LAM_RANGE[1]:g}, the range of the gas tables"
        )
    if not 0.0 <= ethanol_share <= 1.0:
        raise OutOfRange(f"ethanol share {ethanol_share:g} is outside 0..1 (volume share of the liquid fuel)")
    d = _data()
    w_e = float(fuel.ethanol_mass_share(ethanol_share))
    afr = float(fuel.stoichiometric_air_fuel_ratio(ethanol_share))
    lhv = float(fuel.blend_heating_value(ethanol_share, petrol_heating_value))
    h_vap = float(fuel.blend_heat_of_vaporisation(ethanol_share))
    x_f = 1 / (1 + lam * afr)

    # Fresh mixture.
    M_f = 1 / (
        x_f * ((1 - w_e) / fuel.PETROL.molar_mass + w_e / fuel.ETHANOL.molar_mass)
        + (1 - x_f) / fuel.AIR_MOLAR_MASS
    )
    cp_f = (1 - x_f) * d.air_cp + x_f * ((1 - w_e) * d.petrol_cp + w_e * d.ethanol_cp)
    h_f = x_f * (lhv + h_vap + _products_enthalpy(w_e))

    # Burned gas: composition and excess from the table nodes.
    Y = np.zeros(len(d.burned_h298))
    shape = d.h_excess.shape[2:]
    dh, dR = np.zeros(shape), np.zeros(shape)
    for k, weights in _node_weights(lam, w_e):
        Y += weights @ d.composition[k]
        dh += np.tensordot(weights, d.h_excess[k], 1)
        dR += np.tensordot(weights, d.R_excess[k], 1)
    cp_b = Y @ d.burned_cp
    R_b = float(R_UNIVERSAL * np.sum(Y / d.burned_molar_mass))
    h0_b = _offset(cp_b, float(Y @ d.burned_h298))

    to_T_high = d.to_T[:, d.first_excess :]
    frozen = d.to_T @ _h_polynomial(cp_b, h0_b, d.T)
    h_spline = frozen[:, None] + to_T_high @ dh @ d.to_P.T
    r_spline = R_b + to_T_high @ dR @ d.to_P.T
    table = EquilibriumTable(
        float(d.T[0]),
        float(d.T[1] - d.T[0]),
        float(d.ln_p[0]),
        float(d.ln_p[1] - d.ln_p[0]),
        np.ascontiguousarray(h_spline),
        np.ascontiguousarray(r_spline),
    )
    for shared in (cp_f, cp_b, table.h_spline, table.r_spline):
        shared.setflags(write=False)  # one mixture serves all who ask for it
    return Mixture(
        lam=float(lam),
        ethanol_share=float(ethanol_share),
        fuel_fraction=x_f,
        afr_stoich=afr,
        lhv=lhv,
        h_vap=h_vap,
        R_f=R_UNIVERSAL / M_f,
        R_b=R_b,
        cp_f=cp_f,
        cp_b=cp_b,
        h0_f=_offset(cp_f, h_f),
        h0_b=h0_b,
        table=table,
    )


def _products_enthalpy(w_ethanol: float) -> float:
    """Enthalpy at 298.15 K of the carbon dioxide and water vapour from 1 kg of blend [J/kg fuel]."""
    d = _data()
    total = 0.0
    for part, f in ((1 - w_ethanol, fuel.PETROL), (w_ethanol, fuel.ETHANOL)):
        for atoms, column in (
            (f.carbon, 2),
            (f.hydrogen / 2, 3),
        ):  # CO2, H2O in the species order of the data file
            total += part * atoms / f.molar_mass * d.burned_molar_mass[column] * d.burned_h298[column]
    return float(total)


def _cp_polynomial(cp: Array, T: ArrayLike) -> Array:
    t = np.asarray(T, dtype=np.float64) / 1000
    return np.asarray(np.polynomial.polynomial.polyval(t, cp), dtype=np.float64)


def _h_polynomial(cp: Array, h0: float, T: ArrayLike) -> Array:
    t = np.asarray(T, dtype=np.float64) / 1000
    integral = np.concatenate([[0.0], cp / np.arange(1, 8)])
    return np.asarray(h0 + 1000 * np.polynomial.polynomial.polyval(t, integral), dtype=np.float64)


def h_air(T: ArrayLike) -> Array:
    """Absolute enthalpy [J/kg] of dry air at ``T`` [K]; zero at 298.15 K; fitted for 250..1500 K."""
    cp = _data().air_cp
    return _h_polynomial(cp, _offset(cp, 0.0), T)


def cp_air(T: ArrayLike) -> Array:
    """Heat capacity cp [J/kg/K] of dry air at ``T`` [K]; fitted for 250..1500 K."""
    return _cp_polynomial(_data().air_cp, T)


def h_fresh(mix: Mixture, T: ArrayLike) -> Array:
    """Absolute enthalpy [J/kg] of the fresh mixture at ``T`` [K]; fitted for 250..1500 K."""
    return _h_polynomial(mix.cp_f, mix.h0_f, T)


def cp_fresh(mix: Mixture, T: ArrayLike) -> Array:
    """Heat capacity cp [J/kg/K] of the fresh mixture at ``T`` [K]; fitted for 250..1500 K."""
    return _cp_polynomial(mix.cp_f, T)


def h_burned_frozen(mix: Mixture, T: ArrayLike) -> Array:
    """Absolute enthalpy [J/kg] of burned gas of fixed composition at ``T`` [K]; fitted for 250..3400 K."""
    return _h_polynomial(mix.cp_b, mix.h0_b, T)


def cp_burned_frozen(mix: Mixture, T: ArrayLike) -> Array:
    """Heat capacity cp [J/kg/K] of burned gas of fixed composition at ``T`` [K]; fitted for 250..3400 K."""
    return _cp_polynomial(mix.cp_b, T)


def _weights(x: Array) -> tuple[Array, Array]:
    """The four B-spline weights at ``x`` in 0..1 and their derivatives, stacked on the last axis."""
    w = np.stack([(1 - x) ** 3, 3 * x**3 - 6 * x**2 + 4, -3 * x**3 + 3 * x**2 + 3 * x + 1, x**3], axis=-1) / 6
    dw = np.stack([-((1 - x) ** 2), 3 * x**2 - 4 * x, -3 * x**2 + 2 * x + 1, x**2], axis=-1) / 2
    return w, dw


def equilibrium(mix: Mixture, T: ArrayLike, p: ArrayLike) -> EquilibriumState:
    """Equilibrium burned gas at ``T`` [K] and ``p`` [Pa], which broadcast.

    Returns h, R and their partial derivatives, all of the same interpolant, so that an energy balance over
    them closes whatever the error of the table. Valid for 250..3500 K and 0.2..400 bar; the outermost cell is
    continued beyond. Against Cantera: see ``docs/validation.md``.
    """
    table = mix.table
    T_, p_ = np.broadcast_arrays(np.asarray(T, dtype=np.float64), np.asarray(p, dtype=np.float64))
    n_T, n_P = table.h_spline.shape
    u = (T_ - table.T0) / table.dT
    v = (np.log(p_) - table.lnp0) / table.dlnp
    i = np.clip(np.floor(u).astype(np.int64), 0, n_T - 4)
    j = np.clip(np.floor(v).astype(np.int64), 0, n_P - 4)
    w_T, dw_T = _weights(u - i)
    w_P, dw_P = _weights(v - j)
    a = i[..., None, None] + np.arange(4)[:, None]
    b = j[..., None, None] + np.arange(4)[None, :]

    def evaluate(C: Array) -> tuple[Array, Array, Array]:
        block = C[a, b]
        value = np.einsum("...a,...b,...ab->...", w_T, w_P, block)
        by_T = np.einsum("...a,...b,...ab->...", dw_T, w_P, block) / table.dT
        by_p = np.einsum("...a,...b,...ab->...", w_T, dw_P, block) / table.dlnp / p_
        return value, by_T, by_p

    h, h_T, h_p = evaluate(table.h_spline)
    R, R_T, R_p = evaluate(table.r_spline)
    return EquilibriumState(h, R, h_T, h_p, R_T, R_p)


def h_equilibrium(mix: Mixture, T: ArrayLike, p: ArrayLike) -> Array:
    """Absolute enthalpy [J/kg] of equilibrium burned gas at ``T`` [K] and ``p`` [Pa]."""
    return equilibrium(mix, T, p).h


def r_equilibrium(mix: Mixture, T: ArrayLike, p: ArrayLike) -> Array:
    """Gas constant [J/kg/K] of equilibrium burned gas at ``T`` [K] and ``p`` [Pa]."""
    return equilibrium(mix, T, p).R
