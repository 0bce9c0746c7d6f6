"""A solution as a person writes it, how much of it or of a substance, and parts of a whole."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

from crystal.errors import InputError
from crystal.units.measures import DENSITY, density_g_mL, temperature_C
from crystal.units.quantity import (
    NUMBER,
    Kind,
    converted,
    fault,
    find_unit,
    number,
    same_kind,
    tidy,
    unknown,
)
from crystal.units.strength import Strength, strength_of

SolutionKind = Literal["strength", "density_g_mL", "specific_gravity", "baume", "volumes", "water"]
TakenKind = Literal["g", "mL", "mol"]

LIGHTEST_G_ML = 0.6  # of a solution of a bench; below is a slip or a strength
SOLUTION_MUST_BE = (
    "a solution with its strength: 31 % w/w, 180 g/L, 2 mol/L, a density (1.18 g/mL), sg 1.18, degrees Baume (42 Be) or, of "
    "peroxide, volumes"
)
AMOUNT_MUST_BE = "an amount: a mass, moles or a volume of something"

_SOLUTE = r"(?: (?:of )?(?P<solute>\S.*))?"
_DENSITY = re.compile(
    rf"(?P<density>{NUMBER} ?(?:g ?/ ?(?:mL|ml|cm3|cm³|cc)|kg ?/ ?(?:L|l|m3|m³|dm3|dm³)|lb ?/ ?gal))"
    rf"(?: ?(?:at|@) (?P<at>[+-]?[0-9.]+ ?(?:°|deg)? ?[CFK])(?![A-Za-z]))?{_SOLUTE}"
)
_GRAVITY = re.compile(
    rf"(?:(?P<before>{NUMBER}) )?(?i:s\.?g\.?|sp\.? ?gr\.?|specific gravity)(?: (?:of )?(?P<after>{NUMBER}))?{_SOLUTE}"
)
_BAUME = re.compile(
    rf"(?P<number>{NUMBER}) ?(?:°|(?i:deg(?:rees?)?))? ?(?i:b[eé]|baum[eé])\.?"
    rf"(?: \(?(?P<scale>(?i:us|american|rational))\)?(?![A-Za-z]))?{_SOLUTE}"
)
_VOLUMES = re.compile(
    rf"(?P<number>{NUMBER})[ -]?(?i:vol(?:ume)?s?)\b\.?(?! ?-?%)(?: (?i:strength))?{_SOLUTE}"
)
_WATER = re.compile(r"(?i:(?:distilled |deioni[sz]ed |pure |tap )?water|H2O)")
_TAKEN = re.compile(
    rf"(?P<number>{NUMBER}) ?(?P<unit>fl\.? ?oz|[A-Za-zµμ]+(?:\^?[23]|[²³])?)(?: (?:of )?(?P<of>\S.*))?"
)
_SHARE = re.compile(rf"(?P<number>{NUMBER}) ?(?P<percent>%|percent)?")
_AMOUNT = Kind(AMOUNT_MUST_BE, "", "32.7 g", ("g", "kg", "mol", "mL", "L"))


@dataclass(frozen=True, slots=True)
class SolutionText:
    """What a text says of a solution.

    ``value`` is on the basis of ``kind``; a strength carries its Strength besides. ``solute`` is the formula or name as it
    was written, blank where none was. ``scale`` is ``US``, ``rational`` or blank; ``temperature_C`` that of a density.
    """

    kind: SolutionKind
    value: float = 0.0
    solute: str = ""
    strength: Strength | None = None
    scale: str = ""
    temperature_C: float | None = None


@dataclass(frozen=True, slots=True)
class Taken:
    """So much of something: ``of`` is what follows the amount, as it was written, blank where nothing does."""

    kind: TakenKind
    value: float
    of: str = ""


def solution(text: object, *, what: str) -> SolutionText:
    """Read a solution: its strength on any basis and, where it is said, its solute.

    Mass per volume is a density where it is written per mL, cm3, kg/L, kg/m3 or lb/gal ("1.18 g/mL"), a strength where it
    is written "180 g/L", "18 g/100 mL" or "of solution".

    Parameters
    ----------
    text : str
        "31 % w/w HCl", "1.5 mol/L", "1.18 g/mL HCl", "sg 1.84 H2SO4", "42 Be US HNO3", "10 volumes H2O2", "water".
    what : str
        The input's name, for the error.

    Returns
    -------
    SolutionText

    Examples
    --------
    >>> found = solution("31 % w/w muriatic acid", what="--stock")
    >>> found.strength.value, found.solute
    (0.31, 'muriatic acid')
    >>> solution("42 °Bé HNO3", what="--stock").kind
    'baume'
    """
    plain = tidy(text, what=what, must_be=SOLUTION_MUST_BE, example="31 % w/w HCl")
    plain = unicodedata.normalize("NFC", plain)
    if _WATER.fullmatch(plain):
        return SolutionText("water")
    if found := _BAUME.fullmatch(plain):
        degrees = float(number(found["number"], what=what, got=text))
        scale = {"": "", "rational": "rational"}.get((found["scale"] or "").lower(), "US")
        return SolutionText("baume", degrees, found["solute"] or "", scale=scale)
    if found := _GRAVITY.fullmatch(plain):
        if bool(found["before"]) == bool(found["after"]):
            raise fault(what, text, "one number with a specific gravity", "sg 1.84 H2SO4")
        gravity = float(number(found["before"] or found["after"], what=what, got=text))
        return SolutionText("specific_gravity", gravity, found["solute"] or "")
    if found := _VOLUMES.fullmatch(plain):
        volumes = float(number(found["number"], what=what, got=text))
        return SolutionText("volumes", volumes, found["solute"] or "")
    found = _DENSITY.fullmatch(plain)
    if found and not (found["solute"] or "").startswith("solution"):
        density = density_g_mL(found["density"], what=what)
        if density < LIGHTEST_G_ML:
            must_be = (
                f"a density of at least {LIGHTEST_G_ML} g/mL; a strength per volume is written as '180 g/L'"
            )
            raise fault(what, text, must_be, DENSITY.example)
        at = None if found["at"] is None else temperature_C(found["at"], what=what)
        return SolutionText("density_g_mL", density, found["solute"] or "", temperature_C=at)
    return _by_strength(plain, what=what, got=text)


def _by_strength(plain: str, *, what: str, got: object) -> SolutionText:
    """The longest beginning that is a strength; what follows it is the solute's name."""
    words = plain.split(" ")
    first: InputError | None = None
    for count in range(len(words), 0, -1):
        rest = " ".join(words[count:]).removeprefix("of ")
        if rest.startswith(("/", "%")):
            continue
        try:
            found = strength_of(" ".join(words[:count]), what=what, got=got)
        except InputError as error:
            first = first or error
            continue
        if found is not None:
            solute = rest or ("" if found.formula is None else found.formula.anhydrous)
            return SolutionText("strength", found.value, solute, strength=found)
    raise first or fault(what, got, SOLUTION_MUST_BE, "31 % w/w HCl")


def taken(text: object, *, what: str) -> Taken:
    """Read an amount of anything, with what it is of.

    Parameters
    ----------
    text : str
        "32.7 g", "0.5 mol", "500 g of 12 % w/w", "200 mL of 31 % w/w HCl", "100 mL of water".
    what : str
        The input's name, for the error.

    Returns
    -------
    Taken
        g, mL or mol, more than 0.

    Examples
    --------
    >>> taken("0.2 L of 31 % w/w HCl", what="--mix")
    Taken(kind='mL', value=200.0, of='31 % w/w HCl')
    """
    plain = tidy(text, what=what, must_be=AMOUNT_MUST_BE, example=_AMOUNT.example)
    found = _TAKEN.fullmatch(plain)
    if found is None:
        raise fault(what, text, f"{AMOUNT_MUST_BE}, as a number with its unit", _AMOUNT.example)
    unit = find_unit(found["unit"], what=what, got=text)
    kinds: tuple[TakenKind, ...] = ("g", "mL", "mol")
    for name in kinds:
        if unit is not None and same_kind(unit, name):
            value = converted(number(found["number"], what=what, got=text), unit, name, what=what, got=text)
            if not 0 < value < float("inf"):
                raise fault(what, text, f"an amount of more than 0 {name}, and finite", _AMOUNT.example)
            return Taken(name, value, found["of"] or "")
    raise unknown(found["unit"], _AMOUNT, what=what, got=text)


def share(text: object, *, what: str, example: str = "95 %") -> float:
    """Read a part of a whole, from 0 to 1.

    Examples
    --------
    >>> share("95 %", what="--converted"), share("0.02", what="--lost")
    (0.95, 0.02)
    """
    must_be = "a part of the whole, from 0 to 100 %"
    plain = tidy(text, what=what, must_be=must_be, example=example)
    found = _SHARE.fullmatch(plain)
    if found is None:
        raise fault(what, text, must_be, example)
    value = float(number(found["number"], what=what, got=text) / (100 if found["percent"] else 1))
    if not 0.0 <= value <= 1.0:
        hint = "" if found["percent"] else "; a percentage is written with its sign"
        raise fault(what, text, must_be + hint, example)
    return value
