"""Weibull's distribution from a censored sample, its bounds, and life under voltage."""

import sys
import warnings

import numpy as np
from scipy import stats
from scipy.optimize import brentq, minimize, minimize_scalar

from beside import Ours, agree

told = Ours("weibull").answer()
failed, survived = np.array(told["failed"]), np.array(told["survived"])

# scipy.stats: the fit itself.
sample = stats.CensoredData.right_censored(np.r_[failed, survived], np.r_[0 * failed, 0 * survived + 1] > 0)
shape, _, scale = stats.weibull_min.fit(sample, floc=0)
agree("shape, scipy", told["shape"], shape, relative=1e-4)
agree("scale, scipy", told["scale"], scale, relative=1e-4)


# The likelihood of scipy's own distribution, and where it has fallen by half of χ².
def height(ln_shape, ln_scale):
    life = stats.weibull_min(np.exp(ln_shape), scale=np.exp(ln_scale))
    return life.logpdf(failed).sum() + life.logsf(survived).sum()


def greatest(across):
    return -minimize_scalar(lambda free: -across(free), bracket=(-0.1, 0.1), tol=1e-12).fun


at, eta = np.log(told["shape"]), np.log(told["scale"])
agree("likelihood, scipy", told["ln_likelihood"], height(at, eta), relative=1e-12)
fall = stats.chi2(1).ppf(0.95) / 2


def ends(profile, middle):
    below = lambda held: told["ln_likelihood"] - profile(held) - fall
    return [brentq(below, middle + side * 0.01, middle + side * 2.0, xtol=1e-12) for side in (-1, 1)]


# For each figure: where it is normal, its likelihood at its greatest, and the way back.
tenth = np.log(-np.log(0.9))
figures = {
    "shape": (at, lambda held: greatest(lambda free: height(held, eta + free)), np.exp),
    "scale": (eta, lambda held: greatest(lambda free: height(at + free, held)), np.exp),
    "tenth": (
        eta + tenth / np.exp(at),
        lambda held: greatest(lambda free: height(at + free, held - tenth / np.exp(at + free))),
        np.exp,
    ),
    "by_300": (
        np.exp(at) * (np.log(300) - eta),
        lambda held: greatest(lambda free: height(at + free, np.log(300) - held / np.exp(at + free))),
        lambda held: -np.expm1(-np.exp(held)),
    ),
}
for name, (middle, profile, back) in figures.items():
    low, high = ends(profile, middle)
    for ours, theirs in zip(told["ratio"][name], (back(low), back(middle), back(high))):
        agree(f"{name} by likelihood ratio, scipy", ours, theirs, relative=1e-6)

# Life under voltage: the likelihood written out, made greatest by Nelder and Mead.
volts = np.repeat([level for level, _ in told["held"]], 4)
hours = np.concatenate([hours for _, hours in told["held"]])


def unlikely(p):
    lives = stats.weibull_min(np.exp(p[0]), scale=np.exp(p[1]) * (volts / 3) ** -p[2])
    return -lives.logpdf(hours).sum()


found = minimize(unlikely, [1, 6, 1], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxfev": 10000})
for name, theirs in zip(("shape", "hours", "exponent"), (*np.exp(found.x[:2]), found.x[2])):
    agree(f"life under voltage, {name}, scipy", told["life"][name], theirs, relative=1e-6)

if "--small" in sys.argv:
    sys.exit()

warnings.filterwarnings("ignore")
import matplotlib

matplotlib.use("Agg")
from lifelines import WeibullFitter
from reliability.ALT_fitters import Fit_Weibull_Power
from reliability.Fitters import Fit_Weibull_2P


def peer(method):
    quiet = {"show_probability_plot": False, "print_results": False}
    return Fit_Weibull_2P(failures=list(failed), right_censored=list(survived), method=method, quantiles=[0.1], **quiet)


# Their optimisers stop at some six digits.
fit = peer("MLE")
agree("shape, reliability", told["shape"], fit.beta, relative=1e-5)
agree("scale, reliability", told["scale"], fit.alpha, relative=1e-5)
agree("deviation of shape, reliability", told["deviations"][0], fit.beta_SE, relative=1e-4)
agree("deviation of scale, reliability", told["deviations"][1], fit.alpha_SE, relative=1e-4)
theirs = {
    "shape": (fit.beta_lower, fit.beta, fit.beta_upper),
    "scale": (fit.alpha_lower, fit.alpha, fit.alpha_upper),
    "tenth": fit.quantiles[["Lower Estimate", "Point Estimate", "Upper Estimate"]].iloc[0],
}
for name, ends in theirs.items():
    for ours, end in zip(told["normal"][name], ends):
        agree(f"{name} by information, reliability", ours, end, relative=1e-4)
for name, method in (("x_on_y", "RRX"), ("y_on_x", "RRY")):
    fit = peer(method)
    agree(f"shape {name}, reliability", told[name][0], fit.beta, relative=1e-9)
    agree(f"scale {name}, reliability", told[name][1], fit.alpha, relative=1e-9)
fit = Fit_Weibull_Power(
    failures=list(hours), failure_stress=list(volts), show_probability_plot=False, show_life_stress_plot=False, print_results=False
)
agree("life under voltage, exponent, reliability", told["life"]["exponent"], -fit.n, relative=1e-4)
agree("life under voltage, shape, reliability", told["life"]["shape"], fit.beta, relative=1e-4)
agree("life under voltage, deviation, reliability", told["life"]["exponent_sd"], fit.n_SE, relative=1e-3)

fit = WeibullFitter().fit(np.r_[failed, survived], np.r_[0 * failed + 1, 0 * survived])
agree("shape, lifelines", told["shape"], fit.rho_, relative=1e-5)
agree("scale, lifelines", told["scale"], fit.lambda_, relative=1e-5)
