"""A salt is found by whatever it is called, and a miss names the nearest."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from crystal.data.catalogue import Catalogue
from crystal.errors import InputError

CATALOGUE = Catalogue.bundled()


@pytest.mark.parametrize(
    ("text", "formula"),
    [
        ("CuSO4", "CuSO4"),
        ("cuso4", "CuSO4"),
        ("CuSO4.5H2O", "CuSO4"),
        ("CuSO4·5H2O", "CuSO4"),
        ("CuSO4 * 5 H2O", "CuSO4"),
        ("CuSO₄·5H₂O", "CuSO4"),
        ("CuSO4.2H2O", "CuSO4"),
        ("NiSO4.6H2O-alpha", "NiSO4"),
        ("copper(II) sulfate", "CuSO4"),
        ("Copper Sulphate", "CuSO4"),
        ("copper sulfate pentahydrate", "CuSO4"),
        ("blue vitriol", "CuSO4"),
        ("blue-vitriol", "CuSO4"),
        ("chalcanthite", "CuSO4"),
        ("washing soda", "Na2CO3"),
        ("potassium aluminum sulfate", "KAl(SO4)2"),
        ("E330", "C6H8O7"),
        ("FeCl3.3.5H2O", "FeCl3"),
    ],
)
def test_found(text: str, formula: str) -> None:
    assert CATALOGUE.find(text).formula == formula


@pytest.mark.parametrize("formula", list(CATALOGUE.salts))
def test_every_salt_is_found_by_formula_solids_and_name(formula: str) -> None:
    salt = CATALOGUE.salts[formula]
    for text in (formula, salt.name, *(phase.formula for phase in salt.phases if not phase.is_ice)):
        assert CATALOGUE.find(text) is salt


def test_miss_names_the_nearest() -> None:
    with pytest.raises(
        InputError, match=r"cupper sulfate.*close matches: copper sulfate.*'crystal salts TEXT'"
    ):
        CATALOGUE.find("cupper sulfate")


def test_miss_with_nothing_near() -> None:
    with pytest.raises(InputError, match="nothing comes close"):
        CATALOGUE.find("xyzzy")


def test_two_salts_of_one_name() -> None:
    with pytest.raises(InputError, match=r"one salt, but it fits FeCl3 .* FeCl2"):
        CATALOGUE.find("iron chloride")


@pytest.mark.parametrize("text", ["ice", "", "  ", "hydrate"])
def test_not_a_salt(text: str) -> None:
    with pytest.raises(InputError, match="a salt in the data"):
        CATALOGUE.find(text)


def test_search() -> None:
    assert [salt.formula for salt in CATALOGUE.search("copper")] == ["CuSO4", "FeSO4", "CuCl2", "Cu(NO3)2"]
    assert [salt.formula for salt in CATALOGUE.search("iron sulf")] == ["FeSO4", "(NH4)2Fe(SO4)2"]
    assert CATALOGUE.search("xyzzy") == []
    assert CATALOGUE.search("") == list(CATALOGUE.salts.values())


def test_citation() -> None:
    assert "98th ed." in CATALOGUE.citation("CRC98")
    assert CATALOGUE.citation("my bench, spring") == "my bench, spring"


def test_loading_imports_nothing_heavy() -> None:
    code = (
        "import sys; from crystal.data.catalogue import Catalogue; Catalogue.bundled().find('CuSO4'); "
        "heavy = ('numpy', 'pandas', 'scipy', 'pint', 'molmass', 'matplotlib'); "
        "print([m for m in heavy if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert done.stdout.strip() == "[]"
