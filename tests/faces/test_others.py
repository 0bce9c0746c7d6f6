"""What is dissolved beside the salt, from the command line and the batch file to every answer."""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.testing import assert_allclose
from salts import model

from crystal.bench.cooling import Cooled
from crystal.bench.pot import Amount, Pot
from crystal.data.catalogue import Catalogue
from crystal.faces.batchfile import BatchFile
from crystal.physics.formula import Hydrate
from crystal.physics.others import Others

POT = ("--holds", "200 g of MgSO4.7H2O", "--start", "500 mL")
ACID = ("--with", "12 g of HCl", "--with", "5 g of NaCl")
COMMANDS = {
    "reduce": ("reduce", "MgSO4", *POT, "--cool-to", "5 degC"),
    "yield": ("yield", "MgSO4", *POT, "--reduce-to", "200 mL", "--cool-to", "5 degC"),
    "path": ("path", "MgSO4", *POT, "--reduce-to", "200 mL", "--cool-to", "5 degC"),
}


def told(strength: str, *others: str):
    words = [word for text in others for word in ("--with", text)]
    return [
        "yield",
        "MgSO4",
        "--strength",
        strength,
        "--mass",
        "500 g",
        *words,
        "--cool-to",
        "5 degC",
        "--json",
    ]


@pytest.fixture(scope="module")
def pot() -> Pot:
    holds = Amount(200.0, Hydrate.parse("MgSO4.7H2O").salt_mass_fraction)
    return Pot.from_facts(
        model("MgSO4"), holds=holds, volume_mL=500.0, others=Others.of({"HCl": 12.0, "NaCl": 5.0})
    )


@pytest.mark.parametrize("command", COMMANDS)
def test_start_holds_the_others_of_the_bench(crystal, pot, command):
    start = crystal(*COMMANDS[command], *ACID, "--json").json["start"]
    assert [(one["formula"], one["g"]) for one in start["others"]] == [("HCl", 12.0), ("NaCl", 5.0)]
    assert_allclose(start["water_g"], pot.water_g, rtol=1e-9)
    assert_allclose(start["mass_g"], start["salt_g"] + start["water_g"] + 17.0, rtol=1e-12)
    assert_allclose(start["others"][0]["mass_percent"], 1200.0 / start["mass_g"], rtol=1e-12)
    assert_allclose(start["density_g_mL"], start["mass_g"] / 500.0, rtol=1e-9)


@pytest.mark.parametrize("command", COMMANDS)
def test_what_the_pure_curve_means_is_said(crystal, command):
    shown = " ".join(crystal(*COMMANDS[command], *ACID).out.split())
    assert "also holds 12 g of HCl, 5 g of NaCl." in shown
    assert "the solubility of MgSO4" in shown
    plain = " ".join(crystal(*COMMANDS[command], *ACID, "--plain").out.split())
    assert "also holds 12 g of HCl, 5 g of NaCl. The curve is that of pure MgSO4" in plain
    assert "12.0 g of HCl and 5.00 g of NaCl in" in shown
    assert "also holds" not in crystal(*COMMANDS[command]).out


def test_rows_keep_the_others_in_the_liquor(crystal, pot):
    plain = crystal(*COMMANDS["yield"], "--json").json
    row = crystal(*COMMANDS["yield"], *ACID, "--json").json
    unshifted = crystal(*COMMANDS["yield"], *ACID, "--plain", "--json").json
    water = float(pot.water_for_volume(200.0, 20.0))
    cooled = Cooled.of(pot.model, pot.salt_g, water, 5.0, others=pot.others)
    assert_allclose(row["rows"][0]["liquor_mL"], float(cooled.liquor_mL), rtol=1e-9)
    assert_allclose(row["rows"][0]["liquor_g"], float(cooled.liquor_g), rtol=1e-9)
    assert_allclose(
        row["rows"][0]["crystals_g"] + row["rows"][0]["liquor_g"], row["end"]["end_mass_g"], rtol=1e-9
    )
    # The others take up room: the same mark leaves less water, so more crystals.
    assert unshifted["rows"][0]["crystals_g"] > plain["rows"][0]["crystals_g"] + 1.0


@pytest.mark.parametrize(
    "size", ["180 g", "40 %", "1.35 g/mL", "30 % w/w", "350 g/L of solution", "60 g/100 g water"]
)
def test_an_end_size_counts_the_whole_pot(crystal, pot, size):
    end = crystal(*COMMANDS["yield"][:-4], "--reduce-to", size, "--cool-to", "5 degC", *ACID, "--json").json[
        "end"
    ]
    water = pot.water_g - end["water_removed_g"]
    whole = pot.salt_g + water + 17.0
    volume = float(pot.volume_of(water, 20.0))
    measured = {
        "180 g": whole / 180.0,
        "40 %": volume / 200.0,
        "1.35 g/mL": whole / volume / 1.35,
        "30 % w/w": pot.salt_g / whole / 0.30,
        "350 g/L of solution": 1000 * pot.salt_g / volume / 350.0,
        "60 g/100 g water": pot.salt_g / water / 0.60,
    }[size]
    assert_allclose(measured, 1.0, rtol=1e-7)
    assert_allclose(end["end_mass_g"], whole, rtol=1e-9)


def test_strength_counts_the_whole_or_the_water_alone(crystal):
    whole = crystal(*told("20 % w/w", "25 g of HCl")).json["start"]
    assert_allclose(whole["salt_g"], 100.0, rtol=1e-9)
    water = crystal(*told("25 g/100 g water", "25 g of HCl")).json["start"]
    assert_allclose([water["salt_g"], water["water_g"]], [95.0, 380.0], rtol=1e-9)


def test_advice_tells_the_density_of_the_whole_liquor(crystal):
    advice = crystal(*COMMANDS["reduce"], *ACID, "--json").json["advice"]
    assert_allclose(advice["density_g_mL"], advice["end_mass_g"] / advice["end_volume_mL"], rtol=1e-12)


def test_hand_calculation_keeps_them_in_the_liquor(crystal):
    words = [
        *told("20 % w/w", "25 g of HCl")[:-1],
        "--solubility",
        "21 g/100 g water",
        "--crystals",
        "MgSO4.7H2O",
    ]
    row = crystal(*words, "--json").json["rows"][0]
    assert row["crystals_g"] > 0
    assert_allclose(row["crystals_g"] + row["liquor_g"], 500.0, rtol=1e-9)


def test_the_same_twice_adds_up_and_names_of_reagents_are_taken(crystal):
    once = crystal(*told("20 % w/w", "25 g of HCl")).json
    twice = crystal(*told("20 % w/w", "10 g of HCl", "15 g of muriatic acid")).json
    assert once == twice
    moles = crystal(*told("20 % w/w", "0.5 mol HCl")).json["start"]["others"][0]["g"]
    assert_allclose(moles, 0.5 * 36.458, rtol=1e-3)


BATCH = """
salt = "MgSO4"
[start]
volume = "500 mL"
holds = "200 g of MgSO4.7H2O"
with = {with_}
[cool]
to = "5 degC"
"""


@pytest.mark.parametrize("text", ['["12 g of HCl", "5 g of NaCl"]', '"12 g of HCl; 5 g of NaCl"'])
def test_batch_file_tells_them(crystal, tmp_path, pot, text):
    file = tmp_path / "batch.toml"
    file.write_text(BATCH.replace("{with_}", text))
    start = BatchFile.read(file).batch(Catalogue.bundled()).start
    assert start.others.amounts_g == {"HCl": 12.0, "NaCl": 5.0}
    assert_allclose(start.water_g, pot.water_g, rtol=1e-12)
    explained = crystal("explain", str(file), "--json").json
    assert [one["formula"] for one in explained["start"]["others"]] == ["HCl", "NaCl"]
    other = crystal("reduce", "--batch", str(file), "--with", "3 g of HCl", "--json").json
    assert [(one["formula"], one["g"]) for one in other["start"]["others"]] == [("HCl", 3.0)]


BAD = {
    "volume": ("12 mL of HCl", "--with: got '12 mL of HCl'.*12 g of HCl"),
    "no substance": ("12 g", "--with: got '12 g'"),
    "zero": ("0 g of HCl", "--with: got '0 g of HCl'.*more than 0"),
    "hydrate": ("12 g of CuSO4.5H2O", "--with: .*without its water"),
    "water": ("12 g of H2O", "--with: .*without its water"),
    "the salt itself": ("12 g of MgSO4", "--with: .*another substance than the pot's salt, MgSO4"),
    "not a formula": ("12 g of Hcl2x", "--with: got '12 g of Hcl2x'"),
    "strength": ("12 % w/w HCl", "--with: got '12 % w/w HCl'"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_text_is_one_line(crystal, tmp_path, case):
    text, message = BAD[case]
    ran = crystal(*COMMANDS["reduce"], "--with", text, "--chart", "w.png")
    assert ran.code == 2
    assert ran.out == ""
    assert ran.err.count("\n") == 1
    assert re.search(message, ran.err), ran.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("file", [["12 g of HCl"], 12, [["12 g of HCl"]]], ids=["good", "number", "nested"])
def test_with_of_a_file_is_texts(crystal, tmp_path, file):
    path = tmp_path / "batch.toml"
    path.write_text(BATCH.replace("{with_}", str(file).replace("'", '"')))
    ran = crystal("reduce", "--batch", str(path))
    assert ran.code == (0 if file == ["12 g of HCl"] else 2), ran.err
    if ran.code:
        assert re.search(r"start\.with: got .*text in quotes", ran.err), ran.err


def test_figures_draw_the_pot_with_its_others(pot):
    from crystal.bench.path import SaturationPath
    from crystal.bench.plan import Plan
    from crystal.faces.figures import path_chart, window_chart, yield_chart

    plan = Plan.of(pot, 5.0)
    window = window_chart(plan)
    texts = " ".join(text.get_text() for text in window.findobj() if hasattr(text, "get_text"))
    assert "12 g of HCl" in " ".join(texts.split())
    (line,) = [line for line in window.axes[0].lines if line.get_label() == "crystals"]
    end = plan.advice.end
    volume, crystals = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    here = np.interp(end.end_volume_mL, volume[::-1], crystals[::-1])
    assert_allclose(here, plan.advice.crystals_g, rtol=1e-3)
    path = SaturationPath.of(pot, float(pot.water_for_volume(200.0, 20.0)), 5.0)
    chart = path_chart(path)
    (tie,) = [line for line in chart.axes[0].lines if line.get_label() == "tie line"]
    _, liquor = path.cooling_track()
    # The track is read between tabulated temperatures, its end at the temperature itself.
    assert_allclose(tie.get_xdata()[0], 100 * liquor[-1], rtol=2e-3)
    _fields_are_those_of(yield_chart(pot.with_water(float(pot.water_for_volume(150.0, 20.0))), [5.0]), pot)


def _fields_are_those_of(chart, pot):
    """The fields' borders lie where the outcome changes for a pot with its others, and not where it would without."""
    t = np.linspace(0.0, 60.0, 1201)
    water = float(pot.water_for_volume(150.0, 20.0))
    with_, without = (
        t[1:][np.diff(Cooled.of(pot.model, pot.salt_g, water, t, others=others).outcome) != 0]
        for others in (pot.others, Others.of({}))
    )
    drawn = np.array([patch.get_x() for patch in chart.axes[0].patches])
    assert len(with_) > 0
    assert np.abs(with_[:, None] - drawn).min(axis=1).max() < 0.5
    assert np.abs(without[:, None] - drawn).min(axis=1).max() > 1.0
