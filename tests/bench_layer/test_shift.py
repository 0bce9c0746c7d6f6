"""What others do to a pot on the bench: shift, sentences, gases, and the mixture that is refused."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from numpy.testing import assert_allclose

from crystal.bench.cooling import Cooled
from crystal.bench.path import SaturationPath
from crystal.bench.plan import Plan
from crystal.bench.pot import Pot
from crystal.bench.set_free import gas_cautions
from crystal.bench.shift import NEAR_ROOM_K, Shift, company_notes, notes_on
from crystal.bench.supersaturation import Supersaturation
from crystal.bench.window import Window
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.physics.company import first_beside
from crystal.physics.model import Model
from crystal.physics.others import Others


def _pot(salt: str, grams: float, water: float, others: dict[str, float], *, plain: bool = False) -> Pot:
    made = replace(Others.of(others), plain=plain)
    return Pot(Model.of(Catalogue.bundled().find(salt)), grams, water, others=made)


ACID = {"H2SO4": 20.0}


def test_free_acid_brings_crystals_earlier() -> None:
    """Copper sulfate is less soluble in sulfuric acid: Foote, J. Am. Chem. Soc. 37 (1915) 288 (recalled)."""
    acid, plain = (_pot("CuSO4", 76.0, 340.0, ACID, plain=plain) for plain in (False, True))
    windows = [Window.of(pot, 25.0) for pot in (acid, plain)]
    saturates = [w.saturates for w in windows]
    assert saturates[0] is not None
    assert saturates[1] is not None
    assert saturates[0].mass_fraction < saturates[1].mass_fraction
    crops = [float(Cooled.of(p.model, 76.0, 250.0, 15.0, others=p.others).crystals_g) for p in (acid, plain)]
    assert crops[0] > crops[1]


def test_window_bands_agree_with_single_pots() -> None:
    pot = _pot("Na2SO4", 80.0, 340.0, {"NaCl": 40.0})
    for band in Window.of(pot, 20.0).bands:
        w = 0.5 * (band.start.mass_fraction + band.end.mass_fraction)
        cooled = Cooled.of(pot.model, 80.0, 80.0 * (1 - w) / w, 20.0, others=pot.others)
        assert cooled.outcome_word() == band.outcome
        assert int(cooled.main_solid) == band.solid


def test_bands_end_where_the_outcome_changes() -> None:
    pot = _pot("Na2SO4", 80.0, 340.0, {"NaCl": 40.0})
    runs = Window.of(pot, 20.0).runs
    assert len(runs) > 3
    for before, after in pairwise(runs):
        for run, w in ((before, after.from_w * (1 - 1e-6)), (after, after.from_w * (1 + 1e-6))):
            cooled = Cooled.of(pot.model, 80.0, 80.0 * (1 - w) / w, 20.0, others=pot.others)
            assert (cooled.outcome_word(), int(cooled.main_solid)) == (run.outcome, run.solid)


def test_the_other_salt_crystallises_too_and_is_named() -> None:
    pot = _pot("KNO3", 40.0, 60.0, {"NaNO3": 80.0})
    cooled = Cooled.of(pot.model, 40.0, 60.0, 10.0, others=pot.others)
    solids = dict(cooled.solids_g())
    assert set(solids) == {"KNO3", "NaNO3"}
    assert_allclose(float(cooled.crystals_g), sum(solids.values()))
    whole = float(cooled.crystals_g + cooled.liquor_g)
    assert_allclose(whole, pot.mass_g, rtol=1e-9)
    assert float(cooled.salt_in_crystals_g) == pytest.approx(solids["KNO3"])


def test_path_starts_its_crystals_where_they_are_due() -> None:
    pot = _pot("KNO3", 100.0, 300.0, {"NaNO3": 30.0})
    steps = {step.name: step for step in SaturationPath.of(pot, 100.0, 10.0).steps}
    t = steps["first crystals"].temperature_C
    due = first_beside(pot.model, pot.others, 100.0, 0.5)
    assert_allclose(t, float(due.temperature_C), atol=1e-6)
    for off, there in ((0.05, False), (-0.05, True)):
        state = Cooled.of(pot.model, 100.0, 100.0, t + off, others=pot.others)
        assert bool(state.crystals_g > 0) is there


def test_the_sentence_tells_shift_and_doubt() -> None:
    plan = Plan.of(_pot("CuSO4", 76.0, 340.0, ACID), 25.0)
    shift = plan.shift
    assert shift is not None
    assert shift.percent < 0
    assert shift.doubt_percent > 0
    (sentence,) = (w for w in plan.warnings if "lowers the solubility of CuSO4" in w)
    assert f"{abs(shift.percent):.2g} ± {shift.doubt_percent:.2g} %" in sentence
    assert any("Cu+2 with HSO4- magnesium's parameters" in w for w in plan.warnings)
    assert any("near 49 % H2SO4" in w for w in plan.warnings)
    plain = Plan.of(_pot("CuSO4", 76.0, 340.0, ACID, plain=True), 25.0)
    assert plain.shift is None
    assert any("The curve is that of pure CuSO4" in w for w in plain.warnings)


@pytest.mark.parametrize(
    ("salt", "others", "says"),
    [
        ("FeSO4", ACID, r"no ion-interaction parameters .* Fe\+2 with SO4-2"),
        ("CuCl2", {"HCl": 5.0}, "even the direction is unknown"),
    ],
)
def test_without_parameters_the_old_answer_stays(salt: str, others: dict[str, float], says: str) -> None:
    import re

    pot = _pot(salt, 40.0, 200.0, others)
    notes = company_notes(pot, 20.0)
    assert any("The curve is that of pure" in note for note in notes)
    assert any(re.search(says, note) and "calibrated" in note for note in notes)
    free, held = (Cooled.of(pot.model, 40.0, 60.0, 20.0, others=o) for o in (Others(), pot.others))
    assert_allclose(float(free.crystals_g), float(held.crystals_g))


@pytest.mark.parametrize("salt", ["K4Fe(CN)6", "K3Fe(CN)6"])
@pytest.mark.parametrize("acid", ["HCl", "H2SO4", "HNO3", "CH3COOH", "C6H8O7"])
def test_acid_with_cyanometallates_is_refused(salt: str, acid: str) -> None:
    with pytest.raises(InputError, match="hydrogen cyanide, a gas that kills"):
        _pot(salt, 40.0, 200.0, {acid: 5.0})
    with pytest.raises(InputError, match="hydrogen cyanide"):
        _pot("NaCl", 40.0, 200.0, {salt: 5.0, acid: 5.0})
    _pot(salt, 40.0, 200.0, {"KCl": 5.0})


@pytest.mark.parametrize(
    ("salt", "others", "says"),
    [
        ("NaCl", ["HCl", "NaClO"], "gives off chlorine"),
        ("NaCl", ["NaClO"], "never add acid"),
        ("NaCl", ["H2SO4", "KMnO4"], "give off chlorine"),
        ("KNO3", ["H2SO4"], "nitrogen oxides"),
        ("KNO3", ["HCl"], "nitrosyl chloride"),
        ("NaCl", ["NaNO2", "HCl"], "brown nitrogen oxides"),
        ("Na2S2O3", ["HCl"], "sulfur dioxide"),
        ("Na2CO3", ["HCl"], "foams"),
        ("NaCl", ["HCl"], "fumes"),
        ("CuSO4", ["H2SO4"], "into water, never water into it"),
    ],
)
def test_gases_are_warned_of(salt: str, others: list[str], says: str) -> None:
    """Common practice, no source."""
    assert any(says in line for line in gas_cautions(salt, others))
    assert gas_cautions(salt, ["K2SO4"]) == []


def test_notes_are_found_by_pair() -> None:
    assert any("KCl.MgCl2.6H2O" in note.statement for note in notes_on("MgCl2", ("KCl",)))
    assert any("K2SO4.MSO4.6H2O" in note.statement for note in notes_on("K2SO4", ("NiSO4",)))
    assert any("(NH4)2M(SO4)2.6H2O" in note.statement for note in notes_on("ZnSO4", ("(NH4)2SO4",)))
    assert notes_on("NaCl", ("CaCl2",)) == []


def test_shift_of_a_cooled_pot_is_that_of_its_liquor() -> None:
    pot = _pot("CuSO4", 76.0, 200.0, ACID)
    cooled = Cooled.of(pot.model, [76.0], [200.0], 15.0, others=pot.others)
    shift = Shift.of_cooled(cooled, 0)
    assert shift is not None
    a = 1000.0 * shift.factor
    plain = pot.model.map.look_up(0.5, 15.0)
    liquor = float(cooled.equilibrium.liquor_mass_fraction[0])
    pure = float(plain.liquor_mass_fraction)
    assert_allclose(liquor / (1 - liquor), a / 1000.0 * pure / (1 - pure), rtol=2e-4)


def test_the_odds_count_the_doubt_of_the_shift() -> None:
    from crystal.bench.doubt import Doubt, Draws, curve_doubt

    acid, plain = (_pot("CuSO4", 76.0, 200.0, ACID, plain=plain) for plain in (False, True))
    spreads = [Draws.of(pot, 15.0, Doubt(), bed=0.55, n=64).spreads[4] for pot in (acid, plain)]
    assert_allclose(spreads[1], curve_doubt(plain.model, 15.0))
    assert spreads[0] > 1.2 * spreads[1]
    told = Draws.of(acid, 15.0, Doubt(curve=0.01), bed=0.55, n=64).spreads[4]
    assert_allclose(told, 0.01)


def test_exchange_of_partners_is_said() -> None:
    notes = company_notes(_pot("KNO3", 100.0, 300.0, {"NaCl": 60.0}), 20.0)
    (said,) = (note for note in notes if "change partners" in note)
    assert "KCl" in said
    assert "NaNO3" in said
    assert not any(
        "change partners" in n for n in company_notes(_pot("KNO3", 90.0, 300.0, {"NaNO3": 6.0}), 20.0)
    )


def test_where_the_direction_is_unknown_no_usual_rule_is_told() -> None:
    told = " ".join(company_notes(_pot("CuCl2", 100.0, 250.0, {"HCl": 15.0}), 20.0))
    assert "even the direction is unknown" in told
    assert "pushes it out" not in told
    assert "pushes it out" in " ".join(company_notes(_pot("FeSO4", 100.0, 250.0, {"H2SO4": 15.0}), 20.0))


def test_the_sentence_counts_where_crystals_begin_or_in_the_pot_that_is_cooled() -> None:
    pot = _pot("CuSO4", 76.0, 340.0, ACID)
    plan = Plan.of(pot, 25.0)
    begin = plan.window.saturates
    assert begin is not None
    (told,) = (w for w in plan.warnings if "where crystals begin" in w)
    assert f"As {100 * 20.0 / begin.end_mass_g:.2g} % of the solution where" in told
    end = pot.with_water(150.0)
    (told,) = (w for w in SaturationPath.of(pot, 150.0, 25.0).warnings if "that is cooled" in w)
    assert f"As {100 * 20.0 / end.mass_g:.2g} % of the solution that" in told


@pytest.mark.parametrize("sign", [-1, 1])
def test_parameters_of_25_degC_are_told_only_well_away_from_it(sign) -> None:
    pot = _pot("CuSO4", 76.0, 340.0, ACID)
    near, far = (company_notes(pot, 25.0 + sign * (NEAR_ROOM_K + off)) for off in (-0.5, 0.5))
    assert not [note for note in near if "K away" in note]
    assert [note for note in far if f"{NEAR_ROOM_K + 0.5:.0f} K away" in note]


def test_the_shift_is_told_up_to_both_ends_of_the_data() -> None:
    pot = _pot("KNO3", 100.0, 300.0, {"NaNO3": 30.0})
    low, high = pot.model.map.low_C, pot.model.map.high_C
    assert Shift.of(pot, low) is not None
    assert Shift.of(pot, high) is not None
    assert Shift.of(pot, low - 0.1) is None
    assert Shift.of(pot, high + 0.1) is None


@pytest.mark.parametrize(
    ("salt", "salt_g", "others"),
    [("KNO3", 90.0, {"NaNO3": 30.0}), ("Na2SO4", 30.0, {"NaCl": 10.0}), ("Na2CO3", 35.0, {"NaCl": 15.0}),
     ("CuSO4", 60.0, {"H2SO4": 15.0}), ("MgSO4", 90.0, {"Na2SO4": 20.0})],
)  # fmt: skip
def test_a_pot_beside_others_is_just_saturated_at_its_first_crystals(salt, salt_g, others) -> None:
    pot = _pot(salt, salt_g, 180.0, others)
    first = first_beside(pot.model, pot.others, salt_g, pot.mass_fraction)
    assert bool(first.found)
    over = Supersaturation.of(pot, [float(first.temperature_C) + off for off in (-2.0, 0.0, 2.0)])
    assert_allclose(over.ratio[1], 1.0, atol=2e-3)
    assert over.ratio[0] > 1.0 > over.ratio[2]
