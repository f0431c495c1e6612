#!/usr/bin/env python3
"""Writes findings.json: what scipy 1.17.1 and statsmodels 0.15.0 (PyPI, both BSD) make of random numbers.

    python3 tests/golden/statistics.py

- "slopes": {"x", "y", "beside", "slope", "half_width"}: statsmodels' OLS of y on x, a constant and the columns beside. The
  residuals' lag-1 correlation is negative in each, so that every value counts as one.
- "discoveries": {"chances", "share", "standing"}: statsmodels' multipletests, method fdr_bh.
- "estimates": {"mean", "standard_error", "freedom", "interval", "chance"}: scipy's Student t.
- "effects": {"line", "values", "columns", "means", "standard_errors", "freedom"}: a line as a file, one value a note and one
  row a column. The moving mean over 8 beats is taken out of values and columns with a full matrix, statsmodels' OLS (no
  constant) gives the sizes, and the variance is that of a first-order autoregression, by its full covariance matrix.
"""

import json
from pathlib import Path

import numpy as np
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.multitest import multipletests

rng = np.random.default_rng(20261125)


def lag_1(residuals):
    return float(residuals[1:] @ residuals[:-1] / (residuals @ residuals))


def more_alike(rho):
    return (1 + rho) / (1 - rho)


def slope(n, beside):
    while True:
        x, y = rng.normal(size=n), rng.normal(size=n)
        columns = [rng.normal(size=n) for _ in range(beside)]
        fit = sm.OLS(y, np.column_stack([x, np.ones(n), *columns])).fit()
        if lag_1(fit.resid) < 0:
            break
    low, high = fit.conf_int(alpha=0.05)[0]
    return {
        "x": list(x),
        "y": list(y),
        "beside": [list(column) for column in columns],
        "slope": fit.params[0],
        "half_width": (high - low) / 2,
    }


def discovery(n, real, share):
    chances = np.concatenate([rng.uniform(size=n - real), rng.uniform(high=0.004, size=real)])
    rng.shuffle(chances)
    standing = multipletests(chances, alpha=share, method="fdr_bh")[0]
    return {"chances": list(chances), "share": share, "standing": [bool(stands) for stands in standing]}


def estimate(mean, standard_error, freedom):
    student = stats.t(freedom)
    half = student.ppf(0.975) * standard_error
    return {
        "mean": mean,
        "standard_error": standard_error,
        "freedom": freedom,
        "interval": [mean - half, mean + half],
        "chance": 2 * student.sf(abs(mean / standard_error)),
    }


# Beats of a bar of 4/4 and how it is written; entries after a rest are not special here.
BARS = [
    ([0, 1, 2, 3], "A1/4 E2/4 D2/4 A1/4"),
    ([0, 0.5, 1, 2, 2.5, 3, 3.5], "A1/8 A1/8 E2/4 D2/8 D2/8 C2/8 C2/8"),
    ([0.5, 1.5, 2, 3.5], "r/8 A1/8 r/8 A1/8 D2/4 r/8 E2/8"),
]


def effects(bars, correlation):
    chosen = rng.integers(len(BARS), size=bars)
    beats = np.concatenate([4 * bar + np.array(BARS[which][0]) for bar, which in enumerate(chosen)])
    n = len(beats)
    line = (
        'title = "Moorings"\nmeter = "4/4"\ntempo = 120\n[[section]]\nname = "A"\nnotes = "'
        + " | ".join(BARS[which][1] for which in chosen)
        + '"\n'
    )
    upbeat = (beats % 1 != 0).astype(float)
    third = (np.arange(n) % 3 == 0).astype(float)
    graded = rng.normal(size=n)
    columns = np.stack([upbeat, third, graded])
    noise = np.empty(n)
    noise[0] = rng.normal()
    for i in range(1, n):
        noise[i] = correlation * noise[i - 1] + np.sqrt(1 - correlation**2) * rng.normal()
    values = 0.3 * beats + 12 * noise - 20 * upbeat + 5 * graded
    near = np.abs(beats[:, None] - beats[None, :]) <= 4 + 1e-9
    smooth = near / near.sum(axis=1, keepdims=True)
    left = np.eye(n) - smooth
    y, x = left @ values, (left @ columns.T)
    fit = sm.OLS(y, x).fit()
    freedom = n - np.trace(smooth) - columns.shape[0]
    spent = np.trace(smooth)
    seen, rho = lag_1(fit.resid), 0.0
    for _ in range(4):
        taken = min(spent / n * more_alike(rho), 1.0)
        rho = min(max(seen * (1 - taken) + taken, 0.0), 0.9)
    variance = fit.resid @ fit.resid / max(freedom - spent * (more_alike(rho) - 1), 2.0)
    lags = np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    means, errors = [], []
    for index in range(columns.shape[0]):
        others = np.delete(x, index, axis=1)
        own = x[:, index] - others @ np.linalg.lstsq(others, x[:, index], rcond=None)[0]
        weights = left.T @ own

        def inflation(rho):
            # Lags whose correlation is negligible are left out, as they are there.
            covariance = np.where(rho**lags > 0.005, rho**lags, 0.0) if rho > 0 else np.eye(n)
            return max(weights @ covariance @ weights / (own @ own), 0.3)

        inflated = inflation(rho)
        if inflated < inflation(0.0):
            inflated = inflation(max(rho - 1 / np.sqrt(n), 0.0))
        means.append(float(fit.params[index]))
        errors.append(float(np.sqrt(variance / (own @ own) * inflated)))
    return {
        "line": line,
        "values": list(values),
        "columns": [list(column) for column in columns],
        "means": means,
        "standard_errors": errors,
        "freedom": freedom,
    }


cases = {
    "slopes": [slope(n, beside) for n in (6, 12, 40, 150) for beside in (0, 1, 3) if n > beside + 3],
    "discoveries": [discovery(n, real, share) for n in (3, 12, 25) for real in (0, 2) for share in (0.01, 0.05)],
    "estimates": [
        estimate(mean, error, freedom)
        for mean in (-35.0, -4.0, 0.5, 60.0)
        for error in (0.7, 9.0)
        for freedom in (3.0, 11.5, 46.0, 4000.0)
    ],
    "effects": [effects(bars, correlation) for bars in (4, 12, 40) for correlation in (0.0, 0.25, 0.6)],
}
target = Path(__file__).with_suffix(".json")
rounded = json.loads(json.dumps(cases), parse_float=lambda text: float(f"{float(text):.12g}"))
target.write_text(json.dumps(rounded, indent=None, separators=(",", ":")) + "\n")
