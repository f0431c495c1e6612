#!/usr/bin/env python3
"""Writes convention.json: random note lists and what `mir_eval` 0.8.2 (PyPI, MIT) makes of them.

    python3 tests/golden/convention.py

A case is {"reference": [[onset ns, key], ...], "estimated": [...], "matched", "precision", "recall", "f_measure"}.
mir_eval refuses notes without length, so each is given 0.1 s; lengths are then ignored (offset_ratio=None).
"""

import json
import random
from pathlib import Path

import mir_eval
import numpy as np

EDGES_US = [49_900, 49_990, 50_000, 50_040, 50_049, 50_050, 50_051, 50_060, 50_100]


def arrays(notes):
    onsets = np.array([onset / 1e9 for onset, _ in notes])
    intervals = np.stack([onsets, onsets + 0.1], axis=1) if notes else np.empty((0, 2))
    return intervals, np.array([440.0 * 2 ** ((key - 69) / 12) for _, key in notes])


def measure(reference, estimated):
    a, b = arrays(reference), arrays(estimated)
    precision, recall, f_measure, _ = mir_eval.transcription.precision_recall_f1_overlap(*a, *b, offset_ratio=None)
    matched = 0
    if reference and estimated:
        matched = len(mir_eval.transcription.match_notes(*a, *b, offset_ratio=None, strict=False))
    return {
        "reference": reference,
        "estimated": estimated,
        "matched": matched,
        "precision": float(precision),
        "recall": float(recall),
        "f_measure": float(f_measure),
    }


def scattered(chance, count, span_ns, keys):
    return [[chance.randrange(span_ns), chance.randrange(*keys)] for _ in range(count)]


def jittered(chance, notes, sd_ns):
    """A performance: notes moved, some left out, some added, in any order."""
    played = [[max(0, onset + round(chance.gauss(0, sd_ns))), key] for onset, key in notes if chance.random() < 0.9]
    played += scattered(chance, chance.randrange(4), 2_000_000_000, (28, 48))
    chance.shuffle(played)
    return played


def at_the_edge(chance):
    """Notes at the edge of the window, at onsets where doubles round either way."""
    reference, estimated = [], []
    for index in range(chance.randrange(1, 9)):
        onset = index * 1_000_000_000 + chance.randrange(100_000, 500_000) * 1000
        distance = chance.choice(EDGES_US) * 1000 * chance.choice([-1, 1])
        reference.append([onset, 40])
        estimated.append([onset + distance, 40])
    return reference, estimated


def cases():
    chance = random.Random(3)
    yield [], []
    yield scattered(chance, 3, 10**9, (40, 42)), []
    yield [], scattered(chance, 3, 10**9, (40, 42))
    for _ in range(120):
        yield at_the_edge(chance)
    for _ in range(100):  # dense: many rivals for each note
        count = chance.randrange(1, 30)
        yield scattered(chance, count, 600_000_000, (40, 43)), scattered(
            chance, chance.randrange(1, 30), 600_000_000, (40, 43)
        )
    for _ in range(50):  # sparse
        yield scattered(chance, 8, 20 * 10**9, (28, 60)), scattered(chance, 8, 20 * 10**9, (28, 60))
    for _ in range(60):  # a line and a performance of it
        line = [[round(k * 120e6), 28 + chance.randrange(20)] for k in range(chance.randrange(1, 25))]
        yield line, jittered(chance, line, chance.choice([5e6, 20e6, 60e6]))
    for _ in range(30):  # one key, a steady pulse near the width of the window
        step = chance.choice([45, 50, 55, 95, 100, 105]) * 1_000_000
        line = [[k * step, 33] for k in range(20)]
        yield line, jittered(chance, line, 30e6)


def main():
    measured = [measure(reference, estimated) for reference, estimated in cases()]
    rows = ",\n".join(json.dumps(case) for case in measured)
    (Path(__file__).parent / "convention.json").write_text(f"[\n{rows}\n]\n")
    print(len(measured), "cases,", sum(case["matched"] for case in measured), "hits")


if __name__ == "__main__":
    main()
