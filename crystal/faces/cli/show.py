"""Pieces of the printed answers that several commands share."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from crystal.bench.pot import Pot
from crystal.data.records import Salt
from crystal.faces.words import celsius, grams, millilitres, prose, short_cautions, three


def heading(console: Console, text: str) -> None:
    """A heading with an empty line before it."""
    console.print()
    console.print(Text(text, style="bold"))


def bullets(console: Console, lines: Iterable[str]) -> None:
    """Lines with a dash, their continuation indented."""
    for line in lines:
        indented(console, line, first="- ")


def indented(console: Console, text: str, first: str = "") -> None:
    """One paragraph, indented, its later lines under the first."""
    grid = Table.grid(padding=0)
    grid.add_column(width=2)
    if first:
        grid.add_column(width=len(first))
    grid.add_column(ratio=1)
    grid.expand = True
    grid.add_row("", *([first] if first else []), prose(text))
    console.print(grid)


def table(
    console: Console, columns: Sequence[str], rows: Iterable[Sequence[str]], left: Iterable[int] = ()
) -> None:
    """A table of texts; columns are set to the right but those in ``left``."""
    plain = (getattr(sys.stdout, "encoding", None) or "utf-8").lower().replace("-", "") not in (
        "utf8",
        "utf8sig",
    )
    made = Table(box=box.ASCII2 if plain else box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    on_the_left = set(left)
    for i, column in enumerate(columns):
        # Numbers are never broken over two lines; words may be.
        if i in on_the_left:
            made.add_column(column, justify="left", overflow="fold")
        else:
            made.add_column(column, justify="right", no_wrap=True)
    for row in rows:
        made.add_row(*row)
    console.print(made)


def salt_line(salt: Salt, title: str = "") -> str:
    """The salt that an answer is about, with the batch's title."""
    line = f"{salt.formula}, {salt.name}"
    return f"{title} ({line})" if title else line


def pot_line(pot: Pot) -> str:
    """The pot in one sentence."""
    return (
        f"Start: {millilitres(pot.volume_mL())} at {celsius(pot.read_at_C)}, {grams(pot.mass_g)}: "
        f"{grams(pot.salt_g)} of {pot.model.salt.formula} in {grams(pot.water_g)} of water, "
        f"{three(100 * pot.mass_fraction)} mass %, {pot.density_g_mL():.3f} g/mL."
    )


def warnings_and_cautions(console: Console, warnings: Sequence[str], salt: Salt) -> None:
    """What to be warned of in this answer, then the cautions that go with the salt."""
    if warnings:
        heading(console, "Mind")
        bullets(console, warnings)
    heading(console, "Cautions")
    bullets(console, short_cautions(salt))
    console.print(f"  (all of them, with their sources: crystal card '{salt.formula}')")
