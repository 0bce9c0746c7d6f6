"""How a solid's formula is written in the tables: the salt, then its crystal water."""

from __future__ import annotations

import re

_CRYSTAL_WATER = re.compile(r"^(?P<salt>.+?)[.·•*](?P<waters>\d*\.?\d+)?H2O(?P<form>-[a-z]+)?$")
_SYMBOL = re.compile(r"[A-Z][a-z]?")


def split_crystal_water(phase: str) -> tuple[str, float | None]:
    """The anhydrous salt and the moles of water of a solid; ice gives ``("", None)``.

    Examples
    --------
    >>> split_crystal_water("FeCl3.3.5H2O")
    ('FeCl3', 3.5)
    >>> split_crystal_water("NiSO4.6H2O-alpha")
    ('NiSO4', 6.0)
    >>> split_crystal_water("NaCl")
    ('NaCl', 0.0)
    """
    if phase == "ice":
        return "", None
    found = _CRYSTAL_WATER.match(phase)
    if found is None:
        return phase, 0.0
    return found["salt"], float(found["waters"] or 1.0)


def elements(formula: str) -> frozenset[str]:
    """The element symbols of a formula."""
    return frozenset(_SYMBOL.findall(formula))


def contains_group(formula: str, group: str) -> bool:
    """Whether a group of atoms stands in a formula: ``NO3`` in ``Ca(NO3)2``, but not ``I`` in ``Li2SO4``."""
    return re.search(re.escape(group) + r"(?![a-z])", formula) is not None


def hydrate_mass_fraction(salt: str, waters: float | None) -> float:
    """Mass of anhydrous salt per mass of the solid; ice gives 0. The first call loads molar masses.

    Examples
    --------
    >>> round(hydrate_mass_fraction("CuSO4", 5), 4)
    0.6392
    """
    if waters is None:
        return 0.0
    from molmass import Formula

    dry = float(Formula(salt).mass)
    return dry / (dry + waters * float(Formula("H2O").mass))
