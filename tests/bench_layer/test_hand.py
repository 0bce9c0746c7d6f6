"""A hand calculation: masses close, and a solubility that cannot give such crystals is refused."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model

from crystal.bench.cooling import Cooled
from crystal.bench.hand import HandCrop
from crystal.errors import InputError
from crystal.physics.balance import crystals_over_liquor_g


@given(st.floats(0.0, 1e5), st.floats(1e-3, 1e5), st.floats(1e-4, 3.0), st.floats(0.2, 1.0))
def test_salt_water_and_total_close(salt, water, s, x):
    assume(x == 1.0 or s < 0.999 * x / (1 - x))
    crop = HandCrop.of(salt, water, s, x)
    assert_allclose(crop.crystals_g + crop.liquor_g, salt + water, rtol=1e-9)
    assert 0.0 <= crop.yield_fraction <= 1 + 1e-12
    assert 0.0 <= crop.liquor_mass_fraction < 1.0
    if crop.liquor_left:
        in_liquor = crop.liquor_g * crop.liquor_mass_fraction
        assert_allclose(crop.crystals_g * x + in_liquor, salt, rtol=1e-9, atol=1e-12)
        if crop.crystals_g > 0 and crop.liquor_g > 1e-3 * water:
            assert_allclose(crop.liquor_mass_fraction, s / (1 + s), rtol=1e-6)
    else:
        assert crop.crystals_g == salt + water
        assert crop.liquor_g == 0.0


@pytest.mark.parametrize("formula", ["CuSO4", "MgSO4", "KNO3", "Na2CO3", "KAl(SO4)2", "FeSO4", "NaCl"])
def test_with_the_maps_own_solubility_it_is_the_maps_own_crop(formula):
    its = model(formula)
    for t in (15.0, 25.0):
        region = next(r for r in its.map.regions(t) if r.region.left < 0 <= r.region.right)
        liquor, x = region.left_w, its.solid_mass_fractions[region.region.right]
        w = liquor + 0.4 * (x - liquor)
        engine = Cooled.of(its, 100 * w, 100 * (1 - w), t)
        hand = HandCrop.of(100 * w, 100 * (1 - w), liquor / (1 - liquor), float(x))
        assert_allclose(hand.crystals_g, float(engine.crystals_g), rtol=1e-9)
        assert_allclose(hand.yield_fraction, float(engine.yield_fraction), rtol=1e-9)


def test_liquor_richer_than_the_crystals_is_refused():
    with pytest.raises(
        InputError,
        match=r"got 200 g/100 g water; .* below the crystals' own composition, 150 g/100 g",
    ):
        HandCrop.of(100.0, 100.0, 2.0, 0.6)
    assert HandCrop.of(300.0, 100.0, 2.0, 1.0).crystals_g == pytest.approx(100.0)


def test_catalogue_is_not_needed_for_a_hydrate_of_any_salt():
    assert "K2Cr2O7" not in SALTS
    assert HandCrop.of(50.0, 50.0, 0.12, 1.0).crystals_g == pytest.approx(44.0)


def test_a_liquor_richer_than_the_solid_gives_none_of_it_from_a_leaner_pot():
    """1.5 g per g of water is 60 mass %; a solid of 50 % cannot come from a pot of 9 %."""
    assert crystals_over_liquor_g(10.0, 100.0, 1.5, 0.5) == 0.0
