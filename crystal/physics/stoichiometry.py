"""Balancing, exactly: the smallest whole numbers of formula units with which every element adds up.

The balances of an equation are the non-negative whole vectors ν with Σ ν·n(element) = 0, products counted negative.
They form a cone; its edges are the elementary balances, which use as few substances as they can. One edge that uses
all substances is the one and only balance; several edges mean that the equation mixes several reactions.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import gcd, lcm

from crystal.physics.species import Atoms


def elementary_balances(left: Sequence[Atoms], right: Sequence[Atoms]) -> list[tuple[int, ...]]:
    """Every elementary balance of an equation, by exact whole-number arithmetic.

    Parameters
    ----------
    left, right : sequence of mapping from element to count
        The atoms of each substance, reactants and products.

    Returns
    -------
    list of tuple of int
        Coefficients in the order left then right, coprime, 0 where a substance takes no part. Empty where no balance
        exists.

    Notes
    -----
    Double description of the cone, one element at a time, keeping the vectors of minimal support (Motzkin et al. 1953,
    recalled). The number of vectors can grow fast with the number of substances: meant for twenty at most.

    Examples
    --------
    >>> elementary_balances([{"Al": Fraction(1)}, {"O": Fraction(2)}], [{"Al": Fraction(2), "O": Fraction(3)}])
    [(4, 3, 2)]
    """
    columns = [*left, *right]
    signs = [1] * len(left) + [-1] * len(right)
    rays = [tuple(int(i == j) for j in range(len(columns))) for i in range(len(columns))]
    for element in sorted({symbol for atoms in columns for symbol in atoms}):
        row = [sign * atoms.get(element, Fraction(0)) for sign, atoms in zip(signs, columns, strict=True)]
        scale = lcm(*(n.denominator for n in row))
        rays = _cut(rays, [int(n * scale) for n in row])
    return sorted(rays, reverse=True)


def _cut(rays: list[tuple[int, ...]], row: Sequence[int]) -> list[tuple[int, ...]]:
    """The edges of the cone where one more element adds up."""
    totals = [sum(n * x for n, x in zip(row, ray, strict=True)) for ray in rays]
    kept = [ray for ray, total in zip(rays, totals, strict=True) if total == 0]
    for more, over in zip(rays, totals, strict=True):
        for less, under in zip(rays, totals, strict=True):
            if over > 0 > under:
                kept.append(smallest([x * -under + y * over for x, y in zip(more, less, strict=True)]))
    supports = {ray: frozenset(i for i, x in enumerate(ray) if x) for ray in kept}
    return [ray for ray, uses in supports.items() if not any(other < uses for other in supports.values())]


def smallest(numbers: Sequence[Fraction | int]) -> tuple[int, ...]:
    """The same proportions in the smallest whole numbers.

    Examples
    --------
    >>> smallest([Fraction(1), Fraction(1, 2), Fraction(1)])
    (2, 1, 2)
    """
    scale = lcm(*(Fraction(n).denominator for n in numbers))
    whole = [int(n * scale) for n in numbers]
    divisor = gcd(*whole) or 1
    return tuple(n // divisor for n in whole)


def totals(coefficients: Sequence[Fraction | int], columns: Sequence[Atoms]) -> dict[str, Fraction]:
    """Atoms of each element on one side of an equation."""
    found: dict[str, Fraction] = {}
    for coefficient, atoms in zip(coefficients, columns, strict=True):
        for symbol, n in atoms.items():
            found[symbol] = found.get(symbol, Fraction(0)) + coefficient * n
    return found
