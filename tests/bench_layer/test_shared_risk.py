"""A risk shared among crops: joint odds against pots tried one by one, and no other sharing found that wins more."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from salts import model, pot

from crystal.bench.cooling import Cooled
from crystal.bench.crops import Stops
from crystal.bench.doubt import Doubt, Draws, normal_numbers
from crystal.bench.pot import Pot
from crystal.bench.shared_risk import _NIGHTS, Stakes, odds_of_any
from crystal.bench.splits import best_splits

KNOWN_CURVE = Doubt(curve=0.0, density=0.0)
HELD = 0.25


def stakes(formula: str = "MgSO4", salt_g: float = 97.7, water_g: float = 491.3, n: int = 2048) -> Stakes:
    start = pot(formula, salt_g, water_g)
    draws = Draws.of(start, 5.0, Doubt(), bed=0.55, n=n)
    return Stakes.of(start, 5.0, draws, held_g_per_g=HELD, bed=0.55)


def liquor(its, salt_g: float, water_g: float, to_C: float) -> tuple[float, float, Cooled]:
    """Salt and water poured off."""
    cooled = Cooled.of(its, salt_g, water_g, to_C, strict=False)
    whole = float(cooled.liquor_g)
    poured = max(1.0 - HELD * float(cooled.crystals_g) / whole, 0.0) if whole > 0 else 0.0
    salt = salt_g - float(cooled.salt_in_crystals_g)
    return salt * poured, (whole - salt) * poured, cooled


@pytest.mark.parametrize("weighed", [True, False])
def test_joint_odds_are_those_of_pots_tried_one_by_one(weighed):
    """Every draw as a pot of its own: reduced to the mark as it deceives, cooled, poured off, reduced again, another night."""
    its, to_C, ends = model("MgSO4"), 5.0, (240.0, 125.0)
    start = pot("MgSO4", 97.7, 491.3)
    draws = Draws.of(start, to_C, KNOWN_CURVE, bed=0.55, n=256)
    end = start.with_water(float(start.water_for_volume(ends[0], 20.0)))
    salt, water, _ = liquor(its, end.salt_g, end.water_g, to_C)
    second = Pot(its, salt, water)
    night = draws.spreads[3] * normal_numbers(1, 256, _NIGHTS)[0]
    failed = []
    for i in range(256):
        mine = Pot(its, start.salt_g * draws.salt[i], 1.0)
        w1 = float(mine.water_for_volume(ends[0] * draws.volume[i], 20.0))
        left, left_water, one = liquor(its, mine.salt_g, w1, to_C + draws.temperature_K[i])
        bad = bool(one.outcome == 3) or float(one.crystal_volume_fraction) >= draws.bed[i]
        if not bad:
            scale = (left + left_water) / second.mass_g if weighed else 1.0
            then = Pot(its, left, 1.0)
            w2 = float(then.water_for_volume(ends[1] * scale * draws.volume[i], 20.0))
            two = Cooled.of(its, left, max(w2, 1e-9), to_C + night[i], strict=False)
            bad = bool(two.outcome == 3) or float(two.crystal_volume_fraction) >= draws.bed[i]
        failed.append(bad)
    found = odds_of_any([start, second], ends, to_C, draws, held_g_per_g=HELD, weighed=weighed)
    assert 0.02 < np.mean(failed) < 0.5
    assert_allclose(found, np.mean(failed), atol=2.5 / 256)


@pytest.mark.parametrize("total", [0.05, 0.2])
@pytest.mark.parametrize("crops", [1, 2, 3, 5])
def test_shares_keep_the_whole_and_win_at_least_what_even_ones_do(total, crops):
    its = stakes()
    shares = its.shares(crops, total)
    assert list(shares) == sorted(shares)
    assert np.prod([1 - r for r in shares]) >= 1 - total - 1e-12

    def left(risks) -> float:
        return float(np.prod([its.left[its.risk <= r + 1e-12].min() for r in risks]))

    even = [1 - (1 - total) ** (1 / crops)] * crops
    assert left(shares) <= left(even) * 1.03  # the grid of costs is no finer than that


def test_uneven_shares_where_they_pay():
    """A fifth of the odds in one crop lets it go past the step where a cold night brings the wetter hydrate."""
    its = stakes()
    first, second = its.shares(2, 0.2)
    assert second > 3 * first
    left = [float(its.left[its.risk <= r + 1e-12].min()) for r in (first, second)]
    even = float(its.left[its.risk <= 1 - 0.8**0.5].min())
    assert left[0] * left[1] < 0.9 * even**2


@pytest.mark.parametrize("total", [0.05, 0.2])
def test_no_other_two_ends_win_more_within_the_joint_odds(total):
    """Every pair of end points on a grid, each pair's joint odds worked out; the planner comes within two per cent of the best."""
    its = stakes(n=512)
    shares = its.borne(2, total)
    assert its.odds_of_any(shares) <= total
    planned = 1.0 - np.prod([float(its.left[its.risk <= r + 1e-12].min()) for r in shares])
    risks = np.unique(its.risk[its.risk <= total])
    risks = risks[np.linspace(0, len(risks) - 1, min(len(risks), 14)).astype(int)]
    best = 0.0
    for a in risks:
        for b in risks:
            won = 1.0 - float(its.left[its.risk <= a].min() * its.left[its.risk <= b].min())
            if won > best and its.odds_of_any((a, b)) <= total:
                best = won
    assert best > 0.5
    assert planned >= best - 0.02


def test_none_where_no_end_keeps_the_risk():
    its = stakes()
    assert its.end_for(-1.0) is None
    assert its.odds_of_any((-1.0,)) is None
    assert its.borne(1, -1.0) is None


def test_a_pot_that_has_set_is_thinned_within_the_risk():
    one, two = best_splits(pot("MgSO4", 97.7, 60.0), 5.0, 0.1, stops=Stops(most=2))
    first = one.plan.crops[0]
    assert (first.kind, first.outcome) == ("rescue", "crop")
    assert first.water_removed_g < 0
    assert first.warm_to_C > 25.0
    assert one.odds_of_any <= 0.1
    assert two.odds_of_any <= 0.1
    lean = best_splits(pot("MgSO4", 97.7, 491.3), 5.0, 0.1, stops=Stops(most=1))[0]
    assert one.end_volumes_mL == pytest.approx(
        lean.end_volumes_mL, rel=0.02
    )  # the same end, from either side


def test_odds_are_not_told_where_most_truths_lie_beyond_the_data():
    """The third crop of citric acid, all marks as planned: the richer truths leave the data."""
    for split in best_splits(pot("C6H8O7", 60.0, 400.0), 10.0, 0.05, stops=Stops(most=3)):
        assert split.odds_by_marks is None or split.odds_by_marks < 0.9
        assert split.odds_of_any is None or 0.0 < split.odds_of_any <= 0.05
