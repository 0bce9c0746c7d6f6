"""Page and command line say the same of one batch, to the printed digit."""

from __future__ import annotations

import json
import re
from urllib.parse import urlencode

import pytest

from crystal.faces.cli import main
from crystal.faces.words import grams, millilitres, outcome_word, percent

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


def commanded(capsys, *words):
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("batch", BATCHES, ids=[f"{b[0]}-{b[4]}".replace("/", "-") for b in BATCHES])
def test_page_and_command_line_agree(ask, capsys, batch):
    salt, content, size, cold, end = batch
    pot = [word for key, text in (content, size) for word in (OPTION.get(key, f"--{key}"), text)]
    plan = commanded(capsys, "reduce", salt, *pot, "--cool-to", cold, "--ends", end)
    path = commanded(capsys, "path", salt, *pot, "--cool-to", cold, "--reduce-to", end)
    marks = commanded(capsys, "marks", salt, *pot, "--end", end)
    query = {"salt": salt, content[0]: content[1], size[0]: size[1], "cool": cold, "to": end}
    got = ask("/answer?" + urlencode(query)).json
    assert not got["faults"]
    html = got["html"]

    def shown(place):
        return re.search(rf'id="{place}">([^<]+)<', html)[1]

    (row,) = plan["ends"]
    assert shown("outcome") == outcome_word(row["outcome"])
    assert shown("a-size") == millilitres(row["end_volume_mL"])
    assert f"{percent(row['fraction_of_start'])} of the start, {grams(row['end_mass_g'])}" in html
    assert shown("a-crystals") == grams(row["crystals_g"])
    assert shown("a-yield") == percent(row["yield_percent"] / 100)
    assert shown("a-liquor") == millilitres(row["liquor_mL"])
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
    assert f"{hot['density_g_mL']:.3f} g/mL" in html
    assert grams(marks["mass_g"]) in html
    if marks["boiling_degC"] is not None:
        assert f"{round(marks['boiling_degC'], 1):g} °C ± {marks['boiling_error_K']:.1f}" in html
