"""Two salts parted by turns: balances, what comes alone, and the classic pairs."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose

from crystal.bench.separate import Separation, isotherm_percent, liquor_percent
from crystal.errors import CoverageError, InputError
from crystal.physics.formula import WATER_G_MOL, molar_mass_g_mol
from crystal.physics.several import Several

POTS = [
    ({"KNO3": 100.0, "NaCl": 60.0}, 300.0, 100.0, 5.0),
    ({"NaCl": 100.0, "KCl": 100.0}, 600.0, 100.0, 10.0),
    ({"KNO3": 100.0, "NaNO3": 100.0}, 400.0, 100.0, 5.0),
    ({"Na2SO4": 100.0, "NaCl": 60.0}, 400.0, 90.0, 10.0),
]
IDS = ["-".join(pot[0]) for pot in POTS]


@pytest.mark.parametrize("pot", POTS, ids=IDS)
def test_nothing_is_lost_where_nothing_clings(pot: tuple) -> None:
    salts, water, hot, cold = pot
    found = Separation.of(salts, water, hot, cold, held_g_per_g=0.0)
    assert found.turns
    won_dry, bound = 0.0, 0.0
    for turn in found.turns:
        one = next(c for c in found.several.candidates if c.formula == turn.solid)
        share = molar_mass_g_mol(turn.salt) / (molar_mass_g_mol(turn.salt) + one.waters * WATER_G_MOL)
        won_dry += turn.crystals_g * share
        bound += turn.crystals_g * (1.0 - share)
        assert_allclose(turn.purity_percent, 100.0)
    assert_allclose(won_dry + sum(found.left_g.values()), sum(salts.values()), rtol=1e-9)
    removed = sum(turn.water_removed_g for turn in found.turns)
    assert_allclose(removed + bound + found.left_water_g, water, rtol=1e-9)


@pytest.mark.parametrize("pot", POTS, ids=IDS)
def test_turns_alternate_and_each_crop_is_one_salt(pot: tuple) -> None:
    salts, water, hot, cold = pot
    found = Separation.of(salts, water, hot, cold)
    boiled = [turn.boiled for turn in found.turns]
    assert all(a != b for a, b in pairwise(boiled))
    assert all(80.0 < turn.purity_percent < 100.0 for turn in found.turns)
    for _, share, _ in found.won().values():
        assert share <= 100.0


def test_saltpetre_comes_cold_and_common_salt_hot() -> None:
    """The refining of saltpetre: common practice, no source."""
    found = Separation.of(*POTS[0])
    assert {turn.salt for turn in found.turns if turn.boiled} == {"NaCl"}
    assert {turn.salt for turn in found.turns if not turn.boiled} == {"KNO3"}
    assert found.won()["KNO3"][1] > 80.0


def test_exchange_of_partners_is_told() -> None:
    """Sodium nitrate and potassium chloride give saltpetre and common salt (conversion saltpetre): common practice."""
    found = Separation.of({"NaNO3": 85.0, "KCl": 74.6}, 200.0, 100.0, 5.0)
    assert {"KNO3", "NaCl"} <= set(found.won())
    assert any("change partners" in w for w in found.warnings)


def test_a_hot_pot_stays_clear_before_it_is_cooled() -> None:
    found = Separation.of(*POTS[1])
    several = found.several
    turn = found.turns[0]
    assert not turn.boiled
    ions = several.ions_of({salt: g / molar_mass_g_mol(salt) for salt, g in found.salts_g.items()})
    state = several.standing(ions, (found.water_g - turn.water_removed_g) / 1000.0, found.hot_C)
    assert float(state.solids_mol.sum()) == 0.0


def test_isotherm_ends_at_the_pure_salts_and_meets_in_one_corner() -> None:
    """25 °C: pure NaCl 26.4 %, KCl 26.2 % (CRC Handbook, 98th ed.); corner 20.4 % NaCl, 11.15 % KCl (Linke, recalled)."""
    lines = isotherm_percent(Several(["NaCl", "KCl"]), "NaCl", "KCl", 25.0)
    salt, potash = lines
    assert_allclose(salt[:, -1], [26.4, 0.0], atol=0.2)
    assert_allclose(potash[:, 0], [0.0, 26.2], atol=0.2)
    corner = potash[:, -1]
    assert_allclose(corner, [20.4, 11.15], atol=0.5)
    assert_allclose(salt[:, 0], corner, atol=1e-6)


def test_what_cannot_be_planned_is_refused() -> None:
    with pytest.raises(InputError, match="hydrogen cyanide"):
        Separation.of({"K4Fe(CN)6": 10.0, "KHSO4": 10.0}, 100.0, 90.0, 5.0)
    with pytest.raises(InputError, match="two different salts"):
        Separation.of({"NaCl": 10.0}, 100.0, 90.0, 5.0)
    with pytest.raises(InputError, match="colder than boiling down"):
        Separation.of({"NaCl": 10.0, "KCl": 10.0}, 100.0, 5.0, 90.0)
    with pytest.raises(CoverageError, match="outside the data"):
        Separation.of({"NaCl": 10.0, "KCl": 10.0}, 100.0, 200.0, 5.0)
    with pytest.raises(InputError, match="common ion"):
        isotherm_percent(Several(["KNO3", "NaCl"]), "KNO3", "NaCl", 25.0)


@pytest.mark.parametrize(("first", "second"), [("NaCl", "KCl"), ("KCl", "NaCl"), ("KNO3", "KCl")])
def test_a_liquors_two_salts_are_counted_by_what_each_has_alone(first: str, second: str) -> None:
    several = Several([first, second])
    grams = {first: 10.0, second: 20.0}
    ions = several.ions_of({salt: g / molar_mass_g_mol(salt) for salt, g in grams.items()})
    assert_allclose(liquor_percent(several, ions, 100.0, first, second), [10.0, 20.0], rtol=1e-9)
    assert liquor_percent(Several(["KNO3", "NaCl"]), np.ones(4), 100.0, "KNO3", "NaCl") is None


def test_only_a_pair_that_does_not_part_is_said_not_to() -> None:
    parted = Separation.of(*POTS[0])
    assert parted.turns
    assert not [text for text in parted.warnings if "not parted this way" in text]
    thin = Separation.of({"NaCl": 20.4, "KCl": 11.15}, 100.0, 25.5, 25.0)  # where both come together
    assert not thin.turns
    assert [text for text in thin.warnings if "not parted this way" in text]
