"""Temperatures that hot solutions are kept below: how hot the trade works them, and where they break down."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from crystal.data.catalogue import bundled_folder
from crystal.data.records import Salt
from crystal.data.tables import Table

KINDS = ("begins", "work_below", "breaks_down")


@dataclass(frozen=True, slots=True)
class HeatLimit:
    """One limit, °C: ``begins`` is the catalogue's, from where a solution suffers; the others see ``heat_limits.csv``."""

    kind: str
    temperature_C: float
    reason: str
    source: str = ""
    provenance: str = ""

    @property
    def text(self) -> str:
        """The limit in words."""
        what = {"begins": "suffers from", "work_below": "is worked below", "breaks_down": "breaks down from"}
        return f"{what[self.kind]} about {self.temperature_C:g} °C ({self.reason})"


def heat_limits_of(salt: Salt) -> tuple[HeatLimit, ...]:
    """All limits of a salt's solutions, the coolest first.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> [(limit.kind, limit.temperature_C) for limit in heat_limits_of(Catalogue.bundled().find("FeCl3"))]
    [('begins', 100.0), ('work_below', 120.0), ('breaks_down', 150.0)]
    """
    found = list(_listed().get(salt.formula, ()))
    if salt.heat_limit_C is not None:
        provenance = salt.extra.get("heat_limit_provenance", "")
        found.append(HeatLimit("begins", salt.heat_limit_C, salt.heat_limit_reason, provenance=provenance))
    return tuple(sorted(found, key=lambda limit: limit.temperature_C))


@cache
def _listed() -> dict[str, tuple[HeatLimit, ...]]:
    columns = ("system", "kind", "temperature_C", "reason", "source", "provenance")
    found: dict[str, tuple[HeatLimit, ...]] = {}
    for row in Table.read(bundled_folder() / "heat_limits.csv", columns):
        limit = HeatLimit(
            row.word("kind", KINDS[1:], ""),
            row.number("temperature_C", -150, 400),
            row.required("reason"),
            row.text("source"),
            row.text("provenance"),
        )
        system = row.required("system")
        found[system] = (*found.get(system, ()), limit)
    return found
