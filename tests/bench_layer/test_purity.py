"""Purity over recrystallisations, other solutes against their own curves, liquors joined."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from salts import model, pot

from crystal.bench.harvest import Draining, Harvest
from crystal.bench.ledger import Matter
from crystal.bench.pot import Pot
from crystal.bench.purity import Purifying, joined, liquor_solutes
from crystal.errors import InputError
from crystal.physics.others import Others


def crop(how: Draining | None = None, **others: float) -> Harvest:
    start = Pot(model("CuSO4"), 100.0, 250.0, others=Others.of(others))
    return Harvest.of(start, 10.0, how)


def test_each_round_takes_the_same_share_of_a_trace_away():
    """A trace leaves with the liquor: what stays is clinging over whole liquor, by hand the same each time."""
    found = Purifying.of(crop(CaCl2=0.01), 1 - 1e-7)
    left = [1.0 - found.first.cake.purity, *(1.0 - one.purity for one in found.rounds)]
    ratios = [b / a for a, b in pairwise(left[1:])]
    assert len(ratios) >= 2
    assert max(ratios) / min(ratios) < 1.05
    one = found.rounds[0].harvest
    clings = one.cakes[0].clinging.mass_g
    by_hand = clings / (clings + one.liquor.mass_g)
    carried = one.cake.dried.others_g["CaCl2"] / found.first.cake.dried.others_g["CaCl2"]
    assert carried == pytest.approx(by_hand, rel=1e-9)


def test_yield_falls_and_purity_rises_with_every_round():
    found = Purifying.of(crop(NaCl=8.0), 0.99999)
    assert found.reached
    purities = [found.first.cake.purity, *(one.purity for one in found.rounds)]
    yields = [found.first.yield_fraction, *(one.yield_fraction for one in found.rounds)]
    assert (np.diff(purities) > 0).all()
    assert (np.diff(yields) < 0).all()
    assert purities[-2] < 0.99999 <= purities[-1]


def test_a_pure_crop_needs_no_round():
    found = Purifying.of(crop(), 0.999)
    assert (found.reached, found.rounds) == (True, ())


def test_too_few_rounds_are_said():
    found = Purifying.of(crop(NaCl=8.0), 1 - 1e-12, most=2)
    assert (found.reached, len(found.rounds)) == (False, 2)
    assert "not reached in 2 rounds" in found.why


def test_every_round_is_the_dry_crop_in_the_water_that_is_told():
    found = Purifying.of(crop(NaCl=8.0), 0.99999)
    last = found.first
    for one in found.rounds:
        dry = last.cake.dried
        assert one.harvest.pot.salt_g == pytest.approx(dry.salt_g)
        assert one.harvest.pot.water_g == pytest.approx(dry.water_g + one.water_g)
        assert one.warm_to_C > 10.0
        last = one.harvest


def test_every_round_balances():
    for one in Purifying.of(crop(NaCl=8.0), 0.9999).rounds:
        assert one.harvest.ledger().gap_g < 1e-9
        assert one.harvest.outcome == "crop"


def test_a_purity_of_all_is_refused():
    with pytest.raises(InputError, match="below 100 %"):
        Purifying.of(crop(NaCl=8.0), 1.0)


def test_solutes_of_the_catalogue_are_held_against_their_own_curve():
    found = {s.formula: s for s in liquor_solutes(Matter(5.0, 100.0, {"KNO3": 31.9, "XeF2": 1.0}), 20.0)}
    assert found["KNO3"].saturation == pytest.approx(1.0, abs=0.01)
    assert found["KNO3"].own_solid == "KNO3"
    assert found["XeF2"].saturation is None
    assert found["XeF2"].g_per_100g_water == 1.0


def test_joined_liquors_add_up():
    its = model("KNO3")
    both = joined(
        (
            Pot(its, 10.0, 90.0, others=Others.of({"NaCl": 1.0})),
            Pot(its, 5.0, 20.0, others=Others.of({"HCl": 2.0})),
        )
    )
    assert (both.salt_g, both.water_g, both.others.amounts_g) == (15.0, 110.0, {"NaCl": 1.0, "HCl": 2.0})
    assert both.volume_mL() > 0
    with pytest.raises(InputError, match="liquors of one salt"):
        joined((pot("KNO3", 1.0, 1.0), pot("NaCl", 1.0, 1.0)))
