"""Ion-interaction (Pitzer) parameters of electrolytes in water at 25 °C, as tabulated."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from crystal.data.catalogue import bundled_folder
from crystal.data.tables import Table

_NUMBERS = ("beta0", "beta1", "beta2", "c_phi", "alpha1", "max_molality")
_CHARGE = re.compile(r"(?P<sign>[+-])(?P<charge>\d*)$")


@dataclass(frozen=True, slots=True)
class IonInteraction:
    """One electrolyte: its ions, how many of each, and the parameters; ``alpha2`` is 0 where ``beta2`` is.

    Units are powers of kg/mol. Beyond ``max_molality``, mol per kg of water, nothing was fitted.
    """

    formula: str
    cation: str
    cations: int
    anion: str
    anions: int
    beta0: float
    beta1: float
    beta2: float
    c_phi: float
    alpha1: float
    alpha2: float
    max_molality: float
    source: str = ""
    provenance: str = ""

    @property
    def charges(self) -> tuple[int, int]:
        """Charge of the cation and, negative, of the anion.

        Examples
        --------
        >>> bundled_ion_interactions()["K2SO4"].charges
        (1, -2)
        """
        return charge_of(self.cation), charge_of(self.anion)


def charge_of(ion: str) -> int:
    """Charge of an ion by its formula: ``"SO4-2"`` has -2, ``"Na+"`` 1."""
    found = _CHARGE.search(ion)
    if found is None:
        raise ValueError(f"{ion!r} bears no charge")
    return int(found["sign"] + (found["charge"] or "1"))


@cache
def bundled_ion_interactions() -> dict[str, IonInteraction]:
    """The electrolytes that come with the package, by formula, read once."""
    columns = ("formula", "cation", "cations", "anion", "anions", *_NUMBERS, "alpha2", "source", "provenance")
    found = {}
    for row in Table.read(bundled_folder() / "ion_interaction.csv", columns):
        beta0, beta1, beta2, c_phi, alpha1, max_molality = (row.number(column) for column in _NUMBERS)
        found[row.required("formula")] = IonInteraction(
            row.required("formula"),
            row.required("cation"),
            int(row.number("cations", 1, 9)),
            row.required("anion"),
            int(row.number("anions", 1, 9)),
            beta0, beta1, beta2, c_phi, alpha1,
            row.number_or_none("alpha2") or 0.0,
            max_molality,
            row.text("source"),
            row.text("provenance"),
        )  # fmt: skip
    return found
