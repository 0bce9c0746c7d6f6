"""What a person sees: help, tables, advice, cautions, files, versions, the demo."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import crystal as package

POT = ("MgSO4", "--holds", "200 g of MgSO4.7H2O", "--start", "500 mL")
PLAN = (*POT, "--cool-to", "5 degC")
COMMANDS = ("salts", "card", "reduce", "yield", "path", "explain", "demo")
HEAVY = ("numpy", "scipy", "pint", "matplotlib", "pandas", "molmass", "rich")


def _in_a_process(*words: str, code: str | None = None) -> subprocess.CompletedProcess[str]:
    words = ("-c", code) if code is not None else ("-m", "crystal", *words)
    return subprocess.run(
        [sys.executable, *words], capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", "PYTHONPATH": str(Path(package.__file__).parents[1])},
    )  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_every_command_has_an_example_and_its_keys(crystal, command):
    ran = crystal(command, "--help")
    assert ran.code == 0
    assert "example:\n  crystal " in ran.out
    assert "JSON keys" in ran.out
    assert max(len(line) for line in ran.out.splitlines()) <= 120


@pytest.mark.parametrize("command", COMMANDS)
def test_the_example_in_the_help_runs(crystal, tmp_path, command):
    import shlex

    from crystal.faces.cli import demo
    from crystal.faces.cli.helptexts import COMMANDS as TEXTS

    (tmp_path / "batch.toml").write_bytes(demo.BATCH.read_bytes())
    ran = crystal(*shlex.split(TEXTS[command].example)[1:])
    assert ran.code == 0, ran.err
    assert ran.out


def test_help_imports_stay_light():
    code = (
        "import sys; from crystal.faces.cli import main; main(['--help']); main(['reduce', '--help']);"
        f"print('HEAVY', [name for name in {HEAVY!r} if name in sys.modules])"
    )
    ran = _in_a_process(code=code)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.splitlines()[-1] == "HEAVY []"


def test_a_plan_without_chart_imports_no_drawing_and_no_frames():
    words = ["reduce", *PLAN]
    code = (
        f"import sys; from crystal.faces.cli import main; main({words!r});"
        "print('HEAVY', [name for name in ('matplotlib', 'pandas') if name in sys.modules])"
    )
    ran = _in_a_process(code=code)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.splitlines()[-1] == "HEAVY []"


def test_no_words_print_the_help(crystal):
    ran = crystal()
    assert ran.code == 0
    assert ran.out.startswith("usage: crystal")


def test_the_module_is_the_same_command(crystal):
    ran = _in_a_process("salts", "epsom")
    assert ran.returncode == 0
    assert ran.stdout == crystal("salts", "epsom").out


def test_a_reader_that_goes_away_is_no_fault():
    code = (
        "import os, sys; from crystal.faces.cli import main\n"
        "read, write = os.pipe(); os.close(read); os.dup2(write, 1)\n"
        "sys.exit(main(['salts']))"
    )
    ran = _in_a_process(code=code)
    assert (ran.returncode, ran.stderr) == (0, "")


def test_version_tells_versions_and_edition(crystal):
    import numpy

    from crystal.data.catalogue import Catalogue

    ran = crystal("--version")
    assert ran.code == 0
    assert ran.out.startswith(f"crystal {package.__version__}\nPython {sys.version.split()[0]}")
    assert f"numpy {numpy.__version__}" in ran.out
    assert f"data edition {Catalogue.bundled().edition}" in ran.out


def test_a_plan_is_told_in_order_with_outcomes_in_words(crystal):
    ran = crystal("reduce", *PLAN)
    assert ran.code == 0
    assert ran.err == ""
    parts = [
        "MgSO4, magnesium sulfate",
        "Start: 500 mL at 20 °C, 589 g: 97.7 g of MgSO4 in 491 g of water, 16.6 mass %",
        "Advice",
        "Stop at ",
        "Why: ",
        "Its marks",
        "Window for cooling to 5 °C",
        "Crystals begin at 3",
        "The crop pours off down to 1",
        "It sets solid below 1",
        "End points, volumes read at 20 °C",
        "Odds, with the doubts",
        "Mind",
        "Cautions",
        "Follow local rules",
        "licensed",
    ]
    places = [ran.out.index(part) for part in parts]
    assert places == sorted(places)
    assert all(word in ran.out for word in ("clear", "crop", "thick", "set solid"))
    assert "degC" not in ran.out
    assert "\x1b" not in ran.out
    assert max(len(line) for line in ran.out.splitlines()) <= 110


def test_the_printed_advice_is_the_one_in_the_json(crystal):
    advice = crystal("reduce", *PLAN, "--json").json["advice"]
    out = " ".join(crystal("reduce", *PLAN).out.split())
    assert f"Stop at {advice['end_volume_mL']:.0f} mL" in out
    assert f"{advice['crystals_g']:.3g} g of MgSO4.7H2O" in out


@pytest.mark.parametrize("salt", ["CuSO4", "NiSO4", "CoSO4", "ZnSO4", "BaCl2", "KCr(SO4)2", "AgNO3"])
def test_spent_liquor_of_harmful_metals_is_collected(crystal, salt):
    ran = crystal("yield", salt, "--strength", "20 % w/w", "--mass", "100 g", "--cool-to", "25 degC")
    assert ran.code == 0, ran.err
    said = " ".join(ran.out.split("\nCautions\n")[1].split())
    line = said.split("- Spent liquor: ")[1].split(" - ")[0]
    assert re.search("collected|collect it|collect liquor|handed in", line), line
    assert "leave disposal to a licensed collector" in line


def test_cautions_on_screen_are_few_and_the_card_has_them_all(crystal):
    shown = crystal("reduce", *PLAN).out.split("\nCautions\n")[1]
    assert shown.count("  - ") <= 7
    card = crystal("card", "MgSO4", "--json").json
    out = " ".join(crystal("card", "MgSO4").out.split())
    assert len(card["cautions"]) > 7
    for caution in card["cautions"]:
        assert caution["text"] in out


def test_a_card_says_what_is_not_predicted_and_what_is_estimated(crystal):
    card = crystal("card", "FeCl3", "--json").json
    estimated = [solid["phase"] for solid in card["solids"] if solid["density_is_estimate"]]
    assert estimated == ["FeCl3.3.5H2O", "FeCl3.2.5H2O", "FeCl3.2H2O"]
    out = crystal("card", "FeCl3").out
    assert len(re.findall(r"\d\.\d{3} est\.", out)) == len(estimated)
    for limit in ("suffer from about 100 °C", "worked below about 120 °C", "break down from about 150 °C"):
        assert limit in out
    errors = [solid["error_max_mass_percent"] for solid in card["solids"] if solid["points"] >= 4]
    assert errors
    assert all(error is not None and error >= 0 for error in errors)
    assert all(solid["error_max_mass_percent"] is None for solid in card["solids"] if solid["points"] < 4)


def test_a_solid_of_one_point_is_named_but_not_predicted(crystal, tmp_path):
    own = tmp_path / "mine.csv"
    own.write_text(
        "system,phase,temperature_C,mass_percent\n"
        "KCl,KCl,0,21.9\nKCl,KCl,20,25.5\nKCl,KCl,40,28.7\nKCl,KCl.H2O,-9,18\n"
    )
    ran = crystal("card", "KCl", "--data", str(own))
    assert ran.code == 0, ran.err
    assert "KCl.H2O is named but not predicted: 1 stable point in the data, 2 are needed." in ran.out


def test_salts_list_and_search(crystal):
    everything = crystal("salts", "--json").json
    assert len(everything) > 80
    found = crystal("salts", "copper sulfate", "--json").json
    assert found[0]["formula"] == "CuSO4"
    assert "CuSO4.5H2O" in found[0]["solids"]
    assert "ice" not in found[0]["solids"]
    (low, high), *_ = found[0]["covers_degC"]
    assert low < 0 < 90 < high
    assert [salt["formula"] for salt in crystal("salts", "CuSO4·5H2O", "--json").json] == ["CuSO4"]
    out = crystal("salts").out
    assert f"{len(everything)} salts" in out
    assert all(salt["formula"] in out for salt in everything)


def test_files_are_written_and_named(crystal, tmp_path):
    import pandas as pd

    ran = crystal("reduce", *PLAN, "--chart", "w.svg", "--csv", "w.csv")
    assert ran.code == 0, ran.err
    assert ran.out.endswith("Written: w.svg, w.csv\n")
    assert "<svg" in (tmp_path / "w.svg").read_text()
    table = pd.read_csv(tmp_path / "w.csv")
    rows = crystal("reduce", *PLAN, "--json").json["ends"]
    assert list(table.columns) == list(rows[0])
    assert table["crystals_g"].tolist() == pytest.approx([row["crystals_g"] for row in rows])
    assert sorted(path.name for path in tmp_path.iterdir()) == ["w.csv", "w.svg"]


@pytest.mark.parametrize(
    ("words", "ending"),
    [
        (("reduce", *PLAN), "png"),
        (("yield", *PLAN, "--reduce-to", "40 %"), "pdf"),
        (("path", *PLAN, "--reduce-to", "40 %"), "svg"),
        (("card", "MgSO4"), "png"),
    ],
    ids=["reduce", "yield", "path", "card"],
)
def test_every_chart_comes_beside_json(crystal, tmp_path, words, ending):
    starts = {"png": b"\x89PNG", "pdf": b"%PDF", "svg": b"<?xml"}[ending]
    file = tmp_path / f"chart.{ending}"
    assert crystal(*words, "--chart", str(file), "--json").json
    assert file.read_bytes().startswith(starts)


def test_options_beside_a_batch_file_override_it(crystal, tmp_path):
    from crystal.faces.cli import demo

    (tmp_path / "b.toml").write_bytes(demo.BATCH.read_bytes())
    plain = crystal("reduce", "--batch", "b.toml", "--json").json
    assert plain["cool_to_degC"] == 8.0
    assert any(abs(row["end_volume_mL"] - 100.0) < 1e-6 for row in plain["ends"])
    colder = crystal("reduce", "--batch", "b.toml", "--cool-to", "2 C", "--json").json
    assert colder["cool_to_degC"] == 2.0
    assert colder["start"] == plain["start"]
    weaker = crystal("yield", "--batch", "b.toml", "--strength", "10 % w/w", "--json").json
    assert weaker["start"]["mass_percent"] == pytest.approx(10.0)
    assert weaker["start"]["volume_mL"] == pytest.approx(400.0)
    removed = crystal("yield", "--batch", "b.toml", "--remove", "50 % of the water", "--json").json
    assert removed["end"]["water_removed_g"] == pytest.approx(removed["start"]["water_g"] / 2)


def test_a_yield_without_reducing_cools_the_pot_as_it_is(crystal):
    answer = crystal("yield", *POT, "--cool-to", "0 C", "--json").json
    assert answer["end"]["fraction_of_start"] == pytest.approx(1.0)
    assert answer["end"]["water_removed_g"] == 0.0
    assert "nothing driven off" in crystal("yield", *POT, "--cool-to", "0 C").out


def test_demo_shows_commands_and_writes_its_charts(crystal, tmp_path):
    ran = crystal("demo")
    assert ran.code == 0, ran.err
    assert "invented" in ran.out
    files = {path.name for path in (tmp_path / "crystal-demo").iterdir()}
    assert files == {"batch.toml", "window.png", "yield.png", "path.png", "curve.png"}
    for command in ("reduce", "yield", "path", "explain", "card"):
        assert f"$ crystal {command} " in ran.out
    for name in files:
        assert f"crystal-demo/{name}" in ran.out
    # The commands that it shows are commands that run.
    again = crystal("explain", "crystal-demo/batch.toml", "--json").json
    assert again["outcome_seen"] == "set"
    assert again["rescue"] is not None


def test_on_a_narrow_terminal_the_outcome_and_the_solid_stay(crystal, monkeypatch):
    from crystal.faces.cli import output

    wide = crystal("reduce", *PLAN).out
    monkeypatch.setattr(output, "WIDTH", 72)
    narrow = crystal("reduce", *PLAN).out
    assert max(len(line) for line in narrow.splitlines()) <= 72
    for word in ("crop        MgSO4.7H2O", "set solid   MgSO4.7H2O"):
        assert word in wide
        assert word in narrow
    assert "left out, the terminal being narrow: " in narrow
    assert "left out, the terminal being narrow" not in wide
