"""The volume that each solute fills: its slope is that of its value, and both hold still where the fit ends."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from salts import SALTS, model

from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.physics.density import SolutionDensity
from crystal.physics.others import Others
from crystal.physics.solutes import FittedVolume, TabulatedVolume

TERMS = {
    term.name: term
    for salt in Catalogue.bundled().salts.values()
    for term in SolutionDensity.of(salt).terms
}  # fmt: skip


def test_both_kinds_are_met():
    assert {type(term) for term in TERMS.values()} == {FittedVolume, TabulatedVolume}


@pytest.mark.parametrize("term", TERMS.values(), ids=TERMS)
def test_slope_is_the_change_of_the_volume(term):
    h = 1e-6
    w = np.linspace(0.02, 1.3 * term.max_mass_fraction, 37)
    for t in (term.t_min_C, (term.t_min_C + term.t_max_C) / 2):
        (low, _), (_, slope), (high, _) = (
            term.volume_and_slope(w + step, np.full(w.shape, t)) for step in (-h, 0.0, h)
        )
        # A tabulated term has corners at its points; between the two sides of one any slope will do.
        same = np.abs(term.volume_and_slope(w - h, t)[1] - term.volume_and_slope(w + h, t)[1]) < 1e-3
        assert same.sum() > 30
        assert_allclose(slope[same], ((high - low) / (2 * h))[same], rtol=1e-4, atol=1e-4)


def test_what_is_no_amount_is_refused():
    for grams in (-1.0, float("nan"), float("inf")):
        with pytest.raises(InputError, match="0 g or more"):
            Others.of({"HCl": grams})


@pytest.mark.parametrize("formula", sorted(SALTS)[:4])
def test_less_volume_than_the_dry_matter_fills_is_a_lack_of_water(formula):
    density, others = model(formula).density, Others.of({"HCl": 4.0})
    dry = float(others.volume_mL(density, 30.0, 0.0, 20.0))
    assert_allclose(others.water_g_for_volume(density, 30.0, dry, 20.0), 0.0, atol=1e-9)
    for short in (0.3, 2.0):
        assert_allclose(
            others.water_g_for_volume(density, 30.0, dry - short, 20.0), -0.9982 * short, rtol=1e-3
        )
    assert float(others.water_g_for_volume(density, 30.0, dry + 0.5, 20.0)) > 0.0
