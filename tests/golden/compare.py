#!/usr/bin/env python3
"""Writes compare.json: what scipy 1.17.1 (PyPI, BSD) makes of random takes of two players.

    python3 tests/golden/compare.py

Each case: {"ratio", "one", "other", "one_mean", "one_interval", "other_mean", "other_interval", "size", "interval",
"chance"}; values of the takes as they are. Means and intervals by scipy.stats.t over the takes, the difference by
scipy.stats.ttest_ind(equal_var=False); where "ratio" holds, all of it on logarithms and then raised again.
"chances" and "adjusted": scipy.stats.false_discovery_control (Benjamini & Hochberg).
"""

import json
from pathlib import Path

import numpy as np
from scipy import stats

rng = np.random.default_rng(20261125)


def mean_interval(values):
    low, high = stats.t.interval(0.95, len(values) - 1, loc=np.mean(values), scale=stats.sem(values))
    return np.mean(values), [low, high]


def case(ratio, means, sds, counts):
    back = np.exp if ratio else (lambda value: np.asarray(value))
    one, other = (rng.normal(mean, sd, size=count) for mean, sd, count in zip(means, sds, counts))
    test = stats.ttest_ind(one, other, equal_var=False)
    between = test.confidence_interval(0.95)
    (one_mean, one_interval), (other_mean, other_interval) = mean_interval(one), mean_interval(other)
    return {
        "ratio": ratio,
        "one": back(one).tolist(),
        "other": back(other).tolist(),
        "one_mean": float(back(one_mean)),
        "one_interval": back(one_interval).tolist(),
        "other_mean": float(back(other_mean)),
        "other_interval": back(other_interval).tolist(),
        "size": float(back(one_mean - other_mean)),
        "interval": back([between.low, between.high]).tolist(),
        "chance": float(test.pvalue),
    }


cases = [
    case(False, (12, -3), (4, 9), (6, 5)),
    case(False, (12, 11), (4, 1), (3, 12)),
    case(False, (0, 0), (10, 10), (3, 3)),
    case(False, (-20, 15), (5, 5), (40, 25)),
    case(True, (2.5, 2.9), (0.1, 0.3), (5, 8)),
    case(True, (0.7, 0.7), (0.05, 0.02), (4, 4)),
    case(True, (4.55, 4.6), (0.02, 0.04), (10, 3)),
]
chances = [one["chance"] for one in cases]
golden = {
    "cases": cases,
    "chances": chances,
    "adjusted": stats.false_discovery_control(chances, method="bh").tolist(),
}
Path(__file__).with_suffix(".json").write_text(json.dumps(golden, indent=1) + "\n")
