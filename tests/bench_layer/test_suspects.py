"""Causes: the one that was made is named, what cannot be told apart is said to be so, with the test that tells."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from bench_layer.scenarios import batch
from crystal.bench.batch import Seen
from crystal.bench.cooling import outcome_class
from crystal.bench.suspects import EXTRA, SIGNED, TESTS, suspects, telling_test, tied
from crystal.bench.window import Window

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
import calibration


def ranked_of(told: tuple, seen: Seen):
    its = batch(*told, seen)
    return suspects(its, Window.of(its.start, its.cool_to_C), its.draws())


def test_classes_of_outcomes():
    assert [outcome_class(w) for w in ("clear", "crop", "thick", "set", None)] == [0, 1, 2, 2, None]


def test_a_fault_in_one_input_is_named_and_sized():
    told = ("KNO3", 100, 400, 160, 10)
    plain = batch(*told, None)
    mass = plain.end.mass_g
    due = float(plain.start.model.onset.first(plain.end.mass_fraction).temperature_C)
    heavier = ranked_of(told, Seen(mass_g=1.12 * mass, first_crystals_C=due - 11.0))
    assert heavier[0].cause == "not_far_enough"
    assert 1.05 < heavier[0].amount < 1.2
    assert heavier[0].odds < 0.2
    late = ranked_of(told, Seen(mass_g=mass, first_crystals_C=due - 15.0))
    assert late[0].cause == "supersaturated"
    lost = ranked_of(told, Seen(outcome="crop", crystals_g=35.0, temperature_C=10.0))
    assert lost[0].cause == "losses"
    assert 0.2 < lost[0].amount < 0.7


def test_what_is_as_expected_supports_no_cause():
    told = ("KNO3", 100, 400, 160, 10)
    plain = batch(*told, None)
    due = float(plain.start.model.onset.first(plain.end.mass_fraction).temperature_C)
    ranked = ranked_of(told, Seen(mass_g=plain.end.mass_g, first_crystals_C=due - 1.0))
    assert ranked[0].support < 0.5
    assert {s.cause for s in ranked if s.support > 0.5} == set()


def test_odds_are_those_of_a_normal_doubt():
    for suspect in ranked_of(("KNO3", 100, 400, 160, 10), Seen(outcome="thick")):
        if suspect.cause == "not_cold_enough":
            assert_allclose(suspect.amount, 3.0 * suspect.sigmas)
        assert 0.0 <= suspect.odds <= 1.0


def test_every_pair_of_causes_has_a_test_that_tells_them_apart():
    causes = [*SIGNED["holds"], *SIGNED["volume"], *SIGNED["temperature"], *EXTRA]
    told = {sentence for _, sentence in TESTS}
    for a in causes:
        for b in causes:
            if a != b and {a, b} not in [set(words) for words in SIGNED.values()]:
                assert telling_test(a, b) in told, (a, b)
                assert telling_test(a, b) == telling_test(b, a)


def test_content_ten_percent_up_is_named_where_the_pot_was_weighed():
    named = calibration.confusion(24, weighed=True, faults=("holds +10 %",))["holds +10 %"]
    assert named.first["more_salt"] > 0.5 * named.n
    assert named.in_tie > 0.8 * named.n


def test_with_marks_only_the_tie_of_content_and_volume_is_stated():
    named = calibration.confusion(24, weighed=False, faults=("holds +10 %",))["holds +10 %"]
    assert named.in_tie > 0.6 * named.n
    assert named.first["more_salt"] < 0.5 * named.n
    assert named.tests["Weigh the pot at the end mark"] > 0.4 * named.n


@pytest.mark.parametrize("sets", [True, False])
def test_ties_come_only_with_support(sets):
    told = ("CuSO4.5H2O", 120, 400, 200, 20)
    ranked = ranked_of(told, Seen(outcome="set" if sets else "crop"))
    for other in tied(ranked):
        assert ranked[0].support - other.support < 1.0
    if ranked[0].support <= 0:
        assert tied(ranked) == []


def test_a_cake_near_its_bed_is_put_down_to_how_it_settled():
    told = ("Na2SO4.10H2O", 200, 600, 260, 11)
    ranked = ranked_of(told, Seen(outcome="set", temperature_C=11.0))
    assert ranked[0].cause == "loose_bed"
    assert 0.6 < ranked[0].amount < 0.9
    # What would have to be off by more than three doubts is not called tied with it.
    far = [s.cause for s in ranked if abs(s.sigmas) > 5.0]
    assert far
    assert not set(far) & {s.cause for s in tied(ranked)}
