"""One vocabulary: whatever key, title or label the program shows stands in the glossary, with the unit that it says."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
import shlex
from functools import cache
from html import unescape

import pytest

from crystal.data.catalogue import Catalogue
from crystal.data.glossary import QUANTITY, SHARES, Glossary, unit_of_key
from crystal.errors import InputError
from crystal.faces import api, figures, titles
from crystal.faces.api.tables import Result, _html_table, _text_table
from crystal.faces.batchfile import BatchFile
from crystal.faces.cli import heattexts, helptexts, main, mixtexts, oddstexts, outtexts, show
from crystal.faces.cli.commands import _ANSWERS, answer_of
from crystal.faces.cli.output import csv_writer, rendered
from crystal.faces.cli.parser import parse
from crystal.faces.sheet import charts, sheet_html

TERMS = Glossary.bundled().terms
HELP = {
    name: text
    for home in (helptexts, heattexts, outtexts, mixtexts, oddstexts)
    for name, text in home.COMMANDS.items()
}
POT = '--holds "200 g of MgSO4.7H2O" --start "500 mL"'
RUNS = [
    "salts vitriol",
    "card MgSO4",
    "card CuSO4 --beside H2SO4 --chart chart.png",
    "words crop",
    f'reduce MgSO4 {POT} --cool-to "5 degC" --want "100 g"',
    "reduce --batch batch.toml",
    'path CuSO4 --holds "120 g of CuSO4.5H2O" --start "400 mL" --cool-to "20 degC" --curve "old liquor" --curve-file l.toml',
    f'yield MgSO4 {POT} --reduce-to "40 %" --cool-to "20, 0 degC" --with "20 g of H2SO4"',
    f'path MgSO4 {POT} --reduce-to "190 mL" --cool-to "5 degC"',
    'separate "100 g of KCl" "60 g of NaCl" --water "300 g" --cool-to "5 degC" --most 2',
    'dilute --stock "37 % w/w H2SO4" --target "20 % w/w" --make "250 g"',
    'dilute --mix "100 mL of 31 % w/w HCl" --mix "200 mL of water"',
    'strength "42 Be US HNO3"',
    'strength "10 volumes H2O2"',
    'react "CuO + H2SO4 -> CuSO4 + H2O" --use "CuO=36 g" --use "H2SO4=250 g of 20 % w/w" --hydrate CuSO4.5H2O '
    '--lost "2 %" --make-up-to "400 mL" --then "CuSO4 + Zn -> ZnSO4 + Cu" --use "Zn=10 g"',
    'react "Zn + H2SO4 -> ZnSO4 + H2" --use "Zn=32.7 g" --use "H2SO4=500 g of 12 % w/w"',
    'assay CuSO4 --volume "400 mL" --density "1.18 g/mL at 20 degC" --dried "2.6 g of CuSO4.5H2O" --dried-from "10 mL"',
    f'marks MgSO4 {POT} --end "270 mL" --altitude "800 m" --tare "300 g"',
    'marks NaCl --reading "103.4 degC"',
    f'boil MgSO4 {POT} --end "270 mL" --power "300 W" --log log.csv',
    f'cool MgSO4 {POT} --end "270 mL" --cool-to "5 degC" --size "3 mm" --readings "0 min 90 degC; 20 min 75 degC" '
    '--surroundings "5 degC" --night "-3, 6 degC" --insulated-from "30 degC"',
    f'harvest MgSO4 {POT} --reduce-to "190 mL" --cool-to "5 degC" --wash "20 mL" --with "3 g of NaCl" --purity "99.9 %"',
    f'crops MgSO4 {POT} --cool-to "5 degC" --with "2 g of NaCl" --most 2',
    f'crops MgSO4 {POT} --cool-to "5 degC" --risk "5 %" --most 2',
    'keep MgSO4 --at "22 degC" --humidity "60 %"',
    'keep CaCl2 --at "22 degC" --dew-point "12 degC"',
    'log plain.toml "first crystals at 31 degC, 220 mL"',
    'log plain.toml "crystals 95 g dry"',
    'calibrate "old liquor" CuSO4 --point "31 degC = 18.5 % w/w" --point "45 degC = 22.9 % w/w"',
    "explain batch.toml",
]
BATCH = """title = "Too far"
salt = "MgSO4"
[start]
volume = "500 mL"
holds = "200 g of MgSO4.7H2O"
[reduce]
to = "150 mL"
[cool]
to = "5 degC"
"""
SEEN = """[[seen]]
first_crystals = "30 degC"
volume = "220 mL"
[[seen]]
outcome = "set solid"
"""
LOG = "time_min,volume_mL,temperature_degC\n0,500,95\n20,480,100\n40,450,101\n60,420,101\n80,392,101\n100,361,101.5\n"
BY_FORMULA = ("others_g", "undissolved_g")
"""Groups whose keys are formulas."""


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """Of every run: the command, its data, the titles of its tables, the headings of its CSV, its chart's labels."""
    folder = tmp_path_factory.mktemp("glossary")
    (folder / "batch.toml").write_text(BATCH + SEEN)
    (folder / "plain.toml").write_text(BATCH)
    (folder / "log.csv").write_text(LOG)
    found = []
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.delenv("CRYSTAL_DATA", raising=False)
        assert (
            main(["calibrate", "old liquor", "CuSO4", "--point", "31 degC = 18 % w/w", "--save", "l.toml"])
            == 0
        )
        drawn = []
        made = show.table

        def table(console, columns, rows, *args, **kwargs):
            drawn.extend(columns)
            made(console, columns, rows, *args, **kwargs)

        patch.setattr(show, "table", table)
        for run in RUNS:
            args = parse(shlex.split(run))
            drawn.clear()
            answer = answer_of(args)
            assert rendered(answer, False)
            labels = []
            if answer.chart is not None:
                for axes in answer.chart().axes:
                    labels += [axes.get_xlabel(), axes.get_ylabel()]
            headings = []
            if answer.rows is not None:
                csv_writer(answer.rows)(folder / "rows.csv")
                headings = (folder / "rows.csv").read_text().splitlines()[0].split(",")
            found.append(
                (args.command, answer.data, list(drawn), headings, [text for text in labels if text])
            )
    return found


def _keys(value, within):
    """Every key with the group that holds it and its value."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield within, key, inner
            if key not in BY_FORMULA:
                yield from _keys(inner, key)
    elif isinstance(value, list):
        for one in value:
            yield from _keys(one, within)


def test_every_command_that_answers_is_run(shown):
    assert {command for command, *_ in shown} == set(_ANSWERS)


def test_every_json_key_is_in_the_glossary(shown):
    keys = {(within, key) for command, data, *_ in shown for within, key, _ in _keys(data, command)}
    assert len(keys) > 400
    assert {one for one in keys if Glossary.bundled().find(one[1], one[0]) is None} == set()


def _told(command):
    """What the help of a command says of its keys, with the helps that it points to."""
    own = HELP[command].keys
    return "\n".join([own, *(HELP[other].keys for other in re.findall(r"'crystal ([a-z]+)", own))])


def test_every_json_key_is_told_by_the_help(shown):
    untold = set()
    for command, data, *_ in shown:
        told = set(re.findall(r"\w+", _told(command)))
        untold |= {
            (command, within, key) for within, key, _ in _keys(data, command) if key not in told | {"seen"}
        }
    assert {one for one in untold if one[1] != "seen"} == set()


@pytest.mark.parametrize("command", HELP)
def test_every_key_that_a_help_tells_is_in_the_glossary(command):
    named = set(re.findall(r"\b[a-z][a-z0-9]*(?:_[A-Za-z0-9]+)+\b", HELP[command].keys))
    assert named - {key.rpartition(".")[2] for key in TERMS} == set()


def test_numbers_are_quantities_or_counts(shown):
    wrong = set()
    for command, data, *_ in shown:
        for within, key, value in _keys(data, command):
            kind = Glossary.bundled().term(key, within).kind
            numbers = value if isinstance(value, list) else [value]
            if any(isinstance(one, float) for one in numbers) and kind != QUANTITY:
                wrong.add((within, key, kind))
            if any(isinstance(one, int) and not isinstance(one, bool) for one in numbers) and kind != "count":
                wrong.add((within, key, kind))
    assert wrong == set()


def test_words_that_a_key_may_hold_are_in_the_glossary(shown):
    no_word = (QUANTITY, "count", "text", "truth", "group", "fact")
    listed = {key.partition(".")[0] for key, term in TERMS.items() if term.kind not in no_word}
    listed |= {"outcome_seen", "outcome_expected"}
    assert {"outcome", "cause", "state", "zone", "verdict", "step", "method", "turn"} <= listed
    words = set()
    for command, data, *_ in shown:
        for within, key, value in _keys(data, command):
            if key in listed and isinstance(value, str) and (command, within) != ("words", "words"):
                words.add((key.removesuffix("_seen").removesuffix("_expected"), value))
    assert len(words) > 30
    assert {word for word in words if ".".join(word) not in TERMS} == set()


def test_every_csv_heading_is_in_the_glossary(shown):
    headings = {(command, text) for command, _, _, found, _ in shown for text in found}
    assert len(headings) > 60
    assert {(c, text) for c, text in headings if Glossary.bundled().find(text, c) is None} == set()


@cache
def _titles(how):
    """What a title may be: a term's own, that of a share in per cent, that of one substance, each with a note."""
    patterns = []
    for term in TERMS.values():
        for one in (term, term.as_percent()) if term.unit in SHARES else (term,):
            for form in {one, one.named("FORMULA")}:
                for text in how(form):
                    pattern = re.escape(" ".join(text.split()))
                    pattern = pattern.replace("FORMULA", r"[A-Z(][\w()₀-₉·.]*").replace(
                        "NOTE", r"(?:read )?at -?\S+ °C"
                    )
                    patterns.append(pattern)
    return re.compile("|".join(f"(?:{pattern})" for pattern in patterns))


def _columns(term):
    return term.column(), term.column("NOTE"), term.column(bare=True)


def _axes(term):
    return term.title(), term.title("NOTE")


def test_every_column_title_is_in_the_glossary(shown):
    found = {
        (command, " ".join(text.split())) for command, _, columns, *_ in shown for text in columns if text
    }
    assert len(found) > 80
    assert {(c, text) for c, text in found if not _titles(_columns).fullmatch(text)} == set()


def test_every_axis_label_is_in_the_glossary(shown):
    found = {(command, text) for command, *_, labels in shown for text in labels}
    assert len(found) >= 15
    assert {(c, text) for c, text in found if not _titles(_axes).fullmatch(text)} == set()


def test_every_figure_is_looked_at(shown):
    charts = set()
    for module in pkgutil.iter_modules(figures.__path__):
        home = importlib.import_module(f"crystal.faces.figures.{module.name}")
        charts |= {
            name
            for name, value in vars(home).items()
            if inspect.isfunction(value) and re.fullmatch(r"[a-z]\w*_chart", name)
        }
    by_command = {
        "card": 2,
        "reduce": 1,
        "yield": 1,
        "path": 1,
        "separate": 1,
        "boil": 1,
        "cool": 1,
        "crops": 1,
        "keep": 1,
    }
    drawn = {command for command, *_, labels in shown if labels}
    assert drawn == set(by_command)
    assert len(charts) == sum(by_command.values())


@pytest.mark.parametrize("text", ["Salt (mass %)", "Solubility (g/100 g)", "Start (mL)", "Crystals (kg)"])
def test_labels_without_basis_or_with_another_unit_are_not_in_the_glossary(text):
    assert not _titles(_axes).fullmatch(text)


@pytest.mark.parametrize(
    "key", [key for key, term in TERMS.items() if term.unit or term.kind in (QUANTITY, "count")]
)
def test_unit_of_the_key_is_that_of_the_glossary(key):
    term, last = TERMS[key], key.rpartition(".")[2]
    told = unit_of_key(last)
    if last.startswith("specific_gravity"):  # the temperatures at its end are those of the two densities
        assert term.unit == "1"
    elif term.kind == "count":
        assert (told, term.unit) == (None, "")
    elif last.endswith("_fraction"):
        assert term.unit in SHARES
    elif told == "mass %":
        assert re.fullmatch(r"mass % of (salt \+ water|liquor|solution|whole pot)", term.unit)
    elif told is not None:
        assert term.unit == told
    elif key.startswith("crop_g."):
        assert term.unit == unit_of_key("crop_g")
    else:
        assert term.unit in (*SHARES, "L/L", "g")
        assert term.unit != "g" or key in ("solids_while_hot",)


def test_titles_name_what_a_share_or_a_strength_is_of():
    for term in TERMS.values():
        title = term.title()
        assert "mass %)" not in title
        assert "g/100 g" not in title or "water" in title


def test_one_title_means_one_thing():
    for say in (lambda term: term.title().lower(), lambda term: term.inline.lower()):
        by_title = {}
        for term in TERMS.values():
            if term.kind == QUANTITY:
                by_title.setdefault(say(term), set()).add(term.basis)
        assert {title: bases for title, bases in by_title.items() if len(bases) > 1} == {}


def _results():
    for module in pkgutil.iter_modules(api.__path__):
        importlib.import_module(f"crystal.faces.api.{module.name}")
    kinds = [kind for base in Result.__subclasses__() for kind in (base, *base.__subclasses__())]
    return {kind.__name__: kind.columns for kind in kinds if kind.columns}


def test_columns_of_the_python_interface_are_in_the_glossary():
    keys = {column.key for columns in _results().values() for column in columns}
    assert len(keys) > 35
    assert {key for key in keys if Glossary.bundled().find(key) is None} == set()


def _one_line(term):
    return (term.inline,)


def _bare(term):
    return (term.heading,)


@pytest.mark.parametrize("name", _results())
def test_titles_that_a_result_shows_are_in_the_glossary(name):
    columns = _results()[name]
    row = {column.key: None for column in columns}
    heads = re.findall(r"<th [^>]*>([^<]*)</th>", _html_table(columns, [row]))
    assert len(heads) == len(columns)
    for column, text in zip(columns, heads, strict=True):
        assert _titles(_bare if column.bare else _one_line).fullmatch(unescape(text)), text
    lines = _text_table(columns, [row])
    assert sorted(" ".join(lines[:-1]).split()) == sorted(" ".join(map(unescape, heads)).split())


def test_labels_and_log_of_the_bench_sheet_are_in_the_glossary(tmp_path):
    (tmp_path / "batch.toml").write_text(BATCH.replace("150 mL", "250 mL"))
    catalogue = Catalogue.bundled()
    labels = []
    with pytest.MonkeyPatch.context() as patch:
        set_labels = charts.set_labels
        patch.setattr(
            charts, "set_labels", lambda plot, x, y: (labels.extend((x, y)), set_labels(plot, x, y))
        )
        html = sheet_html(BatchFile.read(tmp_path / "batch.toml").batch(catalogue), catalogue)
    assert len(labels) == 4
    assert {text for text in labels if not _titles(_axes).fullmatch(text)} == set()
    log = re.findall(r"<th [^>]*>([^<]*)</th>", html[html.rindex("<h2>Log</h2>") :])
    assert len(log) == 6
    assert {text for text in log if not _titles(_one_line).fullmatch(text)} == {"time", "seen, done"}
    assert Glossary.bundled().term("time_h").heading == log[0]  # of the clock or counted, as the person likes
    cooling = html[html.index("<h2>Cooling</h2>") : html.index("<svg")]
    rows = [re.search(r">([^<]*)</t[hd]>", row)[1] for row in re.findall(r"<tr>(.*?)</tr>", cooling)]
    assert len(rows) == 4
    assert {text for text in rows if not _titles(_one_line).fullmatch(text.removeprefix("was "))} == set()


def test_a_word_that_is_not_there_is_refused_with_the_nearest():
    with pytest.raises(InputError, match=r"WORD: got 'slury'.*close matches: slurry"):
        Glossary.bundled().search("slury")


def test_a_key_that_is_not_there_is_a_fault_of_the_program():
    with pytest.raises(KeyError, match="no_such_key"):
        titles.axis("no_such_key")
    with pytest.raises(ValueError, match="no share"):
        titles.axis("crystals_g", percent=True)


def test_words_prints_what_a_key_counts(crystal):
    ran = crystal("words", "liquor_mass_percent")
    assert "anhydrous salt per mass of the whole liquor" in ran.out
    assert "mass % of liquor" in ran.out
    (entry,) = crystal("words", "liquor_mass_percent", "--json").json
    assert entry["unit"] == "mass % of liquor"
    assert len(crystal("words", "--json").json) == len(TERMS)
    assert crystal("words", "no such word at all").code == 2
