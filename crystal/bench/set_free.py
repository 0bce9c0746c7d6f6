"""What a mixture may set free: gases to be warned of, and the one mixture that is not planned at all."""

from __future__ import annotations

from collections.abc import Iterable

from crystal.data.ion_interaction import charge_of
from crystal.errors import InputError
from crystal.physics.ion_parameters import ions_in

CYANOMETALLATES = ("Fe(CN)6-3", "Fe(CN)6-4")

ACIDS = (
    "H2C2O4",
    "C6H8O7",
    "C4H6O6",
    "CH3COOH",
    "H3PO4",
    "HF",
    "HCOOH",
    "KHSO4",
    "NaHSO4",
    "NH4HSO4",
    "H2SO3",
    "HClO",
)
"""Acids that are not told by their ions: weak ones and acid salts."""

OXIDISERS = (
    "ClO-", "ClO2-", "ClO3-", "BrO3-", "IO3-", "MnO4-", "Cr2O7-2", "CrO4-2", "S2O8-2",
)  # fmt: skip
OXIDISING = ("NaClO", "NaOCl", "KClO", "Ca(ClO)2", "Ca(OCl)2", "H2O2", "KMnO4", "NaMnO4", "MnO2", "K2Cr2O7", "KClO3",
             "NaClO3", "Na2S2O8", "K2S2O8", "(NH4)2S2O8", "PbO2")  # fmt: skip
HYPOCHLORITES = ("NaClO", "NaOCl", "KClO", "Ca(ClO)2", "Ca(OCl)2")


def refuse_cyanide(salt: str, others: Iterable[str]) -> None:
    """Refuse a pot of a cyanometallate with acid.

    Raises
    ------
    InputError
        Saying why: hydrogen cyanide.

    Examples
    --------
    >>> refuse_cyanide("NaCl", ["HCl"])
    >>> try:
    ...     refuse_cyanide("K4Fe(CN)6", ["HCl"])
    ... except InputError as error:
    ...     "hydrogen cyanide" in error.must_be
    True
    """
    held = (salt, *others)
    cyanide = next((f for f in held if _has(f, CYANOMETALLATES) or "CN)" in f), None)
    acid = next((f for f in held if is_acid(f)), None)
    if cyanide is not None and acid is not None:
        raise InputError(
            "the pot",
            f"{cyanide} with {acid}",
            "free of acid: acid drives hydrogen cyanide, a gas that kills, out of cyanometallates, the more so when hot. "
            "No such batch is planned here",
            "K4Fe(CN)6 in water alone",
        )


def is_acid(formula: str) -> bool:
    """Whether a dissolved substance is an acid; hydrogen carbonates and phosphates are not counted."""
    return formula in ACIDS or _has(formula, ("H+",))


def gas_cautions(salt: str, others: Iterable[str]) -> list[str]:
    """Sentences on gases that this salt and these others may set free; the trade's usual ones, not complete."""
    held = (salt, *others)
    acid = next((f for f in held if is_acid(f)), None)
    said = []
    if acid is None:
        if any(f in HYPOCHLORITES for f in held):
            said.append("Hypochlorite: never add acid to it, it gives off chlorine.")
        return said
    chloride = any(_has(f, ("Cl-",)) for f in held)
    oxidiser = next((f for f in held if f in OXIDISING or _has(f, OXIDISERS)), None)
    if oxidiser in HYPOCHLORITES:
        said.append(
            f"{oxidiser} with {acid} gives off chlorine, a gas that burns the lungs: do not mix them."
        )
    elif chloride and oxidiser is not None:
        said.append(
            f"Chloride, {acid} and the oxidiser {oxidiser} give off chlorine, the more so when hot: only in a fume hood, if "
            "at all."
        )
    if any(_has(f, ("NO2-",)) for f in held):
        said.append(
            f"Nitrite with {acid} gives off brown nitrogen oxides, which harm the lungs hours later: do not mix them."
        )
    if any(_has(f, ("NO3-",)) for f in held):
        said.append(
            "Nitrate with strong acid gives off nitrogen oxides when it is boiled down, which harm the lungs hours later: boil "
            "it down only in a fume hood."
        )
        if chloride:
            said.append(
                "Nitrate, chloride and strong acid together give off chlorine and nitrosyl chloride when hot."
            )
    if any(_has(f, ("SO3-2", "S2O3-2", "HSO3-")) for f in held):
        said.append(f"Sulfite or thiosulfate with {acid} gives off sulfur dioxide.")
    if any(_has(f, ("S-2", "HS-")) for f in held):
        said.append(f"Sulfide with {acid} gives off hydrogen sulfide, a gas that kills: do not mix them.")
    if any(_has(f, ("CO3-2", "HCO3-")) for f in held):
        said.append(f"Carbonate with {acid} foams with carbon dioxide, and is used up by it.")
    if any(f == "HCl" for f in held):
        said.append(
            "Hydrochloric acid fumes out of a pot that is boiled down: work in a fume hood or outdoors, upwind."
        )
    if any(f == "H2SO4" for f in held):
        said.append(
            "Boiling down strengthens sulfuric acid: the liquor burns skin and eyes; it goes into water, never water into it."
        )
    return said


def _has(formula: str, wanted: Iterable[str]) -> bool:
    ions = ions_in(formula)
    return ions is not None and any(ion in wanted and charge_of(ion) for ion, _ in ions)
