"""Facts of the trade on keeping; common practice, no source.

Iron(III) chloride hexahydrate and iron(II) chloride tetrahydrate take up water in an ordinary room and must be sealed at
once with a desiccant; they are patted and dried quickly in the air, no more. Glauber's salt and washing soda crumble in an
ordinary room, blue vitriol and alum keep.
"""

from __future__ import annotations

import pytest
from salts import model

from crystal.bench.keeping import Keeping


@pytest.mark.parametrize("rh", [45.0, 55.0, 65.0])
@pytest.mark.parametrize(("salt", "solid"), [("FeCl3", "FeCl3.6H2O"), ("FeCl2", "FeCl2.4H2O")])
def test_iron_chlorides_take_up_water_in_an_ordinary_room(salt, solid, rh):
    found = Keeping.of(model(salt), 20.0, rh, solid=solid)
    assert found.state == "deliquesces"
    assert any("common practice, no source" in w for w in found.warnings)
    assert "seal it at once with a desiccant" in found.keep_in
    assert "pat it, dry it quickly in the air" in found.keep_in


@pytest.mark.parametrize(
    ("salt", "state"),
    [("Na2SO4", "effloresces"), ("Na2CO3", "effloresces"), ("CuSO4", "stable"), ("KAl(SO4)2", "stable")],
)
def test_what_an_ordinary_room_does(salt, state):
    assert Keeping.of(model(salt), 21.0, 50.0).state == state
