"""Resistance, polarization index and resistance at 40 °C by 10⁶ draws, beside vectorised NumPy."""

import numpy as np

from beside import Ours, agree, clocked, ratio

ours = Ours("draws")
told = ours.answer()
shares, many = told["shares"], told["draws"]
rng = np.random.default_rng(1)


def peer():
    volts, at_60, at_600, celsius = (rng.normal(value, u, many) for value, u in told["inputs"])
    resistance = volts / at_60
    corrected = resistance * np.exp2((celsius - 40.0) / 10.0)
    return [np.quantile(result, shares) for result in (resistance, at_60 / at_600, corrected)]


names = ("resistance", "index", "resistance at 40 °C")
for name, result, theirs in zip(names, told["results"], peer()):
    for share, quantile, other in zip(shares, result["quantiles"], theirs):
        # Two sets of draws: five standard deviations of the quantile's place in each, over the
        # density of a normal distribution there.
        place = np.sqrt(2 * share * (1 - share) / many)
        density = np.exp(-0.5 * (0.0 if share == 0.5 else 1.96) ** 2) / np.sqrt(2 * np.pi)
        agree(f"{name}, {share}", quantile, other, absolute=5 * place / density * result["standard"])
ratio("10⁶ draws of resistance, index and correction", ours.seconds, "NumPy, warm", lambda: clocked(peer), "≥ 5 ×")
