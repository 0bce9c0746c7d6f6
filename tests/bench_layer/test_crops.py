"""Crop after crop: the balance, the stop rules, nothing better found by trying, rescue as a round, risk shared out."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from salts import model

from crystal.bench.advice import BED_SHARE, COLD_MARGIN_K, VOLUME_MARGIN, Advice
from crystal.bench.cooling import LOOSE_BED, Cooled
from crystal.bench.crop_ends import Told
from crystal.bench.crops import RULES, Crops, Stops
from crystal.bench.harvest import Draining, Harvest, Wash
from crystal.bench.ledger import Matter
from crystal.bench.pot import Pot
from crystal.bench.splits import best_splits, splits_of
from crystal.bench.window import Window
from crystal.errors import InputError
from crystal.physics.others import Others

DRY = Draining.by(held_g_per_g=0.0)


def epsom(salt_g: float = 97.7, water_g: float = 402.3, **others: float) -> Pot:
    return Pot(model("MgSO4"), salt_g, water_g, others=Others.of(others))


def test_first_crop_is_the_advised_one():
    found = Crops.of(epsom(), 5.0)
    advice = Advice.of(Window.of(epsom(), 5.0))
    assert found.crops[0].end_point.end_volume_mL == pytest.approx(advice.end.end_volume_mL)
    assert found.crops[0].margin_kept


def test_every_crop_pours_and_what_is_left_goes_on():
    found = Crops.of(epsom(NaCl=1.0), 5.0)
    assert len(found.crops) >= 3
    assert {crop.outcome for crop in found.crops} == {"crop"}
    for crop, after in pairwise(found.crops):
        assert after.pot.salt_g == pytest.approx(crop.harvest.liquor.salt_g)
        assert after.pot.others.amounts_g["NaCl"] == pytest.approx(crop.harvest.liquor.others_g["NaCl"])
    yields = [crop.cumulative_yield for crop in found.crops]
    assert (np.diff(yields) > 0).all()
    assert yields[-1] <= 1.0


def test_salt_alone_leaves_the_same_share_every_time():
    """By hand: every liquor is the same saturated one, so each crop after the first takes the same share of what is left."""
    found = Crops.of(epsom(), 5.0, how=DRY, stops=Stops(least_g=0.01))
    shares = [crop.harvest.cake.dried.salt_g / crop.pot.salt_g for crop in found.crops]
    assert np.ptp(shares) < 1e-3
    assert found.crops[-1].cumulative_yield == pytest.approx(1 - np.prod([1 - s for s in shares]))


def test_no_other_split_of_two_crops_wins_more():
    """Every pair of end points on a grid that keeps the margin, worked out at once without the planner."""
    pot, to_C = epsom(), 5.0
    its = pot.model

    def allowed(salt: np.ndarray, water: np.ndarray) -> np.ndarray:
        here = Cooled.of(its, salt, water, to_C, strict=False)
        good = (here.outcome == 1) & (here.crystal_volume_fraction <= BED_SHARE * LOOSE_BED)
        less = its.density.water_g_for_volume(
            salt, (1 - VOLUME_MARGIN) * its.density.volume_mL(salt, water, 20.0), 20.0
        )
        for then_water, t in ((less, to_C), (water, to_C - COLD_MARGIN_K), (less, to_C - COLD_MARGIN_K)):
            then = Cooled.of(its, salt, np.maximum(then_water, 1e-9), t, strict=False)
            good &= (then.outcome == 1) & (then.ice_g == 0)
        return good

    first = np.linspace(130.0, 400.0, 400)
    one = Cooled.of(its, pot.salt_g, first, to_C)
    left_salt = pot.salt_g - one.salt_in_crystals_g
    left_water = one.liquor_g - left_salt
    ok_first = allowed(np.full_like(first, pot.salt_g), first)
    part = np.linspace(0.02, 1.0, 400)
    second = left_water[:, None] * part
    salt = np.broadcast_to(left_salt[:, None], second.shape)
    two = Cooled.of(its, salt, second, to_C, strict=False)
    won = one.salt_in_crystals_g[:, None] + two.salt_in_crystals_g
    won = np.where(ok_first[:, None] & allowed(salt, second), won, 0.0) / pot.salt_g
    planned = Crops.of(pot, to_C, how=DRY, stops=Stops(most=2)).crops[-1].cumulative_yield
    assert won.max() > 0.9 * planned  # the grid does reach good splits
    assert won.max() <= planned + 1e-3


def test_impurity_rises_with_every_crop():
    found = Crops.of(epsom(NaCl=1.0), 5.0)
    purities = [crop.harvest.cake.purity for crop in found.crops]
    assert (np.diff(purities) < 0).all()
    ratios = [crop.harvest.liquor.others_g["NaCl"] / crop.harvest.liquor.salt_g for crop in found.crops]
    assert (np.diff(ratios) > 0).all()


@pytest.mark.parametrize(
    ("stops", "others", "rule", "said"),
    [
        (Stops(most=1), {}, "number", "1 crops were asked for"),
        (Stops(), {}, "small", "less than the 2.93 g"),
        (Stops(least_g=20.0), {}, "small", "less than the 20 g"),
        (Stops(purity=0.995), {"NaCl": 1.0}, "purity", "less than the 99.5 % wanted"),
        (Stops(liquor_others=0.05), {"NaCl": 1.0}, "impurity", "more than the 0.05 allowed"),
    ],
)
def test_stop_rules(stops, others, rule, said):
    found = Crops.of(epsom(**others), 5.0, stops=stops)
    assert found.rule == rule
    assert rule in RULES
    assert said in found.stopped_because
    if stops.purity is not None:
        assert all(crop.harvest.cake.purity >= stops.purity for crop in found.crops)


def test_no_margin_at_all_stops_before_it_sets():
    """Calcium chloride a little below its hexahydrate's end: no end point keeps the margin against a colder night."""
    found = Crops.of(Pot(model("CaCl2"), 100.0, 120.0), 28.0)
    assert (found.rule, found.crops) == ("sets", ())
    assert "set" in found.stopped_because


def test_a_pot_that_has_set_is_thinned_first():
    found = Crops.of(epsom(97.7, 60.0), 5.0)
    first = found.crops[0]
    assert (first.kind, first.outcome) == ("rescue", "crop")
    assert first.water_removed_g < 0
    assert first.warm_to_C > 5.0
    assert dict(found.ledger().brought)["water added"].water_g == pytest.approx(-first.water_removed_g)
    assert found.ledger().gap_g < 1e-9


def test_another_solute_that_would_join_holds_the_crop_back():
    start = Pot(model("CuSO4"), 76.7, 393.0, others=Others.of({"Na2SO4": 15.0}))
    found = Crops.of(start, 5.0)
    assert found.rule == "joins"
    assert len(found.crops) == 1
    crop = found.crops[0]
    assert float(crop.harvest.cooled.others_crystals_g) == 0.0
    free = Advice.of(Window.of(start, 5.0))
    assert crop.end.water_g > start.salt_g * (
        1 / free.end.mass_fraction - 1
    )  # less reduced than the margin alone would


def test_told_crops_are_followed_and_a_larger_end_is_refused():
    found = Crops.of(epsom(), 5.0, told=[Told(end_volume_mL=250.0), Told(cool_to_C=10.0)])
    assert found.crops[0].end_point.end_volume_mL == pytest.approx(250.0)
    assert float(found.crops[1].harvest.cooled.temperature_C) == 10.0
    by_mass = Crops.of(epsom(), 5.0, told=[Told(end_mass_g=320.0)], stops=Stops(most=1))
    assert by_mass.crops[0].end.mass_g == pytest.approx(320.0)
    with pytest.raises(
        InputError, match=r"crop 1\.to: got 900 mL; it must be less than the pot holds by then"
    ):
        Crops.of(epsom(), 5.0, told=[Told(end_volume_mL=900.0, what="crop 1.to")])


def test_washings_that_go_back_are_won_again():
    washes = (Wash(30.0, 5.0),)
    back = Crops.of(epsom(NaCl=1.0), 5.0, washes=washes, washings_back=True, stops=Stops(most=3))
    away = Crops.of(epsom(NaCl=1.0), 5.0, washes=washes, stops=Stops(most=3))
    assert back.crops[-1].cumulative_yield > away.crops[-1].cumulative_yield
    assert "washings" not in dict(back.ledger().found)
    assert dict(away.ledger().found)["washings"].mass_g > 0
    for found in (back, away):
        assert found.ledger().gap_g < 1e-9


def test_what_is_spilled_is_lost_and_accounted_for():
    spilt = Crops.of(epsom(NaCl=1.0), 5.0, stops=Stops(most=2), spilled_g=10.0)
    whole = Crops.of(epsom(NaCl=1.0), 5.0, stops=Stops(most=2))
    lost = dict(spilt.ledger().found)["spilled"]
    assert spilt.crops[0].harvest.spilled.mass_g == pytest.approx(10.0)
    second = spilt.crops[1].harvest.cakes[0].crystals_g / spilt.crops[0].harvest.cakes[0].crystals_g
    assert lost.mass_g == pytest.approx(10.0 * (1 + second))
    assert spilt.crops[1].pot.mass_g == pytest.approx(whole.crops[1].pot.mass_g - 10.0)
    assert spilt.ledger().gap_g < 1e-9
    assert "spilled" not in dict(whole.ledger().found)


def test_crystals_and_what_clings_are_told_apart():
    found = Crops.of(epsom(), 5.0, stops=Stops(most=1))
    rows = dict(found.ledger().found)
    cake = found.crops[0].harvest.cake
    assert rows["crop 1, crystals"].mass_g == pytest.approx(cake.crystals_g)
    assert (rows["crop 1, crystals"] + rows["crop 1, clinging"]).mass_g == pytest.approx(cake.dried.mass_g)


def test_washes_shrink_with_the_crops():
    found = Crops.of(epsom(), 5.0, washes=(Wash(30.0, 5.0),), stops=Stops(most=3))
    ratios = [crop.harvest.brought[0].mass_g / crop.harvest.cakes[0].crystals_g for crop in found.crops]
    assert ratios == pytest.approx([ratios[0]] * len(ratios))


def test_a_risk_shared_by_more_crops_wins_more_and_is_kept():
    splits = best_splits(epsom(), 5.0, 0.10, stops=Stops(most=3))
    assert [s.crops for s in splits] == [1, 2, 3]
    for s in splits:
        assert len(s.end_volumes_mL) == s.crops == len(s.crop_risks) == len(s.plan.crops)
        assert s.odds_of_any <= 0.10
        assert s.crops == 1 or s.odds_by_marks > s.odds_of_any
        assert s.plan.crops[-1].cumulative_yield == s.yield_fraction
    assert (np.diff([s.yield_fraction for s in splits]) > 0).all()


def test_beside_others_the_risk_is_shared_evenly():
    splits = best_splits(epsom(NaCl=1.0), 5.0, 0.10, stops=Stops(most=2))
    for s in splits:
        assert s.crop_risks == pytest.approx([1 - 0.9 ** (1 / s.crops)] * s.crops)
        assert s.odds_of_any is None
        assert all(c.odds_of_setting <= s.crop_risks[0] + 1e-9 for c in s.plan.crops)


def test_splits_tell_why_there_are_no_more():
    splits = best_splits(Pot(model("KNO3"), 100.0, 400.0), 5.0, 0.05)
    assert len(splits) == 2
    assert splits[-1].plan.rule == "small"
    assert "Crop 3 would be" in splits[-1].plan.stopped_because
    (one,) = best_splits(Pot(model("Na2CO3"), 60.0, 400.0), 10.0, 0.05)
    assert one.plan.rule == "sets"
    assert "odds that any of 2 crops does not pour under 5 %" in one.plan.stopped_because


def test_splits_of_a_sequence_are_its_beginnings():
    found = Crops.of(epsom(), 5.0)
    assert [s.yield_fraction for s in splits_of(found)] == [c.cumulative_yield for c in found.crops]


@given(
    st.sampled_from(["CuSO4", "MgSO4", "KNO3", "NiSO4", "NaCl"]),
    st.floats(5.0, 25.0),
    st.floats(0.02, 0.25),
    st.one_of(st.just(0.0), st.floats(1e-6, 0.05)),
    st.booleans(),
)
@settings(max_examples=20)
def test_the_whole_sequence_balances(salt, to_C, w, impure, back):
    start = Pot(model(salt), 1000 * w, 1000 * (1 - w), others=Others.of({"HCl": 1000 * impure * w}))
    found = Crops.of(start, to_C, washes=(Wash(5.0, to_C),), washings_back=back)
    assert found.ledger().gap_g <= 1e-9 * start.mass_g
    won = Matter.sum(crop.harvest.cake.dried for crop in found.crops)
    assert found.crops == () or won.salt_g / start.salt_g == pytest.approx(found.crops[-1].cumulative_yield)
    assert found.rule in RULES


def test_a_pot_that_crystallises_only_its_other_salt_gives_no_crop():
    start = Pot(model("KNO3"), 5.0, 100.0, others=Others.of({"NaCl": 60.0}))
    alone = Cooled.of(start.model, 5.0, 100.0, 5.0, others=start.others)
    assert float(alone.others_crystals_g) > 0 == float(alone.salt_in_crystals_g)
    with pytest.raises(InputError, match="a pot without crystals"):
        Harvest.of(start, 5.0)
    found = Crops.of(start, 5.0)
    assert found.crops == ()
    assert found.rule in ("sets", "small", "joins")
    assert found.ledger().gap_g < 1e-9


def test_half_a_gram_spilled_is_in_the_books():
    found = Crops.of(Pot(model("KNO3"), 120.0, 300.0), 10.0, spilled_g=0.5, stops=Stops(most=2))
    spilled = [matter.mass_g for name, matter in found.ledger().found if name == "spilled"]
    assert 0.5 <= sum(spilled) < 1.0
    assert found.ledger().gap_g < 1e-9
