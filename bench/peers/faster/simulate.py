"""`ohmstead simulate --csv`, whole process, beside ngspice that writes the same rows."""

from beside import ratio
from circuit import simulated, spice, staircase_case, staircase_netlist

case = staircase_case("every_s = 0.005\nuntil_s = 620.0")
net = staircase_netlist("5m", "wrdata FOLDER/rows.txt v(out)")
print(simulated(case, "--csv", "{folder}/rows.csv")[0].splitlines()[0])
ratio("`simulate` with CSV out, 124,000 rows, whole process", lambda: simulated(case, "--csv", "{folder}/rows.csv")[1],
      "ngspice writing v(out)", lambda: spice(net)[1], "≥ 10 ×")
