"""G + A·t⁻ⁿ to twenty readings, with covariance, beside scipy.optimize.curve_fit."""

import numpy as np
from scipy.optimize import curve_fit

from beside import Ours, agree, clocked, ratio


def model(t, g, a, n):
    return g + a * (t / 60.0) ** -n


ours = Ours("power-law")
told = ours.answer()
t, i, w = (np.array(told[key]) for key in ("t_s", "current", "weight"))


def peer():
    return curve_fit(model, t, i, p0=[1.0, 5.0, 0.7], sigma=1 / np.sqrt(w))


found, covariance = peer()
for k, name in enumerate(("conduction", "absorption", "exponent")):
    agree(name, told[name], found[k], relative=1e-5)
    agree(f"variance of {name}", told["covariance"][k][k], covariance[k][k], relative=1e-3)
ratio("fit G + A·t⁻ⁿ to 20 points with covariance", ours.seconds, "scipy curve_fit", lambda: clocked(peer), "≥ 150 ×")
