"""The words of the commands that make and test a solution; imports nothing but argparse."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any


class _OfStep(argparse.Action):
    """An option of the reaction that was begun last; ``--then`` begins the next one."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: Any,
        option: str | None = None,
    ) -> None:
        step = _steps(namespace)[-1]
        if self.dest == "then":
            _steps(namespace).append({"equation": values})
        elif self.dest in _ONCE:
            if self.dest in step:
                parser.error(f"{option} is given twice for one reaction")
            step[self.dest] = values
        else:
            step.setdefault(self.dest, []).append(values)


_ONCE = ("converted", "lost", "salt")


def _steps(namespace: argparse.Namespace) -> list[dict[str, Any]]:
    """The reactions so far; the first one's equation is the command's own argument."""
    steps: list[dict[str, Any]] | None = getattr(namespace, "steps", None)
    if steps is None:
        steps = [{}]
        namespace.steps = steps
    return steps


def add_dilute(parser: argparse.ArgumentParser) -> None:
    """A stock and water, two stocks, or a mixture."""
    group = parser.add_argument_group("a strength to be made")
    add = group.add_argument
    add("--stock", metavar="SOLUTION", help='what is in the bottle, as "31 %% w/w HCl" or "1.16 g/mL HCl"')
    add("--and", metavar="SOLUTION", dest="second", help='a second stock instead of water, as "5 %% w/w HCl"')
    add("--target", metavar="STRENGTH", help='what is wanted, as "18.5 %% w/w" or "2 mol/L"')
    add("--make", metavar="AMOUNT", help='how much of it, as "200 mL" or "500 g"')
    add(
        "--stock-density",
        metavar="DENSITY",
        help='density on the label of --stock, as "1.16 g/mL at 20 degC"',
    )
    group = parser.add_argument_group("or given amounts to be mixed")
    group.add_argument(
        "--mix",
        metavar="AMOUNT",
        action="append",
        help='as "100 mL of 31 %% w/w HCl" and "200 mL of water" (repeatable)',
    )
    _add_read_at(parser)


def add_strength(parser: argparse.ArgumentParser) -> None:
    """One solution on every basis."""
    parser.add_argument(
        "solution",
        metavar="SOLUTION",
        help='"31 %% w/w HCl", "1.18 g/mL HCl", "42 Be US HNO3", "10 volumes H2O2"',
    )
    parser.add_argument(
        "--density", metavar="DENSITY", help='density on the label, as "1.16 g/mL at 20 degC"'
    )
    parser.add_argument(
        "--at",
        metavar="TEMP",
        help="temperature of the solution, of its volumes and density (default 20 degC)",
    )


def add_react(parser: argparse.ArgumentParser) -> None:
    """Reactions in order; options of a reaction follow it."""
    parser.add_argument(
        "equation", metavar="EQUATION", nargs="?", help='as "Zn + H2SO4 -> ZnSO4 + H2"; it is balanced here'
    )
    parser.add_argument(
        "--batch",
        metavar="FILE",
        help="batch file whose reactions ([made]) are carried out, in the place of all these",
    )
    group = parser.add_argument_group("the reaction (after --then: that of the next reaction)")
    add = group.add_argument
    add(
        "--use", metavar="FORMULA=AMOUNT", action=_OfStep,
        help='what is put in, as "Zn=32.7 g", "H2SO4=500 g of 12 %% w/w" or "HCl=200 mL of 18.5 %% w/w" (repeatable)',
    )  # fmt: skip
    add(
        "--converted",
        metavar="SHARE",
        action=_OfStep,
        help='part of the limiting reagent that reacts (default "100 %%")',
    )
    add(
        "--lost",
        metavar="SHARE",
        action=_OfStep,
        help='part of the liquor lost in spills and filters, as "2 %%"',
    )
    add(
        "--hydrate",
        metavar="FORMULA",
        action=_OfStep,
        help="grams of a product as this hydrate too, as ZnSO4.7H2O",
    )
    add(
        "--undissolved",
        metavar="FORMULA",
        action=_OfStep,
        help="stays solid, whatever the lists say (repeatable)",
    )
    add(
        "--gas",
        metavar="FORMULA",
        action=_OfStep,
        help="leaves as gas, as NH3 that is boiled out (repeatable)",
    )
    add(
        "--pot-salt",
        metavar="FORMULA",
        dest="salt",
        action=_OfStep,
        help="the salt that the pot is to crystallise",
    )
    add("--then", metavar="EQUATION", action=_OfStep, help="the next reaction in the same pot")
    group = parser.add_argument_group("the pot")
    group.add_argument(
        "--make-up-to", metavar="VOLUME", help='volume filled up to with water at the end, as "500 mL"'
    )
    group.add_argument(
        "--save",
        metavar="FILE",
        help="batch file to begin with these reactions (.toml), for --batch, log, explain and sheet",
    )
    _add_read_at(parser)


def add_assay(parser: argparse.ArgumentParser) -> None:
    """Salt in a solution by whatever was measured."""
    parser.add_argument("salt", metavar="SALT", help="formula, hydrate, name or common name")
    group = parser.add_argument_group("the whole solution, by volume or mass")
    add = group.add_argument
    add("--volume", metavar="VOLUME", help='as "400 mL"')
    add("--mass", metavar="MASS", help='as "500 g"')
    _add_read_at(parser)
    group = parser.add_argument_group("what was measured, one or several")
    add = group.add_argument
    add("--density", metavar="DENSITY", help='hydrometer, as "1.18 g/mL at 20 degC"')
    add("--dried", metavar="AMOUNT", help='dry solid from a part of it, as "3.2 g of CuSO4.5H2O"')
    add("--dried-from", metavar="AMOUNT", help='the part that was dried, as "10 mL" or "12 g"')
    add("--titrant", metavar="AMOUNT", help='titrant used, as "20.0 mL of 0.1 mol/L"')
    add("--titrated", metavar="AMOUNT", help='the part that was titrated, as "2 mL"')
    add(
        "--per-salt",
        metavar="NUMBER",
        help="moles of titrant that a mole of anhydrous salt takes up (default 1)",
    )
    add("--first-crystals", metavar="TEMP", help='where the first crystals showed, as "31 degC"')


def _add_read_at(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--read-at", metavar="TEMP", help="temperature at which all volumes are read (default 20 degC)"
    )


def steps_of(args: argparse.Namespace) -> Sequence[dict[str, Any]]:
    """The reactions in order, each with its equation."""
    steps = _steps(args)
    return [{**steps[0], "equation": args.equation}, *steps[1:]]
