"""Standard enthalpies of formation, as tabulated."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from crystal.data.catalogue import bundled_folder
from crystal.data.tables import Table

STATES = ("aq", "s", "l", "g")

_COLUMNS = ("formula", "state", "name", "cas", "enthalpy_of_formation_J_mol", "source", "provenance")
_ION = re.compile(r"(?P<body>.+?)(?P<sign>[+-])(?P<charge>\d*)")


@dataclass(frozen=True, slots=True)
class Enthalpy:
    """One row: ``state`` is aq, s, l or g; the value holds at 25 °C, for aq at infinite dilution."""

    formula: str
    state: str
    kJ_mol: float
    name: str = ""
    source: str = ""
    provenance: str = ""
    note: str = ""

    @property
    def ion(self) -> tuple[str, int] | None:
        """The formula without its charge, and the charge; None for a neutral substance.

        Examples
        --------
        >>> Enthalpy("SO4-2", "aq", -909.3).ion
        ('SO4', -2)
        """
        found = _ION.fullmatch(self.formula)
        if found is None:
            return None
        return found["body"], int(found["sign"] + (found["charge"] or "1"))


@cache
def bundled_enthalpies() -> tuple[Enthalpy, ...]:
    """The rows that come with the package, read once, in file order."""
    return tuple(
        Enthalpy(
            row.required("formula"),
            row.word("state", STATES, ""),
            row.number("enthalpy_of_formation_J_mol") / 1000,
            row.text("name"),
            row.text("source"),
            row.text("provenance"),
            row.text("note"),
        )
        for row in Table.read(bundled_folder() / "enthalpies.csv", _COLUMNS, ("note",))
    )
