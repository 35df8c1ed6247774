"""The way down beside matrix exponentials and a root finder: when it is below a voltage, what the
resistor takes, what comes back and when, and how long to short it."""

import numpy as np
from scipy.integrate import quad
from scipy.linalg import expm
from scipy.optimize import brentq, minimize_scalar

from beside import Ours, agree

told = Ours("descent").answer()
c, cj, rj = told["farads"], np.array(told["branch_farads"]), np.array(told["branch_ohms"])


def matrix(siemens, shorted=False):
    """dv/dt = M·v for the terminals and each branch, with so many siemens across."""
    size = len(cj) + 1
    m = np.zeros((size, size))
    for j in range(1, size):
        m[j, j] = -1 / (rj[j - 1] * cj[j - 1])
        if not shorted:
            m[j, 0] = -m[j, j]
            m[0, j] = 1 / (rj[j - 1] * c)
    if not shorted:
        m[0, 0] = -(1 / told["ohms"] + siemens + np.sum(1 / rj)) / c
    return m


held = 1 - np.exp(-told["held_s"] / (rj * cj))
start = told["held_v"] * np.concatenate([[1.0], held])
with_tool = matrix(1 / told["tool_ohms"])
bled = expm(with_tool * told["tool_s"]) @ start


def on_tool(t):
    return (expm(with_tool * t) @ start)[0]


def peak(short):
    """The highest voltage of the open object after so long a short, and when."""
    begin = bled.copy()
    if short > 0:
        begin = expm(matrix(0, shorted=True) * short) @ begin
        begin[0] = 0.0
    opened = matrix(0)
    found = minimize_scalar(lambda t: -(expm(opened * t) @ begin)[0], bounds=(10, 5000), method="bounded",
                            options={"xatol": 1e-6})
    return -found.fun, found.x


below = brentq(lambda t: on_tool(t) - told["limit_v"], 0.1, 10.0, xtol=1e-12)
agree("below the limit, s", told["below_s"], below, relative=1e-9)
joules = sum(
    quad(lambda t: on_tool(t) ** 2 / told["tool_ohms"], a, b, epsrel=1e-11)[0]
    for a, b in [(0, 0.05), (0.05, 0.2), (0.2, 1), (1, told["tool_s"])]
)
agree("into the resistor, J", told["resistor_j"], joules, relative=1e-9)
volts, at = peak(0.0)
agree("comes back to, V", told["rebound_v"], volts, relative=1e-9)
agree("after, s", told["rebound_s"], at, relative=1e-5)
ground = brentq(lambda t: peak(t)[0] - told["limit_v"], 10, 3000, xtol=1e-7)
agree("dead short, s", told["ground_s"], ground, relative=1e-7)
