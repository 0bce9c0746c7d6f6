"""A plan: what it says of heat, gaps, cold and density, and a spread of end points over the window."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model, pot

from crystal.bench.plan import Plan
from crystal.bench.pot import Pot
from crystal.errors import CoverageError


@given(st.sampled_from(sorted(SALTS)), st.floats(0.0, 1.0), st.floats(0.005, 0.6))
def test_plan_of_any_salt_is_whole_or_a_coverage_error(formula, share, w):
    its = model(formula)
    t = its.map.low_C + share * (its.map.high_C - its.map.low_C)
    start = Pot(its, 500 * w, 500 * (1 - w))
    wanted = [w, (1 + w) / 2]
    if not its.map.look_up(wanted, t).known.all():
        with pytest.raises(CoverageError, match="they cover"):
            Plan.of(start, t, ends=wanted)
        return
    plan = Plan.of(start, t, ends=wanted)
    assert plan.reason
    assert "nan" not in plan.reason
    assert len(set(plan.warnings)) == len(plan.warnings)
    assert all(w.endswith(".") and "nan" not in w for w in plan.warnings)
    if plan.advice.end is not None:
        assert plan.advised.cooled.outcome_word(0) in ("crop",)
        assert_allclose(plan.advised.cooled.crystals_g[0], plan.advice.crystals_g, rtol=1e-9)


def test_spread_of_end_points_falls_and_crosses_the_window():
    plan = Plan.of(pot("MgSO4", 97.7, 402.3), 5.0)
    volumes = plan.ends.end_volume_mL
    assert (np.diff(volumes) < 0).all()
    words = {plan.ends.cooled.outcome_word(i) for i in range(len(volumes))}
    assert {"crop", "thick"} <= words
    assert (plan.ends.fraction_of_start < 1).all()


@pytest.mark.parametrize(
    ("salt", "salt_g", "water_g"), [("MgSO4", 80.0, 520.0), ("KNO3", 60.0, 540.0), ("CuSO4", 50.0, 450.0)]
)
def test_spread_of_end_points_begins_where_all_is_clear_and_ends_where_it_has_set(salt, salt_g, water_g):
    plan = Plan.of(pot(salt, salt_g, water_g), 10.0)
    volumes = plan.ends.end_volume_mL
    assert volumes[0] > plan.window.saturates.end_volume_mL
    assert plan.ends.cooled.outcome_word(0) == "clear"
    if plan.window.sets_solid_below is not None:
        assert volumes[-1] < plan.window.sets_solid_below.end_volume_mL


def said(plan: Plan, text: str) -> bool:
    return any(text in warning for warning in plan.warnings)


def test_heat_limit_warns_only_above_it():
    start = pot("FeSO4", 50.0, 450.0)
    assert said(Plan.of(start, 10.0, boil_at_C=90.0), "worked below about 60")
    assert not said(Plan.of(start, 10.0, boil_at_C=55.0), "worked below about")


def test_solid_in_the_hot_pot_is_told_with_what_to_do():
    plan = Plan.of(pot("MnSO4", 60.0, 340.0), 10.0)
    assert "drops out of the hot pot" in plan.reason
    assert "MnSO4.H2O" in plan.reason
    assert "hot pot" not in Plan.of(pot("CaCl2", 50.0, 450.0), 5.0).reason


def test_pot_that_crystallises_as_it_stands_is_told():
    plan = Plan.of(pot("KNO3", 100.0, 200.0), 10.0)
    assert plan.window.saturates.fraction_of_start > 1
    assert said(plan, "before any reducing")
    assert "already crystallises" in plan.reason


def test_freezing_is_told_and_so_is_the_end_of_the_data_below():
    plan = Plan.of(pot("NaCl", 50.0, 450.0), -20.0)
    assert said(plan, "ice is shown apart and is no crop")
    assert said(plan, "the whole pot freezes below it")
    assert not said(Plan.of(pot("NaCl", 50.0, 450.0), 10.0), "ice is shown apart")


def test_gap_in_the_window_is_told():
    assert said(
        Plan.of(pot("Zn(NO3)2", 50.0, 450.0), 20.0, ends=[0.2]), "not covered by the data (outcome unknown)"
    )


def test_vessel_is_looked_at_when_given():
    assert said(Plan.of(pot("CuSO4", 50.0, 450.0), 10.0, vessel_mL=500.0), "boiling over and bumping")
    assert not said(Plan.of(pot("CuSO4", 50.0, 450.0), 10.0, vessel_mL=1000.0), "boiling over and bumping")


@pytest.mark.parametrize(
    ("formula", "mass_fraction", "why"),
    [("Li2SO4", 0.2, "gives ice before"), ("Li2SO4", 0.45, "never clear"), ("MgSO4", 0.42, "never clear"),
     ("NiCl2", 0.12, ": clear as far down as the data go."), ("Ca(C2H3O2)2", 0.2, ": clear as far down as the data go."),
     ("Ca(C2H3O2)2", 0.265, "come on heating")],
)  # fmt: skip
def test_an_end_without_first_crystals_says_why(formula, mass_fraction, why):
    plan = Plan.of(Pot(model(formula), 20.0, 380.0), 20.0, ends=[mass_fraction])
    assert plan.ends.first_crystals_C(0) is None
    told = [t for t in plan.warnings if t.startswith("The end point gives")]
    assert len(told) == 1
    assert why in told[0]


def test_ends_without_first_crystals_are_told_apart():
    start = Pot(model("Li2SO4"), 55.0, 290.0)
    told = [t for t in Plan.of(start, 20.0, ends=[0.18, 0.2, 0.45]).warnings if " end points give" in t]
    assert [t.split(" of the ")[0] for t in told] == ["2", "1"]
    assert "ice before" in told[0]
    assert "never clear" in told[1]


def test_frost_and_crystals_before_reducing_are_told_only_where_they_are():
    start = pot("CaCl2", 80.0, 320.0)
    assert said(Plan.of(start, -0.5), "a dilute pot freezes")
    assert not said(Plan.of(start, 0.0), "a dilute pot freezes")
    assert not said(Plan.of(start, 5.0), "before any reducing")
    assert said(Plan.of(pot("KNO3", 200.0, 300.0), 5.0), "before any reducing")
    unknown = Plan.of(pot("Zn(NO3)2", 50.0, 450.0), 20.0, ends=[0.2])
    assert not said(unknown, "before any reducing")
