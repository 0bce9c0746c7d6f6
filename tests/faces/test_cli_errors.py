"""Bad input: exit 2, one line on standard error that names it, says what was expected, and touches no file."""

from __future__ import annotations

import re

import pytest

GOOD = ("--holds", "200 g of MgSO4.7H2O", "--start", "500 mL", "--cool-to", "5 degC")


def _with(**changed: str | None) -> list[str]:
    options = dict(zip(GOOD[::2], GOOD[1::2], strict=True))
    for name, value in changed.items():
        options["--" + name.replace("_", "-")] = value
    return [word for name, value in options.items() if value is not None for word in (name, value)]


BAD = {
    "unknown salt": (["reduce", "MgSO5x", *GOOD], "salt: got 'MgSO5x'.*close matches: .*MgSO4"),
    "unknown name": (["card", "copper sulfat"], "close matches: .*sulfate"),
    "no salt": (["reduce", *GOOD], "SALT: got nothing"),
    "wrong dimension": (["reduce", "MgSO4", *_with(start="500 g")], "--start: got '500 g'.*volume.*400 mL"),
    "no unit": (["reduce", "MgSO4", *_with(cool_to="5")], "--cool-to: got '5'.*degC"),
    "volume as temperature": (["reduce", "MgSO4", *_with(cool_to="5 mL")], "--cool-to: got '5 mL'.*temperature"),
    "negative": (["reduce", "MgSO4", *_with(start="-500 mL")], "--start: got '-500 mL'.*more than 0"),
    "zero": (["reduce", "MgSO4", *_with(start="0 mL")], "--start: got '0 mL'.*more than 0"),
    "too small": (["reduce", "MgSO4", *_with(start="10 mL")], "--start: got 10 mL.*hold 200 g.*for example"),
    "end above start": (
        ["yield", "MgSO4", *GOOD, "--reduce-to", "600 mL"],
        "--reduce-to: got '600 mL'.*no larger than the start.*500 mL.*for example 250 mL",
    ),
    "end density below start": (
        ["yield", "MgSO4", *GOOD, "--reduce-to", "1.05 g/mL"],
        "--reduce-to: got '1.05 g/mL'.*no larger than the start",
    ),
    "end below the salt": (["yield", "MgSO4", *GOOD, "--reduce-to", "9 g"], "--reduce-to: .*larger than the dry salt"),
    "one of several ends": (["reduce", "MgSO4", *GOOD, "--ends", "300 mL, 600 mL"], "--ends: .*no larger than the start"),
    "removes it all": (["yield", "MgSO4", *GOOD, "--remove", "900 g"], "--remove: got '900 g'.*less than the water"),
    "both ends": (["yield", "MgSO4", *GOOD, "--remove", "9 g", "--reduce-to", "40 %"], "--reduce-to and --remove"),
    "too cold": (["reduce", "MgSO4", *_with(cool_to="-60 degC")], "--cool-to: -60 degC is outside.*-3.6 to 100 degC"),
    "too cold, tight": (["reduce", "MgSO4", *_with(cool_to="-60C")], "--cool-to: -60 degC is outside.*for example"),
    "too hot": (["yield", "MgSO4", *_with(cool_to="20 degC, 140 degC")], "--cool-to: 140 degC is outside"),
    "path too cold": (["path", "MgSO4", *_with(cool_to="-60C")], "--cool-to: -60 degC is outside"),
    "three facts": (["reduce", "MgSO4", *GOOD, "--mass", "600 g"], "the pot: got --holds and --start and --mass"),
    "one fact": (["reduce", "MgSO4", *_with(start=None)], "the pot: got --holds.*exactly two facts"),
    "two sizes": (["reduce", "MgSO4", *_with(holds=None, water="300 g")], "the pot: got --start and --water"),
    "other salt": (
        ["reduce", "MgSO4", *_with(holds="20 g of CuSO4.5H2O")],
        "--holds: got '20 g of CuSO4.5H2O'.*MgSO4 or one of its hydrates, not of CuSO4",
    ),
    "strength of another salt": (
        ["reduce", "MgSO4", *_with(holds=None, strength="18 % w/w of CuSO4")],
        "--strength: .*MgSO4.*not of CuSO4",
    ),
    "hydrate as salt, no formula": (
        ["reduce", "MgSO4.7H2O", *_with(holds="200 g")], "--holds: got '200 g'.*for example 200 g of MgSO4.7H2O",
    ),
    "strength too high": (["reduce", "MgSO4", *_with(holds=None, strength="120 %")], "--strength: got '120 %'"),
    "density of a gas": (["reduce", "MgSO4", *_with(holds=None, density="0.5 g/mL")], "--density: got 0.5 g/mL.*water"),
    "no cooling": (["reduce", "MgSO4", *_with(cool_to=None)], "--cool-to: got nothing.*5 degC"),
    "bed": (["reduce", "MgSO4", *GOOD, "--bed", "3"], "--bed: got '3'.*0.55"),
    "wanted hydrate": (["reduce", "MgSO4", *GOOD, "--want", "50 g of MgSO4.6H2O"], "--want: .*MgSO4.7H2O, which is what"),
    "half a hand calculation": (["yield", "MgSO4", *GOOD, "--crystals", "MgSO4.7H2O"], "--solubility: got nothing"),
    "hand calculation, other salt": (
        ["yield", "MgSO4", *GOOD, "--solubility", "20 g/100 g water", "--crystals", "NaCl"], "--crystals: .*not of NaCl",
    ),
    "hand calculation, two temperatures": (
        ["yield", "MgSO4", *_with(cool_to="5, 9 degC"), "--solubility", "20 g/100 g water", "--crystals", "MgSO4.7H2O"],
        "--cool-to: got 2 temperatures",
    ),
    "own data missing": (["salts", "--data", "no-such-folder"], "no-such-folder: there is no such file"),
    "no batch file": (["explain", "none.toml"], "'none.toml'.*No such file"),
    "salt beside batch": (["reduce", "MgSO4", "--batch", "none.toml"], "SALT and --batch"),
    "unknown option": (["reduce", "MgSO4", "--hold", "9 g"], "--hold.*close matches: --holds.*crystal reduce --help"),
    "unknown command": (["redcue"], "redcue.*reduce"),
    "no value": (["reduce", "MgSO4", "--holds"], "--holds: expected one argument.*--help"),
    "words without quotes": (["card", "copper", "sulfate"], "'sulfate' is not understood.*quotes"),
    "chart ending": (["reduce", "MgSO4", *GOOD, "--chart", "window.bmp"], r"--chart: got 'window.bmp'.*\.png, \.svg or \.pdf"),
    "chart folder": (["reduce", "MgSO4", *GOOD, "--chart", "nowhere/w.png"], "--chart: .*folder that exists"),
    "csv ending": (["reduce", "MgSO4", *GOOD, "--csv", "rows.xls"], r"--csv: got 'rows.xls'.*\.csv"),
    "demo folder": (["demo", "--folder", "no/such"], "--folder: got 'no/such'"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_one_clear_line_and_exit_2(crystal, tmp_path, case):
    words, message = BAD[case]
    ran = crystal(*words)
    assert ran.code == 2
    assert ran.out == ""
    assert ran.err.startswith("crystal")
    assert ran.err.count("\n") == 1, ran.err
    assert re.search(message, ran.err), ran.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "late",
    [("--cool-to", "-60 degC"), ("--ends", "900 mL"), ("--want", "50 mL")],
    ids=["cold", "end", "want"],
)
def test_files_stay_as_they_were_on_a_late_error(crystal, tmp_path, late):
    chart, table = tmp_path / "window.png", tmp_path / "rows.csv"
    chart.write_text("old chart")
    table.write_text("old rows")
    ran = crystal("reduce", "MgSO4", *GOOD, "--chart", str(chart), "--csv", str(table), *late)
    assert ran.code == 2
    assert chart.read_text() == "old chart"
    assert table.read_text() == "old rows"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["rows.csv", "window.png"]


def test_a_chart_that_fails_half_way_leaves_nothing(crystal, tmp_path, monkeypatch):
    import crystal.faces.figures as figures

    def broken(_figure, path):
        path.write_text("half a chart")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(figures, "save", broken, raising=False)
    ran = crystal("reduce", "MgSO4", *GOOD, "--csv", "rows.csv", "--chart", "window.png")
    assert ran.code == 2
    assert "No space left on device" in ran.err
    assert list(tmp_path.iterdir()) == []


def test_an_own_salt_file_with_a_hole_is_named_by_line_and_column(crystal, tmp_path):
    own = tmp_path / "mine.csv"
    own.write_text(
        "system,phase,temperature_C,mass_percent\nMyCl,MyCl,10,20\nNaCl,NaCl,20,26\nNaCl,NaCl,,27\n"
    )
    ran = crystal("salts", "--data", str(own))
    assert ran.code == 2
    assert re.search(r"mine\.csv, line \d+", ran.err), ran.err
    assert "Traceback" not in ran.err


def test_a_break_from_the_keyboard_is_130(crystal, monkeypatch):
    from crystal.faces.cli import commands

    def broken(_args):
        raise KeyboardInterrupt

    monkeypatch.setattr(commands, "answer_of", broken)
    ran = crystal("salts")
    assert ran.code == 130
    assert ran.err == "crystal: stopped\n"
