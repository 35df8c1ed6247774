"""Absolute humidity within 1 % and dew point within 0.1 K of general libraries of moist air."""

import psychrolib

from beside import SMALL, Ours, agree

psychrolib.SetUnitSystem(psychrolib.SI)
WATER_VAPOUR_J_PER_KG_K = 461.5
SEA_PA = 101_325.0

for row in Ours("air").answer()["moist"]:
    warm, part = row["air_c"], row["humidity_percent"] / 100
    where = f"{warm:g} °C {row['humidity_percent']:g} %"
    grams, dew = row["absolute_humidity_g_per_m3"], row["dew_point_c"]
    vapour = psychrolib.GetVapPresFromRelHum(warm, part)
    theirs = 1000 * vapour / (WATER_VAPOUR_J_PER_KG_K * (warm + 273.15))
    agree(f"g/m³ at {where}, psychrolib", grams, theirs, relative=0.01)
    # Below freezing the peers tell the frost point, ours the dew point over supercooled water.
    if dew > 0:
        agree(f"dew point at {where}, psychrolib", dew, psychrolib.GetTDewPointFromRelHum(warm, part), absolute=0.1)
    if SMALL:
        continue
    from CoolProp.CoolProp import HAPropsSI

    state = ("T", warm + 273.15, "R", part, "P", SEA_PA)
    theirs = 1000 * HAPropsSI("W", *state) / HAPropsSI("Vda", *state)
    agree(f"g/m³ at {where}, CoolProp", grams, theirs, relative=0.01)
    if dew > 0:
        agree(f"dew point at {where}, CoolProp", dew, HAPropsSI("D", *state) - 273.15, absolute=0.1)
