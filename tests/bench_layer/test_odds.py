"""Odds against the plain engine, draw by draw; sums, bands, and what the data do not tell."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from salts import model

from crystal.bench.cooling import Cooled
from crystal.bench.doubt import Doubt, Draws
from crystal.bench.even import between, place
from crystal.bench.odds import DrawnEnds, water_g, weighted_quantiles
from crystal.bench.pot import Pot
from crystal.physics.others import Others

SALTS = (
    ("MgSO4", 5),
    ("FeCl3", 20),
    ("KNO3", 10),
    ("Na2SO4", 12),
    ("CaCl2", 8),
    ("Zn(NO3)2", 30),
    ("NaCl", -15),
    ("CuSO4", 20),
)


def both(pot: Pot, cold: float, n: int = 512, ends: int = 40) -> tuple[DrawnEnds, Cooled, np.ndarray]:
    """The odds' draws and the plain engine on the same pots, and where the end point has any water."""
    draws = Draws.of(pot, cold, Doubt(curve=0.0, density=0.0), bed=0.55, n=n)
    volumes = np.linspace(pot.volume_mL(), 0.12 * pot.volume_mL(), ends)
    drawn = DrawnEnds.of(pot, draws, cold, volumes)
    salt = np.broadcast_to(pot.salt_g * draws.salt, (ends, n))
    water = pot.water_for_volume(volumes[:, None] * draws.volume, 20.0, salt)
    cooled = Cooled.of(
        pot.model,
        salt,
        np.maximum(water, 1e-9 * salt),
        cold + draws.temperature_K,
        bed=draws.bed,
        strict=False,
        others=pot.others,
    )
    return drawn, cooled, water > 0


@pytest.mark.parametrize(("formula", "cold"), SALTS)
def test_every_draw_is_what_the_plain_engine_makes_of_it(formula, cold):
    drawn, cooled, some = both(Pot(model(formula), 97.7, 402.3), cold)
    told = (cooled.outcome >= 0) & some
    assert told.mean() > 0.9
    assert len(np.unique(cooled.outcome[told])) >= 3
    assert_array_equal(drawn.outcome[told], cooled.outcome[told])
    # 2048 chords over the volume: fractions of a milligram per gram.
    assert_allclose(drawn.crystals_g[told], cooled.crystals_g[told], atol=1e-3 * 97.7)


def test_beside_others_nearly_so():
    pot = Pot(model("KNO3"), 97.7, 402.3, 20.0, Others.of({"HCl": 5.0}))
    drawn, cooled, some = both(pot, 10.0, n=256)
    told = (cooled.outcome >= 0) & some
    assert (drawn.outcome == cooled.outcome)[told].mean() > 0.98


def test_a_night_below_the_lowest_eutectic_freezes_the_pot():
    pot = Pot(model("MgSO4"), 97.7, 402.3)
    assert pot.model.map.stretches[0].ends_in_eutectic
    draws = Draws.of(pot, pot.model.map.low_C - 10.0, Doubt(temperature=1.0), bed=0.55, n=256)
    drawn = DrawnEnds.of(pot, draws, pot.model.map.low_C - 10.0, [400.0, 200.0])
    assert (drawn.outcome == 3).all()


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(SALTS), st.floats(0.0, 0.1), st.floats(0.0, 5.0), st.floats(0.2, 1.0))
def test_odds_sum_to_one_and_bands_are_in_order(salt, volume, temperature, share):
    formula, cold = salt
    pot = Pot(model(formula), 60.0, 300.0)
    draws = Draws.of(pot, cold, Doubt(volume=volume, temperature=temperature), bed=0.55, n=256)
    odds = DrawnEnds.of(pot, draws, cold, [share * pot.volume_mL()]).odds(draws, [share * pot.volume_mL()])
    if odds.unknown[0] < 1.0:
        assert_allclose(odds.odds.sum(), 1.0, rtol=1e-9)
    assert (odds.odds >= 0).all()
    assert 0.0 <= odds.crop_p10_g[0] <= odds.crop_p90_g[0]
    assert odds.crop_expected_g[0] <= draws.salt.max() * 60.0 / 0.1
    assert np.isfinite(odds.crop_expected_g).all()


def test_quantiles_of_weighted_values():
    values = np.array([[3.0, 1.0, 2.0, 4.0]])
    low, high = weighted_quantiles(values, np.array([0.1, 0.2, 0.3, 0.4]), (0.25, 0.55))
    assert (low[0], high[0]) == (2.0, 3.0)
    even = weighted_quantiles(np.arange(10.0)[None, ::-1], np.full(10, 0.1), (0.1, 0.9))
    assert [float(q[0]) for q in even] == [1.0, 9.0]


def test_no_doubt_at_all_gives_the_plan():
    pot = Pot(model("MgSO4"), 97.7, 402.3)
    sure = Doubt(volume=0, mass=0, temperature=0, holds=0, curve=0, density=0, bed=0)
    draws = Draws.of(pot, 5.0, sure, bed=0.55, n=64)
    odds = DrawnEnds.of(pot, draws, 5.0, [370.0, 250.0, 150.0, 120.0]).odds(
        draws, [370.0, 250.0, 150.0, 120.0]
    )
    assert_allclose(odds.odds, np.eye(4), atol=1e-12)
    assert odds.crop_p10_g[1] == odds.crop_p90_g[1]


def test_crystals_of_another_salt_are_none_of_the_crop():
    """Salt beside saltpetre: where both come, the odds count saltpetre alone (reckoned here without the tables of the odds)."""
    start = Pot(model("KNO3"), 100.0, 300.0, others=Others.of({"NaCl": 90.0}))
    sure = Doubt(volume=0.0, mass=0.0, temperature=0.0, holds=0.0, curve=0.0, density=0.0, bed=0.0)
    draws = Draws.of(start, 10.0, sure, bed=0.55, n=16)
    waters = np.array([290.0, 260.0, 230.0])
    volumes = np.array([start.with_water(w).volume_mL(20.0) for w in waters])
    cooled = Cooled.of(start.model, np.full(3, 100.0), waters, 10.0, others=start.others)
    assert (cooled.others_crystals_g > 0).any()
    assert (cooled.outcome == 1).all()
    odds = DrawnEnds.of(start, draws, 10.0, volumes).odds(draws, volumes)
    assert_allclose(odds.crop_expected_g, cooled.crystals_g - cooled.others_crystals_g, rtol=0.01)


def test_water_beside_others_fills_each_draws_own_volume():
    start = Pot(model("KNO3"), 60.0, 240.0, others=Others.of({"HCl": 6.0}))
    draws = Draws.of(start, 10.0, Doubt(), bed=0.55, n=256)
    volumes = np.array([250.0, 160.0, 110.0])
    water = water_g(start, draws, volumes, 20.0, False)
    density = start.model.density
    filled = start.others.volume_mL(density, start.salt_g * draws.salt, water, 20.0)
    planned = start.salt_g / (start.salt_g + start.water_for_volume(volumes, 20.0))
    error = draws.density_error(np.asarray(density.relative_doubt(planned, 20.0))[:, None])
    # A liquor denser than the model has it holds more in the same volume.
    assert_allclose(filled, volumes[:, None] * draws.volume * (1.0 + error), rtol=2e-4)


def test_an_even_table_is_read_as_numpy_reads_it():
    rng = np.random.default_rng(5)
    x, y = np.linspace(-3.0, 11.0, 37), rng.normal(size=37)
    at = np.concatenate([rng.uniform(-5.0, 13.0, 500), x])
    assert_allclose(between(y, *place(x, at)), np.interp(at, x, y), rtol=0, atol=1e-12)
