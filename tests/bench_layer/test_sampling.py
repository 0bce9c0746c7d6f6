"""Sampling what could have given the observations: how often it is drawn anew, and the density of late crystals."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad, trapezoid
from scipy.stats import expon, norm

from crystal.bench.doubt import normal_numbers
from crystal.bench.likelihood import FLOOR, THERMOMETER_K, _delays, _late_by
from crystal.bench.sampling import Sampled, _tempered


def near(middle: float, spread: float):
    """An observation of the first normal number."""
    return lambda z: [("seen", -0.5 * ((z[0] - middle) / spread) ** 2, 0.0)]


def test_a_tenth_of_few_draws_is_enough():
    sampled = Sampled.of(normal_numbers(2, 512), near(0.5, 0.25))
    assert 51.2 < sampled.size < 300
    assert sampled.redrawn == 0


def test_what_was_far_off_is_drawn_anew_until_it_is_met():
    sampled = Sampled.of(normal_numbers(2, 4096), near(6.0, 0.1))
    assert sampled.redrawn > 0
    mean = float(sampled.z[0] @ sampled.weights)
    assert_allclose(mean, 6.0 / (1 + 0.1**2), atol=0.02)  # two normal distributions multiplied


@pytest.mark.parametrize("enough", [50.0, 200.0])
def test_weights_are_flattened_until_just_enough_draws_count(enough):
    log_weight = -0.5 * (normal_numbers(1, 4096)[0] - 3.0) ** 2 / 0.05**2
    weights = _tempered(log_weight, enough)
    assert_allclose(weights.sum(), 1.0)
    assert_allclose(1.0 / np.sum(weights**2), enough, rtol=1e-3)


@pytest.mark.parametrize(("usual_K", "quiet"), [(1.5, 0.0), (4.0, 0.3)])
def test_lateness_is_an_exponential_delay_read_by_a_thermometer(usual_K, quiet):
    late = np.linspace(-3.0, 12.0, 7)
    expected = [
        np.log(
            sum(
                share * quad(lambda d, m=mean, k=k: expon.pdf(d, scale=m) * norm.pdf(k - d, scale=THERMOMETER_K), 0.0, 80.0,
                             points=[max(k, 0.0)], limit=200)[0]
                for share, mean in _delays(usual_K, quiet)
            )
        )
        for k in late
    ]  # fmt: skip
    assert_allclose(_late_by(late, usual_K, quiet), np.maximum(expected, FLOOR), rtol=1e-6)
    grid = np.linspace(-8.0, 300.0, 60_001)
    assert_allclose(trapezoid(np.exp(_late_by(grid, usual_K, quiet)), grid), 1.0, atol=2e-3)
