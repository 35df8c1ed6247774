"""One object in three hands: as a case of ours, as a netlist, and as circuit equations.

1 µF with 25 GΩ and three branches of 50 nF behind 20 MΩ, 200 MΩ and 2 GΩ.
"""

import pathlib
import subprocess
import tempfile
import time

import numpy as np
from scipy.linalg import expm
from scipy.optimize import brentq

from beside import need, program

C, G = 1e-6, 1 / 25e9
OHMS, FARADS = np.array([20e6, 200e6, 2e9]), np.full(3, 50e-9)
LIMIT = 1e-3
LEVELS_KV = (5, 10, 15, 20, 25)
DWELL_S = 124.0

OBJECT = """[object]
capacitance_nf = 1000.0
insulation_resistance_mohm = 25000.0
""" + "".join(
    f"[[object.absorption]]\nresistance_mohm = {ohms / 1e6}\ncapacitance_nf = 50.0\nstart_kv = {{}}\n" for ohms in OHMS
)

# A command that jumps, a limit of 1 mA, an ideal clamp: the diode is as sharp as it goes.
NETLIST = """{title}
{drive}
C0 out 0 1u
R0 out 0 25G
Ra1 out a1 20MEG
Ca1 a1 0 50n
Ra2 out a2 200MEG
Ca2 a2 0 50n
Ra3 out a3 2G
Ca3 a3 0 50n
.ic v(out)={start[0]} v(a1)={start[1]} v(a2)={start[2]} v(a3)={start[3]}
.control
tran {step} {end} 0 {step} uic
{told}
quit
.endc
.end
"""
FED = """I1 0 out DC 1m
Dclamp out vlim DI
Vlim vlim 0 {level}
.model DI D(IS=1e-12 N=0.01 RS=1)"""


def staircase_case(sample):
    legs = "".join(f"[[course]]\nto_kv = {kv}.0\ndwell_s = {DWELL_S}\n" for kv in LEVELS_KV)
    return OBJECT.format(0.0, 0.0, 0.0) + f"[supply]\nlimit_ma = 1.0\n{legs}[sample]\n{sample}\n"


def staircase_netlist(step, told):
    points, at = [], 0.0
    for kv in LEVELS_KV:
        points += [f"{at}", f"{kv}k", f"{at + DWELL_S - 1e-6}", f"{kv}k"]
        at += DWELL_S
    drive = FED.format(level=f"PWL({' '.join(points)})")
    return NETLIST.format(title="staircase", drive=drive, start=[0] * 4, step=step, end=at, told=told)


def simulated(case, *words):
    """What `ohmstead simulate` prints, and the seconds of the whole process."""
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "case.toml"
        path.write_text(case)
        began = time.perf_counter()
        words = [word.format(folder=folder) for word in words]
        done = subprocess.run([program(), "simulate", path, *words], check=True, stdout=subprocess.PIPE, text=True)
        return done.stdout, time.perf_counter() - began


def spice(netlist):
    """What ngspice prints, and the seconds of the whole process."""
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "net.cir"
        path.write_text(netlist.replace("FOLDER", folder))
        began = time.perf_counter()
        command = [need("ngspice", "ngspice"), "-b", path]
        done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        return done.stdout, time.perf_counter() - began


def measured(told, name):
    """The value that ngspice says it measured."""
    line = next(line for line in told.splitlines() if line.strip().startswith(f"{name} "))
    return float(line.split("=")[1].split()[0])


def matrix(across=0.0):
    """dv/dt = M·v for an open terminal with so many siemens across it."""
    siemens = 1 / OHMS
    m = np.zeros((4, 4))
    m[0, 0] = -(G + across + siemens.sum()) / C
    m[0, 1:] = siemens / C
    m[1:, 0] = siemens / FARADS
    m[1:, 1:] = np.diag(-siemens / FARADS)
    return m


def fed(v, t, amperes):
    """The state after `t` seconds of a constant current, by one exponential of five rows."""
    m = np.zeros((5, 5))
    m[:4, :4] = matrix()
    m[0, 4] = amperes / C
    return (expm(m * t) @ np.append(v, 1.0))[:4]


def held(v, t):
    """The state after `t` seconds with the terminals held."""
    return np.append(v[0], v[0] + (v[1:] - v[0]) * np.exp(-t / (OHMS * FARADS)))


def staircase_exact(times):
    """Volts and amperes at each time, from limit to clamp and on."""
    told, begin, v = {}, 0.0, np.zeros(4)
    for kv in LEVELS_KV:
        level = kv * 1e3
        arrives = brentq(lambda t: fed(v, t, LIMIT)[0] - level, 1e-6, DWELL_S, xtol=1e-13)
        there = fed(v, arrives, LIMIT)
        there[0] = level
        for at in times:
            t = at - begin
            if 0 < t <= DWELL_S:
                if t <= arrives:
                    told[at] = (fed(v, t, LIMIT)[0], LIMIT)
                else:
                    now = held(there, t - arrives)
                    told[at] = (level, G * level + ((level - now[1:]) / OHMS).sum())
        v = held(there, DWELL_S - arrives)
        begin += DWELL_S
    return np.array([told[at] for at in times])
