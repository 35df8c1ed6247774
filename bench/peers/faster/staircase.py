"""124,000 rows of a 620 s staircase beside ngspice on the same net at the same step."""

import numpy as np

from beside import Ours, agree, ratio
from circuit import measured, spice, staircase_exact, staircase_netlist

LOOKED_AT = [1.0, 4.0, 60.0, 124.0, 126.0, 300.0, 500.0, 620.0]

ours = Ours("staircase")
told = ours.answer()
rows = [round(at / 0.005) - 1 for at in LOOKED_AT]
exact = staircase_exact(LOOKED_AT)
volts, amperes = np.array(told["volts"])[rows], np.array(told["amperes"])[rows]
assert len(told["t_s"]) == 124_000
assert np.array_equal(np.array(told["t_s"])[rows], LOOKED_AT)
for at, v, i, (v_exact, i_exact) in zip(LOOKED_AT, volts, amperes, exact):
    agree(f"V at {at} s, exact", v, v_exact, relative=1e-9)
    agree(f"A at {at} s, exact", i, i_exact, relative=1e-9)

meas = "\n".join(f"meas tran m{k} find v(out) at={at}" for k, at in enumerate(LOOKED_AT[:-1]))
net = staircase_netlist("5m", meas)
peer = [measured(spice(net)[0], f"m{k}") for k in range(len(LOOKED_AT) - 1)]
off = lambda found: max(abs(found / exact[: len(found), 0] - 1))
print(f"furthest from exact: ours {off(volts[:-1]):.1e}, ngspice {off(np.array(peer)):.1e}")
ratio("124,000 rows of a 620 s staircase, four states", ours.seconds, "ngspice at 5 ms, whole process",
      lambda: spice(net)[1], "≥ 500 ×")
