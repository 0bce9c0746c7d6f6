"""Whether two measurements of one solution agree, and why they may not."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from crystal.bench.assay import Assay
from crystal.errors import InputError


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two assays of one solution side by side; ``sentence`` says why they may differ, None where they agree."""

    more: Assay
    less: Assay
    combined_doubt_g: float
    sentence: str | None

    @property
    def difference_g(self) -> float:
        return self.more.salt_g - self.less.salt_g

    @property
    def agree(self) -> bool:
        return self.sentence is None


def compare(assays: Sequence[Assay]) -> list[Comparison]:
    """Hold every assay against every other.

    Parameters
    ----------
    assays : sequence of Assay
        Of one solution and one salt.

    Returns
    -------
    list of Comparison
        One per pair; two agree where they differ by no more than twice their combined standard uncertainty, taken as
        independent. Where both rest on the same misread volume they still agree: a common fault is not seen.

    Raises
    ------
    InputError
        Where they are of different salts.
    """
    formulas = dict.fromkeys(assay.formula for assay in assays)
    if len(formulas) > 1:
        raise InputError("assays", " and ".join(formulas), "of one salt", "two assays of CuSO4")
    found = []
    for one, other in itertools.combinations(assays, 2):
        more, less = (one, other) if one.salt_g >= other.salt_g else (other, one)
        combined = math.hypot(more.doubt_g, less.doubt_g)
        apart = more.salt_g - less.salt_g
        sentence = _disagreement(more, less, combined) if apart > 2.0 * combined else None
        found.append(Comparison(more, less, combined, sentence))
    return found


_WHY_MORE = {
    "density": "free acid or another dissolved salt makes the liquor denser",
    "drying": "the dried solid was still damp, held more water than the named hydrate, or other salts dried with it",
    "titration": "something else took up titrant, such as another metal or free acid, or the end point was overrun",
    "first crystals": "acid or a salt with an ion in common brought the crystals out early",
}
_WHY_LESS = {
    "density": "the liquor was warmer than the temperature given for the reading, or air clung to the hydrometer",
    "drying": "the solid lost more water than the named hydrate in drying, or some was spilt",
    "titration": "not all of the salt took up titrant, or the part was diluted before",
    "first crystals": "the liquor stayed clear below its saturation, so the crystals showed late",
}


def _disagreement(more: Assay, less: Assay, combined_g: float) -> str:
    apart = more.salt_g - less.salt_g
    return (
        f"By {more.method} there are {more.salt_g:.4g} g of {more.formula}, by {less.method} {less.salt_g:.4g} g: "
        f"{apart:.3g} g apart, {apart / combined_g:.1f} times their combined uncertainty of {combined_g:.2g} g. "
        f"Likely: {_WHY_MORE[more.method]}; or {_WHY_LESS[less.method]}; or a size was misread."
    )
