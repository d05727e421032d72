"""Where the gas exchange keeps its lanes: one flat array, eight operating points side by side.

Entry r of lane v stands at W[8 r + v]; one array with a fixed stride, so that the compiler can prove that its
loops may run as vectors.
"""

from __future__ import annotations

from boostwright.physics.kernels.jit import inner, outer

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
HEAT = 14  # constant of the heat law
LN_W = 15  # ln of Woschni velocity
LN_S = 16  # ln(S_p + 1.4)
T_PIS = 17  # walls: piston, head, liner
T_HEAD = 18
T_LIN = 19
DRAG = 20  # runner pressure loss over flow squared
CPF = 21  # 7 rows each
CPB = 28
HF = 35
HB = 42
S = 49  # state, 18 rows
K1 = S + N_OPEN
K2 = K1 + N_OPEN
Y = K2 + N_OPEN  # stage state
T_C = Y + N_OPEN  # cylinder temperature
T_P = T_C + 1
P_C = T_C + 2  # pressures
P_P = T_C + 3
H_C = T_C + 4  # enthalpies
H_P = T_C + 5
Y_C = T_C + 6  # burned shares
Y_P = T_C + 7
G_C = T_C + 8  # gamma
G_P = T_C + 9
RT_C = T_C + 10
RT_P = T_C + 11
RC = T_C + 12  # gas constants
RP = T_C + 13
UY_C = T_C + 14  # du/dy at constant T
UY_P = T_C + 15
PER_M = T_C + 16  # 1/mass
SHARE = T_C + 17
Y_ST = T_C + 18
H_ST = T_C + 19
H_UP = T_C + 20
Y_UP = T_C + 21
MI = T_C + 22  # valve flows and their slopes
MI_C = T_C + 23
MI_P = T_C + 24
ME = T_C + 25
ME_C = T_C + 26
H_I = T_C + 27
Y_I = T_C + 28
H_E = T_C + 29
Y_E = T_C + 30
A_M = T_C + 31  # pressure slopes of the cylinder on mass, burned mass, energy; then of the port
A_B = T_C + 32
A_U = T_C + 33
B_M = T_C + 34
B_B = T_C + 35
B_U = T_C + 36
D_I = T_C + 37  # implicit change of the valve flows
D_E = T_C + 38
OUT = T_C + 39  # 1 where gas leaves to the manifold
INTO = T_C + 40  # 1 where gas enters the cylinder
L_MI_C = T_C + 41  # slopes and carried quantities of the first stage
L_MI_P = T_C + 42
L_ME_C = T_C + 43
L_HI = T_C + 44
L_YI = T_C + 45
L_HE = T_C + 46
L_YE = T_C + 47
L_SH = T_C + 48
L_YS = T_C + 49
L_HS = T_C + 50
ROWS = T_C + 51
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
    W[HEAT * STRIDE + v] = c.heat_c
    W[LN_W * STRIDE + v] = c.ln_w_open
    W[LN_S * STRIDE + v] = c.ln_s
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
    W[T_C * STRIDE + v] = T
    W[T_P * STRIDE + v] = z[13]


@inner()
def record(W, theta, phase, lanes, rows, trace):
    """Write the state of every lane to its point's trace; ``rows`` are the next rows to write."""
    for v in range(lanes.size):
        i = lanes[v]
        if i < 0 or rows[v] >= trace.shape[1]:
            continue
        t = trace[i, rows[v]]
        t[0] = theta
        t[1] = W[P_C * STRIDE + v]
        t[2] = W[T_C * STRIDE + v]
        t[3] = phase
        for z in range(N_OPEN):
            t[4 + z] = W[(S + z) * STRIDE + v]
        rows[v] += 1
        if rows[v] < trace.shape[1]:
            trace[i, rows[v], 4] = 0.0  # a longer earlier cycle may have left rows behind
