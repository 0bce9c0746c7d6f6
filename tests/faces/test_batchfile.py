"""Batch files: read into numbers, and refused with the file and the key."""

from __future__ import annotations

import re

import pytest
from numpy.testing import assert_allclose

from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile

WHOLE = """
title = "All keys"
salt = "Epsom salt"
[start]
volume = "0.5 L"
at = "68 F"
holds = "200 g of MgSO4.7H2O"
vessel = "800 mL"
[reduce]
to = "30 %"
read_at = "25 degC"
boil_at = "90 degC"
bed = 0.4
[cool]
to = "5 degC"
[[seen]]
outcome = "crop"
at = "12 degC"
first_crystals = "31 degC"
[[seen]]
outcome = "set solid"
crystals = "4 oz"
weighed = "wet"
solid = "MgSO4·7H2O"
at = "7 degC"
"""
LEAST = """salt = "MgSO4"
[start]
volume = "500 mL"
holds = "200 g of MgSO4.7H2O"
"""


def _file(tmp_path, text):
    file = tmp_path / "batch.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_every_key_is_read(tmp_path):
    batch = BatchFile.read(_file(tmp_path, WHOLE)).batch(Catalogue.bundled())
    assert batch.title == "All keys"
    assert batch.start.model.salt.formula == "MgSO4"
    assert batch.start.read_at_C == 20.0
    assert_allclose(batch.start.volume_mL(), 500.0, rtol=1e-9)
    assert_allclose(batch.end.volume_mL(25.0), 150.0, rtol=1e-9)
    assert (batch.read_at_C, batch.boil_at_C, batch.cool_to_C) == (25.0, 90.0, 5.0)
    assert (batch.bed, batch.vessel_mL) == (0.4, 800.0)
    first, last = batch.seen
    assert (first.outcome, first.temperature_C, first.first_crystals_C) == ("crop", 12.0, 31.0)
    assert (last.outcome, last.wet, last.solid, last.temperature_C) == ("set", True, "MgSO4.7H2O", 7.0)
    assert_allclose(last.crystals_g, 4 * 28.349523125, rtol=1e-12)


def test_the_least_file_is_a_pot_alone(tmp_path):
    batch = BatchFile.read(_file(tmp_path, LEAST)).batch(Catalogue.bundled())
    assert batch.end_water_g is None
    assert batch.cool_to_C is None
    assert batch.seen == ()
    assert batch.end is batch.start


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("salt = MgSO4", r"batch\.toml: got text that is not TOML.*line 1, column 8"),
        ('salt = "MgSO4"\n[start\n', r"batch\.toml.*line 2, column"),
        (LEAST + "[cool]\ntoo = '5 degC'", r"batch\.toml: cool\.too: got an unknown key.*close matches: to"),
        (LEAST + "[colo]\nto = '5 degC'", r"batch\.toml: colo: got an unknown key.*close matches: cool"),
        ("sault = 'MgSO4'", r"batch\.toml: sault: .*close matches: salt"),
        (LEAST + "[cool]\nto = 5", r"batch\.toml: cool\.to: got 5.*text in quotes.*5 degC"),
        (LEAST + "[cool]\nto = '5 mL'", r"batch\.toml: cool\.to: got '5 mL'.*temperature"),
        ("salt = 7", r"batch\.toml: salt: got 7.*text in quotes"),
        (LEAST + "[reduce]\nbed = true", r"batch\.toml: reduce\.bed: got True"),
        (LEAST + "[reduce]\nbed = 2", r"batch\.toml: reduce\.bed: got '2'.*0\.55"),
        (LEAST + "[reduce]\nto = '900 mL'", r"batch\.toml: reduce\.to: got '900 mL'.*no larger than the start"),
        (LEAST + "[reduce]\nto = '90 mL'\nremove = '3 g'", r"reduce\.to and .*reduce\.remove: got both"),
        ("start = 4\nsalt = 'MgSO4'", r"batch\.toml: start: got 4.*headed \[start\]"),
        (LEAST + "[seen]\noutcome = 'crop'", r"batch\.toml: seen: got .*headed \[\[seen\]\]"),
        (LEAST + "[[seen]]\noutcome = 'solid'", r"batch\.toml: seen\.outcome: got 'solid'.*clear, crop, thick, set"),
        (LEAST + "[[seen]]\nweighed = 'damp'", r"seen\.weighed: got 'damp'.*wet, dry"),
        (LEAST + "[[seen]]\nsolid = 'NaCl'", r"seen\.solid: got 'NaCl'.*not of NaCl"),
        (LEAST + "[[seen]]\nsolid = '??'", r"seen\.solid: got '\?\?'"),
        (LEAST + "[[seen]]\n[[seen]]\ncolour = 'blue'", r"seen 2\.colour: got an unknown key"),
        ("[start]\nvolume = '500 mL'", r"batch\.toml: salt: got nothing"),
        ("salt = 'MgSO4'", r"the pot: got nothing"),
        (LEAST.replace("500 mL", "-500 mL"), r"batch\.toml: start\.volume: got '-500 mL'"),
        (LEAST + "mass = '600 g'", r"the pot: got batch.*start\.holds and .*start\.volume and .*start\.mass"),
        (LEAST.replace("MgSO4.7H2O", "CuSO4.5H2O"), r"batch\.toml: start\.holds: .*not of CuSO4"),
    ],
)  # fmt: skip
def test_a_fault_names_the_file_and_the_key(tmp_path, monkeypatch, text, message):
    monkeypatch.chdir(tmp_path)
    _file(tmp_path, text)
    with pytest.raises(InputError, match=message):
        BatchFile.read("batch.toml").batch(Catalogue.bundled())


def test_bytes_that_are_no_text(tmp_path):
    file = tmp_path / "batch.toml"
    file.write_bytes(b'salt = "\xff"')
    with pytest.raises(InputError, match="UTF-8"):
        BatchFile.read(file)


def test_a_folder_is_no_batch_file(tmp_path):
    with pytest.raises(InputError, match=re.escape(str(tmp_path))):
        BatchFile.read(tmp_path)


def test_the_file_is_left_as_it_was(tmp_path):
    file = _file(tmp_path, WHOLE)
    BatchFile.read(file).batch(Catalogue.bundled())
    assert file.read_text(encoding="utf-8") == WHOLE
