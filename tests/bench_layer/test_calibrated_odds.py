"""A small part of `tests/bench/calibration.py`: told odds come true, on batches whose truth is known."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
import calibration

FEW = 80
TESTS = Path(__file__).parents[1]
PRINTED = (TESTS / "bench" / "calibration.txt").read_text(encoding="utf-8")
BEFORE, AFTER, WEIGHED, MARKS = PRINTED.strip().split("\n\n")


def check(tally: calibration.Tally) -> None:
    """Limits are three standard deviations of the count about what the odds promise."""
    ranks = np.array(tally.ranks)
    n = len(ranks)
    inside = float(np.mean((ranks >= 0.1) & (ranks <= 0.9)))
    assert abs(inside - 0.8) < 3 * np.sqrt(0.8 * 0.2 / n)
    for pairs in (tally.not_pouring, tally.crop):
        told, came = np.array([p for p, _ in pairs]), np.array([c for _, c in pairs], float)
        assert abs((came - told).sum()) < 3 * np.sqrt((told * (1 - told)).sum()) + 1
        unsure = (told > 0.1) & (told < 0.9)
        if unsure.sum() > 10:
            spread = np.sqrt((told[unsure] * (1 - told[unsure])).sum())
            assert abs((came - told)[unsure].sum()) < 3 * spread


def test_odds_told_before_a_batch_come_true():
    check(calibration.simulate(FEW, seed=11))


def test_odds_told_after_first_crystals_come_true():
    check(calibration.simulate(FEW // 2, seed=12, evidence=True))


@pytest.mark.parametrize("table", [BEFORE, AFTER], ids=["before", "after evidence"])
def test_the_tables_printed_last_keep_what_odds_promise(table):
    """The whole benchmark takes long; what it printed is held to its limits here, and the README to what it printed."""
    points = int(re.search(r": (\d+) end points", table)[1])
    assert points >= 4000
    bands = float(re.search(r"80 % bands of the crop hold: ([\d.]+) %", table)[1])
    assert 77.0 <= bands <= 83.0
    risk, n = re.search(r"where the 5 % limit binds: ([\d.]+) % of (\d+)", table).groups()
    assert int(n) >= 300
    assert 3.5 <= float(risk) <= 6.5
    rows = re.findall(r"to +\d+ % +([\d.]+) +([\d.]+) +(\d+)$", table, flags=re.MULTILINE)
    assert sum(int(row[2]) for row in rows) == 2 * points
    for told, came, count in ((float(a) / 100, float(b) / 100, int(c)) for a, b, c in rows):
        assert abs(told - came) <= 3.5 * np.sqrt(max(told * (1 - told), 0.002) / count) + 0.01


def test_the_confusion_printed_last_names_what_can_be_told_and_states_the_tie():
    weighed, marks = (re.search(r"holds \+10 % +(.*)", table)[1] for table in (WEIGHED, MARKS))
    assert int(weighed.split()[0]) > 50
    assert int(marks.split()[12]) > 60
    assert "Weigh the pot at the end mark" in marks


def test_the_readme_shows_lines_that_were_printed():
    readme = (TESTS.parent / "README.md").read_text(encoding="utf-8")
    shown = re.search(r"tests/bench/calibration\.py.*?```text\n(.*?)```", readme, flags=re.DOTALL)[1]
    assert len(shown.splitlines()) > 8
    assert [line for line in shown.splitlines() if line and line not in PRINTED.splitlines()] == []
