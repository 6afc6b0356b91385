"""Golden numbers for the robust and the binomial parts.

    pip install numpy scipy statsmodels
    python tests/reference/robust.py > tests/reference/robust.toml

Written with scipy 1.17.1 and statsmodels 0.15.0.
"""

import numpy as np
import scipy
import statsmodels
from scipy import optimize, stats
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.proportion import proportion_confint


def toml(values):
    return "[" + ", ".join(repr(float(v)) for v in values) + "]"


rng = np.random.default_rng(20261125)
print(f"# Made by tests/reference/robust.py with scipy {scipy.__version__}, ", end="")
print(f"statsmodels {statsmodels.__version__}. Don't edit.\n")

# Huber's location at a known scale: the minimum of the weighted Huber loss.
for n, scale in [(5, 0.3), (12, 0.25), (40, 0.2)]:
    values = np.round(5.3 + scale * stats.t(3).rvs(n, random_state=rng), 4)
    weights = np.round(0.5 ** (np.arange(n)[::-1] / 14), 6)
    k = 1.5

    def loss(m):
        r = (values - m) / scale
        return np.sum(weights * np.where(np.abs(r) <= k, r * r / 2, k * np.abs(r) - k * k / 2))

    def slope(m):
        return np.sum(weights * np.clip((values - m) / scale, -k, k))

    root = optimize.brentq(slope, values.min(), values.max(), xtol=1e-14)
    assert loss(root) <= min(loss(root - 1e-4), loss(root + 1e-4))
    print("[[huber]]")
    print(f"values = {toml(values)}\nweights = {toml(weights)}\nscale = {scale}\nlocation = {root!r}\n")

# Paule-Mandel: statsmodels' "iterated".
for n, between in [(4, 0.0), (9, 0.15), (30, 0.25)]:
    variances = np.round(rng.uniform(0.002, 0.03, n), 5)
    means = np.round(5.2 + rng.normal(0, between, n) + rng.normal(0, np.sqrt(variances)), 4)
    # statsmodels gives 0 where rounding takes its last step past the root, so
    # it is stopped before; scipy finds the root to the end.
    near = combine_effects(means, variances, method_re="iterated", atol=1e-3, maxiter=1000)

    def excess(t):
        weights = 1 / (variances + t)
        return np.sum(weights * (means - np.sum(weights * means) / np.sum(weights)) ** 2) - (n - 1)

    tau2 = optimize.brentq(excess, 0, 10, xtol=1e-16) if excess(0) > 0 else 0.0
    assert abs(tau2 - max(near.tau2, 0)) < 1e-5, (tau2, near.tau2)
    mean = np.sum(means / (variances + tau2)) / np.sum(1 / (variances + tau2))
    print("[[paule_mandel]]")
    print(f"means = {toml(means)}\nvariances = {toml(variances)}\ntau2 = {tau2!r}\nmean = {float(mean)!r}\n")

# Wilson's bounds and quantiles of Beta posteriors.
for errors, n in [(0, 1), (0, 20), (0, 33), (1, 40), (3, 50), (17, 60), (60, 60), (12, 4000)]:
    # One-sided 90 % is two-sided 80 %.
    low, high = proportion_confint(errors, n, alpha=0.2, method="wilson")
    a, b = 0.5 + errors, 0.5 + n - errors
    print("[[binomial]]")
    print(f"errors = {errors}\nn = {n}\nwilson_low = {float(low)!r}\nwilson_high = {float(high)!r}")
    print(f"beta_low = {float(stats.beta.ppf(0.05, a, b))!r}\nbeta_high = {float(stats.beta.ppf(0.95, a, b))!r}")
    print(f"beta_below_a_twentieth = {float(stats.beta.cdf(0.05, a, b))!r}\n")

z = np.array([-4.0, -1.6, -0.3, 0.0, 1.0, 2.5])
clipped = lambda k: stats.norm.expect(lambda x: np.clip(x, -k, k) ** 2)
print("[normal]")
print(f"z = {toml(z)}\ncdf = {toml(stats.norm.cdf(z))}")
print(f"k = {toml([1.0, 1.5, 2.0])}\nclipped_square = {toml([clipped(k) for k in (1.0, 1.5, 2.0)])}")
