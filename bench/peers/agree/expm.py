"""Charge, clamp, discharge and rebound beside scipy's matrix exponential and a stiff integrator."""

import json

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from beside import agree
from circuit import OBJECT, matrix, simulated, staircase_case, staircase_exact

# The staircase: at the limit, at the clamp, early and late on each step.
times = [1.0, 3.3, 5.0, 7.0, 60.0, 124.0, 130.0, 300.0, 372.0, 497.0, 503.0, 510.0, 620.0]
answer = json.loads(simulated(staircase_case(f"times_s = {times}"), "--json")[0])
for sample, (volts, amperes) in zip(answer["samples"], staircase_exact(times)):
    agree(f"V at {sample['t_s']} s", sample["kv"] * 1e3, volts, relative=1e-9)
    agree(f"A at {sample['t_s']} s", sample["ua"] * 1e-6, amperes, relative=1e-9)

# Through 50 kΩ for 10 s, then open: the rebound.
start = np.array([25e3, 25e3, 25e3, 24937.7])
times = [0.05, 0.25, 1.0, 5.0, 10.0, 20.0, 100.0, 400.0, 1000.0]
case = OBJECT.replace("[[object", "start_kv = 25.0\n[[object", 1).format(25.0, 25.0, 24.9377)
case += f"[discharge]\nresistor_kohm = 50.0\nbleed_s = 10.0\nopen_s = 1000.0\n[sample]\ntimes_s = {times}\n"
answer = json.loads(simulated(case, "--json")[0])
bled = expm(matrix(1 / 50e3) * 10.0) @ start
stiff = solve_ivp(lambda _, v: matrix() @ v, (0, 990), bled, "Radau", [10.0, 90.0, 390.0, 990.0], rtol=1e-11, atol=1e-9)
for sample in answer["samples"]:
    t = sample["t_s"]
    v = expm(matrix(1 / 50e3) * t) @ start if t <= 10 else expm(matrix() * (t - 10)) @ bled
    agree(f"V at {t} s of the way down", sample["kv"] * 1e3, v[0], relative=1e-8)
for t, volts in zip(stiff.t, stiff.y[0]):
    told = next(sample for sample in answer["samples"] if sample["t_s"] == t + 10)
    agree(f"V at {t + 10} s, stiff integrator", told["kv"] * 1e3, volts, relative=1e-7)
