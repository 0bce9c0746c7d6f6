"""Quantities read from text: values, refusals, round trips, and that nothing but InputError ever comes out.

Expected values are worked out by hand from the conversion factors of NIST SP 811 (2008), appendix B.8, exact
by definition (read from memory): avoirdupois pound 453.59237 g, ounce a sixteenth of it; inch 2.54 cm;
US gallon 231 cubic inches, pint an eighth of it, cup a sixteenth, fluid ounce 1/128, tablespoon half a fluid
ounce, teaspoon a third of a tablespoon; imperial gallon 4.54609 L; degF = 1.8 degC + 32; 0 K = -273.15 degC.
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from crystal import units
from crystal.errors import InputError
from crystal.physics.formula import Hydrate
from crystal.units import Amount, Size, Strength

EXACT = 1e-15  # relative: one rounding of the exact result
GALLON_ML = 231 * 2.54**3
CUSO4_5H2O = Hydrate("CuSO4", 5.0)

# Atomic masses for the moles: CIAAW abridged standard atomic weights 2021, from memory:
# Cu 63.546, S 32.06, O 15.999, H 1.008.
CUSO4_G_MOL = 63.546 + 32.06 + 4 * 15.999
H2O_G_MOL = 2 * 1.008 + 15.999


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("5 degC", 5.0),
        ("5 C", 5.0),
        ("5 °C", 5.0),
        ("5°C", 5.0),
        ("5 ℃", 5.0),
        ("5 celsius", 5.0),
        ("5 degrees Celsius", 5.0),
        ("41 F", 5.0),
        ("41 °F", 5.0),
        ("-40 degF", -40.0),
        ("278 K", 4.85),
        ("-3 C", -3.0),
        ("−3 °C", -3.0),
        ("+3 C", 3.0),
        ("0,5 °C", 0.5),
        ("5\u2009°C", 5.0),
        ("1e1 C", 10.0),
        ("0 K", -273.15),
        ("-459.67 F", -273.15),
    ],
)
def test_temperature(text: str, expected: float) -> None:
    assert units.temperature_C(text, what="--cold") == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("20, 10, 0 degC", [20.0, 10.0, 0.0]),
        ("20 degC; 10 degC", [20.0, 10.0]),
        ("68 F, 10 C", [20.0, 10.0]),
        ("68, 50 °F", [20.0, 10.0]),
        ("2,5; -1,5 degC", [2.5, -1.5]),
        ("5 degC", [5.0]),
    ],
)
def test_temperatures(text: str, expected: list[float]) -> None:
    assert units.temperatures_C(text, what="--cold") == expected


@pytest.mark.parametrize(
    ("reader", "text", "expected"),
    [
        (units.mass_g, "120 g", 120.0),
        (units.mass_g, "1.5 kg", 1500.0),
        (units.mass_g, "250 mg", 0.25),
        (units.mass_g, "0.002 t", 2000.0),
        (units.mass_g, "1 lb", 453.59237),
        (units.mass_g, "4 oz", 453.59237 / 4),
        (units.mass_g, "5 lbs.", 2267.96185),
        (units.mass_g, "2 grams", 2.0),
        (units.mass_g, "1\u2009250,5 g", 1250.5),
        (units.mass_g, "1\u202f000\u202f000 mg", 1000.0),
        (units.mass_g, "1234,567 g", 1234.567),
        (units.mass_g, "0,125 kg", 125.0),
        (units.mass_g, "1 short_ton", 2000 * 453.59237),
        (units.volume_mL, "400 mL", 400.0),
        (units.volume_mL, "0,5 L", 500.0),
        (units.volume_mL, "1 l", 1000.0),
        (units.volume_mL, "50 ml", 50.0),
        (units.volume_mL, "10 cl", 100.0),
        (units.volume_mL, "2 dL", 200.0),
        (units.volume_mL, "3 cm3", 3.0),
        (units.volume_mL, "3 cm³", 3.0),
        (units.volume_mL, "3 cm^3", 3.0),
        (units.volume_mL, "3 cc", 3.0),
        (units.volume_mL, "1e-3 m3", 1000.0),
        (units.volume_mL, "1 gal", GALLON_ML),
        (units.volume_mL, "1 US gal", GALLON_ML),
        (units.volume_mL, "1 pint", GALLON_ML / 8),
        (units.volume_mL, "1 cup", GALLON_ML / 16),
        (units.volume_mL, "8 fl oz", GALLON_ML / 16),
        (units.volume_mL, "8 US fl. oz.", GALLON_ML / 16),
        (units.volume_mL, "8 floz", GALLON_ML / 16),
        (units.volume_mL, "1 tbsp", GALLON_ML / 256),
        (units.volume_mL, "3 tsp", GALLON_ML / 256),
        (units.volume_mL, "1 imperial gallon", 4546.09),
        (units.volume_mL, "160 imp fl oz", 4546.09),
        (units.volume_mL, "8 UK pint", 4546.09),
        (units.time_h, "12 h", 12.0),
        (units.time_h, "90 min", 1.5),
        (units.time_h, "1800 s", 0.5),
        (units.time_h, "2 days", 48.0),
        (units.time_h, "1 week", 168.0),
        (units.density_g_mL, "1.18 g/mL", 1.18),
        (units.density_g_mL, "1,18 g/mL", 1.18),
        (units.density_g_mL, "1180 kg/m3", 1.18),
        (units.density_g_mL, "1180 kg/m³", 1.18),
        (units.density_g_mL, "1.18 kg/L", 1.18),
        (units.density_g_mL, "1.18 g / cm3", 1.18),
        (units.density_g_mL, "1.18 g per mL", 1.18),
        (units.density_g_mL, "10 lb/gal", 4535.9237 / GALLON_ML),
    ],
)
def test_measures(reader: Callable[..., Any], text: str, expected: float) -> None:
    assert_allclose(reader(text, what="--x"), expected, rtol=EXACT)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1.18 g/mL at 20 degC", (1.18, 20.0)),
        ("1.18 g/mL @ 68 °F", (1.18, 20.0)),
        ("1180 kg/m3 at 293.15 K", (1.18, 20.0)),
        ("1.18 g/mL", (1.18, None)),
    ],
)
def test_density_at(text: str, expected: tuple[float, float | None]) -> None:
    assert units.density_at(text, what="--density") == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("150 mL", Size("volume_mL", 150.0)),
        ("0,15 L", Size("volume_mL", 150.0)),
        ("180 g", Size("mass_g", 180.0)),
        ("40 %", Size("fraction", 0.4)),
        ("40%", Size("fraction", 0.4)),
        ("40 % of the start", Size("fraction", 0.4)),
        ("0.4", Size("fraction", 0.4)),
        ("1/8", Size("fraction", 0.125)),
        ("1⁄8", Size("fraction", 0.125)),
        ("1/8 of the start", Size("fraction", 0.125)),
        ("100 %", Size("fraction", 1.0)),
        ("1.25 g/mL", Size("density_g_mL", 1.25)),
        ("1250 kg/m3", Size("density_g_mL", 1.25)),
        ("26 % w/w", Size("strength", 0.26, Strength("mass_fraction", 0.26))),
        ("26 wt%", Size("strength", 0.26, Strength("mass_fraction", 0.26))),
        ("5 % w/v", Size("strength", 0.05, Strength("g_per_mL", 0.05))),
        ("1.5 M", Size("strength", 1.5, Strength("mol_per_L", 1.5))),
        ("2 mol/kg", Size("strength", 2.0, Strength("mol_per_kg_water", 2.0))),
        ("35 g/100 mL", Size("strength", 0.35, Strength("g_per_mL", 0.35))),
        ("350 g/L of solution", Size("strength", 0.35, Strength("g_per_mL", 0.35))),
        ("35 g/100 g water", Size("strength", 0.35, Strength("g_per_g_water", 0.35))),
    ],
)
def test_end_size(text: str, expected: Size) -> None:
    assert units.end_size(text, what="--end") == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("300 mL, 250 mL, 40 %", [("volume_mL", 300.0), ("volume_mL", 250.0), ("fraction", 0.4)]),
        ("300mL,250mL", [("volume_mL", 300.0), ("volume_mL", 250.0)]),
        ("0,5 L; 0,4 L", [("volume_mL", 500.0), ("volume_mL", 400.0)]),
        ("0.4, 1/8", [("fraction", 0.4), ("fraction", 0.125)]),
        ("300 mL, 0.4", [("volume_mL", 300.0), ("fraction", 0.4)]),
        ("26 % w/w, 1.25 g/mL", [("strength", 0.26), ("density_g_mL", 1.25)]),
    ],
)
def test_end_sizes(text: str, expected: list[tuple[str, float]]) -> None:
    assert [(size.kind, size.value) for size in units.end_sizes(text, what="--end")] == expected


@pytest.mark.parametrize(
    ("text", "formula", "grams", "anhydrous_g"),
    [
        ("120 g", None, 120.0, None),
        ("120 g of CuSO4", Hydrate("CuSO4", 0.0), 120.0, 120.0),
        (
            "120 g of CuSO4.5H2O",
            CUSO4_5H2O,
            120.0,
            120.0 * CUSO4_G_MOL / (CUSO4_G_MOL + 5 * H2O_G_MOL),
        ),
        (
            "120 g CuSO₄·5H₂O",
            CUSO4_5H2O,
            120.0,
            120.0 * CUSO4_G_MOL / (CUSO4_G_MOL + 5 * H2O_G_MOL),
        ),
        ("0.48 mol CuSO4", Hydrate("CuSO4", 0.0), 0.48 * CUSO4_G_MOL, 0.48 * CUSO4_G_MOL),
        (
            "0.48 mol of CuSO4·5H2O",
            CUSO4_5H2O,
            0.48 * (CUSO4_G_MOL + 5 * H2O_G_MOL),
            0.48 * CUSO4_G_MOL,
        ),
        (
            "480 mmol CuSO4 · 5 H2O",
            CUSO4_5H2O,
            0.48 * (CUSO4_G_MOL + 5 * H2O_G_MOL),
            0.48 * CUSO4_G_MOL,
        ),
        ("1 lb of NiSO4.6H2O-alpha", Hydrate("NiSO4", 6.0, "-alpha"), 453.59237, None),
    ],
)
def test_amount(text: str, formula: Hydrate | None, grams: float, anhydrous_g: float | None) -> None:
    amount = units.amount_of(text, what="--salt")
    assert amount.formula == formula
    # 1e-4: atomic weights are rounded to the digits of the abridged table.
    assert_allclose(amount.grams, grams, rtol=1e-4)
    if anhydrous_g is not None:
        assert amount.anhydrous_g is not None
        assert_allclose(amount.anhydrous_g, anhydrous_g, rtol=1e-4)
    assert (amount.anhydrous_g is None) == (formula is None)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("18 % w/w", "mass_fraction", 0.18),
        ("18 %", "mass_fraction", 0.18),
        ("18%", "mass_fraction", 0.18),
        ("18 % (w/w)", "mass_fraction", 0.18),
        ("18 % m/m", "mass_fraction", 0.18),
        ("18 wt%", "mass_fraction", 0.18),
        ("18 wt.-%", "mass_fraction", 0.18),
        ("18 mass %", "mass_fraction", 0.18),
        ("18 % by mass", "mass_fraction", 0.18),
        ("18 g/100 g solution", "mass_fraction", 0.18),
        ("35 g/100 g water", "g_per_g_water", 0.35),
        ("35 g per 100 g water", "g_per_g_water", 0.35),
        ("35 g/100 g of water", "g_per_g_water", 0.35),
        ("35 g/100 g H2O", "g_per_g_water", 0.35),
        ("350 g/kg water", "g_per_g_water", 0.35),
        ("120 g/100 g water", "g_per_g_water", 1.2),
        ("35 g/100 mL", "g_per_mL", 0.35),
        ("350 g/L", "g_per_mL", 0.35),
        ("350 g/L of solution", "g_per_mL", 0.35),
        ("5 % w/v", "g_per_mL", 0.05),
        ("5 % (m/v)", "g_per_mL", 0.05),
        ("4 oz/gal", "g_per_mL", 453.59237 / 4 / GALLON_ML),
        ("1.5 mol/L", "mol_per_L", 1.5),
        ("1.5 mol/dm³", "mol_per_L", 1.5),
        ("1.5 M", "mol_per_L", 1.5),
        ("1500 mM", "mol_per_L", 1.5),
        ("2 mol/kg", "mol_per_kg_water", 2.0),
        ("2 mol/kg water", "mol_per_kg_water", 2.0),
        ("0.2 mol/100 g water", "mol_per_kg_water", 2.0),
        ("2 molal", "mol_per_kg_water", 2.0),
    ],
)
@pytest.mark.parametrize(("tail", "formula"), [("", None), (" of CuSO4.5H2O", CUSO4_5H2O)])
def test_strength(text: str, tail: str, kind: str, value: float, formula: Hydrate | None) -> None:
    found = units.strength(text + tail, what="--strength")
    assert (found.kind, found.formula) == (kind, formula)
    assert_allclose(found.value, value, rtol=EXACT)


def test_strength_takes_the_salt_where_tables_write_it() -> None:
    found = units.strength("20.7 g CuSO4/100 g water", what="--strength")
    assert found == Strength("g_per_g_water", 0.207, Hydrate("CuSO4", 0.0))


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("300 g", "water_g", 300.0),
        ("0.3 kg of water", "water_g", 300.0),
        ("5 %", "water_fraction", 0.05),
        ("5 % of the water", "water_fraction", 0.05),
    ],
)
def test_removal(text: str, kind: str, value: float) -> None:
    assert units.removal(text, what="--remove") == (kind, value)


@pytest.mark.parametrize("text", ["300 mL", "300 mL of water", "0.3 L"])
def test_removal_by_volume_is_water_at_20_degC(text: str) -> None:
    # IAPWS-95 through the iapws library; the constant is rounded to 0.0001 g/mL.
    iapws = pytest.importorskip("iapws")
    water_g_mL = iapws.IAPWS95(T=293.15, P=0.101325).rho / 1000
    kind, grams = units.removal(text, what="--remove")
    assert kind == "water_g"
    assert_allclose(grams, 300 * water_g_mL, atol=300 * 0.00005)


READERS = [
    units.temperature_C,
    units.temperatures_C,
    units.mass_g,
    units.volume_mL,
    units.time_h,
    units.density_g_mL,
    units.density_at,
    units.end_size,
    units.end_sizes,
    units.amount_of,
    units.strength,
    units.removal,
]


@pytest.mark.parametrize(
    ("reader", "text", "message"),
    [
        (units.temperature_C, "5", "needs a unit: 5 degC"),
        (units.temperature_C, "5 g", "must be a temperature.*'g' is none"),
        (units.temperature_C, "5 degX", "did you mean degF or degC"),
        (units.temperature_C, "5 degC now", "'degC now' is none"),
        (units.temperature_C, "5 delta_degC", "'delta_degC' is none"),
        (units.temperature_C, "nan degC", "a number, then a unit"),
        (units.temperature_C, "inf degC", "a number, then a unit"),
        (units.temperature_C, "1e400 degC", "a finite number"),
        (units.temperature_C, "-273.16 degC", "absolute zero, -273.15 degC"),
        (units.temperature_C, "-1 K", "absolute zero"),
        (units.temperature_C, "", "must be a temperature"),
        (units.temperature_C, "½ degC", "a number, then a unit"),
        (units.temperature_C, "5" * 201 + " K", "at most 200 characters"),
        (units.temperatures_C, "20, 10", "a unit on each or once at the end"),
        (units.temperatures_C, "20 degC, 10", "a unit on each or once at the end"),
        (units.temperatures_C, "20,10 degC", "without doubt about the commas"),
        (units.temperatures_C, "20,, 10 degC", "nothing left out"),
        (units.mass_g, "120", "needs a unit: 120 g"),
        (units.mass_g, "5 mL", "must be a mass.*'mL' is none"),
        (units.mass_g, "3 KG", "did you mean kg"),
        (units.mass_g, "3 Mg", r"write mg \(Mg is a tonne\)"),
        (units.mass_g, "3 gr", "grain"),
        (units.mass_g, "3 tons", "differs between countries"),
        (units.mass_g, "0 g", "more than 0 g"),
        (units.mass_g, "-1 g", "more than 0 g"),
        (units.mass_g, "1,500 g", r"write 1\.500 or 1500"),
        (units.mass_g, "1,500.5 g", "no space or mark between thousands"),
        (units.mass_g, "1 000 g", "no space or mark between thousands"),
        (units.mass_g, "1/2 kg", "a decimal number"),
        (units.mass_g, "1e308 t", "a size that occurs"),
        (units.mass_g, "120 g of CuSO4", "'g of CuSO4' is none"),
        (units.volume_mL, "8 oz", "oz is a mass: write fl oz"),
        (units.volume_mL, "500 ML", "ML is a million litres"),
        (units.volume_mL, "10³ mL", "must be a volume"),
        (units.volume_mL, "400 mLL", "did you mean mL"),
        (units.volume_mL, "400 mL extra", "'mL extra' is none"),
        (units.time_h, "2 m", "must be a time"),
        (units.density_g_mL, "1.18", "needs a unit: 1.18 g/mL"),
        (units.density_g_mL, "1.18 mL/g", "must be a density"),
        (units.density_g_mL, "1.18 g/mL/s", "'g/mL/s' is none"),
        (units.density_at, "1.18 g/mL at 20", "needs a unit: 5 degC"),
        (units.end_size, "150", "needs a unit, for example 150 mL"),
        (units.end_size, "1", "needs a unit"),
        (units.end_size, "0 %", "more than 0 and at most 1"),
        (units.end_size, "120 %", "more than 0 and at most 1"),
        (units.end_size, "8/1", "more than 0 and at most 1"),
        (units.end_size, "1/0", "not divide by 0"),
        (units.end_size, "1/8 L", "a decimal number"),
        (units.end_size, "2 m", "m may be molal or metre"),
        (units.end_size, "350 g/L", "at least 0.9 g/mL; write salt per volume as '350 g/L of solution'"),
        (units.end_size, "150 mLL", "did you mean mL"),
        (units.end_size, "5 degC", "must be an end size"),
        (units.end_size, "100 % w/w", "a mass fraction between 0 and 1"),
        (units.end_sizes, "300, 250 mL", "sizes with a unit each"),
        (units.end_sizes, "0.5, 1 L", "sizes with a unit each"),
        (units.end_sizes, "0,5 L", "without doubt about the commas"),
        (units.end_sizes, "300 mL,", "nothing left out"),
        (units.amount_of, "120", "needs a unit: 120 g"),
        (units.amount_of, "0.48 mol", "with a formula, as it is in moles"),
        (units.amount_of, "5 mL of CuSO4", "'mL' is none"),
        (units.amount_of, "5 g of Xx", "a formula that can be read"),
        (units.amount_of, "5 g of water", "a salt, not water alone"),
        (units.amount_of, "0 g of NaCl", "more than 0 g"),
        (units.amount_of, "1e308 mol NaCl", "more than 0 g, and finite"),
        (units.strength, "0.18", "must be a strength"),
        (units.strength, "35 g", "must be a strength"),
        (units.strength, "0 %", "more than 0"),
        (units.strength, "100 %", "a mass fraction between 0 and 1"),
        (units.strength, "120 g/100 g solution", "a mass fraction between 0 and 1"),
        (units.strength, "5 % v/v", "no percent by volume"),
        (units.strength, "2 m", "m may be molal or metre"),
        (units.strength, "35 g/100 g", "'g water' or 'g solution'"),
        (units.strength, "350 g/kg", "'g water' or 'g solution'"),
        (units.strength, "35 g/100 mL water", "per mass of water, or per volume of solution"),
        (units.strength, "2 mol/kg of solution", "moles per kg of water or per L of solution"),
        (units.strength, "35 g/0 g water", "per an amount of more than 0"),
        (units.strength, "18 % sugar", "a formula that can be read"),
        (units.strength, "3 g CuSO4/L of NaCl", "the salt named once"),
        (units.removal, "5", "needs a unit: 300 g"),
        (units.removal, "0 g", "more than 0 g"),
        (units.removal, "100 %", "between 0 and 100 %"),
        (units.removal, "5 degC", "must be water taken out"),
    ],
)
def test_refused(reader: Callable[..., Any], text: str, message: str) -> None:
    with pytest.raises(InputError, match=message) as raised:
        reader(text, what="--this")
    assert raised.value.what == "--this"
    assert str(raised.value).startswith("--this: got ")


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("value", [5, 5.0, np.float64(5), True, None, b"5 g", ["5 g"], float("nan")])
def test_anything_but_text_is_refused(reader: Callable[..., Any], value: object) -> None:
    with pytest.raises(InputError, match=r"^--this: got .* must be"):
        reader(value, what="--this")


def test_quantities_of_any_registry() -> None:
    other: pint.UnitRegistry = pint.UnitRegistry()
    quantity = other.Quantity
    assert units.temperature_C(quantity(41.0, "degF"), what="cold") == 5.0
    assert units.temperatures_C(quantity(np.array([50.0, 41.0]), "degF"), what="cold") == [10.0, 5.0]
    assert units.mass_g(quantity(1.5, "kg"), what="salt") == 1500.0
    assert units.volume_mL(quantity(np.float64(0.5), "L"), what="start") == 500.0
    assert units.time_h(quantity(90, "min"), what="cooling") == 1.5
    assert units.density_g_mL(quantity(1250, "kg/m**3"), what="density") == 1.25
    assert units.density_at(quantity(1.25, "g/mL"), what="density") == (1.25, None)
    assert units.end_size(quantity(0.5, "L"), what="end") == Size("volume_mL", 500.0)
    assert units.end_sizes(quantity(1.25, "g/mL"), what="end") == [Size("density_g_mL", 1.25)]
    assert units.amount_of(quantity(0.5, "kg"), what="salt") == Amount(None, 500.0)
    assert units.removal(quantity(0.5, "kg"), what="remove") == ("water_g", 500.0)


@pytest.mark.parametrize(
    ("reader", "magnitude", "unit", "message"),
    [
        (units.mass_g, 1.0, "mL", "must be a mass"),
        (units.mass_g, 1.0, "g/mL", "must be a mass"),
        (units.mass_g, -1.0, "g", "more than 0 g"),
        (units.mass_g, float("nan"), "g", "one finite number"),
        (units.mass_g, float("inf"), "g", "one finite number"),
        (units.mass_g, np.array([1.0, 2.0]), "g", "one finite number"),
        (units.temperature_C, 5.0, "delta_degC", "must be a temperature"),
        (units.temperature_C, -1.0, "K", "absolute zero"),
        (units.end_size, 5.0, "degC", "must be an end size"),
        (units.strength, 5.0, "g/L", "must be a strength"),
    ],
)
def test_quantities_refused(reader: Callable[..., Any], magnitude: Any, unit: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        reader(pint.Quantity(magnitude, unit), what="--this")


POSITIVE = st.floats(min_value=1e-300, max_value=1e300)


@settings(deadline=None)
@given(POSITIVE, st.sampled_from(["", " ", "\u2009", "\u00a0"]), st.booleans())
def test_any_printed_number_comes_back(value: float, space: str, comma: bool) -> None:
    text = repr(value)
    if comma and not (len(text.partition(".")[2].partition("e")[0]) == 3 and text[0] != "0"):
        text = text.replace(".", ",")
    assert units.mass_g(f"{text}{space}g", what="--x") == value
    assert units.volume_mL(f"{text}{space}mL", what="--x") == value
    assert units.time_h(f"{text}{space}h", what="--x") == value
    assert units.density_g_mL(f"{text}{space}g/mL", what="--x") == value
    assert units.strength(f"{text}{space}mol/L", what="--x").value == value


@settings(deadline=None)
@given(st.floats(min_value=-273.15, max_value=1e300))
def test_any_printed_temperature_comes_back(value: float) -> None:
    assert units.temperature_C(f"{value!r} degC", what="--x") == value
    assert units.temperatures_C(f"{value!r}, {value!r} degC", what="--x") == [value, value]


@settings(deadline=None)
@given(POSITIVE, st.sampled_from(["g", "kg", "mg", "oz", "lb"]))
def test_text_and_quantity_agree(value: float, unit: str) -> None:
    try:
        from_text = units.mass_g(f"{value!r} {unit}", what="--x")
    except InputError as error:
        with pytest.raises(InputError, match=re.escape(error.must_be)):
            units.mass_g(pint.Quantity(value, unit), what="--x")
        return
    assert_allclose(units.mass_g(pint.Quantity(value, unit), what="--x"), from_text, rtol=EXACT)


WORDS = """
5 1.5 0,5 1/8 -3 1e3 1e999 nan g kg mg Mg L mL oz fl M m mol kg/L /100 / per % w/w w/v v/v wt%
of at the start water solution CuSO4.5H2O CuSO4 H2O ( )
[ ] . , ; degC °C F K ° cm³ cm3 ** ^ _ __class__ lambda US imp
"""
PIECES = st.sampled_from(WORDS.split())
NEAR_MISSES = st.lists(PIECES, max_size=8).flatmap(
    lambda parts: st.sampled_from(["", " "]).map(lambda by: by.join(parts))
)


@settings(max_examples=300, deadline=None)
@given(st.one_of(st.text(), NEAR_MISSES, NEAR_MISSES.map("5 g of ".__add__), st.text().map("5 ".__add__)))
def test_random_text_raises_nothing_but_input_errors(text: str) -> None:
    for reader in READERS:
        try:
            reader(text, what="--this")
        except InputError as error:
            assert error.what == "--this"  # noqa: PT017 - both outcomes are right


def test_importing_the_reader_does_not_import_pint() -> None:
    code = "import sys, crystal, crystal.units; sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
