"""The page's address holds the batch; faults stand beside their field; the batch file comes and goes."""

from __future__ import annotations

import io
import re
import tomllib
from itertools import pairwise
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest

from crystal.data.glossary import Glossary
from crystal.faces.cli import main
from tests.page.conftest import spaced

POT = {"salt": "Epsom salt", "holds": "200 g of MgSO4.7H2O", "volume": "500 mL", "cool": "5 °C"}


def answer(ask, **texts):
    reply = ask("/answer?" + urlencode({**POT, **texts}))
    assert reply.status_code == 200
    return reply.json | {"html": spaced(reply.json["html"])}


def test_empty_page_asks_for_a_pot_and_finds_no_fault(ask):
    page = ask("/").get_data(as_text=True)
    assert "Name the salt, say what is in the pot" in page
    assert not re.findall(r'<p class="fault"[^>]*>[^<]', page)


def test_page_and_part_give_the_same_answer(ask):
    part = answer(ask)["html"].strip()
    page = spaced(ask("/?" + urlencode(POT)).get_data(as_text=True))
    assert 'id="outcome">crop<' in part
    assert part in page


def test_the_address_round_trips(ask):
    told = answer(ask, stop="150", deg="F", vol="floz", risk="10 %", saw="thick")
    back = {key: values[0] for key, values in parse_qs(told["query"]).items()}
    want = {**POT, "stop": "150", "deg": "F", "vol": "floz", "risk": "10 %", "saw": "thick"}
    assert back == want
    assert answer(ask, **back) == told


def test_the_slider_moves_the_outcome(ask):
    words = [
        re.search(r'id="outcome">([^<]+)<', answer(ask, stop=stop)["html"])[1]
        for stop in ("450", "240", "150", "110")
    ]
    assert words == ["clear", "crop", "thick", "set solid"]


def test_every_name_in_the_list_finds_its_salt():
    from crystal.data.catalogue import Catalogue
    from crystal.faces.page.view import names_of

    catalogue = Catalogue.bundled()
    names = names_of(catalogue)
    assert len(names) > 2 * len(catalogue.salts)
    lost = []
    for name, formula in names:
        try:
            found = catalogue.find(name).formula
        except ValueError:
            found = None
        if found != formula:
            lost.append((name, formula, found))
    assert not lost


def test_fahrenheit_and_fluid_ounces_are_those_amounts(ask):
    html = answer(ask, stop="236.588", deg="F", vol="floz")["html"]
    assert re.search(r'id="a-size">8.00 fl oz<', html)
    assert "crystals at 41 °F" in html
    assert not re.search(r"\d mL\b|°C", html)


LABELS = {
    "window": ["Crystals (g, at {cold})", "Odds (%)", "End volume ({mL}, read at {read})"],
    "path": ["MgSO₄ (mass % of salt + water)", "Temperature ({degC})"],
}


@pytest.mark.parametrize(
    ("texts", "units"),
    [
        ({}, {"cold": "5 °C", "mL": "mL", "read": "20 °C", "degC": "°C"}),
        ({"deg": "F", "vol": "floz"}, {"cold": "41 °F", "mL": "fl oz", "read": "68 °F", "degC": "°F"}),
    ],
)
def test_charts_and_slider_speak_the_words_of_the_glossary(ask, texts, units):
    page = spaced(ask("/?" + urlencode({**POT, **texts})).get_data(as_text=True))
    window, path = re.findall(r"<svg.*?</svg>", page, flags=re.DOTALL)
    for name, svg in (("window", window), ("path", path)):
        told = re.findall(r'class="label">([^<]*)</text>', svg)
        assert told == [text.format(**units) for text in LABELS[name]]
    terms = Glossary.bundled().terms
    heads = {term.title().partition(" (")[0] for term in terms.values()} | {"MgSO₄"}
    assert {text.partition(" (")[0] for labels in LABELS.values() for text in labels} <= heads
    slider = re.search(r'<label for="stop">([^<]*)</label>', page)[1]
    assert slider == terms["end_volume_mL"].title().partition(" (")[0]
    facts = re.search(r'<dl class="facts">(.*?)</dl>', page, flags=re.DOTALL)[1]
    told = [text.partition(" at ")[0] for text in re.findall(r"<dt>([^<]*)</dt>", facts)]
    assert told == [terms[key].term for key in ("end_volume_mL", "crystals_g", "yield_percent", "liquor_mL")]


FAULTS = [
    ({"salt": "nosuch"}, "salt", "a salt in the data"),
    ({"volume": "5"}, "volume", "the number needs a unit"),
    ({"cool": "500 °C"}, "cool", "outside the data"),
    ({"cool": ""}, "cool", "This is empty"),
    ({"holds": "200 g of NaCl"}, "holds", "of MgSO4 or one of its hydrates"),
    ({"mass": "500 g"}, "holds", "exactly two facts"),
    ({"risk": "7"}, "risk", "odds above 0 and below 100 %"),
    ({"to": "700 mL"}, "to", "no larger than the start"),
    ({"bed": "2"}, "bed", "a share of the volume"),
    ({"saw": "lovely"}, "saw", "one of clear, crop, thick, set"),
    ({"doubt_volume": "thermometer"}, "doubt_volume", "a share or an instrument: beaker mark"),
    ({"doubt_temperature": "5 %"}, "doubt_temperature", "a temperature difference"),
    ({"altitude": "800 m", "pressure": "94 kPa"}, "altitude", "only one of the two"),
    ({"pressure": "1 kPa"}, "pressure", "20 to 110 kPa"),
    ({"want": "50 g of NaCl"}, "want", "of MgSO4 or one of its hydrates"),
    ({"vessel": "big"}, "vessel", "a volume"),
    ({"stop": "wide"}, "to", "a number of mL"),
    ({"volume": "1e30 L"}, "volume", "between 0.01 mL and 10 000 L"),
    ({"salt": "x" * 500}, "salt", "at most 120 characters"),
]  # fmt: skip


@pytest.mark.parametrize(("texts", "key", "words"), FAULTS, ids=[f"{k}-{w[:12]}" for _, k, w in FAULTS])
def test_a_fault_stands_beside_its_field(ask, texts, key, words):
    faults = answer(ask, **texts)["faults"]
    assert list(faults) == [key]
    assert words in faults[key]
    assert "--" not in faults[key]
    page = ask("/?" + urlencode({**POT, **texts})).get_data(as_text=True)
    beside = re.search(rf'id="{key}-fault">([^<]*)<', page)[1]
    assert words in beside


def test_a_batch_file_comes_back_as_it_was_saved(ask):
    texts = {
        **POT, "stop": "150", "saw": "set", "title": 'a "second" try', "beside": "2 g of HNO3", "want": "40 g",
        "altitude": "800 m", "risk": "8 %", "doubt_volume": "measuring cylinder", "doubt_temperature": "2 K",
        "doubt_mass": "lab balance", "doubt_holds": "2 %", "doubt_curve": "0.3 %", "doubt_density": "1 %", "doubt_bed": "0.04",
    }  # fmt: skip
    saved = ask("/batch.toml?" + urlencode(texts))
    assert saved.headers["Content-Disposition"] == 'attachment; filename="batch.toml"'
    table = tomllib.loads(saved.get_data(as_text=True))
    assert table["reduce"]["to"] == "150 mL"
    assert table["seen"] == [{"outcome": "set"}]
    loaded = ask("/load", "POST", data={"file": (io.BytesIO(saved.data), "b.toml")})
    assert loaded.status_code == 303
    back = {key: values[0] for key, values in parse_qs(urlsplit(loaded.headers["Location"]).query).items()}
    assert back == {key: text for key, text in texts.items() if key != "stop"} | {"to": "150 mL"}


def test_a_file_with_reactions_becomes_the_pot_that_they_make(ask):
    written = b"""
[made]
[[made.step]]
equation = "MgO + H2SO4 -> MgSO4 + H2O"
use = ["MgO=33 g", "H2SO4=500 g of 16 % w/w"]
[cool]
to = "5 degC"
"""
    loaded = ask("/load", "POST", data={"file": (io.BytesIO(written), "b.toml")})
    assert loaded.status_code == 303
    shown = ask("/answer?" + urlsplit(loaded.headers["Location"]).query).json
    assert not shown["faults"]
    assert "MgSO₄·7H₂O" in shown["html"]
    texts = parse_qs(urlsplit(loaded.headers["Location"]).query)
    assert re.fullmatch(r"\d+\.\d{1,6} g of MgSO4", texts["holds"][0])
    page = ask(loaded.headers["Location"]).get_data(as_text=True)
    assert "The file tells of the reactions behind the pot" in page


@pytest.mark.parametrize(
    ("written", "words"),
    [(b"salt = ", "not TOML"), (b"\xff\xfe", "UTF-8"), (b'salt = "MgSO4"\nsugar = 1', "unknown key"), (b"", "salt")],
)  # fmt: skip
def test_a_file_at_fault_is_told_so(ask, written, words):
    reply = ask("/load", "POST", data={"file": (io.BytesIO(written), "b.toml")})
    assert reply.status_code == 422
    assert words in re.search(r'id="file-fault">([^<]*)<', reply.get_data(as_text=True))[1]


def test_what_the_page_leaves_aside_of_a_file_is_said(ask):
    written = b"""
salt = "MgSO4"
[start]
holds = "200 g of MgSO4.7H2O"
volume = "500 mL"
[cool]
to = "5 degC"
[harvest]
wash = "20 mL"
[[crop]]
to = "190 mL"
[[seen]]
outcome = "crop"
crystals = "90 g"
"""
    loaded = ask("/load", "POST", data={"file": (io.BytesIO(written), "b.toml")})
    query = urlsplit(loaded.headers["Location"]).query
    assert parse_qs(query)["left"] == ["harvest,crop,seen"]
    page = ask("/?" + query).get_data(as_text=True)
    assert "harvesting, further crops and more that was seen than one outcome too" in page
    assert "left aside" not in ask("/?left=%3Cb%3E,nonsense").get_data(as_text=True)
    assert 'name="left" value="harvest,crop,seen"' in page


def test_a_number_stays_on_one_line_with_its_unit(ask):
    html = ask("/answer?" + urlencode(POT)).json["html"]
    prose = re.sub(r"<svg.*?</svg>|<[^>]+>", " ", html, flags=re.DOTALL)
    assert "at 5\xa0°C" in prose
    assert re.findall(r"\d (?:mass %|%|g|mL|°C|g/mL)(?!\w)", prose) == []


ZINC = {"salt": "ZnSO4", "holds": "200 g of ZnSO4.7H2O", "volume": "400 mL", "cool": "5 °C"}


@pytest.mark.parametrize("stop", ["100", "180", "300"])
def test_names_of_the_fields_keep_off_the_way_of_the_batch(ask, stop):
    html = answer(ask, **ZINC, stop=stop)["html"]
    svg = re.findall(r"<svg.*?</svg>", html, flags=re.DOTALL)[1]
    way = re.search(r'<polyline points="([^"]+)" class="way"/>', svg)[1].split()
    corners = [tuple(map(float, point.split(","))) for point in way]
    names = re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*class="title">([^<]+)<', svg)
    assert "clear" in [name for *_, name in names]
    for x, y, name in names:
        half = 4.0 * len(name)
        for (x1, y1), (x2, y2) in pairwise(corners):
            beside = max(x1, x2) < float(x) - half or min(x1, x2) > float(x) + half
            above_or_below = max(y1, y2) < float(y) - 12 or min(y1, y2) > float(y)
            assert beside or above_or_below, name


def test_no_mark_is_shown_for_a_pot_that_is_never_clear(ask):
    lithium = answer(ask, salt="Li2SO4", holds="55 g", volume="300 mL", cool="20 degC", stop="62")["html"]
    assert "no mark, solid stands in it wherever the data tell" in lithium
    assert "Hydrometer at" not in lithium
    assert "Hydrometer at" in answer(ask, stop="250")["html"]


def test_the_commands_that_the_page_names_take_the_file_it_saves(ask, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    page = ask("/?" + urlencode(POT)).get_data(as_text=True)
    named = re.findall(r"<code>crystal (\w+)</code>", page)
    assert {"log", "cool", "harvest", "crops", "keep", "sheet"} == set(named)
    (tmp_path / "batch.toml").write_bytes(ask("/batch.toml?" + urlencode({**POT, "to": "240 mL"})).data)
    more = {"log": ["outcome crop"], "sheet": ["-o", "sheet.html"]}
    for command in named:
        assert main([command, "batch.toml", *more.get(command, [])]) == 0, capsys.readouterr().err
    assert (tmp_path / "sheet.html").exists()


def test_a_pot_that_a_reaction_made_opens_on_the_page(ask, tmp_path):
    told = (
        "Li2CO3 + H2SO4 -> Li2SO4 + H2O + CO2",
        "--use",
        "Li2CO3=37 g",
        "--use",
        "H2SO4=246 g of 20 % w/w",
    )
    file = tmp_path / "made.toml"
    assert main(["react", *told, "--make-up-to", "300 mL", "--save", str(file)]) == 0
    reply = ask("/load", "POST", data={"file": (io.BytesIO(file.read_bytes()), "made.toml")})
    assert reply.status_code in (200, 302, 303)
    assert "Li2SO4" in (reply.headers.get("Location", "") + reply.get_data(as_text=True))
