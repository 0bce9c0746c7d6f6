"""An equation as chemists write it: read, checked and balanced."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from crystal.errors import InputError
from crystal.physics.species import Species
from crystal.physics.stoichiometry import elementary_balances, smallest, totals

MOST_SUBSTANCES = 16

_EXAMPLE = "Zn + H2SO4 -> ZnSO4 + H2"
_ARROW = re.compile(r"<?[-–−=]+>|<->|[→⟶⇌⇄↔⇒]|=+")
_COEFFICIENT = re.compile(r"(?P<number>\d+\s*/\s*\d+|\d+\.\d+|\d+)?\s*(?P<formula>.*)", re.DOTALL)
_GLYPHS = {"½": "1/2 ", "¼": "1/4 ", "¾": "3/4 ", "⅓": "1/3 ", "⅔": "2/3 "}


@dataclass(frozen=True, slots=True)
class Term:
    """A substance with its coefficient."""

    coefficient: Fraction
    species: Species


@dataclass(frozen=True, slots=True)
class Equation:
    """A balanced equation; ``note`` says where the balance was one of several."""

    reactants: tuple[Term, ...]
    products: tuple[Term, ...]
    note: str = ""

    @classmethod
    def parse(cls, text: str) -> Equation:
        """Read an equation, check or find its coefficients.

        Parameters
        ----------
        text : str
            Neutral formulas parted by ``+``, the sides by ``->``, ``=`` or an arrow sign. Where any coefficient is
            written (whole, decimal or fraction) the missing ones are 1 and all are checked and kept; where none is
            written they are found, as the smallest whole numbers. States such as ``(aq)`` are tolerated.

        Raises
        ------
        InputError
            Where it cannot be read, an element does not add up, no balance exists, or several do.

        Examples
        --------
        >>> str(Equation.parse("Al + H2SO4 -> Al2(SO4)3 + H2"))
        '2 Al + 3 H2SO4 -> Al2(SO4)3 + 3 H2'
        >>> str(Equation.parse("CuCO3·Cu(OH)2 + 2 H2SO4 = 2 CuSO4 + CO2 + 3 H2O"))
        'CuCO3.Cu(OH)2 + 2 H2SO4 -> 2 CuSO4 + CO2 + 3 H2O'
        """
        sides = _sides(text)
        left, right = ([_term(part, text) for part in side] for side in sides)
        species = [s for _, s in (*left, *right)]
        _check_once(species, text)
        _check_both_sides([s for _, s in left], [s for _, s in right], text)
        count = len(left)
        if any(number is not None for number, _ in (*left, *right)):
            numbers = [Fraction(1) if number is None else number for number, _ in (*left, *right)]
            _check_given(numbers, species, count, text)
            return cls._of(numbers, species, count)
        found, note = _found(species, count, text)
        return cls._of(found, species, count, note)

    @classmethod
    def _of(
        cls, numbers: Sequence[Fraction | int], species: Sequence[Species], count: int, note: str = ""
    ) -> Equation:
        terms = tuple(Term(Fraction(n), s) for n, s in zip(numbers, species, strict=True))
        return cls(terms[:count], terms[count:], note)

    def __str__(self) -> str:
        return " -> ".join(
            " + ".join(_written(term.coefficient, term.species.formula) for term in side)
            for side in (self.reactants, self.products)
        )

    def proportions_mol(self, formula: str, amount_mol: float) -> dict[str, float]:
        """Moles of every substance that go with so many moles of one of them.

        Examples
        --------
        >>> Equation.parse("CuO + H2SO4 -> CuSO4 + H2O").proportions_mol("CuO", 0.2)["H2SO4"]
        0.2
        """
        wanted = Species.parse(formula)
        terms = (*self.reactants, *self.products)
        for term in terms:
            if term.species.is_same(wanted):
                return {
                    other.species.formula: amount_mol * float(other.coefficient / term.coefficient)
                    for other in terms
                }
        names = ", ".join(term.species.formula for term in terms)
        raise InputError("formula", repr(formula), f"one of the equation's: {names}")


def _sides(text: str) -> tuple[list[str], list[str]]:
    pieces = _ARROW.split(text)
    if len(pieces) != 2:
        found = "no arrow" if len(pieces) == 1 else f"{len(pieces) - 1} arrows"
        raise InputError(
            "equation", repr(text), f"two sides parted by one '->', and it has {found}", _EXAMPLE
        )
    left, right = ([part.strip() for part in side.split("+")] for side in pieces)
    for side, name in ((left, "left"), (right, "right")):
        if not any(side):
            raise InputError("equation", repr(text), f"written on both sides; the {name} is empty", _EXAMPLE)
        if not all(side):
            raise _neutral(text)
    return left, right


def _neutral(text: str) -> InputError:
    return InputError(
        "equation",
        repr(text),
        "written with a neutral formula on each side of every '+': charges and electrons are not used here",
        _EXAMPLE,
    )


def _term(part: str, text: str) -> tuple[Fraction | None, Species]:
    for glyph, number in _GLYPHS.items():
        if part.startswith(glyph):
            part = number + part[1:]
    found = _COEFFICIENT.fullmatch(part)
    assert found is not None
    number = found["number"]
    if not found["formula"]:
        raise InputError("equation", repr(text), f"a formula behind the number {part!r}", _EXAMPLE)
    try:
        coefficient = None if number is None else Fraction(number.replace(" ", ""))
    except ZeroDivisionError:
        coefficient = Fraction(0)
    if coefficient == 0:
        raise InputError("equation", repr(text), f"written with coefficients above 0, not {part!r}", _EXAMPLE)
    return coefficient, Species.parse(found["formula"])


def _check_once(species: Sequence[Species], text: str) -> None:
    for place, one in enumerate(species):
        if any(one.is_same(other) for other in species[:place]):
            raise InputError(
                "equation",
                repr(text),
                f"written with each substance once, on one side: {one.formula} is written twice",
                _EXAMPLE,
            )
    if len(species) > MOST_SUBSTANCES:
        raise InputError(
            "equation", f"{len(species)} substances", f"of {MOST_SUBSTANCES} substances at most", _EXAMPLE
        )


def _check_both_sides(left: Sequence[Species], right: Sequence[Species], text: str) -> None:
    on_left, on_right = ({symbol for s in side for symbol in s.atoms} for side in (left, right))
    lonely = [f"{symbol} stands only on the left" for symbol in sorted(on_left - on_right)]
    lonely += [f"{symbol} stands only on the right" for symbol in sorted(on_right - on_left)]
    if lonely:
        raise InputError(
            "equation", repr(text), f"written with every element on both sides: {', '.join(lonely)}", _EXAMPLE
        )


def _check_given(numbers: Sequence[Fraction], species: Sequence[Species], count: int, text: str) -> None:
    off = _off(numbers, species, count)
    if not off:
        return
    balances = _balances(species, count)
    ending = "no amounts of these substances balance"
    if len(balances) == 1 and all(balances[0]):
        ending = f"balanced it reads {Equation._of(balances[0], species, count)}"
    elif balances:
        ending = _splits(balances, species, count)
    raise InputError("equation", repr(text), f"balanced: {', '.join(off)}; {ending}")


def _off(numbers: Sequence[Fraction | int], species: Sequence[Species], count: int) -> list[str]:
    columns = [s.atoms for s in species]
    left, right = totals(numbers[:count], columns[:count]), totals(numbers[count:], columns[count:])
    return [
        f"{symbol} has {left[symbol]} on the left and {right[symbol]} on the right"
        for symbol in sorted(left)
        if left[symbol] != right[symbol]
    ]


def _balances(species: Sequence[Species], count: int) -> list[tuple[int, ...]]:
    return elementary_balances([s.atoms for s in species[:count]], [s.atoms for s in species[count:]])


def _found(species: Sequence[Species], count: int, text: str) -> tuple[tuple[int, ...], str]:
    """The coefficients of an equation written without any, and a note where they are not the only ones."""
    balances = _balances(species, count)
    idle = [s.formula for place, s in enumerate(species) if not any(ray[place] for ray in balances)]
    if not balances:
        off = "; as it stands " + ", ".join(_off([1] * len(species), species, count))
        raise InputError(
            "equation", repr(text), f"one that can be balanced: no amounts above 0 make it so{off}", _EXAMPLE
        )
    if idle:
        raise InputError(
            "equation",
            repr(text),
            f"one that can be balanced: no amount above 0 of {', '.join(idle)} fits; without it, "
            + " and ".join(str(_reaction(ray, species, count)) for ray in balances),
            _EXAMPLE,
        )
    if len(balances) == 1:
        return smallest(balances[0]), ""
    splits = _splits(balances, species, count)
    if not _off([1] * len(species), species, count):
        return (1,) * len(species), f"Taken as written, with 1 of each; {splits}."
    raise InputError(
        "equation", repr(text), f"one reaction: {splits}; write the coefficients of the split that is meant"
    )


def _splits(balances: Sequence[tuple[int, ...]], species: Sequence[Species], count: int) -> str:
    parts = [str(_reaction(ray, species, count)) for ray in balances]
    if len(parts) == 1:
        return f"what balances is {parts[0]}"
    return f"it mixes {len(parts)} reactions, each balanced in itself ({'; '.join(parts)})"


def _reaction(ray: Sequence[int], species: Sequence[Species], count: int) -> Equation:
    sides = [
        tuple(Term(Fraction(n), s) for n, s in zip(ray[part], species[part], strict=True) if n)
        for part in (slice(None, count), slice(count, None))
    ]
    return Equation(sides[0], sides[1])


def _written(coefficient: Fraction, formula: str) -> str:
    return formula if coefficient == 1 else f"{coefficient} {formula}"
