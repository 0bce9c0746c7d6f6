"""Salts put together from the folders that speak of them: the bundled one and, over it, a person's own."""

from __future__ import annotations

from crystal.data.folder import Folder
from crystal.data.formulas import contains_group, elements, split_crystal_water
from crystal.data.records import Caution, DensityFit, DensityPoints, DensityShare, Phase, Salt
from crystal.data.tables import Row
from crystal.errors import DataError

_IN_THE_RECORD = frozenset(
    (
        *(
            "system",
            "name",
            "common_names",
            "cas_anhydrous",
            "heat_limit_C",
            "heat_limit_reason",
            "ghs_codes",
        ),
        *("ghs_source", "note", "curve_doubt_mass_percent", "curve_doubt_basis"),
    )
)


def salts_from(bundled: Folder, own: Folder | None = None) -> dict[str, Salt]:
    """The salts by formula, in file order; own ones replace or follow.

    Raises
    ------
    DataError
        Where a salt is spoken of but none of its saturated liquids is given.
    """
    own = own or Folder("")
    densities = bundled.densities | own.densities
    cautions = bundled.cautions + own.cautions
    salts = {}
    for system in dict.fromkeys((*bundled.systems(), *own.systems())):
        if system not in bundled.branches and system not in own.branches:
            folder = own if system in own.systems() else bundled
            problem = f"{system} has no rows in solubility.csv; a salt needs its saturated liquids"
            if system in folder.facts:
                folder.facts[system].fault("system", problem)
            raise DataError(folder.place, None, "system", problem)
        salts[system] = _salt(system, bundled, own, densities, cautions)
    return salts


def _salt(
    system: str,
    bundled: Folder,
    own: Folder,
    densities: dict[str, DensityFit | DensityPoints],
    cautions: list[tuple[str, Caution]],
) -> Salt:
    """One salt: the curve from one folder only, each fact from the nearer folder that gives it."""
    own_curve = system in own.branches
    rows = [folder.facts[system] for folder in (own, bundled) if system in folder.facts]
    # Doubt and note of the bundled row speak of the bundled curve, not of the one that replaces it.
    curve_rows = [row for row in rows if not own_curve or row is own.facts.get(system)]
    doubt = _number(curve_rows, "curve_doubt_mass_percent")
    codes = tuple(_parts(_text(rows, "ghs_codes")))
    columns = dict.fromkeys(column for row in rows for column in row.table.places)
    return Salt(
        formula=system,
        name=_text(rows, "name") or system,
        common_names=tuple(_parts(_text(rows, "common_names"))),
        cas=_text(rows, "cas_anhydrous"),
        phases=_phases(system, bundled, own),
        branches=(own if own_curve else bundled).branches[system],
        density_shares=_density_shares(system, bundled, own, densities),
        heat_limit_C=_number(rows, "heat_limit_C"),
        heat_limit_reason=_text(rows, "heat_limit_reason"),
        curve_doubt_mass_fraction=None if doubt is None else doubt / 100,
        curve_doubt_basis=_text(curve_rows, "curve_doubt_basis"),
        ghs_codes=codes,
        ghs_source=_text(rows, "ghs_source"),
        cautions=_cautions(system, codes, cautions),
        note=_text(curve_rows, "note"),
        origin=own.place if own_curve or system in own.facts else "bundled",
        extra={
            column: _text(rows, column)
            for column in columns
            if column not in _IN_THE_RECORD and _text(rows, column)
        },
    )


def _text(rows: list[Row], column: str) -> str:
    """The first of the rows that says anything."""
    return next((row.text(column) for row in rows if row.text(column)), "")


def _number(rows: list[Row], column: str) -> float | None:
    return next((row.number(column) for row in rows if row.text(column)), None)


def _parts(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]


def _phases(system: str, bundled: Folder, own: Folder) -> tuple[Phase, ...]:
    """The solids of the curve in use, each described by the nearest folder that knows it."""
    known = bundled.phases.get(system, {}) | own.phases.get(system, {})
    if system in own.branches:
        wanted = [branch.phase for branch in own.branches[system]] + list(own.phases.get(system, {}))
    else:
        wanted = list(known) + [branch.phase for branch in bundled.branches[system]]
    return tuple(
        known.get(formula) or Phase(formula, split_crystal_water(formula)[1])
        for formula in dict.fromkeys(wanted)
    )


def _density_shares(
    system: str, bundled: Folder, own: Folder, densities: dict[str, DensityFit | DensityPoints]
) -> tuple[DensityShare, ...]:
    """The salt's own density first, else the simple salts that stand in for it, else nothing."""
    if system in densities:
        return (DensityShare(1.0, densities[system]),)
    found = []
    for moles, row in own.shares.get(system) or bundled.shares.get(system, []):
        solute = row.text("solute")
        if solute not in densities:
            row.fault(
                "solute",
                f"no density of {solute} is known; give it in density_fits.csv or density_tables.csv",
            )
        found.append(DensityShare(moles, densities[solute]))
    return tuple(found)


def _cautions(
    system: str, codes: tuple[str, ...], cautions: list[tuple[str, Caution]]
) -> tuple[Caution, ...]:
    symbols = elements(system)
    return tuple(caution for target, caution in cautions if _applies(target, system, symbols, codes))


def _applies(target: str, system: str, symbols: frozenset[str], codes: tuple[str, ...]) -> bool:
    group, colon, name = target.partition(":")
    if not colon:
        return target in ("all", system)
    if group == "metal":
        return name in symbols
    if group == "ghs":
        return name in codes or (name == "any" and bool(codes)) or (name == "none" and not codes)
    return contains_group(system, name)
