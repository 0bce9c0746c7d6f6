"""The advised end point keeps its margin and no end point that keeps it crops noticeably more."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model

from crystal.bench.advice import Advice
from crystal.bench.cooling import Cooled
from crystal.bench.pot import Pot
from crystal.bench.window import Window

ALL = sorted(SALTS)
BEST_WITHIN = 0.005  # of the best crop on an independent grid


def keeps_margin(start: Pot, w, t: float, bed: float, read_at_C: float = 20.0):
    """The margin reckoned anew: volume and composition found by bisection, one state at a time as arrays."""
    its = start.model
    w = np.atleast_1d(np.asarray(w, float))
    volume = its.density.volume_mL(start.salt_g, start.salt_g * (1 - w) / w, read_at_C)
    low, high = np.zeros_like(w), start.salt_g * (1 - w) / w
    for _ in range(60):
        middle = (low + high) / 2
        small = its.density.volume_mL(start.salt_g, middle, read_at_C) < 0.95 * volume
        low, high = np.where(small, middle, low), np.where(small, high, middle)
    less_water = (low + high) / 2

    def pours(water, at):
        state = Cooled.of(its, start.salt_g, water, at, bed=bed, strict=False)
        crop = (state.crystals_g > 0) & (state.crystal_volume_fraction < bed) & (state.liquor_g > 0)
        return crop & (state.ice_g == 0), state

    water = start.salt_g * (1 - w) / w
    ok, here = pours(water, t)
    ok &= here.crystal_volume_fraction <= 0.8 * bed * (1 + 1e-9)
    cold = max(t - 3.0, its.map.low_C)
    for then, at in ((less_water, t), (water, cold), (less_water, cold)):
        ok &= pours(then, at)[0]
    return ok, here.crystals_g


def cases(formula: str):
    its = model(formula).map
    rng = np.random.default_rng(5)
    for t in rng.uniform(its.low_C + 0.2, its.high_C, 4):
        for bed in (0.40, 0.55):
            yield Pot(model(formula), 20.0, 380.0), float(t), bed


@pytest.mark.parametrize("formula", ALL)
def test_advice_keeps_the_margin_and_is_the_best_that_does(formula):
    for start, t, bed in cases(formula):
        advice = Advice.of(Window.of(start, t, bed=bed))
        grid = np.linspace(start.mass_fraction, 0.9995, 3001)
        ok, crystals = keeps_margin(start, grid, t, bed)
        best = float(crystals[ok].max()) if ok.any() else 0.0
        at = f"{formula} at {t:.4g} degC, bed {bed}"
        if advice.end is not None and advice.margin_kept:
            kept, its = keeps_margin(start, advice.end.mass_fraction, t, bed)
            assert bool(kept[0]), at
            assert_allclose(advice.crystals_g, float(its[0]), rtol=1e-9)
        else:
            assert not ok.any(), at
        assert best <= advice.crystals_g * (1 + BEST_WITHIN) or not advice.margin_kept, at


@given(st.sampled_from(["CuSO4", "MgSO4", "KNO3", "Na2CO3", "FeCl3"]), st.floats(1e-2, 1e3))
def test_advice_grows_with_the_batch(formula, factor):
    start = Pot(model(formula), 20.0, 380.0)
    one, other = (Advice.of(Window.of(p, 12.0)) for p in (start, start.scaled(factor)))
    assert_allclose(other.crystals_g, factor * one.crystals_g, rtol=1e-6)
    assert_allclose(other.end.end_volume_mL, factor * one.end.end_volume_mL, rtol=1e-6)
    assert_allclose(other.end.fraction_of_start, one.end.fraction_of_start, rtol=1e-6)


def test_pot_past_every_crop_gets_no_end_point():
    advice = Advice.of(Window.of(Pot(model("MgSO4"), 60.0, 40.0), 5.0))
    assert advice.end is None
    assert advice.crystals_g == 0.0
    assert not advice.margin_kept


def test_margin_stops_where_the_data_stop():
    low = model("KNO3").map.low_C
    advice = Advice.of(Window.of(Pot(model("KNO3"), 20.0, 180.0), low + 1.0))
    assert advice.colder_C == low


def test_pot_past_the_margin_but_not_past_the_crop_is_not_told_to_take_water_back():
    start = Pot(model("MgSO4"), 37.5, 62.5)  # the margin ends at 35.9 mass %, the crop at 38.8
    advice = Advice.of(Window.of(start, 5.0))
    assert advice.end is not None
    assert not advice.margin_kept
    assert 0.375 <= advice.end.mass_fraction < 0.388


def test_advice_never_asks_for_more_than_the_start():
    for formula in ("KNO3", "CuSO4", "Na2SO4"):
        start = Pot(model(formula), 100.0, 180.0)
        advice = Advice.of(Window.of(start, 5.0))
        if advice.end is not None:
            assert advice.end.end_mass_g <= start.mass_g * (1 + 1e-12)
