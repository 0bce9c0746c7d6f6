"""``crystal strength``: one solution told on every basis."""

from __future__ import annotations

import argparse

from rich.console import Console

from crystal import units
from crystal.bench.pot import ROOM_C
from crystal.data.reagents import Reagent, Reagents
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of
from crystal.faces.facts import Given
from crystal.faces.solutions import concentration
from crystal.faces.titles import columns
from crystal.faces.words import celsius, three
from crystal.physics.concentration import Concentration
from crystal.physics.scales import BAUME_RATIONAL, BAUME_US, SG_20_4, SG_60_60


def answer(args: argparse.Namespace) -> Answer:
    """Convert the strength."""
    at_C = ROOM_C if args.at is None else units.temperature_C(args.at, what="--at")
    density = None if args.density is None else Given(args.density, "--density")
    given = Given(args.solution, "SOLUTION")
    found = concentration(given, catalogue_of(args), temperature_C=at_C, density=density)
    scale = units.solution(given.text, what=given.what)
    assumed = scale.kind == "baume" and not scale.scale
    return Answer(found.to_json(), lambda console: _show(console, found, assumed))


def _show(console: Console, found: Concentration, scale_assumed: bool) -> None:
    solute = found.solute
    console.print(f"{solute.formula}, {solute.salt.name}, at {celsius(found.temperature_C)}")
    if scale_assumed:
        console.print(
            "Degrees Baumé were taken on the US scale; write 'Be rational' for the older European one."
        )
    rows = [
        ("mass percent", three(found.mass_percent), "% w/w, g per 100 g of solution"),
        ("per litre", three(found.g_L), "g/L of solution"),
        ("molarity", three(found.mol_L), "mol/L of solution"),
        ("molality", three(found.mol_kg_water), "mol/kg of water"),
        ("per water", three(found.g_100g_water), "g/100 g of water"),
        ("density", f"{found.density_g_mL:.4f}", f"g/mL at {celsius(found.temperature_C)}"),
        ("specific gravity", f"{found.specific_gravity(SG_20_4):.4f}", "20/4 °C"),
        ("specific gravity", f"{found.specific_gravity(SG_60_60):.4f}", "60/60 °F"),
    ]
    light = found.specific_gravity(SG_60_60) < 1.0
    for scale, told in (
        (BAUME_US, "US: 140/sg - 130, 60/60 °F" if light else "US: 145 - 145/sg, 60/60 °F"),
        (BAUME_RATIONAL, "rational, older European: 144.3 - 144.3/sg, 15/15 °C"),
    ):
        degrees = found.baume(scale)
        if degrees is not None:
            rows.append(("degrees Baumé", three(degrees), told))
    if found.peroxide_volumes is not None:
        rows.append(("volumes", three(found.peroxide_volumes), "L of oxygen (0 °C, 1 atm) per L of solution"))
    show.table(console, columns("basis", "value", "unit"), rows, left=(0, 2))
    reagents = Reagents.bundled()
    if solute.formula in reagents.reagents:
        line = _usual(reagents.reagents[solute.formula])
        if line:
            console.print(line)
    if found.warnings:
        show.heading(console, "Mind")
        show.bullets(console, found.warnings)
    show.cautions(console, solute.salt)


def _usual(reagent: Reagent) -> str:
    """The strengths at which it is sold."""
    sold = [
        f"{100 * one.mass_fraction:g} %{f' ({one.name})' if one.name else ''}"
        for one in reagent.usual_strengths
    ]
    return f"Sold at {', '.join(sold)}." if sold else ""
