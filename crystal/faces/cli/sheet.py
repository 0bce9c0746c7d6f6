"""``crystal sheet``: one printed page to stand beside the hotplate."""

from __future__ import annotations

import argparse
from pathlib import Path

from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile
from crystal.faces.cli.output import check_target, put, write_all
from crystal.faces.cli.request import catalogue_of
from crystal.faces.doubts import risk_of
from crystal.faces.facts import naming_the_cold
from crystal.faces.sheet import sheet_html


def run(args: argparse.Namespace) -> None:
    """Write the sheet."""
    target = check_target(args.output, "--output", (".html", ".htm"))
    assert target is not None
    catalogue = catalogue_of(args)
    written = BatchFile.read(args.batch)
    told = written.told(catalogue)
    batch = told.batch(catalogue)
    if batch.cool_to_C is None:
        raise InputError(
            f"{args.batch}: cool.to", "nothing", "the temperature that the pot is cooled to", 'to = "5 degC"'
        )
    with naming_the_cold(written.facts):
        text = sheet_html(
            batch, catalogue, paper=args.paper, notes=told.notes, risk=risk_of(told.facts), facts=told.facts
        )

    def write(path: Path) -> None:
        path.write_text(text, encoding="utf-8")

    write_all([(target, write)])
    put(f"Written: {target}. Open it in a browser and print it on one side of {args.paper}.\n")
