"""Humidity: published values come back, left-out points are met, hydrates' balances meet the saturated solution."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model
from scipy.constants import R

from crystal.data.humidity import PREFERRED, humidity_tables, pair_pressures, practices
from crystal.physics.humidity import (
    ESTIMATE,
    ROOM,
    ROUGH_SOURCE,
    TABLE,
    Deliquescence,
    Pair,
    deliquescence,
    dew_point_C,
    relative_humidity_percent,
    saturated,
    vapour_pressure_kPa,
)

STATED = [
    (phase, table)
    for phase, tables in humidity_tables().items()
    for table in tables
    if any(p.uncertainty_percent is not None for p in table.points)
]


@pytest.mark.parametrize(("phase", "table"), STATED, ids=[f"{p}-{t.source}" for p, t in STATED])
def test_every_inner_point_left_out_comes_back_within_its_stated_uncertainty(phase, table):
    errors = Deliquescence((table,)).left_out_errors()[table.source]
    assert len(errors) == max(len(table.points) - 2, 0)
    for point, error in zip(table.points[1:-1], errors, strict=True):
        if point.uncertainty_percent is not None:
            assert abs(error) <= point.uncertainty_percent, (phase, point)


def test_left_out_points_are_many():
    inner = [p for _, table in STATED for p in table.points[1:-1] if p.uncertainty_percent is not None]
    assert len(inner) > 200


@pytest.mark.parametrize(("phase", "table"), STATED, ids=[f"{p}-{t.source}" for p, t in STATED])
def test_tabulated_temperatures_give_the_tabulated_humidity(phase, table):
    best = humidity_tables()[phase][0]
    for point in (p for p in table.points if p.uncertainty_percent is not None):
        found = Deliquescence.of(phase).at(point.temperature_C)
        if table is best:
            assert found.source == table.source
            assert found.rh_percent == pytest.approx(point.rh_percent, abs=1e-9)
            assert found.doubt_percent >= point.uncertainty_percent
        else:  # a less trusted source agrees with the best within both doubts, taken three times for old tables
            apart = abs(found.rh_percent - point.rh_percent)
            assert apart <= 3 * (found.doubt_percent + point.uncertainty_percent)


def test_the_most_trusted_source_is_taken():
    assert Deliquescence.of("NaCl").at(25.0).source == "Greenspan1977" == PREFERRED[0]
    assert Deliquescence.of("NaBr.2H2O").at(25.0).rh_percent == pytest.approx(57.57, abs=0.03)


def test_the_doubtful_table_is_used_between_20_and_30_only():
    only = Deliquescence.of("FeSO4.7H2O")
    assert [table.source for table in only.tables] == [ROUGH_SOURCE]
    assert only.at(25.0).rh_percent == pytest.approx(95.8)
    assert only.at(15.0) is None
    assert only.at(35.0) is None


def test_beyond_its_temperatures_a_table_tells_nothing():
    assert Deliquescence.of("NaCl").at(90.0) is None
    assert Deliquescence.of("no such solid").at(25.0) is None


def test_one_value_at_25_is_used_near_25_only():
    found = deliquescence(model("C6H8O7"), "C6H8O7.H2O", 22.0)
    assert (found.rh_percent, found.basis) == (78.0, ROOM)
    assert found.doubt_percent > deliquescence(model("C6H8O7"), "C6H8O7.H2O", 25.0).doubt_percent
    assert deliquescence(model("C6H8O7"), "C6H8O7.H2O", 10.0) is None


@pytest.mark.parametrize(
    ("salt", "solid"), [("NaCl", "NaCl"), ("KCl", "KCl"), ("MgCl2", "MgCl2.6H2O"), ("NaNO3", "NaNO3")]
)
def test_an_estimate_by_activity_meets_the_published_humidity(salt, solid, monkeypatch):
    published = deliquescence(model(salt), solid, 25.0)
    monkeypatch.setattr("crystal.physics.humidity.humidity_tables", dict)
    monkeypatch.setitem(model(salt).salt.extra, "deliquescence_rh_25C_percent", "")
    guessed = deliquescence(model(salt), solid, 25.0)
    assert (published.basis, guessed.basis) == (TABLE, ESTIMATE)
    assert abs(guessed.rh_percent - published.rh_percent) <= guessed.doubt_percent


MEETING = [
    # Where hydrate and next lower solid meet under one liquor, its humidity is the pair's: two independent sources meet.
    ("Na2SO4", "Na2SO4.10H2O", 32.38),
    ("MgSO4", "MgSO4.7H2O", 48.1),
    ("ZnSO4", "ZnSO4.7H2O", 39.0),
    ("SrCl2", "SrCl2.6H2O", 61.3),
    ("CaCl2", "CaCl2.6H2O", 29.5),
    ("NaBr", "NaBr.2H2O", 50.67),
]


@pytest.mark.parametrize(("salt", "hydrate", "meet_C"), MEETING, ids=[m[1] for m in MEETING])
def test_the_pair_pressure_meets_the_saturated_solution_at_the_transition(salt, hydrate, meet_C):
    top = model(salt).map.solids[model(salt).solid_index(hydrate)].top_C
    assert top == pytest.approx(meet_C, abs=0.1)
    pair, solution = Pair.below(hydrate).at(top), deliquescence(model(salt), hydrate, top - 1e-6)
    off = pair.rh_percent - solution.rh_percent
    assert abs(off) <= np.hypot(pair.doubt_percent, solution.doubt_percent)


# Classic dissociation pressures of copper(II) sulfate at 50 degC, mm Hg (older handbooks; from memory): the values at
# 25 degC carried there by the enthalpies. Water: 92.5 mm Hg.
@pytest.mark.parametrize(("hydrate", "mm_Hg"), [("CuSO4.5H2O", 47.0), ("CuSO4.3H2O", 30.0)])
def test_pair_pressure_is_carried_over_temperature(hydrate, mm_Hg):
    found = Pair.below(hydrate).at(50.0)
    assert abs(found.rh_percent - 100 * mm_Hg / 92.5) <= found.doubt_percent


def test_a_pair_without_heat_is_used_near_its_temperature_only():
    pair = Pair(pair_pressures()[0], None)
    known = pair.pressure
    assert pair.at(known.temperature_C + 4.0).rh_percent == known.rh_percent
    assert pair.at(known.temperature_C + 4.0).doubt_percent > known.doubt_percent
    assert pair.at(known.temperature_C + 6.0) is None


def test_every_pair_names_a_hydrate_of_its_salt_and_a_drier_solid():
    for pair in pair_pressures():
        assert pair.hydrate in {phase.formula for phase in SALTS[pair.system].phases}
        assert pair.provenance in ("memory", "derived")
        assert pair.doubt_percent >= 2.0
        assert Pair.below(pair.hydrate).pressure is pair


def test_every_practice_is_said_to_have_no_source():
    assert {p.source for p in practices().values()} == {"common practice, no source"}


# Dew points: psychrometric tables, to 0.1 K (general handbooks, from memory).
@pytest.mark.parametrize(
    ("air_C", "rh", "dew_C"),
    [(25.0, 50.0, 13.9), (20.0, 60.0, 12.0), (30.0, 80.0, 26.2), (22.0, 100.0, 22.0)],
)
def test_dew_points(air_C, rh, dew_C):
    assert float(dew_point_C(air_C, rh)) == pytest.approx(dew_C, abs=0.06)


def test_dew_point_is_not_claimed_where_frost_comes():
    assert np.isnan(dew_point_C(20.0, 20.0))


# IAPWS-IF97, table 35 (check values), kPa.
def test_vapour_pressure_is_that_of_the_formulation():
    assert float(vapour_pressure_kPa(26.85, 100.0)) == pytest.approx(3.53658941, rel=1e-8)


@given(st.floats(5.0, 60.0), st.floats(35.0, 100.0))
def test_dew_point_and_humidity_are_each_others_inverse(air_C, rh):
    dew = dew_point_C(air_C, rh)
    if np.isfinite(dew):
        assert_allclose(relative_humidity_percent(air_C, dew), rh, rtol=1e-6)
        assert dew <= air_C + 1e-6


def test_saturated_is_the_most_dilute_saturated_liquor():
    w, solid = saturated(model("FeCl3"), 20.0)
    assert solid == "FeCl3.6H2O"
    state = model("FeCl3").map.look_up(np.array([w - 1e-6, w + 1e-6]), 20.0)
    assert state.liquor_fraction[0] == 1.0 > state.liquor_fraction[1]
    assert saturated(model("NaCl"), -50.0) is None


@pytest.mark.parametrize(
    ("salt", "solid"), [("ZnSO4", "ZnSO4.7H2O"), ("MgSO4", "MgSO4.7H2O"), ("Ca(NO3)2", "Ca(NO3)2.4H2O")]
)
def test_an_estimate_goes_on_from_where_the_tables_end(salt: str, solid: str) -> None:
    """Told from the table to the one side and by activities to the other, a humidity does not jump."""
    found = [deliquescence(model(salt), solid, t) for t in np.arange(5.0, 35.0, 0.5)]
    told = [
        (one.rh_percent, two.rh_percent)
        for one, two in pairwise(found)
        if one is not None and two is not None
    ]
    assert {h.basis for h in found if h is not None} >= {TABLE, ESTIMATE}
    assert max(abs(one - two) for one, two in told) < 1.0


def test_an_estimate_runs_smoothly_from_the_edge_of_the_tables() -> None:
    """No steps of the search for the nearest known value show in it."""
    told = [deliquescence(model("MgSO4"), "MgSO4.7H2O", t) for t in np.arange(3.0, 9.0, 0.25)]
    rh = np.array([one.rh_percent for one in told if one is not None])
    assert {one.basis for one in told if one is not None} == {ESTIMATE}
    assert np.abs(np.diff(rh, 2)).max() < 0.01


@pytest.mark.parametrize("hydrate", ["CuSO4.5H2O", "MgSO4.7H2O", "ZnSO4.7H2O"])
def test_a_pair_is_carried_by_van_t_hoffs_equation(hydrate):
    pair = Pair.below(hydrate)
    known = pair.pressure
    for t in (known.temperature_C - 10.0, known.temperature_C + 7.0):
        kelvins = 1.0 / (t + 273.15) - 1.0 / (known.temperature_C + 273.15)
        told = -R * np.log(pair.at(t).rh_percent / known.rh_percent) / kelvins
        assert told == pytest.approx(1000.0 * pair.heat_kJ_mol, rel=1e-6)
