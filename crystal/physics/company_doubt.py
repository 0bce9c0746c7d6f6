"""How far a shifted solubility is to be trusted, and where no shift is claimed at all."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from crystal.data.ion_interaction import charge_of
from crystal.physics.ion_parameters import mixing_terms

if TYPE_CHECKING:
    from crystal.physics.saturation import Beside

COMPLEXING = ("Cu+2", "Co+2", "Zn+2", "Fe+3")
"""Metals that bind chloride strongly: acid or chloride may push their chlorides out or hold them (common practice)."""

NO_DIRECTION = "even the direction is unknown"

_BASE, _BASE_UNMIXED = 0.03, 0.08
_SHARE, _SHARE_UNMIXED = 0.12, 0.30
_PER_K = 0.004
_BEYOND, _BEYOND_SHARE = 0.10, 0.30
_SOME = 0.5


def reason_against(formula: str, beside: Beside) -> str | None:
    """Why no shift is told for a salt beside others, in half a sentence; None where one is told."""
    ions = beside.products.ions
    if ions is None:
        return f"{formula} is no plain salt of known ions"
    if beside.unread:
        return f"{' and '.join(beside.unread)} is no plain salt or strong acid of known ions"
    own = {ion for ion, _ in ions}
    metal = next((ion for ion in COMPLEXING if ion in own), None)
    if metal is not None and "Cl-" in own and "Cl-" in _ions_of_others(beside):
        return f"{formula} binds more chloride in such a liquor, so that {NO_DIRECTION}"
    missing = beside.products.missing or beside.missing
    if missing:
        pairs = ", ".join(f"{cation} with {anion}" for cation, anion in missing)
        return f"no ion-interaction parameters are in the data for {pairs}"
    return None if beside.products.of_solids else f"no saturated liquor of {formula} is in the data"


def _ions_of_others(beside: Beside) -> set[str]:
    return {ion for ion, n in zip(beside.ions, beside.of_others, strict=True) if n > 0}


def shift_doubt(
    beside: Beside,
    ln_shift: float,
    temperature_C: float,
    others_molality: float,
    used: float,
    ln_extended: float,
) -> float:
    """Relative standard uncertainty of the shifted solubility.

    Parameters
    ----------
    beside : Beside
        The salt and its company.
    ln_shift : float
        ln of shifted over pure molality.
    temperature_C : float
        Temperature, °C; the parameters hold at 25.
    others_molality : float
        mol of the others per kg of water: with none of them there is no doubt.
    used : float
        Share of the parameters' range that the liquor uses.
    ln_extended : float
        Doubt of ln K per ion where the solid's product is extended beyond its branch.

    Notes
    -----
    A judgement, no source: some 12 % of the shift where the mixing terms are known and 30 % where they are not, growing by
    0.4 % of the shift for each kelvin away from 25 °C and with the distance beyond the parameters' range. Of the measured
    mixtures of ``tests/published`` two in three lie within it and nearly nine in ten within twice.
    """
    size = abs(float(ln_shift))
    known = _mixing_known(beside)
    some = min(1.0, others_molality / _SOME)
    mixing = (_BASE * some + _SHARE * size) if known else (_BASE_UNMIXED * some + _SHARE_UNMIXED * size)
    away = _PER_K * abs(temperature_C - 25.0) * size
    beyond = some * max(0.0, used - 1.0) * (_BEYOND + _BEYOND_SHARE * size)
    return float(np.sqrt(mixing**2 + away**2 + beyond**2 + ln_extended**2))


def _mixing_known(beside: Beside) -> bool:
    """Whether theta is in the data for every two ions of one sign."""
    theta, _ = mixing_terms()
    for sign in (1, -1):
        group = [ion for ion in beside.ions if charge_of(ion) * sign > 0]
        if any(frozenset(pair) not in theta for pair in combinations(group, 2)):
            return False
    return True
