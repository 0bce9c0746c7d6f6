"""Numbers and units out of text: the one pint registry, and what a number may look like."""

from __future__ import annotations

import math
import re
import sys
from dataclasses import dataclass
from difflib import get_close_matches
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Any, cast

from crystal.errors import InputError

if TYPE_CHECKING:
    import pint

LONGEST = 200  # characters; a longer text is no quantity, and its digits would be slow to turn into a number
NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
WORD = r"[A-Za-zµμ]+"

_THOUSANDS = re.compile(r"(?<=[0-9])[\u2009\u202f](?=[0-9]{3}(?![0-9]))")
_CHARACTERS = str.maketrans({"−": "-", "–": "-", "‐": "-", "‑": "-", "⁄": "/", "∕": "/", "º": "°", "˚": "°"})
_RAISED = str.maketrans("²³", "23")
_LIKE_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9])")
_NUMBER_UNIT = re.compile(rf"(?P<number>{NUMBER}) ?(?P<unit>.*)")
_FLUID_OUNCE = re.compile(r"fl(?:uid)?[. _]*(?:oz|ounces?)", re.IGNORECASE)
_COUNTRY = re.compile(r"(?:(?P<us>us|u\.s\.)|(?:imp\.?|imperial|uk|u\.k\.))[ _]+(?P<unit>.+)", re.IGNORECASE)
_POWER = re.compile(rf"(?P<unit>{WORD}) ?(?:\^|\*\*)?(?P<power>[23])")
_NAME = re.compile(r"[A-Za-zµμ_]+(?: [A-Za-z]+){0,2}")
_DIVIDED = re.compile(r" ?/ ?| per ")

# Read by the letter these are real units, but at a bench they are nearly always slips of the pen.
_SLIPS = {
    "ML": "mL (ML is a million litres)",
    "Ml": "mL (Ml is a million litres)",
    "Mg": "mg (Mg is a tonne)",
    "mt": "t or kg (mt is a thousandth of a tonne)",
    "gr": "g (gr is the grain, 0.065 g; write grain if it is meant)",
    "grs": "g (gr is the grain, 0.065 g; write grain if it is meant)",
    "ton": "t, short_ton or long_ton (ton differs between countries)",
    "tons": "t, short_ton or long_ton (ton differs between countries)",
}


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of input: its noun, the pint unit it is read into, an example, and its usual units."""

    noun: str
    unit: str
    example: str
    usual: tuple[str, ...]

    @property
    def must_be(self) -> str:
        """The kind said as a demand, with the usual units."""
        return f"{self.noun} with its unit ({', '.join(self.usual)})"


def fault(what: str, got: object, must_be: str, example: str = "") -> InputError:
    """The error for one input, with long input cut short."""
    shown = repr(got)
    return InputError(what, shown if len(shown) <= 60 else shown[:57] + "...", must_be, example)


@cache
def registry() -> pint.UnitRegistry[Any]:
    """The one registry; it counts in exact fractions, so that 41 degF is 5 degC and not 5.00000000000006."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


def is_quantity(value: object) -> bool:
    """Whether a value is a pint quantity; whoever made one has imported pint already."""
    pint_module = sys.modules.get("pint")
    return pint_module is not None and isinstance(value, pint_module.Quantity)


def tidy(text: object, *, what: str, must_be: str, example: str) -> str:
    """A text with plain minus signs, slashes and single spaces; thin spaces between thousands are closed up.

    Anything but text is refused, plain numbers with the remark that the unit is missing.
    """
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        raise fault(what, text, f"{must_be}; the number needs a unit: {example}")
    if not isinstance(text, str):
        raise fault(what, text, must_be, example)
    if len(text) > LONGEST:
        raise fault(what, text, f"{must_be}, in at most {LONGEST} characters", example)
    plain = " ".join(_THOUSANDS.sub("", text).translate(_CHARACTERS).split())
    if not plain:
        raise fault(what, text, must_be, example)
    return plain


def number(text: str, *, what: str, got: object) -> Fraction:
    """The exact value of a text that matches ``NUMBER``; a comma that may part thousands is refused."""
    if _LIKE_THOUSANDS.match(text):
        dotted, closed = text.replace(",", "."), text.replace(",", "")
        raise fault(what, got, f"without doubt about the comma: write {dotted} or {closed}")
    plain = text.replace(",", ".")
    if not math.isfinite(float(plain)):
        raise fault(what, got, "a finite number")
    return Fraction(plain)


def find_unit(text: str, *, what: str, got: object) -> pint.Unit | None:
    """The unit of that name, or of that name per another; None where there is none."""
    top, *below = _DIVIDED.split(text)
    unit = _one_unit(top, what=what, got=got)
    if unit is None or not below:
        return unit
    per = _one_unit(below[0], what=what, got=got) if len(below) == 1 else None
    return None if per is None else cast("pint.Unit", unit / per)


def _one_unit(text: str, *, what: str, got: object) -> pint.Unit | None:
    from pint.errors import PintError

    name = re.sub(r"(?<=[A-Za-z])[²³]$", lambda raised: raised[0].translate(_RAISED), text)
    name = name.removesuffix(".")
    if name in _SLIPS:
        raise fault(what, got, f"in a unit that cannot be mistaken: write {_SLIPS[name]}")
    prefix = ""
    if country := _COUNTRY.fullmatch(name):
        name = country["unit"]
        prefix = "" if country["us"] else "imperial_"
    if _FLUID_OUNCE.fullmatch(name):
        name = "fluid_ounce"
    power = _POWER.fullmatch(name)
    if power:
        name = power["unit"]
    if not _NAME.fullmatch(name):
        return None
    try:
        full = registry().get_name(name.replace(" ", "_"))
        if prefix:
            full = registry().get_name(prefix + full)
        unit = registry().Unit(full)
    except PintError:
        return None
    return cast("pint.Unit", unit ** int(power["power"])) if power else unit


def same_kind(unit: pint.Unit, other: str) -> bool:
    """Whether two units measure the same thing."""
    return bool(unit.dimensionality == registry().Unit(other).dimensionality)


def converted(value: Fraction, unit: pint.Unit, to: str, *, what: str, got: object) -> float:
    """A value in another unit of its kind, rounded once."""
    try:
        return float(registry().Quantity(value, unit).to(to).magnitude)
    except OverflowError:
        raise fault(what, got, "a number of a size that occurs") from None


def from_quantity(value: Any, *, what: str) -> tuple[Fraction, pint.Unit, str]:
    """Number, unit and unit's name of a pint quantity of any registry, in the terms of this one."""
    from pint.errors import PintError

    try:
        name = f"{value.units:D}"
        # By name: units of two registries do not mix.
        return Fraction(float(value.magnitude)), registry().parse_units(name), name
    except (PintError, TypeError, ValueError, OverflowError):
        raise fault(what, value, "one finite number with a unit") from None


def split(text: str, kind: Kind, *, what: str, got: object) -> tuple[Fraction, str]:
    """Number and unit text of ``"5 degC"``; a missing number or unit is refused."""
    found = _NUMBER_UNIT.fullmatch(text)
    if found is None:
        raise fault(what, got, f"a number, then a unit: {kind.must_be}", kind.example)
    if re.match(r"[0-9.,]", found["unit"]):
        raise fault(
            what,
            got,
            f"one number, with no space or mark between thousands, then a unit: {kind.must_be}",
            kind.example,
        )
    if found["unit"].startswith("/"):
        raise fault(what, got, f"a decimal number where it has a unit: {kind.must_be}", kind.example)
    if not found["unit"]:
        raise fault(what, got, f"{kind.must_be}; the number needs a unit: {kind.example}")
    return number(found["number"], what=what, got=got), found["unit"]


def unknown(unit: str, kind: Kind, *, what: str, got: object) -> InputError:
    """The error for a unit of another kind, or one that nobody knows, with those that look like it."""
    if kind.unit == "mL" and unit in ("oz", "ounce", "ounces"):
        return fault(what, got, "a volume, and oz is a mass: write fl oz for fluid ounces", "8 fl oz")
    close: list[str] = []
    if find_unit(unit, what=what, got=got) is None:
        folded = {name.casefold(): name for name in kind.usual}
        close = [folded[name] for name in get_close_matches(unit.casefold(), folded, n=3, cutoff=0.5)]
    hint = f"; did you mean {' or '.join(close)}?" if close else ""
    return fault(what, got, f"{kind.must_be}, and {unit!r} is none of its units{hint}", kind.example)


def measure(text: object, kind: Kind, *, what: str) -> float:
    """A text or quantity of one kind as a positive float in the kind's unit."""
    return positive(signed(text, kind, what=what), kind, what=what, got=text)


def signed(text: object, kind: Kind, *, what: str) -> float:
    """A text or quantity of one kind as a float in the kind's unit, of either sign."""
    if is_quantity(text):
        value, unit, name = from_quantity(text, what=what)
    else:
        plain = tidy(text, what=what, must_be=kind.must_be, example=kind.example)
        value, name = split(plain, kind, what=what, got=text)
        found = find_unit(name, what=what, got=text)
        if found is None:
            raise unknown(name, kind, what=what, got=text)
        unit = found
    if not same_kind(unit, kind.unit):
        raise unknown(name, kind, what=what, got=text)
    return converted(value, unit, kind.unit, what=what, got=text)


def positive(value: float, kind: Kind, *, what: str, got: object) -> float:
    """The value, refused unless more than zero and finite."""
    if not 0 < value < math.inf:
        raise fault(what, got, f"{kind.noun} of more than 0 {kind.unit}, and finite", kind.example)
    return value
