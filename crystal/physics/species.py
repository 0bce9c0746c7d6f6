"""A formula read into its atoms, exactly: nested brackets, adducts and fractional crystal water."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache

from crystal.errors import InputError

Atoms = Mapping[str, Fraction]

_STATES = {"s": "s", "l": "l", "g": "g", "aq": "aq", "cr": "s", "c": "s"}
_STATE = re.compile(r"\s*\(\s*(?P<state>aq|cr|s|l|g|c)\s*\)$")
_LOOKALIKES = str.maketrans("₀₁₂₃₄₅₆₇₈₉·•∙*{}", "0123456789....()")
_HALVES = {"½": "0.5", "¼": "0.25", "¾": "0.75"}
_PARTS = re.compile(
    r"(?P<head>[A-Za-z0-9()\[\]]+)(?P<tail>(?:\.(?:\d+(?:\.\d+)?)?[A-Za-z(\[][A-Za-z0-9()\[\]]*)*)"
)
_TAIL = re.compile(r"\.(?P<count>\d+(?:\.\d+)?)?(?P<part>[A-Za-z(\[][A-Za-z0-9()\[\]]*)")
_TOKEN = re.compile(
    r"(?P<symbol>[A-Z][a-z]*)|(?P<open>[(\[])|(?P<close>[)\]])|(?P<count>\d{1,6})|(?P<low>[a-z]+)"
)
_CHARGE = re.compile(r"[\^⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹+−–-]")
_COMMON = frozenset(
    [
        "H",
        "C",
        "N",
        "O",
        "F",
        "Na",
        "Mg",
        "Al",
        "Si",
        "P",
        "S",
        "Cl",
        "K",
        "Ca",
        "Cr",
        "Mn",
        "Fe",
        "Co",
        "Ni",
        "Cu",
        "Zn",
        "Br",
        "Ag",
        "Sn",
        "I",
        "Ba",
        "Pb",
        "Sr",
        "Li",
        "B",
    ]
)
_LONGEST_RESPELLED = 10  # letters in a row; the ways to part them grow fast
_CLOSING = {")": "(", "]": "["}


@dataclass(frozen=True, slots=True)
class Species:
    """One substance of an equation.

    Parameters
    ----------
    formula : str
        As written, in plain digits, without its state.
    dry : str
        The same without crystal water; the formula itself where it has none.
    waters : Fraction
        Moles of crystal water per mole.
    counts : tuple of (str, Fraction)
        Atoms per formula unit, crystal water included, in the order of the alphabet.
    state : str
        ``s``, ``l``, ``g``, ``aq``, or blank where it was not said.
    """

    formula: str
    dry: str
    waters: Fraction
    counts: tuple[tuple[str, Fraction], ...]
    state: str = ""

    @classmethod
    def parse(cls, text: str) -> Species:
        """Read a formula with or without crystal water and state.

        Raises
        ------
        InputError
            Naming the part that is not a formula, with close matches.

        Examples
        --------
        >>> blue = Species.parse("CuSO4·5H2O(s)")
        >>> blue.formula, blue.dry, blue.state
        ('CuSO4.5H2O', 'CuSO4', 's')
        >>> {symbol: str(n) for symbol, n in Species.parse("Al2(SO4)3.17.5H2O").counts}
        {'Al': '2', 'H': '35', 'O': '59/2', 'S': '3'}
        """
        plain, state = _without_state(text)
        if _CHARGE.search(plain) or plain.casefold() == "e":
            raise InputError(
                "formula",
                repr(text),
                "neutral: formulas are written without charges and electrons here",
                "ZnSO4 rather than Zn^2+ and SO4^2-",
            )
        return _parsed(plain, state, text)

    @property
    def atoms(self) -> Atoms:
        return dict(self.counts)

    @property
    def molar_mass_g_mol(self) -> float:
        """Grams per mole, crystal water included."""
        return sum(float(n) * _atomic_mass_g_mol(symbol) for symbol, n in self.counts)

    @property
    def is_element(self) -> bool:
        """Whether it is made of one element only."""
        return len(self.counts) == 1

    @property
    def is_water(self) -> bool:
        return self.counts == WATER.counts

    def without_water(self) -> Species:
        """The species without its crystal water."""
        return self if not self.waters else _parsed(self.dry, self.state, self.dry)

    def is_same(self, other: Species) -> bool:
        """Whether both are the same substance, in whatever order the atoms are written."""
        return self.counts == other.counts


def _without_state(text: str) -> tuple[str, str]:
    plain = text.strip().translate(_LOOKALIKES)
    for glyph, number in _HALVES.items():
        plain = plain.replace(glyph, number)
    state = ""
    if plain.endswith(("↑", "↓")):
        plain, state = plain[:-1].strip(), "g" if plain.endswith("↑") else "s"
    found = _STATE.search(plain)
    if found:
        plain, state = plain[: found.start()], _STATES[found["state"]]
    return re.sub(r"\s+", "", plain), state


@lru_cache(maxsize=4096)
def _parsed(plain: str, state: str, text: str) -> Species:
    parts = _PARTS.fullmatch(plain)
    if parts is None:
        raise InputError(
            "formula", repr(text), "element symbols with counts, brackets and crystal water", "CuSO4.5H2O"
        )
    atoms = _atoms(parts["head"], text)
    dry, waters = parts["head"], Fraction(0)
    tails = list(_TAIL.finditer(parts["tail"]))
    for place, tail in enumerate(tails):
        number = Fraction(tail["count"] or 1)
        if number == 0:
            raise InputError("formula", repr(text), "written with counts above 0", "CuSO4.5H2O")
        for symbol, n in _atoms(tail["part"], text).items():
            atoms[symbol] = atoms.get(symbol, Fraction(0)) + number * n
        if tail["part"] == "H2O" and place == len(tails) - 1:
            waters = number
        else:
            dry += tail.group()
    return Species(plain, dry, waters, tuple(sorted(atoms.items())), state)


def _atoms(formula: str, text: str) -> dict[str, Fraction]:
    """Atoms of one part of a formula, without dots."""
    stack: list[tuple[str, dict[str, Fraction]]] = [("", {})]
    last: dict[str, int] = {}
    tokens = list(_TOKEN.finditer(formula))
    for place, token in enumerate(tokens):
        if token["count"]:
            after_atoms = place and (tokens[place - 1]["symbol"] or tokens[place - 1]["close"])
            if not after_atoms or int(token["count"]) == 0:
                raise InputError(
                    "formula", repr(text), "written with each count, above 0, behind its atoms", "Al2(SO4)3"
                )
            _add(stack[-1][1], last, int(token["count"]) - 1)
        elif token["open"]:
            stack.append((token["open"], {}))
        elif token["close"]:
            opened, group = stack.pop()
            if opened != _CLOSING[token["close"]] or not group:
                raise _brackets(text)
            last = {symbol: int(n) for symbol, n in group.items()}
            _add(stack[-1][1], last, 1)
        elif token["symbol"] in _symbols():
            last = {token["symbol"]: 1}
            _add(stack[-1][1], last, 1)
        else:
            raise _unknown(token["symbol"] or token["low"], formula, text)
    if len(stack) != 1:
        raise _brackets(text)
    return stack[0][1]


def _add(into: dict[str, Fraction], atoms: Mapping[str, int], times: int) -> None:
    for symbol, n in atoms.items():
        into[symbol] = into.get(symbol, Fraction(0)) + times * n


def _brackets(text: str) -> InputError:
    return InputError(
        "formula", repr(text), "written with each bracket opened, filled and closed", "Al2(SO4)3"
    )


def _unknown(symbol: str, formula: str, text: str) -> InputError:
    close = list(dict.fromkeys(_respelled(formula)))[:3]
    hint = f"; did you mean {' or '.join(close)}?" if close else ""
    return InputError(
        "formula",
        repr(text),
        f"made of element symbols, and {symbol!r} is not an element's{hint}",
        "Al2(SO4)3",
    )


def _respelled(formula: str) -> Iterator[str]:
    """The formula with its letters parted into known symbols, capitals disregarded, commonest first."""
    if max(map(len, re.findall(r"[A-Za-z]+", formula))) > _LONGEST_RESPELLED:
        return iter(())
    choices = [""]
    for piece in re.findall(r"[A-Za-z]+|[^A-Za-z]+", formula):
        if not piece.isalpha():
            choices = [choice + piece for choice in choices]
            continue
        spelt = sorted(_segments(piece.lower()), key=lambda s: (sum(x not in _COMMON for x in s), len(s)))
        choices = [choice + "".join(symbols) for symbols in spelt[:3] for choice in choices][:9]
    return iter(choices)


def _segments(letters: str) -> Iterator[tuple[str, ...]]:
    if not letters:
        yield ()
    for size in (2, 1):
        symbol = letters[:size].capitalize()
        if len(letters) >= size and symbol in _symbols():
            for rest in _segments(letters[size:]):
                yield (symbol, *rest)


@cache
def _symbols() -> frozenset[str]:
    from molmass import ELEMENTS

    return frozenset(element.symbol for element in ELEMENTS)


@cache
def _atomic_mass_g_mol(symbol: str) -> float:
    from molmass import ELEMENTS

    return float(ELEMENTS[symbol].mass)


WATER = _parsed("H2O", "l", "H2O")
