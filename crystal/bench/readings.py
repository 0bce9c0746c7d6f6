"""Readings at the bench: their sizes and usual standard uncertainties."""

from __future__ import annotations

import math
from dataclasses import dataclass

from crystal.errors import InputError

# Standard uncertainties of the readings unless told: conventions for a small bench.
HYDROMETER_g_mL = 0.002
VOLUME_SHARE = 0.01
ALIQUOT_SHARE = 0.005
BALANCE_g = 0.02
TITRANT_SHARE = 0.005
BURETTE_mL = 0.05
THERMOMETER_K = 1.0


@dataclass(frozen=True, slots=True)
class Size:
    """How much solution: a volume or a mass, with the standard uncertainty as a share of it."""

    value: float
    unit: str
    share: float = VOLUME_SHARE

    @classmethod
    def of(cls, what: str, *, mL: float | None, g: float | None, share: float | None, usual: float) -> Size:
        """Take one of the two.

        Raises
        ------
        InputError
            Unless exactly one is given, more than 0, and the uncertainty is a share of 0 to below 1.
        """
        if (mL is None) == (g is None):
            got = "neither" if mL is None else "both"
            raise InputError(what, got, "one of the two, a volume or a mass", "400 mL")
        unit = "mL" if g is None else "g"
        value = positive(what, g if mL is None else mL, unit)
        share = usual if share is None else share
        if not 0.0 <= share < 1.0:
            raise InputError(f"doubt of {what}", f"{share:g}", "a share from 0 to below 1", "0.01")
        return cls(value, unit, share)


def part_and_whole(
    aliquot_mL: float | None,
    aliquot_g: float | None,
    total_mL: float | None,
    total_g: float | None,
    aliquot_share: float | None,
    total_share: float | None,
) -> tuple[Size, Size]:
    """The part of a solution that was taken and the whole, both volumes or both masses.

    Raises
    ------
    InputError
        Where one is a volume and the other a mass, or the part is larger than the whole.
    """
    part = Size.of("part taken", mL=aliquot_mL, g=aliquot_g, share=aliquot_share, usual=ALIQUOT_SHARE)
    whole = Size.of("whole solution", mL=total_mL, g=total_g, share=total_share, usual=VOLUME_SHARE)
    if part.unit != whole.unit:
        raise InputError(
            "part and whole",
            f"{part.value:g} {part.unit} of {whole.value:g} {whole.unit}",
            "both volumes or both masses",
            "10 mL of 400 mL",
        )
    if part.value > whole.value:
        raise InputError(
            "part taken",
            f"{part.value:g} {part.unit}",
            f"no more than the whole, {whole.value:g} {whole.unit}",
            "10 mL",
        )
    return part, whole


def positive(what: str, value: float | None, unit: str) -> float:
    """The reading itself; InputError unless it is more than 0."""
    if value is None or not 0.0 < value < math.inf:
        got = "nothing" if value is None else f"{value:g} {unit}"
        raise InputError(what, got, "more than 0", f"10 {unit}")
    return value
