"""The draws themselves: the published sequence, the inverse by SciPy, the quantiles by NumPy."""

import numpy as np
from scipy.stats import norm

from beside import Ours, agree

told = Ours("draws", 200_000, 3).answer()
inputs, many = told["inputs"], told["draws"]


def mixed(bits, shift, factor):
    return (bits ^ (bits >> np.uint64(shift))) * np.uint64(factor)


# SplitMix64 from seed 0: place by place, draw by draw.
with np.errstate(over="ignore"):
    bits = np.arange(1, many * len(inputs) + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    bits = mixed(mixed(bits, 30, 0xBF58476D1CE4E5B9), 27, 0x94D049BB133111EB)
    bits ^= bits >> np.uint64(31)
shares = (bits.astype(np.float64) + 0.5) / 2.0**64
volts, at_60, at_600, celsius = (
    value + u * norm.ppf(shares[column :: len(inputs)]) for column, (value, u) in enumerate(inputs)
)
resistance = volts / at_60
peer = (resistance, at_60 / at_600, resistance * np.exp2((celsius - 40.0) / 10.0))
for name, result, theirs in zip(("resistance", "index", "resistance at 40 °C"), told["results"], peer):
    agree(f"{name}, mean", result["mean"], theirs.mean(), relative=1e-9)
    agree(f"{name}, standard deviation", result["standard"], theirs.std(ddof=1), relative=1e-8)
    quantiles = np.quantile(theirs, told["shares"], method="inverted_cdf")
    for share, quantile, other in zip(told["shares"], result["quantiles"], quantiles):
        agree(f"{name}, {share}", quantile, other, relative=1e-9)
