"""Volumes of liquors that hold more than one solute: against the one salt's own, and back again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import model

from crystal.physics.company import Company
from crystal.physics.others import Others

GRAMS = st.floats(0.5, 60.0)


@given(st.sampled_from(["NaCl", "KNO3", "MgSO4", "CuSO4"]), GRAMS, GRAMS, st.floats(100.0, 500.0))
def test_more_of_the_same_salt_is_more_of_the_same_salt(salt, own_g, more_g, water_g):
    """Half of a salt told as another solute fills what the whole does."""
    density = model(salt).density
    told = Others.of({salt: more_g}).volume_mL(density, own_g, water_g, 20.0)
    assert_allclose(told, density.volume_mL(own_g + more_g, water_g, 20.0), rtol=1e-12)


@given(st.sampled_from(["HCl", "H2SO4", "NaCl"]), GRAMS, st.floats(100.0, 500.0))
def test_what_is_beside_takes_room_and_volume_and_water_go_both_ways(other, more_g, water_g):
    density, others = model("MgSO4").density, Others.of({other: more_g})
    volume = others.volume_mL(density, 50.0, water_g, 20.0)
    assert volume > density.volume_mL(50.0, water_g, 20.0) + 0.05 * more_g
    assert_allclose(others.water_g_for_volume(density, 50.0, volume, 20.0), water_g, rtol=1e-9)


@pytest.mark.parametrize(("salt", "other", "measured"), [("NaCl", "KCl", True), ("KNO3", "KH2PO4", False)])
def test_a_shift_rests_on_less_where_two_ions_of_one_sign_were_never_measured_together(salt, other, measured):
    """The mixing terms of sodium with potassium are in the data, those of nitrate with phosphate are not."""
    _, doubt, *_ = Company.of(model(salt), {other: 1.0}).shift(25.0, 0.5)
    assert (doubt < 0.05) == measured
