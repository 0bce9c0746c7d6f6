"""Cooling: first crystals, supersaturation, curves, seed, nights, and heat that closes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model, pot

from crystal.bench.cooldown import Cooldown
from crystal.bench.cooling import Cooled
from crystal.bench.cooling_curve import LINEAR, ControlledCooling, NaturalCooling
from crystal.bench.crystallisation_heat import (
    HeatOfCooling,
    InsulatedPot,
    heat_capacity_J_K,
    heat_given_off_kJ_g,
    heat_given_off_kJ_mol,
)
from crystal.bench.pot import Pot
from crystal.bench.seeding import Seeding, product_size_mm
from crystal.bench.supersaturation import Supersaturation, Zone
from crystal.errors import InputError
from crystal.physics.others import Others


@given(st.floats(30.0, 95.0), st.floats(-10.0, 29.0), st.floats(0.1, 48.0), st.floats(0.3, 6.0))
def test_controlled_curve_falls_from_end_to_end(start, end, hours, exponent):
    curve = ControlledCooling.between(start, end, hours, exponent)
    t = np.linspace(0.0, hours, 60)
    temperatures = curve.temperature_C(t)
    assert_allclose(temperatures[[0, -1]], [start, end], atol=1e-9)
    assert (np.diff(temperatures) <= 1e-12).all()
    assert_allclose(curve.temperature_C([-1.0, hours + 1.0]), [start, end], atol=1e-9)
    straight = ControlledCooling(start, end, hours, LINEAR).temperature_C(t)
    slow_first = temperatures - straight if exponent >= 1.0 else straight - temperatures
    assert (slow_first >= -1e-9).all()
    assert curve.table(5)[-1] == (hours, pytest.approx(end))


@given(st.floats(40.0, 95.0), st.floats(-5.0, 25.0), st.floats(0.05, 4.0), st.floats(0.05, 0.5))
def test_natural_cooling_is_found_again(start, surroundings, per_h, step_h):
    true = NaturalCooling(start, surroundings, per_h)
    read = [(t, float(true.temperature_C(t))) for t in (0.1, 0.1 + step_h, 0.1 + 3 * step_h)]
    falls = read[0][1] - read[1][1], read[1][1] - read[2][1]
    if min(falls) < 1.0:
        return
    two = NaturalCooling.of_two(read[0], read[1], surroundings)
    assert_allclose([two.per_h, two.from_C], [per_h, start], rtol=1e-6)
    assert_allclose(two.temperature_C(two.hours_to(surroundings + 5.0)), surroundings + 5.0, atol=1e-9)
    if falls[0] / step_h > 1.02 * falls[1] / (2 * step_h):
        three = NaturalCooling.of_three(*read)
        assert_allclose([three.per_h, three.surroundings_C], [per_h, surroundings], rtol=1e-4, atol=1e-3)


def test_natural_cooling_refuses_what_does_not_cool():
    with pytest.raises(InputError, match="stay above the surroundings"):
        NaturalCooling.of_two((0.0, 90.0), (1.0, 15.0), 18.0)
    with pytest.raises(InputError, match=r"fall by 0\.5 K or more"):
        NaturalCooling.of_two((0.0, 90.0), (1.0, 91.0), 18.0)
    with pytest.raises(InputError, match="ever more slowly"):
        NaturalCooling.of_three((0.0, 90.0), (1.0, 80.0), (2.0, 60.0))
    assert NaturalCooling(90.0, 18.0, 1.0).hours_to(10.0) is None
    assert NaturalCooling(90.0, 18.0, 1.0).hours_to(95.0) is None
    with pytest.raises(InputError, match=r"below 20\.0 degC, where the curve begins"):
        ControlledCooling.between(20.0, 30.0, 1.0)
    with pytest.raises(InputError, match="both more than 0"):
        ControlledCooling.between(40.0, 30.0, 0.0)


@given(st.floats(1.0, 1000.0), st.floats(0.05, 1.0), st.floats(1.2, 20.0))
def test_seed_for_a_size_gives_that_size(crop, seed_mm, times):
    seeding = Seeding.for_size(crop, 40.0, times * seed_mm, seed_mm)
    assert_allclose(product_size_mm(seed_mm, crop, seeding.seed_g), times * seed_mm, rtol=1e-9)
    assert (seeding.seed_g < seeding.critical_g) == any("is little" in one for one in seeding.warnings)


def test_seed_that_cannot_be_is_refused():
    with pytest.raises(InputError, match=r"above the seed's size \(0.3 mm\)"):
        Seeding.for_size(10.0, 40.0, 0.3)
    with pytest.raises(InputError, match="asked of a pot that crystallises"):
        Seeding.for_size(0.0, 40.0, 2.0)
    assert any("more than a fifth" in one for one in Seeding.for_size(10.0, 40.0, 0.5, 0.4).warnings)


@pytest.mark.parametrize("formula", ["KNO3", "K2SO4", "MgSO4", "CuSO4", "NH4Cl", "KAl(SO4)2"])
def test_supersaturation_is_one_at_the_first_crystals(formula):
    its = model(formula)
    points = [p for branch in its.salt.branches if branch.phase != "ice" for p in branch.points]
    w = 0.9 * max(p.mass_fraction for p in points if p.temperature_C <= 60.0)
    start = pot(formula, 100 * w, 100 * (1 - w))
    zone = Zone.of(start)
    over = Supersaturation.of(start, zone.saturated_C + np.array([2.0, 1e-6, -1e-6, -2.0]))
    assert_allclose(over.ratio[1:3], 1.0, atol=1e-4)
    assert over.ratio[0] < 1.0 < over.ratio[3]
    assert over.difference_g[0] < 0.0 < over.difference_g[3]
    assert_allclose(over.ratio * over.saturated_g, over.pot_g)
    assert zone.word(zone.saturated_C + 1) == "undersaturated"
    if zone.limit_C is not None:
        assert zone.limit_C < zone.seed_C < zone.saturated_C
        assert zone.word(zone.seed_C) == "metastable"
        assert zone.word(zone.limit_C - 0.1) == "beyond"


@pytest.mark.parametrize(
    ("formula", "salt_g", "others"),
    [
        ("KCl", 90.0, {"HCl": 8.0}),
        ("CuSO4", 76.0, {"H2SO4": 20.0}),
        ("KNO3", 100.0, {"NaCl": 20.0}),
        ("Na2SO4", 60.0, {"NaCl": 20.0}),
        ("MgSO4", 97.0, {"NaCl": 5.0}),
    ],
)
def test_first_crystals_and_supersaturation_count_with_what_is_beside(formula, salt_g, others):
    """One is met where the other is due, in the pot that is cooled and not in the pure salt's."""
    start = Pot(model(formula), salt_g, 240.0, others=Others.of(others))
    zone, alone = Zone.of(start), Zone.of(pot(formula, salt_g, 240.0))
    assert zone.saturated_C > alone.saturated_C + 0.5
    over = Supersaturation.of(start, zone.saturated_C + np.array([2.0, 0.0, -2.0]))
    assert_allclose(over.ratio[1], 1.0, atol=2e-3)
    assert over.ratio[0] < 1.0 < over.ratio[2]
    crop = Cooled.of(
        start.model, salt_g, 240.0, zone.saturated_C + np.array([0.1, -0.1]), others=start.others
    )
    assert crop.crystals_g[0] == 0.0 < crop.crystals_g[1]
    plain = replace(start, others=replace(start.others, plain=True))
    assert_allclose(Zone.of(plain).saturated_C, alone.saturated_C)
    assert_allclose(
        Supersaturation.of(plain, [20.0]).saturated_g,
        Supersaturation.of(pot(formula, salt_g, 240.0), [20.0]).saturated_g,
    )


def test_width_not_in_the_data_is_said():
    zone = Zone.of(pot("CoSO4", 100.0, 200.0))
    assert zone.width_K is None
    assert_allclose(zone.seed_C, zone.saturated_C - 1.0)
    assert zone.word(zone.saturated_C - 5.0) == "supersaturated"
    said = Cooldown.of(pot("CoSO4", 100.0, 200.0), 5.0).warnings
    assert any("can be undercooled is not in the data" in one for one in said)


def test_first_hour_and_ends():
    cooling = NaturalCooling(90.0, 8.0, 0.7)
    found = Cooldown.of(pot("KNO3", 100.0, 120.0), 10.0, natural=cooling, size_mm=2.0)
    begins = cooling.hours_to(found.zone.saturated_C)
    at = Cooled.of(found.pot.model, 100.0, 120.0, float(cooling.temperature_C(begins + 1.0)))
    assert_allclose(found.first_hour_share, float(at.crystals_g) / found.crop_g, rtol=1e-9)
    assert 0.3 < found.first_hour_share < 0.9
    assert found.controlled.from_C == found.zone.seed_C
    assert_allclose(found.crystals_at_g(found.controlled.to_C), found.crop_g)
    slow = Cooldown.of(pot("KNO3", 100.0, 120.0), 10.0, natural=NaturalCooling(90.0, 15.0, 0.1))
    assert slow.first_hour_share < 0.25
    assert any("never comes down to 10 °C" in one for one in slow.warnings)


def test_nights_say_ice_and_lumps():
    found = Cooldown.of(pot("MgSO4", 60.0, 400.0), -1.0, nights_C=[6.0, -3.0, -30.0])
    assert [night.temperature_C for night in found.nights] == [-30.0, -3.0, 6.0]
    assert found.nights[1].ice_g > 0
    assert found.nights[0].outcome is None
    assert any("freezes to ice" in one for one in found.warnings)
    assert any("freezes solid, ice and crystals together" in one for one in found.warnings)
    assert any("Ice comes first" in one for one in found.warnings)
    assert found.controlled is None
    lump = Cooldown.of(pot("MgSO4", 97.7, 130.0), 20.0, nights_C=[2.0])
    assert any("no longer pours off" in one for one in lump.warnings)


def test_a_pot_that_gives_nothing_needs_no_curve():
    found = Cooldown.of(pot("NaCl", 10.0, 100.0), 5.0, size_mm=2.0)
    assert (found.controlled, found.seeding, found.crop_g, found.solid) == (None, None, 0.0, None)
    assert any("No seed is reckoned" in one for one in found.warnings)
    with pytest.raises(InputError, match="below the hot pot's 40 degC"):
        Cooldown.of(pot("NaCl", 10.0, 100.0), 45.0, from_C=40.0)
    hot = Cooldown.of(pot("MgSO4", 97.7, 150.0), 20.0).warnings
    assert any("already stands in the pot" in one for one in hot)


@given(st.sampled_from(["KNO3", "K2SO4", "NH4Cl", "Na2SO4", "Na2CO3", "MgSO4"]), st.floats(1.0, 25.0))
def test_insulated_pot_closes_its_heat(formula, below_K):
    """What the crystals give off has warmed the pot, no more and no less; and it is at equilibrium."""
    start = pot(
        formula,
        100.0 * {"MgSO4": 0.30, "Na2SO4": 0.25, "Na2CO3": 0.22, "K2SO4": 0.15}.get(formula, 0.35),
        70.0,
    )
    zone = Zone.of(start)
    left_C = zone.saturated_C - below_K
    if left_C < start.model.map.low_C:
        return
    end = InsulatedPot.of(start, left_C)
    cooled = Cooled.of(start.model, start.salt_g, start.water_g, end.to_C)
    assert left_C < end.to_C < zone.saturated_C
    given_off = 1000 * sum(heat_given_off_kJ_g(solid) * g for solid, g in cooled.solids_g())
    assert_allclose(heat_capacity_J_K(start, cooled) * (end.to_C - left_C), given_off, rtol=1e-6, atol=1e-6)
    assert_allclose(end.crystals_g, float(cooled.crystals_g))


def test_insulated_pot_that_is_clear_or_unknown():
    clear = InsulatedPot.of(pot("KNO3", 10.0, 100.0), 40.0)
    assert (clear.to_C, clear.crystals_g, clear.solid) == (40.0, 0.0, None)
    with pytest.raises(
        InputError, match=r"heat of crystallising: got .* a solid whose standard enthalpy is in the data"
    ):
        InsulatedPot.of(pot("KAl(SO4)2", 30.0, 100.0), 20.0)


def test_heat_of_cooling_names_what_is_missing():
    start = pot("KAl(SO4)2", 30.0, 100.0)
    heat = HeatOfCooling.of(start, 90.0, Cooled.of(start.model, 30.0, 100.0, 20.0))
    assert heat.crystals_kJ is None
    assert heat.missing == ("KAl(SO4)2.12H2O",)
    assert heat.sensible_kJ > 0


def test_every_listed_heat_is_of_a_bench_size():
    """A slip of a digit in a recalled enthalpy would give hundreds of kJ per mole; heats of dissolving are below 160."""
    known = {
        phase.formula: heat_given_off_kJ_mol(phase.formula)[0]
        for salt in SALTS.values() for phase in salt.phases if not phase.is_ice
    }  # fmt: skip
    heats = {solid: heat for solid, heat in known.items() if heat is not None}
    assert len(heats) >= 60
    hydrates = {solid: heat for solid, heat in heats.items() if "H2O" in solid}
    assert len(hydrates) >= 30
    assert max(abs(heat) for heat in heats.values()) < 160
    assert max(abs(heat) for heat in hydrates.values()) < 100


def test_three_readings_of_which_two_are_alike_tell_no_surroundings():
    with pytest.raises(InputError, match="ever more slowly"):
        NaturalCooling.of_three((0.0, 90.0), (1.0, 80.0), (2.0, 80.0))
    with pytest.raises(InputError, match="ever more slowly"):
        NaturalCooling.of_three((0.0, 90.0), (1.0, 90.0), (2.0, 80.0))


def test_what_already_stands_in_the_hot_pot_is_named():
    cooled = Cooldown.of(pot("NaCl", 150.0, 300.0), 20.0)
    stands = float(Cooled.of(model("NaCl"), 150.0, 300.0, 100.0).crystals_g)
    assert any(
        f"{stands:.3g} g of NaCl already stands in the pot: thin it" in text for text in cooled.warnings
    )


def test_a_pot_that_clears_as_it_cools_has_no_crop_that_boiling_dropped():
    # Lithium sulfate, less soluble hot: at 24.5 mass % crystals stand at 100 °C and none at 20 °C.
    clears = Cooldown.of(Pot(model("Li2SO4"), 24.5, 75.5), 20.0)
    said = " ".join(clears.warnings)
    assert "cooling dissolves all of it: pour the liquor off hot to keep it" in said
    assert "the crop is what" not in said
    stays = Cooldown.of(Pot(model("Li2SO4"), 30.0, 70.0), 20.0)
    assert "the crop is what the boiling dropped" in " ".join(stays.warnings)
