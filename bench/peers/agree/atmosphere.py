"""Pressure of the standard atmosphere beside a general library's; it rounds its constants."""

import psychrolib

from beside import Ours, agree

psychrolib.SetUnitSystem(psychrolib.SI)

for row in Ours("air").answer()["heights"]:
    theirs = psychrolib.GetStandardAtmPressure(row["altitude_m"]) / 1000
    agree(f"kPa at {row['altitude_m']:g} m, psychrolib", row["pressure_kpa"], theirs, relative=1e-5)
