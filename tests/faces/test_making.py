"""Diluting, telling strengths and assaying from the command line: the keys, the bench's own numbers, and bad input."""

from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import model

from crystal.bench.assay import Assay
from crystal.bench.dilute import Dilution, Mixture, Portion
from crystal.data.reagents import Reagents
from crystal.errors import CrystalError
from crystal.faces.cli import main
from crystal.physics.concentration import Concentration
from crystal.physics.formula import Hydrate
from crystal.physics.reagent import Solute
from crystal.physics.scales import BAUME_RATIONAL, BAUME_US
from crystal.physics.strength import Strength

STOCK = ("dilute", "--stock", "31 % w/w HCl", "--target", "18.5 % w/w")
DILUTE = {
    "stock_mL", "stock_g", "water_mL", "water_g", "final_mL", "final_density_g_mL", "by_volume_shortcut_mL", "warnings",
}  # fmt: skip
UNITS = (
    "_g", "_mL", "_percent", "_degC", "_g_mL", "_L", "_water", "_degF", "_degrees", "_volumes",
)  # fmt: skip


def solution(formula: str, mass_fraction: float) -> Concentration:
    solute = Solute.of_reagent(Reagents.bundled().find(formula))
    return Concentration.of(solute, Strength("mass_fraction", mass_fraction))


def test_dilution_is_the_benchs_with_the_keys_of_the_contract(crystal):
    got = crystal(*STOCK, "--make", "200 mL", "--json").json
    assert got.keys() >= DILUTE
    made = Dilution.of(solution("HCl", 0.31), solution("HCl", 0.185), make_mL=200.0)
    assert_allclose(
        [got["stock_mL"], got["stock_g"], got["water_mL"], got["water_g"], got["final_density_g_mL"]],
        [made.stock.volume_mL, made.stock.mass_g, made.weaker.volume_mL, made.weaker.mass_g,
         made.final.concentration.density_g_mL],
    )  # fmt: skip
    assert got["final_mL"] == 200.0
    assert_allclose(got["stock_g"] * 0.31, got["final_g"] * 0.185)
    numbers = {key: value for key, value in got.items() if key not in ("solute", "warnings")}
    assert all(isinstance(value, float) and key.endswith(UNITS) for key, value in numbers.items()), numbers


def test_both_numbers_of_the_shortcut_are_shown(crystal):
    """119 mL by the shortcut for 200 mL of 18.5 % from 31 % acid: common practice, no source."""
    got = crystal(*STOCK, "--make", "200 mL", "--json").json
    assert round(got["by_volume_shortcut_mL"]) == 119
    shown = " ".join(crystal(*STOCK, "--make", "200 mL").out.split())
    assert "says 119 mL of stock: 5.85 % too much" in shown
    assert re.search(r"stock 31\.0 113 130", shown)
    assert "Pour the acid slowly into the water" in shown
    assert "Harm: hydrochloric acid" in shown


@pytest.mark.parametrize(
    ("same", "as_"),
    [
        (["--make", "0.2 L"], ["--make", "200 mL"]),
        (["--make", "0.5 kg"], ["--make", "500 g"]),
        (["--make", "200 mL", "--read-at", "77 F"], ["--make", "200 mL", "--read-at", "25 degC"]),
    ],
)
def test_units_do_not_matter(crystal, same, as_):
    one, other = (crystal(*STOCK, *words, "--json").json for words in (same, as_))
    assert one.keys() == other.keys()
    for key in one.keys() - {"solute", "warnings"}:
        assert_allclose(one[key], other[key], rtol=1e-9, err_msg=key)


def test_names_and_bases_of_one_bottle_agree(crystal):
    known = crystal(*STOCK, "--make", "500 g", "--json").json
    bottle = solution("HCl", 0.31)
    for text in ("31 % w/w muriatic acid", f"{bottle.mol_L!r} mol/L HCl", f"{bottle.density_g_mL!r} g/mL HCl",
                 f"{bottle.baume(BAUME_US)!r} Be US HCl", f"{bottle.baume(BAUME_RATIONAL)!r} Be rational HCl",
                 f"sg {bottle.specific_gravity()!r} HCl", f"{bottle.g_100g_water!r} g/100 g water HCl"):  # fmt: skip
        words = ["dilute", "--stock", text, "--target", "18.5 % w/w HCl", "--make", "500 g", "--json"]
        assert_allclose(crystal(*words).json["stock_g"], known["stock_g"], rtol=1e-5, err_msg=text)


def test_stated_density_of_the_stock_wins(crystal):
    got = crystal(*STOCK, "--make", "200 mL", "--stock-density", "1.16 g/mL", "--json").json
    assert_allclose(got["stock_density_g_mL"], 1.16, rtol=1e-12)
    assert_allclose(got["stock_g"], crystal(*STOCK, "--make", "200 mL", "--json").json["stock_g"], rtol=1e-12)


def test_two_stocks_to_a_strength_between(crystal):
    got = crystal(*STOCK, "--and", "5 % w/w HCl", "--make", "500 g", "--json").json
    assert_allclose(got["stock_g"] + got["water_g"], 500.0, rtol=1e-12)
    assert_allclose(0.31 * got["stock_g"] + 0.05 * got["water_g"], 0.185 * 500.0, rtol=1e-12)
    assert_allclose(got["weaker_mass_percent"], 5.0)
    assert "weaker stock" in crystal(*STOCK, "--and", "5 % w/w HCl", "--make", "500 g").out


def test_a_mixture_is_the_benchs(crystal):
    words = ("dilute", "--mix", "100 mL of 31 % w/w HCl", "--mix", "200 mL of water")
    got = crystal(*words, "--json").json
    acid = solution("HCl", 0.31)
    mixed = Mixture.of(
        [Portion.of(acid, volume_mL=100.0), Portion.of(Concentration.water(acid.solute), volume_mL=200.0)]
    )
    assert_allclose(got["mass_percent"], mixed.whole.concentration.mass_percent)
    assert_allclose(got["volume_mL"], mixed.whole.volume_mL)
    assert_allclose(sum(one["mass_g"] for one in got["portions"]), got["mass_g"])
    assert "together" in crystal(*words).out
    assert crystal("dilute", "--mix", "200 mL water", "--mix", "100 mL of 31 % HCl").code == 0


def test_salts_are_diluted_too(crystal):
    words = ["--stock", "30 % w/w CuSO4.5H2O", "--target", "10 % w/w of CuSO4.5H2O", "--make", "300 g"]
    assert_allclose(crystal("dilute", *words, "--json").json["stock_g"], 100.0, rtol=1e-9)


def test_strength_tells_every_basis(crystal):
    got = crystal("strength", "31 % w/w HCl", "--json").json
    assert got == solution("HCl", 0.31).to_json()
    assert got["peroxide_volumes"] is None
    shown = " ".join(crystal("strength", "31 % w/w HCl").out.split())
    assert "molarity 9.81 mol/L" in shown
    assert "US: 145 - 145/sg, 60/60 °F" in shown
    assert "rational, older European: 144.3" in shown


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        ("10 volumes H2O2", "g_per_L", 30.35),  # 2 * 34.01 / 22.414 * 10
        ("10 vol", "g_per_L", 30.35),
        ("66 Be US H2SO4", "specific_gravity_60_60_degF", 145 / 79),
        ("66 Be H2SO4", "baume_us_degrees", 66.0),
        ("42 Be rational HNO3", "baume_rational_degrees", 42.0),
        ("1.18 g/mL HCl", "density_g_mL", 1.18),
        ("sg 1.18 HCl", "specific_gravity_60_60_degF", 1.18),
        ("26 Be ammonia", "baume_us_degrees", 26.0),
        ("2 mol/L sulfuric acid", "mol_per_L", 2.0),
        ("3 mol/kg H3PO4", "mol_per_kg_water", 3.0),
        ("180 g/L HCl", "g_per_L", 180.0),
    ],
)
def test_strength_from_every_basis(crystal, text, key, value):
    assert_allclose(crystal("strength", text, "--json").json[key], value, rtol=2e-4)


def test_unsaid_scale_is_said(crystal):
    assert "taken on the US scale" in crystal("strength", "42 Be HNO3").out
    assert "taken on the US scale" not in crystal("strength", "42 Be US HNO3").out


def test_temperature_and_label_density_of_a_strength(crystal):
    warm = crystal("strength", "31 % w/w HCl", "--at", "40 degC", "--json").json
    assert warm["density_g_mL"] < crystal("strength", "31 % w/w HCl", "--json").json["density_g_mL"]
    told = crystal("strength", "31 % w/w HCl", "--density", "1.16 g/mL at 20 degC", "--json").json
    assert_allclose(told["mol_per_L"], 1160 * 0.31 / solution("HCl", 0.31).solute.molar_mass_g_mol)


ASSAY = ("assay", "CuSO4", "--volume", "400 mL")
READ = {
    "density": ("--density", "1.18 g/mL at 20 degC"),
    "drying": ("--dried", "2.95 g of CuSO4.5H2O", "--dried-from", "10 mL"),
    "titration": ("--titrant", "23.5 mL of 0.2 mol/L", "--titrated", "10 mL"),
    "first crystals": ("--first-crystals", "20 degC"),
}


def _assay(method: str) -> Assay:
    copper = model("CuSO4")
    parts = {"aliquot_mL": 10.0, "total_mL": 400.0}
    return {
        "density": lambda: Assay.by_density(copper, 1.18, volume_mL=400.0),
        "drying": lambda: Assay.by_drying(copper, 2.95, Hydrate("CuSO4", 5.0), **parts),
        "titration": lambda: Assay.by_titration(
            copper, titrant_mL=23.5, titrant_mol_L=0.2, titrant_per_salt=1.0, **parts
        ),
        "first crystals": lambda: Assay.by_first_crystals(copper, 20.0, volume_mL=400.0, read_at_C=20.0),
    }[method]()


@pytest.mark.parametrize("method", READ)
def test_each_assay_is_the_benchs(crystal, method):
    got = crystal(*ASSAY, *READ[method], "--json").json
    assert got.keys() == {"salt", "volume_mL", "mass_g", "read_at_degC", "assays", "comparisons", "warnings"}
    (one,) = got["assays"]
    assert one == _assay(method).to_json()
    assert got["comparisons"] == []
    assert method in crystal(*ASSAY, *READ[method]).out


def test_assays_are_held_against_one_another(crystal):
    words = [word for method in READ for word in READ[method]]
    got = crystal(*ASSAY, *words, "--json").json
    assert [one["method"] for one in got["assays"]] == list(READ)
    assert len(got["comparisons"]) == 6
    agree = {(pair["more"], pair["less"]): pair["agree"] for pair in got["comparisons"]}
    assert agree["drying", "density"] is True
    odd = [pair for pair in got["comparisons"] if not pair["agree"]]
    assert odd
    assert {pair["sentence"] for pair in odd} <= set(got["warnings"])
    shown = " ".join(crystal(*ASSAY, *words).out.split())
    assert "Drying and density agree" in shown
    assert "times their combined uncertainty" in shown


def test_moles_of_titrant_per_salt(crystal):
    words = (*ASSAY, *READ["titration"], "--json")
    one = crystal(*words).json["assays"][0]["salt_g"]
    assert_allclose(crystal(*words, "--per-salt", "2").json["assays"][0]["salt_g"], one / 2)


def test_a_hydrometer_read_warmer_than_the_volume(crystal):
    """The same liquor: 400 mL at 20 °C weigh what their density there says, whatever the hydrometer's temperature."""
    copper = model("CuSO4")
    w = 0.16
    warm, cold = (float(copper.density.density_g_mL(w, t)) for t in (35.0, 20.0))
    got = crystal(*ASSAY, "--density", f"{warm!r} g/mL at 35 degC", "--json").json["assays"][0]["salt_g"]
    assert_allclose(got, w * cold * 400.0, rtol=1e-6)


POT = ["--target", "18.5 % w/w", "--make", "200 mL"]
BAD = {
    "above 100 %": (["dilute", "--stock", "120 % w/w HCl", *POT], "--stock: got '120 % w/w HCl'.*below 100 %"),
    "target above stock": (
        ["dilute", "--stock", "31 % w/w HCl", "--target", "35 % w/w", "--make", "200 mL"],
        "--target: got '35 % w/w'.*above 0 .water. and below 31 mass %",
    ),
    "target below second": (
        [*STOCK, "--and", "25 % w/w HCl", "--make", "200 mL"], "--target: .*above 25 mass % and below 31 mass %",
    ),
    "unknown solute": (["dilute", "--stock", "31 % w/w HClO", *POT], "--stock: .*of a reagent .*not of 'HClO'"),
    "nearly a name": (["strength", "31 % w/w muriatik acid"], "SOLUTION: .*close matches: muriatic acid"),
    "no solute": (["strength", "31 % w/w"], "SOLUTION: .*what is dissolved, for example 31 % w/w HCl"),
    "other solute": (
        ["dilute", "--stock", "31 % w/w HCl", "--target", "10 % w/w HNO3", "--make", "1 L"],
        "--target: got '10 % w/w HNO3'.*of HCl, not of HNO3",
    ),
    "zero amount": ([*STOCK, "--make", "0 mL"], "--make: got '0 mL'.*more than 0"),
    "wrong unit": ([*STOCK, "--make", "3 degC"], "--make: got '3 degC'"),
    "moles": ([*STOCK, "--make", "2 mol"], "--make: got '2 mol'.*volume or a mass"),
    "no make": ([*STOCK], "--make: got nothing"),
    "mix beside stock": ([*STOCK, "--make", "1 L", "--mix", "1 L of water"], "--mix: got beside --stock, --target and"),
    "mix of two": (["dilute", "--mix", "1 L of 9 % HCl", "--mix", "1 L of 9 % HNO3"], "--mix: .*of HCl, not of HNO3"),
    "mix of water": (["dilute", "--mix", "1 L of water"], "--mix: .*names its solute"),
    "mix, no amount": (["dilute", "--mix", "31 % w/w HCl"], "--mix: got '31 % w/w HCl'"),
    "mix of zero": (["dilute", "--mix", "0 mL of 31 % HCl"], "--mix: got '0 mL of 31 % HCl'.*more than 0"),
    "density twice": (["strength", "1.16 g/mL HCl", "--density", "1.16 g/mL"], "--density: .*left out"),
    "density of a stone": (["strength", "31 % HCl", "--density", "9 g/mL"], "--density: got '9 g/mL'.*a solution's"),
    "volumes of acid": (["strength", "10 volumes HCl"], "SOLUTION: got '10 volumes HCl'.*hydrogen peroxide"),
    "no such density": (["strength", "2.9 g/mL HCl"], "SOLUTION: got '2.9 g/mL HCl'.*at most"),
    "light Baume": (["strength", "5 Be ammonia"], "SOLUTION: got '5 Be ammonia'.*at least 10 degrees"),
    "light rational": (["strength", "26 Be rational ammonia"], "SOLUTION: .*on the US scale"),
    "not a strength": (["strength", "blue"], "SOLUTION: got 'blue'.*a solution with its strength"),
    "no size": (["assay", "CuSO4", *READ["density"]], "--volume or --mass: got nothing"),
    "two sizes": ([*ASSAY, "--mass", "1 kg", *READ["density"]], "--volume or --mass: got both"),
    "no measurement": ([*ASSAY], "no measurement.*--density, --dried, --titrant or --first-crystals"),
    "half a drying": ([*ASSAY, "--dried", "2 g of CuSO4"], "--dried-from: got nothing.*beside --dried"),
    "half a titration": ([*ASSAY, "--titrated", "2 mL"], "--titrant: got nothing.*beside --titrated"),
    "dried to what": ([*ASSAY, "--dried", "2 g", "--dried-from", "9 mL"], "--dried: got '2 g'.*dried to"),
    "dried to another": ([*ASSAY, "--dried", "2 g of NaCl", "--dried-from", "9 mL"], "--dried: .*not of NaCl"),
    "part by mass": (
        [*ASSAY, "--dried", "2 g of CuSO4", "--dried-from", "9 g"], "--dried-from: got '9 g'.*a volume, as --volume",
    ),
    "part too large": ([*ASSAY, "--dried", "2 g of CuSO4", "--dried-from", "1 L"], "--dried-from: got '1 L'.*the whole"),
    "titrant by mass": (
        [*ASSAY, "--titrant", "2 g of CuSO4", "--titrated", "9 mL"], "--titrant: got '2 g of CuSO4'.*mol/L",
    ),
    "titrant of percent": (
        [*ASSAY, "--titrant", "2 mL of 5 % w/w", "--titrated", "9 mL"], "--titrant: got '2 mL of 5 % w/w'.*mol/L",
    ),
    "per salt of zero": ([*ASSAY, *READ["titration"], "--per-salt", "0"], "--per-salt: got '0'.*more than 0"),
    "per salt alone": ([*ASSAY, *READ["density"], "--per-salt", "2"], "--per-salt: got '2'.*left out"),
    "no first crystals": ([*ASSAY, "--first-crystals", "400 degC"], "--first-crystals: got '400 degC'"),
    "lighter than water": ([*ASSAY, "--density", "0.9 g/mL"], "--density: got '0.9 g/mL'.*above water's"),
    "unknown salt": (["assay", "CuSO4x", "--volume", "1 L", *READ["density"]], "salt: got 'CuSO4x'"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_one_clear_line_and_exit_2(crystal, tmp_path, case):
    words, message = BAD[case]
    ran = crystal(*words)
    assert ran.code == 2, ran.out
    assert ran.out == ""
    assert ran.err.count("\n") == 1, ran.err
    assert re.search(message, ran.err), ran.err
    assert list(tmp_path.iterdir()) == []


PIECES = st.sampled_from(
    ["100", "0", "-5", "1e3", "31", "1,5", "mL", "g", "mol", "of", "%", "w/w", "v/v", "g/L", "mol/L", "g/mL", "Be", "US",
     "rational", "sg", "volumes", "HCl", "H2SO4", "water", "CuSO4.5H2O", "at", "20", "degC", "=", ";", "/", "(", "é", "²"]
)  # fmt: skip
TEXTS = st.one_of(st.lists(PIECES, max_size=7).map(" ".join), st.text(max_size=30))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=TEXTS)
@example(text="100 mL of 31 % w/w HCl")
@example(text="1e300 L of 31 % w/w HCl")
def test_no_text_of_a_mixture_or_a_strength_ends_in_a_traceback(text):
    for words in (["dilute", "--mix", text], ["strength", text], ["dilute", f"--stock={text}", *POT]):
        try:
            assert main([*words, "--json"]) in (0, 2)
        except CrystalError as error:  # main turns these into exit 2
            raise AssertionError(words) from error
