"""``crystal salts`` and ``crystal card``: what is covered, and everything known of one salt."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.console import Console

from crystal import units
from crystal.data.catalogue import Catalogue
from crystal.data.records import Branch, Phase, Salt
from crystal.faces.answers import salt_answer
from crystal.faces.cli import show
from crystal.faces.cli.heatcard import heat_answer, heat_lines
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of
from crystal.faces.titles import column, columns
from crystal.faces.words import spans, three
from crystal.physics.curve import LEAST_POINTS, leave_one_out_errors
from crystal.physics.formula import composition_mass_fraction
from crystal.physics.model import Model
from crystal.physics.solids import solid_density_g_mL

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def answer(args: argparse.Namespace) -> Answer:
    """List the salts."""
    catalogue = catalogue_of(args)
    found = catalogue.search(args.text) or [catalogue.find(args.text)]
    data = [salt_answer(salt, Model.of(salt)) for salt in found]
    return Answer(data, lambda console: _show_list(console, found, data, args.text), rows=data)


def _show_list(console: Console, found: list[Salt], data: list[dict[str, Any]], text: str) -> None:
    rows = []
    for salt, one in zip(found, data, strict=True):
        common = f" ({', '.join(salt.common_names)})" if salt.common_names else ""
        solids = ", ".join(_water_word(salt, phase) for phase in salt.phases if not phase.is_ice)
        rows.append((one["formula"], f"{salt.name}{common}", solids, spans(map(tuple, one["covers_degC"]))))
    titles = (*columns("formula", "name", "solids"), column("covers_degC", bare=True))
    show.table(console, titles, rows, left=(0, 1, 2, 3))
    counted = "1 salt" if len(found) == 1 else f"{len(found)} salts"
    console.print(
        f"{counted}{f' for {text!r}' if text else ''}. More on one: crystal card '{found[0].formula}'"
    )


def _water_word(salt: Salt, phase: Phase) -> str:
    """The solid by its crystal water: '.7H2O'; the whole formula where the salt's own is no part of it."""
    if not phase.waters:
        return "anhydrous"
    return phase.formula.removeprefix(salt.formula).lstrip(".")


def card(args: argparse.Namespace) -> Answer:
    """Everything the data hold on one salt."""
    catalogue = catalogue_of(args)
    salt = catalogue.find(args.salt)
    model = Model.of(salt)
    data = _card_data(catalogue, salt, model)

    def chart() -> Figure:
        if args.beside is not None:
            from crystal.faces.figures.pair import beside_chart

            at = 20.0 if args.at is None else units.temperature_C(args.at, what="--at")
            return beside_chart(model, args.beside, at)
        from crystal.faces.figures import curve_chart

        return curve_chart(model)

    return Answer(data, lambda console: _show_card(console, salt, data), chart)


def _card_data(catalogue: Catalogue, salt: Salt, model: Model) -> dict[str, Any]:
    doubt = salt.curve_doubt_mass_fraction
    states = [
        (point.mass_fraction, point.temperature_C)
        for b in salt.branches
        if not b.metastable
        for point in b.points
    ]
    w, t = (np.array(column) for column in zip(*states, strict=True))
    return {
        "formula": salt.formula,
        "name": salt.name,
        "common_names": list(salt.common_names),
        "cas": salt.cas or None,
        "covers_degC": [[low, high] for low, high in model.map.covers_degC],
        "heat_limit_degC": salt.heat_limit_C,
        "heat_limit_reason": salt.heat_limit_reason or None,
        **heat_answer(model),
        "curve_doubt_mass_percent": None if doubt is None else 100.0 * doubt,
        "curve_doubt_basis": salt.curve_doubt_basis or None,
        "note": salt.note or None,
        "edition": catalogue.edition,
        "solids": [_solid(salt, phase) for phase in salt.phases],
        "cautions": [
            {"kind": c.kind, "text": c.text, "source": c.source, "provenance": c.provenance}
            for c in salt.cautions
        ],
        "sources": [{"key": key, "citation": catalogue.citation(key)} for key in _source_keys(salt)],
        "warnings": model.density.warnings(w, t),
    }


def _solid(salt: Salt, phase: Phase) -> dict[str, Any]:
    density, is_estimate = solid_density_g_mL(salt, phase)
    stable = [b for b in salt.branches if b.phase == phase.formula and not b.metastable]
    loose = [b for b in salt.branches if b.phase == phase.formula and b.metastable]
    temperatures = [point.temperature_C for b in stable for point in b.points]
    errors = 100.0 * _errors(salt, phase, stable)
    return {
        "phase": phase.formula,
        "name": phase.name,
        "waters": phase.waters,
        "solid_density_g_mL": density,
        "density_is_estimate": is_estimate,
        "density_source": phase.density_source or None,
        "density_provenance": phase.density_provenance or None,
        "stable_degC": [min(temperatures), max(temperatures)] if temperatures else None,
        "points": len(temperatures),
        "metastable_points": sum(len(b.points) for b in loose),
        "error_mean_mass_percent": float(np.abs(errors).mean()) if errors.size else None,
        "error_max_mass_percent": float(np.abs(errors).max()) if errors.size else None,
        "predicted": any(len(b.points) >= LEAST_POINTS for b in stable),
        "note": phase.note or None,
    }


def _errors(salt: Salt, phase: Phase, branches: list[Branch]) -> np.ndarray:
    x = composition_mass_fraction(salt.formula, phase.waters)
    return np.concatenate([np.zeros(0), *(leave_one_out_errors(branch, x) for branch in branches)])


def _source_keys(salt: Salt) -> list[str]:
    keys = [phase.density_source for phase in salt.phases]
    keys += [point.source for branch in salt.branches for point in branch.points]
    keys += [share.solute.source for share in salt.density_shares]
    keys += [caution.source for caution in salt.cautions]
    keys.append(salt.ghs_source)
    keys += [value for key, value in salt.extra.items() if key.endswith("_source")]
    return sorted({key for key in keys if key})


def _show_card(console: Console, salt: Salt, data: dict[str, Any]) -> None:
    console.print(show.salt_line(salt))
    if salt.common_names:
        console.print(f"Also called {', '.join(salt.common_names)}.")
    console.print(
        f"Saturated liquors known: {spans(map(tuple, data['covers_degC']))}. Data edition {data['edition']}."
    )
    show.heading(console, "Solids")
    _solids_table(console, data)
    show.bullets(console, _solid_remarks(data))
    show.heading(console, "Curve, solutions, heat")
    show.bullets(console, _remarks(salt, data))
    show.heading(console, "Cautions")
    show.bullets(
        console, [f"{c['kind']}: {c['text']} [{c['source']}; {c['provenance']}]" for c in data["cautions"]]
    )
    show.heading(console, "Sources")
    show.bullets(
        console,
        [s["key"] if s["key"] == s["citation"] else f"{s['key']}: {s['citation']}" for s in data["sources"]],
    )


def _solids_table(console: Console, data: dict[str, Any]) -> None:
    titles = columns(
        "phase", "waters", "solid_density_g_mL", "stable_degC", "solids.points", "error_mean_mass_percent",
        "error_max_mass_percent",
    )  # fmt: skip
    rows = [
        (
            solid["phase"],
            "-" if solid["waters"] is None else f"{solid['waters']:g}",
            f"{solid['solid_density_g_mL']:.3f}" + (" est." if solid["density_is_estimate"] else ""),
            "-" if solid["stable_degC"] is None else "{:.4g} to {:.4g}".format(*solid["stable_degC"]),
            str(solid["points"])
            + (f" + {solid['metastable_points']}*" if solid["metastable_points"] else ""),
            "-" if solid["error_mean_mass_percent"] is None else f"{solid['error_mean_mass_percent']:.2f}",
            "-" if solid["error_max_mass_percent"] is None else f"{solid['error_max_mass_percent']:.2f}",
        )
        for solid in data["solids"]
    ]
    show.table(console, titles, rows, left=(0, 2, 3), spare=(1, 4))
    console.print(
        "  est.: estimated from the salt's other solids. * metastable points, not used for predictions.\n"
        "  The error is that of each inner point predicted from the others, in mass % of salt; '-' below 4 points."
    )


def _solid_remarks(data: dict[str, Any]) -> list[str]:
    lines = []
    for solid in data["solids"]:
        if not solid["predicted"]:
            number = solid["points"]
            held = "no stable point" if number == 0 else f"{number} stable point{'s' if number > 1 else ''}"
            lines.append(f"{solid['phase']} is named but not predicted: {held} in the data, 2 are needed.")
        source, provenance = solid["density_source"], solid["density_provenance"]
        told = f"density from {source} ({provenance or 'as given'})" if source else ""
        remark = "; ".join(part for part in (solid["name"], told, solid["note"]) if part)
        if remark and remark != solid["phase"]:
            lines.append(f"{solid['phase']}: {remark}.")
    return lines


def _remarks(salt: Salt, data: dict[str, Any]) -> list[str]:
    lines = []
    if data["curve_doubt_mass_percent"] is not None:
        lines.append(
            f"Doubt of the curve: {three(data['curve_doubt_mass_percent'])} mass % ({salt.curve_doubt_basis})."
        )
    else:
        lines.append("Doubt of the curve: not known.")
    if salt.density_shares:
        solutes = ", ".join(share.solute.solute for share in salt.density_shares)
        lines.append(f"Density of solutions from that of {solutes}.")
    lines += data["warnings"]
    lines += heat_lines(data)
    if salt.note:
        lines.append(f"Note: {salt.note}.")
    return lines
