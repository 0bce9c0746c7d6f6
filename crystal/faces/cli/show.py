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
from crystal.faces.words import celsius, grams, listed, millilitres, prose, short_cautions, three


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
    console: Console,
    columns: Sequence[str],
    rows: Iterable[Sequence[str]],
    left: Iterable[int] = (),
    spare: Sequence[int] = (),
) -> None:
    """A table of texts; columns are set to the right but those in ``left``.

    Where the terminal is too narrow the ``spare`` columns are left out, the first of them first, and that is said.
    """
    rows, on_the_left = list(rows), set(left)
    for dropped in range(len(spare) + 1):
        kept = [i for i in range(len(columns)) if i not in spare[:dropped]]
        made = _table(columns, rows, on_the_left, kept)
        if console.measure(made, options=console.options.update(width=1000)).maximum <= console.width:
            break
    console.print(made)
    if dropped:
        names = ", ".join(" ".join(columns[i].split()) for i in sorted(spare[:dropped]))
        console.print(f"(left out, the terminal being narrow: {names})")


def _table(columns: Sequence[str], rows: list[Sequence[str]], left: set[int], kept: list[int]) -> Table:
    plain = (getattr(sys.stdout, "encoding", None) or "utf-8").lower().replace("-", "") not in (
        "utf8",
        "utf8sig",
    )
    made = Table(box=box.ASCII2 if plain else box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    for i in kept:
        # Numbers are never broken over two lines; words may be.
        if i in left:
            made.add_column(columns[i], justify="left", overflow="fold")
        else:
            made.add_column(columns[i], justify="right", no_wrap=True)
    for row in rows:
        made.add_row(*(row[i] for i in kept))
    return made


def salt_line(salt: Salt, title: str = "") -> str:
    """The salt that an answer is about, with the batch's title."""
    line = f"{salt.formula}, {salt.name}"
    return f"{title} ({line})" if title else line


def pot_line(pot: Pot) -> str:
    """The pot in one sentence; its strength is that of the salt in salt and water."""
    held = [f"{grams(pot.salt_g)} of {pot.model.salt.formula}"]
    held += [f"{grams(g)} of {formula}" for formula, g in pot.others.amounts_g.items()]
    beside = f" of {pot.model.salt.formula} in salt and water" if pot.others else ""
    curve = "" if pot.model.calibration is None else f"\n{pot.model.calibration.label}"
    return (
        f"Start: {millilitres(pot.volume_mL())} at {celsius(pot.read_at_C)}, {grams(pot.mass_g)}: "
        f"{listed(held)} in {grams(pot.water_g)} of water, "
        f"{three(100 * pot.mass_fraction)} mass %{beside}, {pot.density_g_mL():.3f} g/mL."
        f"{curve}"
    )


def cautions(console: Console, salt: Salt) -> None:
    """The cautions that go with a solution that is handled, not boiled down."""
    heading(console, "Cautions")
    bullets(console, short_cautions(salt))


def warnings_and_cautions(console: Console, warnings: Sequence[str], salt: Salt) -> None:
    """What to be warned of in this answer, then the cautions that go with the salt."""
    if warnings:
        heading(console, "Mind")
        bullets(console, tuple(dict.fromkeys(warnings)))  # a pot's making and its plan may both say it
    heading(console, "Cautions")
    bullets(console, short_cautions(salt))
    console.print(f"  (all of them, with their sources: crystal card '{salt.formula}')")
