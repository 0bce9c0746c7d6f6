"""``crystal words``: what a word, a unit or a JSON key of the answers means."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import Any

from rich.console import Console

from crystal.data.glossary import Glossary, Term
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.titles import column

_FEW = 4
_ORIGIN = {"field": "the trade's own word", "ours": "this program's own word"}


def answer(args: argparse.Namespace) -> Answer:
    """Look a word up, or list all."""
    found = Glossary.bundled().search(args.text)
    rows = [term_answer(one) for one in found]
    return Answer(rows, lambda console: _show(console, found), rows=rows)


def term_answer(term: Term) -> dict[str, Any]:
    """One entry as a program reads it; blanks are None."""
    return {name: value or None for name, value in asdict(term).items()}


def _show(console: Console, found: list[Term]) -> None:
    if len(found) <= _FEW:
        for term in found:
            _show_one(console, term)
        return
    rows = [(one.key, one.term, one.unit or "-", one.basis) for one in found]
    show.table(console, [column(key) for key in ("key", "term", "unit", "basis")], rows, left=range(4))
    console.print(f"{len(found)} entries. More on one: crystal words WORD")


def _show_one(console: Console, term: Term) -> None:
    show.heading(console, term.term)
    lines = [f"means: {term.basis}", f"key: {term.key}"]
    if term.unit:
        unit = "a plain number" if term.unit == "1" else term.unit
        lines.append(f"unit: {unit}" + (f", symbol: {term.symbol}" if term.symbol else ""))
    origin = term.origin.replace("standard: ", "an open standard (named from memory): ")
    lines.append(f"comes from: {_ORIGIN.get(term.origin, origin)}")
    show.bullets(console, lines)
