#!/usr/bin/env python3
"""Writes progress.json: what scipy 1.17.1 and statsmodels 0.15.0 (PyPI, both BSD) make of random histories.

    python3 tests/golden/progress.py

- "metas": {"values", "variances", "mean", "day_variance", "standard_error"}: statsmodels' random-effects mean of studies, method
  "iterated" (Paule & Mandel); the larger of its two standard errors.
- "regressions": {"values", "variances", "columns", "means", "standard_errors", "day_variance"}: statsmodels' WLS with the
  weights at which the squares come to their degrees of freedom (scipy's brentq).
- "histories": {"sds", "freedoms", "change", "curve"}: one take a session with a spread (ms) and its degrees of freedom. The change
  from the first to the ninth by the same regression on logarithms; the exponential curve by scipy's general minimisers, its
  intervals by the profile likelihood (brentq on the edges).
"""

import json
from pathlib import Path

import numpy as np
from scipy import optimize, stats
from statsmodels.regression.linear_model import WLS
from statsmodels.stats.meta_analysis import combine_effects

rng = np.random.default_rng(20)


def day_variance(squares, freedom):
    """Paule & Mandel: the variance of days at which the weighted squares come to their degrees of freedom."""
    if squares(0.0) <= freedom:
        return 0.0
    return optimize.brentq(lambda tau2: squares(tau2) - freedom, 0.0, 1e6, xtol=1e-14, rtol=1e-14)


def meta(values, variances):
    """A mean of studies, by statsmodels' own random effects ("iterated" is Paule & Mandel's)."""
    result = combine_effects(values, variances, method_re="iterated", use_t=True, atol=1e-12)
    return {
        "values": values.tolist(),
        "variances": variances.tolist(),
        "mean": result.mean_effect_re,
        "day_variance": result.tau2,
        "standard_error": max(result.sd_eff_w_re_hksj, result.sd_eff_w_re),
    }


def regression(values, variances, columns):
    x = np.column_stack(columns)
    freedom = len(values) - x.shape[1]
    fit = lambda tau2: WLS(values, x, weights=1.0 / (variances + tau2)).fit()
    tau2 = day_variance(lambda tau2: float(fit(tau2).scale * freedom), freedom)
    best = fit(tau2)
    # statsmodels scales by what is left (Knapp & Hartung); ours is never below one.
    errors = best.bse * np.sqrt(max(best.scale, 1.0) / best.scale)
    return {
        "values": values.tolist(),
        "variances": variances.tolist(),
        "columns": [list(map(float, column)) for column in columns],
        "means": best.params.tolist(),
        "standard_errors": errors.tolist(),
        "day_variance": tau2,
    }


def change(sds, freedoms):
    """One take a session: the change of the spread from the first to the last, as a factor."""
    line = regression(np.log(sds), 1.0 / (2.0 * freedoms), [np.ones(len(sds)), np.linspace(0, 1, len(sds))])
    slope, error = line["means"][1], line["standard_errors"][1]
    half = stats.t.ppf(0.975, len(sds) - 2) * error
    return {
        "from": np.exp(line["means"][0]),
        "change": np.exp(slope),
        "interval": [np.exp(slope - half), np.exp(slope + half)],
        "chance": 2 * stats.t.sf(abs(slope / error), len(sds) - 2),
        "detectable": [np.exp(-half), np.exp(half)],
        "detectable_takes": np.exp(stats.norm.ppf(0.975) * np.sqrt(2 * np.mean(1.0 / (2.0 * freedoms)))),
    }


def minimum(loss, starts, bounds):
    """The least of a function from several starts."""
    found = [optimize.minimize(loss, start, bounds=bounds, method="L-BFGS-B", options={"ftol": 1e-15, "gtol": 1e-12, "maxiter": 5000}) for start in starts]
    best = min(found, key=lambda one: one.fun)
    polished = optimize.minimize(loss, best.x, bounds=bounds, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 20000})
    return min([best, polished], key=lambda one: one.fun)


def curve(sds, freedoms, ahead):
    """One take a session: floor + gap exp(-rate t), and its profile likelihood intervals."""
    n = len(sds)
    t = np.arange(n, dtype=float)
    known = 1.0 / (2.0 * freedoms)
    slowest, quickest = np.log(2) / (2.0 * (n - 1)), np.log(2)
    fitted, day = np.full(n, np.exp(np.mean(np.log(sds)))), 0.0
    bounds = [(0, None), (0, None), (np.log(slowest), np.log(quickest))]
    starts = [(sds[-1], sds[0] - sds[-1], np.log(rate)) for rate in np.geomspace(slowest, quickest, 8)]
    for _ in range(4):
        weights = 1.0 / (fitted**2 * (known + day))
        model = lambda p: p[0] + p[1] * np.exp(-np.exp(p[2]) * t)
        best = minimum(lambda p: np.sum(weights * (sds - model(p)) ** 2), starts, bounds)
        fitted = model(best.x)
        off = (sds - fitted) / fitted
        day = day_variance(lambda tau2: np.sum(off**2 / (known + tau2)), n - 3)
    allowed = best.fun + max(best.fun / (n - 3), 1.0) * stats.t.ppf(0.975, n - 3) ** 2

    def least(at, value):
        there = lambda p: np.exp(-np.exp(p[1]) * at) if np.isfinite(at) else 0.0
        line = lambda p: value + p[0] * (np.exp(-np.exp(p[1]) * t) - there(p))
        loss = lambda p: np.sum(weights * (sds - line(p)) ** 2)
        # The gap is linear: the rate alone is searched.
        def at_rate(log_rate):
            x = np.exp(-np.exp(log_rate) * t) - there((0, log_rate))
            gap = max(np.sum(weights * x * (sds - value)) / np.sum(weights * x * x), 0.0)
            if there((0, log_rate)) > 0:
                gap = min(gap, value / there((0, log_rate)))
            return loss((gap, log_rate))
        grid = np.linspace(np.log(slowest), np.log(quickest), 400)
        losses = [at_rate(rate) for rate in grid]
        middle = int(np.argmin(losses))
        ends = grid[max(middle - 1, 0)], grid[min(middle + 1, 399)]
        fine = optimize.minimize_scalar(at_rate, bounds=ends, method="bounded", options={"xatol": 1e-10})
        return min(fine.fun, losses[middle])

    def interval(at):
        centre = best.x[0] + best.x[1] * (np.exp(-np.exp(best.x[2]) * at) if np.isfinite(at) else 0.0)
        excess = lambda value: least(at, value) - allowed
        low = optimize.brentq(excess, 0.0, centre) if excess(0.0) > 0 else None
        high = optimize.brentq(excess, centre, 4 * max(sds))
        return {"best": centre, "interval": [low, high]}

    last = float(n - 1)
    return {
        "floor": interval(np.inf),
        "halved": np.log(2) / np.exp(best.x[2]),
        "ends": [float(fitted[0]), float(fitted[-1])],
        "levels": [interval(last + sessions) for sessions in ahead],
    }


def learner(n, floor, gap, half, noise):
    t = np.arange(n)
    return (floor + gap * 0.5 ** (t / half)) * np.exp(noise * rng.standard_normal(n))


def histories():
    for n, floor, gap, half, noise in [(12, 12, 25, 2.5, 0.05), (20, 15, 20, 4, 0.1), (16, 10, 30, 3, 0.12), (40, 14, 18, 6, 0.1)]:
        sds = np.round(learner(n, floor, gap, half, noise), 3)
        freedoms = np.round(rng.uniform(40, 120, n), 1)
        yield {
            "sds": sds.tolist(),
            "freedoms": freedoms.tolist(),
            "change": change(sds[:9], freedoms[:9]),
            "curve": curve(sds, freedoms, [5, 10, 20]),
        }


def regressions():
    for n in (5, 8, 20):
        for days in (0.0, 0.2):
            variances = rng.uniform(0.005, 0.05, n)
            time = np.linspace(0, 1, n)
            values = 3 - 0.3 * time + rng.standard_normal(n) * np.sqrt(variances + days**2)
            yield regression(values, variances, [np.ones(n), time])
            yield regression(values, variances, [np.ones(n), time, rng.uniform(-0.4, 0.1, n)])


def metas():
    for n in (4, 9):
        for days in (0.05, 0.4):
            variances = rng.uniform(0.005, 0.05, n)
            yield meta(rng.standard_normal(n) * np.sqrt(variances + days**2), variances)


golden = {"metas": list(metas()), "regressions": list(regressions()), "histories": list(histories())}
Path(__file__).with_suffix(".json").write_text(json.dumps(golden) + "\n")
