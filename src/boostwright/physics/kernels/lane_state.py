"""Where the gas exchange keeps its lanes: one flat array, up to eight operating points side by side.

Entry r of lane v stands at W[STRIDE r + v]; one array with a fixed stride, so that the compiler can prove
that its loops may run as vectors.
"""

from __future__ import annotations

from boostwright.physics.kernels.jit import chain, inner, outer

N_OPEN = 18
"""State entries: 0 cylinder mass, 1 burned mass, 2 energy; 3 port mass, 4 burned, 5 energy; 6 runner flow;
7 returned-gas store mass, 8 burned, 9 enthalpy; integrals since exhaust opening: 10 work, 11 wall heat, 12
fresh mass drawn from the plenum, 13 its enthalpy, 14 mass out to the manifold, 15 its enthalpy, 16 its burned
mass, 17 mass back from the manifold."""

STRIDE = 40
"""Distance of two rows; wider than the lanes, or the compiler fears that a vector overtakes a store [-]."""

# --- rows of W: constants of a lane, from 0 ---
R_F = 0  # fresh gas constant
D_R = 1  # burned less fresh
H0_F = 2  # enthalpy offsets
H0_B = 3
P_PL = 4  # plenum pressure
T_IN = 5  # fresh charge
H_IN = 6
CP_IN = 7
FADE = 8  # mass at which the store fades out
PER_RHO = 9  # one over fresh density
P_EX = 10  # manifold pressure
H_BACK = 11  # what the manifold gives back
Y_BACK = 12
PER_W = 13  # 1/omega
HEAT = 14  # constant of the heat law, gas velocity included
T_PIS = 15  # walls: piston, head, liner
T_HEAD = 16
T_LIN = 17
DRAG = 18  # runner pressure loss over flow squared
CPF = 19  # 7 rows each
CPB = 26
HF = 33
HB = 40
S = 47  # state, 18 rows
# what was last known of the gas in the cylinder: temperature, energy, burned share, 1/cv, du/dy
T_C = S + N_OPEN
U_C = T_C + 1
Y_C = T_C + 2
PER_CV_C = T_C + 3
UY_C = T_C + 4
T_P = T_C + 5  # the same of the port
U_P = T_C + 6
Y_P = T_C + 7
PER_CV_P = T_C + 8
UY_P = T_C + 9
P_1 = T_C + 10  # pressure and temperature in the cylinder at the last record
T_1 = T_C + 11
ROWS = T_C + 12
WORKSPACE = ROWS * STRIDE


@outer()
def fill_lane(W, v, c, b, gas, z, m, burned, U, T):
    """Put one point into lane ``v``: its constants, the cylinder when the exhaust opens, the port at intake
    closing.
    """
    k = c.k
    W[R_F * STRIDE + v] = gas.R_f[k]
    W[D_R * STRIDE + v] = gas.R_b[k] - gas.R_f[k]
    W[H0_F * STRIDE + v] = gas.h0_f[k]
    W[H0_B * STRIDE + v] = gas.h0_b[k]
    W[P_PL * STRIDE + v] = b.p_plenum
    W[T_IN * STRIDE + v] = b.T_inlet
    W[H_IN * STRIDE + v] = b.h_fresh
    W[CP_IN * STRIDE + v] = b.cp_fresh
    W[FADE * STRIDE + v] = b.fade
    W[PER_RHO * STRIDE + v] = 1.0 / b.rho
    W[P_EX * STRIDE + v] = b.p_exhaust
    W[H_BACK * STRIDE + v] = b.h_back
    W[Y_BACK * STRIDE + v] = b.y_back
    W[PER_W * STRIDE + v] = c.w
    W[HEAT * STRIDE + v] = c.heat_c + 0.8 * (c.ln_w_open if c.heat_law == 0 else c.ln_s)
    W[T_PIS * STRIDE + v] = c.T_piston
    W[T_HEAD * STRIDE + v] = c.T_head
    W[T_LIN * STRIDE + v] = c.T_liner
    W[DRAG * STRIDE + v] = b.drag
    for j in range(7):
        W[(CPF + j) * STRIDE + v] = gas.cp_f[k, j]
        W[(CPB + j) * STRIDE + v] = gas.cp_b[k, j]
        W[(HF + j) * STRIDE + v] = gas.h_f[k, j]
        W[(HB + j) * STRIDE + v] = gas.h_b[k, j]
    W[S * STRIDE + v] = m
    W[(S + 1) * STRIDE + v] = burned
    W[(S + 2) * STRIDE + v] = U
    for j in range(3, 10):
        W[(S + j) * STRIDE + v] = z[j]
    for j in range(10, N_OPEN):
        W[(S + j) * STRIDE + v] = 0.0
    settle(W, v, S, T_C, T)
    settle(W, v, S + 3, T_P, z[13])
    W[P_1 * STRIDE + v] = c.p_ref
    W[T_1 * STRIDE + v] = z[12]


@chain()
def _sixth(W, row, t, v):
    """The polynomial of degree 6 whose coefficients stand from ``row`` on, in pairs: the processor works on
    several at a time.
    """
    t2 = t * t
    low = W[row * STRIDE + v] + W[(row + 1) * STRIDE + v] * t
    middle = W[(row + 2) * STRIDE + v] + W[(row + 3) * STRIDE + v] * t
    high = W[(row + 4) * STRIDE + v] + W[(row + 5) * STRIDE + v] * t + W[(row + 6) * STRIDE + v] * t2
    return low + middle * t2 + high * (t2 * t2)


@chain()
def frozen(W, T, v):
    """Enthalpies h_f, h_b [J/kg] and heat capacities of lane ``v``'s fresh and burned gas at ``T``.

    Written out, since a loop in here would keep the loop over the lanes from becoming vector code.
    """
    t = 1.0e-3 * T
    h_f, h_b = _sixth(W, HF, t, v), _sixth(W, HB, t, v)
    c_f, c_b = _sixth(W, CPF, t, v), _sixth(W, CPB, t, v)
    return W[H0_F * STRIDE + v] + T * h_f, W[H0_B * STRIDE + v] + T * h_b, c_f, c_b


@outer()
def settle(W, v, state, row, T):
    """Temperature of the charge whose mass, burned mass and energy stand from row ``state`` on, by Newton
    from ``T`` to the last digit; and from row ``row`` on what the steps start from.
    """
    m = W[state * STRIDE + v]
    y = W[(state + 1) * STRIDE + v] / m
    u = W[(state + 2) * STRIDE + v] / m
    R = W[R_F * STRIDE + v] + y * W[D_R * STRIDE + v]
    per_cv = u_y = 0.0
    for _ in range(6):
        h_f, h_b, c_f, c_b = frozen(W, T, v)
        per_cv = 1.0 / (c_f + y * (c_b - c_f) - R)
        u_y = h_b - h_f - W[D_R * STRIDE + v] * T
        step = (u - (h_f + y * (h_b - h_f) - R * T)) * per_cv
        T += step
        if abs(step) < 1.0e-6:
            break
    W[row * STRIDE + v] = T
    W[(row + 1) * STRIDE + v] = u
    W[(row + 2) * STRIDE + v] = y
    W[(row + 3) * STRIDE + v] = per_cv
    W[(row + 4) * STRIDE + v] = u_y


@inner()
def record(W, theta, phase, lanes, rows, trace):
    """Write the state of every lane to its point's trace; ``rows`` are the next rows to write."""
    for v in range(lanes.size):
        i = lanes[v]
        if i < 0 or rows[v] >= trace.shape[1]:
            continue
        t = trace[i, rows[v]]
        t[0] = theta
        t[3] = phase
        for z in range(N_OPEN):
            t[4 + z] = W[(S + z) * STRIDE + v]
        rows[v] += 1
        if rows[v] < trace.shape[1]:
            trace[i, rows[v], 4] = 0.0  # a longer earlier cycle may have left rows behind


@inner()
def record_gas(W, lanes, rows, trace):
    """Pressure and temperature in the cylinder, known once a step was done, to the rows written before it."""
    for v in range(lanes.size):
        i = lanes[v]
        if i >= 0 and 0 < rows[v] <= trace.shape[1]:
            trace[i, rows[v] - 1, 1] = W[P_1 * STRIDE + v]
            trace[i, rows[v] - 1, 2] = W[T_1 * STRIDE + v]
