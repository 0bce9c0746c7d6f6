"""Amounts of a salt, sizes at which a reduction ends, and water taken out."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from crystal.physics.formula import Hydrate
from crystal.units.measures import DENSITY, MASS, VOLUME, listed, mass_g
from crystal.units.quantity import (
    NUMBER,
    Kind,
    converted,
    fault,
    find_unit,
    from_quantity,
    is_quantity,
    number,
    positive,
    same_kind,
    split,
    tidy,
    unknown,
)
from crystal.units.strength import Strength, salt, strength_of

SizeKind = Literal["volume_mL", "mass_g", "fraction", "density_g_mL", "strength"]
RemovalKind = Literal["water_g", "water_fraction"]

WATER_20C_G_ML = 0.9982  # IAPWS-95: 998.21 kg/m3 at 20 degC and 101.325 kPa
LIGHTEST_SOLUTION_G_ML = 0.9  # water at its boiling point has 0.958 and salt only adds; below is a slip

_AMOUNT = re.compile(
    rf"(?P<number>{NUMBER}) ?(?P<unit>[A-Za-zµμ][A-Za-z_ ]*?)(?: of (?P<of>.+)| (?P<salt>[A-Z(\[].*))?"
)
_PART = re.compile(rf"(?P<number>{NUMBER})(?: ?/ ?(?P<by>{NUMBER}))?(?P<start> of the start)?")
_PERCENT = re.compile(rf"(?P<number>{NUMBER}) ?(?:%|percent)(?: of the start)?")
_BARE = re.compile(NUMBER)
_OF_WATER = re.compile(r" of (?:the )?water$")

_SIZE = Kind(
    "an end size: a volume, a mass, a part of the start, a density or a strength,",
    "",
    "150 mL",
    ("mL", "L", "g", "kg", "%", "g/mL", "% w/w", "mol/L"),
)
_MEASURED: tuple[tuple[SizeKind, Kind], ...] = (
    ("volume_mL", VOLUME),
    ("mass_g", MASS),
    ("density_g_mL", DENSITY),
)
_REMOVED = Kind(
    "water taken out, by mass or volume or as a part of the water,", "", "300 g", ("g", "kg", "mL", "L", "%")
)


@dataclass(frozen=True, slots=True)
class Amount:
    """Grams of a salt as weighed; ``formula`` is None where the text does not name it."""

    formula: Hydrate | None
    grams: float

    @property
    def anhydrous_g(self) -> float | None:
        """Grams of anhydrous salt in it; None without a formula, for then only the caller can know."""
        return None if self.formula is None else self.grams * self.formula.salt_mass_fraction


@dataclass(frozen=True, slots=True)
class Size:
    """Where a reduction ends; ``fraction`` is a part of the start, ``strength`` carries its Strength."""

    kind: SizeKind
    value: float
    strength: Strength | None = None


def amount_of(text: object, *, what: str) -> Amount:
    """Read an amount of a salt, weighed or in moles.

    Parameters
    ----------
    text : str or pint.Quantity
        "120 g of CuSO4.5H2O", "0.48 mol CuSO4", "120 g"; moles need a formula.
    what : str
        The input's name, for the error.

    Returns
    -------
    Amount
        Grams of the salt as its formula is written, more than 0.

    Examples
    --------
    >>> amount = amount_of("120 g of CuSO4.5H2O", what="--salt")
    >>> amount.grams, round(amount.anhydrous_g, 2)
    (120.0, 76.71)
    """
    if is_quantity(text):
        return Amount(None, mass_g(text, what=what))
    must_be = "an amount of salt, as a mass or in moles"
    plain = tidy(text, what=what, must_be=must_be, example="120 g of CuSO4.5H2O")
    found = _AMOUNT.fullmatch(plain)
    if found is None:
        return Amount(None, mass_g(text, what=what))
    unit = find_unit(found["unit"], what=what, got=text)
    if unit is None or not (same_kind(unit, "g") or same_kind(unit, "mol")):
        raise unknown(found["unit"], MASS, what=what, got=text)
    value = number(found["number"], what=what, got=text)
    formula = salt(found["of"] or found["salt"], what=what, got=text)
    if same_kind(unit, "g"):
        grams = converted(value, unit, "g", what=what, got=text)
    elif formula is None:
        raise fault(what, text, "with a formula, as it is in moles", "0.48 mol of CuSO4")
    else:
        grams = converted(value, unit, "mol", what=what, got=text) * formula.molar_mass_g_mol
    return Amount(formula, positive(grams, MASS, what=what, got=text))


def end_size(text: object, *, what: str) -> Size:
    """Read the size at which a reduction ends.

    A percentage alone is a part of the start; with "w/w" it is a strength. Mass per volume ("1.25 g/mL") is
    the solution's density; with "of solution" or a number below the line ("35 g/100 mL") it is a strength.

    Parameters
    ----------
    text : str or pint.Quantity
        "150 mL", "180 g", "40 %", "0.4", "1/8 of the start", "1.25 g/mL" (at least 0.9), "26 % w/w".
    what : str
        The input's name, for the error.

    Returns
    -------
    Size
        In mL, g or g/mL, a fraction of more than 0 and at most 1, or a strength.

    Examples
    --------
    >>> end_size("1/8", what="--end")
    Size(kind='fraction', value=0.125, strength=None)
    >>> end_size("26 % w/w", what="--end").strength
    Strength(kind='mass_fraction', value=0.26, formula=None)
    """
    if is_quantity(text):
        value, unit, name = from_quantity(text, what=what)
    else:
        plain = tidy(text, what=what, must_be=_SIZE.must_be, example=_SIZE.example)
        if (part := _part(plain, what=what, got=text)) is not None:
            return Size("fraction", part)
        value, name = split(plain, _SIZE, what=what, got=text)
        found = find_unit(name, what=what, got=text)
        if found is None or not any(same_kind(found, kind.unit) for _, kind in _MEASURED):
            strong = strength_of(plain, what=what, got=text)
            if strong is None:
                raise unknown(name, _SIZE, what=what, got=text)
            return Size("strength", strong.value, strong)
        unit = found
    for name_of_kind, kind in _MEASURED:
        if same_kind(unit, kind.unit):
            size = positive(converted(value, unit, kind.unit, what=what, got=text), kind, what=what, got=text)
            if kind is DENSITY and size < LIGHTEST_SOLUTION_G_ML:
                must_be = "a density of at least 0.9 g/mL; write salt per volume as '350 g/L of solution'"
                raise fault(what, text, must_be, DENSITY.example)
            return Size(name_of_kind, size)
    raise unknown(name, _SIZE, what=what, got=text)


def end_sizes(text: object, *, what: str) -> list[Size]:
    """Read a list of end sizes, each with its own unit.

    Parameters
    ----------
    text : str
        "300 mL, 250 mL, 40 %" or with semicolons, which let a comma be a decimal comma.
    what : str
        The input's name, for the error.

    Returns
    -------
    list of Size
        In the order given. A bare number before one with a unit ("0.5, 1 L") is refused, as it is in doubt.

    Examples
    --------
    >>> [size.value for size in end_sizes("300 mL, 250 mL, 40 %", what="--end")]
    [300.0, 250.0, 0.4]
    """
    if is_quantity(text):
        return [end_size(text, what=what)]
    plain = tidy(text, what=what, must_be=_SIZE.must_be, example=_SIZE.example)
    items = listed(plain, what=what, got=text, example="300 mL, 250 mL, 40 %")
    bare = [_BARE.fullmatch(item) is not None for item in items]
    if any(bare) and not all(_PART.fullmatch(item) for item in items[bare.index(True) :]):
        raise fault(
            what, text, "sizes with a unit each (0.5 L, 1 L), or parts of the start as 50 %", "300 mL, 40 %"
        )
    return [end_size(item, what=what) for item in items]


def _part(plain: str, *, what: str, got: object) -> float | None:
    """The part of the start that a text says, None where it has a unit."""
    if found := _PERCENT.fullmatch(plain):
        part = number(found["number"], what=what, got=got) / 100
    elif found := _PART.fullmatch(plain):
        part = number(found["number"], what=what, got=got)
        below = number(found["by"], what=what, got=got) if found["by"] else Fraction(1)
        if below == 0:
            raise fault(what, got, "a part of the start that does not divide by 0", "1/8")
        part /= below
        if not found["by"] and not found["start"] and part >= 1:
            raise fault(what, got, f"{_SIZE.must_be}; the number needs a unit", _SIZE.example)
    else:
        return None
    # Held against its bounds as a float, which may round to 0.
    if part > 1 or not float(part) > 0:
        raise fault(what, got, "a part of the start of more than 0 and at most 1 (100 %)", "40 %")
    return float(part)


def removal(text: object, *, what: str) -> tuple[RemovalKind, float]:
    """Read how much water is taken out.

    A volume is water measured at 20 °C, so it is taken as 0.9982 g/mL.

    Parameters
    ----------
    text : str or pint.Quantity
        "300 g", "300 mL of water", "5 %" or "5 % of the water".
    what : str
        The input's name, for the error.

    Returns
    -------
    tuple of (str, float)
        ("water_g", grams of more than 0) or ("water_fraction", between 0 and 1).

    Examples
    --------
    >>> removal("5 % of the water", what="--remove")
    ('water_fraction', 0.05)
    >>> kind, grams = removal("300 mL", what="--remove")
    >>> kind, round(grams, 2)
    ('water_g', 299.46)
    """
    if is_quantity(text):
        value, unit, name = from_quantity(text, what=what)
    else:
        plain = tidy(text, what=what, must_be=_REMOVED.must_be, example=_REMOVED.example)
        plain = _OF_WATER.sub("", plain)
        value, name = split(plain, _REMOVED, what=what, got=text)
        if name in ("%", "percent"):
            fraction = float(value / 100)
            if not 0 < fraction < 1:
                raise fault(what, text, "a part of the water between 0 and 100 %", "5 %")
            return "water_fraction", fraction
        found = find_unit(name, what=what, got=text)
        if found is None:
            raise unknown(name, _REMOVED, what=what, got=text)
        unit = found
    if same_kind(unit, "g"):
        return "water_g", positive(
            converted(value, unit, "g", what=what, got=text), MASS, what=what, got=text
        )
    if same_kind(unit, "mL"):
        volume = positive(converted(value, unit, "mL", what=what, got=text), VOLUME, what=what, got=text)
        return "water_g", volume * WATER_20C_G_ML
    raise unknown(name, _REMOVED, what=what, got=text)
