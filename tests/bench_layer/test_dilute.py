"""Diluting and mixing: masses add up, volumes do not, and the volume shortcut is shown for what it is."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from crystal.bench.dilute import Dilution, Mixture, Portion
from crystal.data.catalogue import Catalogue
from crystal.data.reagents import Reagents
from crystal.errors import InputError
from crystal.physics.concentration import Concentration
from crystal.physics.reagent import Solute
from crystal.physics.strength import Strength

REAGENTS = Reagents.bundled().reagents


@cache
def solute(formula: str) -> Solute:
    if formula in REAGENTS:
        return Solute.of_reagent(REAGENTS[formula])
    return Solute.of(Catalogue.bundled().find(formula))


def percent(formula: str, mass_percent: float, temperature_C: float = 20.0) -> Concentration:
    return Concentration(solute(formula), mass_percent / 100, temperature_C)


def water(formula: str) -> Portion:
    return Portion.of(Concentration.water(solute(formula)), mass_g=100.0)


class TestMuriaticAcid:
    """200 mL of 18.5 % from 31 % acid; common practice, no source: 119 mL by the shortcut."""

    MADE = Dilution.of(percent("HCl", 31.0), percent("HCl", 18.5), make_mL=200.0)

    def test_the_shortcut_says_119_mL(self) -> None:
        assert self.MADE.to_json()["by_volume_shortcut_mL"] == pytest.approx(119.35, abs=0.01)

    def test_the_right_volume_is_less(self) -> None:
        """By the CRC Handbook's densities (18 % 1.0878, 20 % 1.0980; 30 % 1.1492, 32 % 1.1594): 112.8 mL."""
        final, stock = 1.0878 + 0.25 * (1.0980 - 1.0878), 1.1492 + 0.5 * (1.1594 - 1.1492)
        by_handbook = 200.0 * final * 0.185 / (0.31 * stock)
        assert by_handbook == pytest.approx(112.8, abs=0.1)
        assert self.MADE.stock.volume_mL == pytest.approx(by_handbook, rel=0.003)
        assert self.MADE.stock.volume_mL < self.MADE.by_volume_shortcut_mL - 5.0

    def test_how_far_off_the_shortcut_is(self) -> None:
        """Off by the ratio of the densities, and the acid comes out stronger than wanted."""
        ratio = self.MADE.stock.concentration.density_g_mL / self.MADE.final.concentration.density_g_mL
        assert_allclose(self.MADE.shortcut_off_percent, 100 * (ratio - 1), rtol=1e-9)
        assert 5.0 < self.MADE.shortcut_off_percent < 7.0
        assert 19.2 < self.MADE.shortcut_mass_percent < 19.8

    def test_json_has_what_a_program_expects(self) -> None:
        got = self.MADE.to_json()
        wanted = {"stock_mL", "stock_g", "water_mL", "water_g", "final_mL", "final_density_g_mL"}
        assert wanted | {"by_volume_shortcut_mL", "warnings"} <= set(got)
        assert_allclose(
            got["stock_g"] + got["water_g"], got["final_mL"] * got["final_density_g_mL"], rtol=1e-12
        )
        assert_allclose(got["stock_g"] * 0.31, got["final_g"] * 0.185, rtol=1e-12)


strengths = st.floats(0.5, 36.0)
amounts = st.floats(1e-3, 1e6)
formulas = st.sampled_from(
    ["HCl", "H2SO4", "HNO3", "CH3COOH", "NH3", "NaOH", "H2O2", "CuSO4", "Na2CO3", "CaCl2"]
)


@given(
    formula=formulas,
    low=strengths,
    high=strengths,
    share=st.floats(0.01, 0.99),
    make=amounts,
    by_mass=st.booleans(),
)
def test_masses_balance(
    formula: str, low: float, high: float, share: float, make: float, by_mass: bool
) -> None:
    assume(high > low + 0.1)
    target = percent(formula, low + share * (high - low))
    size = {"make_g": make} if by_mass else {"make_mL": make}
    made = Dilution.of(percent(formula, high), target, weaker=percent(formula, low), **size)
    assert_allclose(made.final.mass_g if by_mass else made.final.volume_mL, make, rtol=1e-12)
    assert_allclose(made.stock.mass_g + made.weaker.mass_g, made.final.mass_g, rtol=1e-12)
    assert_allclose(made.stock.solute_g + made.weaker.solute_g, made.final.solute_g, rtol=1e-10)
    assert min(made.stock.mass_g, made.weaker.mass_g) > 0


@given(
    formula=formulas,
    low=st.floats(0.0, 30.0),
    high=strengths,
    share=st.floats(0.01, 0.99),
    at=st.floats(5.0, 40.0),
)
def test_mixing_what_was_found_gives_the_target(
    formula: str, low: float, high: float, share: float, at: float
) -> None:
    assume(high > low + 0.1)
    wanted = low + share * (high - low)
    weaker = None if low == 0 else percent(formula, low)
    made = Dilution.of(
        percent(formula, high), percent(formula, wanted), make_mL=250.0, weaker=weaker, temperature_C=at
    )
    mixed = Mixture.of([made.weaker, made.stock])
    assert_allclose(mixed.whole.concentration.mass_percent, wanted, rtol=1e-9)
    assert_allclose(mixed.whole.volume_mL, 250.0, rtol=1e-9)
    assert_allclose(mixed.contraction_mL, made.contraction_mL, atol=1e-6)
    assert made.final.concentration.temperature_C == mixed.whole.concentration.temperature_C == at


@given(masses=st.lists(st.floats(0.1, 1e4), min_size=1, max_size=5), data=st.data())
def test_the_order_of_mixing_does_not_matter(masses: list[float], data) -> None:
    portions = [Portion.of(percent("H2SO4", data.draw(st.floats(0.0, 98.0))), mass_g=m) for m in masses]
    one, other = Mixture.of(portions), Mixture.of(portions[::-1])
    assert_allclose(one.whole.volume_mL, other.whole.volume_mL, rtol=1e-12)
    assert_allclose(one.whole.solute_g, sum(p.solute_g for p in portions), rtol=1e-12, atol=1e-300)


def test_sulfuric_acid_and_water_shrink() -> None:
    """CRC Handbook, 102nd ed., 20 °C: 50 % 1.3952 and 30 % 1.2191 g/mL; 100 g of 50 % in 66.67 g of water is 30 %."""
    mixed = Mixture.of(
        [Portion.of(percent("H2SO4", 50.0), mass_g=100.0), Portion.of(percent("H2SO4", 0), mass_g=200 / 3)]
    )
    shrinks = 100 / 1.3952 + (200 / 3) / 0.9982 - (500 / 3) / 1.2191
    assert mixed.whole.concentration.mass_percent == pytest.approx(30.0)
    assert mixed.contraction_mL == pytest.approx(shrinks, abs=0.15)
    assert mixed.contraction_mL > 1.0


def test_from_the_strong_acid() -> None:
    """CRC Handbook, 102nd ed.: 96 % 1.8355, 30 % 1.2191 g/mL: 1 L of 30 % takes 207.6 mL of the strong acid."""
    made = Dilution.of(percent("H2SO4", 96.0), percent("H2SO4", 30.0), make_mL=1000.0)
    assert made.stock.volume_mL == pytest.approx(1000 * 1.2191 * 0.30 / (0.96 * 1.8355), rel=0.003)
    assert made.shortcut_off_percent == pytest.approx(100 * (1.8355 / 1.2191 - 1), abs=0.5)
    assert any("listed densities" in said for said in made.warnings)
    stated = Concentration.of(solute("H2SO4"), Strength("mass_fraction", 0.96), density_g_mL=1.84)
    again = Dilution.of(stated, percent("H2SO4", 30.0), make_mL=1000.0)
    assert_allclose(again.stock.mass_g, made.stock.mass_g, rtol=1e-12)
    assert_allclose(again.stock.volume_mL, again.stock.mass_g / 1.84, rtol=1e-12)
    assert again.warnings == again.pouring


def test_a_target_per_volume_is_met_at_its_temperature() -> None:
    target = Concentration.of(solute("HCl"), Strength("mol_per_L", 2.0))
    made = Dilution.of(percent("HCl", 31.0), target, make_mL=500.0)
    assert_allclose(made.stock.solute_g, 1.0 * solute("HCl").molar_mass_g_mol, rtol=1e-9)


def test_the_weaker_stock_may_be_named_first() -> None:
    one = Dilution.of(percent("NaOH", 5), percent("NaOH", 20), make_g=100.0, weaker=percent("NaOH", 40))
    other = Dilution.of(percent("NaOH", 40), percent("NaOH", 20), make_g=100.0, weaker=percent("NaOH", 5))
    assert one.to_json() == other.to_json()
    assert one.to_json()["weaker_mass_percent"] == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("formula", "strong", "weak", "says"),
    [
        ("H2SO4", 60, 20, ["acid slowly into the water", "never the water into the acid", "very hot"]),
        ("HCl", 31, 10, ["acid slowly into the water", "warms up"]),
        ("NaOH", 40, 10, ["lye slowly into the cold water", "very hot"]),
        ("KOH", 40, 10, ["lye slowly into the cold water", "very hot"]),
        ("NH3", 25, 10, ["cold", "fume hood"]),
        ("H2O2", 30, 3, ["cold", "cap loose"]),
        ("CuSO4", 15, 5, ["stronger solution into the water"]),
    ],
)
def test_how_to_pour(formula: str, strong: float, weak: float, says: list[str]) -> None:
    said = " ".join(Dilution.of(percent(formula, strong), percent(formula, weak), make_mL=100.0).warnings)
    for words in says:
        assert words in said
    assert ("hot" in said) == (formula in ("H2SO4", "NaOH", "KOH"))


def test_a_weak_stock_gets_no_heat_warning_but_its_pouring() -> None:
    made = Dilution.of(percent("H2SO4", 5), percent("H2SO4", 1), make_mL=100.0)
    assert len(made.warnings) == 1
    assert "never the water into the acid" in made.warnings[0]


@pytest.mark.parametrize(
    ("attempt", "message"),
    [
        (
            lambda: Dilution.of(percent("HCl", 31), percent("HCl", 35), make_mL=200.0),
            r"target: got 35 mass % HCl; .* above 0 \(water\) and below 31 mass %",
        ),
        (lambda: Dilution.of(percent("HCl", 31), percent("HCl", 31), make_mL=200.0), "below 31 mass %"),
        (
            lambda: Dilution.of(
                percent("HCl", 31), percent("HCl", 5), make_mL=200.0, weaker=percent("HCl", 10)
            ),
            "above 10 mass % and below 31 mass %",
        ),
        (lambda: Dilution.of(percent("HCl", 31), percent("HCl", 10)), "got neither"),
        (
            lambda: Dilution.of(percent("HCl", 31), percent("HCl", 10), make_mL=1.0, make_g=1.0),
            "one of the two",
        ),
        (
            lambda: Dilution.of(percent("HCl", 31), percent("HCl", 10), make_mL=0.0),
            "got 0 mL; it must be more than 0",
        ),
        (
            lambda: Dilution.of(percent("HCl", 31), percent("HCl", 10), make_g=-5.0),
            "got -5 g; it must be more than 0",
        ),
        (
            lambda: Dilution.of(percent("HCl", 31), percent("HCl", 10), make_mL=float("nan")),
            "got nan mL; it must be more than 0",
        ),
        (
            lambda: Dilution.of(percent("HCl", 31), percent("HNO3", 10), make_mL=200.0),
            "got HNO3 from HCl; it must be of the stock's own solute",
        ),
        (lambda: Mixture.of([]), "at least one solution"),
        (
            lambda: Mixture.of([water("HCl"), water("NaOH")]),
            "HCl and NaOH; it must be solutions of one solute",
        ),
    ],
)
def test_refused(attempt, message: str) -> None:
    with pytest.raises(InputError, match=message):
        attempt()
