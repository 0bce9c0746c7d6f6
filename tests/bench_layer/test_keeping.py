"""How crystals keep: states at the edges of the window, drying, jars, and what is not known said so."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from salts import SALTS, model

from crystal.bench.keeping import DRYING_MARGIN_K, WINDOW_UNKNOWN, Keeping, window_against_temperature
from crystal.errors import InputError
from crystal.physics.humidity import Pair, saturated


def keep(salt: str, at_C: float, rh: float | None, solid: str | None = None) -> Keeping:
    return Keeping.of(model(salt), at_C, rh, solid=solid)


@pytest.mark.parametrize(
    ("salt", "at_C", "rh", "solid", "state"),
    [
        ("MgSO4", 25.0, 60.0, None, "stable"),
        ("MgSO4", 25.0, 40.0, None, "effloresces"),
        ("MgSO4", 25.0, 95.0, None, "deliquesces"),
        ("Na2SO4", 20.0, 60.0, None, "effloresces"),
        ("Na2SO4", 20.0, 60.0, "Na2SO4", "stable"),
        ("CuSO4", 22.0, 50.0, None, "stable"),
        ("CuSO4", 22.0, 20.0, None, "effloresces"),
        ("NaCl", 22.0, 60.0, None, "stable"),
        ("NaCl", 22.0, 80.0, None, "deliquesces"),
        ("MgCl2", 22.0, 60.0, None, "deliquesces"),
        ("CaCl2", 22.0, 60.0, None, "deliquesces"),
        ("Mg(NO3)2", 22.0, 45.0, None, None),
    ],
)
def test_states(salt, at_C, rh, solid, state):
    assert keep(salt, at_C, rh, solid).state == state


def test_state_changes_exactly_at_the_edges():
    found = keep("MgSO4", 25.0, 60.0)
    low, high = found.lower.rh_percent, found.upper.rh_percent
    states = [keep("MgSO4", 25.0, rh).state for rh in (low - 0.01, low + 0.01, high - 0.01, high + 0.01)]
    assert states == ["effloresces", "stable", "stable", "deliquesces"]


def test_within_the_doubt_of_an_edge_that_is_said():
    assert any("within the doubt" in w for w in keep("MgSO4", 25.0, 51.5).warnings)
    assert not any("within the doubt" in w for w in keep("MgSO4", 25.0, 70.0).warnings)


def test_a_missing_pair_pressure_is_said_and_no_strong_desiccant_is_advised():
    found = keep("Mg(NO3)2", 22.0, 45.0)
    assert found.lower is None
    assert any(w.startswith(WINDOW_UNKNOWN) for w in found.warnings)
    assert found.desiccant_refused
    assert "without a desiccant" in found.keep_in


@pytest.mark.parametrize("salt", ["MgSO4", "CuSO4", "Na2SO4", "FeSO4", "ZnSO4", "Na2CO3", "Na2HPO4"])
def test_silica_gel_is_refused_for_a_hydrate_that_crumbles(salt):
    found = keep(salt, 22.0, 50.0)
    assert found.desiccant_refused
    assert "No silica gel" in found.keep_in


def test_a_salt_without_water_takes_silica_gel():
    found = keep("NaNO3", 22.0, 50.0)
    assert not found.desiccant_refused
    assert "silica gel" in found.keep_in


def test_a_holder_of_humidity_lies_inside_the_window():
    found = keep("NaBr", 22.0, 50.0)
    assert "K2CO3.1.5H2O" in found.keep_in  # 43 %, between 36 and 58 %


@given(st.sampled_from(sorted(SALTS)), st.floats(5.0, 35.0), st.floats(0.0, 100.0))
def test_no_hydrate_that_may_crumble_is_given_a_strong_desiccant(salt, at_C, rh):
    over = saturated(model(salt), at_C)
    if over is None:
        return
    found = keep(salt, at_C, rh)
    if found.state is not None and found.practice is None:
        assert found.upper is not None or found.state != "deliquesces"
    if found.lower is None and found.practice is None:
        assert found.desiccant_refused
        assert any(WINDOW_UNKNOWN in w for w in found.warnings)
    if found.lower is not None and found.upper is not None:
        assert found.lower.rh_percent <= found.upper.rh_percent
    if found.melts_C is not None:
        assert found.dry_below_C <= found.melts_C - DRYING_MARGIN_K + 1e-9


def test_drying_stays_below_a_heat_limit_too():
    assert keep("FeSO4", 22.0, 70.0).dry_below_C == pytest.approx(
        46.6
    )  # transition at 56.6, solutions suffer from 60
    assert keep("KNaC4H4O6", 22.0, 70.0).dry_below_C <= 45.0  # limit 55


def test_room_air_that_is_warmed_dries_a_hydrate_out():
    found = keep("MgSO4", 22.0, 60.0)
    at = found.crumbles_warmer_than_C()
    assert 24.0 <= at <= 26.0
    pair = Pair.below("MgSO4.7H2O")
    # 60 % at 22 degC is 2.645 kPa x 0.60; at the warmer temperature that pressure is the pair's.
    from crystal.physics.vapour import saturation_pressure_kPa

    rh = 60.0 * float(saturation_pressure_kPa(22.0) / saturation_pressure_kPa(at))
    assert rh < pair.at(at).rh_percent
    assert (
        60.0 * float(saturation_pressure_kPa(22.0) / saturation_pressure_kPa(at - 0.5))
        >= pair.at(at - 0.5).rh_percent
    )


def test_a_drier_solid_turns_to_the_higher_hydrate_and_does_not_melt_there():
    found = keep("Na2SO4", 20.0, 85.0, "Na2SO4")
    assert (found.state, found.turns_to) == (None, "Na2SO4.10H2O")
    assert any("cakes to Na2SO4.10H2O" in w for w in found.warnings)
    assert keep("Na2SO4", 20.0, 60.0, "Na2SO4").turns_to is None


def test_above_the_transition_the_drier_solid_has_its_own_upper_edge():
    found = keep("Na2SO4", 40.0, 60.0)
    assert found.solid == "Na2SO4"
    assert not found.upper_is_hydrate


def test_dew_point_of_the_room():
    assert keep("NaCl", 20.0, 60.0).dew_point_C == pytest.approx(12.0, abs=0.05)
    assert keep("NaCl", 20.0, 20.0).dew_point_C is None
    assert keep("NaCl", 20.0, None).state is None


def test_window_against_temperature_ends_with_the_hydrate():
    t = np.arange(0.0, 60.0, 5.0)
    lower, upper, *_ = window_against_temperature(model("Na2SO4"), "Na2SO4.10H2O", t)
    assert np.isfinite(lower[t < 32]).all()
    assert np.isnan(lower[t > 33]).all()
    assert (np.diff(lower[t < 32]) > 0).all()
    assert (upper[t < 32] > lower[t < 32]).all()


def test_bad_input_is_refused():
    with pytest.raises(InputError, match="from 0 to 100 %"):
        keep("NaCl", 20.0, 120.0)
    with pytest.raises(InputError, match="one of its solids"):
        keep("MgSO4", 20.0, 50.0, "MgSO4.9H2O")


@pytest.mark.parametrize("salt", sorted(SALTS))
def test_a_holder_keeps_clear_of_both_edges_and_their_doubts(salt):
    for at_C in (10.0, 20.0, 30.0):
        if saturated(model(salt), at_C) is None:
            continue
        found = keep(salt, at_C, None)
        held = re.search(r"beside it in the jar, holds (\d+) %", found.keep_in)
        if held is None or found.lower is None:
            continue
        assert float(held[1]) + 0.5 >= found.lower.rh_percent + found.lower.doubt_percent
        if found.upper is not None:
            assert float(held[1]) - 0.5 <= found.upper.rh_percent - found.upper.doubt_percent
