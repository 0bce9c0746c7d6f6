"""Salts put together from the folders that speak of them: the bundled one and, over it, a person's own."""

from __future__ import annotations

from crystal.data.folder import Folder
from crystal.data.formulas import contains_group, elements, split_crystal_water
from crystal.data.records import Caution, DensityFit, DensityPoints, DensityShare, Phase, Salt
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
    """One salt: the curve from one folder only, the facts from the nearer folder that gives them."""
    own_curve = system in own.branches
    curve = own if own_curve else bundled
    phases = _phases(system, bundled, own)
    shares = _density_shares(system, bundled, own, densities)
    facts = own.facts.get(system) or bundled.facts.get(system)
    if facts is None:
        return Salt(
            formula=system,
            name=system,
            phases=phases,
            branches=curve.branches[system],
            density_shares=shares,
            cautions=_cautions(system, (), cautions),
            origin=curve.place,
        )
    # Doubt and note of the bundled row speak of the bundled curve, not of the one that replaces it.
    of_this_curve = not own_curve or system in own.facts
    doubt = facts.number_or_none("curve_doubt_mass_percent") if of_this_curve else None
    codes = tuple(_parts(facts.text("ghs_codes")))
    return Salt(
        formula=system,
        name=facts.text("name", system),
        common_names=tuple(_parts(facts.text("common_names"))),
        cas=facts.text("cas_anhydrous"),
        phases=phases,
        branches=curve.branches[system],
        density_shares=shares,
        heat_limit_C=facts.number_or_none("heat_limit_C"),
        heat_limit_reason=facts.text("heat_limit_reason"),
        curve_doubt_mass_fraction=None if doubt is None else doubt / 100,
        curve_doubt_basis=facts.text("curve_doubt_basis") if of_this_curve else "",
        ghs_codes=codes,
        ghs_source=facts.text("ghs_source"),
        cautions=_cautions(system, codes, cautions),
        note=facts.text("note") if of_this_curve else "",
        origin=own.place if own_curve or system in own.facts else "bundled",
        extra={
            column: facts.text(column)
            for column in facts.table.places
            if column not in _IN_THE_RECORD and facts.text(column)
        },
    )


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
