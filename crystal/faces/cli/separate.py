"""``crystal separate``: two salts parted by boiling down and cooling in turns."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from rich.console import Console

from crystal import units
from crystal.bench.separate import HELD_G_PER_G, MOST_TURNS, Separation
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of
from crystal.faces.titles import columns
from crystal.faces.words import celsius, grams, short_cautions, three

if TYPE_CHECKING:
    from matplotlib.figure import Figure

BOILING_C = 100.0


def answer(args: argparse.Namespace) -> Answer:
    """Plan the turns."""
    catalogue = catalogue_of(args)
    salts, water = _pot(args, catalogue)
    hot = BOILING_C if args.boil_at is None else units.temperature_C(args.boil_at, what="--boil-at")
    cold = units.temperature_C(args.cool_to, what="--cool-to")
    held = HELD_G_PER_G if args.held is None else _number(args.held, "--held", 0.0, 2.0, "0.2")
    most = MOST_TURNS if args.most is None else int(_number(args.most, "--most", 1.0, 20.0, "6"))
    found = Separation.of(salts, water, hot, cold, held_g_per_g=held, most_turns=most)
    data = _data(found, held)

    def chart() -> Figure:
        from crystal.faces.figures.pair import pair_chart

        return pair_chart(found)

    return Answer(data, lambda console: _show(console, found, data, catalogue), chart, data["turns"])


def _pot(args: argparse.Namespace, catalogue: Catalogue) -> tuple[dict[str, float], float]:
    salts: dict[str, float] = {}
    water = units.mass_g(args.water, what="--water")
    for text in args.amounts:
        amount = units.amount_of(text, what="AMOUNT")
        if amount.formula is None:
            raise InputError(
                "AMOUNT", repr(text), "a mass or moles of a salt, with its formula", '"100 g of KNO3"'
            )
        salt = catalogue.find(amount.formula.anhydrous).formula
        dry = amount.grams * amount.formula.salt_mass_fraction
        if salt in salts:
            raise InputError("AMOUNT", repr(text), f"another salt than {salt}", '"60 g of NaCl"')
        salts[salt] = dry
        water += amount.grams - dry
    return salts, water


def _number(text: str, what: str, low: float, high: float, example: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise InputError(what, repr(text), f"a number from {low:g} to {high:g}", example)
    return value


def _data(found: Separation, held: float) -> dict[str, Any]:
    return {
        "salts": [{"formula": salt, "g": g} for salt, g in found.salts_g.items()],
        "water_g": found.water_g,
        "boil_at_degC": found.hot_C,
        "cool_to_degC": found.cold_C,
        "held_g_per_g": held,
        "turns": [
            {
                "turn": "boil" if turn.boiled else "cool",
                "temperature_degC": turn.temperature_C,
                "water_removed_g": turn.water_removed_g,
                "salt": turn.salt,
                "phase": turn.solid,
                "crystals_g": turn.crystals_g,
                "purity_percent": turn.purity_percent,
                "yield_percent": turn.yield_percent,
                "liquor_g": turn.liquor_g,
            }
            for turn in found.turns
        ],
        "won": [
            {"salt": salt, "crystals_g": g, "yield_percent": share, "purity_percent": purity}
            for salt, (g, share, purity) in found.won().items()
        ],
        "left": {
            "water_g": found.left_water_g,
            "salts": [{"formula": salt, "g": g} for salt, g in found.left_g.items()],
        },
        "warnings": list(found.warnings),
    }


def _show(console: Console, found: Separation, data: dict[str, Any], catalogue: Catalogue) -> None:
    put_in = " and ".join(f"{grams(g)} of {salt}" for salt, g in found.salts_g.items())
    temperatures = f"boiled down at {celsius(found.hot_C)}, cooled to {celsius(found.cold_C)}"
    console.print(f"{put_in} in {grams(found.water_g)} of water, {temperatures}.")
    titles = columns(
        "turn", "temperature_degC", "water_removed_g", "phase", "crystals_g", "yield_percent", "purity_percent", "liquor_g"
    )  # fmt: skip
    rows = [
        (
            f"{number}. {'boil down' if turn.boiled else 'cool'}",
            f"{turn.temperature_C:.4g}",
            three(turn.water_removed_g)
            if turn.water_removed_g >= 0
            else f"add {three(-turn.water_removed_g)}",
            turn.solid,
            three(turn.crystals_g),
            three(turn.yield_percent),
            f"{turn.purity_percent:.1f}",
            three(turn.liquor_g),
        )
        for number, turn in enumerate(found.turns, 1)
    ]
    if rows:
        show.table(console, titles, rows, left=(0, 3), spare=(7, 6))
    for salt, (g, share, purity) in found.won().items():
        console.print(
            f"{salt}: {grams(g)} of crystals in all, {share:.0f} % of what there was, {purity:.1f} % pure unwashed."
        )
    each = [f"{grams(one['g'])} of {one['formula']}" for one in data["left"]["salts"]]
    left = " and ".join(([", ".join(each[:-1])] if each[:-1] else []) + each[-1:])
    console.print(
        f"Left in the last liquor, counted as salts: {left or 'nothing'}, in {grams(found.left_water_g)} of water."
    )
    show.heading(console, "Mind")
    show.bullets(console, found.warnings)
    show.heading(console, "Cautions")
    held = dict.fromkeys([*found.salts_g, *found.won()])
    lines = [line for salt in held for line in short_cautions(catalogue.salts[salt])]
    show.bullets(console, list(dict.fromkeys(lines)))
