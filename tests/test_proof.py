"""The table of proof in the README is what its script works out; the slow rows are there, and are named here as not worked out."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent / "bench"))

import proof


def test_quick_rows_of_the_readme_are_what_the_script_gives() -> None:
    slow = [line for part in proof.SLOW for line in proof.written_slow(part)]
    assert [line for line in proof.written() if line not in slow] == proof.quick_lines()


@pytest.mark.parametrize("part", proof.SLOW)
def test_slow_rows_are_there_with_their_numbers_and_aims(part: str) -> None:
    """Odds, times and the suite are measured by ``proof.py --slow``, not here."""
    lines = proof.written_slow(part)
    assert lines
    for line in lines:
        _, n, found, aim = line.strip("| ").split(" | ")
        assert found
        assert re.search(r"\d", n), line
        assert re.search(r"\d", aim), line


def test_errors_of_the_curves_by_salt_are_what_the_script_gives() -> None:
    assert proof.ERRORS.read_text(encoding="utf-8") == proof.errors_csv()
