"""``crystal path``: the states that a batch goes through."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from rich.console import Console

from crystal.bench.batch import Batch
from crystal.bench.path import SaturationPath
from crystal.faces.answers import path_answer
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import batch_from, catalogue_of, told_by
from crystal.faces.facts import naming_the_cold
from crystal.faces.titles import columns
from crystal.faces.words import three

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def answer(args: argparse.Namespace) -> Answer:
    """Follow the batch."""
    catalogue = catalogue_of(args)
    told = told_by(args, catalogue)
    batch = batch_from(told, catalogue)
    model = batch.start.model
    assert batch.cool_to_C is not None
    with naming_the_cold(told.facts):
        path = SaturationPath.of(
            batch.start, batch.end.water_g, batch.cool_to_C, boil_at_C=batch.boil_at_C, bed=batch.bed
        )
    read = [batch.start.mass_fraction, batch.end.mass_fraction], [batch.start.read_at_C, batch.end.read_at_C]
    warnings = [*path.warnings, *model.density.warnings(*read), *told.notes]
    data = path_answer(path, warnings)

    def chart() -> Figure:
        from crystal.faces.figures import path_chart

        return path_chart(path)

    return Answer(data, lambda console: _show(console, batch, data), chart, data["steps"])


def _show(console: Console, batch: Batch, data: dict[str, Any]) -> None:
    salt = batch.start.model.salt
    console.print(show.salt_line(salt, batch.title))
    console.print(show.pot_line(batch.start))
    titles = columns(
        "step", "temperature_degC", "mass_percent", "water_g", "phase", "crystals_g", "liquor_g", "liquor_mass_percent"
    )  # fmt: skip
    rows = [
        (
            step["step"],
            f"{step['temperature_degC']:.1f}",
            three(step["mass_percent"]),
            three(step["water_g"]),
            " + ".join(one["phase"] for one in step["solids"] or ())
            or step["phase"]
            or ("not in the data" if step["crystals_g"] is None else "-"),
            *(
                "-" if step[key] is None else three(step[key])
                for key in ("crystals_g", "liquor_g", "liquor_mass_percent")
            ),
        )
        for step in data["steps"]
    ]
    show.table(console, titles, rows, left=(0, 4), spare=(6, 3))
    show.warnings_and_cautions(console, data["warnings"], salt)
