"""Heat of a reaction from standard enthalpies of formation, dissolved salts taken as their ions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from itertools import combinations

from crystal.data.enthalpies import Enthalpy, bundled_enthalpies
from crystal.physics.species import WATER, Species

ASSUMPTIONS = (
    "Heat from standard enthalpies of formation at 25 °C: dissolved salts, strong acids and bases as their ions at "
    "infinite dilution, weak ones as molecules. Strong solutions differ by some percent; heat of dissolving what is "
    "left over, and of mixing water and acid beforehand, is not counted."
)
STRONG_ACID_ANIONS = frozenset({"Cl-", "Br-", "I-", "NO3-", "ClO4-", "ClO3-", "SO4-2"})
NEAT_STATES = ("s", "l", "g")

_DIATOMIC = frozenset({"H", "N", "O", "F", "Cl", "Br", "I"})
_MOST_IONS = 12
_NOTHING = 1e-12  # relative; rounding left where a substance is counted up and down again
_STATE_WORDS = {"aq": "dissolved", "s": "solid", "l": "liquid", "g": "gas", "neat": "neat"}


@dataclass(frozen=True, slots=True)
class Ion:
    """An ion in water with its enthalpy of formation."""

    formula: str
    charge: int
    counts: tuple[tuple[str, Fraction], ...]
    kJ_mol: float

    @classmethod
    def of(cls, row: Enthalpy) -> Ion:
        assert row.ion is not None
        body, charge = row.ion
        return cls(row.formula, charge, Species.parse(body).counts, row.kJ_mol)


def enthalpy_of_formation_kJ_mol(species: Species, state: str) -> float | None:
    """Standard enthalpy of formation at 25 °C.

    Parameters
    ----------
    species : Species
        Crystal water of a dissolved one counts as water.
    state : str
        ``aq``, ``s``, ``l``, ``g``, or ``neat``: without water, in whichever state is tabulated, solid first.

    Returns
    -------
    float or None
        kJ per mole; None where the data have no value. Elements in their usual form have 0.

    Examples
    --------
    >>> round(enthalpy_of_formation_kJ_mol(Species.parse("ZnSO4"), "aq"), 1)
    -1063.2
    >>> enthalpy_of_formation_kJ_mol(Species.parse("Zn"), "s")
    0.0
    """
    if species.is_element and species.counts[0][1] == (2 if species.counts[0][0] in _DIATOMIC else 1):
        return 0.0
    table = _table()
    for wanted in NEAT_STATES if state == "neat" else (state,):
        if (species.counts, wanted) in table:
            return table[species.counts, wanted]
    if state != "aq":
        return None
    if species.waters:
        dry = enthalpy_of_formation_kJ_mol(species.without_water(), "aq")
        return None if dry is None else dry + float(species.waters) * table[WATER.counts, "l"]
    ions = ions_of(species)
    return None if ions is None else sum(number * ion.kJ_mol for number, ion in ions)


def heat_given_off_kJ(
    amounts: Iterable[tuple[float, Species, str]],
) -> tuple[float | None, tuple[str, ...]]:
    """Heat that a change gives off, positive where the pot warms.

    Parameters
    ----------
    amounts : iterable of (float, Species, str)
        Moles (used up negative, made positive), the substance, and its state as for
        `enthalpy_of_formation_kJ_mol`.

    Returns
    -------
    (float or None, tuple of str)
        kJ, and the substances without a value; None where there are any.
    """
    net: dict[tuple[tuple[tuple[str, Fraction], ...], str], tuple[float, float, Species]] = {}
    for mol, species, state in amounts:
        summed, largest, _ = net.get((species.counts, state), (0.0, 0.0, species))
        net[species.counts, state] = summed + mol, max(largest, abs(mol)), species
    given_off, missing = 0.0, []
    for (_, state), (mol, largest, species) in net.items():
        if abs(mol) <= _NOTHING * largest:
            continue
        formation = enthalpy_of_formation_kJ_mol(species, state)
        if formation is None:
            missing.append(f"{species.formula} ({_STATE_WORDS[state]})")
        else:
            given_off -= mol * formation
    return (None if missing else given_off), tuple(missing)


@lru_cache(maxsize=1024)
def ions_of(species: Species) -> tuple[tuple[int, Ion], ...] | None:
    """The ions of a dissolved strong electrolyte: one or two kinds of cation with one anion.

    None where none fit, as with weak acids, molecules and complexes.

    Examples
    --------
    >>> [(n, ion.formula) for n, ion in ions_of(Species.parse("KAl(SO4)2"))]
    [(1, 'Al+3'), (1, 'K+'), (2, 'SO4-2')]
    >>> ions_of(Species.parse("CH3COOH")) is None
    True
    """
    atoms = species.atoms
    within = [ion for ion in _ions() if all(atoms.get(symbol, 0) >= n for symbol, n in ion.counts)]
    anions = [ion for ion in within if ion.charge < 0]
    cations = [ion for ion in within if ion.charge > 0 and _is_plain(ion, species)]
    for kinds in (1, 2):
        for anion in anions:
            for some in combinations(cations, kinds):
                if any(ion.formula == "H+" for ion in some) and not (
                    kinds == 1 and anion.formula in STRONG_ACID_ANIONS
                ):
                    continue
                for numbers in _neutral_numbers([ion.charge for ion in some], -anion.charge):
                    ions = tuple(zip(numbers, (*some, anion), strict=True))
                    if _sum(ions) == atoms:
                        return ions
    return None


def _is_plain(ion: Ion, species: Species) -> bool:
    """Hydroxo cations are left out, and ammonium wherever the formula does not show it (urea is no cyanate)."""
    return len(ion.counts) == 1 or (ion.formula == "NH4+" and "NH4" in species.formula)


def _neutral_numbers(positive: list[int], negative: int) -> Iterator[tuple[int, ...]]:
    """Small numbers of each ion, the anion's last, with which the charges cancel."""
    few = range(1, _MOST_IONS + 1)
    for first in few:
        for second in few if len(positive) == 2 else (0,):
            charge = positive[0] * first + (positive[1] * second if second else 0)
            if charge % negative == 0:
                cations = (first, second) if second else (first,)
                yield (*cations, charge // negative)


def _sum(ions: Iterable[tuple[int, Ion]]) -> dict[str, Fraction]:
    found: dict[str, Fraction] = {}
    for number, ion in ions:
        for symbol, n in ion.counts:
            found[symbol] = found.get(symbol, Fraction(0)) + number * n
    return found


@cache
def _ions() -> tuple[Ion, ...]:
    return tuple(Ion.of(row) for row in bundled_enthalpies() if row.state == "aq" and row.ion)


@cache
def _table() -> dict[tuple[tuple[tuple[str, Fraction], ...], str], float]:
    return {
        (Species.parse(row.formula).counts, row.state): row.kJ_mol
        for row in bundled_enthalpies()
        if row.ion is None
    }
