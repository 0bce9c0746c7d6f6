"""Faults that drawn input has found, each as a plain case."""

from __future__ import annotations

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
