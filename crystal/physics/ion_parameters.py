"""Which parameters the equations for ions have: by pair of ions, with how far they reach and what is missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product

import numpy as np

from crystal.data.ion_interaction import bundled_ion_interactions, charge_of
from crystal.data.ion_mixing import bundled_mixing
from crystal.physics.heat import ions_of
from crystal.physics.species import Species


@dataclass(frozen=True, slots=True)
class PairTerms:
    """Parameters of a cation and an anion at 25 °C; ``max_molality`` is of their salt, as far as they were fitted.

    ``salt`` is the formula that they are tabulated under; ``provenance`` as in the data.
    """

    cation: str
    anion: str
    beta0: float
    beta1: float
    c_phi: float
    beta2: float = 0.0
    alpha1: float = 2.0
    alpha2: float = 12.0
    max_molality: float = np.inf
    salt: str = ""
    provenance: str = "read"


@cache
def ions_in(formula: str) -> tuple[tuple[str, int], ...] | None:
    """Ions of a dissolved substance, with how many of each; sulfuric acid as 2 H+ and sulfate. None where none fit.

    Examples
    --------
    >>> ions_in("H2SO4")
    (('H+', 2), ('SO4-2', 1))
    """
    ions = ions_of(Species.parse(formula))
    return None if ions is None else tuple((ion.formula, number) for number, ion in ions)


@cache
def _all_pairs() -> dict[tuple[str, str], PairTerms]:
    found: dict[tuple[str, str], PairTerms] = {}
    for row in bundled_ion_interactions().values():
        found[row.cation, row.anion] = PairTerms(
            row.cation, row.anion, row.beta0, row.beta1, row.c_phi, row.beta2, row.alpha1, row.alpha2,
            row.max_molality, row.formula,
        )  # fmt: skip
    terms: dict[tuple[str, ...], dict[str, float]] = {}
    provenance: dict[tuple[str, ...], str] = {}
    for term in bundled_mixing():
        if term.kind in ("beta0", "beta1", "c_phi"):
            terms.setdefault(term.ions, {})[term.kind] = term.value
            provenance[term.ions] = term.provenance
    for (cation, anion), values in terms.items():
        found[cation, anion] = PairTerms(
            cation, anion, values["beta0"], values["beta1"], values["c_phi"], max_molality=6.0,
            provenance=provenance[cation, anion],
        )  # fmt: skip
    return found


def pair_terms(ions: Sequence[str]) -> list[PairTerms]:
    """The terms known for the cations and anions among these ions."""
    known = _all_pairs()
    return [known[pair] for pair in product(*_by_sign(ions)) if pair in known]


def missing_pairs(ions: Sequence[str]) -> list[tuple[str, str]]:
    """The pairs of a cation and an anion that have no terms."""
    known = _all_pairs()
    return [pair for pair in product(*_by_sign(ions)) if pair not in known]


def _by_sign(ions: Sequence[str]) -> tuple[list[str], list[str]]:
    return [i for i in ions if charge_of(i) > 0], [i for i in ions if charge_of(i) < 0]


@cache
def mixing_terms() -> tuple[dict[frozenset[str], float], dict[frozenset[str], float]]:
    """All theta and psi, by the set of their ions."""
    theta = {frozenset(t.ions): t.value for t in bundled_mixing() if t.kind == "theta"}
    psi = {frozenset(t.ions): t.value for t in bundled_mixing() if t.kind == "psi"}
    return theta, psi


@cache
def ln_dissociation_of_hydrogen_sulfate() -> float:
    """Natural logarithm of the second dissociation constant of sulfuric acid, molal, 25 °C."""
    (value,) = (t.value for t in bundled_mixing() if t.kind == "log10_k")
    return value * float(np.log(10.0))
