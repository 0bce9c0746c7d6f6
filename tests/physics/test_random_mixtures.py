"""Any mixture of ions: what thermodynamics asks of activities, whatever the parameters are."""

from __future__ import annotations

import math
from itertools import combinations, product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from crystal.data.ion_interaction import charge_of
from crystal.physics.formula import WATER_G_MOL
from crystal.physics.mixture import Mixture

CATIONS = ("H+", "Na+", "K+", "NH4+", "Mg+2", "Ca+2", "Cu+2", "Zn+2", "Al+3", "La+3")
ANIONS = ("Cl-", "NO3-", "Br-", "OH-", "SO4-2", "CO3-2", "HPO4-2", "PO4-3", "Fe(CN)6-4")
OF_SALTS = ("H+", "Na+", "Mg+2"), ("Cl-", "SO4-2")
WEIGHTS = np.array([1.0, -8.0, 8.0, -1.0]) / 12.0
STEPS = np.array([-2.0, -1.0, 1.0, 2.0])


@st.composite
def mixtures(draw: st.DrawFn) -> tuple[Mixture, np.ndarray]:
    """Two to six ions with neutral molalities; acid and sulfate often together."""
    some = st.integers(1, 3)
    if draw(st.booleans()):
        cations, anions = OF_SALTS
    else:
        cations = tuple(draw(st.permutations(CATIONS))[: draw(some)])
        anions = tuple(draw(st.permutations(ANIONS))[: draw(some)])
    ions = cations + anions
    m = np.array([draw(st.floats(0.05, 2.0)) for _ in ions])
    z = np.array([charge_of(ion) for ion in ions], dtype=float)
    positive, negative = (m * z)[z > 0].sum(), -(m * z)[z < 0].sum()
    m[z < 0] *= positive / negative
    return Mixture(ions, mixing=draw(st.booleans())), m


def _neutral_steps(mixture: Mixture) -> np.ndarray:
    """One direction for each cation and anion, that salt added; shape (directions, ions)."""
    found = []
    for i, j in product(range(len(mixture.ions)), repeat=2):
        z = charge_of(mixture.ions[i]), charge_of(mixture.ions[j])
        if z[0] > 0 > z[1]:
            d, least = np.zeros(len(mixture.ions)), math.gcd(*z)
            d[i], d[j] = -z[1] / least, z[0] / least
            found.append(d)
    return np.array(found)


def _slopes(mixture: Mixture, m: np.ndarray, d: np.ndarray) -> tuple[np.ndarray, float]:
    """d ln a of each ion and of water, along a direction, by a difference of fourth order."""
    h = 2e-3 * m[d > 0].min() / d.max()
    states = m[:, None] + h * STEPS * d[:, None]
    found = mixture.activities(states)
    return (found.ln_gamma + np.log(states)) @ WEIGHTS / h, float(found.ln_water @ WEIGHTS / h)


@settings(max_examples=80, deadline=None)
@given(mixtures())
def test_gibbs_duhem(drawn: tuple[Mixture, np.ndarray]) -> None:
    """The ions' activities and the osmotic coefficient are of one function: sum of n d(ln a) is nothing, to 1e-6."""
    mixture, m = drawn
    found = mixture.activities(m)
    assert_allclose(found.ln_water, -WATER_G_MOL / 1000.0 * m.sum() * found.osmotic, rtol=1e-12)
    for d in _neutral_steps(mixture):
        ions, water = _slopes(mixture, m, d)
        terms = np.append(m * ions, water / (WATER_G_MOL / 1000.0))
        assert abs(terms.sum()) < 1e-6 * np.abs(terms).sum()


@settings(max_examples=60, deadline=None)
@given(mixtures())
def test_what_one_salt_does_to_another_it_does_to_the_one(drawn: tuple[Mixture, np.ndarray]) -> None:
    """Second derivatives of the free energy do not hang on their order (Maxwell's relation)."""
    mixture, m = drawn
    steps = _neutral_steps(mixture)
    slopes = [_slopes(mixture, m, d)[0] for d in steps]
    for i, j in combinations(range(len(steps)), 2):
        size = np.abs(steps[j] * slopes[i]).sum() + np.abs(steps[i] * slopes[j]).sum()
        assert abs(steps[j] @ slopes[i] - steps[i] @ slopes[j]) < 1e-6 * size


@settings(max_examples=40, deadline=None)
@given(mixtures(), st.floats(0.1, 5.0))
def test_an_ion_that_is_not_there_changes_nothing(drawn: tuple[Mixture, np.ndarray], amount: float) -> None:
    """A mixture told with an absent ion answers as the mixture told without it."""
    mixture, m = drawn
    extra = next(ion for ion in ("K+", "Na+", "Ca+2", "Mg+2") if ion not in mixture.ions)
    told = Mixture((*mixture.ions, extra), mixing=True)
    plain = Mixture(mixture.ions, mixing=True)
    found, without = told.activities(np.append(amount * m, 0.0)), plain.activities(amount * m)
    assert_allclose(found.ln_gamma[:-1], without.ln_gamma, rtol=1e-12, atol=1e-9)
    assert_allclose(found.osmotic, without.osmotic, rtol=1e-9)
