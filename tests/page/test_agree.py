"""Page and command line say the same of one batch, to the printed digit."""

from __future__ import annotations

import json
import re
from html import unescape
from urllib.parse import urlencode

import pytest

from crystal.bench.forecast import percent as percent_of
from crystal.faces.cli import main
from crystal.faces.words import (
    celsius,
    grams,
    millilitres,
    outcome_word,
    per_cent,
    percent,
    prose,
    three,
)
from tests.page.conftest import spaced

# Salt, content, size, cooling temperature, end point: invented pots, one for each kind of fact and outcome.
BATCHES = [
    ("MgSO4", ("holds", "200 g of MgSO4.7H2O"), ("volume", "500 mL"), "5 degC", "190 mL"),
    ("MgSO4", ("holds", "200 g of MgSO4.7H2O"), ("volume", "500 mL"), "5 degC", "150 mL"),
    ("MgSO4", ("holds", "200 g of MgSO4.7H2O"), ("volume", "500 mL"), "5 degC", "110 mL"),
    ("CuSO4", ("holds", "120 g of CuSO4.5H2O"), ("water", "400 g"), "10 degC", "250 mL"),
    ("CuSO4", ("strength", "18 % w/w"), ("mass", "600 g"), "5 degC", "300 mL"),
    ("CuSO4", ("density", "1.15 g/mL at 20 degC"), ("volume", "400 mL"), "8 degC", "60 %"),
    ("KNO3", ("holds", "100 g"), ("water", "300 g"), "10 degC", "200 mL"),
    ("KNO3", ("strength", "20 g/100 g water"), ("mass", "500 g"), "0 degC", "1/2"),
    ("NaCl", ("holds", "100 g"), ("water", "400 g"), "20 degC", "200 mL"),
    ("KCl", ("strength", "200 g/L"), ("volume", "1 L"), "10 degC", "700 mL"),
    ("Na2CO3", ("holds", "150 g of Na2CO3.10H2O"), ("volume", "500 mL"), "10 degC", "350 mL"),
    ("Na2SO4", ("holds", "150 g of Na2SO4.10H2O"), ("volume", "600 mL"), "5 degC", "400 mL"),
    ("ZnSO4", ("holds", "300 g of ZnSO4.7H2O"), ("volume", "500 mL"), "10 degC", "300 mL"),
    ("NiSO4", ("holds", "150 g of NiSO4.6H2O"), ("volume", "500 mL"), "15 degC", "250 mL"),
    ("potash alum", ("holds", "80 g of KAl(SO4)2.12H2O"), ("volume", "800 mL"), "10 degC", "400 mL"),
    ("K2SO4", ("strength", "0.5 mol/L"), ("volume", "900 mL"), "15 degC", "500 mL"),
    ("NH4Cl", ("holds", "150 g"), ("water", "600 g"), "20 degC", "500 mL"),
    ("BaCl2", ("holds", "100 g of BaCl2.2H2O"), ("water", "500 g"), "20 degC", "300 mL"),
    ("MnSO4", ("holds", "200 g of MnSO4.H2O"), ("water", "500 g"), "20 degC", "400 mL"),
    ("CoSO4", ("holds", "120 g of CoSO4.7H2O"), ("volume", "500 mL"), "10 degC", "220 mL"),
]  # fmt: skip
OPTION = {"volume": "--start"}

# What is laid over the pots in turn: options of the command line, and the form's fields for the same.
OVER = [
    ([], {}),
    (["--doubt", "volume=measuring cylinder, temperature=1 K"],
     {"doubt_volume": "measuring cylinder", "doubt_temperature": "1 K"}),
    (["--risk", "12 %", "--doubt", "holds=1 %, bed=0.03"], {"risk": "12 %", "doubt_holds": "1 %", "doubt_bed": "0.03"}),
    (["--doubt", "mass=lab balance, curve=0.2 %, density=0.5 %", "--risk", "0.02"],
     {"doubt_mass": "lab balance", "doubt_curve": "0.2 %", "doubt_density": "0.5 %", "risk": "0.02"}),
]  # fmt: skip
AIRS = [{}, {"altitude": "1200 m"}, {"pressure": "94.5 kPa"}]


def commanded(capsys, *words):
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def advice_of(plan, cold_C):
    """The advice as the command line prints it, from what it gives a program."""
    advice, lines = plan["advice"], []
    if advice["end_volume_mL"] is not None:
        over_crystals = any("crystals already stand" in text for text in plan["warnings"])
        measures = "" if over_crystals else f", where the liquor measures {advice['density_g_mL']:.3f} g/mL"
        lines.append(
            f"Stop at {millilitres(advice['end_volume_mL'])} ({percent(advice['fraction_of_start'])} of the start, "
            f"{grams(advice['end_mass_g'])}), read at {celsius(plan['read_at_degC'])}{measures}. Cooled to "
            f"{celsius(cold_C)}: {grams(advice['crystals_g'])} of "
        )
    lines.append(f"Why: {prose(advice['reason'])}")
    if advice["odds"] is not None:
        told = ", ".join(
            f"{outcome_word(word)} {percent_of(share)}" for word, share in advice["odds"].items()
        )
        crop = advice["crop_g"]
        lines.append(
            f"Odds there: {told}. Crystals to drain: {grams(crop['expected'])} expected, "
            f"{three(crop['p10'])} to {grams(crop['p90'])} in 80 of 100 cases."
        )
    return lines


def shown_advice(html):
    return [
        unescape(line)
        for line in re.findall(r"<p>([^<]+)</p>", re.search(r'id="a-advice">(.*?)</div>', html, re.DOTALL)[1])
    ]


@pytest.mark.parametrize("batch", BATCHES, ids=[f"{b[0]}-{b[4]}".replace("/", "-") for b in BATCHES])
def test_page_and_command_line_agree(ask, capsys, batch):
    salt, content, size, cold, end = batch
    over, fields = OVER[BATCHES.index(batch) % len(OVER)]
    air = AIRS[BATCHES.index(batch) % len(AIRS)]
    pot = [word for key, text in (content, size) for word in (OPTION.get(key, f"--{key}"), text)]
    plan = commanded(capsys, "reduce", salt, *pot, "--cool-to", cold, "--ends", end, *over)
    path = commanded(capsys, "path", salt, *pot, "--cool-to", cold, "--reduce-to", end)
    airs = [word for key, text in air.items() for word in (f"--{key}", text)]
    marks = commanded(capsys, "marks", salt, *pot, "--end", end, *airs)
    query = {"salt": salt, content[0]: content[1], size[0]: size[1], "cool": cold, "to": end, **fields, **air}
    got = ask("/answer?" + urlencode(query)).json
    assert not got["faults"]
    html = spaced(got["html"])

    def shown(place):
        return re.search(rf'id="{place}">([^<]+)<', html)[1]

    (row,) = plan["ends"]
    assert shown("outcome") == outcome_word(row["outcome"])
    assert shown("a-size") == millilitres(row["end_volume_mL"])
    assert f"{percent(row['fraction_of_start'])} of the start, {grams(row['end_mass_g'])}" in html
    assert shown("a-crystals") == grams(row["crystals_g"])
    assert shown("a-yield") == percent(row["yield_percent"] / 100)
    assert shown("a-liquor") == millilitres(row["liquor_mL"])
    shares = dict(re.findall(r'<div class="(\w+)"><dt>[^<]*</dt><dd>([^<]*)</dd>', html))
    assert {word: unescape(text) for word, text in shares.items()} == {
        word: f"{per_cent(share)} %" for word, share in row["odds"].items()
    }
    crop = row["crop_g"]
    if three(crop["p90"]) != "0":
        assert f"the crop to be expected is {grams(crop['expected'])}; four times in five" in html
        assert f"lies between {grams(crop['p10'])} and {grams(crop['p90'])}" in html
    said = shown_advice(html)
    for line, want in zip(said, advice_of(plan, plan["cool_to_degC"]), strict=False):
        assert line.startswith(want)
    doubts = [line for line in said if line.startswith("Doubt of")]
    for line in doubts:
        assert line.split(" costs most: ")[1].startswith(
            f"{plan['doubts'][0]['costs_g']:.3g} g of expected crystals"
        )
    assert len(said) == len(advice_of(plan, plan["cool_to_degC"])) + len(doubts)
    for key in ("saturates", "pours_off_down_to", "sets_solid_below"):
        if plan[key] is not None:
            said = f"{millilitres(plan[key]['end_volume_mL'])} ({percent(plan[key]['fraction_of_start'])} of the start"
            assert said in html
    steps = re.findall(r"<li>([^<]+)</li>", re.search(r'id="a-steps">(.*?)</ol>', html, re.DOTALL)[1])
    assert len(steps) == len(path["steps"])
    for step, line in zip(path["steps"], steps, strict=True):
        assert line.startswith(f"{step['step']}: ")
        if step["crystals_g"]:
            assert grams(step["crystals_g"]) in line
    hot = marks["hot"] or marks
    never_clear = any("No temperature is known at which it is clear" in text for text in marks["warnings"])
    assert ("no mark, solid stands in it" in html) is never_clear
    assert (f"{hot['density_g_mL']:.3f} g/mL" in html) is not never_clear
    assert grams(marks["mass_g"]) in html
    if marks["boiling_degC"] is not None:
        useless = (marks["boiling_error_volume_percent"] or 0.0) > 50.0
        assert (
            f"{round(marks['boiling_degC'], 1):g} °C ± {marks['boiling_error_K']:.1f}" in html
        ) is not useless


SAVED = {
    "salt": "Epsom salt", "holds": "200 g of MgSO4.7H2O", "volume": "500 mL", "cool": "5 degC", "stop": "190",
    "read_at": "25 degC", "altitude": "800 m", "doubt_volume": "2 %", "doubt_temperature": "thermometer", "risk": "10 %",
    "want": "60 g of MgSO4.7H2O",
}  # fmt: skip


@pytest.mark.parametrize("more", [{}, {"saw": "set"}, {"to": "272 g"}], ids=["planned", "seen", "weighed"])
def test_a_batch_saved_from_the_page_gets_the_same_advice(ask, capsys, tmp_path, more):
    query, saw = {**SAVED, **more}, "saw" in more
    html = spaced(ask("/answer?" + urlencode(query)).json["html"])
    written = tmp_path / "batch.toml"
    written.write_bytes(ask("/batch.toml?" + urlencode(query)).data)
    assert main(["reduce", "--batch", str(written)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    said = shown_advice(html)
    assert len(said) == 4
    for line in said:
        assert line in printed
    assert unescape(re.search(r'id="a-want">([^<]+)<', html)[1]) in printed
    assert ("What was seen says" in html) is saw
    counted = re.findall(r"<li>(Counted in: [^<]+)</li>", html)
    assert [line for line in counted if unescape(line) not in printed] == []
    assert len(counted) == saw
