"""The reagents' table: every one complete, found by its names, with its cautions and a density."""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import pytest
from molmass import Formula

from crystal.data.catalogue import Catalogue, bundled_folder
from crystal.data.reagents import DILUTION_HEATS, KINDS, Reagents
from crystal.errors import DataError, InputError

DATASETS = bundled_folder()
BUNDLED = Reagents.bundled()
# PubChem and the labels of any bottle; molar masses of the IUPAC 2021 table rounded to 0.01 g/mol.
KNOWN = {
    "HCl": ("7647-01-0", 36.46),
    "H2SO4": ("7664-93-9", 98.07),
    "HNO3": ("7697-37-2", 63.01),
    "H3PO4": ("7664-38-2", 97.99),
    "HBr": ("10035-10-6", 80.91),
    "CH3COOH": ("64-19-7", 60.05),
    "HCOOH": ("64-18-6", 46.03),
    "C6H8O7": ("77-92-9", 192.12),
    "H2C2O4": ("144-62-7", 90.03),
    "H2O2": ("7722-84-1", 34.01),
    "NH3": ("7664-41-7", 17.03),
    "NaOH": ("1310-73-2", 40.00),
    "KOH": ("1310-58-3", 56.11),
    "Na2CO3": ("497-19-8", 105.99),
}


def test_all_are_there() -> None:
    assert set(BUNDLED.reagents) == set(KNOWN)


@pytest.mark.parametrize("formula", KNOWN)
class TestOneReagent:
    def test_cas_and_molar_mass(self, formula: str) -> None:
        cas, molar_mass = KNOWN[formula]
        assert BUNDLED.reagents[formula].salt.cas == cas
        assert Formula(formula).mass == pytest.approx(molar_mass, abs=0.011)

    def test_cas_check_digit(self, formula: str) -> None:
        """The last digit is the sum of the others, each times its place from the right, modulo 10."""
        digits = BUNDLED.reagents[formula].salt.cas.replace("-", "")
        total = sum(place * int(digit) for place, digit in enumerate(reversed(digits[:-1]), 1))
        assert total % 10 == int(digits[-1])

    def test_is_found_by_formula_and_names(self, formula: str) -> None:
        reagent = BUNDLED.reagents[formula]
        for text in (formula, reagent.name, *reagent.salt.common_names):
            assert BUNDLED.find(text) is reagent
            assert text in BUNDLED

    def test_has_kind_heat_density_and_cautions(self, formula: str) -> None:
        reagent = BUNDLED.reagents[formula]
        assert reagent.kind in KINDS
        assert reagent.dilution_heat in DILUTION_HEATS
        assert reagent.salt.density_shares[0].solute.solute == formula
        kept = [caution.text for caution in reagent.salt.cautions]
        assert sum(text.startswith("Hazard codes here are mostly recalled") for text in kept) == 1
        for code in reagent.salt.ghs_codes:
            assert sum(text.startswith(f"{code}:") for text in kept) == 1, code
        assert [text for text in kept if not re.match(r"H\d{3}|Hazard codes", text)]

    def test_sources_are_known(self, formula: str) -> None:
        reagent = BUNDLED.reagents[formula]
        keys = {reagent.salt.ghs_source, *(s.source for s in reagent.strengths)}
        keys |= {caution.source for caution in reagent.salt.cautions}
        assert {key for key in keys if BUNDLED.citation(key) == key} == set()

    def test_strengths_rise(self, formula: str) -> None:
        strengths = [s.mass_fraction for s in BUNDLED.reagents[formula].strengths]
        assert strengths == sorted(set(strengths))
        assert all(0 < strength <= 1 for strength in strengths)

    def test_hazards_agree_with_the_salts_table(self, formula: str) -> None:
        salt = Catalogue.bundled().salts.get(formula)
        if salt is not None:
            assert BUNDLED.reagents[formula].salt.ghs_codes == salt.ghs_codes


def test_strong_heat_is_where_it_must_be() -> None:
    """Common practice, no source: sulfuric acid and the caustic alkalis are the ones that boil and spit."""
    strong = {formula for formula, r in BUNDLED.reagents.items() if r.dilution_heat == "strong"}
    assert strong == {"H2SO4", "NaOH", "KOH"}


def test_every_acid_or_base_that_burns_says_so() -> None:
    for formula in set(KNOWN) - {"C6H8O7", "H2C2O4", "Na2CO3"}:
        assert "H314" in BUNDLED.reagents[formula].salt.ghs_codes, formula


def test_usual_strengths() -> None:
    """Common practice, no source: what the trade sells."""
    percents = {
        f: [round(100 * s.mass_fraction, 1) for s in r.usual_strengths] for f, r in BUNDLED.reagents.items()
    }
    assert percents["HCl"] == [10, 31, 37]
    assert percents["H2SO4"] == [37, 96, 98]
    assert percents["H2O2"] == [3, 12, 30, 35]
    assert percents["C6H8O7"] == []


@pytest.mark.parametrize("text", ["aqua regia", "", "CuSO4"])
def test_not_found_lists_the_known(text: str) -> None:
    assert text not in BUNDLED
    with pytest.raises(InputError, match=r"reagent: got .*one of HCl \(hydrochloric acid\), H2SO4"):
        BUNDLED.find(text)


def test_spellings() -> None:
    assert BUNDLED.find("Sulphuric acid").formula == "H2SO4"
    assert BUNDLED.find("lye").formula == "NaOH"
    assert BUNDLED.find("nh₃").formula == "NH3"


@pytest.mark.parametrize(
    ("table", "old", "new", "message"),
    [
        (
            "reagents.csv",
            "7647-01-0,acid,mild",
            "7647-01-0,sour,mild",
            "line 2, column kind: 'sour' is not known",
        ),
        (
            "reagents.csv",
            "7647-01-0,acid,mild",
            "7647-01-0,acid,some",
            "line 2, column dilution_heat: 'some' is not known",
        ),
        ("reagents.csv", "HCl,hydro", "HI,hydro", "line 2, column reagent: no density of HI is known"),
        (
            "strength_tables.csv",
            "HCl,37,1.18",
            "HCl,137,1.18",
            "line 4, column mass_percent: 137 is outside 0 to 100",
        ),
        (
            "strength_tables.csv",
            "HCl,37,1.18,yes",
            "HCl,37,1.18,often",
            "line 4, column usual: 'often' is not known",
        ),
    ],
)
def test_faults_name_table_and_column(tmp_path: Path, table: str, old: str, new: str, message: str) -> None:
    folder = tmp_path / "datasets"
    shutil.copytree(DATASETS, folder)
    text = (folder / table).read_text(encoding="utf-8")
    assert old in text
    (folder / table).write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(DataError, match=re.escape(f"{table}, {message}")):
        Reagents.read(folder)


def test_every_listed_strength_is_of_a_reagent() -> None:
    with (DATASETS / "strength_tables.csv").open(encoding="utf-8", newline="") as file:
        listed = {row["reagent"] for row in csv.DictReader(file)}
    assert listed <= set(BUNDLED.reagents)
