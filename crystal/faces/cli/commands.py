"""Runs one command: checks where its files may go, works the answer out, writes the files, prints."""

from __future__ import annotations

import argparse
from importlib import import_module
from pathlib import Path

from crystal.faces.cli.output import (
    CHART_ENDINGS,
    Answer,
    Writer,
    chart_writer,
    check_target,
    csv_writer,
    put,
    rendered,
    text_writer,
    write_all,
)

_ANSWERS = {
    "salts": ("salts", "answer"),
    "card": ("salts", "card"),
    "words": ("glossary", "answer"),
    "reduce": ("reduce", "answer"),
    "yield": ("yields", "answer"),
    "path": ("paths", "answer"),
    "explain": ("explain", "answer"),
    "log": ("log", "answer"),
    "calibrate": ("calibrate", "answer"),
    "marks": ("marks", "answer"),
    "boil": ("boil", "answer"),
    "cool": ("cool", "answer"),
    "separate": ("separate", "answer"),
    "harvest": ("harvest", "answer"),
    "crops": ("crops", "answer"),
    "keep": ("keep", "answer"),
    "dilute": ("dilute", "answer"),
    "strength": ("strengths", "answer"),
    "react": ("react", "answer"),
    "assay": ("assay", "answer"),
}


def run(args: argparse.Namespace) -> None:
    """Run the command that the words ask for."""
    if args.version:
        from crystal.faces.cli import versions

        put(versions.text(args.data))
        return
    if args.command == "demo":
        from crystal.faces.cli import demo

        demo.run(args)
        return
    if args.command == "sheet":
        from crystal.faces.cli import sheet

        sheet.run(args)
        return
    if args.command == "page":
        from crystal.faces.cli import page

        page.run(args)
        return
    chart = check_target(getattr(args, "chart", None), "--chart", CHART_ENDINGS)
    table = check_target(getattr(args, "csv", None), "--csv", (".csv",))
    answer = answer_of(args)
    text = rendered(answer, args.json)
    files = files_of(answer, chart, table)
    write_all(files)
    if files and not args.json:
        text += "\nWritten: " + ", ".join(str(path) for path, _ in files) + "\n"
    put(text)


def answer_of(args: argparse.Namespace) -> Answer:
    """The answer to one command; its module is imported only now."""
    module, function = _ANSWERS[args.command]
    answer: Answer = getattr(import_module(f"crystal.faces.cli.{module}"), function)(args)
    return answer


def files_of(answer: Answer, chart: Path | None, table: Path | None) -> list[tuple[Path, Writer]]:
    """The files that were asked for, with what writes them."""
    files: list[tuple[Path, Writer]] = []
    if chart is not None and answer.chart is not None:
        files.append((chart, chart_writer(answer.chart)))
    if table is not None and answer.rows is not None:
        files.append((table, csv_writer(answer.rows)))
    if answer.batch is not None:
        files.append((answer.batch[0], text_writer(answer.batch[1])))
    return files
