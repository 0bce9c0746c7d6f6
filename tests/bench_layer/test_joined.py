"""Where another salt joins the crystals, and that nobody is told a mixture for a salt."""

from __future__ import annotations

import re

import numpy as np
import pytest

from crystal.bench.cooling import Cooled
from crystal.bench.joined import joined_notes, other_salt_joins
from crystal.bench.path import SaturationPath
from crystal.bench.plan import Plan
from crystal.bench.pot import Pot
from crystal.bench.window import Window
from crystal.physics.others import Others
from tests.salts import model


def _pot(salt: str, salt_g: float, others: dict[str, float], water_g: float = 300.0) -> Pot:
    return Pot(model(salt), salt_g, water_g, others=Others.of(others))


@pytest.mark.parametrize(
    ("salt", "salt_g", "others", "t"),
    [
        ("Na2SO4", 80.0, {"NaCl": 60.0}, 25.0),
        ("NaCl", 70.0, {"KCl": 15.0}, 10.0),
        ("KNO3", 50.0, {"NaNO3": 90.0}, 5.0),
    ],
)
def test_the_mark_is_where_the_other_begins(
    salt: str, salt_g: float, others: dict[str, float], t: float
) -> None:
    window = Window.of(_pot(salt, salt_g, others), t)
    joins = other_salt_joins(window)
    assert joins is not None
    w = joins.mass_fraction * np.array([0.9999, 1.0001])
    start = window.start
    cooled = Cooled.of(start.model, salt_g, salt_g * (1 - w) / w, t, others=start.others, strict=False)
    assert cooled.others_crystals_g[0] == 0.0
    assert cooled.others_crystals_g[1] > 0.0
    assert " + " in (cooled.solids_text(1) or "")
    assert cooled.solids_text(0) in {s.formula for s in start.model.map.solids}
    assert sum(g for _, g in cooled.solids_g(1)) == pytest.approx(
        float(cooled.crystals_g[1] + cooled.ice_g[1])
    )


def test_an_acid_or_nothing_never_joins() -> None:
    assert other_salt_joins(Window.of(_pot("NaCl", 90.0, {"HCl": 12.0}), 5.0)) is None
    assert other_salt_joins(Window.of(_pot("NaCl", 90.0, {}), 5.0)) is None


def test_an_advised_mixture_is_told_with_the_mark_before_it() -> None:
    plan = Plan.of(_pot("Na2SO4", 80.0, {"NaCl": 60.0}), 25.0)
    assert plan.advised is not None
    assert float(plan.advised.cooled.others_crystals_g[0]) > 0
    told = " ".join(plan.warnings)
    assert "234 mL" in told
    assert "for crystals of one salt stop before that mark" in told


def test_a_pot_that_gives_both_from_the_start_says_so() -> None:
    window = Window.of(_pot("Na2SO4", 80.0, {"NaCl": 140.0}), 25.0)
    assert any("every crop of this pot holds it" in note for note in joined_notes(window, None))


def test_a_liquor_beyond_the_parameters_is_told_where_it_is_advised() -> None:
    notes = joined_notes((plan := Plan.of(_pot("NaCl", 90.0, {"HCl": 25.0}), 5.0)).window, plan.advised)
    assert any("beyond the range that the ion parameters were fitted over" in note for note in notes)


def test_another_salt_that_comes_first_is_told_so() -> None:
    pot = _pot("NaCl", 70.0, {"KCl": 30.0})
    assert any("before the salt itself does" in note for note in joined_notes(Window.of(pot, 10.0), None))


def test_the_path_meets_the_other_salt_where_it_begins() -> None:
    """Just above the step no potassium chloride stands, just below it does; every step's solids sum to its crystals."""
    pot = _pot("NaCl", 70.0, {"KCl": 15.0}, 200.0)
    path = SaturationPath.of(pot, 106.0, 5.0)
    (joins,) = (step for step in path.steps if step.name == "other salt joins")
    around = Cooled.of(
        pot.model, 70.0, 106.0, joins.temperature_C + np.array([0.05, -0.05]), others=pot.others
    )
    assert around.others_crystals_g[0] == 0.0
    assert around.others_crystals_g[1] > 0.0
    temperatures = [step.temperature_C for step in path.steps[1:]]
    assert temperatures == sorted(temperatures, reverse=True)
    for step in path.steps:
        assert step.solids is not None
        assert sum(g for _, g in step.solids) == pytest.approx(step.crystals_g)
    assert not any(
        s.name == "other salt joins" for s in SaturationPath.of(_pot("NaCl", 70.0, {}), 106.0, 5.0).steps
    )


def test_the_mark_is_told_in_millilitres_and_as_a_share_of_the_start() -> None:
    window = Window.of(_pot("Na2SO4", 80.0, {"NaCl": 60.0}), 25.0)
    joins = other_salt_joins(window)
    assert joins is not None
    (note,) = (n for n in joined_notes(window, None) if n.startswith("Below"))
    told = [float(number) for number in re.findall(r"([\d.]+) (?:mL|%)", note)[:2]]
    assert told == pytest.approx([joins.end_volume_mL, 100 * joins.fraction_of_start], rel=6e-3)
