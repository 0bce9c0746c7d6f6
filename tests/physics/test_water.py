"""Water's density against the international standard formulation."""

from __future__ import annotations

import numpy as np
import pytest
from held import Held
from numpy.testing import assert_allclose

from crystal.physics.water import density_g_mL

iapws = pytest.importorskip("iapws")


def standard_g_mL(temperature_C: float) -> float:
    """IAPWS-IF97 (iapws library): 1 atm below 100 °C, saturated liquid above."""
    if temperature_C < 99.9:
        return float(iapws.IAPWS97(T=temperature_C + 273.15, P=0.101325).rho) / 1000
    return float(iapws.IAPWS97(T=temperature_C + 273.15, x=0).rho) / 1000


RANGES = [(0.01, 99.0, 5e-5), (100.0, 150.0, 2e-4), (150.0, 200.0, 1.3e-3), (200.0, 260.0, 5e-3)]


def beside_standard(low_C: float, high_C: float, rtol: float) -> list[Held]:
    temperatures = np.linspace(low_C, high_C, 40)
    ours = density_g_mL(temperatures)
    return [
        Held(f"{t:.1f} °C", float(rho), standard_g_mL(t), rtol)
        for t, rho in zip(temperatures, ours, strict=True)
    ]


@pytest.mark.parametrize(("low_C", "high_C", "rtol"), RANGES)
def test_matches_the_standard_formulation(low_C, high_C, rtol):
    for held in beside_standard(low_C, high_C, rtol):
        held.check()


@pytest.mark.parametrize(
    ("temperature_C", "published_g_mL"),
    # Supercooled water at 1 atm: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, table of densities; recalled.
    [(-10.0, 0.998117), (-20.0, 0.993547), (-30.0, 0.983854)],
)
def test_supercooled_water(temperature_C, published_g_mL):
    assert_allclose(density_g_mL(temperature_C), published_g_mL, rtol=2e-5)


def test_held_where_the_formula_has_its_pole():
    assert_allclose(density_g_mL([-62.0, -40.0]), density_g_mL(-30.0), rtol=1e-15)


def test_shape_is_the_inputs():
    assert np.shape(density_g_mL(20.0)) == ()
    assert density_g_mL(np.full((2, 3), 20.0)).shape == (2, 3)
