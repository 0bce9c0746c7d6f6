"""Sentences that a person at the bench acts on: said where they hold, and only there."""

from __future__ import annotations

import json
import re

import pytest

from crystal.faces.cli import main

NICKEL = """
title = "Nickel vitriol"
salt = "NiSO4"
[start]
volume = "500 mL"
holds = "126 g of NiSO4"
[reduce]
to = "198 mL"
[cool]
to = "10 degC"
"""

ZINC = """
title = "Zinc nitrate"
salt = "Zn(NO3)2"
[start]
volume = "300 mL"
holds = "150 g of Zn(NO3)2.6H2O"
[reduce]
to = "{end}"
[cool]
to = "15 degC"
"""


@pytest.fixture
def told(capsys):
    def run(*words):
        assert main(list(words)) == 0
        return " ".join(capsys.readouterr().out.split())

    return run


@pytest.fixture
def batch(tmp_path):
    def written(seen, text=NICKEL):
        path = tmp_path / "batch.toml"
        path.write_text(text + "".join(f"[[seen]]\n{one}\n" for one in seen), encoding="utf-8")
        return str(path)

    return written


def test_no_density_is_advised_that_no_hydrometer_shows(told):
    # At 20 °C 122 g of salt stand in the advised pot: its 'liquor of 1.6 g/mL' does not exist.
    pot = ["NaCl", "--holds", "150 g of NaCl", "--start", "500 mL", "--cool-to", "20 degC"]
    assert "the liquor measures" not in told("reduce", *pot)
    clear = ["Zn(NO3)2", "--holds", "180 g of Zn(NO3)2", "--start", "340 mL", "--cool-to", "5 degC"]
    assert "read at 20 °C, where the liquor measures 1.6" in told("reduce", *clear)


def test_a_solid_that_is_the_same_hot_and_cold_is_not_called_unstable(told):
    salt = ["NaCl", "--holds", "150 g of NaCl", "--start", "500 mL"]
    text = told("reduce", *salt, "--cool-to", "20 degC")
    assert "it crusts and bumps. Most of this crop" in text
    assert "not stable in the cold" not in text
    nickel = ["NiSO4", "--holds", "126 g of NiSO4", "--start", "500 mL"]
    assert "not stable in the cold is slow to change" in told("reduce", *nickel, "--cool-to", "40 degC")


def test_a_salt_less_soluble_hot_is_poured_off_hot(told):
    text = told("reduce", "Li2SO4", "--holds", "84 g of Li2SO4", "--start", "460 mL", "--cool-to", "20 degC")
    assert "less soluble hot: on cooling" in text
    assert "poured off hot it is all kept" in text


def test_reduce_says_that_the_advised_pot_gets_too_hot(told):
    zinc = ["Zn(NO3)2", "--holds", "180 g of Zn(NO3)2", "--start", "340 mL", "--cool-to", "5 degC"]
    text = told("reduce", *zinc)
    assert "which is too hot: a solution of Zn(NO3)2 suffers from about 105 °C" in text
    assert "too hot" not in told("reduce", "MgSO4", "--holds", "98 g of MgSO4", "--start", "500 mL", "--cool-to", "5 degC")  # fmt: skip


def test_crystals_that_came_early_are_not_laid_to_supersaturation(told, batch):
    early = told("explain", batch(['first_crystals = "90 degC"\nvolume = "198 mL"']))
    assert "earlier than due" in early
    assert "supersaturated" not in early
    late = told("explain", batch(['first_crystals = "70 degC"\nvolume = "198 mL"']))
    assert "later than due" in late
    assert "supersaturated" in late


def test_no_crystals_where_they_are_due_is_explained(told, batch):
    text = told("explain", batch(['no_crystals = "60 degC"']))
    assert "No crystals at 60 °C, 22 K colder than they are due" in text
    assert "Seed it" in text
    assert "Nothing here needs a reason" in told("explain", batch(['no_crystals = "90 degC"']))


def test_what_was_seen_parts_the_mark_from_the_balance(told, batch):
    text = told("reduce", batch(['mass = "298 g"\nvolume = "198 mL"']))
    assert "the pot weighs about" in text
    assert "go by that mark" in text
    assert "the pot weighs about" not in told("reduce", batch(['mass = "312 g"\nvolume = "198 mL"']))


def test_a_pot_that_no_heat_clears_is_thinned(told):
    salt = ["NaCl", "--holds", "150 g of NaCl", "--start", "500 mL", "--reduce-to", "300 mL"]
    assert "stands in the pot: thin it until" in told("cool", *salt, "--cool-to", "20 degC")


def test_a_crop_that_boiling_dropped_needs_no_seed(told, batch):
    text = told("cool", batch([], LITHIUM))
    assert "the crop is what the boiling dropped, it needs no seed and no slow cooling" in text
    assert "No temperature of first crystals" not in text
    assert "thin it until" not in text


def test_seed_is_told_in_plain_digits(told):
    pot = ["Zn(NO3)2", "--holds", "180 g of Zn(NO3)2", "--start", "340 mL", "--reduce-to", "150 mL"]
    text = told(
        "cool", *pot, "--cool-to", "5 degC", "--size", "4 mm", "--seed-size", "0.5 mm", "--hours", "12 h"
    )
    assert "it takes about 150 g" in text


def test_seed_and_end_of_a_salt_with_several_hydrates(told):
    pot = ["NiSO4", "--holds", "126 g of NiSO4", "--start", "500 mL", "--cool-to", "10 degC"]
    text = told("cool", *pot, "--reduce-to", "198 mL")
    assert "NiSO4.6H2O-beta comes first, NiSO4.7H2O is what stands at 10 °C: seed with the first" in text
    assert "comes first" not in told("cool", *pot, "--reduce-to", "370 mL")


def test_keep_takes_a_batch_file_in_the_place_of_the_salt(told, batch):
    text = told("keep", batch([]), "--at", "24 degC", "--humidity", "90 %")
    assert text == told("keep", "--batch", batch([]), "--at", "24 degC", "--humidity", "90 %")
    assert "NiSO4.7H2O at 24 °C in air of 90.0 %" in text


def test_an_outcome_is_logged_with_its_temperature_in_one_breath(told, batch):
    assert "outcome = clear, at = 12 degC." in told("log", batch([]), "clear at 12 degC")


def test_a_trace_beside_the_salt_costs_no_marks(told):
    pot = ["Li2SO4", "--holds", "84 g of Li2SO4", "--start", "460 mL", "--reduce-to", "330 mL"]
    trace = told("marks", *pot, "--with", "0.004 g of H2SO4")
    plain = told("marks", *pot)
    boils = plain[plain.index("By boiling") : plain.index("above pure water")]
    assert boils in trace
    cooled = told("reduce", *pot[:-2], "--cool-to", "20 degC", "--with", "0.004 g of H2SO4")
    assert "0.004 g of H2SO4: a trace, which is left out of solubility and boiling." in cooled
    assert "By boiling: no mark is known" in told("marks", *pot, "--with", "4 g of H2SO4")


LITHIUM = NICKEL.replace("NiSO4", "Li2SO4").replace("126 g", "84 g").replace("198 mL", "147 g")


def test_first_crystals_of_a_salt_less_soluble_hot_contradict_nothing(told, batch):
    text = told("explain", batch(['first_crystals = "100 degC"\nvolume = "280 mL"'], LITHIUM))
    assert "First crystals at 100 °C and 280 mL are not counted" in text
    assert "does not fit" not in text
    assert "not counted" not in told("explain", batch(['first_crystals = "80 degC"\nvolume = "198 mL"']))


REACTED = ["Zn + H2SO4 -> ZnSO4 + H2", "--use", "Zn=32.7 g", "--use", "H2SO4=500 g of 12 % w/w", "--lost", "2 %",
           "--make-up-to", "450 mL"]  # fmt: skip


def test_reactions_begin_a_batch_file_that_answers_as_they_do(told, tmp_path):
    file = str(tmp_path / "zinc.toml")
    saved = told("react", *REACTED, "--save", file)
    assert f"crystal reduce {file}" in saved
    assert f"Written: {file}" in saved
    pot = saved[saved.index("The pot") : saved.index("To plan with it")]
    again = told("react", "--batch", file)
    assert pot == again[again.index("The pot") : again.index("To plan with it")]
    told("log", file, "clear at 15 degC")
    assert "ZnSO4.7H2O" in told("reduce", file, "--cool-to", "5 degC")


def test_a_batch_file_with_observations_is_not_written_over(tmp_path, capsys):
    file = tmp_path / "zinc.toml"
    file.write_text("salt = 'ZnSO4'\n", encoding="utf-8")
    assert main(["react", *REACTED, "--save", str(file)]) == 2
    assert "it must be a new file" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == "salt = 'ZnSO4'\n"


WASHED = '[harvest]\nmethod = "suction"\nwash = "20 mL"\n[keep]\nat = "18 degC"\n'


def test_the_sheet_harvests_as_the_batch_tells(told, batch, tmp_path):
    file, sheet = batch([], NICKEL + WASHED), tmp_path / "sheet.html"
    told("sheet", file, "-o", str(sheet))
    html = " ".join(sheet.read_text(encoding="utf-8").replace("\xa0", " ").split())
    stages = json.loads(told("harvest", file, "--json"))["stages"]
    assert f"sucked dry on a filter: about {stages[0]['crystals_wet_g']:.3g} g wet" in html
    assert f"of water at 10 °C: about {stages[1]['crystals_wet_g']:.3g} g wet" in html


def test_the_sheet_of_a_pot_that_is_never_clear_has_no_box_for_a_hydrometer(told, batch, tmp_path):
    sheet = tmp_path / "sheet.html"
    told("sheet", batch([], LITHIUM), "-o", str(sheet))
    html = sheet.read_text(encoding="utf-8")
    assert "<p>volume and hydrometer: no mark" in html
    assert "(if clear)" not in html


def test_the_sheet_has_no_box_for_a_boiling_mark_that_says_nothing(told, batch, tmp_path):
    sheet, shown = tmp_path / "sheet.html", {}
    for end, share in (("102 mL", False), ("200 mL", True)):
        file = batch([], ZINC.format(end=end))
        error = json.loads(told("marks", file, "--json"))["boiling_error_volume_percent"]
        assert (error < 50.0) is share
        said = told("marks", file)
        assert ("By boiling: no mark, it is known to" in said) is not share
        assert ("give or take" in said) is share
        told("sheet", file, "-o", str(sheet))
        shown[end] = sheet.read_text(encoding="utf-8")
    assert "<p>boiling temperature: no mark, it is known to" in shown["102 mL"]
    assert '<span class="box"></span>boiling at <b>' in shown["200 mL"]


def test_a_costly_wash_is_said_to_be_one(told):
    pot = ["Zn(NO3)2", "--holds", "180 g of Zn(NO3)2", "--start", "340 mL", "--reduce-to", "198 mL"]
    text = told("harvest", *pot, "--cool-to", "5 degC", "--wash", "10 mL")
    assert re.search(r"Wash 1 takes 2\d\.\d % of the crystals: less water, or a saturated solution", text)
    kept = told(
        "harvest", *pot, "--cool-to", "5 degC", "--wash", "10 mL", "--wash-with", "saturated solution"
    )
    assert "takes" not in kept


def test_which_of_two_outcomes_is_explained_is_said(told, batch):
    two = told("explain", batch(['outcome = "set solid"', 'outcome = "thick"\nat = "30 degC"']))
    assert "More than one outcome is told (set solid, thick): the last is explained" in two
    assert "More than one outcome" not in told("explain", batch(['outcome = "set solid"']))
