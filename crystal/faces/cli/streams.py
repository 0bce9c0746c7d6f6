"""Printed pieces on streams: the table that sums, and how spent liquors are collected."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from rich.console import Console

from crystal.data.catalogue import Catalogue
from crystal.data.records import Salt
from crystal.faces.cli import show
from crystal.faces.titles import column
from crystal.faces.words import grams, listed, three

NO_WASTE = "Keep it, labelled, for the next batch of the same salt, or collect it."


def ledger(console: Console, data: dict[str, Any], salt: str) -> None:
    """The table of what came in and where it is, with both sums."""
    rows_in, rows_out = data["in"], data["out"]
    solutes = list(dict.fromkeys(name for row in (*rows_in, *rows_out) for name in row["others_g"]))
    dissolved = [column("solute_g", of=name) for name in solutes]
    titles = ("", column("salt_g", of=salt), column("water_g"), *dissolved, column("together_g"))

    def line(name: str, row: dict[str, Any]) -> tuple[str, ...]:
        values = (
            row["salt_g"],
            row["water_g"],
            *(row["others_g"].get(s, 0.0) for s in solutes),
            row["mass_g"],
        )
        return (
            name,
            *(
                f"{v + 0.0:.2f}" if abs(v) >= 0.005 else ("-" if abs(v) < 1e-9 else f"{v:.2g}")
                for v in values
            ),
        )

    def total(name: str, rows: list[dict[str, Any]]) -> tuple[str, ...]:
        summed = {key: sum(row[key] for row in rows) for key in ("salt_g", "water_g", "mass_g")}
        summed["others_g"] = {s: sum(row["others_g"].get(s, 0.0) for row in rows) for s in solutes}
        return line(name, summed)

    table = [line(f"in: {row['name']}", row) for row in rows_in]
    table += [total("sum", rows_in)]
    table += [line(f"out: {row['name']}", row) for row in rows_out]
    table += [total("sum", rows_out)]
    show.heading(console, "Where every gram is")
    show.table(console, titles, table, left=(0,))


def spent(
    console: Console, streams: Iterable[tuple[str, dict[str, Any]]], salt: Salt, catalogue: Catalogue
) -> None:
    """What is in the spent liquors, and the usual way to collect them."""
    lines, names = [], set()
    for name, row in streams:
        if row["mass_g"] <= 0:
            continue
        held = [f"{grams(row['salt_g'])} of {salt.formula}"]
        held += [f"{grams(g)} of {formula}" for formula, g in row["others_g"].items() if g > 0]
        names |= {formula for formula, g in row["others_g"].items() if g > 0}
        lines.append(
            f"{name}: {grams(row['mass_g'])} with {listed(held)} ({three(row['liquor_mass_percent'])} mass % of the salt)."
        )
    if not lines:
        return
    show.heading(console, "Spent liquors and washings")
    show.bullets(console, lines)
    known = [salt, *(catalogue.salts[name] for name in sorted(names) if name in catalogue.salts)]
    waste = dict.fromkeys(c.text for one in known for c in one.cautions if c.kind == "waste")
    show.bullets(console, list(waste or [NO_WASTE]))
