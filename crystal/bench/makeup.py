"""From the pot that a reaction leaves to the pot that is boiled down: filtered, and made up with water."""

from __future__ import annotations

from crystal.bench.made import MadePot
from crystal.bench.pot import Pot
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.physics.model import Model
from crystal.physics.others import Others
from crystal.physics.strength import ROOM_C

_SAME = 1e-9  # relative; a volume this little below the pot's own is the pot's own


def pot_of_made(
    made: MadePot,
    catalogue: Catalogue | None = None,
    *,
    read_at_C: float = ROOM_C,
    made_up_to_mL: float | None = None,
) -> Pot:
    """The clear liquor of a made pot: solids are taken as filtered off, all else dissolved rides along.

    Parameters
    ----------
    made : MadePot
        What a reaction left.
    catalogue : Catalogue, optional
        Where the salt is looked up; the bundled one unless given.
    read_at_C : float
        Temperature at which volumes are read, °C.
    made_up_to_mL : float, optional
        Volume to which it was filled up with water.

    Raises
    ------
    InputError
        Where it has no salt, or one whose curve is not known, or more liquor than that volume.

    Examples
    --------
    >>> pot = pot_of_made(MadePot("ZnSO4", 80.7, 440.0, {"H2SO4": 11.0}), made_up_to_mL=600.0)
    >>> round(pot.water_g - 440.0), round(pot.volume_mL())
    (153, 600)
    """
    catalogue = catalogue or Catalogue.bundled()
    if made.salt is None or made.salt not in catalogue.salts or not made.salt_g > 0:
        raise InputError(
            "the pot made",
            made.salt or "no dissolved salt",
            "a solution of a salt whose saturation curve is in the data ('crystal salts' lists them)",
        )
    if not made.water_g > 0:
        raise InputError("the pot made", f"{made.water_g:g} g of water", "a solution, with water in it")
    model = Model.of(catalogue.find(made.salt))
    try:
        others = Others.of(made.others_g, catalogue)
    except InputError as error:
        raise InputError("what the pot made holds", error.got, error.must_be, error.example) from None
    pot = Pot(model, made.salt_g, made.water_g, read_at_C, others)
    if made_up_to_mL is None:
        return pot
    if made_up_to_mL < pot.volume_mL() * (1.0 - _SAME):
        raise InputError(
            "volume made up to",
            f"{made_up_to_mL:g} mL",
            f"at least what is in the pot, {pot.volume_mL():.4g} mL at {read_at_C:g} degC: water can only be added here",
            f"{1.2 * pot.volume_mL():.2g} mL",
        )
    return pot.with_water(max(float(pot.water_for_volume(made_up_to_mL, read_at_C)), made.water_g))
