"""Chemical formulas with their crystal water, and molar masses.

Crystal water may be fractional (``FeCl3.3.5H2O``), which general formula readers do not take: the water is split off
here and the rest is left to the ``molmass`` library.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from crystal.errors import InputError

_WATER = re.compile(r"^(?P<salt>.+?)\s*[.·•*]\s*(?P<waters>\d+(?:\.\d+)?)?\s*H2O(?P<form>-[a-z]+)?$")
_MOIST = re.compile(r"^(?:H2O|water)$", re.IGNORECASE)


@lru_cache(maxsize=1024)
def molar_mass_g_mol(formula: str) -> float:
    """Molar mass of a formula without crystal water.

    Parameters
    ----------
    formula : str
        Element symbols, counts and brackets: ``"KAl(SO4)2"``.

    Returns
    -------
    float
        Grams per mole, natural isotopic mixture (the ``molmass`` library's table).

    Raises
    ------
    InputError
        Where the formula cannot be read.

    Examples
    --------
    >>> round(molar_mass_g_mol("CuSO4"), 2)
    159.61
    """
    from molmass import Formula, FormulaError

    if not re.fullmatch(r"[A-Za-z0-9()\[\]]+", formula):
        raise InputError("formula", repr(formula), "element symbols with counts and brackets", "KAl(SO4)2")
    try:
        return float(Formula(formula).mass)
    except FormulaError as error:
        reason = str(error).splitlines()[0]
        raise InputError("formula", repr(formula), f"a chemical formula ({reason})", "CuSO4") from None


@dataclass(frozen=True, slots=True)
class Hydrate:
    """A solid written as salt and crystal water; ``form`` tells two crystal forms of the same water apart."""

    anhydrous: str
    waters: float
    form: str = ""

    @classmethod
    def parse(cls, text: str) -> Hydrate:
        """Read ``"CuSO4.5H2O"``, ``"FeCl3·3.5H2O"``, ``"NaCl"`` or ``"NiSO4.6H2O-alpha"``.

        Examples
        --------
        >>> Hydrate.parse("FeCl3.3.5H2O").waters
        3.5
        >>> Hydrate.parse("NaCl")
        Hydrate(anhydrous='NaCl', waters=0.0, form='')
        """
        stripped = text.strip()
        if _MOIST.match(stripped):
            raise InputError("formula", repr(text), "a salt, not water alone", "CuSO4.5H2O")
        found = _WATER.match(stripped)
        if found is None:
            molar_mass_g_mol(stripped)
            return cls(stripped, 0.0)
        salt = found["salt"].strip()
        # "FeCl3.3.5H2O": the lazy salt match stops at the first dot, so the number keeps its fraction.
        molar_mass_g_mol(salt)
        return cls(salt, float(found["waters"] or 1.0), found["form"] or "")

    @property
    def molar_mass_g_mol(self) -> float:
        """Grams per mole of the hydrate."""
        return molar_mass_g_mol(self.anhydrous) + self.waters * WATER_G_MOL

    @property
    def salt_mass_fraction(self) -> float:
        """Mass of anhydrous salt per mass of the hydrate, between 0 and 1.

        Examples
        --------
        >>> round(Hydrate.parse("CuSO4.5H2O").salt_mass_fraction, 4)
        0.6392
        """
        return composition_mass_fraction(self.anhydrous, self.waters)


def composition_mass_fraction(anhydrous: str, waters: float | None) -> float:
    """Mass fraction of anhydrous salt in the solid with that many waters; ice (None) has 0."""
    if waters is None:
        return 0.0
    salt = molar_mass_g_mol(anhydrous)
    return salt / (salt + waters * WATER_G_MOL)


WATER_G_MOL = molar_mass_g_mol("H2O")
