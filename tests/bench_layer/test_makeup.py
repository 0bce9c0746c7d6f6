"""From the pot that a reaction made to the pot that is boiled down: what is refused, and how it is named."""

from __future__ import annotations

import pytest

from crystal.bench.made import MadePot
from crystal.bench.makeup import pot_of_made
from crystal.errors import InputError


@pytest.mark.parametrize(
    ("made", "named"),
    [
        (MadePot(None, 0.0, 400.0), "no dissolved salt"),
        (MadePot("Zz2SO4", 20.0, 400.0), "Zz2SO4"),
        (MadePot("ZnSO4", 0.0, 400.0), "ZnSO4"),
    ],
)
def test_a_pot_without_a_salt_of_the_data_is_named_by_what_it_holds(made, named):
    with pytest.raises(InputError, match=f"the pot made: got {named}; it must be a solution of a salt"):
        pot_of_made(made)


def test_no_water_is_taken_away_to_make_a_volume_up():
    made = MadePot("ZnSO4", 120.0, 480.0)
    full = pot_of_made(made).volume_mL()
    with pytest.raises(InputError, match="at least what is in the pot"):
        pot_of_made(made, made_up_to_mL=0.999 * full)
    assert pot_of_made(made, made_up_to_mL=1.2 * full).volume_mL() == pytest.approx(1.2 * full, rel=1e-9)
