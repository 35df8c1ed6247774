"""Charge at a limit to a clamp, and discharge and rebound, beside ngspice on the same nets."""

import json

from beside import agree
from circuit import FED, NETLIST, OBJECT, measured, simulated, spice

# 1 mA into a clamp at 25 kV.
told, _ = spice(
    NETLIST.format(
        title="charge", drive=FED.format(level="DC 25k"), start=[0] * 4, step="5m", end=60,
        told="meas tran v1 find v(out) at=1\nmeas tran v10 find v(out) at=10\n"
        "meas tran v20 find v(out) at=20\nmeas tran t25 when v(out)=24.9k rise=1",
    )
)  # fmt: skip
case = OBJECT.format(0.0, 0.0, 0.0) + "[supply]\nlimit_ma = 1.0\n[[course]]\nto_kv = 25.0\ndwell_s = 60.0\n"
at = measured(told, "t25")
answer = json.loads(simulated(case + f"[sample]\ntimes_s = [1.0, 10.0, 20.0, {at}]\n", "--json")[0])
volts = [sample["kv"] * 1e3 for sample in answer["samples"]]
for name, ours in zip(("v1", "v10", "v20"), volts):
    agree(name, ours, measured(told, name), relative=5e-5)
agree("V when ngspice comes to 24.9 kV", volts[3], 24.9e3, relative=5e-5)

# Through 50 kΩ for 10 s by a switch, then open. Steps of more than a fiftieth of R·C come out
# wrong there: 1 ms for 50 ms.
switch = "S1 out r1 gate 0 SW\nRd r1 0 50k\nVg gate 0 PWL(0 1 10 1 10.000001 0)\n.model SW SW(VT=0.5 RON=1m ROFF=1e18)"
start = [25e3, 25e3, 25e3, 24937.7]
told, _ = spice(
    NETLIST.format(
        title="discharge", drive=switch, start=start, step="1m", end=120,
        told="meas tran v1 find v(out) at=0.05\nmeas tran v2 find v(out) at=0.25\n"
        "meas tran v3 find v(out) at=5\nmeas tran v4 find v(out) at=100",
    )
)  # fmt: skip
case = OBJECT.replace("[[object", "start_kv = 25.0\n[[object", 1).format(25.0, 25.0, 24.9377)
case += "[discharge]\nresistor_kohm = 50.0\nbleed_s = 10.0\nopen_s = 200.0\n[sample]\ntimes_s = [0.05, 0.25, 5.0, 100.0]\n"
answer = json.loads(simulated(case, "--json")[0])
for name, sample in zip(("v1", "v2", "v3", "v4"), answer["samples"]):
    agree(f"V at {sample['t_s']} s of the way down", sample["kv"] * 1e3, measured(told, name), relative=1e-3)
