"""Observations move the draws where they must, by the right amount, and contradictions are said."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from salts import model

from crystal.bench.batch import Batch, Seen
from crystal.bench.cooling import Cooled
from crystal.bench.doubt import Doubt
from crystal.bench.evidence import Learned, contradictions, learn, next_night
from crystal.bench.forecast import sharpened
from crystal.bench.pot import Pot
from crystal.physics.boiling import Boiling

START = Pot(model("KNO3"), 100.0, 400.0)
END = START.with_water(90.0)
PLAIN = Batch(START, end_water_g=END.water_g, cool_to_C=10.0, doubt=Doubt(curve=0.002, density=0.001))


def seen(**what) -> Learned:
    batch = PLAIN.with_seen(Seen(volume_mL=END.volume_mL(), **what))
    return learn(batch, batch.draws())


def now(learned: Learned, values: np.ndarray) -> tuple[float, float]:
    w = learned.draws.weights
    mean = float(values @ w)
    return mean, float(np.sqrt((values - mean) ** 2 @ w))


def test_nothing_seen_leaves_every_draw_equal():
    learned = learn(PLAIN, PLAIN.draws())
    assert_allclose(learned.effective_size, len(learned.draws), rtol=1e-9)
    assert contradictions(learned) == []


def test_mass_of_the_pot_fixes_the_mark_as_normal_theory_has_it():
    """4 % more mass over the same salt is so much more water: that fixes how far the mark was out."""
    learned = seen(mass_g=1.04 * END.mass_g)
    mark, spread = now(learned, np.log(learned.draws.volume))
    more = START.with_water(END.water_g + 0.04 * END.mass_g)
    assert_allclose(mark, np.log(more.volume_mL() / END.volume_mL()), atol=0.006)
    assert spread < 0.02
    assert learned.conflicts == ()


def test_hydrometer_tells_salt_per_volume():
    rho = END.density_g_mL(20.0)
    up, down = (seen(density_g_mL=factor * rho, density_at_C=20.0) for factor in (1.01, 0.99))
    assert now(up, up.draws.salt / up.draws.volume)[0] > 1.02
    assert now(down, down.draws.salt / down.draws.volume)[0] < 0.98


def test_first_crystals_fix_salt_per_volume_and_leave_the_tie():
    due = float(START.model.onset.first(END.mass_fraction).temperature_C)
    plain = PLAIN.draws()
    learned = seen(first_crystals_C=due)
    ratio = np.log(learned.draws.salt / learned.draws.volume)
    before = float(np.std(np.log(plain.salt / plain.volume)))
    left = (now(learned, ratio)[1] / before) ** 2
    assert left < 0.5**2
    w = learned.draws.weights
    z = learned.draws.z[:2] - (learned.draws.z[:2] @ w)[:, None]
    tie = float((z[0] * z[1]) @ w / np.sqrt(((z[0] ** 2) @ w) * ((z[1] ** 2) @ w)))
    # What a sharper ratio alone does to two normal doubts.
    s, v = PLAIN.doubt.holds**2, PLAIN.doubt.volume**2
    common = s * v / (s + v) * (1.0 - left)
    salt, volume = ((one - one**2 / (s + v) * (1.0 - left)) for one in (s, v))
    assert_allclose(tie, common / np.sqrt(salt * volume), atol=0.06)
    assert tie > 0.55
    both = seen(first_crystals_C=due, mass_g=END.mass_g)
    assert both.spreads["volume"] < 0.5 * learned.spreads["volume"]


def test_no_crystals_yet_rules_out_the_strong_pots():
    due = float(START.model.onset.first(END.mass_fraction).temperature_C)
    learned = seen(no_crystals_C=due - 4.0)
    assert learned.means["holds"] < -0.1
    assert now(seen(no_crystals_C=due + 15.0), np.log(learned.draws.salt))[1] > 0


def test_boiling_temperature_tells_strength():
    batch = Batch(Pot(model("NaCl"), 60.0, 400.0), cool_to_C=10.0)
    pot = batch.start.with_water(250.0)
    due = float(Boiling.of(batch.start.model).temperature_C(pot.mass_fraction, batch.pressure_kPa))
    for off, sign in ((2.5, 1), (-2.5, -1)):
        one = batch.with_seen(Seen(boiling_C=due + off, volume_mL=pot.volume_mL()))
        learned = learn(one, one.draws())
        assert sign * (learned.means["holds"] - learned.means["volume"]) > 0.2
    lofty = replace(batch, pressure_kPa=80.0).with_seen(Seen(boiling_C=due, volume_mL=pot.volume_mL()))
    assert learn(lofty, lofty.draws()).means["volume"] < -0.5  # so hot in thin air is a strong pot


def test_outcome_and_crop_move_what_made_them():
    crop = float(Cooled.of(START.model, 100.0, 90.0, 10.0).crystals_g)
    heavy = seen(crystals_g=1.15 * crop)
    light = seen(crystals_g=0.75 * crop)
    assert heavy.means["holds"] > 0.2 > -0.2 > light.means["holds"]
    wet = seen(crystals_g=1.15 * crop, wet=True)
    assert wet.means["holds"] < heavy.means["holds"]
    edge = replace(PLAIN, end_water_g=58.0).with_seen(Seen(outcome="thick"))
    thick = learn(edge, edge.draws())
    assert thick.means["holds"] > 0.1
    assert thick.means["volume"] < -0.1


def test_a_thermometer_in_the_pot_says_nothing_of_the_planned_night():
    edge = Batch(Pot(model("Na2SO4"), 90.0, 400.0), end_water_g=240.0, cool_to_C=12.0)
    planned = edge.with_seen(Seen(outcome="thick"))
    looked = edge.with_seen(Seen(outcome="thick", temperature_C=11.0))
    assert abs(learn(planned, planned.draws()).means["temperature"]) > 0.05
    assert abs(learn(looked, looked.draws()).means["temperature"]) < 0.02


def test_the_next_night_is_another():
    batch = Batch(Pot(model("Na2SO4"), 90.0, 400.0), end_water_g=240.0, cool_to_C=12.0).with_seen(
        Seen(outcome="thick")
    )
    learned = learn(batch, batch.draws())
    assert learned.means["temperature"] < -0.1
    after = next_night(learned.draws)
    assert abs(float(after.z[3] @ after.weights)) < 0.1
    assert_allclose(after.salt, learned.draws.salt)


def test_few_draws_left_are_drawn_anew():
    due = float(START.model.onset.first(END.mass_fraction).temperature_C)
    learned = seen(first_crystals_C=due + 12.0, mass_g=1.001 * END.mass_g)
    assert learned.redrawn > 0
    assert learned.effective_size > 400
    assert learned.far or learned.conflicts


def test_contradictions_are_said_not_hidden():
    due = float(START.model.onset.first(END.mass_fraction).temperature_C)
    batch = PLAIN
    for t in (due + 25.0, due - 25.0):
        batch = batch.with_seen(Seen(first_crystals_C=t, volume_mL=END.volume_mL()))
    batch = batch.with_seen(Seen(outcome="clear"))
    learned = learn(batch, batch.draws())
    assert learned.conflicts
    said = contradictions(learned)
    assert any("does not fit with the rest" in sentence for sentence in said)
    assert np.isfinite(learned.draws.weights).all()


def test_what_no_draw_could_do_widens_the_doubts():
    learned = seen(mass_g=1.5 * END.mass_g)
    assert learned.widened > 1.0
    assert learned.far
    told = contradictions(learned)
    assert any("doubts of what was told and read were widened" in sentence for sentence in told)
    widened = learned.draws.spreads / PLAIN.draws().spreads
    assert_allclose(widened, [learned.widened] * 4 + [1.0] * 3)  # the data's own stay as they are
    assert any("fit" in sentence for sentence in contradictions(learned))
    mark, _ = now(learned, learned.draws.volume)
    assert mark > 1.2


@pytest.mark.parametrize("seed", [1, 2])
def test_posterior_agrees_with_plain_rejection(seed):
    """A crude second reckoning: draws with numpy, kept where a simulated reading falls close to the one seen."""
    rng = np.random.default_rng(seed)
    n = 400_000
    salt, mark = np.exp(0.03 * rng.normal(size=n)), np.exp(0.05 * rng.normal(size=n))
    rho = END.density_g_mL(20.0)
    water = START.water_for_volume(END.volume_mL() * mark, 20.0, 100.0 * salt)
    mass = (100.0 * salt + water) * (1 + 0.005 * rng.normal(size=n))
    read = (100.0 * salt + water) / (END.volume_mL() * mark) * (1 + 0.003 * rng.normal(size=n))
    kept = (np.abs(mass / END.mass_g - 1.02) < 0.003) & (np.abs(read / rho - 1.005) < 0.002)
    assert kept.sum() > 300
    learned = seen(mass_g=1.02 * END.mass_g, density_g_mL=1.005 * rho, density_at_C=20.0)
    for values, crude in ((learned.draws.salt, salt[kept]), (learned.draws.volume, mark[kept])):
        mean, spread = now(learned, values)
        assert_allclose(mean, crude.mean(), atol=0.004)
        assert_allclose(spread, crude.std(), rtol=0.25)


def test_what_was_learned_is_told_in_its_own_numbers_and_nothing_else_is():
    learned = seen(mass_g=1.04 * END.mass_g)
    counted, told = sharpened(learned)
    middle, off = now(learned, learned.draws.volume)
    assert f"true volumes are {100 * middle:.3g} ± {100 * off:.2g} % of those read" in told
    assert "the final temperature" not in told
    left = float(re.search(r"about (\d+) % of what might have been true still fits", counted)[1])
    assert left == round(100 * learned.effective_size / len(learned.draws))
    nothing = sharpened(learn(PLAIN, PLAIN.draws()))
    assert nothing == [
        "Counted in: all that may be true fits.",
        "They say nothing that was not taken already.",
    ]
