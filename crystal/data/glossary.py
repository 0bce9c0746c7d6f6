"""The glossary: for each quantity and each word of the answers what a person reads, its unit and what it counts.

Column titles, axis labels and help texts draw from it, so that one quantity is called by one name everywhere.
"""

from __future__ import annotations

import difflib
import re
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType

from crystal.data.catalogue import bundled_folder
from crystal.data.tables import Table
from crystal.errors import InputError

COLUMNS = ("key", "kind", "term", "heading", "symbol", "unit", "basis", "origin")
QUANTITY = "quantity"
KINDS = (QUANTITY, "count", "text", "truth", "group", "fact", "outcome", "step", "state", "zone", "standing", "cause",
         "verdict", "rule", "input", "method", "place", "kind", "provenance", "turn")  # fmt: skip

UNIT_OF_ENDING = {
    "g_per_100g_water": "g/100 g water",
    "mol_per_kg_water": "mol/kg water",
    "mol_per_L": "mol/L",
    "g_per_L": "g/L",
    "g_per_g": "g/g",
    "per_h": "1/h",
    "mass_percent": "mass %",
    "percent": "%",
    "g_mL": "g/mL",
    "g_h": "g/h",
    "kJ_g": "kJ/g",
    "degC": "°C",
    "degrees": "°Bé",
    "kPa": "kPa",
    "kJ": "kJ",
    "mL": "mL",
    "mm": "mm",
    "mol": "mol",
    "min": "min",
    "g": "g",
    "h": "h",
    "K": "K",
    "L": "L",
    "m": "m",
    "W": "W",
}
"""Unit by what a key ends in, the longest ending first; ``mass %`` is followed by what it is a share of."""

SHARES = ("1", "g/g", "mL/mL")
"""Units of a ``_fraction``: plain numbers, which a person reads as per cent."""

_NARROW, _UNIT_WIDTH = 7, 12
_SALT = re.compile(r"\b(?:anhydrous )?(?:salt|solute)\b")


def unit_of_key(key: str) -> str | None:
    """The unit that a key ends in; None where its ending names none.

    Examples
    --------
    >>> unit_of_key("end_volume_mL"), unit_of_key("liquor_mass_percent"), unit_of_key("outcome")
    ('mL', 'mass %', None)
    """
    for ending, unit in UNIT_OF_ENDING.items():
        if key == ending or key.endswith(f"_{ending}"):
            return unit
    return None


@dataclass(frozen=True, slots=True)
class Term:
    """One quantity or word.

    Parameters
    ----------
    key : str
        As programs read it; ``group.key`` where it means something else inside that group, ``key.word`` for a word
        that the key may hold.
    kind : str
        One of KINDS.
    term, heading : str
        What a person reads, in full and where room is scarce.
    symbol, unit, basis : str
        In formulas; as printed, blank for what is no quantity; what is counted per what, or what the word means.
    origin : str
        ``field`` (the trade's own word), ``standard: NAME`` (an open standard's, from memory) or ``ours``.
    """

    key: str
    kind: str
    term: str
    heading: str
    symbol: str
    unit: str
    basis: str
    origin: str

    def named(self, formula: str) -> Term:
        """The same of one substance: its formula stands for the word salt or solute."""
        term, heading = (_SALT.sub(formula, text, count=1) for text in (self.term, self.heading))
        return replace(self, term=term, heading=heading)

    def as_percent(self) -> Term:
        """A share as a person reads it, in per cent."""
        if self.unit not in SHARES:
            raise ValueError(f"{self.key} is in {self.unit!r}, no share that could be told in per cent")
        return replace(self, unit="%")

    def title(self, note: str = "") -> str:
        """Axis label: the term with a capital, then unit and note in brackets.

        Examples
        --------
        >>> Glossary.bundled().term("end_volume_mL").title("read at 20 °C")
        'End volume (mL, read at 20 °C)'
        """
        inside = ", ".join(part for part in (self._printed_unit, note) if part)
        text = self.term[:1].upper() + self.term[1:]
        return f"{text} ({inside})" if inside else text

    def column(self, note: str = "", *, bare: bool = False) -> str:
        """Column title of narrow lines: the heading, then unit and note; ``bare`` where the cells carry the unit.

        Examples
        --------
        >>> Glossary.bundled().term("end_volume_mL").column().splitlines()
        ['end', 'volume', 'mL']
        >>> Glossary.bundled().term("liquor_mass_percent").column().splitlines()
        ['salt', 'mass % of', 'liquor']
        """
        lines = textwrap.wrap(self.heading, _NARROW, break_long_words=False, break_on_hyphens=False)
        unit = "" if bare else " ".join(part for part in (self._printed_unit, note) if part)
        return "\n".join([*lines, *textwrap.wrap(unit, _UNIT_WIDTH, break_long_words=False)])

    @property
    def inline(self) -> str:
        """Column title in one line: 'end volume mL'."""
        return " ".join(part for part in (self.heading, self._printed_unit) if part)

    @property
    def _printed_unit(self) -> str:
        return "" if self.unit == "1" else self.unit


@dataclass(frozen=True, slots=True)
class Glossary:
    """All terms by their keys."""

    terms: Mapping[str, Term]

    @classmethod
    def bundled(cls) -> Glossary:
        """The glossary that comes with the package, read once.

        Examples
        --------
        >>> Glossary.bundled().term("crystals_g").title()
        'Crystals (g)'
        """
        return _bundled()

    def find(self, key: str, within: str = "") -> Term | None:
        """The term of a key, that of its group first; None where it has none."""
        return self.terms.get(f"{within}.{key}") or self.terms.get(key)

    def term(self, key: str, within: str = "") -> Term:
        """The term of a key; raises KeyError where it has none, as only the program itself asks here."""
        found = self.find(key, within)
        if found is None:
            raise KeyError(f"{within}.{key}" if within else key)
        return found

    def search(self, text: str) -> list[Term]:
        """What a person means by a word: the key or the term itself, else all that hold it.

        Parameters
        ----------
        text : str
            A key, a term, a symbol or part of one; blank for everything.

        Raises
        ------
        InputError
            Where nothing holds it; with close matches.

        Examples
        --------
        >>> [one.key for one in Glossary.bundled().search("thick")]
        ['outcome.thick', 'odds.thick', 'odds_thick']
        """
        wanted = " ".join(text.lower().replace("_", " ").split())
        if not wanted:
            return list(self.terms.values())
        terms = self.terms.values()
        found = (
            [one for one in terms if wanted in _names(one) or text.strip() == one.symbol]
            or [one for one in terms if any(wanted in name for name in _names(one))]
            or [one for one in terms if wanted in one.basis.lower()]
        )
        if not found:
            known = sorted({name for one in self.terms.values() for name in _names(one)})
            close = difflib.get_close_matches(wanted, known, 3, 0.6)
            nearest = f" (close matches: {', '.join(close)})" if close else ""
            raise InputError("WORD", repr(text), f"a word of the glossary{nearest}", "'end volume'")
        return found


def _names(term: Term) -> tuple[str, ...]:
    return (
        term.key.lower().replace("_", " "),
        term.key.rpartition(".")[2].lower().replace("_", " "),
        term.term.lower(),
    )


@cache
def _bundled() -> Glossary:
    found: dict[str, Term] = {}
    for row in Table.read(bundled_folder() / "glossary.csv", COLUMNS):
        term = row.required("term")
        one = Term(
            row.required("key"), row.word("kind", KINDS, ""), term, row.text("heading", term), row.text("symbol"),
            row.text("unit"), row.required("basis"), row.required("origin"),
        )  # fmt: skip
        if one.key in found:
            row.fault("key", f"{one.key!r} occurs twice")
        found[one.key] = one
    return Glossary(MappingProxyType(found))
