"""Faults that drawn input has found, each as a plain case."""

from __future__ import annotations

import csv

import pytest
from running import Expected, Ran, check, folder_with, run


def ran(*words: str, named: str = "", **files: str) -> Ran:
    """One command beside files whose names are given with '_' for '.'."""
    with folder_with({name.replace("_", "."): text.encode() for name, text in files.items()}) as folder:
        found = run(words, folder)
    check(found, Expected(named=(named,)))
    return found


@pytest.mark.parametrize("package", [b"{", b"[]", b"{}", b"null", b"\xff"])
def test_a_package_file_that_is_none_is_named(package: bytes) -> None:
    files = {
        "own/datapackage.json": package,
        "own/sources.csv": b"key,citation\nBench,Own bench\n",
    }
    with folder_with(files) as folder:
        found = run(("salts", "--data", "own"), folder)
        assert found.code == 2
        check(found, Expected(named=("datapackage.json",)))


def test_keep_names_the_batch_file_that_lacks_a_salt() -> None:
    assert ran("keep", "--batch", "b.toml", named="b.toml", b_toml='[keep]\nhumidity = "50 %"\n').code == 2


def test_keep_takes_the_salt_that_a_batch_file_makes() -> None:
    made = """[[made.step]]
    equation = "CuO + H2SO4 -> CuSO4 + H2O"
    use = ["CuO=36 g", "H2SO4=250 g of 20 % w/w"]
    [keep]
    humidity = "50 %"
    """
    found = ran("keep", "--batch", "b.toml", b_toml=made)
    assert found.code == 0
    assert "CuSO4.5H2O" in found.out


@pytest.mark.parametrize("words", [("salts", "vitriol", ""), ("marks", "MgSO4", "", " ")])
def test_an_empty_word_too_many_is_refused(words: tuple[str, ...]) -> None:
    assert ran(*words, named="is not understood").code == 2


LONG = "9" * 400
EPSOM = ("MgSO4", "--holds", "200 g of MgSO4.7H2O", "--start", "500 mL", "--cool-to", "5 degC")


@pytest.mark.parametrize(
    "words",
    [
        ("path", *EPSOM, "--chart", f"{LONG}.png"),
        ("salts", "--csv", f"{LONG}.csv"),
        ("salts", "--data", LONG),
        ("demo", "--folder", LONG),
        ("sheet", "b.toml", "-o", f"{LONG}.html"),
        ("calibrate", "x", "MgSO4", "--point", "20 degC = 25 % w/w", "--save", f"{LONG}.toml"),
    ],
    ids=lambda words: words[0],
)
def test_a_name_longer_than_the_system_takes_is_refused(words: tuple[str, ...]) -> None:
    assert ran(*words, named=LONG).code == 2


def test_a_path_that_no_file_can_have_is_refused() -> None:
    batch = 'salt = "MgSO4"\n[start]\nvolume = "500 mL"\nholds = "200 g"\n[curve]\nfile = "a\\u0000b"\n'
    assert ran("explain", "b.toml", named="b.toml: curve.file", b_toml=batch).code == 2


@pytest.mark.parametrize(
    "words", [("explain", "b.toml"), ("log", "b.toml", "outcome set")], ids=["explain", "log"]
)
def test_a_number_of_thousands_of_digits_is_refused(words: tuple[str, ...]) -> None:
    assert ran(*words, named="b.toml", b_toml=f"salt = {'9' * 5000}\n").code == 2


def test_a_curve_file_with_such_a_number_is_refused() -> None:
    assert (
        ran("path", *EPSOM, "--curve-file", "c.toml", named="c.toml", c_toml=f"x = {'9' * 5000}\n").code == 2
    )


@pytest.mark.parametrize(
    ("log", "named"),
    [
        (f"time_h,volume_mL\n0,{'5' * 200_000}\n1,400\n", "log.csv, line"),
        ("time_h,volume_mL\n0,5\r00\n1,400\n", "log.csv, line"),
    ],
    ids=["a cell without end", "a line end in a cell"],
)
def test_a_log_that_is_no_csv_is_named_by_its_line(log: str, named: str) -> None:
    assert ran("boil", *EPSOM[:-2], "--end", "40 %", "--log", "log.csv", named=named, log_csv=log).code == 2


def test_a_log_with_the_line_ends_of_old_spreadsheets_is_read() -> None:
    log = "time_h,volume_mL\r0,500\r1,400\r2,310\r"
    assert ran("boil", *EPSOM[:-2], "--end", "40 %", "--log", "log.csv", log_csv=log).code == 0


def test_an_end_that_is_the_start_is_named_as_it_was_given() -> None:
    assert ran("boil", *EPSOM[:-2], "--reduce-to", "100 %", named="--reduce-to: got '100 %'").code == 2
    batch = 'salt = "MgSO4"\n[start]\nvolume = "500 mL"\nholds = "200 g"\n[reduce]\nto = "100 %"\n'
    assert ran("boil", "--batch", "b.toml", named="reduce.to: got '100 %'", b_toml=batch).code == 2


@pytest.mark.parametrize(
    "words", [("boil", "--log", "long.csv"), ("reduce", "--data", "long.csv", "--cool-to", "5 degC")]
)
def test_a_cell_of_any_length_is_named_in_short(words: tuple[str, ...]) -> None:
    """Other libraries raise the limit on the length of a cell for the whole process."""
    limit = csv.field_size_limit(10_000_000)
    long = f"{'5' * 200_000}\n"
    heads = {
        "boil": "time_h,volume_mL\n0,",
        "reduce": "system,phase,temperature_C,mass_percent\nRbBrO3,RbBrO3,20,",
    }
    more = ("--end", "40 %") if words[0] == "boil" else ()
    try:
        found = ran(
            words[0],
            *EPSOM[:-2],
            *words[1:],
            *more,
            named="long.csv, line 2",
            long_csv=heads[words[0]] + long,
        )
    finally:
        csv.field_size_limit(limit)
    assert found.code == 2
