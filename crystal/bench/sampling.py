"""Importance sampling: which normal numbers could have given what was seen, and how likely that was."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ENOUGH = 400.0
"""Effective draws below which the sampling is moved towards the evidence and repeated."""

_ROUNDS = 8


@dataclass(frozen=True, eq=False)
class Sampled:
    """Weighted samples of standard normal numbers z, shape (rows, n), held against what was seen.

    ``log_odds`` is the logarithm of how likely what was seen is under the prior as a whole.
    """

    z: Floats
    weights: Floats
    size: float
    redrawn: int
    log_odds: float
    each: list[tuple[str, Floats, float]]

    @classmethod
    def of(cls, numbers: Floats, fit: Callable[[Floats], list[tuple[str, Floats, float]]]) -> Sampled:
        """Importance sampling that moves the normal proposal towards the evidence while too few samples count.

        Parameters
        ----------
        numbers : array, shape (rows, n)
            Standard normal numbers: the first proposal, and what is sent through the later ones.
        fit : callable
            Gives for each observation its name, the log likelihood at each z, and the most that it could be.
        """
        rows, n = numbers.shape
        enough = min(ENOUGH, n / 10)
        mean, root = np.zeros(rows), np.eye(rows)
        redrawn = 0
        while True:
            z = mean[:, None] + root @ numbers
            each = fit(z)
            fits = np.sum([values for _, values, _ in each], axis=0) if each else np.zeros(n)
            log_weight = fits - 0.5 * np.sum(z**2, axis=0) + 0.5 * np.sum(numbers**2, axis=0)
            weights = _normal(log_weight)
            size = 1.0 / float(np.sum(weights**2))
            if size >= enough or redrawn >= _ROUNDS:
                top = float(log_weight.max())
                odds = (
                    top
                    + float(np.log(np.mean(np.exp(log_weight - top))))
                    + float(np.log(np.diag(root)).sum())
                )
                return cls(z, weights, size, redrawn, odds, each)
            mean, root = _fitted(z, _tempered(log_weight, enough / 2))
            redrawn += 1


def _normal(log_weight: Floats) -> Floats:
    weights = np.exp(log_weight - log_weight.max())
    return np.asarray(weights / weights.sum())


def _tempered(log_weight: Floats, enough: float) -> Floats:
    """Weights flattened just so far that enough draws count."""
    low, high = 0.0, 1.0
    for _ in range(24):
        power = (low + high) / 2
        weights = _normal(power * log_weight)
        if 1.0 / np.sum(weights**2) < enough:
            high = power
        else:
            low = power
    return _normal(low * log_weight)


def _fitted(z: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Mean and root of covariance of weighted draws, a little widened and never narrower than a tenth."""
    mean = z @ weights
    off = z - mean[:, None]
    covariance = 1.3 * (off * weights) @ off.T + 0.01 * np.eye(len(mean))
    return mean, np.asarray(np.linalg.cholesky(covariance))
