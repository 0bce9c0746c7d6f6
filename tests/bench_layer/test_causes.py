"""Shifts that explain: each really turns the outcome, none smaller would."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose

from bench_layer.scenarios import batch
from crystal.bench.causes import (
    CONTENT_DOUBT,
    TEMPERATURE_DOUBT_K,
    VOLUME_DOUBT,
    outcome_class,
    shifts_that_explain,
)
from crystal.bench.cooling import Cooled

TOLD = [
    (("MgSO4.7H2O", 200, 500, 188, 5, "set"), "set"),
    (("MgSO4.7H2O", 200, 500, 188, 5, "clear"), "clear"),
    (("CuSO4.5H2O", 120, 400, 380, 20, "clear"), "clear"),
    (("Na2CO3.10H2O", 300, 600, 300, 10, "crop"), "crop"),
    (("KAl(SO4)2.12H2O", 60, 500, 60, 15, "set"), "set"),
    (("KNO3", 150, 400, 120, 10, "thick"), "thick"),
]


def test_classes_of_outcomes():
    assert [outcome_class(w) for w in ("clear", "crop", "thick", "set", None)] == [0, 1, 2, 2, None]


@pytest.mark.parametrize(("told", "seen"), TOLD, ids=[f"{t[0]}-{s}" for t, s in TOLD])
def test_each_shift_turns_the_outcome_and_nine_tenths_of_it_does_not(told, seen):
    its = batch(*told)
    end = its.end
    shifts = shifts_that_explain(its, seen)
    assert shifts
    assert [s.sigmas for s in shifts] == sorted(s.sigmas for s in shifts)

    def outcome(salt: float, water: float, t: float) -> int | None:
        return outcome_class(Cooled.of(end.model, salt, water, t, strict=False).outcome_word())

    for shift in shifts:
        assert outcome(shift.salt_g, shift.water_g, shift.temperature_C) == outcome_class(seen), shift
        part = 0.9 if abs(shift.sigmas) > 0.3 else 0.0
        salt, water, t = (
            a + part * (b - a)
            for a, b in (
                (end.salt_g, shift.salt_g),
                (end.water_g, shift.water_g),
                (its.cool_to_C, shift.temperature_C),
            )
        )
        assert outcome(salt, water, t) != outcome_class(seen), shift
        off = shift.factor_or_K
        doubt = {"too_cold": TEMPERATURE_DOUBT_K, "not_cold_enough": TEMPERATURE_DOUBT_K}.get(
            shift.cause, CONTENT_DOUBT if shift.cause.endswith("salt") else VOLUME_DOUBT
        )
        if doubt == TEMPERATURE_DOUBT_K:
            assert_allclose(shift.temperature_C, its.cool_to_C + off, rtol=1e-12)
            assert (off < 0) == (shift.cause == "too_cold")
            assert_allclose(shift.sigmas, abs(off) / doubt, rtol=1e-12)
        else:
            assert (off < 1) == (shift.cause in ("too_far_reduced", "less_salt"))
            assert_allclose(shift.sigmas, abs(off - 1) / doubt, rtol=1e-9)
            now = end.model.density.volume_mL(shift.salt_g, shift.water_g, 20.0)
            expected = end.volume_mL() * (1.0 if shift.cause.endswith("salt") else off)
            assert_allclose(float(now), expected, rtol=1e-9)


def test_what_no_shift_can_do_has_none():
    # Sodium chloride at a sixth of saturation does not set by any misreading within a factor of two.
    assert shifts_that_explain(batch("NaCl", 20, 400, None, 20, "set"), "set") == []
