"""Reactions from the command line and the batch file, and the pot they hand to the other commands."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from crystal.bench.made import Charge
from crystal.bench.react import react
from crystal.data.reagents import Reagents
from crystal.faces.cli import main
from crystal.physics.concentration import Concentration
from crystal.physics.formula import molar_mass_g_mol
from crystal.physics.reagent import Solute
from crystal.physics.strength import Strength

ZINC = "Zn + H2SO4 -> ZnSO4 + H2"
VITRIOL = ("react", ZINC, "--use", "Zn=32.7 g", "--use", "H2SO4=500 g of 12 % w/w")
CONTRACT = {"equation", "limiting", "products", "left_over", "gas", "pot", "warnings"}
UNITS = ("_g", "_mL", "_degC", "_percent", "_g_mL", "_mol", "_kJ", "_K")
WORDS = {
    "equation", "limiting", "products", "left_over", "gas", "pot", "warnings", "notes", "steps", "step", "formula", "mol",
    "g", "L", "where", "hydrate", "salt",
}  # fmt: skip

# The liquor of the common practice, no source: 20 g of iron, 200 mL of 18.5 % acid, 200 mL of 3 % peroxide.
IRON = (
    "react", "Fe + HCl -> FeCl2 + H2", "--use", "Fe=20 g", "--use", "HCl=200 mL of 18.5 % w/w",
    "--then", "FeCl2 + H2O2 + HCl -> FeCl3 + H2O", "--use", "H2O2=200 mL of 3 % w/w",
)  # fmt: skip


def test_a_reaction_is_the_benchs_with_the_keys_of_the_contract(crystal):
    got = crystal(*VITRIOL, "--hydrate", "ZnSO4.7H2O", "--json").json
    made = react(ZINC, [Charge("Zn", 32.7), Charge("H2SO4", 60.0, water_g=440.0)], hydrates=["ZnSO4.7H2O"])
    assert got.keys() >= CONTRACT
    assert got["limiting"] == "Zn"
    (salt, gas) = got["products"]
    assert (salt["formula"], salt["mol"], salt["g"]) == ("ZnSO4", made.products[0].mol, made.products[0].g)
    assert_allclose(
        salt["hydrate_g"], salt["mol"] * molar_mass_g_mol("ZnSO4") + salt["mol"] * 7 * 18.015, rtol=1e-4
    )
    assert gas["where"] == "gas"
    assert_allclose(got["gas"][0]["L"], made.gas[0].L)
    assert got["left_over"][1]["formula"] == "H2SO4"
    assert_allclose(got["left_over"][1]["g"], made.left_over[1].g)
    assert got["pot"]["salt"] == "ZnSO4"
    assert_allclose(got["pot"]["salt_g"], made.pot.salt_g)
    assert got["pot"]["others_g"] == made.pot.others_g
    assert any("Hydrogen catches fire" in warning for warning in got["warnings"])
    # Mass: all that went in is in the pot or has left as gas.
    assert_allclose(got["pot"]["liquor_g"] + got["gas"][0]["g"], 532.7, rtol=1e-9)


def test_keys_end_in_their_unit(crystal):
    def keys(value):
        if isinstance(value, dict):
            for key, inner in value.items():
                yield key, inner
                if not key.endswith("s_g"):  # grams by formula
                    yield from keys(inner)
        elif isinstance(value, list):
            for one in value:
                yield from keys(one)

    found = list(keys(crystal(*VITRIOL, "--json").json))
    assert len(found) > 40
    for key, value in found:
        assert key in WORDS or key.endswith(UNITS), key
        if key.endswith(UNITS) and key not in ("others_g", "undissolved_g"):
            assert value is None or isinstance(value, float), f"{key} is {value!r}"


def test_text_tells_what_limits_the_gas_and_the_heat(crystal):
    shown = " ".join(crystal(*VITRIOL).out.split())
    assert ZINC in shown
    assert re.search(r"Zn limits 0\.500 32\.7 0 0 - used up", shown)
    assert re.search(r"H2SO4 in excess 0\.612 60\.0 0\.112 10\.9 22\.3 dissolved", shown)
    assert "12.0 L at 20 °C" in shown
    assert re.search(r"Heat: 7\d\.\d kJ given off; at most 4\d\.\d K", shown)
    assert "80.7 g of ZnSO4 and 10.9 g of H2SO4 in 440 g of water" in shown
    assert "fume hood or in open air" in shown


@pytest.mark.parametrize(
    ("use", "grams", "water"),
    [
        ("HCl=36.46 g", 36.46, 0.0),
        ("HCl=1 mol", 36.458, 0.0),
        ("hydrochloric acid=200 g of 18.5 % w/w", 37.0, 163.0),
        ("HCl = 0.2 kg of 18.5 % w/w HCl", 37.0, 163.0),
        ("HCl=1 mol of 18.5 % w/w", 36.458, 36.458 * 0.815 / 0.185),
        ("HCl=100 g of 25 g/100 g water", 20.0, 80.0),
    ],
)
def test_an_amount_is_told_in_many_ways(crystal, use, grams, water):
    got = crystal("react", "Zn + HCl -> ZnCl2 + H2", "--use", "Zn=0.1 g", "--use", use, "--json").json
    spent = 2 * 0.1 / molar_mass_g_mol("Zn") * molar_mass_g_mol("HCl")
    assert_allclose(got["pot"]["others_g"]["HCl"] + spent, grams, rtol=1e-4)
    assert_allclose(got["pot"]["water_g"], water, rtol=1e-4, atol=1e-9)


def test_a_volume_of_a_strength_goes_by_the_reagents_density(crystal):
    acid = Solute.of_reagent(Reagents.bundled().find("HCl"))
    for at_C, words in ((20.0, ()), (35.0, ("--read-at", "35 degC"))):
        bottle = Concentration.of(acid, Strength("mass_fraction", 0.185), temperature_C=at_C)
        uses = ("--use", "Zn=0.1 g", "--use", "HCl=200 mL of 18.5 % w/w")
        got = crystal("react", "Zn + HCl -> ZnCl2 + H2", *uses, *words, "--json").json
        assert_allclose(got["pot"]["water_g"], 200.0 * bottle.density_g_mL * 0.815, rtol=1e-9)


def test_a_hydrate_brings_its_water_and_plain_water_may_be_added(crystal):
    got = crystal(
        "react", "CuSO4 + Na2CO3 -> CuCO3 + Na2SO4", "--use", "CuSO4=25 g of CuSO4.5H2O", "--use", "Na2CO3.10H2O=28.6 g",
        "--use", "water=0.1 L", "--undissolved", "CuCO3", "--json",
    ).json  # fmt: skip
    hydrates = 25.0 * 5 * 18.015 / 249.68 + 28.6 * 10 * 18.015 / 286.14
    assert_allclose(got["pot"]["water_g"], hydrates + 99.82, rtol=1e-3)
    assert got["pot"]["salt"] == "Na2SO4"
    assert "CuCO3" in got["pot"]["undissolved_g"]


def test_a_rise_beyond_boiling_is_said_in_words(crystal):
    strong = crystal("react", ZINC, "--use", "Zn=3 g", "--use", "H2SO4=20 mL of 96 % w/w").out
    assert "given off; enough to boil if the pot's water kept it all" in strong


def test_conversion_and_losses(crystal):
    whole = crystal(*VITRIOL, "--json").json
    part = crystal(*VITRIOL, "--converted", "95 %", "--lost", "0.02", "--json").json
    assert_allclose(part["products"][0]["mol"], 0.95 * whole["products"][0]["mol"])
    assert_allclose(part["pot"]["salt_g"], 0.98 * 0.95 * whole["pot"]["salt_g"])
    assert_allclose(part["pot"]["undissolved_g"]["Zn"], 0.05 * 32.7, rtol=1e-6)


def test_made_up_with_water_to_a_volume(crystal):
    got = crystal(*VITRIOL, "--make-up-to", "600 mL", "--json").json["pot"]
    assert_allclose(got["volume_mL"], 600.0)
    assert got["added_water_g"] > 100
    plain = crystal(*VITRIOL, "--json").json["pot"]
    assert_allclose(got["water_g"], plain["water_g"] + got["added_water_g"])


def test_two_steps_chain_and_options_belong_to_their_step(crystal):
    got = crystal(*IRON, "--converted", "90 %", "--json").json
    first, second = got["steps"]
    assert_allclose(first["extent_mol"], 20 / molar_mass_g_mol("Fe"))
    assert first["left_over"][0]["mol"] == 0.0  # the conversion is that of the second reaction
    assert second["left_over"][1]["formula"] == "H2O2"
    assert second["left_over"][1]["mol"] > 0
    assert [gas["step"] for gas in got["gas"]] == [1]
    assert any(warning.startswith("Step 1: H2") for warning in got["warnings"])
    shown = crystal(*IRON).out
    assert "Step 1\n" in shown
    assert "Step 2\n" in shown


def test_iron_liquor_of_the_trade_is_nearly_balanced(crystal):
    """Common practice, no source: acid in slight excess, peroxide within 1-2 % of its need, 0.358 mol of product."""
    got = crystal(*IRON, "--json").json
    assert got["equation"] == "2 FeCl2 + H2O2 + 2 HCl -> 2 FeCl3 + 2 H2O"
    (chloride,) = [one for one in got["products"] if one["formula"] == "FeCl3"]
    assert_allclose(chloride["mol"], 0.358, rtol=0.01)
    acid = got["pot"]["others_g"]["HCl"]
    assert 0.0 < acid < 0.05 * 40.3
    assert_allclose(
        chloride["mol"], got["steps"][0]["extent_mol"], rtol=0.02
    )  # so much iron the peroxide suffices for
    assert any("below 60 °C" in warning for warning in got["warnings"])
    assert any("fume hood or in open air" in warning for warning in got["warnings"])
    assert 7.0 < got["gas"][0]["L"] < 9.5


@pytest.fixture
def made(crystal, tmp_path):
    (tmp_path / "made.json").write_text(crystal(*VITRIOL, "--json").out, encoding="utf-8")
    return "made.json"


FROM = {
    "reduce": ("reduce", "--cool-to", "5 degC"),
    "yield": ("yield", "--cool-to", "20, 5 degC", "--reduce-to", "150 mL"),
    "path": ("path", "--cool-to", "5 degC", "--reduce-to", "150 mL"),
}


@pytest.mark.parametrize("command", FROM)
def test_the_pot_made_is_what_the_others_start_from(crystal, made, command):
    got = crystal(*FROM[command], "--from", made, "--json").json
    pot = json.loads(Path(made).read_text(encoding="utf-8"))["pot"]
    assert got["salt"] == "ZnSO4"
    assert_allclose([got["start"]["salt_g"], got["start"]["water_g"]], [pot["salt_g"], pot["water_g"]])
    assert_allclose(got["start"]["volume_mL"], pot["volume_mL"])
    assert [(one["formula"], one["g"]) for one in got["start"]["others"]] == [
        ("H2SO4", pot["others_g"]["H2SO4"])
    ]
    told = crystal(
        *FROM[command][:1], "ZnSO4", *FROM[command][1:], "--holds", f"{pot['salt_g']!r} g", "--water",
        f"{pot['water_g']!r} g", "--with", f"{pot['others_g']['H2SO4']!r} g of H2SO4", "--json",
    ).json  # fmt: skip
    assert_allclose(told["start"]["density_g_mL"], got["start"]["density_g_mL"], rtol=1e-9)
    assert "also holds 10.9 g of H2SO4" in " ".join(crystal(*FROM[command], "--from", made).out.split())


def test_solids_of_the_pot_made_are_filtered_off_and_that_is_said(crystal, tmp_path):
    (tmp_path / "m.json").write_text(crystal(*VITRIOL, "--converted", "95 %", "--json").out)
    warnings = crystal("reduce", "--from", "m.json", "--cool-to", "5 degC", "--json").json["warnings"]
    assert any("1.64 g of Zn undissolved" in warning and "filtered off" in warning for warning in warnings), (
        warnings
    )


BATCH = """
title = "White vitriol from scrap zinc (invented)"
[made]
volume = "600 mL"
[[made.step]]
equation = "Zn + H2SO4 -> ZnSO4 + H2"
use = ["Zn=32.7 g", "H2SO4=500 g of 12 % w/w"]
converted = "98 %"
lost = "2 %"
[reduce]
to = "120 mL"
[cool]
to = "5 degC"
[[seen]]
outcome = "crop"
"""


def test_a_worked_batch_from_bottle_to_crystals(crystal, tmp_path):
    (tmp_path / "batch.toml").write_text(BATCH)
    by_hand = crystal(
        *VITRIOL, "--converted", "98 %", "--lost", "2 %", "--make-up-to", "600 mL", "--json"
    ).json["pot"]
    for words in (["explain", "batch.toml"], ["yield", "--batch", "batch.toml"], ["path", "--batch", "batch.toml"],
                  ["reduce", "--batch", "batch.toml"]):  # fmt: skip
        got = crystal(*words, "--json").json
        assert got["salt"] == "ZnSO4"
        assert_allclose(got["start"]["volume_mL"], 600.0)
        assert_allclose(got["start"]["salt_g"], by_hand["salt_g"])
        assert_allclose(got["start"]["water_g"], by_hand["water_g"])
        assert any("Hydrogen catches fire" in warning for warning in got["warnings"])
        assert any("Zn undissolved" in warning for warning in got["warnings"])
    told = crystal("explain", "batch.toml", "--json").json
    assert (told["outcome_expected"], told["agrees"]) == ("crop", True)


def test_salt_of_the_file_names_the_pot(crystal, tmp_path):
    text = BATCH.replace("[made]", 'salt = "zinc vitriol"\n[made]', 1)
    (tmp_path / "batch.toml").write_text(text)
    assert crystal("reduce", "--batch", "batch.toml", "--json").json["salt"] == "ZnSO4"
    (tmp_path / "batch.toml").write_text(text.replace("zinc vitriol", "Epsom salt"))
    ran = crystal("reduce", "--batch", "batch.toml")
    assert ran.code == 2
    assert re.search(r"batch.toml: salt: got 'MgSO4'.*dissolved in it", ran.err), ran.err


BAD = {
    "not in the equation": ([*VITRIOL, "--use", "NaCl=2 g"], "--use: got NaCl.*reagent of the equation .Zn, H2SO4"),
    "no amount of one": (["react", ZINC, "--use", "Zn=2 g"], "amount of H2SO4: got none.*left of"),
    "unbalanceable": (["react", "Zn + H2SO4 -> ZnCl2 + H2", "--use", "Zn=1 g"], "equation: .*(Cl|S)"),
    "no arrow": (["react", "Zn + H2SO4", "--use", "Zn=1 g"], "no arrow"),
    "unknown formula": (["react", "Zz + H2SO4 -> ZzSO4 + H2", "--use", "Zz=1 g"], "formula: got 'Zz'.*'Zz' is not"),
    "unknown use": ([*VITRIOL, "--use", "Qq=1 g"], "--use: got 'Qq=1 g'.*not an element"),
    "no equals sign": ([*VITRIOL, "--use", "Zn 2 g"], "--use: got 'Zn 2 g'.*equals sign"),
    "zero": (["react", ZINC, "--use", "Zn=0 g"], "--use: got ' ?0 g'.*more than 0"),
    "negative": (["react", ZINC, "--use", "Zn=-3 g"], "--use: got .*more than 0"),
    "strength above 100 %": (["react", ZINC, "--use", "H2SO4=9 g of 120 % w/w"], "--use: .*below 100 %"),
    "volume of a metal": (["react", ZINC, "--use", "Zn=9 mL"], "--use: got 'Zn=9 mL'.*volume of a strength"),
    "temperature": (["react", ZINC, "--use", "Zn=9 degC"], "--use: got .*'degC' is none of its units"),
    "another's strength": (["react", ZINC, "--use", "H2SO4=9 g of 12 % w/w HCl"], "--use: .*of H2SO4, not of HCl"),
    "another's solid": (["react", ZINC, "--use", "Zn=9 g of Fe"], "--use: .*of Zn or of a hydrate of it, not of Fe"),
    "no density known": (
        ["react", "K2FeO4 + HCl -> KCl + FeCl3 + Cl2 + H2O", "--use", "K2FeO4=9 mL of 12 % w/w"],
        "--use: .*density of K2FeO4 solutions is not in the data",
    ),
    "converted": ([*VITRIOL, "--converted", "95"], "--converted: got '95'.*0 to 100 %; a percentage"),
    "converted nothing": ([*VITRIOL, "--converted", "0 %"], "--converted: got '0 %'.*more than 0"),
    "all lost": ([*VITRIOL, "--lost", "100 %"], "--lost: got '100 %'.*less than 1"),
    "converted twice": ([*VITRIOL, "--converted", "9 %", "--converted", "8 %"], "--converted is given twice"),
    "hydrate of another": ([*VITRIOL, "--hydrate", "CuSO4.5H2O"], "hydrate: got CuSO4.5H2O"),
    "pot salt": ([*VITRIOL, "--pot-salt", "NaCl"], "--pot-salt: got 'NaCl'.*dissolved in it"),
    "made up to less": ([*VITRIOL, "--make-up-to", "100 mL"], "--make-up-to: got '100 mL'.*at least what is in"),
    "made up to grams": ([*VITRIOL, "--make-up-to", "900 g"], "--make-up-to: got '900 g'.*volume"),
    "second step": ([*VITRIOL, "--then", "ZnSO4 + Na2CO3 -> ZnCO3 + Na2SO4"], "step 2: amount of Na2CO3: got none"),
    "electrons": (["react", "Zn -> Zn^2+ + 2 e", "--use", "Zn=1 g"], "formula|equation"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_one_clear_line_and_exit_2(crystal, tmp_path, case):
    words, message = BAD[case]
    ran = crystal(*words, "--csv", "rows.csv")
    assert ran.code == 2, ran.out
    assert ran.out == ""
    assert ran.err.count("\n") == 1, ran.err
    assert re.search(message, ran.err), ran.err
    assert list(tmp_path.iterdir()) == []


GOOD_POT = '{"pot": {"salt": "ZnSO4", "salt_g": 80.0, "water_g": 400.0, "others_g": {}}}'
FILES = {
    "broken": (GOOD_POT[:-3], r"--from: got 'm.json'.*JSON"),
    "not JSON": ("title = 3", r"--from: got 'm.json'.*JSON"),
    "not text": (b"\xff\xfe\x00", r"--from: got 'm.json'.*JSON"),
    "not a number": (GOOD_POT.replace("80.0", "NaN"), "NaN is no number"),
    "another answer": ('{"salt": "ZnSO4", "ends": []}', "--from: got 'm.json'.*'crystal react' with its pot"),
    "a list": ("[1, 2]", "--from: got 'm.json'.*with its pot"),
    "deep": ("[" * 100000, "--from: got 'm.json'.*nested too deeply"),
    "no salt": (GOOD_POT.replace('"ZnSO4"', "null"), "m.json: pot.salt: got None"),
    "unknown salt": (GOOD_POT.replace("ZnSO4", "ZnX"), "the pot made: got ZnX.*saturation curve"),
    "no water": (GOOD_POT.replace("400.0", "0"), "pot.water_g: got 0.*more than 0 g"),
    "negative": (GOOD_POT.replace("80.0", "-80"), "pot.salt_g: got -80"),
    "words": (GOOD_POT.replace("80.0", '"80 g"'), "pot.salt_g: got '80 g'"),
    "others": (GOOD_POT.replace("{}}", '{"H2SO4": -1}}'), "pot.others_g.H2SO4: got -1.*0 g or more"),
    "others no object": (GOOD_POT.replace("{}}", "[1]}"), "pot.others_g: got .1..*an object"),
    "strange other": (GOOD_POT.replace("{}}", '{"Qq": 1}}'), "what the pot made holds: got 'Qq'"),
}


@pytest.mark.parametrize("case", FILES)
def test_a_file_that_is_no_pot_made(crystal, tmp_path, case):
    text, message = FILES[case]
    file = tmp_path / "m.json"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    ran = crystal("reduce", "--from", "m.json", "--cool-to", "5 degC", "--chart", "w.png")
    assert ran.code == 2, ran.out
    assert ran.err.count("\n") == 1
    assert re.search(message, ran.err), ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["m.json"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["reduce", "ZnSO4", "--from", "made.json"], "SALT and --from"),
        (["reduce", "--batch", "b.toml", "--from", "made.json"], "--batch and --from"),
        (["reduce", "--from", "made.json", "--start", "1 L"], "--start: got a fact on the pot.*was made"),
        (["reduce", "--from", "made.json", "--with", "1 g of HCl"], "--with: got a fact on the pot"),
        (["reduce", "--from", "none.json"], "'none.json'.*No such file"),
    ],
    ids=["salt", "batch", "size", "others", "missing"],
)
def test_the_pot_is_told_once(crystal, made, words, message):
    ran = crystal(*words, "--cool-to", "5 degC")
    assert made
    assert ran.code == 2
    assert re.search(message, ran.err), ran.err


BATCHES = {
    "start beside": (
        BATCH.replace("[reduce]", '[start]\nvolume = "1 L"\n[reduce]'),
        r"start\.volume: got a fact",
    ),
    "no step": ('[made]\nvolume = "1 L"\n[cool]\nto = "5 C"', r"made\.step: got None.*\[\[made.step\]\]"),
    "step no table": ('[made]\nstep = ["x"]', r"made\.step: got \['x'\]"),
    "made no table": ("made = 3", r"made: got 3"),
    "unknown key": (
        BATCH.replace("lost =", "losst ="),
        r"made\.step 1\.losst: got an unknown key.*close matches: lost",
    ),
    "unknown key of made": (BATCH.replace("volume =", "volum =", 1), r"made\.volum: got an unknown key"),
    "no equation": (BATCH.replace("equation =", "gas ="), r"made\.step 1\.equation: got nothing"),
    "use number": (
        BATCH.replace('["Zn=32.7 g", ', "[32.7, "),
        r"made\.step 1\.use: got 32\.7.*text in quotes",
    ),
    "use unread": (BATCH.replace("Zn=32.7 g", "Zn=32.7 mL"), r"made\.step 1\.use: got 'Zn=32\.7 mL'"),
    "not of the equation": (BATCH.replace("Zn=32.7 g", "Fe=32.7 g"), r"made\.step 1\.use: got Fe.*reagent"),
    "unbalanceable": (BATCH.replace("-> ZnSO4", "-> ZnCl2"), r"made\.step 1: equation"),
    "lost all": (BATCH.replace('"2 %"', '"100 %"'), r"made\.step 1\.lost: got '100 %'"),
    "made up to less": (BATCH.replace("600 mL", "100 mL"), r"made\.volume: got '100 mL'.*at least"),
}


@pytest.mark.parametrize("case", BATCHES)
def test_a_batch_file_names_the_step_and_the_key(crystal, tmp_path, case):
    text, message = BATCHES[case]
    (tmp_path / "b.toml").write_text(text)
    ran = crystal("explain", "b.toml")
    assert ran.code == 2, ran.out
    assert ran.err.count("\n") == 1
    assert ran.err.startswith("crystal: b.toml: ")
    assert re.search(message, ran.err), ran.err


PIECES = st.sampled_from(
    ["Zn", "H2SO4", "ZnSO4.7H2O", "water", "=", "100", "0", "-5", "1e3", "1,5", "g", "mol", "mL", "of", "%", "w/w", "12",
     "g/L", "g/mL", "Be", "sg", "volumes", "HCl", "muriatic acid", "at", "20", "degC", ";", "/", "(", ")", ".", "²"]
)  # fmt: skip
TEXTS = st.one_of(
    st.lists(PIECES, max_size=7).map(" ".join),
    st.lists(PIECES, max_size=6).map(lambda parts: "H2SO4=" + " ".join(parts)),
    st.text(max_size=30),
)


@settings(max_examples=200, deadline=None)
@given(text=TEXTS)
@example(text="H2SO4=500 g of 12 % w/w")
@example(text="H2SO4=1e300 g")
@example(text="=")
def test_no_text_of_a_use_ends_in_a_traceback(text):
    assert main(["react", ZINC, "--use", "Zn=1 g", f"--use={text}", "--json"]) in (0, 2)


REACTIONS = """\
[made]
volume = "500 mL"
[[made.step]]
equation = "Zn + H2SO4 -> ZnSO4 + H2"
use = ["Zn=32.7 g", "H2SO4=500 g of 12 % w/w"]
converted = "98 %"
"""


def test_a_batch_files_reactions_are_those_of_the_words(crystal, tmp_path):
    (tmp_path / "batch.toml").write_text(REACTIONS, encoding="utf-8")
    words = (*VITRIOL, "--converted", "98 %", "--make-up-to", "500 mL", "--json")
    assert crystal("react", "--batch", "batch.toml", "--json").json == crystal(*words).json
    assert "crystal reduce batch.toml" in " ".join(crystal("react", "--batch", "batch.toml").out.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "EQUATION: got nothing"),
        ((ZINC, "--batch", "batch.toml"), "--batch: got a file and EQUATION"),
        (("--use", "Zn=3 g", "--batch", "batch.toml"), "it must be alone"),
        (("--make-up-to", "1 L", "--batch", "batch.toml"), "it must be alone"),
        (("--batch", "none.toml"), "a file that can be read"),
    ],
)
def test_a_batch_file_stands_alone(crystal, tmp_path, words, said):
    (tmp_path / "batch.toml").write_text(REACTIONS, encoding="utf-8")
    ran = crystal("react", *words)
    assert ran.code == 2
    assert said in ran.err


@pytest.mark.parametrize("amount", ["260 g of 20 % w/w", "0.6 mol", "30 mL of 96 % w/w", "60 g"])
def test_what_would_be_just_enough_is_just_enough(crystal, amount):
    words = ("react", "Li2CO3 + H2SO4 -> Li2SO4 + H2O + CO2", "--use", "Li2CO3=37 g", "--use")
    (told,) = re.findall(
        r"- ([\d.]+ \w+) of H2SO4(?: of ([^.]+))? would be just enough",
        crystal(*words, f"H2SO4={amount}").out,
    )
    enough = " of ".join(part for part in told if part)
    left = {one["formula"]: one for one in crystal(*words, f"H2SO4={enough}", "--json").json["left_over"]}
    assert max(one["excess_percent"] for one in left.values()) < 0.5
    assert "just enough" not in crystal(*words, f"H2SO4={enough}").out
