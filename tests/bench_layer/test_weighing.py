"""A weighed crop against the harvest: wet with wet, dry with dry, and what a difference means."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import pot

from crystal.bench.batch import Seen
from crystal.bench.harvest import Draining, Harvest, Wash
from crystal.bench.weighing import Weighing


def harvest(held: float = 0.25) -> Harvest:
    return Harvest.of(pot("KNO3", 100.0, 100.0), 20.0, Draining.by(held_g_per_g=held))


@given(st.floats(0.0, 0.6), st.floats(0.0, 20.0))
def test_liquor_held_comes_back_from_a_wet_weighing(held, wash_g):
    washes = (Wash(wash_g, 5.0),) if wash_g else ()
    how = Draining.by(held_g_per_g=held, enclosed_g_per_g=0.01)
    found = Harvest.of(pot("KNO3", 100.0, 100.0), 20.0, how, washes)
    one = Weighing.of(found, found.cake.wet_g, wet=True)
    assert one.agrees
    assert_allclose(one.held_g_per_g, found.cake.clinging.mass_g / found.cake.crystals_g, atol=1e-9)


def test_wet_is_held_against_wet_and_dry_against_dry():
    found = harvest()
    wet, dry = (Weighing.of(found, found.cake.wet_g, wet) for wet in (True, False))
    assert wet.agrees
    assert not dry.agrees
    assert "not dry yet" in dry.text
    assert Weighing.of(found, found.cake.dried.mass_g, wet=False).agrees


@pytest.mark.parametrize(
    ("share", "wet", "text"),
    [
        (1.05, True, "they agree"),
        (0.87, True, r"Say --held 0.088 and the other numbers follow"),
        (1.20, True, r"Say --held 0.5 and"),
        (1.60, True, "more than drained crystals hold"),
        (0.70, True, "are missing, left in the vessel or the filter, washed away, or not crystallised."),
        (0.80, False, "dried below the hydrate's own water"),
    ],
)
def test_what_a_difference_means(share, wet, text):
    found = harvest()
    expected = found.cake.wet_g if wet else found.cake.dried.mass_g
    assert text in Weighing.of(found, share * expected, wet).text


def test_only_what_was_weighed_is_compared():
    found = harvest()
    seen = (Seen(outcome="crop"), Seen(crystals_g=80.0, wet=True), Seen(crystals_g=70.0))
    assert [(one.weighed_g, one.wet) for one in Weighing.all_of(found, seen)] == [(80.0, True), (70.0, False)]
