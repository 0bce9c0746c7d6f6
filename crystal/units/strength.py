"""How strong a solution is: five ways to say it, kept apart, for each has its own basis."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from crystal.errors import InputError
from crystal.physics.formula import Hydrate
from crystal.units.quantity import NUMBER, WORD, converted, fault, find_unit, number, same_kind, tidy

StrengthKind = Literal["mass_fraction", "g_per_g_water", "g_per_mL", "mol_per_L", "mol_per_kg_water"]

STRENGTH_MUST_BE = "a strength (18 % w/w, 35 g/100 g water, 350 g/L, 1.5 mol/L or 2 mol/kg)"

_SALT = r"[A-Z(\[].*"
_PERCENT = re.compile(
    rf"(?P<number>{NUMBER}) ?(?:"
    r"(?P<wv>(?i:(?:%|percent) ?\(?[wm]/v\)?|\(?[wm]/v\)? ?%))"
    r"|(?P<vv>(?i:(?:%|percent|vol\.?[ -]*%) ?\(?v/v\)?|\(?v/v\)? ?%|vol(?:ume)?\.?[ -]*%))"
    r"|(?P<ww>(?i:(?:%|percent)(?: ?\(?[wm]/[wm]\)?| by (?:mass|weight))?|\(?[wm]/[wm]\)? ?%"
    r"|(?:wt|mass|weight)\.?[ -]*(?:%|percent)))"
    r")(?: (?:of )?(?P<salt>.+))?"
)
_RATIO = re.compile(
    rf"(?P<number>{NUMBER}) ?(?P<top>{WORD})(?: (?:of )?(?P<first_salt>[A-Z(\[][^/]*?))?(?: ?/ ?| per )"
    rf"(?P<per>{NUMBER})? ?(?P<bottom>(?:US )?fl\.? ?oz|{WORD}(?:\^?[23]|[²³])?)"
    rf"(?: (?:of )?(?P<basis>water|H2O|solution))?(?: (?:of )?(?P<salt>{_SALT}))?"
)
_ALONE = re.compile(rf"(?P<number>{NUMBER}) ?(?P<unit>{WORD})(?: (?:of )?(?P<salt>{_SALT}))?")

_SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_DOTS = str.maketrans({"∙": "·", "⋅": "·", "‧": "·", "・": "·"})


@dataclass(frozen=True, slots=True)
class Strength:
    """A strength with its basis; ``formula`` says what the salt is weighed or counted as, if known.

    ``mass_fraction`` is per mass of the whole solution, ``g_per_mL`` and ``mol_per_L`` per volume of it;
    ``g_per_g_water`` and ``mol_per_kg_water`` are per mass of the water alone.
    """

    kind: StrengthKind
    value: float
    formula: Hydrate | None = None


def strength(text: object, *, what: str) -> Strength:
    """Read a strength; percent alone is taken as mass percent of the solution.

    Parameters
    ----------
    text : str
        "18 % w/w", "18 wt%", "35 g/100 g water", "35 g/100 mL", "350 g/L", "1.5 M", "2 mol/kg" (of water),
        "5 % w/v"; the salt may follow: "18 % w/w of CuSO4.5H2O".
    what : str
        The input's name, for the error.

    Returns
    -------
    Strength
        Kind and value; a mass fraction lies between 0 and 1, the others are more than 0. A text that leaves
        the basis open ("35 g/100 g", "2 m") is an InputError.

    Examples
    --------
    >>> strength("18 % w/w of CuSO4.5H2O", what="--strength")
    Strength(kind='mass_fraction', value=0.18, formula=Hydrate(anhydrous='CuSO4', waters=5.0, form=''))
    >>> strength("35 g/100 g water", what="--strength").kind
    'g_per_g_water'
    """
    plain = tidy(text, what=what, must_be=STRENGTH_MUST_BE, example="18 % w/w")
    found = strength_of(plain, what=what, got=text)
    if found is None:
        raise fault(what, text, STRENGTH_MUST_BE, "18 % w/w")
    return found


def strength_of(plain: str, *, what: str, got: object) -> Strength | None:
    """The strength that a tidy text says, None where it has the form of none."""
    if found := _PERCENT.fullmatch(plain):
        return _percent(found, what=what, got=got)
    if found := _RATIO.fullmatch(plain):
        return _ratio(found, what=what, got=got)
    if found := _ALONE.fullmatch(plain):
        return _alone(found, what=what, got=got)
    return None


def salt(text: str | None, *, what: str, got: object) -> Hydrate | None:
    """The formula in a text, None for no text."""
    if text is None:
        return None
    plain = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text.translate(_SUBSCRIPTS).translate(_DOTS))
    try:
        return Hydrate.parse(plain)
    except InputError as error:
        raise fault(what, got, f"with a formula that can be read: {error.must_be}", error.example) from None


def _made(kind: StrengthKind, value: float, salt_text: str | None, *, what: str, got: object) -> Strength:
    if not value > 0:
        raise fault(what, got, "a strength of more than 0", "18 % w/w")
    if kind == "mass_fraction" and not value < 1:
        raise fault(what, got, "a mass fraction between 0 and 1 (below 100 % of the solution)", "18 % w/w")
    return Strength(kind, value, salt(salt_text, what=what, got=got))


def _percent(found: re.Match[str], *, what: str, got: object) -> Strength:
    if found["vv"]:
        raise fault(what, got, "by mass, or mass per volume: a salt has no percent by volume", "5 % w/v")
    value = float(number(found["number"], what=what, got=got) / 100)
    # Percent w/v is grams in 100 mL of solution.
    return _made("g_per_mL" if found["wv"] else "mass_fraction", value, found["salt"], what=what, got=got)


def _ratio(found: re.Match[str], *, what: str, got: object) -> Strength | None:
    top = find_unit(found["top"], what=what, got=got)
    bottom = find_unit(found["bottom"], what=what, got=got)
    if top is None or bottom is None:
        return None
    moles, per_mass = same_kind(top, "mol"), same_kind(bottom, "g")
    if not (moles or same_kind(top, "g")) or not (per_mass or same_kind(bottom, "mL")):
        return None
    basis = "water" if found["basis"] == "H2O" else found["basis"]
    if not per_mass and basis == "water":
        raise fault(what, got, "per mass of water, or per volume of solution", "35 g/100 g water")
    kind: StrengthKind
    if not per_mass:
        kind, unit = ("mol_per_L", "mol/L") if moles else ("g_per_mL", "g/mL")
    elif moles:
        if basis == "solution":
            raise fault(what, got, "moles per kg of water or per L of solution", "2 mol/kg")
        kind, unit = "mol_per_kg_water", "mol/kg"
    elif basis is None:
        raise fault(
            what, got, "with its basis: write 'g water' or 'g solution' at the end", "35 g/100 g water"
        )
    else:
        kind, unit = ("g_per_g_water" if basis == "water" else "mass_fraction"), "g/g"
    if found["first_salt"] and found["salt"]:
        raise fault(what, got, "with the salt named once", "35 g/100 g water of CuSO4")
    per = number(found["per"], what=what, got=got) if found["per"] else Fraction(1)
    if per <= 0:
        raise fault(what, got, "per an amount of more than 0", "35 g/100 g water")
    value = converted(
        number(found["number"], what=what, got=got) / per, top / bottom, unit, what=what, got=got
    )
    return _made(kind, value, found["first_salt"] or found["salt"], what=what, got=got)


def _alone(found: re.Match[str], *, what: str, got: object) -> Strength | None:
    value = number(found["number"], what=what, got=got)
    if found["unit"] == "m":
        raise fault(
            what, got, "without doubt: m may be molal or metre; write 2 mol/kg or 2 mol/L", "2 mol/kg"
        )
    if found["unit"] == "molal":
        return _made("mol_per_kg_water", float(value), found["salt"], what=what, got=got)
    unit = find_unit(found["unit"], what=what, got=got)
    if unit is None or not same_kind(unit, "mol/L"):
        return None
    result = converted(value, unit, "mol/L", what=what, got=got)
    return _made("mol_per_L", result, found["salt"], what=what, got=got)
