"""``crystal yield``: crystals at one or several temperatures, from the data or from a given solubility."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.console import Console

from crystal.bench.batch import Batch
from crystal.bench.cooling import LOOSE_BED, OUTCOMES, SET_SHARE, UNKNOWN, Cooled
from crystal.bench.ends import BOILING_C
from crystal.bench.hand import HandCrop
from crystal.bench.shift import company_notes
from crystal.data.records import Phase
from crystal.errors import InputError
from crystal.faces.answers import yield_answer, yield_rows
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of, cooling_temperatures, told_by
from crystal.faces.facts import (
    Given,
    naming_the_cold,
    require_same_salt,
    strength_mass_fraction,
)
from crystal.faces.titles import column, columns
from crystal.faces.words import celsius, grams, millilitres, outcome_word, percent, three
from crystal.physics.formula import Hydrate
from crystal.physics.solids import solid_density_g_mL

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def answer(args: argparse.Namespace) -> Answer:
    """Work the yields out."""
    catalogue = catalogue_of(args)
    told = told_by(args, catalogue)
    by_hand = args.solubility is not None or args.crystals is not None
    temperatures = cooling_temperatures(told.facts)
    batch = told.batch(catalogue, without=("cool_to",))
    if by_hand:
        if args.chart is not None:
            raise InputError(
                "--chart", repr(args.chart), "left out beside --solubility: one solubility makes no curve"
            )
        rows = [_hand_row(args, batch, temperatures)]
        warnings = [
            "The crystals follow from the given solubility alone; the data for the salt were not asked."
        ]
    else:
        with naming_the_cold(told.facts):
            cooled = cooled_at(batch, temperatures)
        rows, warnings = yield_rows(cooled), warnings_of(batch, cooled)
    warnings = [*warnings, *company_notes(batch.end, temperatures[0]), *told.notes]
    data = yield_answer(batch, rows, warnings)

    def chart() -> Figure:
        from crystal.faces.figures import yield_chart

        return yield_chart(batch.end, temperatures, bed=batch.bed)

    return Answer(data, lambda console: _show(console, batch, data), chart, rows)


def cooled_at(batch: Batch, temperatures: list[float]) -> Cooled:
    """The end point's pot at each temperature."""
    end = batch.end
    return Cooled.of(end.model, end.salt_g, end.water_g, temperatures, bed=batch.bed, others=end.others)


def _hand_row(args: argparse.Namespace, batch: Batch, temperatures: list[float]) -> dict[str, Any]:
    if args.solubility is None or args.crystals is None:
        missing = "--solubility" if args.solubility is None else "--crystals"
        example = '"21.5 g/100 g water"' if args.solubility is None else "Na2CO3.10H2O"
        raise InputError(missing, "nothing", "given too: a hand calculation needs both", example)
    if len(temperatures) != 1:
        raise InputError(
            "--cool-to",
            f"{len(temperatures)} temperatures",
            "one temperature, that of --solubility",
            '"20 degC"',
        )
    end, model = batch.end, batch.start.model
    solubility, crystals = Given(args.solubility, "--solubility"), Given(args.crystals, "--crystals")
    try:
        hydrate = Hydrate.parse(crystals.text)
    except InputError as error:
        raise InputError(crystals.what, repr(crystals.text), error.must_be, "Na2CO3.10H2O") from None
    require_same_salt(model, hydrate, crystals)
    w = strength_mass_fraction(model, solubility, temperatures[0])
    share = hydrate.salt_mass_fraction
    crop = HandCrop.of(end.salt_g, end.water_g, w / (1.0 - w), share)
    phase = Phase(crystals.text.strip(), hydrate.waters)
    known = [p for p in model.salt.phases if p.waters is not None and abs(p.waters - hydrate.waters) < 1e-9]
    crystals_mL = crop.crystals_g / solid_density_g_mL(model.salt, (known or [phase])[0])[0]
    salt_left_g = crop.liquor_g * crop.liquor_mass_fraction
    liquor_mL = float(end.volume_of(crop.liquor_g - salt_left_g, temperatures[0], salt_left_g))
    liquor_g = crop.liquor_g + end.others.total_g
    fill = crystals_mL / (crystals_mL + liquor_mL)
    if crop.crystals_g <= 0:
        outcome = "clear"
    elif fill >= SET_SHARE or not crop.liquor_left:
        outcome = "set"
    else:
        outcome = OUTCOMES[2] if fill >= batch.bed else OUTCOMES[1]
    some = crop.crystals_g > 0
    return {
        "cool_to_degC": temperatures[0],
        "outcome": outcome,
        "phase": phase.formula if some else None,
        "solids": [{"phase": phase.formula, "g": crop.crystals_g}] if some else [],
        "crystals_g": crop.crystals_g,
        "yield_percent": 100.0 * crop.yield_fraction,
        "liquor_g": liquor_g,
        "liquor_mL": liquor_mL,
        "liquor_mass_percent": 100.0 * salt_left_g / liquor_g if crop.liquor_left else None,
        "crystal_volume_fraction": fill,
        "ice_g": 0.0,
    }


def warnings_of(batch: Batch, cooled: Cooled) -> list[str]:
    """What to be warned of in these yields."""
    model, end = batch.start.model, batch.end
    found = []
    if batch.end_water_g is not None:
        hot_C = min(BOILING_C, model.map.high_C) if batch.boil_at_C is None else batch.boil_at_C
        hot = Cooled.of(model, end.salt_g, end.water_g, hot_C, strict=False, others=end.others)
        if int(hot.outcome) == UNKNOWN:
            found.append(
                f"Whether the hot pot stays clear at {hot_C:g} degC is not in the data for {model.salt.formula}."
            )
        elif float(hot.crystals_g) > 0:
            found.append(
                f"At {hot_C:g} degC {float(hot.crystals_g):.3g} g of {model.solid_name(int(hot.main_solid))} already "
                "stands in the hot pot; it is slow to change into what is stable in the cold."
            )
        limit = model.salt.heat_limit_C
        if limit is not None and hot_C > limit:
            found.append(
                f"{model.salt.formula} solutions are worked below about {limit:g} degC ({model.salt.heat_limit_reason})."
            )
    elif batch.boil_at_C is not None:
        found.append("The temperature of boiling is not used: nothing is driven off.")
    for index in np.flatnonzero(cooled.ice_g > 0):
        found.append(
            f"At {cooled.temperature_C[index]:g} degC {cooled.ice_g[index]:.3g} g of the pot is ice, which is no crop."
        )
    liquor = cooled.equilibrium.liquor_mass_fraction
    wet = cooled.liquor_g > 0
    return found + model.density.warnings(
        np.concatenate([[batch.start.mass_fraction, end.mass_fraction], liquor[wet]]),
        np.concatenate([[batch.start.read_at_C, end.read_at_C], cooled.temperature_C[wet]]),
    )


def _show(console: Console, batch: Batch, data: dict[str, Any]) -> None:
    salt = batch.start.model.salt
    console.print(show.salt_line(salt, batch.title))
    console.print(show.pot_line(batch.start))
    end = data["end"]
    if batch.end_water_g is not None:
        console.print(
            f"Reduced to {millilitres(end['end_volume_mL'])} at {celsius(batch.read_at_C)} "
            f"({percent(end['fraction_of_start'])} of the start, {grams(end['end_mass_g'])}, "
            f"{grams(end['water_removed_g'])} of water gone, {three(end['mass_percent'])} mass %)."
        )
    else:
        console.print("Cooled as it is, nothing driven off.")
    titles = (
        *columns("cool_to_degC", "outcome", "phase", "crystals_g", "yield_percent", "liquor_g", "liquor_mL"),
        column("liquor_mass_percent"),
        column("crystal_volume_fraction", percent=True),
    )
    rows = [
        (
            f"{row['cool_to_degC']:.4g}",
            outcome_word(row["outcome"]) + (f", ice {grams(row['ice_g'])}" if row["ice_g"] else ""),
            " + ".join(one["phase"] for one in row["solids"] if one["phase"] != "ice") or "-",
            three(row["crystals_g"]),
            three(row["yield_percent"]),
            three(row["liquor_g"]),
            three(row["liquor_mL"]),
            "-" if row["liquor_mass_percent"] is None else three(row["liquor_mass_percent"]),
            three(100 * row["crystal_volume_fraction"]),
        )
        for row in data["rows"]
    ]
    show.table(console, titles, rows, left=(1, 2), spare=(6, 5, 7))
    bed = f"{batch.bed:g}" + (" (loosely settled grains)" if batch.bed == LOOSE_BED else "")
    console.print(f"A crop stops pouring off where its crystals fill {bed} of the volume.")
    show.warnings_and_cautions(console, data["warnings"], salt)
