"""Salts beside each other on the command line: shift, --plain, separate, charts, refusals."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose

POT = ("CuSO4", "--holds", "120 g of CuSO4.5H2O", "--start", "400 mL")
ACID = ("--with", "20 g of H2SO4")
COMMANDS = {
    "reduce": ("reduce", *POT, "--cool-to", "5 degC"),
    "yield": ("yield", *POT, "--reduce-to", "200 mL", "--cool-to", "20, 5 degC"),
    "path": ("path", *POT, "--reduce-to", "200 mL", "--cool-to", "5 degC"),
}
PAIR = ("separate", "100 g of KNO3", "60 g of NaCl", "--water", "300 g", "--cool-to", "5 degC")


def _shifts(command: str, answer: dict) -> list:
    rows = answer["rows"] if command == "yield" else [answer]
    return [(row["shift_percent"], row["shift_doubt_percent"]) for row in rows]


@pytest.mark.parametrize("command", COMMANDS)
def test_shift_is_answered_and_plain_leaves_it_out(crystal, command: str) -> None:
    words = COMMANDS[command]
    answer = crystal(*words, *ACID, "--json").json
    assert answer["start"]["others"][0]["formula"] == "H2SO4"
    assert set(answer["start"]["others"][0]) == {"formula", "g", "mass_percent"}
    for shift, doubt in _shifts(command, answer):
        assert shift < 0 < doubt
    plain = crystal(*words, *ACID, "--plain", "--json").json
    assert all(pair == (None, None) for pair in _shifts(command, plain))
    assert all(pair == (None, None) for pair in _shifts(command, crystal(*words, "--json").json))
    shown = " ".join(crystal(*words, *ACID).out.split())
    assert "lowers the solubility of CuSO4 at" in shown
    assert "--plain leaves it out" in shown


def test_more_comes_than_from_the_pure_curve(crystal) -> None:
    words = COMMANDS["yield"]
    beside, plain = (crystal(*words, *ACID, *more, "--json").json["rows"] for more in ((), ("--plain",)))
    assert all(a["crystals_g"] > b["crystals_g"] for a, b in zip(beside, plain, strict=True))


def test_every_solid_is_told(crystal) -> None:
    row = crystal(
        "yield", "KNO3", "--holds", "40 g of KNO3", "--water", "60 g", "--with", "80 g of NaNO3", "--cool-to", "10 degC", "--json",
    ).json["rows"][0]  # fmt: skip
    assert {one["phase"] for one in row["solids"]} == {"KNO3", "NaNO3"}
    assert_allclose(sum(one["g"] for one in row["solids"]), row["crystals_g"])


def test_acid_with_cyanometallate_writes_nothing(crystal, tmp_path) -> None:
    ran = crystal(
        "reduce", "K4Fe(CN)6", "--holds", "80 g of K4Fe(CN)6.3H2O", "--start", "400 mL", "--cool-to", "20 degC",
        "--with", "6 g of HCl", "--chart", "no.png",
    )  # fmt: skip
    assert ran.code == 2
    assert "hydrogen cyanide" in ran.err
    assert not (tmp_path / "no.png").exists()


def test_separate_tells_turns_and_sums(crystal) -> None:
    answer = crystal(*PAIR, "--json").json
    turns = answer["turns"]
    assert [one["turn"] for one in turns[:2]] == ["cool", "boil"]
    for won in answer["won"]:
        mine = [one for one in turns if one["salt"] == won["salt"]]
        assert_allclose(sum(one["crystals_g"] for one in mine), won["crystals_g"])
        assert_allclose(sum(one["yield_percent"] for one in mine), won["yield_percent"])
    shown = crystal(*PAIR).out
    assert all(turn in shown for turn in ("1. cool", "2. boil down"))
    assert "Crystals of a hot turn are filtered off hot" in " ".join(shown.split())


def test_a_hydrates_water_counts(crystal) -> None:
    hydrate = crystal(
        "separate",
        "226.8 g of Na2SO4.10H2O",
        "60 g of NaCl",
        "--water",
        "273.2 g",
        "--cool-to",
        "10 degC",
        "--json",
    ).json
    dry = crystal(
        "separate", "100 g of Na2SO4", "60 g of NaCl", "--water", "400 g", "--cool-to", "10 degC", "--json"
    ).json
    assert_allclose(hydrate["water_g"], dry["water_g"], rtol=1e-3)
    assert_allclose(hydrate["won"][0]["crystals_g"], dry["won"][0]["crystals_g"], rtol=2e-3)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("separate", "100 g of CuCl2", "60 g of NaCl"), "even the direction of the shift is unknown"),
        (("separate", "100 g of FeSO4", "60 g of NaCl"), "Fe+2 with SO4-2"),
        (("separate", "100 g", "60 g of NaCl"), "with its formula"),
        (("separate", "100 g of NaCl", "60 g of NaCl"), "another salt than NaCl"),
        (("separate", "100 g of KNO3", "60 g of NaCl", "--held", "much"), "a number from 0 to 2"),
    ],
)
def test_what_cannot_be_parted_is_refused(crystal, words: tuple, says: str) -> None:
    ran = crystal(*words, "--water", "300 g", "--cool-to", "5 degC")
    assert ran.code == 2
    assert says in ran.err
    assert ran.out == ""


def test_chart_of_a_pair(crystal, tmp_path) -> None:
    ran = crystal(
        "separate",
        "100 g of NaCl",
        "100 g of KCl",
        "--water",
        "600 g",
        "--cool-to",
        "10 degC",
        "--chart",
        "pair.png",
    )
    assert ran.code == 0
    assert (tmp_path / "pair.png").stat().st_size > 5000
    refused = crystal(*PAIR, "--chart", "no.png")
    assert refused.code == 2
    assert "common ion" in refused.err


def test_chart_of_a_salt_beside_another(crystal, tmp_path) -> None:
    ran = crystal("card", "CuSO4", "--beside", "H2SO4", "--at", "25 degC", "--chart", "beside.svg")
    assert ran.code == 0
    assert (tmp_path / "beside.svg").exists()
    refused = crystal("card", "FeSO4", "--beside", "H2SO4", "--chart", "no.png")
    assert refused.code == 2
    assert "no ion-interaction parameters" in refused.err


def test_figures_hold_the_shifted_curve() -> None:
    from crystal.data.catalogue import Catalogue
    from crystal.faces.figures.pair import beside_chart
    from crystal.physics.company import Company
    from crystal.physics.model import Model

    model = Model.of(Catalogue.bundled().find("NaCl"))
    plot = beside_chart(model, "HCl", 20.0).axes[0]
    plain, shifted, _ = plot.lines
    x, y = shifted.get_data()
    shift = Company.of(model, {"HCl": 1.0}).shift(20.0, 2.0)
    assert shift is not None
    a = shift[0] * 6.1407
    whole = 1000.0 + a * 58.443 + 2.0 * 36.461
    import numpy as np

    known = np.isfinite(y)
    assert_allclose(
        np.interp(100 * 2.0 * 36.461 / whole, x[known], y[known]), 100 * a * 58.443 / whole, rtol=2e-3
    )
    assert plain.get_ydata()[-1] > y[known][-1]


def test_the_path_chart_names_both_salts_and_whose_the_fields_are() -> None:
    from crystal.bench.path import SaturationPath
    from crystal.bench.pot import Pot
    from crystal.faces.figures.path import path_chart
    from crystal.physics.others import Others
    from tests.salts import model

    def texts(others: dict[str, float]) -> str:
        path = SaturationPath.of(Pot(model("NaCl"), 70.0, 200.0, others=Others.of(others)), 106.0, 5.0)
        return " ".join(
            t.get_text() for t in path_chart(path).findobj(match=lambda a: hasattr(a, "get_text"))
        )

    beside, alone = texts({"KCl": 15.0}), texts({})
    assert "g of NaCl + KCl under" in beside
    assert "Fields are the pure salt's" in beside
    assert "Fields tell what stands in equilibrium" in alone
