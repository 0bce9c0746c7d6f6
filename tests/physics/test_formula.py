"""Formulas and molar masses, against another library's table of atomic masses."""

from __future__ import annotations

import periodictable
import pytest
from held import Held
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS

from crystal.errors import InputError
from crystal.physics.formula import WATER_G_MOL, Hydrate, composition_mass_fraction, molar_mass_g_mol

# molmass averages the isotopes (S 32.0648, Cl 35.4529), periodictable has the abridged standard values (32.06, 35.45).
ATOMIC_MASSES = 1e-4

SOLIDS = sorted({(f, p.formula, p.waters) for f, s in SALTS.items() for p in s.phases if not p.is_ice})


def molar_mass(formula: str) -> Held:
    return Held(formula, molar_mass_g_mol(formula), periodictable.formula(formula).mass, ATOMIC_MASSES)


def hydrate_beside(salt: str, solid: str, waters: float) -> list[Held]:
    """A hydrate's molar mass, and its share of anhydrous salt."""
    hydrate = Hydrate.parse(solid)
    dry = periodictable.formula(salt).mass
    whole = dry + waters * periodictable.formula("H2O").mass
    return [
        Held(solid, hydrate.molar_mass_g_mol, whole, ATOMIC_MASSES),
        Held(f"share of salt in {solid}", hydrate.salt_mass_fraction, dry / whole, ATOMIC_MASSES),
    ]


@pytest.mark.parametrize("formula", sorted(SALTS))
def test_molar_mass_against_periodictable(formula):
    molar_mass(formula).check()


@pytest.mark.parametrize(("salt", "solid", "waters"), SOLIDS, ids=[s for _, s, _ in SOLIDS])
def test_hydrate_against_periodictable(salt, solid, waters):
    hydrate = Hydrate.parse(solid)
    assert (hydrate.anhydrous, hydrate.waters) == (salt, waters)
    for held in hydrate_beside(salt, solid, waters):
        held.check()
    assert composition_mass_fraction(salt, waters) == hydrate.salt_mass_fraction


def test_ice_holds_no_salt_and_the_anhydrous_salt_nothing_else():
    assert composition_mass_fraction("CuSO4", None) == 0.0
    assert composition_mass_fraction("CuSO4", 0.0) == 1.0


@pytest.mark.parametrize(
    ("text", "waters", "form"),
    [
        ("FeCl3.3.5H2O", 3.5, ""),
        ("FeCl3·2.5H2O", 2.5, ""),
        ("CdSO4.2.67H2O", 2.67, ""),
        ("ZnCl2.1.5H2O", 1.5, ""),
        ("Na2CO3 . 10 H2O", 10.0, ""),
        ("CuSO4*5H2O", 5.0, ""),
        ("MgSO4.H2O", 1.0, ""),
        ("NiSO4.6H2O-alpha", 6.0, "-alpha"),
        ("K4Fe(CN)6•3H2O", 3.0, ""),
    ],
)
def test_crystal_water_as_people_write_it(text, waters, form):
    hydrate = Hydrate.parse(text)
    assert (hydrate.waters, hydrate.form) == (waters, form)


@given(st.floats(0.01, 30.0).map(lambda n: round(n, 2)), st.sampled_from(["FeCl3", "Na2SO4", "KAl(SO4)2"]))
def test_fractional_waters_add_their_own_mass(waters, salt):
    hydrate = Hydrate.parse(f"{salt}.{waters}H2O")
    assert_allclose(hydrate.molar_mass_g_mol - molar_mass_g_mol(salt), waters * WATER_G_MOL, rtol=1e-9)
    assert 0.0 < hydrate.salt_mass_fraction < 1.0


@pytest.mark.parametrize("text", ["H2O", "water"])
def test_water_alone_is_no_salt(text):
    with pytest.raises(InputError, match="a salt, not water alone"):
        Hydrate.parse(text)


@pytest.mark.parametrize("text", ["Xy2", "copper", "Cu(SO4", "", "CuSO4 + 5", "Zz.5H2O"])
def test_what_is_no_formula_is_named_with_an_example(text):
    with pytest.raises(InputError, match=r"formula: got .*for example") as caught:
        Hydrate.parse(text)
    assert "\n" not in str(caught.value)
