"""``crystal harvest``: crystals drained, washed and dried, and where every gram went."""

from __future__ import annotations

import argparse
import math
from typing import Any

from rich.console import Console

from crystal.bench.batch import Batch
from crystal.bench.harvest import SATURATED, Harvest, Wash
from crystal.bench.purity import Purifying
from crystal.bench.shift import company_notes
from crystal.bench.weighing import Weighing
from crystal.data.catalogue import Catalogue
from crystal.faces.cli import show, streams
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import batch_from, catalogue_of, told_by
from crystal.faces.cli.yields import cooled_at, warnings_of
from crystal.faces.facts import naming_the_cold
from crystal.faces.harvestanswers import harvest_answer
from crystal.faces.harvestfacts import draining_of, purity_of, spilled_g, washes_of, with_options
from crystal.faces.titles import columns
from crystal.faces.words import celsius, grams, outcome_phrase, percent, three

THICK = "It does not pour off: break it up and press or suck the liquor out; what is held may be more than reckoned here."


def answer(args: argparse.Namespace) -> Answer:
    """Work the harvest out."""
    catalogue = catalogue_of(args)
    told = told_by(args, catalogue)
    facts = with_options(args, told.facts)
    batch = batch_from(told, catalogue)
    assert batch.cool_to_C is not None
    how = draining_of(facts)
    washes = washes_of(batch.start.model, facts, batch.cool_to_C)
    with naming_the_cold(told.facts):
        found = Harvest.of(batch.end, batch.cool_to_C, how, washes, bed=batch.bed, spilled_g=spilled_g(facts))
    wanted = purity_of(facts)
    purifying = None if wanted is None else Purifying.of(found, wanted, bed=batch.bed)
    warnings = [*harvest_warnings(found, washes), *cooled_warnings(batch), *told.notes]
    weighed = Weighing.all_of(found, batch.seen)
    data = harvest_answer(batch, found, purifying, weighed, catalogue, warnings)
    return Answer(data, lambda console: _show(console, batch, found, data, catalogue), rows=data["stages"])


def cooled_warnings(batch: Batch) -> list[str]:
    """What to mind of the pot that is cooled."""
    assert batch.cool_to_C is not None
    cooled = cooled_at(batch, [batch.cool_to_C])
    found = warnings_of(batch, cooled)
    return [*found, *company_notes(batch.end, batch.cool_to_C)]


COSTLY = 0.10
"""Share of the crystals that a wash may dissolve before another way of washing is named; a judgement, no source."""


def harvest_warnings(found: Harvest, washes: tuple[Wash, ...]) -> list[str]:
    """What to mind of draining, washing and drying."""
    said = []
    if found.outcome in ("thick", "set"):
        said.append(THICK)
    if float(found.cooled.ice_g) > 0:
        said.append("The ice is reckoned to the liquor: skim it off before it melts onto the crystals.")
    if any(wash.kind != SATURATED for wash in washes) and all(wash.contact == 1.0 for wash in washes):
        said.append(
            "A wash of water is reckoned to dissolve all that it can: a quick, cold one loses less (--contact)."
        )
    crystals = float(found.cooled.crystals_g)
    for number, (before, after) in enumerate(zip(found.cakes, found.cakes[1:], strict=False), 1):
        lost = before.crystals_g - after.crystals_g
        if lost > COSTLY * crystals:
            said.append(
                f"Wash {number} takes {percent(lost / crystals)} of the crystals: less water, or a saturated solution "
                "(--wash-with), which dissolves none, keeps them."
            )
    volatile = [
        name for name in found.pot.others.formulas if name in ("HCl", "HNO3", "NH3", "C2H4O2", "CH3COOH")
    ]
    if volatile:
        said.append(
            f"{' and '.join(volatile)} partly leaves with the water on drying: the dry crop is then purer than reckoned."
        )
    if not found.pot.others:
        said.append(
            "Purity counts only other solutes that were told of (--with); none was. The pot is taken as salt and water."
        )
    return said


def _show(console: Console, batch: Batch, found: Harvest, data: dict[str, Any], catalogue: Catalogue) -> None:
    salt = batch.start.model.salt
    cake, how = found.cake, found.how
    console.print(show.salt_line(salt, batch.title))
    console.print(show.pot_line(batch.start))
    show.heading(console, f"Harvest at {celsius(data['cool_to_degC'])}")
    lines = [
        f"{grams(data['crystals_g'])} of {cake.solid} comes, {outcome_phrase(found.outcome)}.",
        f"{how.method.capitalize()}: {three(how.held_g_per_g)} g of liquor held per gram of crystals (common practice, no "
        "source; fine crystals hold more).",
    ]
    for number, (wash, before, after) in enumerate(
        zip(found.washes, found.cakes, found.cakes[1:], strict=False), 1
    ):
        lost = before.crystals_g - after.crystals_g
        what = f"{grams(wash.liquid_g)} of {wash.kind}"
        did = f"dissolves {grams(lost)} of the crystals" if lost > 0 else "dissolves nothing"
        lines.append(f"Wash {number}, {what} at {celsius(wash.temperature_C)}, {did}.")
    show.bullets(console, lines)
    rows = [
        (
            stage["stage"],
            *(
                three(stage[key])
                for key in ("crystals_g", "liquor_held_g", "crystals_wet_g", "crystals_dry_g")
            ),
            purity_text(stage["purity_percent"]),
        )
        for stage in data["stages"]
    ]
    titles = columns(
        "stage", "crystals_g", "liquor_held_g", "crystals_wet_g", "crystals_dry_g", "purity_percent"
    )
    show.table(console, titles, rows, left=(0,))
    show.heading(console, "What it is worth")
    show.bullets(console, [*_worth(found, data), *(one["text"] for one in data["weighed"])])
    if data["purifying"] is not None:
        _purifying(console, data["purifying"])
    if data["liquor_solutes"]:
        show.heading(console, "Other solutes in the liquor")
        show.bullets(console, [solute_line(one) for one in data["liquor_solutes"]])
    streams.ledger(console, data["ledger"], salt.formula)
    streams.spent(console, [("Liquor", data["liquor"]), ("Washings", data["washings"])], salt, catalogue)
    show.warnings_and_cautions(console, data["warnings"], salt)


def _worth(found: Harvest, data: dict[str, Any]) -> list[str]:
    cake = found.cake
    left = cake.dried.mass_g - cake.crystals_g - cake.enclosed.mass_g
    lines = [
        f"Dry: {grams(data['crystals_dry_g'])}, of which {grams(left)} is what the clinging liquor leaves as it dries (its "
        f"salt as {cake.solid}).",
        f"True yield: {percent(found.yield_fraction)} of the salt. Weighed wet, {grams(data['crystals_wet_g'])} would pass for "
        f"{percent(found.apparent_yield_fraction)}: {grams(data['dried_off_g'])} of that is water that dries off.",
    ]
    if found.pot.others:
        lines.append(
            f"Purity: {purity_text(data['purity_percent'])} % (all but other solutes, by mass of the dry crop)."
        )
    return lines


def _purifying(console: Console, data: dict[str, Any]) -> None:
    show.heading(console, f"Recrystallised to {data['wanted_percent']:.6g} %")
    rows = [
        (
            str(number),
            three(one["add_water_g"]),
            "-" if one["warm_to_degC"] is None else f"{one['warm_to_degC']:.0f}",
            three(one["crystals_dry_g"]),
            purity_text(one["purity_percent"]),
            three(one["yield_percent"]),
        )
        for number, one in enumerate(data["rounds"], 1)
    ]
    if rows:
        titles = columns(
            "round", "add_water_g", "warm_to_degC", "crystals_dry_g", "purity_percent", "yield_percent"
        )
        show.table(console, titles, rows)
        word = "Reached" if data["reached"] else "Not reached"
        show.indented(
            console, f"{word} after {len(rows)} round{'s' if len(rows) > 1 else ''}: {data['why']}."
        )
    else:
        show.indented(
            console, "It is as pure already." if data["reached"] else f"Not reached: {data['why']}."
        )


def purity_text(percent_pure: float) -> str:
    """A purity with two digits of what is missing.

    Examples
    --------
    >>> purity_text(99.462), purity_text(99.99731), purity_text(100.0), purity_text(65.6)
    ('99.46', '99.9973', '100', '65.60')
    """
    missing = 100.0 - percent_pure
    if missing < 1e-9:
        return "100"
    return f"{percent_pure:.{max(2, 1 - math.floor(math.log10(missing)))}f}"


def solute_line(one: dict[str, Any]) -> str:
    """One other solute of a liquor in a sentence."""
    text = f"{one['formula']}: {three(one['g_per_100g_water'])} g per 100 g of water"
    if one["saturation_percent"] is None:
        return f"{text}; its own curve is not in the catalogue."
    return (
        f"{text}, {one['saturation_percent']:.0f} % of what pure water holds over {one['own_solid']} "
        f"({three(one['own_solubility_g_per_100g_water'])} g; a rough guide, the salt beside it shifts it)."
    )
