"""A cooled pot: masses close, volumes and outcomes follow the table of outcomes, unknown stays unknown."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model, special_C, special_w, states

from crystal.bench.cooling import OUTCOMES, UNKNOWN, Cooled
from crystal.errors import CoverageError

CLOSURE = 1e-9
ALL = sorted(SALTS)


def assert_closed(cooled: Cooled) -> None:
    its = cooled.model
    known = cooled.outcome != UNKNOWN
    x = its.solid_mass_fractions
    for name in (
        "lean_solid_g", "rich_solid_g", "ice_g", "crystals_g", "salt_in_crystals_g", "liquor_g", "liquor_mL",
        "crystal_volume_fraction", "yield_fraction",
    ):  # fmt: skip
        values = getattr(cooled, name)
        assert np.isfinite(values).all(), name
        assert (values >= 0).all(), name
    liquor_salt = cooled.liquor_g * cooled.equilibrium.liquor_mass_fraction
    total = cooled.salt_g + cooled.water_g
    solids = cooled.ice_g + cooled.crystals_g
    assert_allclose((solids + cooled.liquor_g)[known], total[known], rtol=CLOSURE)
    assert_allclose((cooled.lean_solid_g + cooled.rich_solid_g)[known], solids[known], rtol=CLOSURE)
    tiny = 1e-15 * total
    off = np.abs(cooled.salt_in_crystals_g + liquor_salt - cooled.salt_g)
    assert (off <= CLOSURE * cooled.salt_g + tiny)[known].all()
    by_solid = (
        cooled.ice_g
        + np.where(cooled.equilibrium.lean_solid == 0, 0.0, cooled.lean_solid_g)
        * (1 - x[cooled.equilibrium.lean_solid])
        + cooled.rich_solid_g * (1 - x[cooled.equilibrium.rich_solid])
    )
    off = np.abs(by_solid + cooled.liquor_g - liquor_salt - cooled.water_g)
    assert (off <= CLOSURE * cooled.water_g + tiny)[known].all()
    assert (cooled.yield_fraction <= 1 + 1e-12).all()
    assert (cooled.crystal_volume_fraction <= 1).all()
    assert ((cooled.main_solid >= 0) == (cooled.crystals_g > 0))[known].all()
    # Unknown is not dry: nothing stands there and no outcome is named.
    assert (solids[~known] == 0).all()
    assert (cooled.liquor_g[~known] == 0).all()


@given(states(), st.floats(1e-3, 1e6))
def test_masses_close_and_outcome_follows_the_table(state, total):
    formula, w, t = state
    cooled = Cooled.of(model(formula), w * total, (1 - w) * total, t, strict=False)
    assert_closed(cooled)
    share, word = float(cooled.crystal_volume_fraction), cooled.outcome_word()
    if word is None:
        with pytest.raises(CoverageError, match="they cover") as caught:
            Cooled.of(model(formula), w * total, (1 - w) * total, t)
        assert caught.value.covered_degC == model(formula).map.covers_degC
    elif float(cooled.liquor_g) <= 0.0:
        assert word == "set"
    elif share == 0.0:
        assert word == "clear"
    elif share < 0.55:
        assert word == "crop"
    elif share < 0.95:
        assert word == "thick"
    else:
        assert word == "set"


@pytest.mark.parametrize("formula", ALL)
def test_closure_on_special_states(formula):
    its = model(formula)
    for t in special_C(formula)[::3]:
        w = np.array(special_w(formula, t))
        assert_closed(Cooled.of(its, 250.0 * w, 250.0 * (1 - w), t, strict=False))


def test_volumes_are_those_of_the_solids_and_the_liquor():
    cooled = Cooled.of(model("CuSO4"), 60.0, 140.0, 20.0)
    rho = float(model("CuSO4").density.density_g_mL(cooled.equilibrium.liquor_mass_fraction, 20.0))
    crystals_mL = (
        float(cooled.crystals_g) / 2.286
    )  # copper(II) sulfate pentahydrate, CRC Handbook, from memory
    liquor_mL = float(cooled.liquor_g) / rho
    assert_allclose(float(cooled.liquor_mL), liquor_mL, rtol=1e-12)
    assert_allclose(float(cooled.crystal_volume_fraction), crystals_mL / (crystals_mL + liquor_mL), rtol=2e-3)


def test_ice_is_no_crop():
    cooled = Cooled.of(model("NaCl"), 10.0, 190.0, -10.0)
    assert float(cooled.ice_g) > 50
    assert float(cooled.crystals_g) == 0.0
    assert cooled.outcome_word() == "clear"
    assert int(cooled.main_solid) == -1
    assert cooled.solids_g() == [("ice", float(cooled.ice_g))]


def test_bed_of_needles_is_full_sooner():
    pot = (60.0, 70.0, 10.0)
    assert Cooled.of(model("CuSO4"), *pot, bed=0.55).outcome_word() == "crop"
    assert Cooled.of(model("CuSO4"), *pot, bed=0.40).outcome_word() == "thick"


def test_two_solids_are_both_named_the_heavier_first_and_it_is_set():
    cooled = Cooled.of(model("FeCl3"), 70.0, 30.0, 20.0)
    names = [name for name, _ in cooled.solids_g()]
    assert names == ["FeCl3.3.5H2O", "FeCl3.6H2O"]
    assert_allclose(sum(g for _, g in cooled.solids_g()), 100.0, rtol=1e-9)
    assert cooled.outcome_word() == "set"
    assert model("FeCl3").solid_name(int(cooled.main_solid)) == "FeCl3.3.5H2O"


def test_pot_without_salt_has_no_yield():
    cooled = Cooled.of(model("KNO3"), 0.0, 100.0, 20.0)
    assert float(cooled.yield_fraction) == 0.0
    assert cooled.outcome_word() == "clear"


@given(states(), st.floats(1e-3, 1e3))
def test_more_of_the_same_pot_is_the_same_outcome(state, factor):
    formula, w, t = state
    one = Cooled.of(model(formula), 100 * w, 100 * (1 - w), t, strict=False)
    other = Cooled.of(model(formula), factor * 100 * w, factor * 100 * (1 - w), t, strict=False)
    assert_allclose(other.crystals_g, factor * one.crystals_g, rtol=1e-6, atol=1e-10 * factor)
    assert_allclose(other.liquor_mL, factor * one.liquor_mL, rtol=1e-6, atol=1e-10 * factor)


def test_outcome_codes_stand_in_the_order_of_the_words():
    states_ = Cooled.of(model("CuSO4"), 60.0, [500.0, 140.0, 60.0, 30.0], 10.0)
    assert [OUTCOMES[i] for i in states_.outcome] == ["clear", "crop", "thick", "set"]
    assert [states_.outcome_word(i) for i in range(4)] == ["clear", "crop", "thick", "set"]


@pytest.mark.parametrize(
    ("share", "word"), [(0.01, "crop"), (0.545, "crop"), (0.555, "thick"), (0.945, "thick"), (0.955, "set")]
)
def test_outcome_at_a_given_share_of_crystals_by_volume(share, word):
    its = model("CuSO4")
    liquor = float(its.map.at(0.3, 20.0).liquor_mass_fraction)
    solid = its.solid_index("CuSO4.5H2O")
    crystals_g = share * float(its.solid_densities_g_mL[solid])
    liquor_g = (1 - share) * float(its.density.density_g_mL(liquor, 20.0))
    salt = crystals_g * float(its.solid_mass_fractions[solid]) + liquor_g * liquor
    cooled = Cooled.of(its, salt, crystals_g + liquor_g - salt, 20.0)
    assert_allclose(float(cooled.crystal_volume_fraction), share, rtol=1e-9)
    assert cooled.outcome_word() == word
