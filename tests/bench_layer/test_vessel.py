"""Whether the vessel suits: limits of common practice, no source."""

from __future__ import annotations

import pytest

from crystal.bench.vessel import FULLEST, LEAST_READABLE, vessel_notes


@pytest.mark.parametrize(
    ("capacity", "start", "end", "words"),
    [
        (600.0, 400.0, 60.0, []),  # exactly on both limits
        (600.0, 401.0, 60.0, ["650 mL or feed it in portions"]),
        (600.0, 400.0, 59.0, ["at most 590 mL"]),
        (400.0, 390.0, 20.0, ["600 mL or feed it in portions", "at most 200 mL"]),
        (400.0, 390.0, None, ["boiling over and bumping"]),
    ],
)
def test_notes(capacity, start, end, words):
    notes = vessel_notes(capacity, start, end)
    assert len(notes) == len(words)
    for note, word in zip(notes, words, strict=True):
        assert word in note


def test_vessel_that_is_advised_suits():
    for start in (37.0, 401.0, 999.0, 1500.0):
        (note,) = vessel_notes(start, start, None)
        advised = float(note.split("at least ")[1].split(" mL")[0])
        assert vessel_notes(advised, start, None) == []
        assert start <= FULLEST * advised
    (note,) = vessel_notes(1000.0, 300.0, 70.0)
    advised = float(note.split("at most ")[1].split(" mL")[0])
    assert LEAST_READABLE * advised * (1 - 1e-9) <= 70.0


def test_how_full_and_how_empty_is_told_in_per_cent():
    full, empty = vessel_notes(400.0, 390.0, 21.0)
    assert "fills 98 % of the 400 mL vessel" in full
    assert "is 5 % of the 400 mL vessel" in empty
