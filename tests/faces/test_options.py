"""The same thing is asked for by the same word in every command."""

from __future__ import annotations

import pytest

from crystal.faces.cli.parser import _build

POT = ("MgSO4", "--holds", "200 g of MgSO4.7H2O", "--start", "500 mL")
REDUCED = {
    "marks": (),
    "boil": ("--power", "300 W"),
    "cool": ("--cool-to", "5 degC"),
    "yield": ("--cool-to", "5 degC"),
    "path": ("--cool-to", "5 degC"),
    "harvest": ("--cool-to", "5 degC"),
}


def _options():
    """Every option with the commands that have it, and the kind of value that it takes there."""
    found: dict[str, dict[str, object]] = {}
    for name, parser in _build()[1].items():
        for action in parser._actions:
            for option in action.option_strings:
                found.setdefault(option, {})[name] = action.metavar
    return found


def test_an_option_takes_the_same_kind_of_value_in_every_command():
    options = _options()
    assert len(options["--cool-to"]) >= 6
    assert {o: by for o, by in options.items() if len(set(by.values())) > 1} == {}


def test_every_command_that_reduces_takes_both_names_of_its_end():
    options = _options()
    assert set(options["--reduce-to"]) == set(options["--end"]) == set(options["--remove"]) == set(REDUCED)


def test_where_volumes_are_read_is_asked_by_one_word():
    assert {"assay", "dilute", "react", "marks", "reduce", "yield"} <= set(_options()["--read-at"])
    assert set(_options()["--at"]) == {"card", "keep", "strength"}


@pytest.mark.parametrize("command", REDUCED)
def test_the_end_of_reducing_means_the_same_under_either_name(crystal, command):
    told = [
        crystal(command, *POT, option, size, *REDUCED[command], "--json").json
        for option, size in (("--reduce-to", "270 mL"), ("--end", "270 mL"))
    ]
    assert told[0] == told[1]
    other = crystal(command, *POT, "--reduce-to", "260 mL", *REDUCED[command], "--json").json
    assert other != told[0]


def test_an_error_names_the_end_as_it_was_given(crystal):
    for option in ("--reduce-to", "--end"):
        ran = crystal("yield", *POT, option, "900 mL", "--cool-to", "5 degC")
        assert ran.code == 2
        assert ran.err.startswith(f"crystal: {option}: got '900 mL'; it must be no larger than the start")


def test_both_names_at_once_are_refused(crystal):
    ran = crystal("marks", *POT, "--end", "270 mL", "--reduce-to", "260 mL")
    assert ran.code == 2
    assert "--reduce-to is given beside --end, which means the same" in ran.err
