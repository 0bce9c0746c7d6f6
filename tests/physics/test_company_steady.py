"""Beside others crystals come steadily: no root of another solid, no node of a table may show in what a pot gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from crystal.bench.cooling import Cooled
from crystal.physics.others import Others
from crystal.physics.products import Products
from tests.salts import model

POTS = [
    ("ZnSO4", "H2SO4", 123.0), ("MgSO4", "H2SO4", 123.0), ("MgSO4", "NaCl", 123.0), ("CuSO4", "H2SO4", 90.0),
    ("NiSO4", "H2SO4", 110.0), ("KNO3", "NaCl", 60.0), ("NaCl", "HCl", 90.0), ("KCl", "HCl", 90.0), ("Na2CO3", "NaCl", 60.0),
]  # fmt: skip
STEP_K = 0.1


def _cooled(salt: str, other: str, salt_g: float, t: np.ndarray) -> Cooled:
    n = np.full(len(t), salt_g)
    others = Others.of({other: 5.0})
    return Cooled.of(model(salt), n, np.full(len(t), 237.0), t, bed=0.55, strict=False, others=others)


@pytest.mark.parametrize(("salt", "other", "salt_g"), POTS)
def test_crystals_change_steadily_with_temperature(salt, other, salt_g):
    """Where the solids stay the same from one tenth of a kelvin to the next, so does the slope."""
    t = np.arange(1.0, 75.0, STEP_K)
    cooled = _cooled(salt, other, salt_g, t)
    crystals = cooled.crystals_g
    solid = np.array(["+".join(sorted(name for name, _ in cooled.solids_g(i))) for i in range(len(t))])
    same = (solid[:-2] == solid[1:-1]) & (solid[1:-1] == solid[2:]) & (crystals[2:] > 0)
    bent = np.abs(crystals[2:] - 2 * crystals[1:-1] + crystals[:-2])
    assert same.sum() > 100
    assert bent[same].max() < 0.01 * salt_g


@pytest.mark.parametrize(("salt", "other", "salt_g"), POTS)
def test_many_temperatures_at_once_give_what_each_gives_alone(salt, other, salt_g):
    t = np.linspace(1.3, 74.0, 400)
    some = slice(7, None, 20)
    many, few = _cooled(salt, other, salt_g, t), _cooled(salt, other, salt_g, t[some])
    assert_allclose(many.crystals_g[some], few.crystals_g, atol=0.004 * salt_g)


@pytest.mark.parametrize(
    ("salt", "hydrate", "temperature_C", "ln_water"),
    [("MgSO4", "MgSO4.6H2O", 25.0, np.log(0.51)), ("ZnSO4", "ZnSO4.6H2O", 25.0, np.log(0.61)),
     ("CuSO4", "CuSO4.3H2O", 25.0, np.log(0.33)), ("NaBr", "NaBr", 25.0, np.log(0.37))],
)  # fmt: skip
def test_lower_hydrate_comes_where_the_humidity_of_the_pair_is_met(salt, hydrate, temperature_C, ln_water):
    """In a liquor whose water is as active as the air in which both hydrates keep, both are as soluble (Chou and Seal,
    Astrobiology 3 (2003) 619 and others of `datasets/pair_pressures.csv`, recalled from memory)."""
    products = {p.solid.formula: p for p in Products(model(salt)).of_solids}
    wet = next(p for p in products.values() if p.is_own(temperature_C))
    (ln_wet, _), (ln_dry, doubt) = wet.at(temperature_C), products[hydrate].at(temperature_C)
    assert_allclose(ln_wet - ln_dry, (wet.waters - products[hydrate].waters) * ln_water, atol=1e-9)
    assert 0.0 < doubt < 0.2


@pytest.mark.parametrize(
    ("salt", "hydrate", "temperature_C", "ln_water", "allowed"),
    [("Na2SO4", "Na2SO4", 20.0, np.log(0.76), 0.05), ("Na2HPO4", "Na2HPO4.7H2O", 25.0, np.log(0.805), 0.05),
     ("NiSO4", "NiSO4.6H2O-alpha", 25.0, np.log(0.82), 0.08), ("NaBr", "NaBr", 25.0, np.log(0.37), 0.05)],
)  # fmt: skip
def test_branches_run_on_to_the_humidity_of_the_pair(salt, hydrate, temperature_C, ln_water, allowed):
    """Solubility above a transition, run on as the branch does, and air measured below it: two ways to one ln K."""
    products = {p.solid.formula: p for p in Products(model(salt)).of_solids}
    wet = next(p for p in products.values() if p.is_own(temperature_C))
    dry = replace(products[hydrate], balance=None)
    by_branch = float(wet.at(temperature_C)[0] - dry.at(temperature_C)[0])
    assert_allclose(by_branch, (wet.waters - dry.waters) * ln_water, atol=allowed)
