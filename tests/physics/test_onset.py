"""First crystals: the map read backwards agrees with the map read forwards, and with known melting points."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from salts import SALTS, model

from crystal.physics.formula import composition_mass_fraction

ALL = sorted(SALTS)

# Melting points of hydrates in their own water of crystallisation, degC. Hydrates: CRC Handbook of Chemistry and Physics,
# Physical Constants of Inorganic Compounds, and H. W. B. Roozeboom, Z. physik. Chem. 10 (1892) 477 for iron(III)
# chloride; from memory. Tables differ by about 1 K.
MELTS = [
    ("FeCl3", 6.0, 37.0, 0.5),
    ("FeCl3", 3.5, 32.5, 0.5),
    ("FeCl3", 2.5, 56.0, 0.5),
    ("FeCl3", 2.0, 73.5, 0.5),
    ("Mg(NO3)2", 6.0, 89.5, 1.0),
    ("Zn(NO3)2", 6.0, 36.4, 0.5),
    ("Ca(NO3)2", 4.0, 42.7, 0.5),
    ("Al(NO3)3", 9.0, 73.0, 1.0),
    ("Fe(NO3)3", 9.0, 47.2, 0.5),
    ("KAl(SO4)2", 12.0, 92.5, 0.5),
    ("NH4Al(SO4)2", 12.0, 94.0, 1.0),
    ("KCr(SO4)2", 12.0, 89.0, 0.5),
]

# Temperature at which a hydrate gives way to a drier solid on warming, degC: the Glauber's salt point is a thermometric
# fixed point (T. W. Richards, Am. J. Sci. 1902: 32.38); the others CRC Handbook and Linke & Seidell, Solubilities of
# Inorganic and Metal-Organic Compounds; from memory.
TRANSITIONS = [
    ("Na2SO4", "Na2SO4.10H2O", 32.38, 0.05),
    ("MgSO4", "MgSO4.7H2O", 48.2, 0.5),
    ("ZnSO4", "ZnSO4.7H2O", 39.0, 1.0),
    ("FeSO4", "FeSO4.7H2O", 56.7, 0.5),
    ("CuSO4", "CuSO4.5H2O", 95.9, 0.5),
    ("Na2CO3", "Na2CO3.10H2O", 32.0, 0.3),
    ("NaC2H3O2", "NaC2H3O2.3H2O", 58.2, 0.5),
    ("Na2S2O3", "Na2S2O3.5H2O", 48.2, 0.3),
]


@pytest.mark.parametrize(("formula", "waters", "melts_C", "tolerance_K"), MELTS)
def test_melt_of_a_hydrates_own_composition_freezes_at_its_melting_point(
    formula, waters, melts_C, tolerance_K
):
    its = model(formula)
    first = its.onset.first(composition_mass_fraction(formula, waters))
    assert bool(first.found)
    assert_allclose(float(first.temperature_C), melts_C, rtol=0, atol=tolerance_K)
    assert its.map.solids[int(first.solid)].phase.waters == waters


@pytest.mark.parametrize(("formula", "solid", "ends_C", "tolerance_K"), TRANSITIONS)
def test_hydrate_gives_way_at_its_transition(formula, solid, ends_C, tolerance_K):
    its = model(formula).map
    x = next(s.mass_fraction for s in its.solids if s.formula == solid)

    def present(t: float) -> bool:
        found = its.at(0.999 * x, t)
        names = {its.solids[int(i)].formula for i in (found.lean_solid, found.rich_solid) if i >= 0}
        return solid in names

    assert present(ends_C - tolerance_K - 0.1)
    assert not present(ends_C + tolerance_K + 0.1)


@pytest.mark.parametrize("formula", ALL)
def test_just_above_first_crystals_it_is_clear_and_just_below_that_solid_stands(formula):
    its = model(formula)
    rng = np.random.default_rng(3)
    saturated = [
        rng.uniform(p.mass_fraction.min(), p.mass_fraction.max(), 50)
        for s in its.map.solids
        for p in s.pieces
    ]
    w = np.concatenate([rng.uniform(0.0, 1.0, 200), *saturated])
    first = its.onset.first(w)
    assert first.found.any()
    w, t, solid = w[first.found], first.temperature_C[first.found], first.solid[first.found]
    above = its.map.look_up(w, np.minimum(t + 1e-3, its.map.high_C))
    inside = t + 1e-3 < its.map.high_C
    known = above.known & inside
    assert_allclose(above.liquor_fraction[known], 1.0, atol=1e-9)
    below = its.map.look_up(w, t - 1e-3)
    known = below.known & (t - 1e-3 > its.map.low_C)
    stands = ((below.lean_solid == solid) & (below.lean_solid_fraction > 0)) | (
        (below.rich_solid == solid) & (below.rich_solid_fraction > 0)
    )
    # At the corner of two branches the colder branch's solid may follow within a thousandth of a kelvin.
    assert stands[known].mean() > 0.99
    assert ((below.lean_solid_fraction + below.rich_solid_fraction)[known] > 0).all()


@pytest.mark.parametrize("formula", ALL)
def test_no_hotter_first_crystals_were_missed(formula):
    """Against a scan: wherever solid appears on cooling from clear, first crystals are no colder."""
    its = model(formula)
    t = np.linspace(its.map.high_C, its.map.low_C, 400)
    for w in np.linspace(0.01, 0.99, 25):
        state = its.map.look_up(w, t)
        clear = state.known & (state.liquor_fraction == 1.0)
        solid = state.known & (state.liquor_fraction < 1.0)
        appears = np.flatnonzero(clear[:-1] & solid[1:])
        first = its.onset.first(w)
        if len(appears):
            assert bool(first.found)
            hot, cold = t[appears[0]], t[appears[0] + 1]
            assert cold - 1e-9 <= float(first.temperature_C) <= hot + 1e-9


def test_salt_less_soluble_hot_gives_no_first_crystals_on_cooling_from_its_hot_branch():
    # Above 32.4 °C anhydrous sodium sulfate comes on heating; on cooling the decahydrate does.
    its = model("Na2SO4")
    first = its.onset.first(0.30)
    assert its.map.solids[int(first.solid)].formula == "Na2SO4.10H2O"
    assert float(first.temperature_C) < 32.38
    # Stronger than any clear liquid in the data: no first crystals are claimed.
    assert not bool(its.onset.first(0.40).found)


def test_shape_is_kept():
    first = model("KNO3").onset.first(np.full((2, 3), 0.4))
    assert first.temperature_C.shape == first.found.shape == first.solid.shape == (2, 3)
    assert model("KNO3").onset.first(0.4).found.shape == ()
