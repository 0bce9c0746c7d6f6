"""Boiling down: heat, fitted rates and their bands, warnings, steaming told from boiling."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import pot

from crystal.bench.batch import Batch
from crystal.bench.boildown import Boildown, Energy, LogReading, Standing
from crystal.bench.explain import Explanation
from crystal.bench.marks import Marks
from crystal.bench.rate import RateFit
from crystal.errors import InputError
from crystal.physics.vapour import latent_heat_kJ_kg

BEAKER = 0.05 / np.sqrt(3.0)


@given(
    st.floats(20.0, 500.0), st.floats(50.0, 2000.0), st.lists(st.floats(0.1, 1.0), min_size=2, max_size=8),
    st.floats(0.5, 20.0),
)  # fmt: skip
def test_a_straight_log_gives_its_own_rate(rate, first, steps, error):
    t = np.cumsum(steps)
    water = first + rate * t[-1] - rate * t
    fit = RateFit.of(t, water, error, warm_up_h=0.0)
    assert_allclose(fit.rate_g_h, rate, rtol=1e-6)
    assert_allclose(fit.water_at_g(t), water, rtol=1e-9)
    assert fit.misfit < 1e-3
    expected, early, late = fit.reaches_h(first / 2)
    assert early is not None
    assert early <= expected
    assert late is None or late >= expected
    assert not fit.departs
    assert not fit.rises


@given(st.lists(st.floats(0.0, 1000.0), min_size=2, max_size=8))
def test_no_fit_has_a_rate_below_nothing(water):
    """Whatever the log: a positive rate, or it is refused in so many words."""
    try:
        fit = RateFit.of(np.arange(len(water)), water, 5.0)
    except InputError as error:
        assert "readings that fall" in str(error)  # noqa: PT017
    else:
        assert fit.rate_g_h > 0
        low, high = fit.band_g(np.linspace(0.0, 20.0, 50))
        assert (low <= high).all()


@pytest.mark.parametrize(
    ("hours", "water", "text"),
    [
        ([0.0], [300.0], "at least two readings"),
        ([0.0, 1.0], [300.0, 310.0], "water that rises by 10 g an hour"),
        ([0.0, 1.0], [300.0, 300.0], "water that stays the same"),
        ([0.0, 1.0, 1.0], [300.0, 200.0, 100.0], "readings whose times rise"),
        (
            [0.0, 2.0, 3.0, 1.5],
            [400.0, 300.0, 200.0, 100.0],
            r"got 1\.5 h after 3 h; .* readings whose times rise",
        ),
        ([0.0, 1.0], [300.0, 200.0], "after the warm-up"),
    ],
)
def test_logs_that_tell_no_rate_are_refused(hours, water, text):
    with pytest.raises(InputError, match=text):
        RateFit.of(hours, water, 5.0, warm_up_h=0.5 if "after" in text else None)


def test_forecast_after_warm_up_holds_the_last_reading():
    """Common practice, no source: 300 mL lose about 25 mL in the first half hour, then 75 to 100 mL an hour: 275 mL at 0.5 h,
    200 at 1.5 h, 100 at 2.5 h as read off a beaker (marks good to 5 %)."""
    hours, volume = np.array([0.0, 0.5, 1.5, 2.5]), np.array([300.0, 275.0, 200.0, 100.0])
    first = RateFit.of(hours[:3], volume[:3], BEAKER * volume[:3])
    assert first.used.tolist() == [False, True, True]
    assert 70.0 <= first.rate_g_h <= 100.0
    low, high = first.band_g(2.5, reading_error_g=BEAKER * 100.0)
    assert low <= 100.0 <= high
    assert high - low < 100.0  # a band that says something
    whole = RateFit.of(hours, volume, BEAKER * volume)
    assert whole.used.tolist() == [False, True, True, True]
    assert 75.0 <= whole.rate_g_h <= 100.0


def test_bands_hold_what_they_promise():
    """Simulated logs, invented rates: the true end falls into the band in about 19 of 20 cases."""
    rng = np.random.default_rng(3)
    held, hours = [], np.array([0.0, 0.5, 1.0, 1.5])
    for _ in range(300):
        rate = 80.0
        after = rate * (1.0 + 0.1 * rng.standard_normal())
        read = 300.0 - rate * hours + 4.0 * rng.standard_normal(4)
        fit = RateFit.of(hours, read, 4.0, warm_up_h=0.0)
        _, early, late = fit.reaches_h(100.0)
        true_h = 1.5 + (300.0 - rate * 1.5 - 100.0) / after
        held.append(early is not None and early <= true_h and (late is None or true_h <= late))
    assert 0.90 <= np.mean(held) <= 0.995


def test_scatter_widens_the_band_and_is_said():
    hours = np.arange(6.0)
    straight = 600.0 - 100.0 * hours
    calm = RateFit.of(hours, straight, 5.0, warm_up_h=0.0)
    wild = RateFit.of(hours, straight + 30.0 * np.array([1, -1, 1, -1, 1, -1]), 5.0, warm_up_h=0.0)
    assert wild.rate_error_g_h > 3 * calm.rate_error_g_h
    assert wild.departs
    assert not calm.departs


def test_heat_closes():
    """Heat of two steps is the heat of both; all latent heat is water times its latent heat."""
    start = pot("MgSO4", 60.0, 300.0)
    half = replace(start.with_water(200.0), read_at_C=100.0)
    whole, first, second = (
        Energy.of(a, w, 100.0) for a, w in ((start, 100.0), (start, 200.0), (half, 100.0))
    )
    assert_allclose(first.total_kJ + second.total_kJ, whole.total_kJ, rtol=1e-12)
    assert_allclose(whole.sensible_kJ, (4.18 * 300.0 + 0.5 * 60.0) * 80.0 / 1000.0, rtol=1e-12)
    assert_allclose(whole.latent_kJ, 0.2 * float(latent_heat_kJ_kg(100.0)), rtol=1e-12)
    assert_allclose(whole.hours(500.0, 0.5) * 3600 * 250.0, 1000 * whole.total_kJ, rtol=1e-12)
    assert_allclose(whole.rate_g_h(500.0, 0.5) * float(latent_heat_kJ_kg(100.0)) / 3600.0, 250.0, rtol=1e-12)


@given(st.floats(50.0, 290.0), st.floats(1.0, 40.0))
def test_more_to_drive_off_takes_longer(end_water, less):
    start = pot("MgSO4", 60.0, 300.0)
    near, far = (Boildown.of(start, w, boil_at_C=100.0, power_W=500.0) for w in (end_water, end_water - less))
    assert far.power_h > near.power_h > 0


def log(*readings: tuple[float, float]) -> list[LogReading]:
    return [LogReading(h, mass_g=m) for h, m in readings]


def test_log_by_mass_and_by_volume_agree():
    start = pot("MgSO4", 60.0, 300.0)
    water = {0.5: 260.0, 1.5: 190.0, 2.0: 155.0}
    masses = log(*((h, 60.0 + w) for h, w in water.items()))
    volumes = [
        LogReading(h, volume_mL=float(start.volume_of(w, 95.0)), temperature_C=95.0) for h, w in water.items()
    ]
    by_mass, by_volume = (Boildown.of(start, 100.0, log=one) for one in (masses, volumes))
    assert_allclose(by_volume.fit.water_g, by_mass.fit.water_g, rtol=1e-9)
    assert by_volume.fit.rate_error_g_h > by_mass.fit.rate_error_g_h  # a balance tells more than a beaker
    assert_allclose(by_mass.end_h, 2.0 + 55.0 / 70.0, rtol=1e-6)
    assert_allclose(by_mass.left_h, by_mass.end_h - 2.0)


def test_warnings_of_a_running_pot():
    start = pot("MgSO4", 60.0, 300.0)
    soon = Boildown.of(start, 150.0, log=log((0.5, 320.0), (1.0, 270.0), (1.5, 225.0)))
    (told,) = (one for one in soon.warnings if "minutes away at this rate" in one)
    assert f"The end is {60 * soon.left_h:.0f} minutes away" in told
    maybe = Boildown.of(start, 134.0, log=log((0.5, 320.0), (1.0, 270.0), (1.5, 225.0)))
    assert any("may be only" in one for one in maybe.warnings)
    short = Boildown.of(start, 290.0, power_W=5000.0)
    assert any("do not leave" in one for one in short.warnings)
    far = Boildown.of(start, 50.0, log=log((0.5, 340.0), (1.0, 320.0)))
    assert not any("do not leave" in one for one in far.warnings)
    done = Boildown.of(start, 200.0, log=log((0.5, 340.0), (3.0, 255.0)))
    assert any("take the pot off the heat" in one for one in done.warnings)
    faster = Boildown.of(
        start, 50.0, log=log((0.0, 360.0), (0.5, 340.0), (1.0, 320.0), (1.5, 260.0)), warm_up_h=0.0
    )
    assert any("outside what the ones before it foretold" in one for one in faster.warnings)
    assert any("fit and log disagree" in one for one in faster.warnings)
    filled = Boildown.of(start, 50.0, log=log((0.0, 300.0), (0.5, 320.0), (1.5, 200.0)), warm_up_h=0.0)
    assert any("was water added" in one for one in filled.warnings)


def test_log_against_power():
    start = pot("MgSO4", 60.0, 300.0)
    readings = log((0.5, 340.0), (1.0, 300.0), (1.5, 260.0))
    assert any(
        "more than the heater's whole power" in w
        for w in Boildown.of(start, 50.0, log=readings, power_W=40.0).warnings
    )
    assert any(
        "of it reaches the water" in w for w in Boildown.of(start, 50.0, log=readings, power_W=500.0).warnings
    )
    fits = 80.0 / 3600.0 * float(latent_heat_kJ_kg(102.0)) / 0.5
    assert Boildown.of(start, 50.0, log=readings, power_W=fits).warnings == ()


def test_heat_limit_is_told_before_it_is_passed():
    """Aluminium sulfate liquors are kept below 86 °C; iron(II) chloride's two limits both stand at 108 °C."""
    assert any(
        "suffers from about 86" in w
        for w in Boildown.of(pot("Al2(SO4)3", 60.0, 300.0), 250.0, power_W=500.0).warnings
    )
    hot = Boildown.of(pot("FeCl2", 60.0, 300.0), 200.0, boil_at_C=108.0).warnings
    assert any("worked below about 90" in w for w in hot)
    assert any("breaks down from about 105" in w for w in hot)
    warm = [
        LogReading(0.5, mass_g=340.0, temperature_C=85.0),
        LogReading(1.0, mass_g=320.0, temperature_C=92.0),
    ]
    assert any(
        "worked below about 90" in w
        for w in Boildown.of(pot("FeCl2", 60.0, 300.0), 200.0, boil_at_C=85.0, log=warm).warnings
    )


@pytest.mark.parametrize(
    ("end", "reading", "text"),
    [
        (300.0, [], "less than the 300 g at the start"),
        (100.0, log((0.5, 340.0), (1.0, 50.0)), r"more than the dry matter in the pot \(60 g\)"),
        (100.0, [LogReading(0.5), LogReading(1.0)], "a volume or a mass"),
    ],
)
def test_plans_that_cannot_be_are_refused(end, reading, text):
    with pytest.raises(InputError, match=text):
        Boildown.of(pot("MgSO4", 60.0, 300.0), end, log=reading)


@pytest.mark.parametrize("formula", ["MgSO4", "CuSO4", "NaCl"])
def test_an_open_pot_at_92_to_95_degrees_steams(formula):
    """Common practice, no source: an open pot on a hotplate often stands at 92 to 95 °C, below boiling, and climbs by about 5 K
    as it is halved."""
    start = pot(formula, 40.0, 300.0)
    half = start.with_water(130.0)
    for at_C in (92.0, 95.0):
        assert Standing.of(start, at_C).word == "steaming"
        assert "steams and does not boil" in Standing.of(start, at_C).text
    assert Standing.of(half, 97.0).word == "steaming"
    found = Boildown.of(start, 130.0, boil_at_C=93.0)
    assert any("steams and does not boil" in one for one in found.warnings)


def test_standing_words():
    start = pot("NaCl", 100.0, 400.0)
    boils = Standing.of(start, 104.0)
    assert boils.word == "boiling"
    assert "it boils" in boils.text
    hot = Standing.of(start, 115.0)
    assert hot.word == "too_hot"
    assert "stronger than thought" in hot.text
    assert Standing.of(start, 98.0, 80.0).word == "boiling"  # at 2000 m
    assert Standing.of(start, 98.0).word == "steaming"
    assert Standing.of(pot("citric acid", 100.0, 400.0), 93.0).word == "steaming"
    assert Standing.of(pot("citric acid", 100.0, 400.0), 101.0) is None


def test_explain_recognises_a_steaming_pot():
    start = pot("MgSO4", 97.7, 491.0)
    batch = Batch(start, end_water_g=174.0, cool_to_C=5.0, boil_at_C=93.0)
    assert "steaming" in [reason.cause for reason in Explanation.of(batch).reasons]
    assert "steaming" not in [r.cause for r in Explanation.of(replace(batch, boil_at_C=101.0)).reasons]
    assert "steaming" not in [r.cause for r in Explanation.of(replace(batch, pressure_kPa=78.0)).reasons]
    salt = Batch(pot("NaCl", 50.0, 450.0), end_water_g=200.0, cool_to_C=5.0, boil_at_C=112.0)
    assert "too_hot" in [reason.cause for reason in Explanation.of(salt).reasons]


def test_a_cold_first_reading_is_warm_up_whatever_its_volume():
    """The thermometer tells it where the volumes alone do not."""
    start = pot("MgSO4", 60.0, 300.0)
    masses = ((0.0, 360.0), (0.5, 330.0), (1.0, 294.0), (1.5, 257.0))
    told = [
        LogReading(h, mass_g=m, temperature_C=t)
        for (h, m), t in zip(masses, (20.0, 92.0, 93.0, 94.0), strict=True)
    ]
    blind = Boildown.of(start, 100.0, log=log(*masses))
    seen = Boildown.of(start, 100.0, log=told)
    assert blind.fit.used.tolist() == [True, True, True, True]
    assert seen.fit.used.tolist() == [False, True, True, True]
    assert seen.fit.rate_g_h > blind.fit.rate_g_h
    assert Boildown.of(start, 100.0, log=told, warm_up_h=0.0).fit.used.all()
    few = told[:2]
    assert Boildown.of(start, 100.0, log=few).fit.used.tolist() == [True, True]


@pytest.mark.parametrize("make", [Marks.of, lambda start, water: Boildown.of(start, water)])
def test_heat_limits_are_told_where_the_boiling_temperature_is_not_known(make):
    """A strong liquor boils hotter than the last known one: what that passes is passed, what lies near may be."""
    said = make(pot("FeCl2", 100.0, 400.0), 160.0).warnings
    assert any(
        "gets to 104 °C or more, which is too hot" in one and "worked below about 90 °C" in one
        for one in said
    )
    assert any("breaks down from about 105 °C" in one and "Keep a thermometer in it" in one for one in said)
    weak = make(pot("FeCl2", 10.0, 400.0), 390.0).warnings
    assert not any("breaks down" in one for one in weak)


@pytest.mark.parametrize(("error", "rises"), [([2.0, 2.0, 30.0, 2.0], False), ([30.0, 2.0, 2.0, 2.0], True)])
def test_a_rise_is_one_beyond_the_errors_of_its_own_two_readings(error, rises):
    fit = RateFit.of([0.0, 1.0, 2.0, 3.0], [400.0, 300.0, 320.0, 200.0], error, warm_up_h=0.0)
    assert fit.rises is rises
