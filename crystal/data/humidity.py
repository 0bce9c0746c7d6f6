"""Humidity over saturated solutions and pair pressures of hydrates, as published."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from crystal.data.catalogue import bundled_folder
from crystal.data.tables import Table

PREFERRED = (
    "Greenspan1977",
    "CRC-constant-humidity",
    "Adams-Merz1929",
    "Saltwiki-Arnold-Zehnder1991",
    "Saltwiki",
    "Seinfeld-Pandis2006",
    "CRC-vapor-pressure-saturated",
)
"""Sources of humidities, the most trusted first."""


@dataclass(frozen=True, slots=True)
class HumidityPoint:
    """Relative humidity over a saturated solution; ``uncertainty_percent`` None where the source states none."""

    temperature_C: float
    rh_percent: float
    uncertainty_percent: float | None
    provenance: str


@dataclass(frozen=True, slots=True)
class HumidityTable:
    """One source's humidities over the saturated solution of one solid, by rising temperature."""

    phase: str
    source: str
    points: tuple[HumidityPoint, ...]


@dataclass(frozen=True, slots=True)
class PairPressure:
    """The humidity at which a hydrate and the next lower one stand in balance, at one temperature.

    ``heat_kJ_mol`` is the heat per mole of liquid water that the hydrate gives off, None where the table leaves it blank.
    """

    system: str
    hydrate: str
    lower: str
    temperature_C: float
    rh_percent: float
    doubt_percent: float
    heat_kJ_mol: float | None
    source: str
    provenance: str
    note: str = ""


@cache
def humidity_tables() -> dict[str, tuple[HumidityTable, ...]]:
    """The tables of each solid, the most trusted source first.

    Examples
    --------
    >>> [table.source for table in humidity_tables()["NaCl"]][:2]
    ['Greenspan1977', 'CRC-constant-humidity']
    """
    columns = ("phase", "temperature_C", "rh_percent", "uncertainty_percent", "source", "provenance")
    found: dict[str, dict[str, list[HumidityPoint]]] = {}
    for row in Table.read(bundled_folder() / "humidity.csv", columns):
        source = row.word("source", PREFERRED, "")
        point = HumidityPoint(
            row.number("temperature_C", -50, 150),
            row.number("rh_percent", 0, 100),
            row.number_or_none("uncertainty_percent", 0, 100),
            row.required("provenance"),
        )
        found.setdefault(row.required("phase"), {}).setdefault(source, []).append(point)
    return {
        phase: tuple(
            HumidityTable(phase, source, tuple(sorted(by_source[source], key=lambda p: p.temperature_C)))
            for source in PREFERRED
            if source in by_source
        )
        for phase, by_source in found.items()
    }


@cache
def pair_pressures() -> tuple[PairPressure, ...]:
    """Every pair pressure, in file order."""
    columns = (
        *(
            "system",
            "hydrate",
            "lower",
            "temperature_C",
            "rh_percent",
            "doubt_percent",
            "heat_kJ_mol",
            "source",
        ),
        *("provenance", "note"),
    )
    return tuple(
        PairPressure(
            row.required("system"),
            row.required("hydrate"),
            row.required("lower"),
            row.number("temperature_C", -50, 150),
            row.number("rh_percent", 0, 100),
            row.number("doubt_percent", 0, 100),
            row.number_or_none("heat_kJ_mol", 0, 60),
            row.required("source"),
            row.required("provenance"),
            row.text("note"),
        )
        for row in Table.read(bundled_folder() / "pair_pressures.csv", columns)
    )


@dataclass(frozen=True, slots=True)
class Practice:
    """What the trade knows of a solid in an ordinary room; ``behaviour`` is takes_up_water, keeps or crumbles."""

    solid: str
    behaviour: str
    text: str
    source: str


@cache
def practices() -> dict[str, Practice]:
    """What the trade knows, by solid."""
    rows = Table.read(
        bundled_folder() / "keeping.csv", ("solid", "behaviour", "text", "source", "provenance")
    )
    return {
        row.required("solid"): Practice(
            row.required("solid"),
            row.word("behaviour", ("takes_up_water", "keeps", "crumbles"), ""),
            row.required("text"),
            row.required("source"),
        )
        for row in rows
    }
