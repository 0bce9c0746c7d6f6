"""Acids, bases and other stock solutions: names, usual strengths, hazards, and what their density rests on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from crystal.data.catalogue import Catalogue, bundled_folder
from crystal.data.folder import Folder
from crystal.data.records import Caution, DensityShare, Salt
from crystal.data.tables import Row, Table
from crystal.errors import InputError

KINDS = ("acid", "alkali", "ammonia", "peroxide", "carbonate")
DILUTION_HEATS = ("strong", "mild", "slight")

_REAGENT = ("reagent", "name", "common_names", "cas", "kind", "dilution_heat", "ghs_codes", "ghs_source")
_STRENGTH = ("reagent", "mass_percent", "density_20C_g_cm3", "usual", "name", "source", "provenance")


@dataclass(frozen=True, slots=True)
class ListedStrength:
    """A strength with its density at 20 °C; ``is_usual`` where it is one that is sold."""

    mass_fraction: float
    density_20C_g_mL: float
    is_usual: bool
    name: str = ""
    source: str = ""
    provenance: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Reagent:
    """One reagent in water.

    ``salt`` is its record as a solute without solids, so that all that takes a salt's solution takes a
    reagent's. ``kind`` is one of ``KINDS`` and decides how it is poured; ``dilution_heat`` is one of
    ``DILUTION_HEATS``, in words only. ``strengths`` run from weak to strong.
    """

    salt: Salt
    kind: str
    dilution_heat: str
    strengths: tuple[ListedStrength, ...] = ()

    @classmethod
    def of_row(cls, row: Row, folder: Folder, strengths: tuple[ListedStrength, ...]) -> Reagent:
        """Make a reagent from its row, with the density and the cautions that a folder holds."""
        formula = row.required("reagent")
        codes = _parts(row.text("ghs_codes"))
        if formula not in folder.densities:
            row.fault(
                "reagent", f"no density of {formula} is known in density_fits.csv or density_tables.csv"
            )
        return cls(
            Salt(
                formula,
                row.required("name"),
                common_names=_parts(row.text("common_names")),
                cas=row.text("cas"),
                density_shares=(DensityShare(1.0, folder.densities[formula]),),
                ghs_codes=codes,
                ghs_source=row.text("ghs_source"),
                cautions=_cautions(formula, codes, folder.cautions),
                note=row.text("note"),
                origin=row.table.file,
            ),
            row.word("kind", KINDS, ""),
            row.word("dilution_heat", DILUTION_HEATS, ""),
            strengths,
        )

    @property
    def formula(self) -> str:
        return self.salt.formula

    @property
    def name(self) -> str:
        return self.salt.name

    @property
    def usual_strengths(self) -> tuple[ListedStrength, ...]:
        """The strengths at which it is sold."""
        return tuple(strength for strength in self.strengths if strength.is_usual)


class Reagents:
    """The reagents known, in file order.

    Examples
    --------
    >>> reagents = Reagents.bundled()
    >>> reagents.find("muriatic acid").formula
    'HCl'
    >>> [f"{100 * s.mass_fraction:g} %" for s in reagents.find("HCl").usual_strengths]
    ['10 %', '31 %', '37 %']
    """

    def __init__(self, reagents: dict[str, Reagent], citations: dict[str, str]) -> None:
        self.reagents = reagents
        self._names = Catalogue({formula: r.salt for formula, r in reagents.items()}, "", citations)

    @classmethod
    @cache
    def bundled(cls) -> Reagents:
        """The reagents that come with the package, read once."""
        return cls.read(bundled_folder())

    @classmethod
    def read(cls, place: Path) -> Reagents:
        """The reagents of a folder that holds all the tables.

        Raises
        ------
        DataError
            Naming file, line and column.
        """
        folder = Folder.read(place, own=False)
        strengths: dict[str, list[ListedStrength]] = {}
        for row in Table.read(place / "strength_tables.csv", _STRENGTH, ("note",)):
            strengths.setdefault(row.required("reagent"), []).append(_strength(row))
        found = {}
        for row in Table.read(place / "reagents.csv", _REAGENT, ("ghs_provenance", "note")):
            listed = sorted(strengths.get(row.required("reagent"), []), key=lambda s: s.mass_fraction)
            found[row.required("reagent")] = Reagent.of_row(row, folder, tuple(listed))
        return cls(found, folder.citations)

    def find(self, text: str) -> Reagent:
        """The reagent of that formula, name or common name.

        Raises
        ------
        InputError
            Where none bears that name; it lists those known.
        """
        try:
            return self.reagents[self._names.find(text).formula]
        except InputError:
            known = ", ".join(f"{formula} ({r.name})" for formula, r in self.reagents.items())
            raise InputError("reagent", repr(text), f"one of {known}", "HCl") from None

    def __contains__(self, text: str) -> bool:
        try:
            self.find(text)
        except InputError:
            return False
        return True

    def citation(self, key: str) -> str:
        """The citation of a source's key."""
        return self._names.citation(key)


def _strength(row: Row) -> ListedStrength:
    return ListedStrength(
        row.number("mass_percent", 0, 100) / 100,
        row.number("density_20C_g_cm3", 0.5, 3),
        row.word("usual", ("yes", "no"), "") == "yes",
        row.text("name"),
        row.text("source"),
        row.text("provenance"),
        row.text("note"),
    )


def _cautions(
    formula: str, codes: tuple[str, ...], cautions: list[tuple[str, Caution]]
) -> tuple[Caution, ...]:
    """What is said of the reagent itself and of its hazard codes; the rows on pots and on groups are the salts'."""
    wanted = {formula, *(f"ghs:{code}" for code in codes)} | ({"ghs:any"} if codes else set())
    return tuple(caution for target, caution in cautions if target in wanted)


def _parts(cell: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in cell.split(";") if part.strip())
