"""The balance of a crop by hand: salt and water add up, and the limits are what they must be."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from crystal.physics.balance import crystals_over_liquor_g

MASSES = st.floats(1e-3, 1e6)


@given(MASSES, MASSES, st.floats(0.001, 5.0), st.floats(0.1, 1.0))
def test_liquor_left_has_the_given_strength(salt, water, s, x):
    assume(s < 0.99 * x / max(1.0 - x, 1e-12))
    assume(salt > s * water)
    crystals = float(crystals_over_liquor_g(salt, water, s, x))
    left = water - crystals * (1 - x)
    if crystals >= salt + water:
        assert salt / (salt + water) >= x * (1 - 1e-12)
        return
    assume(left > 1e-3 * water)
    # The liquor's salt is a difference of large numbers: its rounding is that of the pot's.
    assert_allclose((salt - crystals * x) / left, s, rtol=1e-6, atol=1e-14 * (salt + water) / left)


@given(MASSES, MASSES, st.floats(0.001, 5.0), st.floats(0.1, 1.0), st.floats(1e-3, 1e3))
def test_more_of_the_same_pot_gives_as_much_more(salt, water, s, x, factor):
    once = float(crystals_over_liquor_g(salt, water, s, x))
    assert_allclose(
        float(crystals_over_liquor_g(factor * salt, factor * water, s, x)), factor * once, rtol=1e-9
    )
    assert 0.0 <= once <= salt + water


def test_unsaturated_pot_gives_nothing_and_one_at_the_solid_composition_gives_itself():
    assert float(crystals_over_liquor_g(10.0, 100.0, 0.2, 0.5)) == 0.0
    assert_allclose(float(crystals_over_liquor_g(64.0, 36.0, 0.2, 0.64)), 100.0, rtol=1e-12)


def test_hydrate_takes_water_so_its_crop_exceeds_the_anhydrous_reckoning():
    anhydrous_only = (100.0 - 0.2 * 200.0) / 0.64
    assert float(crystals_over_liquor_g(100.0, 200.0, 0.2, 0.64)) > anhydrous_only * 1.05


def test_arrays_broadcast_and_equal_their_scalars():
    salt, s = np.array([[100.0], [150.0]]), np.array([0.1, 0.2, 0.3])
    whole = crystals_over_liquor_g(salt, 300.0, s, 0.64)
    assert whole.shape == (2, 3)
    assert whole[1, 2] == float(crystals_over_liquor_g(150.0, 300.0, 0.3, 0.64))
