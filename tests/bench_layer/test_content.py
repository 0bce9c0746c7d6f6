"""A pot with others in it, told by a strength or a density and a size, is the pot that has them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import model

from crystal.bench.content import salt_and_water_g
from crystal.bench.pot import Pot, Strength
from crystal.errors import InputError
from crystal.physics.others import Others

AT_C = 20.0
BESIDE = {"MgSO4": {"H2SO4": 12.0}, "KNO3": {"NaNO3": 20.0, "KCl": 5.0}, "NaCl": {"HCl": 9.0}}


def solved(
    pot: Pot, strength: Strength | None, size: str, density: tuple[float, float] | None = None
) -> tuple[float, float]:
    sizes = {"volume_mL": pot.volume_mL(AT_C), "mass_g": pot.mass_g, "water_g": pot.water_g}
    given_size = {name: value if name == size else None for name, value in sizes.items()}
    return salt_and_water_g(
        pot.model, pot.others, strength=strength, density_g_mL=density, read_at_C=AT_C, **given_size
    )


@given(
    st.sampled_from(sorted(BESIDE)), st.floats(2.0, 60.0), st.floats(120.0, 400.0),
    st.sampled_from(["volume_mL", "mass_g", "water_g"]),
    st.sampled_from(["mass_fraction", "g_per_mL", "mol_per_L", "g_per_g_water", "mol_per_kg_water", "density"]),
)  # fmt: skip
def test_what_is_told_of_a_pot_gives_its_masses_back(formula, salt_g, water_g, size, kind):
    pot = Pot(model(formula), salt_g, water_g, AT_C, Others.of(BESIDE[formula]))
    mol = salt_g / pot.model.molar_mass_g_mol
    told = {
        "mass_fraction": salt_g / pot.mass_g,
        "g_per_mL": salt_g / pot.volume_mL(AT_C),
        "mol_per_L": 1000.0 * mol / pot.volume_mL(AT_C),
        "g_per_g_water": salt_g / water_g,
        "mol_per_kg_water": 1000.0 * mol / water_g,
    }
    if kind == "density":
        found = solved(pot, None, size, (pot.density_g_mL(AT_C), AT_C))
    else:
        found = solved(pot, Strength(kind, told[kind]), size)
    assert_allclose(found, (salt_g, water_g), rtol=1e-7)


def test_more_of_others_than_the_whole_is_refused():
    others = Others.of({"HCl": 30.0})
    told = {"strength": Strength("mass_fraction", 0.1), "density_g_mL": None, "read_at_C": AT_C}
    with pytest.raises(InputError, match="more than the 30 g of HCl"):
        salt_and_water_g(model("NaCl"), others, **told, volume_mL=None, mass_g=25.0, water_g=None)
    with pytest.raises(InputError, match="large enough to hold 30 g"):
        salt_and_water_g(model("NaCl"), others, **told, volume_mL=5.0, mass_g=None, water_g=None)


@pytest.mark.parametrize("density", [0.9, 1.01, 3.5])
def test_a_density_that_no_such_mixture_has_is_refused(density):
    with pytest.raises(InputError, match="no mixture with its other solutes has"):
        salt_and_water_g(model("NaCl"), Others.of({"HCl": 30.0}), strength=None, density_g_mL=(density, AT_C),
                         volume_mL=None, mass_g=None, water_g=200.0, read_at_C=AT_C)  # fmt: skip
