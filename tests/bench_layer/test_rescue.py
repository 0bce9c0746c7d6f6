"""A rescue is carried out on the map: the water added, the pot warmed until clear, cooled, and weighed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model

from bench_layer.scenarios import batch
from crystal.bench.batch import Batch
from crystal.bench.cooling import Cooled
from crystal.bench.explain import Explanation
from crystal.bench.pot import Pot
from crystal.bench.rescue import Rescue, clear_temperature_C


def carry_out(its, salt_g: float, water_g: float, rescue: Rescue) -> None:
    water = water_g + rescue.add_water_g
    assert rescue.add_water_g >= 0.0
    if rescue.warm_to_C is not None:
        warm = Cooled.of(its, salt_g, water, rescue.warm_to_C)
        assert warm.outcome_word() == "clear"
        assert float(warm.crystals_g + warm.ice_g) == 0.0
        assert rescue.warm_to_C <= its.map.high_C
        assert rescue.warm_to_C > rescue.cool_to_C
    cold = Cooled.of(its, salt_g, water, rescue.cool_to_C)
    assert cold.outcome_word() == rescue.outcome
    assert_allclose(float(cold.crystals_g), rescue.crystals_g, rtol=1e-9)
    assert_allclose(float(cold.crystals_g + cold.ice_g + cold.liquor_g), salt_g + water, rtol=1e-9)


@pytest.mark.parametrize(
    "told",
    [
        ("MgSO4.7H2O", 200, 500, 150, 5, "set"),
        ("MgSO4.7H2O", 200, 500, 110, 5, "set"),
        ("Na2CO3.10H2O", 300, 600, 200, 10, "set"),
        ("KNO3", 150, 400, 100, 10, "thick"),
        ("FeSO4.7H2O", 250, 500, 130, 10, "set"),
        ("KAl(SO4)2.12H2O", 90, 500, 50, 15, "set"),
        ("NaC2H3O2.3H2O", 200, 400, 135, 20, "set"),
    ],
    ids=lambda told: told[0],
)
def test_rescue_gives_what_it_says(told):
    its = batch(*told)
    found = Explanation.of(its)
    assert found.outcome_expected in ("thick", "set")
    assert found.rescue is not None
    assert found.rescue.outcome == "crop"
    assert found.rescue.add_water_g > 0
    # 38 mass % of iron(II) sulfate is clear at no temperature (35.6 % is the most, at 64 °C): it is thinned until one is.
    assert found.rescue.warm_to_C is not None
    carry_out(its.start.model, its.end.salt_g, its.end.water_g, found.rescue)


@given(st.sampled_from(sorted(SALTS)), st.floats(0.0, 1.0), st.floats(0.2, 0.98), st.floats(1.0, 1e4))
def test_rescue_of_any_salt(formula, share, w, total):
    its = model(formula)
    t = its.map.low_C + 0.5 + share * (its.map.high_C - its.map.low_C - 0.5)
    salt, water = w * total, (1 - w) * total
    stuck = Cooled.of(its, salt, water, t, strict=False)
    assume(stuck.outcome_word() in ("thick", "set"))
    rescue = Rescue.of(Batch(Pot(its, salt, water), cool_to_C=t), salt, water)
    if rescue is not None:
        carry_out(its, salt, water, rescue)


def test_rescue_grows_with_the_pot():
    def of(factor: float) -> Rescue:
        pot = Pot(model("MgSO4"), 100.0 * factor, 100.0 * factor)
        return Rescue.of(Batch(pot, cool_to_C=5.0), pot.salt_g, pot.water_g)

    one, ten = of(1.0), of(10.0)
    assert_allclose(ten.add_water_g, 10 * one.add_water_g, rtol=1e-6)
    assert_allclose(ten.crystals_g, 10 * one.crystals_g, rtol=1e-6)
    assert ten.warm_to_C == one.warm_to_C


def test_pot_with_water_enough_gets_none():
    pot = Pot(model("MgSO4"), 30.0, 70.0)
    rescue = Rescue.of(Batch(pot, cool_to_C=5.0), pot.salt_g, pot.water_g)
    assert rescue.add_water_g == 0.0
    carry_out(pot.model, pot.salt_g, pot.water_g, rescue)


@pytest.mark.parametrize("formula", sorted(SALTS))
def test_temperature_to_warm_to_is_clear_and_above_first_crystals(formula):
    its = model(formula)
    told = Batch(Pot(its, 1.0, 9.0), cool_to_C=20.0)
    answered = 0
    for piece in (p for s in its.map.solids for p in s.pieces if not s.is_ice):
        for w in (
            float(piece.mass_fraction_at(t)) for t in (piece.low_C + 1, (piece.low_C + piece.high_C) / 2)
        ):
            warm = clear_temperature_C(told, w)
            if warm is None:
                continue
            answered += 1
            assert float(its.map.at(w, warm).liquor_fraction) == 1.0
            assert warm > float(its.onset.first(w).temperature_C)
    assert answered or formula in ("Ca(C2H3O2)2",)


def test_warming_too_far_into_a_salt_less_soluble_hot_is_not_advised():
    # Sodium sulfate of 32.8 mass %: clear between the decahydrate, up to 32 °C, and the anhydrous salt, from about 35 °C.
    told = Batch(Pot(model("Na2SO4"), 32.8, 67.2), cool_to_C=20.0)
    warm = clear_temperature_C(told, 0.328)
    assert warm is not None
    assert 32.0 < warm < 36.0


def test_where_there_is_room_it_is_warmed_five_kelvin_past_the_first_crystals():
    its = model("KNO3")
    for w in (0.2, 0.4, 0.6):
        first = float(its.onset.first(w).temperature_C)
        assert clear_temperature_C(Batch(Pot(its, w, 1 - w), cool_to_C=10.0), w) == np.ceil(first + 5.0)
