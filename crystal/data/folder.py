"""One folder of tables, or one CSV of saturated liquids, read into records by salt."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from crystal.data.branches import branches_from_rows, checked_phase
from crystal.data.formulas import hydrate_mass_fraction
from crystal.data.records import Branch, Caution, DensityFit, DensityPoints, Phase
from crystal.data.tables import Row, Table
from crystal.errors import DataError

_SOLUBILITY = ("system", "phase", "temperature_C", "mass_percent")
_SOLUBILITY_MORE = ("waters", "point", "stability", "source", "provenance", "note")
_PHASES_MORE = ("waters", "name", "solid_density_g_cm3", "density_source", "density_provenance", "note")
_FIT_NUMBERS = ("c0", "c1", "c2", "c3", "c4", "t_min_C", "t_max_C", "max_mass_fraction")
_SYSTEMS_MORE = (
    *(
        "name",
        "common_names",
        "cas_anhydrous",
        "heat_limit_C",
        "heat_limit_reason",
        "ghs_codes",
        "ghs_source",
    ),
    *("note", "curve_doubt_mass_percent", "curve_doubt_basis"),
)
_CAUTION_KINDS = ("heat", "acid", "harm", "fire", "waste")
_CAUTION_GROUPS = ("metal", "anion", "cation", "ghs")


@dataclass
class Folder:
    """What one place holds, keyed by salt (``facts``, ``phases``, ``branches``, ``shares``) or by solute."""

    place: str
    facts: dict[str, Row] = field(default_factory=dict)
    phases: dict[str, dict[str, Phase]] = field(default_factory=dict)
    branches: dict[str, tuple[Branch, ...]] = field(default_factory=dict)
    densities: dict[str, DensityFit | DensityPoints] = field(default_factory=dict)
    shares: dict[str, list[tuple[float, Row]]] = field(default_factory=dict)
    cautions: list[tuple[str, Caution]] = field(default_factory=list)
    citations: dict[str, str] = field(default_factory=dict)
    edition: str = ""

    @classmethod
    def read(cls, path: Path, *, own: bool) -> Folder:
        """Read a folder's tables, or a single CSV with the columns of ``solubility.csv``.

        ``own`` asks for the checks that a person's file needs and the bundled tables pass in their tests.
        """
        found = cls(str(path))
        readers: dict[str, Callable[[Path, bool], None]] = {
            "systems.csv": found._read_systems,
            "phases.csv": found._read_phases,
            "solubility.csv": found._read_solubility,
            "density_fits.csv": found._read_density_fits,
            "density_tables.csv": found._read_density_tables,
            "density_shares.csv": found._read_density_shares,
            "cautions.csv": found._read_cautions,
            "sources.csv": found._read_sources,
        }
        if os.path.isfile(path):  # unlike Path's own, False for a name longer than the system takes
            found._read_solubility(path, own)
            return found
        present = [name for name in readers if os.path.isfile(path / name)]
        if not present:
            reason = (
                f"no table found; it may hold {', '.join(readers)}"
                if os.path.isdir(path)
                else "there is no such file or folder"
            )
            raise DataError(str(path), None, None, reason)
        for name in present:
            readers[name](path / name, own)
        package = path / "datapackage.json"
        if package.is_file():
            found.edition = _version(package)
        return found

    def _read_systems(self, path: Path, own: bool) -> None:
        for row in Table.read(path, ("system",), _SYSTEMS_MORE, own=own):
            system = row.required("system")
            if system in self.facts:
                row.fault("system", f"{system} already stands in line {self.facts[system].line}")
            row.number_or_none("heat_limit_C", -150, 400)
            row.number_or_none("curve_doubt_mass_percent", 0, 100)
            self.facts[system] = row

    def _read_phases(self, path: Path, own: bool) -> None:
        for row in Table.read(path, ("system", "phase"), _PHASES_MORE, own=own):
            formula, waters = checked_phase(row)
            phases = self.phases.setdefault(row.text("system"), {})
            if formula in phases:
                row.fault("phase", f"{formula} is described twice")
            phases[formula] = Phase(
                formula,
                waters,
                row.text("name"),
                row.number_or_none("solid_density_g_cm3", 0.1, 25),
                row.text("density_source"),
                row.text("density_provenance"),
                row.text("note"),
            )

    def _read_solubility(self, path: Path, own: bool) -> None:
        rows: dict[str, list[Row]] = {}
        for row in Table.read(path, _SOLUBILITY, _SOLUBILITY_MORE, own=own):
            rows.setdefault(row.required("system"), []).append(row)
        for system, of_system in rows.items():
            if own:
                _check_formula(system, of_system[0])
            self.branches[system] = branches_from_rows(of_system, own=own)

    def _read_density_fits(self, path: Path, own: bool) -> None:
        for row in Table.read(path, ("solute", *_FIT_NUMBERS), ("source", "formula_as_published"), own=own):
            solute = self._new_solute(row)
            numbers = {column: row.number(column) for column in _FIT_NUMBERS[:5]}
            self.densities[solute] = DensityFit(
                solute,
                **numbers,
                t_min_C=row.number("t_min_C", -150, 400),
                t_max_C=row.number("t_max_C", row.number("t_min_C"), 400),
                max_mass_fraction=row.number("max_mass_fraction", 0, 1),
                source=row.text("source"),
                published_as=row.text("formula_as_published"),
            )

    def _read_density_tables(self, path: Path, own: bool) -> None:
        columns = ("solute", "temperature_C", "mass_percent", "density_g_cm3")
        rows: dict[str, list[Row]] = {}
        for row in Table.read(path, columns, ("source", "provenance"), own=own):
            rows.setdefault(row.required("solute"), []).append(row)
        for of_solute in rows.values():
            solute = self._new_solute(of_solute[0])
            temperature_C = of_solute[0].number("temperature_C", -150, 400)
            points: dict[float, float] = {}
            for row in of_solute:
                if row.number("temperature_C") != temperature_C:
                    row.fault(
                        "temperature_C",
                        f"one solute's densities must share one temperature, here {temperature_C:g}",
                    )
                mass_fraction = row.number("mass_percent", 0, 100) / 100
                if mass_fraction in points:
                    row.fault("mass_percent", f"{row.text('mass_percent')} occurs twice for {solute}")
                points[mass_fraction] = row.number("density_g_cm3", 0.1, 25)
            self.densities[solute] = DensityPoints(
                solute,
                temperature_C,
                tuple(sorted(points)),
                tuple(points[mass_fraction] for mass_fraction in sorted(points)),
                of_solute[0].text("source"),
            )

    def _new_solute(self, row: Row) -> str:
        solute = row.required("solute")
        if solute in self.densities:
            row.fault("solute", f"a density of {solute} is already given; keep one")
        return solute

    def _read_density_shares(self, path: Path, own: bool) -> None:
        for row in Table.read(path, ("system", "solute", "moles"), ("source", "note"), own=own):
            row.required("solute")
            self.shares.setdefault(row.required("system"), []).append((row.number("moles", 0, 100), row))

    def _read_cautions(self, path: Path, own: bool) -> None:
        for row in Table.read(path, ("applies_to", "kind", "text"), ("source", "provenance"), own=own):
            target = row.required("applies_to")
            group, colon, _ = target.partition(":")
            if colon and group not in _CAUTION_GROUPS:
                row.fault(
                    "applies_to",
                    f"{target!r} is not known; write all, a formula, or one of {_CAUTION_GROUPS} and a colon",
                )
            kind = row.word("kind", _CAUTION_KINDS, "")
            caution = Caution(kind, row.required("text"), row.text("source"), row.text("provenance"))
            self.cautions.append((target, caution))

    def _read_sources(self, path: Path, own: bool) -> None:
        for row in Table.read(path, ("key", "citation"), ("kind",), own=own):
            self.citations[row.required("key")] = row.required("citation")

    def systems(self) -> Iterator[str]:
        """Every salt that the folder says something about, in file order."""
        return iter(dict.fromkeys((*self.facts, *self.branches, *self.phases, *self.shares)))


def _version(package: Path) -> str:
    try:
        return str(json.loads(package.read_bytes().decode("utf-8"))["version"])
    except (ValueError, RecursionError, LookupError, TypeError):
        raise DataError(
            str(package), None, None, 'it must be JSON in UTF-8 with a version, for example {"version": "1"}'
        ) from None


def _check_formula(system: str, row: Row) -> None:
    try:
        hydrate_mass_fraction(system, 0)
    except ValueError:
        row.fault(
            "system", f"{system!r} is not a chemical formula; write the anhydrous salt, for example CuSO4"
        )
