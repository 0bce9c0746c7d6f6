"""The bench sheet: what stands on it is the engine's, nothing comes from outside, and nothing of the batch is markup."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from html.parser import HTMLParser

import pytest

from crystal.bench.forecast import percent as percent_of
from crystal.bench.harvest import Harvest
from crystal.bench.marks import Marks
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile
from crystal.faces.sheet import sheet_html
from crystal.faces.words import grams, millilitres, outcome_word, prose, short_cautions, three

BATCHES = {
    "MgSO4": 'salt="MgSO4"\n[start]\nvolume="400 mL"\nholds="160 g of MgSO4.7H2O"\nvessel="600 mL"\n[cool]\nto="8 degC"',
    "KNO3": 'salt="KNO3"\n[start]\nwater="300 g"\nholds="120 g"\n[reduce]\nto="160 mL"\n[cool]\nto="5 degC"',
    "CuSO4": 'salt="CuSO4"\n[start]\nvolume="400 mL"\nholds="120 g of CuSO4.5H2O"\n[cool]\nto="5 degC"',
    "NaCl": 'salt="NaCl"\n[start]\nwater="300 g"\nholds="60 g"\n[reduce]\nto="120 mL"\n[cool]\nto="5 degC"',
}
DOUBTED = {
    "beside": 'salt="CuSO4"\n[start]\nvolume="400 mL"\nholds="120 g of CuSO4.5H2O"\nwith=["6 g of H2SO4"]\n[cool]\nto="8 degC"\n'
    '[doubt]\nvolume="measuring cylinder"\ntemperature="thermometer"\nrisk="10 %"',
    "seen": 'salt="MgSO4"\n[start]\nvolume="500 mL"\nholds="200 g of MgSO4.7H2O"\n[reduce]\nto="190 mL"\n[cool]\nto="5 degC"\n'
    '[[seen]]\noutcome="set solid"',
    "alum": 'salt="potash alum"\n[start]\nvolume="800 mL"\nholds="80 g of KAl(SO4)2.12H2O"\n[cool]\nto="10 degC"\n[doubt]\nholds="8 %"',
}  # fmt: skip
"""Batches with doubts, a risk, others in the pot, something seen."""

SECTIONS = ("End marks", "Cooling", "Harvest", "Mind", "Cautions", "Log")
VOID = {"meta", "br", "link", "img", "input"}


class Reader(HTMLParser):
    """Text, tags and attributes, with every tag held to be closed in order."""

    def __init__(self) -> None:
        super().__init__()
        self.tags, self.open, self.text, self.attributes = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, *one) for one in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, *one) for one in attrs]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open[-1:]:
            self.text.append(data.replace("\xa0", " "))  # a number is kept on one line with its unit


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def catalogue():
    return Catalogue.bundled()


@pytest.fixture
def batch_of(tmp_path, catalogue):
    def made(text: str):
        file = tmp_path / "b.toml"
        file.write_text(text, encoding="utf-8")
        return BatchFile.read(file).batch(catalogue)

    return made


@pytest.mark.parametrize("salt", BATCHES)
def test_every_part_stands_on_the_page(salt, batch_of, catalogue):
    html = sheet_html(batch_of(BATCHES[salt]), catalogue)
    page = read(html)
    text = " ".join("".join(page.text).split())
    assert [name for name in SECTIONS if name not in text] == []
    assert page.tags.count("svg") == 2
    assert html.count('class="box"') >= 5
    assert [
        line for line in short_cautions(catalogue.find(salt)) if line.replace(" degC", " °C") not in text
    ] == []
    assert f"data edition {catalogue.edition}" in text
    assert "Handbook" in text
    assert page.tags.count("tr") >= 5


@pytest.mark.parametrize("salt", BATCHES)
def test_nothing_is_asked_for_from_outside(salt, batch_of, catalogue):
    html = sheet_html(batch_of(BATCHES[salt]), catalogue)
    page = read(html)
    assert not {"script", "img", "link", "iframe", "object", "base"} & set(page.tags)
    fetching = [
        (tag, name, value) for tag, name, value in page.attributes if name in ("src", "href", "xlink:href")
    ]
    assert fetching
    assert all(value.startswith("#") for _, _, value in fetching)
    assert not re.search(r"@import|url\((?!#)", html)
    ids = [value for _, name, value in page.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    assert {value[1:] for _, _, value in fetching} <= set(ids)
    assert set(re.findall(r"url\(#([^)]*)\)", html)) <= set(ids)


def test_numbers_are_those_of_the_bench(batch_of, catalogue):
    batch = batch_of(BATCHES["KNO3"])
    text = "".join(read(sheet_html(batch, catalogue)).text)
    marks = Marks.of(batch.start, batch.end.water_g)
    harvest = Harvest.of(batch.end, 5.0)
    assert f"Stop at {three(batch.end.volume_mL())} mL" in text
    assert f"{marks.liquid.density_g_mL:.3f} g/mL" in text
    assert f"{marks.boiling_C:.1f} °C" in text
    assert grams(harvest.liquor.mass_g) in text
    assert grams(float(harvest.cooled.crystals_g)) in text
    assert "The batch's own end point" in text


def test_without_an_end_point_the_advised_one_is_taken(batch_of, catalogue):
    assert "The advised end point" in sheet_html(batch_of(BATCHES["MgSO4"]), catalogue)


@pytest.mark.parametrize("batch", DOUBTED)
def test_the_advice_is_that_of_reduce(batch, crystal, tmp_path):
    (tmp_path / "batch.toml").write_text(DOUBTED[batch], encoding="utf-8")
    assert crystal("sheet", "batch.toml", "-o", "out.html").code == 0
    text = " ".join("".join(read((tmp_path / "out.html").read_text(encoding="utf-8")).text).split())
    told = json.loads(crystal("reduce", "--batch", "batch.toml", "--json").out)
    advice = told["advice"]
    own = 'to="' in DOUBTED[batch].split("[cool]")[0]
    stop = (
        f"advised is {millilitres(advice['end_volume_mL'])}"
        if own
        else f"Stop at {millilitres(advice['end_volume_mL'])}"
    )
    assert stop in text
    assert prose(advice["reason"]) in text
    row = next((row for row in told["ends"] if own and row["end_volume_mL"] == pytest.approx(190.0)), None)
    odds = (row or advice)["odds"]
    assert (
        f"Odds there: {', '.join(f'{outcome_word(word)} {percent_of(share)}' for word, share in odds.items())}."
        in text
    )
    assert " --" not in text


def test_an_end_point_that_does_not_pour_is_said_so(batch_of, catalogue):
    text = BATCHES["MgSO4"] + '\n[reduce]\nto="115 mL"'
    assert "does not pour off" in sheet_html(batch_of(text), catalogue)
    assert "Take care" not in sheet_html(batch_of(BATCHES["MgSO4"]), catalogue)


def test_a_title_is_text_not_markup(batch_of, catalogue):
    html = sheet_html(
        batch_of('title="</title><script>alert(1)</script><b id=x>"\n' + BATCHES["KNO3"]), catalogue
    )
    assert "<script>" not in html
    assert html.count("&lt;script&gt;alert(1)") == 2
    read(html)


def test_the_same_batch_gives_the_same_page(batch_of, catalogue):
    batch = batch_of(BATCHES["CuSO4"])
    assert sheet_html(batch, catalogue) == sheet_html(batch, catalogue)


def test_without_any_crop_nothing_is_written(batch_of, catalogue):
    dry = 'salt="NaCl"\n[start]\nmass="300 g"\nstrength="96 % w/w"\n[cool]\nto="5 degC"'
    with pytest.raises(InputError, match=r"the end of reducing: .*none can be advised"):
        sheet_html(batch_of(dry), catalogue)


CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.mark.skipif(CHROMIUM is None and not os.environ.get("CI"), reason="no chromium here to print with")
@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("name", ["MgSO4", "KNO3", "CuSO4", "beside", "seen"])
def test_it_prints_on_one_page(name, paper, batch_of, catalogue, tmp_path):
    batch = batch_of({**BATCHES, **DOUBTED}[name])
    (tmp_path / "sheet.html").write_text(sheet_html(batch, catalogue, paper=paper), encoding="utf-8")
    words = [
        CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
        f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={tmp_path / 'sheet.pdf'}",
        (tmp_path / "sheet.html").as_uri(),
    ]  # fmt: skip
    subprocess.run(words, check=True, capture_output=True, timeout=120)
    assert re.findall(rb"/Count (\d+)", (tmp_path / "sheet.pdf").read_bytes()) == [b"1"]


def test_the_command_writes_it(crystal, tmp_path):
    (tmp_path / "batch.toml").write_text(BATCHES["KNO3"], encoding="utf-8")
    ran = crystal("sheet", "batch.toml", "-o", "out.html", "--paper", "letter")
    assert (ran.code, ran.err) == (0, "")
    assert "Written: out.html" in ran.out
    assert "size: letter" in (tmp_path / "out.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["no.toml"], "the batch file"),
        (["batch.toml", "-o", "sheet.pdf"], "--output"),
        (["batch.toml", "-o", "no/such/sheet.html"], "--output"),
        (["warm.toml"], "cool.to"),
        (["batch.toml", "--paper", "napkin"], "--paper"),
    ],
)
def test_faults_write_nothing(words, says, crystal, tmp_path):
    (tmp_path / "batch.toml").write_text(BATCHES["KNO3"], encoding="utf-8")
    (tmp_path / "warm.toml").write_text(BATCHES["KNO3"].split("[cool]")[0], encoding="utf-8")
    ran = crystal("sheet", *words)
    assert ran.code == 2
    assert says in ran.err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["batch.toml", "warm.toml"]
