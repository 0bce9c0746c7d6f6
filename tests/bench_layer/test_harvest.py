"""Harvests: every gram is somewhere, washing does what it must at its limits, dry mass and yields add up."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import model, pot

from crystal.bench.cooling import Cooled
from crystal.bench.harvest import HELD_G_PER_G, SATURATED, WATER, Draining, Harvest, Wash
from crystal.bench.ledger import Ledger, Matter
from crystal.bench.pot import Pot
from crystal.errors import CoverageError, InputError
from crystal.physics.formula import Hydrate
from crystal.physics.humidity import saturated
from crystal.physics.others import Others

T = 10.0


def blue(salt_g: float = 100.0, water_g: float = 250.0, **others: float) -> Pot:
    return Pot(model("CuSO4"), salt_g, water_g, others=Others.of(others, None))


def test_dry_mass_is_crystals_and_what_the_clinging_liquor_leaves():
    found = Harvest.of(blue(), T, Draining.by("drained"))
    cooled = Cooled.of(model("CuSO4"), 100.0, 250.0, T)
    crystals, w = float(cooled.crystals_g), float(cooled.liquor_mass_fraction)
    share = Hydrate.parse("CuSO4.5H2O").salt_mass_fraction
    held = 0.25 * crystals
    # By hand: a quarter of the crystals' mass of liquor of w clings; its salt dries to pentahydrate.
    assert found.cake.wet_g == pytest.approx(crystals + held)
    assert found.cake.dried.mass_g == pytest.approx(crystals + held * w / share)
    assert found.yield_fraction == pytest.approx((crystals * share + held * w) / 100.0)
    assert found.apparent_yield_fraction == pytest.approx((crystals + held) * share / 100.0)
    assert found.apparent_yield_fraction > found.yield_fraction


def test_without_clinging_liquor_the_yield_is_that_of_the_phase_map():
    found = Harvest.of(blue(), T, Draining.by(held_g_per_g=0.0))
    assert found.yield_fraction == pytest.approx(float(found.cooled.yield_fraction))
    assert found.cake.wet_g == pytest.approx(found.cake.dried.mass_g)


def test_methods_hold_less_and_less():
    wet = [Harvest.of(blue(), T, Draining.by(m)).cake.wet_g for m in ("drained", "pressed", "suction")]
    assert wet[0] > wet[1] > wet[2]
    assert set(HELD_G_PER_G) == {"drained", "pressed", "suction"}


def test_a_rich_liquor_dries_without_losing_more_water_than_it_has():
    """Rich liquor over iron(III) chloride hexahydrate holds less water than the hydrate: nothing dries off."""
    its = model("FeCl3")
    pots = Pot(its, 63.0, 37.0)
    found = Harvest.of(pots, 30.0)
    cake = found.cake
    assert cake.clinging.mass_g > 0
    assert cake.clinging.salt_g / cake.clinging.mass_g > cake.salt_share
    assert cake.drying_loss.water_g == 0.0
    assert found.ledger().gap_g < 1e-9


def test_wash_with_saturated_solution_dissolves_nothing_and_displaces():
    how = Draining.by("suction")
    found = Harvest.of(blue(NaCl=5.0), T, how, (Wash(20.0, T, SATURATED),))
    before, after = found.cakes
    assert after.crystals_g == before.crystals_g
    assert found.dissolved_g == 0.0
    assert after.clinging.mass_g == pytest.approx(before.clinging.mass_g)
    assert after.clinging.others_g["NaCl"] < before.clinging.others_g["NaCl"]
    w, _ = saturated(model("CuSO4"), T)
    assert found.brought[0].salt_g == pytest.approx(20.0 * w)


def test_wash_water_dissolves_up_to_saturation_and_no_further():
    """Upper bound, by hand: the liquid that leaves with what clings is saturated at the wash's temperature."""
    for temperature_C in (5.0, 10.0, 20.0):
        found = Harvest.of(blue(), T, Draining.by("drained"), (Wash(30.0, temperature_C),))
        after = found.cakes[1]
        liquid = found.washings[0] + after.clinging
        w = liquid.salt_g / (liquid.salt_g + liquid.water_g)
        limit, _ = saturated(model("CuSO4"), temperature_C)
        if found.dissolved_g > 0:
            assert w == pytest.approx(limit, abs=1e-6)
        else:
            assert w >= limit - 1e-9
    warm = Harvest.of(blue(), T, washes=(Wash(30.0, 20.0),)).dissolved_g
    cold = Harvest.of(blue(), T, washes=(Wash(30.0, 10.0),)).dissolved_g
    assert warm > cold > 0


def test_half_the_contact_dissolves_half():
    full = Harvest.of(blue(), T, washes=(Wash(30.0, T),)).dissolved_g
    half = Harvest.of(blue(), T, washes=(Wash(30.0, T, WATER, 0.5),)).dissolved_g
    assert half == pytest.approx(full / 2)


def test_far_too_much_water_dissolves_it_all():
    found = Harvest.of(blue(), T, washes=(Wash(5000.0, 20.0),))
    assert found.cake.crystals_g == pytest.approx(0.0, abs=1e-9)
    assert found.yield_fraction == pytest.approx(0.0, abs=1e-9)
    assert found.ledger().gap_g < 1e-8


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7, 0.9])
def test_displacement_follows_its_formula(share):
    """(1 - E)^N of the old liquor stays, but never less than 1 - N (Choudhury and Dahlstrom 1957, recalled)."""
    how = Draining.by("suction", displaced=share)
    one = Harvest.of(blue(NaCl=5.0), T, how)
    held = one.cake.clinging.mass_g
    for times in (0.2, 0.5, 1.0, 2.0, 5.0):
        found = Harvest.of(blue(NaCl=5.0), T, how, (Wash(times * held, T, SATURATED),))
        stays = found.cake.clinging.others_g["NaCl"] / one.cake.clinging.others_g["NaCl"]
        assert stays == pytest.approx(max((1 - share) ** times, 1 - times), abs=1e-9)


def test_two_half_washes_take_no_less_than_one_whole():
    how = Draining.by("suction")
    one = Harvest.of(blue(NaCl=5.0), T, how, (Wash(20.0, T),)).cake
    two = Harvest.of(blue(NaCl=5.0), T, how, (Wash(10.0, T), Wash(10.0, T))).cake
    assert two.purity >= one.purity - 1e-5


def test_impurity_is_carried_by_clinging_and_enclosed_liquor_only():
    how = Draining.by("drained", enclosed_g_per_g=0.01)
    found = Harvest.of(blue(NaCl=5.0), T, how)
    liquor = found.liquor
    share = liquor.others_g["NaCl"] / liquor.mass_g
    carried = found.cake.dried.others_g["NaCl"]
    assert carried == pytest.approx(share * 0.26 * found.cake.crystals_g)
    assert found.cake.purity == pytest.approx(1 - carried / found.cake.dried.mass_g)
    washed = Harvest.of(blue(NaCl=5.0), T, how, (Wash(500.0, T, SATURATED),)).cake
    # No wash reaches what is enclosed.
    assert washed.dried.others_g["NaCl"] == pytest.approx(share * 0.01 * washed.crystals_g, rel=1e-3)
    assert washed.enclosed.water_g > 0


def test_another_salt_that_crystallises_too_makes_the_crop_impure():
    found = Harvest.of(blue(100.0, 160.0, Na2SO4=30.0), 5.0, Draining.by(held_g_per_g=0.0))
    assert float(found.cooled.others_crystals_g) > 0
    assert found.cake.crystals.others_g["Na2SO4"] > 0
    assert found.cake.purity < 1.0
    assert found.ledger().gap_g < 1e-9


def test_a_pot_that_is_all_solid_is_all_cake():
    found = Harvest.of(pot("MgSO4", 50.0, 50.0), 5.0)
    assert found.outcome == "set"
    assert found.liquor.mass_g == pytest.approx(0.0, abs=1e-9)
    assert found.cake.wet_g == pytest.approx(100.0)


def test_spilled_liquor_is_in_the_ledger():
    found = Harvest.of(blue(), T, spilled_g=5.0)
    entries = dict(found.ledger().found)
    assert entries["spilled"].mass_g == pytest.approx(5.0)
    assert found.ledger().gap_g < 1e-9
    with pytest.raises(InputError, match="at most the liquor poured off"):
        Harvest.of(blue(), T, spilled_g=5000.0)


def test_what_cannot_be_is_refused():
    with pytest.raises(InputError, match="a pot without crystals"):
        Harvest.of(blue(10.0, 250.0), 20.0)
    with pytest.raises(InputError, match="one of drained, pressed, suction"):
        Draining.by("shaken")
    with pytest.raises(InputError, match="from 0 to 5 g"):
        Draining.by(held_g_per_g=7.0)
    with pytest.raises(CoverageError, match="outside the data"):
        Harvest.of(blue(), T, washes=(Wash(10.0, -60.0),))


@given(
    st.sampled_from(["CuSO4", "MgSO4", "KNO3", "Na2SO4", "NiSO4", "KAl(SO4)2", "FeSO4"]),
    st.floats(2.0, 30.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 2.0),
    st.floats(0.0, 0.2),
    st.lists(
        st.tuples(
            st.floats(0.5, 80.0),
            st.floats(1.0, 30.0),
            st.sampled_from([WATER, SATURATED]),
            st.floats(0.0, 1.0),
        ),
        max_size=3,
    ),
    st.floats(0.0, 0.95),
)
@settings(max_examples=40)
def test_every_gram_is_somewhere(salt, at_C, where, held, enclosed, washes, displaced):
    its = model(salt)
    limit = saturated(its, at_C)
    assert limit is not None
    w = limit[0] + (0.02 + 0.9 * where) * (0.6 - limit[0])
    start = Pot(its, 1000 * w, 1000 * (1 - w), others=Others.of({"HCl": 7.0, "NaCl": 3.0}))
    how = Draining.by(held_g_per_g=held, enclosed_g_per_g=enclosed, displaced=displaced)
    try:
        found = Harvest.of(start, at_C, how, tuple(Wash(*wash) for wash in washes))
    except (CoverageError, InputError):
        return
    ledger = found.ledger(boiled_off_g=123.0)
    assert ledger.gap_g <= 1e-9 * start.mass_g
    for _, matter in (*ledger.brought, *ledger.found):
        assert min(matter.salt_g, matter.water_g, *matter.others_g.values(), 0.0) >= -1e-9
    assert found.yield_fraction >= 0.0
    assert 0.0 <= found.cake.purity <= 1.0
    assert found.cake.wet_g >= found.cake.dried.mass_g - 1e-9


def test_a_ledger_with_a_hole_shows_it():
    sound = Harvest.of(blue(NaCl=5.0), T).ledger()
    assert sound.gap_g < 1e-9
    hole = Ledger(sound.brought, sound.found[:-1])
    assert hole.gap_g > 1.0
    assert_allclose(sound.total_in.mass_g, 355.0)
    assert sound.solutes == ("NaCl",)
    assert Ledger((("a", Matter(1.0)), ("a", Matter(2.0)))).joined().brought == (("a", Matter(3.0)),)
    start = (("pot", Matter(1.0, 2.0, {"HCl": 3.0})),)
    for lost, what in (
        (Matter(salt_g=0.5), 0.5),
        (Matter(water_g=0.25), 0.25),
        (Matter(others_g={"HCl": 0.125}), 0.125),
    ):
        assert Ledger(start, (("liquor", start[0][1] - lost),)).gap_g == pytest.approx(what)


def test_washes_and_their_washings_are_numbered_alike():
    ledger = Harvest.of(blue(), T, washes=(Wash(10.0, T), Wash(8.0, T))).ledger()
    assert [name for name, _ in ledger.brought if "wash" in name] == ["wash 1", "wash 2"]
    assert [name for name, _ in ledger.found if "washings" in name] == ["washings 1", "washings 2"]
