"""Advice that bears a risk: the limit is kept, more draws change little, and better measuring never costs."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from salts import model

from crystal.bench.batch import Batch, Seen
from crystal.bench.doubt import INSTRUMENTS, SEED, Doubt, Draws
from crystal.bench.forecast import Forecast
from crystal.bench.odds import DrawnEnds
from crystal.bench.plan import Plan
from crystal.bench.pot import Amount, Pot
from crystal.bench.risk import Bet, gains, rounding_mL
from crystal.bench.window import Window
from crystal.physics.formula import molar_mass_g_mol

POTS = {
    "MgSO4": 5.0,
    "KNO3": 10.0,
    "CuSO4": 20.0,
    "FeCl3": 20.0,
    "Na2CO3": 10.0,
    "KAl(SO4)2": 15.0,
    "NiSO4": 12.0,
    "CaCl2": 8.0,
}


def window_of(formula: str) -> Window:
    return Window.of(Pot(model(formula), 60.0, 300.0), POTS[formula])


@pytest.mark.parametrize("formula", POTS)
def test_the_limit_is_kept_and_no_end_point_under_it_gives_more(formula):
    window = window_of(formula)
    draws = Draws.of(window.start, window.cool_to_C, Doubt(), bed=0.55, n=2048)
    bet = Bet.of(window, draws)
    assert bet.end is not None
    assert bet.odds is not None
    assert bet.odds.does_not_pour[0] <= 0.05 + 0.003
    top = min(window.start.volume_mL(), 1.35 * window.saturates.end_volume_mL)
    volumes = np.linspace(top, 0.3 * bet.end.end_volume_mL, 500)
    odds = DrawnEnds.of(window.start, draws, window.cool_to_C, volumes).odds(draws, volumes)
    allowed = odds.does_not_pour <= 0.05
    # Rounding up to a mark that can be read costs a little.
    assert bet.expected_g >= 0.95 * odds.crop_expected_g[allowed].max()


@pytest.mark.parametrize("formula", POTS)
def test_more_draws_and_another_seed_change_the_advice_by_less_than_it_is_printed_to(formula):
    window = window_of(formula)
    found = [
        Bet.of(window, Draws.of(window.start, window.cool_to_C, Doubt(), bed=0.55, n=n, seed=seed))
        for n, seed in ((4096, SEED), (32768, SEED), (4096, 1))
    ]
    step = rounding_mL(found[0].exact_mL)
    for bet in found:
        assert abs(bet.exact_mL - found[0].exact_mL) < step
        assert_allclose(bet.end.end_volume_mL, step * round(bet.end.end_volume_mL / step), rtol=1e-9)
        assert 0.0 <= bet.end.end_volume_mL - bet.exact_mL < step * (1 + 1e-9)
        assert_allclose(bet.expected_g, found[0].expected_g, rtol=0.01)


def test_a_smaller_risk_gives_no_more_and_stops_no_later():
    window = window_of("MgSO4")
    draws = Draws.of(window.start, 5.0, Doubt(), bed=0.55, n=2048)
    bets = [Bet.of(window, draws, risk=risk) for risk in (0.01, 0.05, 0.20)]
    volumes = [bet.end.end_volume_mL for bet in bets]
    assert volumes == sorted(volumes, reverse=True)
    crops = [bet.expected_g for bet in bets]
    assert crops == sorted(crops)


def test_no_end_point_under_the_risk_is_said_with_the_least_found_and_the_margin_is_given():
    batch = Batch(
        Pot(model("MgSO4"), 97.7, 402.3), cool_to_C=5.0, doubt=Doubt(volume=0.3, temperature=8.0, holds=0.3)
    )
    plan = Plan.of(batch.start, 5.0)
    found = Forecast.of(batch, plan, risk=1e-4)
    assert found.bet.end is None
    assert found.plan.advice.end == plan.advice.end
    assert "No end point keeps the odds of a pot that does not pour under below 0.1 %" in found.plan.reason
    assert "its odds of not pouring are" in found.plan.reason
    assert found.advised is not None
    assert found.gains == ()


def test_weighing_instead_of_reading_the_mark_widens_the_range():
    batch = Batch(Pot(model("FeCl3"), 58.07, 370.0), cool_to_C=20.0, doubt=Doubt(volume=0.05, holds=0.01))
    found = Forecast.of(batch, Plan.of(batch.start, 20.0))
    assert found.gains[0].name == "volume"
    assert found.costs_most is not None
    assert "Doubt of reading the mark costs most" in found.costs_most
    assert "Weigh the pot instead of reading the mark" in found.costs_most
    then = found.gains[0].with_it
    assert then is not None
    assert found.bet.safe is not None
    assert then.low_mL < found.bet.safe.low_mL
    window = found.plan.window
    bought = gains(window, found.draws, found.bet)
    assert all(gain.exact_g >= 0 and gain.with_it_g >= 0 for gain in bought)
    few = found.draws.first(len(found.draws) // 4)
    weighed = Bet.of(
        window, few.with_spread("mass", INSTRUMENTS["kitchen balance"][1]), risk=found.bet.risk, weighed=True
    )
    by_name = {gain.name: gain for gain in bought}
    assert by_name["volume"].with_it == weighed.safe
    assert by_name["temperature"].with_it != weighed.safe


def test_a_better_thermometer_is_worth_something_where_the_night_decides():
    pot = Pot(model("MgSO4"), 97.7, 402.3)
    window = Window.of(pot, 5.0)
    crops = [
        Bet.of(window, Draws.of(pot, 5.0, Doubt(temperature=t), bed=0.55, n=2048)).expected_g
        for t in (3.0, 1.0)
    ]
    assert crops[1] > 1.2 * crops[0]


def test_iron_chloride_liquor_common_practice_no_source():
    """0.358 mol made up to 400 mL, a beaker's mark: a fair chance of a crop at 16-20 %, next to none at 12.5 %."""
    pot = Pot.from_facts(model("FeCl3"), holds=Amount(0.358 * molar_mass_g_mol("FeCl3")), volume_mL=400.0)
    draws = Draws.of(pot, 20.0, Doubt(volume=0.05), bed=0.55)
    volumes = 4.0 * np.array([*np.linspace(16.0, 20.0, 17), 12.5])
    odds = DrawnEnds.of(pot, draws, 20.0, volumes).odds(draws, volumes)
    assert odds.odds[1, :-1].max() > 0.40
    assert odds.does_not_pour[-1] > 0.95


def test_evidence_of_a_weaker_pot_moves_the_advice_further_down():
    batch = Batch(Pot(model("KNO3"), 100.0, 400.0), cool_to_C=10.0)
    plain = Forecast.of(batch, Plan.of(batch.start, 10.0))
    due = float(batch.start.model.onset.first(100.0 / 200.0).temperature_C)
    water = batch.start.with_water(100.0)
    late = Seen(first_crystals_C=due - 8.0, volume_mL=water.volume_mL(), mass_g=water.mass_g)
    after = Forecast.of(batch.with_seen(late), Plan.of(batch.start, 10.0))
    assert after.learned is not None
    assert after.learned.means["holds"] < -0.5
    assert after.bet.end.end_volume_mL < plain.bet.end.end_volume_mL


def test_readings_that_do_not_fit_together_do_not_push_the_advice_further():
    batch = Batch(
        Pot(model("KNO3"), 100.0, 358.0),
        cool_to_C=10.0,
        doubt=Doubt(volume=0.01, temperature=1.0, holds=0.03),
    )
    plain = Forecast.of(batch, Plan.of(batch.start, 10.0))
    # Too heavy by a quarter, and late, and set where nothing could set.
    odd = Seen(first_crystals_C=25.0, volume_mL=180.0, mass_g=300.0, outcome="set")
    after = Forecast.of(batch.with_seen(odd), Plan.of(batch.start, 10.0))
    assert after.learned is not None
    assert after.learned.conflicts
    assert after.bet.end.end_volume_mL >= plain.bet.end.end_volume_mL
    # One late reading alone would let the pot be boiled further: it is left out, and that is said.
    late = Seen(first_crystals_C=5.0, volume_mL=180.0, mass_g=237.0)
    left_out = Forecast.of(batch.with_seen(late), Plan.of(batch.start, 10.0))
    assert left_out.bet.end.end_volume_mL >= plain.bet.end.end_volume_mL
    assert any("leave it out" in said for said in left_out.warnings)
