"""What is really there: each method finds the salt that was put in, with an honest doubt, and faults are named."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import model

from crystal.bench.agreement import compare
from crystal.bench.assay import Assay
from crystal.bench.pot import Pot
from crystal.errors import InputError
from crystal.physics.formula import Hydrate

BLUE, PENTA = model("CuSO4"), Hydrate.parse("CuSO4.5H2O")
FORMULAS = st.sampled_from(["CuSO4", "KNO3", "NaCl", "MgSO4", "NiSO4"])


@given(formula=FORMULAS, w=st.floats(0.02, 0.25), total=st.floats(10.0, 1e5), at=st.floats(10.0, 60.0))
def test_density_finds_the_salt(formula: str, w: float, total: float, at: float) -> None:
    pot = Pot(model(formula), w * total, (1 - w) * total, at)
    rho = pot.density_g_mL()
    by_volume = Assay.by_density(pot.model, rho, volume_mL=pot.volume_mL(), read_at_C=at)
    by_mass = Assay.by_density(pot.model, rho, mass_g=total, read_at_C=at)
    assert_allclose((by_volume.salt_g, by_mass.salt_g), pot.salt_g, rtol=1e-8)
    assert by_volume.doubt_g > by_mass.doubt_g > 0.01 * pot.salt_g


@given(formula=FORMULAS, w=st.floats(0.02, 0.25), total=st.floats(100.0, 1e5), share=st.floats(0.001, 0.9))
def test_drying_and_titration_find_the_salt(formula: str, w: float, total: float, share: float) -> None:
    pot = Pot(model(formula), w * total, (1 - w) * total)
    sizes = {"aliquot_mL": share * pot.volume_mL(), "total_mL": pot.volume_mL()}
    wet = max((phase.waters or 0.0) for phase in pot.model.salt.phases)
    solid = Hydrate(formula, wet)
    dry = share * pot.salt_g / solid.salt_mass_fraction
    assert_allclose(Assay.by_drying(pot.model, dry, solid, **sizes).salt_g, pot.salt_g, rtol=1e-9)
    titrant = 2.0 * share * pot.salt_g / pot.model.molar_mass_g_mol / 0.1 * 1000.0
    found = Assay.by_titration(
        pot.model, titrant_mL=titrant, titrant_mol_L=0.1, titrant_per_salt=2.0, **sizes
    )
    assert_allclose(found.salt_g, pot.salt_g, rtol=1e-9)


@given(formula=FORMULAS, t=st.floats(5.0, 50.0), total=st.floats(10.0, 1e4), read_at=st.floats(10.0, 60.0))
def test_first_crystals_are_the_phase_map_read_backwards(
    formula: str, t: float, total: float, read_at: float
) -> None:
    its = model(formula)
    found = Assay.by_first_crystals(its, t, mass_g=total)
    assert_allclose(its.onset.first(found.salt_g / total).temperature_C, t, atol=0.05)
    pot = Pot(its, found.salt_g, total - found.salt_g, read_at)
    by_volume = Assay.by_first_crystals(its, t, volume_mL=pot.volume_mL(), read_at_C=read_at)
    assert_allclose(by_volume.salt_g, found.salt_g, rtol=1e-9)


def test_first_crystals_against_a_published_solubility() -> None:
    """A problem of general chemistry: 31.6 g of KNO3 in 100 g of water at 20 °C; so 72.0 g in 300 g of liquor."""
    found = Assay.by_first_crystals(model("KNO3"), 20.0, mass_g=300.0)
    assert abs(found.salt_g - 300 * 31.6 / 131.6) < found.doubt_g
    assert found.doubt_g < 3.5


def test_density_against_the_handbook() -> None:
    """CRC Handbook, 102nd ed.: 18 % CuSO4 has 1.2059 g/mL at 20 °C; so 108.5 g in 500 mL."""
    found = Assay.by_density(BLUE, 1.2059, volume_mL=500.0)
    assert abs(found.salt_g - 500 * 1.2059 * 0.18) < found.doubt_g < 2.5


def test_a_copper_titration() -> None:
    """Iodometric copper, one thiosulfate for each copper: 20.00 mL of 0.1 mol/L is 2 mmol, 0.3192 g of CuSO4."""
    found = Assay.by_titration(
        BLUE, titrant_mL=20.0, titrant_mol_L=0.1, titrant_per_salt=1.0, aliquot_g=3.192, total_g=319.2
    )
    assert found.salt_g == pytest.approx(31.92, abs=0.01)
    assert found.salt_g / 319.2 == pytest.approx(0.10, rel=1e-3)


def spread(of, readings: list[tuple[float, float]], draws: int = 4000) -> float:
    """Standard deviation of a result when its readings scatter as stated."""
    rng = np.random.default_rng(7)
    values = [of(*(x + s * rng.standard_normal() for x, s in readings)) for _ in range(draws)]
    return float(np.std(values))


class TestTheDoubtIsWhatTheReadingsScatterTo:
    def test_density(self) -> None:
        found = Assay.by_density(BLUE, 1.15, volume_mL=400.0)
        w = found.salt_g / (400.0 * 1.15)
        model_g_mL = 1.15 * float(BLUE.density.relative_doubt(w, 20.0))

        def salt(rho: float, volume: float, off: float) -> float:
            return volume * rho * float(BLUE.density.mass_fraction_for_density(rho + off, 20.0))

        wanted = spread(salt, [(1.15, 0.002), (400.0, 4.0), (0.0, model_g_mL)])
        assert found.doubt_g == pytest.approx(wanted, rel=0.05)

    def test_drying(self) -> None:
        found = Assay.by_drying(
            BLUE, 2.0, PENTA, aliquot_mL=10.0, total_mL=400.0, balance_doubt_g=0.05, aliquot_doubt_share=0.02
        )
        wanted = spread(
            lambda dry, part, whole: dry * PENTA.salt_mass_fraction * whole / part,
            [(2.0, 0.05), (10.0, 0.2), (400.0, 4.0)],
        )
        assert found.doubt_g == pytest.approx(wanted, rel=0.05)

    def test_titration(self) -> None:
        found = Assay.by_titration(
            BLUE, titrant_mL=10.0, titrant_mol_L=0.1, titrant_per_salt=1.0, aliquot_mL=2.0, total_mL=400.0,
            burette_doubt_mL=0.2,
        )  # fmt: skip
        wanted = spread(
            lambda used, strength, part, whole: used * strength / 1e3 * BLUE.molar_mass_g_mol * whole / part,
            [(10.0, 0.2), (0.1, 0.0005), (2.0, 0.01), (400.0, 4.0)],
        )
        assert found.doubt_g == pytest.approx(wanted, rel=0.05)

    def test_first_crystals(self) -> None:
        """The thermometer alone, against two seen temperatures a kelvin to each side; the curve's doubt on top."""
        nitre = model("KNO3")
        low, high = (Assay.by_first_crystals(nitre, t, mass_g=300.0).salt_g for t in (39.0, 41.0))
        fine = Assay.by_first_crystals(
            nitre, 40.0, mass_g=300.0, thermometer_doubt_K=1e-6, size_doubt_share=0.0
        )
        coarse = Assay.by_first_crystals(
            nitre, 40.0, mass_g=300.0, thermometer_doubt_K=1.0, size_doubt_share=0.0
        )
        from_thermometer = math.sqrt(coarse.doubt_g**2 - fine.doubt_g**2)
        assert from_thermometer == pytest.approx((high - low) / 2, rel=0.02)
        assert fine.doubt_g >= 300.0 * nitre.salt.curve_doubt_mass_fraction


def assays(**salt_g: float) -> list[Assay]:
    return [Assay(name.replace("_", " "), "CuSO4", salt, 2.0, "as measured") for name, salt in salt_g.items()]


def test_two_that_agree() -> None:
    (only,) = compare(assays(density=100.0, titration=95.0))
    assert only.agree
    assert only.sentence is None
    assert only.difference_g == pytest.approx(5.0)
    assert only.combined_doubt_g == pytest.approx(2.0 * math.sqrt(2))


@pytest.mark.parametrize(("apart", "agree"), [(5.6, True), (5.7, False)])
def test_the_border_is_twice_the_combined_uncertainty(apart: float, agree: bool) -> None:
    (only,) = compare(assays(density=100.0, titration=100.0 - apart))
    assert only.agree is agree


@pytest.mark.parametrize(
    ("more", "less", "why"),
    [
        (
            "density",
            "titration",
            ["free acid or another dissolved salt", "not all of the salt took up titrant"],
        ),
        ("drying", "density", ["still damp, held more water", "warmer than the temperature given"]),
        ("density", "drying", ["lost more water than the named hydrate"]),
        ("titration", "first_crystals", ["something else took up titrant", "crystals showed late"]),
        ("first_crystals", "titration", ["brought the crystals out early"]),
    ],
)
def test_a_disagreement_is_said_with_its_likely_reasons(more: str, less: str, why: list[str]) -> None:
    (only,) = compare(assays(**{less: 80.0, more: 100.0}))
    assert only.more.salt_g > only.less.salt_g
    assert "100 g of CuSO4" in only.sentence
    assert "20 g apart, 7.1 times their combined uncertainty" in only.sentence
    for words in why:
        assert words in only.sentence


def test_every_pair_is_compared() -> None:
    found = compare(assays(density=100.0, titration=99.0, drying=70.0))
    assert [one.agree for one in found] == [True, False, False]


def test_free_acid_is_caught() -> None:
    """5 % sulfuric acid in a 12 % copper sulfate liquor: the hydrometer takes it for copper sulfate."""
    pot = Pot(BLUE, 60.0, 440.0)
    denser = pot.density_g_mL() + 0.033  # about what 5 mass % of the acid adds to water's density
    by_density = Assay.by_density(BLUE, denser, volume_mL=430.0)
    by_titration = Assay.by_titration(
        BLUE, titrant_mL=18.8, titrant_mol_L=0.1, titrant_per_salt=1.0, aliquot_mL=2.15, total_mL=430.0
    )
    (only,) = compare([by_density, by_titration])
    assert only.more is by_density
    assert "free acid" in only.sentence


def test_json() -> None:
    got = Assay.by_density(BLUE, 1.15, volume_mL=400.0).to_json()
    assert set(got) == {"method", "formula", "salt_g", "doubt_g", "assumption", "warnings"}
    assert "nothing but CuSO4 and water" in got["assumption"]
    assert "extended from there" in Assay.by_density(BLUE, 1.45, volume_mL=400.0).to_json()["warnings"][0]


@pytest.mark.parametrize(
    ("attempt", "message"),
    [
        (lambda: Assay.by_density(BLUE, 0.9, volume_mL=400.0), "density: got 0.9 g/mL"),
        (lambda: Assay.by_density(BLUE, 1180.0, volume_mL=400.0), "density: got 1180 g/mL"),
        (lambda: Assay.by_density(BLUE, 1.15), "size of the solution: got neither"),
        (lambda: Assay.by_density(BLUE, 1.15, volume_mL=400.0, mass_g=460.0), "got both"),
        (lambda: Assay.by_density(BLUE, 1.15, volume_mL=0.0), "got 0 mL; it must be more than 0"),
        (
            lambda: Assay.by_density(BLUE, 1.15, volume_mL=400.0, size_doubt_share=5.0),
            "a share from 0 to below 1",
        ),
        (
            lambda: Assay.by_drying(BLUE, 2.0, Hydrate.parse("NiSO4.6H2O"), aliquot_mL=10.0, total_mL=400.0),
            "got NiSO4.6H2O; it must be CuSO4 or one of its hydrates",
        ),
        (lambda: Assay.by_drying(BLUE, 0.0, PENTA, aliquot_mL=10.0, total_mL=400.0), "got 0 g"),
        (
            lambda: Assay.by_drying(BLUE, 2.0, PENTA, aliquot_mL=10.0, total_g=400.0),
            "both volumes or both masses",
        ),
        (
            lambda: Assay.by_drying(BLUE, 2.0, PENTA, aliquot_mL=500.0, total_mL=400.0),
            "no more than the whole, 400 mL",
        ),
        (
            lambda: Assay.by_drying(BLUE, 20.0, PENTA, aliquot_g=10.0, total_g=400.0),
            "less than the part that was dried",
        ),
        (
            lambda: Assay.by_titration(
                BLUE,
                titrant_mL=20.0,
                titrant_mol_L=100.0,
                titrant_per_salt=1.0,
                aliquot_g=10.0,
                total_g=400.0,
            ),
            "got 1.277e.04 g of salt in 400 g of solution",
        ),
        (
            lambda: Assay.by_titration(
                BLUE,
                titrant_mL=20.0,
                titrant_mol_L=0.1,
                titrant_per_salt=0.0,
                aliquot_mL=10.0,
                total_mL=400.0,
            ),
            "titrant per salt: got 0 mol/mol",
        ),
        (
            lambda: Assay.by_titration(
                BLUE,
                titrant_mL=20.0,
                titrant_mol_L=10.0,
                titrant_per_salt=1.0,
                aliquot_mL=5.0,
                total_mL=400.0,
            ),
            "titration: got 2554 g of salt in 400 mL of solution",
        ),
        (
            lambda: Assay.by_drying(BLUE, 90.0, PENTA, aliquot_mL=10.0, total_mL=400.0),
            "drying: got 2301 g of salt in 400 mL of solution",
        ),
        (lambda: Assay.by_first_crystals(BLUE, -20.0, mass_g=300.0), r"the data cover -1\.6 to 100 degC"),
        (lambda: Assay.by_first_crystals(BLUE, 300.0, mass_g=300.0), "begins to crystallise"),
        (
            lambda: Assay.by_first_crystals(model("Zn(NO3)2"), 35.0, mass_g=300.0),
            "only one liquor has, not 61.6",
        ),
        (
            lambda: compare([*assays(density=1.0), Assay("density", "NaCl", 1.0, 1.0, "")]),
            "got CuSO4 and NaCl; it must be of one salt",
        ),
    ],
)
def test_refused(attempt, message: str) -> None:
    with pytest.raises(InputError, match=message):
        attempt()


def test_a_balance_is_taken_to_weigh_to_two_hundredths_of_a_gram() -> None:
    told = {"aliquot_mL": 10.0, "total_mL": 400.0}
    solid = Hydrate.parse("CuSO4.5H2O")
    usual, named, worse = (
        Assay.by_drying(model("CuSO4"), 2.6, solid, **told, **more)
        for more in ({}, {"balance_doubt_g": 0.02}, {"balance_doubt_g": 0.2})
    )
    assert usual.doubt_g == named.doubt_g < worse.doubt_g


def test_first_crystals_in_a_volume_carry_the_doubt_of_its_density_too() -> None:
    its, t, volume = model("CuSO4"), 25.0, 400.0
    by_mass = Assay.by_first_crystals(its, t, mass_g=480.0, size_doubt_share=0.0)
    by_volume = Assay.by_first_crystals(its, t, volume_mL=volume, size_doubt_share=0.0)
    w, in_w = by_mass.salt_g / 480.0, by_mass.doubt_g / 480.0

    def salt(x: float) -> float:
        return x * volume * float(its.density.density_g_mL(x, t))

    of_liquor = (salt(w + 1e-5) - salt(w - 1e-5)) / 2e-5 * in_w
    of_density = by_volume.salt_g * float(its.density.relative_doubt(w, t))
    assert of_density > 0.0
    assert_allclose(by_volume.doubt_g, math.hypot(of_liquor, of_density), rtol=1e-4)
