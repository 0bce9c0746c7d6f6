"""Water vapour, water activity and boiling temperatures: monotone, inverse, absent where nothing is known."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import SALTS, model

from crystal.data.heat_limits import heat_limits_of
from crystal.data.ion_interaction import bundled_ion_interactions, charge_of
from crystal.errors import InputError
from crystal.physics.activity import Activity
from crystal.physics.boiling import BETWEEN, IONS, NONE, Boiling
from crystal.physics.boiling_beside import BoilingBeside
from crystal.physics.others import Others
from crystal.physics.vapour import (
    STANDARD_kPa,
    activity_of_boiling,
    boiling_temperature_C,
    boiling_with_activity_C,
    latent_heat_kJ_kg,
    pressure_at_altitude_kPa,
    saturation_pressure_kPa,
)

WITH_ACTIVITY = sorted(f for f in SALTS if Activity.of(f) is not None)


@given(st.floats(0.0, 373.0))
def test_boiling_is_the_inverse_of_pressure(temperature_C):
    assert_allclose(
        float(boiling_temperature_C(saturation_pressure_kPa(temperature_C))), temperature_C, atol=1e-7
    )


def test_vapour_takes_arrays_and_stops_where_there_is_no_boiling():
    t = np.array([[0.0, 50.0], [100.0, 374.0]])
    p = saturation_pressure_kPa(t)
    assert p.shape == t.shape
    assert np.isnan(p[1, 1])
    assert np.isnan(saturation_pressure_kPa(-50.0))
    assert np.isnan(boiling_temperature_C([0.1, 30000.0])).all()
    assert (np.diff(latent_heat_kJ_kg(np.linspace(0.0, 200.0, 50))) < 0).all()


@pytest.mark.parametrize("metres", [-3000.0, 12000.0, float("nan")])
def test_altitudes_beyond_the_layer_are_refused(metres):
    with pytest.raises(InputError, match=r"altitude: got .* from -2000 to 11000 m"):
        pressure_at_altitude_kPa(metres)


@given(st.floats(0.2, 1.0), st.floats(50.0, 105.0))
def test_activity_of_boiling_is_the_inverse(activity, pressure_kPa):
    boils = boiling_with_activity_C(activity, pressure_kPa)
    assert_allclose(float(activity_of_boiling(boils, pressure_kPa)), activity, rtol=1e-9)


def test_ion_table_is_neutral_and_adds_up():
    """Charges cancel, and the ions' atoms are the salt's: a slip in the import would show."""
    from crystal.physics.species import Species

    listed = bundled_ion_interactions()
    assert len(listed) > 140
    for formula, ions in listed.items():
        z = ions.charges
        assert ions.cations * z[0] + ions.anions * z[1] == 0, formula
        assert z[0] > 0 > z[1], formula
        atoms: dict[str, float] = {}
        for ion, n in ((ions.cation, ions.cations), (ions.anion, ions.anions)):
            body = ion[: -len(str(abs(charge_of(ion)))) - 1] if abs(charge_of(ion)) > 1 else ion[:-1]
            for symbol, count in Species.parse(body).counts:
                atoms[symbol] = atoms.get(symbol, 0) + n * float(count)
        assert atoms == {s: float(n) for s, n in Species.parse(formula).counts}, formula
        assert (ions.alpha2 > 0) == (ions.beta2 != 0), formula


def test_a_charge_must_be_there():
    with pytest.raises(ValueError, match="'NaCl' bears no charge"):
        charge_of("NaCl")


@pytest.mark.parametrize("formula", WITH_ACTIVITY)
def test_more_salt_boils_hotter(formula):
    """Monotone up to where it ends, with the error growing along, at the sea and at 2500 m."""
    boiling = Boiling.of(model(formula))
    w = np.linspace(0.0, boiling.highest_mass_fraction, 240)
    for pressure in (STANDARD_kPa, pressure_at_altitude_kPa(2500.0)):
        t, error = boiling.temperature_C(w, pressure), boiling.error_K(w, pressure)
        assert_allclose(t[0], float(boiling_temperature_C(pressure)), atol=1e-9)
        assert (np.diff(t) > 0).all()
        assert (error >= 0.2 - 1e-12).all()


@pytest.mark.parametrize("formula", WITH_ACTIVITY)
def test_composition_of_a_boiling_temperature(formula):
    boiling = Boiling.of(model(formula))
    for share in (0.1, 0.5, 0.97):
        w = share * boiling.highest_mass_fraction
        boils = float(boiling.temperature_C(w, 95.0))
        assert_allclose(boiling.mass_fraction(boils, 95.0), w, atol=1e-7)


def test_nothing_is_said_beyond_what_is_known():
    boiling = Boiling.of(model("MgSO4"))  # no saturated boiling point in the data
    edge = boiling.range_mass_fraction
    assert boiling.basis([0.0, edge, edge + 1e-6, -0.1]).tolist() == [IONS, IONS, NONE, NONE]
    assert np.isnan(boiling.temperature_C(edge + 1e-6, STANDARD_kPa))
    assert np.isnan(boiling.error_K(edge + 1e-6, STANDARD_kPa))
    assert np.isnan(boiling.mass_fraction(99.0, STANDARD_kPa))
    assert np.isnan(boiling.mass_fraction(200.0, STANDARD_kPa))
    assert np.isnan(Boiling.of(model("citric acid")).temperature_C(0.1, STANDARD_kPa))


def test_way_to_the_saturated_liquor_meets_both_ends():
    boiling = Boiling.of(model("KNO3"))
    edge, top = boiling.range_mass_fraction, boiling.highest_mass_fraction
    assert top > 0.7 > edge
    assert int(boiling.basis(0.5)) == BETWEEN
    assert_allclose(
        float(boiling.temperature_C(top, STANDARD_kPa)), boiling.saturated.temperature_C, atol=1e-6
    )
    left, right = boiling.temperature_C([edge, edge + 1e-9], STANDARD_kPa)
    assert_allclose(left, right, atol=1e-5)
    assert float(boiling.error_K(top, STANDARD_kPa)) > 1.5


def test_two_kinds_of_heat_limit_stand_side_by_side():
    """Common practice, no source: iron(II) chloride is worked below about 90 °C and breaks down from 105; iron(III) chloride
    is worked to 110-120 °C at most, breaks down from about 150, and begins to lose acid at 100 °C (the catalogue's own)."""
    limits = {
        f: {x.kind: x.temperature_C for x in heat_limits_of(SALTS[f])} for f in ("FeCl2", "FeCl3", "NaCl")
    }
    assert limits["FeCl2"] == {"work_below": 90.0, "breaks_down": 105.0}
    assert limits["FeCl3"] == {"begins": 100.0, "work_below": 120.0, "breaks_down": 150.0}
    assert limits["NaCl"] == {}


BESIDE = [
    ("NaCl", 50.0, {"KCl": 20.0}),
    ("MgSO4", 97.0, {"NaCl": 3.0}),
    ("CuSO4", 76.0, {"H2SO4": 10.0}),
    ("FeCl2", 50.0, {"HCl": 5.0}),
    ("KNO3", 100.0, {"NaCl": 10.0, "K2SO4": 2.0}),
]


@pytest.mark.parametrize(("formula", "salt_g", "others"), BESIDE)
def test_more_of_a_mixture_boils_hotter_and_the_composition_comes_back(formula, salt_g, others):
    boiling = BoilingBeside.of(model(formula), salt_g, Others.of(others))
    high = boiling.highest_mass_fraction
    assert 0.05 < high < Boiling.of(model(formula)).highest_mass_fraction
    w = np.linspace(0.0, high, 60)
    t, error = boiling.temperature_C(w, 95.0), boiling.error_K(w, 95.0)
    assert_allclose(t[0], float(boiling_temperature_C(95.0)), atol=1e-9)
    assert (np.diff(t) > 0).all()
    assert (error >= 0.2 - 1e-12).all()
    assert_allclose(boiling.mass_fraction(float(t[30]), 95.0), w[30], atol=1e-7)
    assert np.isnan(boiling.temperature_C(high + 1e-6, 95.0))
    assert boiling.basis([0.0, high, high + 1e-6]).tolist() == [NONE, IONS, NONE]


def test_a_trace_of_company_changes_nothing():
    w = np.linspace(0.01, 0.25, 20)
    alone = Boiling.of(model("NaCl"))
    beside = BoilingBeside.of(model("NaCl"), 50.0, Others.of({"MgSO4": 1e-7}))
    assert_allclose(beside.temperature_C(w, 101.0), alone.temperature_C(w, 101.0), atol=1e-6)
    assert_allclose(beside.error_K(w, 101.0), alone.error_K(w, 101.0), atol=1e-6)


def test_two_salts_boil_alike_whichever_is_called_the_salt():
    one = BoilingBeside.of(model("NaCl"), 30.0, Others.of({"KCl": 20.0}))
    two = BoilingBeside.of(model("KCl"), 20.0, Others.of({"NaCl": 30.0}))
    assert_allclose(one.temperature_C(30 / 330, 101.0), two.temperature_C(20 / 320, 101.0), atol=1e-9)
    assert_allclose(one.error_K(30 / 330, 101.0), two.error_K(20 / 320, 101.0), atol=1e-9)


@pytest.mark.parametrize(
    ("formula", "others", "text"),
    [
        ("C6H8O7", {"NaCl": 5.0}, "C6H8O7 is no salt of known ions"),
        ("NaCl", {"NH3": 5.0}, "NH3 is no salt or strong acid"),
        ("CuCl2", {"HCl": 5.0}, r"Cu\+2 binds chloride"),
        ("CaCl2", {"Na2SO4": 0.1}, r"no ion-interaction parameters are in the data for Ca\+2 with SO4-2"),
    ],
)
def test_why_no_boiling_temperature_is_told_beside_others(formula, others, text):
    boiling = BoilingBeside.of(model(formula), 50.0, Others.of(others))
    assert re.search(text, boiling.reason)
    assert boiling.highest_mass_fraction == 0.0
    assert np.isnan(boiling.temperature_C(0.1, 101.0))
    assert np.isnan(boiling.error_K(0.1, 101.0))
    assert np.isnan(boiling.mass_fraction(102.0, 101.0))
