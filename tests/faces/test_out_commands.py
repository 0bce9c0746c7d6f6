"""The commands on what comes out of the pot: keys, batch file sections, files, errors, charts that say what they show."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from crystal.bench.crops import Crops, Stops
from crystal.bench.keeping import Keeping
from crystal.bench.pot import Pot
from crystal.data.catalogue import Catalogue
from crystal.faces.figures.crops import crops_chart
from crystal.faces.figures.keeping import keeping_chart
from crystal.physics.model import Model
from crystal.physics.others import Others

POT = ("CuSO4", "--holds", "120 g of CuSO4.5H2O", "--start", "400 mL", "--with", "3 g of NaCl")
HARVEST = ("harvest", *POT, "--reduce-to", "170 mL", "--cool-to", "10 degC")
CROPS = ("crops", "MgSO4", "--holds", "200 g of MgSO4.7H2O", "--start", "500 mL", "--cool-to", "5 degC")
BATCH = """\
title = "Bluestone with salt"
salt = "CuSO4"
[start]
volume = "400 mL"
holds = "120 g of CuSO4.5H2O"
with = "3 g of NaCl"
[reduce]
to = "170 mL"
[cool]
to = "10 degC"
[harvest]
method = "suction"
wash = ["10 mL", "10 mL"]
wash_at = "5 degC"
contact = "50 %"
spilled = "2 g"
[[crop]]
to = "170 mL"
[[crop]]
cool_to = "5 degC"
[keep]
at = "22 degC"
humidity = "20 %"
"""


def test_harvest_answers_with_the_promised_keys(crystal):
    data = crystal(*HARVEST, "--wash", "15 mL", "--json").json
    for key in (
        "crystals_dry_g",
        "crystals_wet_g",
        "liquor_held_g",
        "washed_away_g",
        "purity_percent",
        "yield_percent",
    ):
        assert isinstance(data[key], float), key
    assert data["crystals_wet_g"] > data["crystals_dry_g"] > 0
    assert data["apparent_yield_percent"] > data["yield_percent"] > 0
    assert data["washed_away_g"] > 0
    assert data["stages"][0]["purity_percent"] < data["stages"][1]["purity_percent"] == data["purity_percent"]
    assert data["purifying"] is None


def test_harvest_balances_over_the_whole_batch(crystal):
    data = crystal(*HARVEST, "--wash", "15 mL", "--spilled", "5 g", "--json").json
    ledger = data["ledger"]
    assert ledger["gap_g"] < 1e-9
    for key in ("salt_g", "water_g", "mass_g"):
        assert sum(r[key] for r in ledger["in"]) == pytest.approx(
            sum(r[key] for r in ledger["out"]), abs=1e-9
        )
    assert {row["name"] for row in ledger["out"]} >= {
        "boiled off",
        "crystals",
        "dried onto them",
        "dried off",
        "spilled",
    }
    assert ledger["in"][0]["salt_g"] == pytest.approx(data["start"]["salt_g"])
    assert ledger["in"][0]["water_g"] == pytest.approx(data["start"]["water_g"])


def test_harvest_prints_a_table_that_sums(crystal):
    out = crystal(*HARVEST, "--wash", "15 mL").out
    sums = [line.split()[1:] for line in out.splitlines() if line.strip().startswith("sum ")]
    assert len(sums) == 2
    assert sums[0] == sums[1]
    assert "Spent liquors and washings" in out
    assert "Copper liquor poisons water life" in out
    assert "would pass for" in out


def test_a_wash_with_saturated_solution_dissolves_nothing(crystal):
    ran = crystal(*HARVEST, "--wash", "15 mL", "--wash-with", "saturated solution", "--json").json
    assert ran["washed_away_g"] == 0.0
    assert any(row["name"] == "wash 1" and row["salt_g"] > 0 for row in ran["ledger"]["in"])


def test_units_of_the_wash_do_not_matter(crystal):
    by_volume = crystal(*HARVEST, "--wash", "15 mL", "--wash-at", "41 F", "--json").json
    by_mass = crystal(*HARVEST, "--wash", "15 g", "--wash-at", "5 degC", "--json").json
    assert by_volume["crystals_dry_g"] == pytest.approx(by_mass["crystals_dry_g"], rel=1e-5)


def test_recrystallising_to_a_purity(crystal):
    data = crystal(*HARVEST, "--purity", "99.99 %", "--json").json["purifying"]
    assert data["reached"]
    assert data["rounds"][-1]["purity_percent"] >= 99.99
    assert [r["yield_percent"] for r in data["rounds"]] == sorted(
        (r["yield_percent"] for r in data["rounds"]), reverse=True
    )
    assert "Recrystallised to 99.99 %" in crystal(*HARVEST, "--purity", "99.99 %").out


def test_crops_answer_with_the_promised_keys(crystal):
    data = crystal(*CROPS, "--json").json
    assert len(data["crops"]) >= 2
    for row in data["crops"]:
        assert {
            "end_volume_mL",
            "crystals_g",
            "purity_percent",
            "cumulative_yield_percent",
            "outcome",
        } <= set(row)
        assert row["outcome"] == "crop"
    yields = [row["cumulative_yield_percent"] for row in data["crops"]]
    assert yields == sorted(yields)
    assert data["stopped_because"].endswith(".")
    assert data["stopped_rule"] == "small"
    assert data["ledger"]["gap_g"] < 1e-9
    assert [s["crops"] for s in data["splits"]] == list(range(1, len(yields) + 1))


def test_crops_under_a_risk(crystal):
    data = crystal(*CROPS, "--risk", "10 %", "--most", "2", "--json").json
    one, two = data["splits"]
    assert one["crop_risks_percent"] == pytest.approx([10.0])
    for split in (one, two):
        assert split["odds_any_percent"] <= 10.0
        assert len(split["end_volumes_mL"]) == split["crops"] == len(split["crop_risks_percent"])
    assert two["odds_any_by_marks_percent"] > two["odds_any_percent"]
    assert two["end_volumes_mL"] == [row["end_volume_mL"] for row in data["crops"]]
    assert [r["odds_not_pouring_percent"] for r in data["crops"]] == pytest.approx(two["crop_risks_percent"])
    assert data["crops"][0]["end_mass_share_percent"] < 100.0
    assert not any("shared evenly" in one for one in data["warnings"])
    beside = crystal(*CROPS, "--with", "1 g of NaCl", "--risk", "10 %", "--most", "1", "--json").json
    assert any("shared evenly" in one for one in beside["warnings"])
    assert beside["splits"][0]["odds_any_percent"] is None
    out = " ".join(crystal(*CROPS, "--risk", "10 %", "--most", "2").out.split())
    assert "Weigh it, and boil crop 2 to" in out
    assert "% with the liquor weighed" in out


def test_liquors_of_two_batches_are_joined(crystal):
    base = ("harvest", *CROPS[1:], "--reduce-to", "190 mL", "--json")
    for name in ("a.json", "b.json"):
        Path(name).write_text(crystal(*base).out, encoding="utf-8")
    one = json.loads(Path("a.json").read_text(encoding="utf-8"))["liquor"]
    data = crystal(
        "crops", "MgSO4", "--join", "a.json", "--join", "b.json", "--cool-to", "5 degC", "--json"
    ).json
    assert data["start"]["salt_g"] == pytest.approx(2 * one["salt_g"])
    assert data["start"]["water_g"] == pytest.approx(2 * one["water_g"])
    with_pot = crystal(*CROPS, "--join", "a.json", "--json").json
    assert with_pot["start"]["salt_g"] == pytest.approx(97.67 + one["salt_g"], rel=1e-3)


def test_keep_answers_with_the_promised_keys(crystal):
    data = crystal("keep", "Epsom salt", "--at", "22 degC", "--humidity", "60 %", "--json").json
    assert data["state"] == "stable"
    low, high = data["stable_humidity_percent"]
    assert low < 60.0 < high
    assert data["melts_degC"] == pytest.approx(48.1, abs=0.2)
    assert data["dry_below_degC"] < data["melts_degC"]
    assert isinstance(data["warnings"], list)


def test_keep_says_where_the_window_is_unknown(crystal):
    data = crystal("keep", "CoCl2.6H2O", "--humidity", "50 %", "--json").json
    assert data["stable_humidity_percent"][0] is None
    assert data["state"] is None
    assert any(w.startswith("window unknown") for w in data["warnings"])
    assert data["desiccant_refused"]
    assert "not known" in crystal("keep", "CoCl2.6H2O", "--humidity", "50 %").out


def test_keep_by_dew_point_is_keep_by_humidity(crystal):
    by_dew = crystal("keep", "NaBr", "--at", "20 degC", "--dew-point", "12 degC", "--json").json
    assert by_dew["humidity_percent"] == pytest.approx(60.0, abs=0.2)
    assert by_dew["dew_point_degC"] == pytest.approx(12.0, abs=1e-3)
    assert by_dew["state"] == "deliquesces"


def test_keep_tells_the_solid_that_is_named(crystal):
    assert crystal("keep", "Na2SO4", "--json").json["solid"] == "Na2SO4.10H2O"
    dry = crystal("keep", "anhydrous Na2SO4", "--humidity", "85 %", "--json").json
    assert (dry["solid"], dry["turns_to"], dry["state"]) == ("Na2SO4", "Na2SO4.10H2O", None)
    assert "cakes to Na2SO4.10H2O" in crystal("keep", "anhydrous Na2SO4", "--humidity", "85 %").out


def test_the_batch_file_tells_harvest_crops_and_keeping(crystal):
    Path("b.toml").write_text(BATCH, encoding="utf-8")
    data = crystal("harvest", "--batch", "b.toml", "--json").json
    assert data["method"] == "suction"
    assert [stage["stage"] for stage in data["stages"]] == ["drained", "wash 1", "wash 2"]
    assert {row["name"] for row in data["ledger"]["out"]} >= {"spilled"}
    over = crystal("harvest", "--batch", "b.toml", "--method", "drained", "--json").json
    assert over["method"] == "drained"
    crops = crystal("crops", "--batch", "b.toml", "--json").json["crops"]
    assert crops[0]["end_volume_mL"] == pytest.approx(170.0)
    assert crops[1]["cool_to_degC"] == 5.0
    kept = crystal("keep", "--batch", "b.toml", "--json").json
    assert (kept["humidity_percent"], kept["state"]) == (20.0, "effloresces")
    assert crystal("keep", "--batch", "b.toml", "--humidity", "50 %", "--json").json["state"] == "stable"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((*HARVEST, "--method", "shaken"), "--method: got 'shaken'; it must be one of drained, pressed, suction"),
        ((*HARVEST, "--held", "lots"), "--held: got 'lots'; it must be grams of liquor per gram of crystals"),
        ((*HARVEST, "--wash", "a cup or so"), "--wash: got 'a cup or so'; it must be a mass or a volume"),
        ((*HARVEST, "--wash", "10 mL", "--wash-with", "beer"), "--wash-with: got 'beer'; it must be water or saturated"),
        ((*HARVEST, "--spilled", "5 kg"), "--spilled: got 5000 g; it must be at most the liquor poured off"),
        ((*HARVEST, "--purity", "100 %"), "--purity: got 100 %; it must be above 0 and below 100 %"),
        (("harvest", *POT, "--cool-to", "20 degC"), "the pot: got a pot without crystals"),
        ((*CROPS, "--most", "none"), "--most: got 'none'; it must be a whole number from 1 to 50"),
        ((*CROPS, "--risk", "90 %"), "--risk: got '90 %'; it must be above 0 and below 50 %"),
        ((*CROPS, "--ceiling", "-1"), "--ceiling: got '-1'; it must be grams of other solutes"),
        ((*CROPS, "--join", "nowhere.json"), "--join: got 'nowhere.json'; it must be a file that can be read"),
        (CROPS[:-2], "--cool-to: got nothing"),
        (("keep", "NaCl", "--humidity", "120 %"), "--humidity: got '120 %'"),
        (("keep", "NaCl", "--at", "20 degC", "--dew-point", "25 degC"), "--dew-point: got '25 degC'; it must be from -40"),
        (("keep", "NaCl", "--humidity", "50 %", "--dew-point", "5 degC"), "only one of the two"),
        (("keep", "MgSO4.9H2O"), "it must be one of its solids"),
    ],
)  # fmt: skip
def test_errors_name_the_input(crystal, words, says):
    ran = crystal(*words)
    assert ran.code == 2
    assert says in ran.err
    assert ran.out == ""


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("no json", "it must be JSON"),
        ("{}", "an answer with its liquor"),
        ('{"salt": "NaCl", "liquor": {}}', "a liquor of MgSO4"),
        ('{"salt": "MgSO4", "liquor": {"salt_g": 1}}', "others_g"),
        ('{"salt": "MgSO4", "liquor": {"salt_g": -1, "water_g": 3, "others_g": {}}}', "0 g or more"),
        (
            '{"salt": "MgSO4", "liquor": {"salt_g": 0, "water_g": 3, "others_g": {}}}',
            "a liquor that holds salt and water",
        ),
    ],
)
def test_a_joined_file_that_holds_no_liquor_is_refused(crystal, content, says):
    Path("x.json").write_text(content, encoding="utf-8")
    ran = crystal(*CROPS, "--join", "x.json")
    assert ran.code == 2
    assert "--join" in ran.err
    assert says in ran.err


def test_a_wrong_key_in_a_crop_is_named(crystal):
    Path("b.toml").write_text(BATCH.replace('cool_to = "5 degC"', 'cool = "5 degC"'), encoding="utf-8")
    ran = crystal("crops", "--batch", "b.toml")
    assert ran.code == 2
    assert "crop 2.cool: got an unknown key" in ran.err


def test_charts_and_tables_are_written(crystal):
    assert crystal(*CROPS, "--chart", "c.png", "--csv", "c.csv").code == 0
    assert crystal("keep", "MgSO4", "--humidity", "60 %", "--chart", "k.svg", "--csv", "k.csv").code == 0
    assert Path("c.png").read_bytes().startswith(b"\x89PNG")
    assert Path("k.svg").read_text(encoding="utf-8").startswith("<?xml")
    assert Path("c.csv").read_text(encoding="utf-8").startswith("crop,kind,end_volume_mL")
    assert "high_percent" in Path("k.csv").read_text(encoding="utf-8")


def test_crops_chart_shows_the_crops():
    start = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 97.7, 402.3, others=Others.of({"NaCl": 2.0}))
    found = Crops.of(start, 5.0, stops=Stops(most=3))
    upper, middle, lower = crops_chart(found).axes
    tops = [bar.get_y() + bar.get_height() for bar in upper.patches[len(found.crops) :]]
    assert tops == pytest.approx([crop.harvest.cake.dried.mass_g for crop in found.crops])
    won = middle.get_lines()[0].get_ydata()
    assert won == pytest.approx([100 * crop.cumulative_yield for crop in found.crops])
    impure = lower.get_lines()[0].get_ydata()
    assert impure == pytest.approx([100 * (1 - crop.harvest.cake.purity) for crop in found.crops])
    assert lower.get_xticklabels()[0].get_text().startswith("crop 1\n")


def test_keeping_chart_shows_the_window_and_the_room():
    found = Keeping.of(Model.of(Catalogue.bundled().find("MgSO4")), 25.0, 60.0)
    (plot,) = keeping_chart(found).axes
    lines = [
        line
        for line in plot.get_lines()
        if len(np.ravel(line.get_xdata())) > 1 and line.get_linestyle() == "-"
    ]
    at_25 = [float(np.interp(25.0, line.get_xdata(), line.get_ydata())) for line in lines]
    assert sorted(at_25) == pytest.approx([found.lower.rh_percent, found.upper.rh_percent], abs=0.3)
    marks = [line for line in plot.get_lines() if line.get_marker() == "o"]
    assert [(float(m.get_xdata()[0]), float(m.get_ydata()[0])) for m in marks] == [(25.0, 60.0)]
    assert {"keeps", "crumbles"} <= {text.get_text() for text in plot.texts}


@pytest.mark.parametrize("salt", ["MgCl2", "KNO3", "KAl(SO4)2", "Na2SO4", "H3BO3"])
def test_keeping_chart_bears_gaps(salt):
    figure = keeping_chart(Keeping.of(Model.of(Catalogue.bundled().find(salt)), 22.0, 50.0))
    notes = " ".join(text.get_text() for text in figure.texts)
    unknown = Keeping.of(Model.of(Catalogue.bundled().find(salt)), 22.0).lower is None
    assert ("window unknown" in notes) == unknown


def test_a_crop_weighed_wet_is_held_against_the_wet_mass(crystal, tmp_path):
    """The weighing of ``[[seen]]`` is compared with the harvest of the same file, wet with wet."""
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")
    reckoned = crystal("harvest", "--batch", str(file), "--json").json
    assert reckoned["weighed"] == []
    wet = reckoned["crystals_wet_g"]
    file.write_text(f'{BATCH}[[seen]]\ncrystals = "{1.2 * wet} g"\nweighed = "wet"\n', encoding="utf-8")
    (one,) = crystal("harvest", "--batch", str(file), "--json").json["weighed"]
    assert one["expected_g"] == pytest.approx(wet)
    assert not one["agrees"]
    again = crystal("harvest", "--batch", str(file), "--held", f"{one['held_g_per_g']}").out
    assert "they agree" in again.replace("\n", " ")


def test_crops_of_a_batch_file_account_for_what_is_spilled(crystal, tmp_path):
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")
    data = crystal("crops", "--batch", str(file), "--json").json
    out = {row["name"]: row for row in data["ledger"]["out"]}
    assert out["spilled"]["mass_g"] > 2.0
    assert {
        "crop 1, crystals",
        "crop 1, clinging",
        "boiled off",
        "dried off",
        "washings",
        "liquor left",
    } <= set(out)
    assert data["ledger"]["gap_g"] < 1e-9
    more = crystal("crops", "--batch", str(file), "--spilled", "20 g", "--json").json
    assert more["crops"][-1]["cumulative_yield_percent"] < data["crops"][-1]["cumulative_yield_percent"]
