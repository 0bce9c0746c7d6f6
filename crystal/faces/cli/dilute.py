"""``crystal dilute``: a strength made from a stock, or what a mixture comes to."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any

from rich.console import Console

from crystal import units
from crystal.bench.dilute import Dilution, Mixture, Portion
from crystal.bench.pot import ROOM_C
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of
from crystal.faces.facts import Given
from crystal.faces.solutions import concentration, named, portion, solute_named
from crystal.faces.titles import column
from crystal.faces.words import celsius, grams, listed, millilitres, three
from crystal.physics.concentration import Concentration
from crystal.physics.reagent import Solute

_FOR_MAKING = {"stock": "--stock", "target": "--target", "make": "--make"}
_BESIDE = {**_FOR_MAKING, "second": "--and", "stock_density": "--stock-density"}


def answer(args: argparse.Namespace) -> Answer:
    """Find the portions, or mix them."""
    catalogue = catalogue_of(args)
    at_C = ROOM_C if args.read_at is None else units.temperature_C(args.read_at, what="--read-at")
    if args.mix is not None:
        return _mixed(args, catalogue, at_C)
    given = {
        name: Given(getattr(args, name), option) for name, option in _BESIDE.items() if getattr(args, name)
    }
    for name, option in _FOR_MAKING.items():
        if name not in given:
            example = {"stock": '"31 % w/w HCl"', "target": '"18.5 % w/w"', "make": '"200 mL"'}[name]
            raise InputError(option, "nothing", "given, or --mix instead of all three", example)
    stock = concentration(given["stock"], catalogue, temperature_C=at_C, density=given.get("stock_density"))
    target = concentration(given["target"], catalogue, temperature_C=at_C, solute=stock.solute)
    weaker = None
    if "second" in given:
        weaker = concentration(given["second"], catalogue, temperature_C=at_C, solute=stock.solute)
    size = units.taken(given["make"].text, what="--make")
    if size.kind == "mol" or size.of:
        raise InputError("--make", repr(given["make"].text), "a volume or a mass", '"200 mL"')
    with named(given["target"]):
        made = Dilution.of(
            stock, target, weaker=weaker, temperature_C=at_C,
            make_mL=size.value if size.kind == "mL" else None, make_g=size.value if size.kind == "g" else None,
        )  # fmt: skip
    return Answer(made.to_json(), lambda console: _show_made(console, made))


def _mixed(args: argparse.Namespace, catalogue: Catalogue, at_C: float) -> Answer:
    clash = [option for name, option in _BESIDE.items() if getattr(args, name) is not None]
    if clash:
        raise InputError("--mix", f"beside {listed(clash)}", "given alone", '--mix "100 mL of 31 % w/w HCl"')
    texts = [Given(text, "--mix") for text in args.mix]
    solute = _solute_of(texts, catalogue)
    portions = [portion(text, catalogue, temperature_C=at_C, solute=solute) for text in texts]
    if not any(one.solute_g for one in portions):
        raise InputError("--mix", "water alone", "at least one solution", '"100 mL of 31 % w/w HCl"')
    mixed = Mixture.of(portions, temperature_C=at_C)
    data: dict[str, Any] = {
        "solute": solute.formula,
        "portions": [
            {
                "mass_percent": one.concentration.mass_percent,
                "volume_mL": one.volume_mL,
                "mass_g": one.mass_g,
                "density_g_mL": one.concentration.density_g_mL,
            }
            for one in mixed.portions
        ],
        **mixed.to_json(),
    }
    return Answer(data, lambda console: _show_mixed(console, mixed), rows=None)


def _solute_of(texts: Sequence[Given], catalogue: Catalogue) -> Solute:
    """What is dissolved in the first portion that says so."""
    for given in texts:
        of = units.taken(given.text, what=given.what).of
        if not of:
            continue
        read = units.solution(of, what=given.what)
        if read.kind == "volumes" and not read.solute:
            return solute_named("H2O2", given, catalogue)
        if read.solute:
            return solute_named(read.solute, given, catalogue)
    raise InputError(
        "--mix", repr(texts[0].text), "portions of which one names its solute", '"100 mL of 31 % w/w HCl"'
    )


def solution_line(one: Concentration) -> str:
    """A solution in a few words."""
    if one.mass_fraction == 0.0:
        return "water"
    return f"{three(one.mass_percent)} % w/w {one.solute.formula}"


def _rows(named_portions: Sequence[tuple[str, Portion]]) -> list[tuple[str, ...]]:
    return [
        (
            name,
            three(one.concentration.mass_percent),
            three(one.volume_mL),
            three(one.mass_g),
            three(one.solute_g),
            f"{one.concentration.density_g_mL:.4f}",
        )
        for name, one in named_portions
    ]


def _columns(at_C: float, formula: str) -> tuple[str, ...]:
    volume = column("volume_mL", f"at {celsius(at_C)}")
    strength, grams = column("portions.mass_percent", of=formula), column("solute_g", of=formula)
    return "", strength, volume, column("mass_g"), grams, column("density_g_mL")


def _show_made(console: Console, made: Dilution) -> None:
    solute, final = made.stock.concentration.solute, made.final.concentration
    console.print(
        f"{solute.formula}, {solute.salt.name}: {millilitres(made.final.volume_mL)} ({grams(made.final.mass_g)}) of "
        f"{three(final.mass_percent)} % w/w"
    )
    second = "water" if made.weaker.concentration.mass_fraction == 0.0 else "weaker stock"
    rows = _rows([("stock", made.stock), (second, made.weaker), ("made", made.final)])
    show.table(console, _columns(final.temperature_C, solute.formula), rows, left=(0,))
    apart = made.contraction_mL
    console.print(
        f"The volumes do not add up: {millilitres(abs(apart))} {'less' if apart >= 0 else 'more'} than the two together. "
        "Weigh, or pour together and fill up to the mark."
    )
    off = made.shortcut_off_percent
    console.print(
        f"The volume shortcut (C1·V1 = C2·V2 with mass %) says {millilitres(made.by_volume_shortcut_mL)} of stock: "
        f"{three(abs(off))} % too {'much' if off >= 0 else 'little'}; filled up to {millilitres(made.final.volume_mL)} it gives "
        f"{three(made.shortcut_mass_percent)} % w/w."
    )
    _last(console, solute, made.warnings, "Pouring and what to mind")


def _show_mixed(console: Console, mixed: Mixture) -> None:
    whole = mixed.whole.concentration
    solute = whole.solute
    console.print(
        f"{solute.formula}, {solute.salt.name}: together {millilitres(mixed.whole.volume_mL)} "
        f"({grams(mixed.whole.mass_g)}) of {three(whole.mass_percent)} % w/w, {three(whole.mol_L)} mol/L"
    )
    portions = [(f"portion {i}", one) for i, one in enumerate(mixed.portions, 1)]
    show.table(
        console,
        _columns(whole.temperature_C, solute.formula),
        _rows([*portions, ("together", mixed.whole)]),
        left=(0,),
    )
    apart = mixed.contraction_mL
    console.print(
        f"At {celsius(whole.temperature_C)} it fills {millilitres(abs(apart))} {'less' if apart >= 0 else 'more'} than its "
        "portions."
    )
    _last(console, solute, mixed.warnings, "Mind")


def _last(console: Console, solute: Solute, warnings: Sequence[str], title: str) -> None:
    if warnings:
        show.heading(console, title)
        show.bullets(console, warnings)
    show.cautions(console, solute.salt)
