"""Facts of the trade that no source is known for: common practice, no source.

An iron(III) chloride liquor of 0.358 mol FeCl3 made up to 400 mL, boiled down and left at room temperature (20 °C): it
crystallises once reduced below about 20 % of its volume, gives a crop that pours off somewhere between 16 and 20 %, and at
about 12.5 % ("an eighth") it is one solid mass. The marks are read off a beaker: 'about' is taken as one or two per cent of
the start.
"""

from __future__ import annotations

import numpy as np
import pytest
from salts import model

from crystal.bench.advice import Advice
from crystal.bench.batch import Batch, Seen
from crystal.bench.ends import Ends
from crystal.bench.explain import Explanation
from crystal.bench.plan import Plan
from crystal.bench.pot import Amount, Pot
from crystal.bench.window import Window
from crystal.physics.formula import molar_mass_g_mol

ROOM_C = 20.0


@pytest.fixture(scope="module")
def liquor() -> Pot:
    salt_g = 0.358 * molar_mass_g_mol("FeCl3")
    return Pot.from_facts(model("FeCl3"), holds=Amount(salt_g), volume_mL=400.0)


def reduced_to(liquor: Pot, fraction: float) -> float:
    """Composition at a share of the start's volume."""
    water = float(liquor.model.density.water_g_for_volume(liquor.salt_g, fraction * 400.0, 20.0))
    return liquor.salt_g / (liquor.salt_g + water)


def test_crystals_begin_below_about_a_fifth(liquor):
    assert 0.19 <= Window.of(liquor, ROOM_C).saturates.fraction_of_start <= 0.22


def test_crop_that_pours_off_lies_between_16_and_20_percent(liquor):
    fractions = np.linspace(0.16, 0.20, 41)
    ends = Ends.of(liquor, [reduced_to(liquor, f) for f in fractions], ROOM_C)
    words = {ends.cooled.outcome_word(i) for i in range(41)}
    assert "crop" in words
    assert 0.16 <= Advice.of(Window.of(liquor, ROOM_C)).end.fraction_of_start <= 0.20
    pours = Window.of(liquor, ROOM_C).pours_off_down_to.fraction_of_start
    assert 0.14 <= pours <= 0.20


def test_an_eighth_is_one_solid_mass(liquor):
    ends = Ends.of(liquor, reduced_to(liquor, 0.125), ROOM_C)
    assert ends.cooled.outcome_word(0) == "set"
    assert Window.of(liquor, ROOM_C).sets_solid_below.fraction_of_start >= 0.125


def test_the_hydrates_own_water_is_the_reason(liquor):
    end = liquor.with_water(liquor.salt_g * (1 / reduced_to(liquor, 0.125) - 1))
    batch = Batch(liquor, end_water_g=end.water_g, cool_to_C=ROOM_C, seen=(Seen(outcome="set"),))
    told = Explanation.of(batch)
    assert told.agrees
    reasons = {reason.cause: reason.text for reason in told.reasons}
    assert "FeCl3.6H2O" in reasons["hydrate_water"]
    assert "too_far_reduced" in reasons
    assert told.rescue is not None
    assert told.rescue.outcome == "crop"


def test_density_beyond_its_fit_is_said(liquor):
    plan = Plan.of(liquor, ROOM_C, ends=[reduced_to(liquor, 0.18)])
    assert any("density of FeCl3" in w and "extended" in w for w in plan.warnings), plan.warnings
