"""The phase map: nothing lost, nothing invented, and the same answer as a slow second reckoning from the rules."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from oracle import LIQUID, SlowMap
from salts import SALTS, model, special_C, special_w, states

from crystal.data.catalogue import Catalogue
from crystal.errors import CoverageError
from crystal.physics.model import Model
from crystal.physics.phasemap import PhaseMap

CLOSURE = 1e-9
TABULATION = 2e-5  # mass fraction of the liquor: chord against cubic, and two cubics inverted differently
ALL = sorted(SALTS)


def assert_closed(formula: str, w, t) -> None:
    """Salt, water and total of the parts against the pot's, relative 1e-9; and every part within its bounds."""
    its = model(formula)
    w, t = np.broadcast_arrays(np.asarray(w, float), np.asarray(t, float))
    found, x = its.map.look_up(w, t), its.solid_mass_fractions
    arrays = {
        name: getattr(found, name)
        for name in ("liquor_fraction", "liquor_mass_fraction", "lean_solid_fraction", "rich_solid_fraction")
    }
    for name, values in arrays.items():
        assert np.isfinite(values).all(), name
        assert (values >= 0).all(), name
        assert (values <= 1).all(), name
    known = found.known
    total = found.liquor_fraction + found.lean_solid_fraction + found.rich_solid_fraction
    salt = (
        found.liquor_fraction * found.liquor_mass_fraction
        + found.lean_solid_fraction * x[found.lean_solid]
        + found.rich_solid_fraction * x[found.rich_solid]
    )
    water = (
        found.liquor_fraction * (1 - found.liquor_mass_fraction)
        + found.lean_solid_fraction * (1 - x[found.lean_solid])
        + found.rich_solid_fraction * (1 - x[found.rich_solid])
    )
    assert_allclose(total[known], 1.0, rtol=CLOSURE)
    assert_allclose(salt[known], w[known], rtol=CLOSURE, atol=1e-15)
    assert_allclose(water[known], 1.0 - w[known], rtol=CLOSURE, atol=1e-15)
    # An unknown state is empty: it cannot be taken for dry, clear or anything else.
    assert (total[~known] == 0).all()
    assert (found.liquor_mass_fraction[~known] == 0).all()
    assert (found.lean_solid_fraction[found.lean_solid < 0] == 0).all()
    assert (found.rich_solid_fraction[found.rich_solid < 0] == 0).all()


@given(states())
def test_salt_water_and_total_are_conserved(state):
    formula, w, t = state
    assert_closed(formula, w, t)


@pytest.mark.parametrize("formula", ALL)
def test_closure_on_every_breakpoint_point_edge_and_solid(formula):
    """Exactly on branch points, at invariants, at congruent melts, at w = 0 and 1, and one rounding beside each."""
    for t in special_C(formula):
        assert_closed(formula, special_w(formula, t), t)


@pytest.mark.parametrize("formula", ALL)
def test_closure_over_random_states_and_independence_of_order_and_shape(formula):
    its = model(formula).map
    rng = np.random.default_rng(7)
    w, t = rng.uniform(0, 1, 500), rng.uniform(its.low_C, its.high_C, 500)
    assert_closed(formula, w, t)
    whole = its.look_up(w, t)
    order = rng.permutation(500)
    again = its.look_up(w[order].reshape(5, 100), t[order].reshape(5, 100))
    assert again.known.shape == (5, 100)
    for name in ("liquor_fraction", "liquor_mass_fraction", "lean_solid", "rich_solid_fraction", "known"):
        assert (getattr(again, name).ravel() == getattr(whole, name)[order]).all()
    one = its.look_up(float(w[3]), float(t[3]))
    assert one.known.shape == ()
    assert float(one.liquor_fraction) == whole.liquor_fraction[3]


def test_slow_map_covers_the_same_temperatures():
    for formula in ALL:
        slow, its = SlowMap(formula), model(formula).map
        assert (its.low_C, its.high_C) == (slow.low_C, slow.high_C), formula


@pytest.mark.parametrize("formula", ALL)
def test_map_against_a_slow_reckoning_from_the_rules(formula):
    slow, its = SlowMap(formula), model(formula)
    rng = np.random.default_rng(sum(map(ord, formula)))
    compared = 0
    for t in rng.uniform(slow.low_C, slow.high_C, 30):
        if min(abs(t - b) for b in slow.breakpoints) < 1e-6:
            continue
        parts = slow.parts(t)
        inside = [p.from_w + (p.to_w - p.from_w) * f for p in parts for f in (0.03, 0.5, 0.97)]
        w = np.concatenate([rng.uniform(0, 1, 10), inside])
        w = np.array(
            [v for v in w if min(abs(v - e) for p in parts for e in (p.from_w, p.to_w)) > TABULATION]
        )
        found = its.map.look_up(w, t)
        for i, one in enumerate(w):
            expected = slow.masses(one, t, parts)
            where = f"{formula} at {t:.6g} degC, w = {one:.6g}: {expected}"
            assert bool(found.known[i]) == (expected is not None), where
            if expected is None:
                continue
            liquor_w = expected.pop("w", 0.0)
            got = {LIQUID: float(found.liquor_fraction[i])} if found.liquor_fraction[i] > 0 else {}
            for solid, share in (
                (found.lean_solid[i], found.lean_solid_fraction[i]),
                (found.rich_solid[i], found.rich_solid_fraction[i]),
            ):
                if share > 0:
                    got[its.map.solids[solid].formula] = float(share)
            assert set(got) == set(expected), where
            assert_allclose(found.liquor_mass_fraction[i], liquor_w, rtol=0, atol=TABULATION, err_msg=where)
            if LIQUID in expected and len(expected) == 2:
                # d(share)/d(liquor_w) <= 1 / (length of the tie line)
                solid_w = next(slow.x[name] for name in expected if name != LIQUID)
                atol = TABULATION / abs(solid_w - liquor_w)
            else:
                atol = 1e-9
            for name, share in expected.items():
                assert_allclose(got[name], share, rtol=0, atol=atol, err_msg=where)
            compared += 1
    assert compared > 200


@given(states())
def test_a_state_is_an_answer_or_a_coverage_error_that_names_the_range(state):
    formula, w, t = state
    its = model(formula).map
    if bool(its.look_up(w, t).known):
        assert bool(its.at(w, t).known)
        return
    with pytest.raises(CoverageError, match=r"do not tell what stands at .* mass %") as caught:
        its.at(w, t)
    assert caught.value.covered_degC == its.covers_degC
    assert caught.value.covered_degC
    assert all(low < high for low, high in caught.value.covered_degC)


@given(st.sampled_from(ALL), st.floats(0.0, 1.0), st.floats(1e-6, 50.0), st.booleans())
def test_temperatures_outside_the_data_are_an_error_never_an_answer(formula, w, beyond, hot):
    its = model(formula).map
    t = its.high_C + beyond if hot else its.low_C - beyond
    assert not its.look_up(w, t).known
    with pytest.raises(CoverageError, match="is outside the data for") as caught:
        its.at(w, t)
    assert caught.value.covered_degC == its.covers_degC


def test_one_bad_state_among_many_raises():
    its = model("KNO3").map
    with pytest.raises(
        CoverageError, match=r"400 degC is outside the data for KNO3; they cover -2\.85 to 100"
    ):
        its.at([0.1, 0.2, 0.3], [20.0, 400.0, 20.0])


def test_covered_temperatures_are_a_list_of_intervals_not_their_union():
    # The rich liquids between 55.4 and 60 °C are in no table.
    its = model("Zn(NO3)2").map
    assert its.covers_degC == ((-29.0, 55.4), (60.0, 73.0))
    with pytest.raises(CoverageError, match=r"-29 to 55.4 degC; 60 to 73 degC"):
        its.at(0.7, 57.0)


def test_gap_in_the_data_is_unknown_where_a_dry_pair_is_not():
    # Two hydrates whose branches meet in a listed invariant are a dry pair below it.
    dry = model("FeCl3").map.at(0.70, 20.0)
    solids = model("FeCl3").map.solids
    assert float(dry.liquor_fraction) == 0.0
    assert solids[int(dry.lean_solid)].formula == "FeCl3.6H2O"
    assert solids[int(dry.rich_solid)].formula == "FeCl3.3.5H2O"
    # The hexahydrate of nickel nitrate stops at 0 °C on the cold side for want of data: nothing is claimed.
    gap = model("Ni(NO3)2").map
    unknown = [
        (r.left_w, r.right_w)
        for t in np.linspace(gap.low_C, gap.high_C, 200)
        for r in gap.regions(t)
        if not r.known
    ]
    assert unknown


@pytest.mark.parametrize("formula", ALL)
def test_regions_cover_the_axis_from_water_to_dry_salt(formula):
    its = model(formula).map
    for t in np.linspace(its.low_C, its.high_C, 40):
        regions = its.regions(float(t))
        assert regions[0].left_w == 0.0
        assert regions[-1].right_w == 1.0
        assert all(a.right_w == b.left_w for a, b in pairwise(regions))
        assert all(r.right_w >= r.left_w for r in regions)


@pytest.mark.parametrize("formula", ALL)
def test_ice_stands_first_and_never_above_0_degC(formula):
    its = model(formula).map
    assert its.solids[0].is_ice
    if its.high_C > 0:
        warm = its.look_up(np.linspace(0, 1, 101)[:, None], np.linspace(max(its.low_C, 1e-9), its.high_C, 60))
        assert not (warm.lean_solid == 0).any()
        assert not (warm.rich_solid == 0).any()


@given(states())
def test_liquor_over_a_solid_is_the_same_whatever_the_pot_holds(state):
    formula, w, t = state
    its = model(formula).map
    here = its.look_up(w, t)
    if not here.known or not 0.0 < here.liquor_fraction < 1.0:
        return
    liquor = float(here.liquor_mass_fraction)
    between = liquor + (w - liquor) * 0.5
    there = its.look_up(between, t)
    assert_allclose(float(there.liquor_mass_fraction), liquor, rtol=0, atol=1e-12)


@example("Na2SO4", 60.0)
@given(st.sampled_from(ALL), st.floats(-60.0, 260.0))
def test_saturated_liquor_itself_is_clear_at_its_own_temperature(formula, t):
    its = model(formula).map
    if not its.low_C <= t <= its.high_C:
        return
    for region in its.regions(t):
        if (
            region.known
            and region.region.left == region.region.right == -1
            and region.right_w > region.left_w
        ):
            middle = (region.left_w + region.right_w) / 2
            assert float(its.look_up(middle, t).liquor_fraction) == 1.0


def test_melt_of_a_hydrate_is_taken_as_liquid_at_its_melting_point_and_solid_just_below():
    for formula in ALL:
        its = model(formula).map
        for solid in its.solids:
            if not solid.melts_congruently:
                continue
            at = its.look_up(solid.mass_fraction, solid.top_C)
            below = its.look_up(solid.mass_fraction, solid.top_C - 0.01)
            assert float(at.liquor_fraction) == 1.0, solid.formula
            assert float(below.liquor_fraction) < 0.5, solid.formula


def test_ice_at_its_melting_point_is_taken_as_liquid():
    for formula in ALL:
        its = model(formula).map
        if its.solids[0].pieces:
            assert float(its.look_up(0.0, 0.0).liquor_fraction) == 1.0, formula
            assert float(its.look_up(0.0, -0.01).liquor_fraction) == 0.0, formula


def test_metastable_points_are_used_only_when_asked_for():
    stable = model("Na2SO4").map
    assert not any("7H2O" in s.formula for s in stable.solids)
    asked = PhaseMap.of(SALTS["Na2SO4"], only="Na2SO4.7H2O").at(0.35, 20.0)
    assert_allclose(float(asked.liquor_mass_fraction), 0.3086, atol=1e-9)  # the data's own metastable point


def test_a_solid_that_the_map_has_not_has_no_index_and_no_name():
    its = Model.of(Catalogue.bundled().find("CuSO4"))
    assert its.solid_index("CuSO4.4H2O") == -1
    assert its.solid_name(-1) is None
    assert its.solid_name(its.solid_index("CuSO4.5H2O")) == "CuSO4.5H2O"
