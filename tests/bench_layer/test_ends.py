"""End points in detail: the same salt, less water; hot, read and cold states; first crystals; slurry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model

from crystal.bench.cooling import UNKNOWN
from crystal.bench.ends import Ends
from crystal.bench.plan import Plan
from crystal.bench.pot import Pot
from crystal.errors import CoverageError
from crystal.physics.others import Others

ALL = sorted(SALTS)


@given(st.sampled_from(ALL), st.floats(0.001, 1.0), st.floats(0.0, 1.0), st.floats(1e-2, 1e5))
def test_salt_water_and_total_close_at_every_end_point(formula, w, share, total):
    its = model(formula)
    t = its.map.low_C + share * (its.map.high_C - its.map.low_C)
    start = Pot(its, total * 0.001, total * 0.999)
    if not its.map.look_up([w, 1.0], t).known.all():
        with pytest.raises(CoverageError, match="they cover") as caught:
            Ends.of(start, [w, 1.0], t)
        assert caught.value.covered_degC == its.map.covers_degC
        return
    ends = Ends.of(start, [w, 1.0], t)
    assert_allclose(ends.end_mass_g + ends.water_removed_g, start.mass_g, rtol=1e-9)
    assert_allclose(ends.end_mass_g * ends.mass_fraction, start.salt_g, rtol=1e-9)
    for state in (ends.cooled, ends.hot, ends.read):
        known = state.outcome != UNKNOWN
        whole = state.crystals_g + state.ice_g + state.liquor_g
        assert_allclose(whole[known], ends.end_mass_g[known], rtol=1e-9)
        salt = state.salt_in_crystals_g + state.liquor_g * state.equilibrium.liquor_mass_fraction
        assert_allclose(salt[known], start.salt_g, rtol=1e-9)
    for values in (ends.end_volume_mL, ends.fraction_of_start, ends.water_removed_g):
        assert np.isfinite(values).all()


def test_fraction_of_start_is_volume_over_volume_each_at_its_own_reading():
    start = Pot(model("CuSO4"), 50.0, 450.0, read_at_C=60.0)
    ends = Ends.of(start, [0.25], 10.0, read_at_C=20.0)
    assert_allclose(ends.fraction_of_start[0], ends.end_volume_mL[0] / start.volume_mL(60.0), rtol=1e-12)
    assert ends.end_volume_mL[0] < Ends.of(start, [0.25], 10.0, read_at_C=90.0).end_volume_mL[0]


def test_first_crystals_are_none_where_ice_comes_first_or_it_is_never_clear():
    ends = Ends.of(Pot(model("NaCl"), 1.0, 99.0), [0.05, 0.26, 0.9], 10.0)
    assert ends.first_crystals_C(0) is None
    assert ends.first_crystals_C(2) is None
    salt = Ends.of(Pot(model("KNO3"), 1.0, 99.0), [0.457], 10.0)
    # Potassium nitrate: 45.7 mass % saturated at 50 °C, CRC Handbook (98th ed.), from memory.
    assert_allclose(salt.first_crystals_C(0), 50.0, atol=0.3)


def test_salt_less_soluble_hot_stands_in_the_hot_pot():
    ends = Ends.of(Pot(model("MnSO4"), 30.0, 170.0), [0.15, 0.34], 20.0)
    assert ends.hot.crystals_g[0] == 0.0
    assert ends.hot.crystals_g[1] > 0.0
    assert model("MnSO4").solid_name(int(ends.hot.main_solid[1])) == "MnSO4.H2O"


def test_slurry_is_told_only_where_solids_stand_at_the_reading():
    start = Pot(model("KNO3"), 50.0, 450.0)
    cold = Ends.of(start, [0.2, 0.5], 5.0, read_at_C=20.0)
    assert cold.slurry_mL(0) is None
    # Potassium nitrate crystals: 2.11 g/mL, CRC Handbook, from memory. 31.6 g stay dissolved in 100 g water at 20 °C.
    liquor_g = 50.0 * 1.316
    liquor_mL = liquor_g / float(model("KNO3").density.density_g_mL(0.316 / 1.316, 20.0))
    assert_allclose(cold.slurry_mL(1), liquor_mL + (100.0 - liquor_g) / 2.11, rtol=0.01)
    assert Ends.of(start, [0.5], 5.0, read_at_C=90.0).slurry_mL(0) is None


def test_hot_state_outside_the_data_is_unknown_not_an_error():
    ends = Ends.of(Pot(model("KNO3"), 50.0, 450.0), [0.4], 5.0, boil_at_C=150.0)
    assert ends.hot.outcome[0] == UNKNOWN
    with pytest.raises(CoverageError, match="150 degC is outside the data for KNO3"):
        Ends.of(Pot(model("KNO3"), 50.0, 450.0), [0.4], 150.0)


def test_what_is_beside_the_salt_counts_in_the_mass_of_every_end_point():
    start = Pot(model("KNO3"), 100.0, 300.0, others=Others.of({"NaNO3": 30.0}))
    ends = Plan.of(start, 10.0, ends=[0.3, 0.4]).ends
    assert_allclose(ends.end_mass_g, 100.0 + 100.0 * np.array([0.7 / 0.3, 0.6 / 0.4]) + 30.0, rtol=1e-9)
