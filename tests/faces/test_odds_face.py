"""Doubts, risks and calibrated curves as the person writes them, and how they come back."""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.testing import assert_allclose

from crystal.bench.doubt import Doubt
from crystal.errors import InputError
from crystal.faces.doubts import doubt_of, risk_of
from crystal.faces.facts import Given

POT = ("MgSO4", "--holds", "200 g of MgSO4.7H2O", "--start", "500 mL", "--cool-to", "5 degC")
HOLDS = {"holds": Given("200 g", "--holds")}


def told(text: str) -> Doubt:
    return doubt_of(HOLDS | {"doubt": Given(text, "--doubt")})


@pytest.mark.parametrize(
    ("text", "changed"),
    [
        ("volume=5 %, temperature=2 K, holds=3 %", {"volume": 0.05, "temperature": 2.0, "holds": 0.03}),
        ("volume=measuring cylinder", {"volume": 0.01}),
        ("Volume = Beaker mark , mass=lab balance", {"volume": 0.05, "mass": 0.001}),
        ("temperature=overnight outdoors", {"temperature": 3.0}),
        ("temperature=1.5 °C, bed=0.1, curve=0,4 %", {"temperature": 1.5, "bed": 0.1, "curve": 0.004}),
        ("density=0", {"density": 0.0}),
    ],
)
def test_doubts_as_they_are_written(text, changed):
    found = told(text)
    for key, value in changed.items():
        assert_allclose(getattr(found, key), value)
    for key in set(Doubt.__slots__) - set(changed):
        assert getattr(found, key) == getattr(Doubt(), key)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("volume", "pairs of one of volume, mass, temperature"),
        ("colour=5 %", "pairs of one of"),
        ("volume=lots", "an instrument: beaker mark, measuring cylinder"),
        ("volume=thermometer", "a share or an instrument"),
        ("temperature=5 %", "a temperature difference"),
        ("volume=2 K", "a share"),
        ("holds=150 %", "below 100 %"),
        ("temperature=400 K", "below 100 K"),
    ],
)
def test_doubts_that_mean_nothing_are_refused(text, said):
    with pytest.raises(InputError, match=re.escape(said)):
        told(text)


def test_a_batch_file_tells_doubts_and_the_command_line_wins(crystal, tmp_path):
    (tmp_path / "batch.toml").write_text(
        'salt = "MgSO4"\n[start]\nvolume = "500 mL"\nholds = "200 g of MgSO4.7H2O"\n[cool]\nto = "5 degC"\n'
        '[doubt]\nvolume = "1 %"\ntemperature = "1 K"\nrisk = "10 %"\n',
        encoding="utf-8",
    )
    own = crystal("reduce", *POT, "--doubt", "volume=1 %, temperature=1 K", "--risk", "10 %", "--json").json
    file = crystal("reduce", "--batch", "batch.toml", "--json").json
    assert file["advice"] == own["advice"]
    assert file["advice"]["risk_fraction"] == 0.10
    over = crystal(
        "reduce", "--batch", "batch.toml", "--risk", "1 %", "--doubt", "temperature=3 K", "--json"
    ).json
    assert over["advice"]["risk_fraction"] == 0.01
    assert over["advice"]["end_volume_mL"] > file["advice"]["end_volume_mL"]


@pytest.mark.parametrize("text", ["0", "100 %", "-5 %", "often", "5 K"])
def test_risks_that_are_none_are_refused(text):
    with pytest.raises(InputError, match="odds above 0 and below 100 %"):
        risk_of({"risk": Given(text, "--risk")})


def test_every_row_has_its_odds_and_its_band(crystal):
    found = crystal("reduce", *POT, "--json").json
    assert len(found["ends"]) > 4
    for row in [*found["ends"], found["advice"]]:
        assert set(row["odds"]) == {"clear", "crop", "thick", "set"}
        assert_allclose(sum(row["odds"].values()), 1.0, atol=1e-9)
        crop = row["crop_g"]
        assert 0.0 <= crop["p10"] <= crop["p90"]
        assert crop["expected"] <= 1.5 * found["start"]["mass_g"]
    advice = found["advice"]
    assert advice["risk_kept"] is True
    assert_allclose(
        advice["odds_not_pouring_fraction"], advice["odds"]["thick"] + advice["odds"]["set"], atol=1e-12
    )
    assert advice["odds_not_pouring_fraction"] <= 0.05 + 1e-9
    assert advice["safe_to_mL"] <= advice["end_volume_mL"] <= advice["safe_from_mL"]
    crops = [row["odds"]["crop"] for row in found["ends"]]
    assert max(crops) > 0.9 > 0.3 > min(crops)


def test_the_same_words_give_the_same_answer(crystal):
    one, other = (crystal("reduce", *POT, "--json").out for _ in range(2))
    assert one == other


def test_content_told_by_a_mark_bears_the_marks_doubt_too(crystal):
    """The same pot, its strength told with its mass or with a mark: the mark leaves more odds of nothing at all."""
    clear = []
    for size in (("--mass", "589 g"), ("--start", "500 mL")):
        words = ("reduce", "MgSO4", "--strength", "16.6 % w/w", *size, "--cool-to", "5 degC", "--json")
        row = min(crystal(*words).json["ends"], key=lambda row: abs(row["end_volume_mL"] - 300.0))
        clear.append(row["odds"]["clear"])
    assert clear[1] > 1.5 * clear[0] > 0.0


@pytest.fixture
def saved(crystal):
    ran = crystal(
        "calibrate", "old liquor", "CuSO4", "--point", "31 degC = 18.5 % w/w", "--point", "45 degC = 22.9 % w/w",
        "--save", "liquors.toml",
    )  # fmt: skip
    assert ran.code == 0, ran.err
    return ran


BLUE = ("CuSO4", "--holds", "120 g of CuSO4.5H2O", "--start", "400 mL")


@pytest.mark.usefixtures("saved")
@pytest.mark.parametrize(
    ("command", "more"),
    [
        ("reduce", ("--cool-to", "5 degC")),
        ("yield", ("--reduce-to", "200 mL", "--cool-to", "5 degC")),
        ("path", ("--reduce-to", "200 mL", "--cool-to", "5 degC")),
    ],
)
def test_a_calibrated_curve_is_used_and_always_labelled(crystal, tmp_path, command, more):
    words = (command, *BLUE, *more)
    pure = crystal(*words, "--json").json
    fitted = crystal(*words, "--curve", "old liquor", "--curve-file", "liquors.toml", "--json").json
    assert pure["start"]["curve"] is None
    assert fitted["start"]["curve"]["name"] == "old liquor"
    assert fitted["start"]["curve"]["points"] == 2
    key = {"reduce": "ends", "yield": "rows", "path": "steps"}[command]
    crystals = [[row["crystals_g"] for row in found[key]] for found in (pure, fitted)]
    assert any(
        fit > held > 0.0 for held, fit in zip(*crystals, strict=True)
    )  # a factor below 1 holds less salt
    text = crystal(*words, "--curve-file", "liquors.toml", "--chart", "chart.svg").out
    assert "Calibrated curve 'old liquor': 0.943" in text
    assert "not the pure salt" in " ".join(text.split())
    svg = (tmp_path / "chart.svg").read_text(encoding="utf-8")
    assert "<!-- CuSO₄ (calibrated curve 'old liquor')" in svg.replace("&#39;", "'")


@pytest.mark.usefixtures("saved")
def test_a_batch_file_names_its_curve_beside_itself(crystal, tmp_path):
    (tmp_path / "sub").mkdir()
    (tmp_path / "liquors.toml").rename(tmp_path / "sub" / "liquors.toml")
    (tmp_path / "sub" / "batch.toml").write_text(
        'salt = "CuSO4"\n[start]\nvolume = "400 mL"\nholds = "120 g of CuSO4.5H2O"\n[reduce]\nto = "200 mL"\n'
        '[cool]\nto = "5 degC"\n[curve]\nfile = "liquors.toml"\nname = "old liquor"\n',
        encoding="utf-8",
    )
    assert crystal("explain", "sub/batch.toml", "--json").json["start"]["curve"]["name"] == "old liquor"


@pytest.mark.usefixtures("saved")
def test_a_second_curve_joins_the_file_and_comments_stay(crystal, tmp_path):
    file = tmp_path / "liquors.toml"
    file.write_text("# mine\n" + file.read_text(encoding="utf-8"), encoding="utf-8")
    assert (
        crystal("calibrate", "other", "KNO3", "--point", "31 degC = 29 % w/w", "--save", "liquors.toml").code
        == 0
    )
    text = file.read_text(encoding="utf-8")
    assert text.startswith("# mine\n")
    ran = crystal("reduce", *BLUE, "--cool-to", "5 degC", "--curve-file", "liquors.toml")
    assert ran.code == 2
    assert "given with one of its names: 'old liquor', 'other'" in ran.err
    assert (
        crystal(
            "reduce", *BLUE, "--cool-to", "5 degC", "--curve-file", "liquors.toml", "--curve", "other"
        ).code
        == 2
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("x", "CuSO4"), "one point or more"),
        (("x", "CuSO4", "--point", "31 degC"), "a temperature, '=' and a strength"),
        (("x", "CuSO4", "--point", "31 degC = 60 % w/w"), "within a factor of 2"),
        (("x", "CuSO4", "--point", "310 degC = 20 % w/w"), "outside the data"),
        ((" ", "CuSO4", "--point", "31 degC = 20 % w/w"), "what the liquor is called"),
        (("x", "CuSO4", "--point", "31 degC = 20 % w/w", "--save", "curves.txt"), "ends in .toml"),
    ],
)
def test_what_cannot_be_fitted_is_refused(crystal, words, said):
    ran = crystal("calibrate", *words)
    assert ran.code == 2
    assert said in ran.err


@pytest.mark.parametrize(
    "text", ["[broken", "x = 3", '["old liquor"]\nsalt = "CuSO4"\nfactor = 9\ndoubt = 0.1']
)
def test_a_damaged_curve_file_is_said(crystal, tmp_path, text):
    (tmp_path / "liquors.toml").write_text(text, encoding="utf-8")
    ran = crystal("reduce", *BLUE, "--cool-to", "5 degC", "--curve-file", "liquors.toml")
    assert ran.code == 2
    assert "liquors.toml" in ran.err


def test_chart_stacks_the_odds_under_the_crystals():
    from crystal.bench.batch import Batch
    from crystal.bench.forecast import Forecast
    from crystal.bench.plan import Plan
    from crystal.bench.pot import Pot
    from crystal.data.catalogue import Catalogue
    from crystal.faces.figures import window_chart
    from crystal.physics.model import Model

    batch = Batch(Pot(Model.of(Catalogue.bundled().find("MgSO4")), 97.7, 491.3), cool_to_C=5.0)
    forecast = Forecast.of(batch, Plan.of(batch.start, 5.0))
    figure = window_chart(forecast.plan, forecast)
    upper, lower = figure.axes[:2]
    assert (upper.get_ylabel(), lower.get_ylabel()) == ("Crystals (g)", "Odds (%)")
    assert upper.get_xlim() == lower.get_xlim()
    volume = 260.0
    odds = forecast.at([volume])
    layers = {c.get_label(): c.get_paths()[0] for c in lower.collections}
    assert set(layers) == {"clear", "crop", "thick", "set"}
    height = 100.0 * (odds.odds[3, 0] + odds.odds[2, 0] + 0.5 * odds.odds[1, 0])
    assert layers["crop"].contains_point((volume, height))
    expected = next(line for line in upper.lines if line.get_label() == "expected")
    assert_allclose(np.interp(volume, *expected.get_data()), odds.crop_expected_g[0], rtol=0.02)
