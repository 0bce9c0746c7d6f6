"""``crystal explain``: why a batch turned out as it did, and how to save it."""

from __future__ import annotations

import argparse
from dataclasses import replace

from rich.console import Console

from crystal.bench.cooling import OUTCOMES
from crystal.bench.explain import Explanation
from crystal.bench.forecast import percent as percent_of
from crystal.bench.forecast import sharpened
from crystal.errors import InputError
from crystal.faces.answers import explain_answer
from crystal.faces.batchfile import BatchFile
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of
from crystal.faces.doubts import risk_of
from crystal.faces.facts import naming_the_cold
from crystal.faces.words import celsius, grams, millilitres, outcome_phrase, percent


def answer(args: argparse.Namespace) -> Answer:
    """Explain the batch of a file."""
    written = BatchFile.read(args.batch)
    catalogue = catalogue_of(args)
    told = written.told(catalogue)
    batch = told.batch(catalogue)
    if batch.cool_to_C is None and all(seen.temperature_C is None for seen in batch.seen):
        raise InputError(
            f"{args.batch}: cool.to", "nothing", "the temperature that the pot was cooled to", 'to = "5 degC"'
        )
    with naming_the_cold(written.facts):
        found = Explanation.of(batch, risk=risk_of(told.facts))
    found = replace(found, warnings=(*found.warnings, *told.notes))
    return Answer(explain_answer(found), lambda console: _show(console, found))


def _show(console: Console, found: Explanation) -> None:
    batch = found.batch
    console.print(show.salt_line(batch.start.model.salt, batch.title))
    console.print(show.pot_line(batch.start))
    show.heading(console, "What was to be expected")
    show.indented(console, found.where)
    show.indented(console, f"Expected: {outcome_phrase(found.outcome_expected)}.")
    if found.outcome_seen is not None:
        agrees = "as expected" if found.agrees else "not as expected"
        show.indented(console, f"Seen: {outcome_phrase(found.outcome_seen)}: {agrees}.")
    show.indented(console, found.luck)
    if found.learned is not None:
        show.heading(console, "What was seen says")
        show.bullets(console, sharpened(found.learned))
    show.heading(console, "Why")
    if found.reasons:
        show.bullets(
            console, [f"{reason.cause.replace('_', ' ')}: {reason.text}" for reason in found.reasons]
        )
    else:
        show.indented(console, "Nothing here needs a reason.")
    if found.tests:
        show.heading(console, "What would tell the causes apart")
        show.bullets(console, found.tests)
    fine = found.outcome_expected == OUTCOMES[1] and found.agrees is not False
    show.heading(console, "Where most is to be expected" if fine else "What would have given a crop")
    end, odds = found.worked.end, found.worked_odds
    if end is None:
        show.indented(console, "No end point of this pot gives a crop that pours off at that temperature.")
    else:
        show.indented(
            console,
            f"Stopping at {millilitres(end.end_volume_mL)} ({percent(end.fraction_of_start)} of the start, "
            f"{grams(end.end_mass_g)}), read at {celsius(batch.read_at_C)}: "
            + (
                f"{grams(found.worked.crystals_g)} of crystals."
                if odds is None
                else f"{grams(float(odds.crop_expected_g[0]))} of crystals to be expected, a crop in "
                f"{percent_of(float(odds.odds[1, 0]))} of cases."
            ),
        )
    if found.rescue is not None:
        rescue = found.rescue
        warm = (
            ""
            if rescue.warm_to_C is None
            else f", warm it to {celsius(rescue.warm_to_C)} until all has dissolved"
        )
        show.heading(console, "Rescue")
        show.indented(
            console,
            f"Add {grams(rescue.add_water_g)} of water{warm}, then cool to {celsius(rescue.cool_to_C)}: "
            f"{grams(rescue.crystals_g)} of crystals, {outcome_phrase(rescue.outcome)}.",
        )
        if rescue.warm_to_C is None:
            show.indented(
                console,
                "No temperature is known at which the diluted pot is clear: stir it while it is warm.",
            )
    show.warnings_and_cautions(console, found.warnings, batch.start.model.salt)
