"""The window's bands against cooling every end point of a fine grid, and its thresholds against their definition."""

from __future__ import annotations

from itertools import groupby, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model

from crystal.bench.cooling import OUTCOMES, SET_SHARE, UNKNOWN, Cooled
from crystal.bench.pot import Pot
from crystal.bench.window import Window, runs_at
from crystal.errors import CoverageError
from crystal.physics.others import Others

ALL = sorted(SALTS)


def temperatures(formula: str, count: int = 5) -> list[float]:
    its = model(formula).map
    rng = np.random.default_rng(11)
    return [its.low_C, its.high_C, *(float(t) for t in rng.uniform(its.low_C, its.high_C, count))]


def cool(formula: str, w, t: float, bed: float) -> Cooled:
    w = np.asarray(w)
    return Cooled.of(model(formula), 100 * w, 100 * (1 - w), t, bed=bed, strict=False)


@pytest.mark.parametrize("formula", ALL)
@pytest.mark.parametrize("bed", [0.40, 0.55])
def test_bands_agree_with_cooling_every_end_point(formula, bed):
    for t in temperatures(formula):
        runs = runs_at(model(formula), t, bed)
        assert runs[0].from_w == 0.0
        assert runs[-1].to_w == 1.0
        assert all(a.to_w == b.from_w for a, b in pairwise(runs))
        assert all((a.outcome, a.solid) != (b.outcome, b.solid) for a, b in pairwise(runs))
        w = np.linspace(0.0, 1.0, 1501)
        edges = np.array([r.from_w for r in runs] + [1.0])
        w = w[np.abs(w[:, None] - edges).min(axis=1) > 1e-9]
        run_of = np.searchsorted(edges, w, side="right") - 1
        cooled = cool(formula, w, t, bed)
        words = [None if code == UNKNOWN else OUTCOMES[code] for code in cooled.outcome]
        expected = [runs[i].outcome for i in run_of]
        at = f"{formula} at {t:g} degC"
        assert words == expected, at
        with_solid = cooled.crystals_g > 0
        assert (cooled.main_solid == np.array([runs[i].solid for i in run_of]))[with_solid].all(), at


@pytest.mark.parametrize("formula", ALL)
@pytest.mark.parametrize("bed", [0.40, 0.55])
def test_thresholds_hold_where_they_are_claimed(formula, bed):
    """At a border between crop and thick the crystals fill the bed, between thick and set 95 %, to 1e-9."""
    borders = 0
    for t in temperatures(formula):
        runs = runs_at(model(formula), t, bed)
        for a, b in pairwise(runs):
            pair = {a.outcome, b.outcome}
            if pair == {"crop", "thick"} or (pair == {"thick", "set"} and a.solid == b.solid):
                share = float(cool(formula, a.to_w, t, bed).crystal_volume_fraction)
                assert_allclose(share, bed if "crop" in pair else SET_SHARE, rtol=0, atol=1e-9)
                borders += 1
            elif pair == {"clear", "crop"}:
                assert float(cool(formula, a.to_w, t, bed).crystals_g) <= 1e-7
    assert borders > 0


@st.composite
def pots(draw: st.DrawFn) -> tuple[Pot, float, float]:
    formula = draw(st.sampled_from(ALL))
    its = model(formula)
    t = draw(st.floats(its.map.low_C, its.map.high_C))
    w, total = draw(st.floats(0.005, 0.9)), draw(st.floats(1.0, 1e4))
    return Pot(its, w * total, (1 - w) * total), t, draw(st.sampled_from([0.4, 0.55]))


@given(pots())
def test_bands_run_from_the_start_to_the_dry_salt_without_gaps(case):
    start, t, bed = case
    window = Window.of(start, t, bed=bed)
    bands = window.bands
    assert_allclose(bands[0].start.mass_fraction, start.mass_fraction, rtol=1e-12)
    assert_allclose(bands[0].start.end_mass_g, start.mass_g, rtol=1e-9)
    assert_allclose(bands[-1].end.end_mass_g, start.salt_g, rtol=1e-9)
    for a, b in pairwise(bands):
        assert a.end == b.start
    for band in bands:
        assert band.start.end_volume_mL > band.end.end_volume_mL
        w = (band.start.mass_fraction + band.end.mass_fraction) / 2
        water = start.salt_g * (1 - w) / w
        assert_allclose(
            band.start.fraction_of_start * start.volume_mL(), band.start.end_volume_mL, rtol=1e-12
        )
        word = Cooled.of(start.model, start.salt_g, water, t, bed=bed, strict=False).outcome_word()
        assert word == band.outcome
        assert (band.solid == -1) == (band.outcome in (None, "clear"))


@given(pots())
def test_each_threshold_is_the_first_met_from_the_dilute_side(case):
    start, t, bed = case
    window = Window.of(start, t, bed=bed)
    w = np.linspace(1e-4, 1.0, 4001)
    codes = Cooled.of(start.model, w, 1 - w, t, bed=bed, strict=False).outcome
    unknown = np.flatnonzero(codes == UNKNOWN)
    end = unknown[0] if len(unknown) else len(w)
    for threshold, least in (
        (window.saturates, 1),
        (window.pours_off_down_to, 2),
        (window.sets_solid_below, 3),
    ):
        met = np.flatnonzero(codes[:end] >= least)
        if not len(met):
            if threshold is not None and threshold.mass_fraction > 1e-4:
                last = w[end - 1] if end else 0.0
                assert threshold.mass_fraction > last - 1e-3
        elif met[0] > 0:
            assert threshold is not None
            assert w[met[0] - 1] - 1e-9 <= threshold.mass_fraction <= w[met[0]] + 1e-9


@given(pots())
def test_ten_times_the_batch_is_ten_times_the_window(case):
    start, t, bed = case
    one, ten = Window.of(start, t, bed=bed), Window.of(start.scaled(10.0), t, bed=bed)
    for a, b in zip(one.bands, ten.bands, strict=True):
        assert a.outcome == b.outcome
        assert_allclose(b.end.end_volume_mL, 10 * a.end.end_volume_mL, rtol=1e-9)
        assert_allclose(b.end.fraction_of_start, a.end.fraction_of_start, rtol=1e-9)
        assert_allclose(b.end.end_mass_g, 10 * a.end.end_mass_g, rtol=1e-9)


def test_melting_hydrate_makes_the_outcome_not_monotone():
    # Above the eutectic with the next hydrate and below 37 °C a rich liquor stands beyond the hexahydrate's composition.
    start = Pot(model("FeCl3"), 50.0, 450.0)
    words = [word for word, _ in groupby(band.outcome for band in Window.of(start, 33.0).bands)]
    assert words == ["clear", "crop", "thick", "set", "thick", "crop", "clear", "crop", "thick", "set"]
    above = Window.of(start, 40.0)
    assert above.saturates.mass_fraction > 0.70  # the hexahydrate has melted; a drier one comes first
    assert [b.outcome for b in above.bands][:2] == ["clear", "crop"]


def test_retrograde_salt_saturates_sooner_when_hotter():
    start = Pot(model("Na2SO4"), 50.0, 450.0)
    at_40, at_90 = Window.of(start, 40.0), Window.of(start, 90.0)
    assert at_90.saturates.end_volume_mL > at_40.saturates.end_volume_mL


def test_pot_already_saturated_has_a_threshold_larger_than_itself():
    window = Window.of(Pot(model("KNO3"), 100.0, 150.0), 10.0)
    assert window.saturates.fraction_of_start > 1.0
    assert window.bands[0].outcome == "crop"


def test_ice_in_a_dilute_pot_is_not_called_saturated():
    window = Window.of(Pot(model("NaCl"), 10.0, 490.0), -10.0)
    assert window.bands[0].outcome == "clear"
    cooled = Cooled.of(model("NaCl"), 10.0, 490.0, -10.0)
    assert float(cooled.ice_g) > 300
    w = window.saturates.mass_fraction
    assert 0.23 < w < 0.27


def test_below_the_eutectic_there_is_no_window_but_an_error():
    with pytest.raises(CoverageError, match="freezes solid"):
        Window.of(Pot(model("NaCl"), 10.0, 490.0), -30.0)


def test_nothing_is_claimed_beyond_a_gap_in_the_data():
    window = Window.of(Pot(model("Ni(NO3)2"), 10.0, 490.0), 95.0)
    gaps = [band for band in window.bands if band.outcome is None]
    if gaps:
        after = window.bands.index(gaps[0])
        firsts = [window.saturates, window.pours_off_down_to, window.sets_solid_below]
        assert all(f is None or f.mass_fraction <= window.bands[after].start.mass_fraction for f in firsts)
    at_gap = [
        (formula, t)
        for formula in ALL
        for t in temperatures(formula)
        if any(r.outcome is None for r in runs_at(model(formula), t))
    ]
    assert at_gap
    for formula, t in at_gap:
        runs = runs_at(model(formula), t)
        gap = next(i for i, r in enumerate(runs) if r.outcome is None)
        window = Window.of(Pot(model(formula), 1.0, 1e4), t)
        for threshold in (window.saturates, window.pours_off_down_to, window.sets_solid_below):
            assert threshold is None or threshold.mass_fraction < runs[gap].from_w


def test_a_gap_in_the_data_is_a_gap_beside_others_too():
    start = Pot(model("Zn(NO3)2"), 40.0, 300.0, others=Others.of({"HCl": 5.0}))
    words = [band.outcome for band in Window.of(start, -12.0).bands]
    assert None in words
    assert {"clear", "crop"} <= set(words)
