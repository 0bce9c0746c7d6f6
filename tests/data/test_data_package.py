"""The tables in ``datasets`` keep to the schema that ``datapackage.json`` states."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest
from frictionless import Package

from crystal.data.catalogue import Catalogue, bundled_folder
from crystal.data.reagents import Reagents

DATASETS = bundled_folder()


def _faults(folder: Path) -> list[tuple[str, int | None, str]]:
    """Type of fault, line and message, over all tables."""
    report = Package(str(folder / "datapackage.json")).validate()
    return [tuple(fault) for fault in report.flatten(["type", "rowNumber", "message"])]


def _rows(table: str) -> list[dict[str, str]]:
    with (DATASETS / table).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_package_is_valid() -> None:
    assert _faults(DATASETS) == []


@pytest.mark.parametrize(
    ("table", "old", "new", "fault"),
    [
        (
            "solubility.csv",
            "10,14.4,saturated,stable,CRC98",
            "10,14.4,saturated,stable,Nowhere",
            "foreign-key",
        ),
        ("solubility.csv", "10,14.4,saturated", "10,144,saturated", "constraint-error"),
        ("solubility.csv", "10,14.4,saturated", "10,14;4,saturated", "type-error"),
        ("phases.csv", "CuSO4,CuSO4.3H2O", "CuSO4,CuSO4.4H2O", "foreign-key"),
        ("systems.csv", "FeSO4,iron", "CuSO4,iron", "primary-key"),
    ],
)
def test_package_check_sees_faults(tmp_path: Path, table: str, old: str, new: str, fault: str) -> None:
    folder = tmp_path / "datasets"
    shutil.copytree(DATASETS, folder)
    text = (folder / table).read_text(encoding="utf-8")
    assert old in text
    (folder / table).write_text(text.replace(old, new, 1), encoding="utf-8")
    assert fault in {kind for kind, _, _ in _faults(folder)}


def test_every_number_states_its_unit() -> None:
    package = json.loads((DATASETS / "datapackage.json").read_text(encoding="utf-8"))
    bare = [
        (resource["name"], field["name"])
        for resource in package["resources"]
        for field in resource["schema"]["fields"]
        if field["type"] == "number" and not field.get("unit")
    ]
    assert bare == []


def test_package_lists_every_table() -> None:
    package = json.loads((DATASETS / "datapackage.json").read_text(encoding="utf-8"))
    assert {resource["path"] for resource in package["resources"]} == {p.name for p in DATASETS.glob("*.csv")}
    assert Catalogue.bundled().edition == package["version"]


def test_every_table_reaches_the_records() -> None:
    salts = Catalogue.bundled().salts
    assert list(salts) == [row["system"] for row in _rows("systems.csv")]
    points = sum(len(branch.points) for salt in salts.values() for branch in salt.branches)
    assert points == len(_rows("solubility.csv"))
    assert sum(len(salt.phases) for salt in salts.values()) == len(_rows("phases.csv"))


def test_every_caution_reaches_a_salt_or_a_reagent() -> None:
    solutes = [*Catalogue.bundled().salts.values(), *(r.salt for r in Reagents.bundled().reagents.values())]
    held = {(c.kind, c.text) for solute in solutes for c in solute.cautions}
    lost = [row["applies_to"] for row in _rows("cautions.csv") if (row["kind"], row["text"]) not in held]
    assert lost == []


def test_every_hazard_code_has_its_wording() -> None:
    worded = {row["applies_to"] for row in _rows("cautions.csv")}
    codes = {code for salt in Catalogue.bundled().salts.values() for code in salt.ghs_codes}
    assert codes
    assert {f"ghs:{code}" for code in codes} - worded == set()


@pytest.mark.parametrize("metal", ["Cu", "Ni", "Co", "Zn", "Ba", "Cr", "Ag", "Mn"])
def test_liquors_of_these_metals_are_collected(metal: str) -> None:
    rows = [row for row in _rows("cautions.csv") if row["applies_to"] == f"metal:{metal}"]
    assert [row["kind"] for row in rows] == ["waste"]
    assert "licensed" in rows[0]["text"]


def test_every_salt_has_heat_harm_and_waste_cautions() -> None:
    for salt in Catalogue.bundled().salts.values():
        assert {"heat", "harm", "waste"} <= {caution.kind for caution in salt.cautions}, salt.formula
        assert any("supplier's safety data sheet" in caution.text for caution in salt.cautions), salt.formula


def test_salts_without_solution_density() -> None:
    """Known gaps; one that closes, or a new one, must change this list."""
    without = [salt.formula for salt in Catalogue.bundled().salts.values() if not salt.density_shares]
    assert without == [
        *(
            "Co(NO3)2",
            "Al(NO3)3",
            "Fe(NO3)3",
            "NH4H2PO4",
            "(NH4)2HPO4",
            "Na2B4O7",
            "H3BO3",
            "Ba(OH)2",
            "Sr(OH)2",
        ),
        *("C4H6O6", "KNaC4H4O6", "KHC4H4O6", "Na3C6H5O7", "(NH4)2C2O4", "K4Fe(CN)6", "K3Fe(CN)6", "K2C2O4"),
        "C2H5NO2",
    ]


def test_double_salts_add_up_from_their_simple_salts() -> None:
    """Atoms must add up: 0.5 K2SO4 + 0.5 Al2(SO4)3 = KAl(SO4)2."""
    from molmass import Formula

    shares: dict[str, dict[str, float]] = {}
    for row in _rows("density_shares.csv"):
        atoms = shares.setdefault(row["system"], {})
        for symbol, item in Formula(row["solute"]).composition().items():
            atoms[symbol] = atoms.get(symbol, 0.0) + float(row["moles"]) * item.count
    assert len(shares) == 5
    for system, atoms in shares.items():
        assert atoms == {symbol: item.count for symbol, item in Formula(system).composition().items()}
