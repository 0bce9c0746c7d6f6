"""A small part of `tests/bench/calibration.py`: told odds come true, on batches whose truth is known."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
import calibration

FEW = 120


def check(tally: calibration.Tally) -> None:
    """Limits are three standard deviations of the count about what the odds promise."""
    ranks = np.array(tally.ranks)
    n = len(ranks)
    inside = float(np.mean((ranks >= 0.1) & (ranks <= 0.9)))
    assert abs(inside - 0.8) < 3 * np.sqrt(0.8 * 0.2 / n)
    for pairs in (tally.not_pouring, tally.crop):
        told, came = np.array([p for p, _ in pairs]), np.array([c for _, c in pairs], float)
        assert abs((came - told).sum()) < 3 * np.sqrt((told * (1 - told)).sum()) + 1
        unsure = (told > 0.1) & (told < 0.9)
        if unsure.sum() > 10:
            spread = np.sqrt((told[unsure] * (1 - told[unsure])).sum())
            assert abs((came - told)[unsure].sum()) < 3 * spread


def test_odds_told_before_a_batch_come_true():
    check(calibration.simulate(FEW, seed=11))


def test_odds_told_after_first_crystals_come_true():
    check(calibration.simulate(FEW // 2, seed=12, evidence=True))
