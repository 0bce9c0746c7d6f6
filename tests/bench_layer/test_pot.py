"""A pot told by any sensible pair of facts is the same pot; contradictory facts are refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model

from crystal.bench.pot import Amount, Pot, Strength
from crystal.errors import InputError
from crystal.physics.formula import Hydrate
from crystal.physics.others import Others

PENTA = Hydrate.parse("CuSO4.5H2O").salt_mass_fraction


def same(one: Pot, other: Pot, rtol: float = 1e-9) -> None:
    assert_allclose((one.salt_g, one.water_g), (other.salt_g, other.water_g), rtol=rtol)


@given(st.sampled_from(sorted(SALTS)), st.floats(0.01, 0.3), st.floats(1.0, 1e5), st.floats(1.0, 60.0))
def test_every_pair_of_facts_tells_the_same_pot(formula, w, total, read_at_C):
    its = model(formula)
    pot = Pot(its, w * total, (1 - w) * total, read_at_C)
    volume, rho = pot.volume_mL(), pot.density_g_mL()
    strengths = [
        Strength("mass_fraction", w),
        Strength("g_per_g_water", w / (1 - w)),
        Strength("g_per_mL", pot.salt_g / volume),
        Strength("mol_per_L", 1000 * pot.salt_g / its.molar_mass_g_mol / volume),
        Strength("mol_per_kg_water", 1000 * pot.salt_g / its.molar_mass_g_mol / pot.water_g),
    ]
    sizes = [{"volume_mL": volume}, {"mass_g": total}, {"water_g": pot.water_g}]
    for size in sizes:
        for strength in strengths:
            same(Pot.from_facts(its, strength=strength, read_at_C=read_at_C, **size), pot, rtol=1e-7)
        same(Pot.from_facts(its, holds=Amount(pot.salt_g), read_at_C=read_at_C, **size), pot, rtol=1e-7)
    same(Pot.from_facts(its, holds=Amount(pot.salt_g), strength=strengths[0]), pot)
    if rho > float(its.density.density_g_mL(0.0, read_at_C)) + 1e-3:
        # 1e-3 g/mL above water, a density tells the composition to a few parts in a thousand million.
        for size in sizes:
            told = Pot.from_facts(its, density=(rho, read_at_C), read_at_C=read_at_C, **size)
            same(told, pot, rtol=1e-6)
        same(Pot.from_facts(its, holds=Amount(pot.salt_g), density=(rho, read_at_C)), pot, rtol=1e-6)
    same(Pot.from_facts(its, mass_g=total, volume_mL=volume, read_at_C=read_at_C), pot, rtol=1e-6)


def test_water_of_the_hydrate_comes_on_top_of_the_water_it_was_dissolved_in():
    pot = Pot.from_facts(model("CuSO4"), holds=Amount(100.0, PENTA), water_g=300.0)
    assert_allclose(pot.salt_g, 100.0 * PENTA, rtol=1e-12)
    assert_allclose(pot.mass_g, 400.0, rtol=1e-12)
    # 25 g pentahydrate in 100 g of solution, and in 75 g water: the same pot told by strength.
    same(Pot.from_facts(model("CuSO4"), strength=Strength("mass_fraction", 0.25, PENTA), water_g=300.0), pot)
    same(
        Pot.from_facts(model("CuSO4"), strength=Strength("g_per_g_water", 100 / 300, PENTA), water_g=300.0),
        pot,
    )
    same(Pot.from_facts(model("CuSO4"), strength=Strength("mass_fraction", 0.25, PENTA), mass_g=400.0), pot)


@pytest.mark.parametrize("kind", ["mass_fraction", "g_per_g_water", "g_per_mL", "mol_per_L"])
def test_hydrate_told_by_any_strength_brings_its_own_water(kind):
    its = model("CuSO4")
    by_weight = Pot.from_facts(its, holds=Amount(100.0, PENTA), water_g=300.0)
    value = {
        "mass_fraction": 0.25,
        "g_per_g_water": 100.0 / 300.0,
        "g_per_mL": 100.0 / by_weight.volume_mL(),
        "mol_per_L": 1000 * by_weight.salt_g / its.molar_mass_g_mol / by_weight.volume_mL(),
    }[kind]
    same(Pot.from_facts(its, strength=Strength(kind, value, PENTA), water_g=300.0), by_weight, rtol=1e-8)


def test_scaled_and_with_water_change_nothing_else():
    pot = Pot(model("KNO3"), 50.0, 150.0, 35.0)
    same(pot.scaled(10.0), Pot(model("KNO3"), 500.0, 1500.0))
    assert pot.scaled(10.0).read_at_C == 35.0
    assert_allclose(pot.scaled(10.0).volume_mL(), 10 * pot.volume_mL(), rtol=1e-12)
    same(pot.with_water(70.0), Pot(model("KNO3"), 50.0, 70.0))
    assert pot.with_water(70.0, 20.0).read_at_C == 20.0


@pytest.mark.parametrize(
    "facts",
    [
        {},
        {"holds": Amount(10.0)},
        {"volume_mL": 100.0},
        {"volume_mL": 100.0, "water_g": 90.0},
        {"mass_g": 100.0, "water_g": 90.0},
        {"holds": Amount(10.0), "volume_mL": 100.0, "mass_g": 110.0},
        {"strength": Strength("mass_fraction", 0.1), "density": (1.1, 20.0)},
        {"holds": Amount(10.0), "strength": Strength("mass_fraction", 0.1), "volume_mL": 100.0},
    ],
)
def test_anything_but_two_facts_is_refused(facts):
    with pytest.raises(InputError, match=r"the pot: .* told by exactly two facts"):
        Pot.from_facts(model("CuSO4"), **facts)


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        (
            {"holds": Amount(500.0, PENTA), "mass_g": 400.0},
            "--mass: got 400 g; it must be large enough to hold 500",
        ),
        ({"holds": Amount(500.0, PENTA), "volume_mL": 30.0}, "--start: got 30 mL; it must be large enough"),
        ({"strength": Strength("mass_fraction", 1.2), "mass_g": 10.0}, "strength: got 1.2"),
        (
            {"strength": Strength("mol_per_L", 80.0), "volume_mL": 10.0},
            "strength: got .* less than the dry salt",
        ),
        ({"density": (0.9, 20.0), "volume_mL": 10.0}, "density: got 0.9 g/mL; it must be above water's"),
        ({"density": (9.0, 20.0), "volume_mL": 10.0}, "density: got 9 g/mL"),
    ],
)
def test_facts_that_cannot_be_true_are_named(facts, message):
    with pytest.raises(InputError, match=message) as caught:
        Pot.from_facts(model("CuSO4"), **facts)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("others", [{}, {"HCl": 8.0}])
@pytest.mark.parametrize(
    "kind", ["mass_fraction", "g_per_mL", "mol_per_L", "g_per_g_water", "mol_per_kg_water"]
)
def test_the_water_of_a_strength_gives_that_strength(kind, others):
    start = Pot(model("NaCl"), 50.0, 450.0, others=Others.of(others))
    end = start.with_water(210.0)
    volume_mL, mol = end.volume_mL(20.0), 50.0 / start.model.molar_mass_g_mol
    told = {
        "mass_fraction": 50.0 / end.mass_g, "g_per_mL": 50.0 / volume_mL, "mol_per_L": 1000.0 * mol / volume_mL,
        "g_per_g_water": 50.0 / 210.0, "mol_per_kg_water": 1000.0 * mol / 210.0,
    }  # fmt: skip
    assert_allclose(start.water_for_strength(Strength(kind, told[kind]), 20.0), 210.0, rtol=1e-7)
