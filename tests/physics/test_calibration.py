"""A curve fitted to observed liquors: its factor, what one point is worth, and what several apart say."""

from __future__ import annotations

import re
from math import log

import numpy as np
import pytest
from numpy.testing import assert_allclose
from salts import model

from crystal.errors import InputError
from crystal.physics.calibration import COMPOSITION, THERMOMETER_K, fit


def pure(formula: str, t: float) -> float:
    """g of salt per g of water over crystals, lean side."""
    return float(model(formula).map.at(0.999 * richest(formula, t), t).liquor_mass_fraction)


def richest(formula: str, t: float) -> float:
    slices = model(formula).map.slices([t])
    return float(slices.edges[1:-1, 0].max())


@pytest.mark.parametrize("factor", [0.8, 1.0, 1.15])
def test_the_factor_is_that_of_grams_per_water(factor):
    s = pure("KNO3", 31.0) / (1 - pure("KNO3", 31.0)) * factor
    assert_allclose(fit(model("KNO3"), "mine", [(31.0, s / (1 + s))]).factor, factor, rtol=1e-9)


@pytest.mark.parametrize(
    ("formula", "t", "w"), [("KNO3", 31.0, 0.29), ("Zn(NO3)2", 25.0, 0.54), ("FeCl3", 20.0, 0.46)]
)
def test_one_point_is_worth_a_kelvin_and_two_per_cent_of_its_strength(formula, t, w):
    """Near a melting hydrate's own composition a liquor that is so much stronger moves the factor more."""
    h, its = 1e-5, model(formula)
    at = fit(its, "mine", [(t, w)])
    stronger = w * (1 + h) / (1 + w * h)  # its grams per water times (1 + h)
    by_strength = (log(fit(its, "mine", [(t, stronger)]).factor) - log(at.factor)) / log(1 + h)
    by_kelvin = log(fit(its, "mine", [(t + 0.5, w)]).factor) - log(fit(its, "mine", [(t - 0.5, w)]).factor)
    assert_allclose(at.doubt, np.hypot(by_strength * COMPOSITION, by_kelvin * THERMOMETER_K), rtol=0.15)


def test_points_that_agree_narrow_the_doubt_and_points_apart_do_not():
    one, two = (31.0, 0.29), (42.0, 0.38)
    alone, both = fit(model("KNO3"), "mine", [one]), fit(model("KNO3"), "mine", [one, one])
    assert_allclose(both.doubt, alone.doubt / 2**0.5, rtol=1e-9)
    apart = fit(model("KNO3"), "mine", [one, (42.0, 0.31)])
    assert apart.doubt > fit(model("KNO3"), "mine", [one, two]).doubt


def test_a_point_beyond_belief_is_refused_with_what_was_told():
    with pytest.raises(InputError, match="within a factor of") as refused:
        fit(model("KNO3"), "mine", [(31.0, 0.02)])
    told = re.search(r"got (?:')?([\d.]+) mass % at ([\d.]+) degC", str(refused.value))
    assert told is not None
    assert (float(told[1]), float(told[2])) == (2.0, 31.0)
