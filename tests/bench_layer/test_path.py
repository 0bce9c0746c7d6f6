"""The saturation path: its steps lie on the phase map and nothing is lost on the way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model, pot

from crystal.bench.path import SaturationPath
from crystal.bench.pot import Pot
from crystal.errors import CoverageError


def path(formula: str, w: float, t: float, **more) -> SaturationPath:
    salt_g = 20.0
    return SaturationPath.of(Pot(model(formula), salt_g, 400.0), salt_g * (1 - w) / w, t, **more)


@given(st.sampled_from(sorted(SALTS)), st.floats(0.05, 0.95), st.floats(0.0, 1.0))
def test_masses_close_at_every_step(formula, w, share):
    its = model(formula)
    t = its.map.low_C + share * (its.map.high_C - its.map.low_C)
    if not its.map.look_up(20.0 / (20.0 + 20.0 * (1 - w) / w), t).known:
        with pytest.raises(CoverageError, match="they cover") as caught:
            path(formula, w, t)
        assert caught.value.covered_degC == its.map.covers_degC
        return
    steps = path(formula, w, t).steps
    assert (steps[0].name, steps[1].name, steps[-1].name) == ("start", "boiled down", "end")
    hot = [s.temperature_C for s in steps[1:]]
    assert hot == sorted(hot, reverse=True)
    for step in steps:
        if step.liquor_g is None:
            assert step.phase is None
            continue
        for value in (step.crystals_g, step.liquor_g, step.liquor_mass_fraction):
            assert np.isfinite(value)
        total = step.salt_g + step.water_g
        assert step.crystals_g + step.liquor_g <= total * (1 + 1e-9)
        state = its.map.at(step.salt_g / total, step.temperature_C)
        ice = total * float(state.lean_solid_fraction) if int(state.lean_solid) == 0 else 0.0
        assert_allclose(step.crystals_g + step.liquor_g + ice, total, rtol=1e-9)


@given(st.sampled_from(["KNO3", "CuSO4", "MgSO4", "Na2CO3", "KAl(SO4)2", "FeSO4"]), st.floats(0.1, 0.5))
def test_first_crystals_on_the_path_are_those_of_the_map_read_backwards(formula, w):
    its = model(formula)
    t = 10.0
    first = its.onset.first(w)
    steps = {s.name: s for s in path(formula, w, t).steps}
    due = float(first.temperature_C) if bool(first.found) else None
    if due is None or due < t + 0.01:
        return
    if "first crystals" in steps and "clear" not in steps:
        assert_allclose(steps["first crystals"].temperature_C, due, atol=1e-3)
        assert steps["first crystals"].phase == its.solid_name(int(first.solid))


def test_hot_solid_goes_and_the_cold_one_comes():
    steps = path("MnSO4", 0.36, -5.0).steps
    assert [s.name for s in steps] == ["start", "boiled down", "clear", "first crystals", "end"]
    assert steps[1].phase == "MnSO4.H2O"
    assert steps[3].phase == "MnSO4.7H2O"
    # 36 % is saturated with the monohydrate between 50 and 60 °C and with the heptahydrate at 5 °C (the data's points).
    assert 50 < steps[2].temperature_C < 60
    assert_allclose(steps[3].temperature_C, 5.0, atol=1e-6)


def test_change_of_solid_is_told_at_its_transition():
    steps = path("Na2CO3", 0.36, 20.0).steps
    changes = [s for s in steps if s.name == "change of solid"]
    assert changes
    assert changes[-1].phase == "Na2CO3.10H2O"
    # Washing soda: the decahydrate is stable below 32 °C; CRC Handbook, from memory.
    assert_allclose(changes[-1].temperature_C, 32.0, atol=0.3)


def test_cooling_track_is_continuous_and_ends_in_the_end_liquor():
    its = path("KNO3", 0.5, 10.0)
    t, w = its.cooling_track(300)
    assert_allclose(w[0], 0.5, rtol=1e-12)
    assert_allclose(w[-1], its.steps[-1].liquor_mass_fraction, rtol=1e-12)
    assert np.abs(np.diff(w)).max() < 0.01
    assert (t[0], t[-1]) == (100.0, 10.0)


def test_data_that_end_below_boiling_are_told_and_final_temperature_outside_is_an_error():
    cool = path("KAl(SO4)2", 0.1, 20.0)
    assert any("end at 92.5" in w for w in cool.warnings)
    with pytest.raises(CoverageError, match="outside the data for KNO3"):
        path("KNO3", 0.3, -40.0)


def test_a_start_that_is_in_the_data_is_not_said_to_be_outside():
    inside = SaturationPath.of(pot("KNO3", 100.0, 400.0), 150.0, 10.0)
    assert not [text for text in inside.warnings if "state of the start" in text]
    start = Pot(model("Na3PO4"), 20.0, 180.0, model("Na3PO4").map.low_C - 1.0)
    cold = SaturationPath.of(start, 150.0, 20.0)
    assert (cold.steps[0].crystals_g is None) == bool([t for t in cold.warnings if "state of the start" in t])
