"""``crystal react``: reactions in one pot, and the pot that remains."""

from __future__ import annotations

import argparse
from typing import Any

from rich.console import Console

from crystal.bench.made import LeftOver, Reacted
from crystal.bench.react import BOILING_RISE_K
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile
from crystal.faces.cli import show
from crystal.faces.cli.makingwords import steps_of
from crystal.faces.cli.output import Answer, check_target
from crystal.faces.cli.request import catalogue_of
from crystal.faces.facts import Given
from crystal.faces.preparation import Preparation, Prepared, Step
from crystal.faces.titles import columns
from crystal.faces.words import celsius, grams, listed, millilitres, three
from crystal.physics.equation import Equation


def answer(args: argparse.Namespace) -> Answer:
    """Let the reactions run."""
    catalogue = catalogue_of(args)
    target = check_target(args.save, "--save", (".toml",))
    if target is not None and target.exists():
        raise InputError(
            "--save", repr(args.save), "a new file: observations may stand in this one", "new.toml"
        )
    told = _told(args)
    done = told.prepared(catalogue) if isinstance(told, BatchFile) else told.carried_out(catalogue)
    data = react_answer(done)
    begun = None
    if target is not None:
        if isinstance(told, BatchFile):
            raise InputError(
                "--save", repr(args.save), "without --batch: that file holds them", "--batch batch.toml"
            )
        begun = (target, told.as_batch())
    file = args.batch or args.save
    return Answer(
        data, lambda console: _show(console, done, catalogue, file), rows=data["products"], batch=begun
    )


def _told(args: argparse.Namespace) -> Preparation | BatchFile:
    """The reactions that the words tell, or the batch file in their place."""
    steps = steps_of(args)
    told = [
        word
        for word in (*steps[0], "make_up_to", "read_at")
        if steps[0].get(word) or getattr(args, word, None)
    ]
    if args.batch is not None:
        if told or len(steps) > 1:
            what = "EQUATION" if args.equation is not None else "a word on the reaction"
            raise InputError(
                "--batch", f"a file and {what}", "alone: the file tells the reactions", "--batch batch.toml"
            )
        return BatchFile.read(args.batch)
    if args.equation is None:
        raise InputError("EQUATION", "nothing", "a reaction, or --batch FILE", '"Zn + H2SO4 -> ZnSO4 + H2"')
    return Preparation(
        tuple(_step(step) for step in steps),
        None if args.make_up_to is None else Given(args.make_up_to, "--make-up-to"),
        None if args.read_at is None else Given(args.read_at, "--read-at"),
    )


def _step(words: dict[str, Any]) -> Step:
    def several(name: str) -> tuple[Given, ...]:
        return tuple(Given(text, f"--{name}") for text in words.get(name, []))

    def one(name: str, option: str = "") -> Given | None:
        return Given(words[name], option or f"--{name}") if name in words else None

    return Step(
        Given(words["equation"], "EQUATION"), several("use"), one("converted"), one("lost"), several("undissolved"),
        several("gas"), several("hydrate"), one("salt", "--pot-salt"),
    )  # fmt: skip


def react_answer(done: Prepared) -> dict[str, Any]:
    """The last reaction on top with the gas of all, the pot at the end, and every reaction under ``steps``."""
    steps = [_reacted_answer(one) for one in done.steps]
    last = dict(steps[-1])
    last["gas"] = [gas | {"step": n} for n, step in enumerate(steps, 1) for gas in step["gas"]]
    last["pot"] = _pot_answer(done)
    last["steps"] = steps
    last["warnings"] = list(done.warnings)
    return last


def _pot_answer(done: Prepared) -> dict[str, Any]:
    made, pot = done.made, done.pot
    return {
        "salt": made.salt,
        "salt_g": made.salt_g,
        "water_g": made.water_g,
        "others_g": dict(made.others_g),
        "undissolved_g": dict(made.undissolved_g),
        "added_water_g": done.added_water_g,
        "liquor_g": made.liquor_g,
        "mass_percent": None if pot is None else 100.0 * pot.mass_fraction,
        "volume_mL": None if pot is None else pot.volume_mL(),
        "density_g_mL": None if pot is None else pot.density_g_mL(),
        "read_at_degC": None if pot is None else pot.read_at_C,
    }


def _reacted_answer(one: Reacted) -> dict[str, Any]:
    return {
        "equation": one.equation,
        "limiting": one.limiting,
        "extent_mol": one.extent_mol,
        "products": [
            {
                "formula": p.formula, "mol": p.mol, "g": p.g, "anhydrous_g": p.anhydrous_g, "where": p.where,
                "hydrate": p.hydrate, "hydrate_g": p.hydrate_g,
            }
            for p in one.products
        ],
        "left_over": [
            {
                "formula": left.formula, "mol": left.mol, "g": left.g, "where": left.where, "excess_mol": left.excess_mol,
                "excess_g": left.excess_g, "excess_percent": left.excess_percent,
            }
            for left in one.left_over
        ],
        "gas": [{"formula": gas.formula, "mol": gas.mol, "g": gas.g, "L": gas.L} for gas in one.gas],
        "heat_kJ": one.heat_kJ,
        "temperature_rise_K": one.temperature_rise_K,
        "lost_g": one.lost_g,
        "pot": {
            "salt": one.pot.salt, "salt_g": one.pot.salt_g, "water_g": one.pot.water_g,
            "others_g": dict(one.pot.others_g), "undissolved_g": dict(one.pot.undissolved_g),
        },
        "notes": list(one.notes),
    }  # fmt: skip


def _show(console: Console, done: Prepared, catalogue: Catalogue, file: str | None) -> None:
    for number, one in enumerate(done.steps, 1):
        if len(done.steps) > 1:
            show.heading(console, f"Step {number}")
        _show_step(console, one)
    show.heading(console, "The pot")
    lines = [*pot_lines(done), *done.just_enough]
    if done.pot is not None:
        told = "the same command with --save batch.toml, then crystal reduce batch.toml, crystal log, crystal sheet"
        lines.append(f"To plan with it: {told if file is None else f'crystal reduce {file}'}.")
    show.bullets(console, lines)
    if done.warnings:
        show.heading(console, "Mind")
        show.bullets(console, done.warnings)
    notes = list(dict.fromkeys(note for one in done.steps for note in one.notes))
    if notes:
        show.heading(console, "Taken for granted")
        show.bullets(console, notes)
    if done.made.salt in catalogue.salts:
        show.cautions(console, catalogue.salts[done.made.salt])


def _show_step(console: Console, one: Reacted) -> None:
    console.print(one.equation)
    used_mol = {t.species.formula: t for t in Equation.parse(one.equation).reactants}
    rows = [
        _left_row(
            left,
            one,
            float(used_mol[left.formula].coefficient),
            used_mol[left.formula].species.molar_mass_g_mol,
        )
        for left in one.left_over
    ]
    rows += [(p.formula, "made", "-", "-", three(p.mol), three(p.g), "-", p.where) for p in one.products]
    titles = columns(
        "formula", "part", "put_in_mol", "put_in_g", "after_mol", "after_g", "excess_percent", "where"
    )
    show.table(console, titles, rows, left=(0, 1, 7), spare=(2, 4))
    for made in one.products:
        if made.hydrate is not None and made.hydrate_g is not None:
            console.print(f"{made.formula} counted as {made.hydrate}: {grams(made.hydrate_g)}.")
    for gas in one.gas:
        console.print(f"Gas: {three(gas.mol)} mol of {gas.formula}, {three(gas.L)} L at 20 °C and 101.3 kPa.")
    if one.heat_kJ is not None:
        rise = ""
        if one.temperature_rise_K is not None and one.heat_kJ > 0:
            most = one.temperature_rise_K
            rise = f"at most {three(most)} K of rise" if most <= BOILING_RISE_K else "enough to boil"
            rise = f"; {rise} if the pot's water kept it all"
        word = "given off" if one.heat_kJ >= 0 else "taken up: the pot cools"
        console.print(f"Heat: {three(abs(one.heat_kJ))} kJ {word}{rise}.")


def _left_row(left: LeftOver, of: Reacted, coefficient: float, molar_mass_g_mol: float) -> tuple[str, ...]:
    word = "limits" if left.formula == of.limiting else "in excess" if left.excess_mol > 0 else ""
    put_in = left.mol + coefficient * of.extent_mol
    return (
        left.formula, word, three(put_in), three(put_in * molar_mass_g_mol), three(left.mol), three(left.g),
        three(left.excess_percent) if left.excess_mol > 0 else "-", left.where if left.mol > 0 else "used up",
    )  # fmt: skip


def pot_lines(done: Prepared) -> list[str]:
    """The pot at the end, in sentences."""
    made, pot = done.made, done.pot
    held = [f"{grams(g)} of {name}" for name, g in made.dissolved_g.items()] or ["nothing dissolved"]
    lines = [f"{listed(held)} in {grams(made.water_g)} of water."]
    if done.added_water_g > 0:
        lines.append(f"{grams(done.added_water_g)} of that water makes it up to the volume.")
    if pot is not None:
        lines.append(
            f"{millilitres(pot.volume_mL())} at {celsius(pot.read_at_C)}, {pot.density_g_mL():.3f} g/mL, "
            f"{grams(pot.mass_g)} of liquor."
        )
    if made.undissolved_g:
        lines.append(
            f"Undissolved: {listed([f'{grams(g)} of {name}' for name, g in made.undissolved_g.items()])}."
        )
    return lines
