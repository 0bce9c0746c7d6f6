"""Densities of reagents beyond their formula: the listed strengths, straight between them, and what is said of it."""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.testing import assert_allclose

from crystal.data.reagents import Reagents
from crystal.physics.reagent import Solute

REAGENTS = Reagents.bundled().reagents
LISTED = [r for r in REAGENTS.values() if len(Solute.of_reagent(r).density.mass_fractions) > 2]


def test_the_two_acids_sold_stronger_than_their_formula_have_listed_strengths():
    assert {r.salt.formula for r in LISTED} == {"H2SO4", "HNO3"}


@pytest.mark.parametrize("reagent", LISTED, ids=lambda r: r.salt.formula)
def test_specific_volume_runs_straight_through_the_listed_strengths(reagent):
    density = Solute.of_reagent(reagent).density
    beyond = [s for s in reagent.strengths if s.mass_fraction > density.mass_fractions[0] + 1e-3]
    for s in beyond:
        assert_allclose(density.density_g_mL(s.mass_fraction, 20.0), s.density_20C_g_mL, rtol=1e-12)
    w = density.mass_fractions
    volumes = 1.0 / density.density_g_mL(w, 20.0)
    middle = 1.0 / density.density_g_mL((w[:-1] + w[1:]) / 2, 20.0)
    assert_allclose(middle, (volumes[:-1] + volumes[1:]) / 2, rtol=1e-12)


@pytest.mark.parametrize("reagent", LISTED, ids=lambda r: r.salt.formula)
def test_water_for_a_volume_is_the_density_turned_round(reagent):
    density = Solute.of_reagent(reagent).density
    w = np.linspace(0.02, density.known_mass_fraction, 41)
    for t in (20.0, 25.0):
        volume = (1.0 / w) / density.density_g_mL(w, t)
        assert_allclose(density.water_g_for_volume(1.0, volume, t), (1.0 - w) / w, rtol=1e-7, atol=1e-9)


@pytest.mark.parametrize("reagent", LISTED, ids=lambda r: r.salt.formula)
def test_where_the_formula_ends_is_told(reagent):
    density = Solute.of_reagent(reagent).density
    edge, middle = density.mass_fractions[0], float(density.mass_fractions[:2].mean())
    (said, *_) = density.warnings(middle, 20.0)
    told = [float(n) for n in re.findall(r"([\d.]+) mass %", said)]
    assert_allclose(told, [100 * edge, 100 * middle], atol=0.06)
    assert not [text for text in density.warnings(0.9 * edge, 20.0) if "listed densities" in text]
    assert_allclose(density.relative_doubt(middle, 20.0), 0.005)
