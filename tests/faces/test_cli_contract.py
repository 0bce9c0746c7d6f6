"""What a program may rely on: keys, kinds of values, units that do not matter."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose

POT = ("--holds", "200 g of MgSO4.7H2O", "--start", "500 mL")
COLD = ("--cool-to", "5 degC")

START = {"volume_mL", "mass_g", "salt_g", "water_g", "mass_percent", "density_g_mL", "others"}
SIZES = {"end_volume_mL", "fraction_of_start", "end_mass_g"}
OUTCOME = {
    "outcome", "phase", "crystals_g", "yield_percent", "liquor_g", "liquor_mL", "liquor_mass_percent",
    "crystal_volume_fraction",
}  # fmt: skip
MARKS = {
    "volume_mL", "read_at_degC", "mass_g", "density_g_mL", "baume_degrees", "boiling_degC", "boiling_error_K", "warnings",
}  # fmt: skip
CONTRACT = {
    "reduce": {
        "": {
            "salt", "start", "cool_to_degC", "read_at_degC", "saturates", "pours_off_down_to", "sets_solid_below",
            "bands", "ends", "advice", "warnings",
        },
        "start": START,
        "saturates": SIZES | {"mass_percent"},
        "pours_off_down_to": SIZES,
        "sets_solid_below": SIZES,
        "bands": {"from_mL", "to_mL", "outcome", "phase"},
        "ends": SIZES | OUTCOME | {
            "water_removed_g", "mass_percent", "first_crystals_degC", "solids_while_hot", "ice_g", "solids", "odds", "crop_g",
        },
        "advice": SIZES | {"density_g_mL", "crystals_g", "outcome", "reason"},
        "marks": MARKS,
        "want": SIZES | {"crystals_g", "outcome", "feed_factor", "feed_volume_mL", "feed_mass_g"},
    },
    "yield": {
        "": {"salt", "start", "end", "rows", "warnings"},
        "start": START,
        "end": SIZES | {"water_removed_g", "mass_percent"},
        "rows": OUTCOME | {"cool_to_degC", "solids"},
    },
    "path": {
        "": {"steps", "warnings"},
        "steps": {
            "step", "temperature_degC", "mass_percent", "salt_g", "water_g", "phase", "solids", "crystals_g", "liquor_g",
            "liquor_mass_percent",
        },
    },
    "explain": {
        "": {
            "outcome_expected", "outcome_seen", "agrees", "reasons", "would_have_worked", "rescue", "warnings",
        },
        "reasons": {"cause", "text"},
        "would_have_worked": SIZES - {"end_mass_g"} | {"crystals_g"},
        "rescue": {"add_water_g", "warm_to_degC", "cool_to_degC", "crystals_g", "outcome"},
    },
    "salts": {"": {"formula", "name", "solids", "covers_degC"}},
}  # fmt: skip
WORDS_ONLY = {
    "curve", "odds", "clear", "crop", "thick", "set", "p10", "p90", "risk_kept", "doubts", "input", "inputs", "how",
    "evidence", "verdict", "luck", "suspects", "off_factor", "times_doubt", "support", "tests", "draws",
    "effective_draws", "redrawn", "widened", "contradictions", "mean", "spread",
    "salt", "start", "end", "outcome", "phase", "solids", "solids_while_hot", "bands", "ends", "rows", "steps", "step",
    "advice", "want", "warnings", "reason", "reasons", "cause", "text", "agrees", "title", "expected", "rescue",
    "saturates", "pours_off_down_to", "sets_solid_below", "outcome_expected", "outcome_seen", "would_have_worked",
    "formula", "name", "g", "fraction_of_start", "feed_factor", "others", "marks", "hot", "boiling_basis",
}  # fmt: skip
UNITS = ("_g", "_mL", "_degC", "_percent", "_fraction", "_g_mL", "_K", "_kPa", "_degrees", "_degF")

BATCH = """
title = "Too far"
salt = "MgSO4"
[start]
volume = "500 mL"
holds = "200 g of MgSO4.7H2O"
[reduce]
to = "150 mL"
[cool]
to = "5 degC"
[[seen]]
outcome = "set solid"
"""


@pytest.fixture
def answers(crystal, tmp_path):
    batch = tmp_path / "batch.toml"
    batch.write_text(BATCH)
    return {
        "reduce": crystal("reduce", "MgSO4", *POT, *COLD, "--want", "100 g", "--json").json,
        "yield": crystal(
            "yield", "MgSO4", *POT, "--reduce-to", "40 %", "--cool-to", "20, 0 degC", "--json"
        ).json,
        "path": crystal("path", "MgSO4", *POT, "--reduce-to", "40 %", *COLD, "--json").json,
        "explain": crystal("explain", str(batch), "--json").json,
        "salts": crystal("salts", "alum", "--json").json,
    }


@pytest.mark.parametrize("command", CONTRACT)
def test_every_promised_key_is_there(answers, command):
    answer = answers[command]
    for place, keys in CONTRACT[command].items():
        found = answer[place] if place else answer
        assert found, f"{command}: {place} is empty, nothing would be checked"
        for one in found if isinstance(found, list) else [found]:
            assert keys <= one.keys(), f"{command}: {place} lacks {keys - one.keys()}"


def _keys(value):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key, inner
            yield from _keys(inner)
    elif isinstance(value, list):
        for one in value:
            yield from _keys(one)


@pytest.mark.parametrize("command", CONTRACT)
def test_numbers_end_in_their_unit_and_are_numbers(answers, command):
    for key, value in _keys(answers[command]):
        assert key in WORDS_ONLY or key.endswith(UNITS), f"{key} does not end in a unit"
        if key.endswith(UNITS) and key not in ("covers_degC", "crop_g"):
            assert value is None or isinstance(value, float), f"{key} is {value!r}"


def test_the_same_request_in_other_units_gives_the_same_answer(crystal):
    plain = crystal(
        "reduce", "MgSO4", *POT, *COLD, "--read-at", "20 degC", "--ends", "300 mL, 180 g", "--json"
    ).json
    other = crystal(
        "reduce", "Epsom salt", "--holds", "0.2 kg of MgSO4·7H2O", "--start", "0.5 L", "--start-at", "68 °F",
        "--cool-to", "41 F", "--read-at", "293.15 K", "--ends", "0.3 L; 0.18 kg", "--json",
    ).json  # fmt: skip
    _agree(plain, other)


def _agree(a, b, place=""):
    assert type(a) is type(b), place
    if isinstance(a, dict):
        assert a.keys() == b.keys()
        for key in a:
            _agree(a[key], b[key], f"{place}.{key}")
    elif isinstance(a, list):
        assert len(a) == len(b), place
        for i, (one, two) in enumerate(zip(a, b, strict=True)):
            _agree(one, two, f"{place}[{i}]")
    elif isinstance(a, float):
        assert_allclose(a, b, rtol=1e-9, atol=1e-9, err_msg=place)
    else:
        assert a == b, place


def test_tenfold_batch_gives_tenfold_masses(crystal):
    one = crystal(
        "yield", "CuSO4", "--strength", "24 % w/w", "--mass", "600 g", "--cool-to", "10 C", "--json"
    ).json
    ten = crystal(
        "yield", "CuSO4", "--strength", "24 % w/w", "--mass", "6 kg", "--cool-to", "10 C", "--json"
    ).json
    assert_allclose(ten["rows"][0]["crystals_g"], 10 * one["rows"][0]["crystals_g"], rtol=1e-9)
    assert_allclose(ten["rows"][0]["yield_percent"], one["rows"][0]["yield_percent"], rtol=1e-9)


def test_masses_of_a_row_add_up_to_the_end_point(crystal):
    answer = crystal("reduce", "MgSO4", *POT, *COLD, "--json").json
    assert len(answer["ends"]) >= 5
    for row in answer["ends"]:
        assert_allclose(row["crystals_g"] + row["ice_g"] + row["liquor_g"], row["end_mass_g"], rtol=1e-9)
        assert_allclose(
            sum(solid["g"] for solid in row["solids"]), row["crystals_g"] + row["ice_g"], rtol=1e-9
        )
        assert_allclose(row["end_mass_g"] + row["water_removed_g"], answer["start"]["mass_g"], rtol=1e-9)
        assert_allclose(
            row["fraction_of_start"], row["end_volume_mL"] / answer["start"]["volume_mL"], rtol=1e-12
        )


def test_a_pot_that_crystallises_as_it_is_has_a_fraction_above_one(crystal):
    answer = crystal(
        "reduce", "KNO3", "--holds", "200 g", "--water", "300 g", "--cool-to", "5 C", "--json"
    ).json
    assert answer["saturates"]["fraction_of_start"] > 1
    assert "without any reducing" in answer["advice"]["reason"]


def test_a_salt_that_drops_out_hot_is_listed(crystal):
    answer = crystal("reduce", "MgSO4", *POT, *COLD, "--ends", "300 mL, 150 mL", "--json").json
    clear, crusted = answer["ends"]
    assert clear["solids_while_hot"] == []
    assert [solid["phase"] for solid in crusted["solids_while_hot"]] == ["MgSO4.H2O"]
    assert crusted["first_crystals_degC"] is None
    assert any("no temperature of first crystals" in warning for warning in answer["warnings"])


@pytest.mark.parametrize(
    ("wanted", "feed"),
    [("50 g", 1.0), ("150 g of MgSO4.7H2O", 1.0), ("2 kg", None)],
    ids=["less", "more", "feed"],
)
def test_a_wanted_crop_comes_back_when_it_is_worked_forwards(crystal, wanted, feed):
    want = crystal("reduce", "MgSO4", *POT, *COLD, "--want", wanted, "--json").json["want"]
    if feed is not None:
        assert want["feed_factor"] == feed
    else:
        assert want["feed_factor"] > 1
    forwards = crystal(
        "yield", "MgSO4", "--holds", f"{200 * want['feed_factor']!r} g of MgSO4.7H2O", "--start",
        f"{want['feed_volume_mL']!r} mL", "--reduce-to", f"{want['end_volume_mL']!r} mL", *COLD, "--json",
    ).json  # fmt: skip
    assert_allclose(forwards["rows"][0]["crystals_g"], want["crystals_g"], rtol=1e-6)
    assert forwards["rows"][0]["outcome"] == want["outcome"] == "crop"


def test_a_hydrate_named_by_the_strength_is_what_it_counts(crystal):
    hydrate = crystal("yield", "CuSO4", "--strength", "20 % w/w of CuSO4.5H2O", "--mass", "100 g", "--cool-to", "5 C",
                      "--json").json  # fmt: skip
    # 20 g of the pentahydrate, of which 159.61 / 249.69 is salt.
    assert_allclose(hydrate["start"]["salt_g"], 20 * 159.61 / 249.69, rtol=1e-4)


def test_moles_of_any_hydrate_count_the_same_salt(crystal):
    salts = [
        crystal("yield", "CuSO4", "--holds", f"0.3 mol {formula}", "--start", "400 mL", "--cool-to", "5 C", "--json")
        .json["start"]["salt_g"]
        for formula in ("CuSO4", "CuSO4.5H2O", "CuSO4.3H2O", "CuSO4.7H2O")
    ]  # fmt: skip
    assert_allclose(salts, salts[0], rtol=1e-12)
    assert_allclose(salts[0], 0.3 * 159.61, rtol=1e-4)


def test_a_hand_calculation_takes_any_hydrate_of_the_salt(crystal):
    """10 000 kg of 30 mass % soda to 20 °C, 21.5 g/100 g water: 6370 kg of decahydrate.

    Molar masses 106 and 286.2 rounded in the source (a chemical engineering textbook's worked example); the tolerance
    is theirs.
    """
    row = crystal(
        "yield", "Na2CO3", "--strength", "30 % w/w", "--mass", "10000 kg", "--cool-to", "20 degC", "--solubility",
        "21.5 g/100 g water", "--crystals", "Na2CO3.10H2O", "--json",
    ).json["rows"][0]  # fmt: skip
    assert_allclose(row["crystals_g"], 6.37e6, rtol=3e-3)
    assert_allclose(row["crystals_g"] + row["liquor_g"], 1e7, rtol=1e-12)
    unknown = crystal(
        "yield", "Na2CO3", "--strength", "30 % w/w", "--mass", "100 g", "--cool-to", "20 degC", "--solubility",
        "21.5 g/100 g water", "--crystals", "Na2CO3.8H2O", "--json",
    ).json["rows"][0]  # fmt: skip
    assert unknown["phase"] == "Na2CO3.8H2O"
