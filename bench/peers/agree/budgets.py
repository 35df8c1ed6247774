"""Budgets beside the package uncertainties: the end gauge of the guide, and a resistance at 40 °C."""

from uncertainties import ufloat
from uncertainties.umath import exp

from beside import Ours, agree


def gauge(ls, d, alpha, theta, alphas_apart, thetas_apart):
    return ls + d - ls * (alphas_apart * theta + alpha * thetas_apart)


def corrected(volts, amps, scale, celsius):
    return volts / (amps * scale) * exp((celsius - 40.0) / 10.0 * 0.6931471805599453)


told = Ours("budgets").answer()
for name, model in (("gauge", gauge), ("corrected", corrected)):
    ours = told[name]
    inputs = [ufloat(entry["value"], entry["standard"]) for entry in ours["inputs"]]
    peer = model(*inputs)
    agree(f"{name}, value", ours["value"], peer.n, relative=1e-12)
    agree(f"{name}, standard uncertainty", ours["standard"], peer.s, relative=1e-7)
    for entry, given in zip(ours["inputs"], inputs):
        slope = peer.derivatives[given]
        agree(f"{name}, sensitivity to {entry['name']}", entry["sensitivity"], slope,
              relative=1e-6, absolute=1e-9 * ours["standard"] / entry["standard"])
