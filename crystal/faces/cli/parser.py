"""The words of the command line and their help; imports nothing but argparse."""

from __future__ import annotations

import argparse
import difflib
import re
import sys
import textwrap
from collections.abc import Sequence
from typing import Any, NoReturn

from crystal.faces.cli import (
    heattexts,
    heatwords,
    helptexts,
    makingwords,
    mixtexts,
    mixwords,
    oddstexts,
    oddswords,
    outtexts,
    outwords,
)

_HELP_WIDTH = 118
_NEGATIVE = re.compile(r"-[.,]?\d")


class UsageFault(Exception):
    """The words do not make a command; ``program`` is the command that they were meant for."""

    def __init__(self, message: str, program: str) -> None:
        super().__init__(message)
        self.program = program


class _Parser(argparse.ArgumentParser):
    """Errors are raised in one line with a hint, and long options are never guessed from their beginning."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs["formatter_class"] = argparse.RawDescriptionHelpFormatter
        kwargs["allow_abbrev"] = False
        super().__init__(**kwargs)

    def error(self, message: str) -> NoReturn:
        if message.startswith("unrecognized arguments: "):
            message = self._unknown(message.removeprefix("unrecognized arguments: "))
        raise UsageFault(f"{message} (see '{self.prog} --help')", self.prog)

    def _unknown(self, words: str) -> str:
        word = (words.split() or [""])[0].split("=")[0]
        close = difflib.get_close_matches(word, self._option_string_actions, 3, 0.5)
        nearest = f"; close matches: {', '.join(close)}" if close else ""
        hint = "; put a value of several words in quotes" if not word.startswith("-") else ""
        return f"{words!r} is not understood{nearest}{hint}"


def parse(argv: Sequence[str]) -> argparse.Namespace | None:
    """Read the words of a command.

    Returns
    -------
    argparse.Namespace or None
        None where help was printed and nothing is left to do.

    Raises
    ------
    UsageFault
        Where the words do not make a command.
    """
    parser, commands = _build()
    words = list(_joined(argv))
    try:
        args, left = parser.parse_known_args(words)
        if left:
            (commands[args.command] if args.command else parser).error(
                f"unrecognized arguments: {' '.join(left)}"
            )
    except SystemExit:  # argparse has printed a help text
        return None
    if args.command is None and not args.version:
        parser.print_help(sys.stdout)
        return None
    return args


def _joined(argv: Sequence[str]) -> Sequence[str]:
    """Tie a value such as -5C to the option before it, lest it be taken for an option."""
    words: list[str] = []
    for word in argv:
        if words and _NEGATIVE.match(word) and words[-1].startswith("--") and "=" not in words[-1]:
            words[-1] = f"{words[-1]}={word}"
        else:
            words.append(word)
    return words


def _wrapped(text: str) -> str:
    """Lines that are too long broken, what follows set in a little under them."""
    lines = []
    for line in text.splitlines():
        indent = line[: len(line) - len(line.lstrip())]
        wrapped = textwrap.wrap(
            line, _HELP_WIDTH, subsequent_indent=f"{indent}  ", break_long_words=False, break_on_hyphens=False
        )
        lines += wrapped or [""]
    return "\n".join(lines)


def _build() -> tuple[_Parser, dict[str, _Parser]]:
    parser = _Parser(prog="crystal", description=helptexts.MAIN, epilog=helptexts.MAIN_END)
    parser.add_argument("--version", action="store_true", help="print the versions and the data's edition")
    parser.set_defaults(command=None, data=None)
    sub = parser.add_subparsers(metavar="COMMAND", dest="command", title="commands")
    commands: dict[str, _Parser] = {}

    def command(name: str, *, chart: str = "", csv: str = "") -> _Parser:
        text = (
            helptexts.COMMANDS
            | heattexts.COMMANDS
            | outtexts.COMMANDS
            | mixtexts.COMMANDS
            | oddstexts.COMMANDS
        )[name]
        one = sub.add_parser(
            name, help=text.line, description=_wrapped(text.about), epilog=_wrapped(text.end)
        )
        commands[name] = one
        output = one.add_argument_group("output")
        if name not in ("demo", "page", "sheet"):
            output.add_argument("--json", action="store_true", help="print one JSON object instead of text")
        if chart:
            output.add_argument(
                "--chart", metavar="FILE", help=f"draw {chart} into FILE (.png, .svg or .pdf)"
            )
        if csv:
            output.add_argument("--csv", metavar="FILE", help=f"write {csv} into FILE (.csv)")
        one.add_argument(
            "--data", metavar="PATH", default=None,
            help="folder or CSV file with salts of your own (else the variable CRYSTAL_DATA)",
        )  # fmt: skip
        return one

    one = command("salts", csv="the list")
    one.add_argument(
        "text", metavar="TEXT", nargs="?", default="", help="part of a formula, name or common name"
    )
    one = command("card", chart="the solubility curve")
    one.add_argument("salt", metavar="SALT", help="formula, hydrate, name or common name")
    mixwords.add_card(one)
    one = command("words", csv="the entries")
    one.add_argument("text", metavar="WORD", nargs="?", default="", help="a word, a JSON key, or part of one")

    one = command("reduce", chart="the window", csv="the table of end points")
    _add_pot(one)
    plan = one.add_argument_group("plan")
    _add_cooling(plan, '"5 degC"', "temperature that the pot is cooled to")
    _add_conditions(plan)
    plan.add_argument("--want", metavar="AMOUNT", help='crystals wanted, as "50 g" or "50 g of MgSO4.7H2O"')
    plan.add_argument("--ends", metavar="SIZES", help='end points to work out, as "300 mL, 250 mL, 40 %%"')
    plan.add_argument("--vessel", metavar="VOLUME", help='capacity of the vessel, as "600 mL"')
    heatwords.add_air(plan)
    oddswords.add_doubt(one.add_argument_group("doubt"))

    one = command("yield", chart="crystals against temperature", csv="the rows")
    _add_pot(one)
    plan = one.add_argument_group("plan")
    heatwords.add_reduction(plan)
    _add_cooling(plan, '"20, 10, 0 degC"', "one or several final temperatures")
    _add_conditions(plan)
    plan.add_argument(
        "--solubility", metavar="STRENGTH",
        help='hand calculation: the liquor at the final temperature, as "21.5 g/100 g water"',
    )  # fmt: skip
    plan.add_argument(
        "--crystals", metavar="FORMULA", help="hand calculation: what crystallises, any hydrate of the salt"
    )

    one = command("path", chart="the path on the phase map", csv="the steps")
    _add_pot(one)
    plan = one.add_argument_group("plan")
    heatwords.add_reduction(plan)
    _add_cooling(plan, '"5 degC"', "temperature that the pot is cooled to")
    _add_conditions(plan)

    mixwords.add_separate(command("separate", chart="the two salts' diagram with the path", csv="the turns"))

    makingwords.add_dilute(command("dilute"))
    makingwords.add_strength(command("strength"))
    makingwords.add_react(command("react", csv="the products"))
    makingwords.add_assay(command("assay", csv="the assays"))

    one = command("marks")
    _add_pot(one)
    heatwords.add_marks(one)
    one = command("boil", chart="the log, the fit and the forecast", csv="the log")
    _add_pot(one)
    heatwords.add_boil(one)
    one = command("cool", chart="the cooling curve and the crop", csv="the controlled curve")
    _add_pot(one)
    heatwords.add_cool(one)

    one = command("harvest", csv="the stages")
    _add_pot(one)
    plan = one.add_argument_group("plan")
    heatwords.add_reduction(plan)
    _add_cooling(plan, '"5 degC"', "temperature that the pot is cooled to")
    _add_conditions(plan)
    outwords.add_harvest(one)
    one = command("crops", chart="the crops", csv="the crops")
    _add_pot(one)
    outwords.add_crops(one)
    outwords.add_harvest(one, crops=True)
    outwords.add_keep(command("keep", chart="the humidity window", csv="the window against temperature"))

    oddswords.add_log(command("log"))
    oddswords.add_calibrate(command("calibrate"))
    one = command("explain")
    one.add_argument("batch", metavar="BATCH.toml", help="batch file with what was planned and seen")

    one = command("page")
    one.add_argument("--port", metavar="NUMBER", help="port to serve it from (default 8765, or a free one)")
    one.add_argument("--no-browser", action="store_true", help="do not open it in the browser")

    one = command("sheet")
    one.add_argument("batch", metavar="BATCH.toml", help="batch file with what is planned")
    one.add_argument(
        "-o",
        "--output",
        metavar="FILE",
        default="sheet.html",
        help="where the page goes (default: sheet.html)",
    )
    one.add_argument(
        "--paper", choices=("A4", "letter"), default="A4", help="what it is printed on (default: A4)"
    )

    one = command("demo")
    one.add_argument(
        "--folder",
        metavar="FOLDER",
        default="crystal-demo",
        help="where the charts go (default: crystal-demo, made here)",
    )
    return parser, commands


def _add_pot(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("salt", metavar="SALT", nargs="?", help="formula, hydrate, name or common name")
    pot = parser.add_argument_group("the pot: its content and its size, or a batch file")
    add = pot.add_argument
    add("--holds", metavar="AMOUNT", help='solid that went in, as "120 g of CuSO4.5H2O" or "0.5 mol CuSO4"')
    add(
        "--strength",
        metavar="STRENGTH",
        help='"18 %% w/w", "35 g/100 g water", "180 g/L", "1.2 mol/L", "2 mol/kg"',
    )
    add("--density", metavar="DENSITY", help='hydrometer reading, as "1.18 g/mL at 20 degC"')
    add("--start", metavar="VOLUME", help='volume of the solution, as "400 mL"')
    add("--start-at", metavar="TEMP", help="temperature at which that volume is read (default 20 degC)")
    add("--mass", metavar="MASS", help='mass of the solution, as "500 g"')
    add(
        "--water",
        metavar="MASS",
        help="water that the named solid was dissolved in; a hydrate's own comes on top",
    )
    add(
        "--with", metavar="AMOUNT", dest="others", action="append",
        help='dissolved beside the salt, as "12 g of HCl" (repeatable); counts in volume, mass, density and strength per '
        "solution, not in a strength per water",
    )  # fmt: skip
    add("--plain", action="store_true", help="leave out what --with does to the solubility")
    add(
        "--from",
        metavar="FILE",
        dest="made",
        help="pot made by 'crystal react ... --json > FILE', instead of SALT and pot",
    )
    oddswords.add_curve(pot)
    add(
        "--batch",
        metavar="FILE",
        help="batch file instead of SALT and pot; options beside it override the file",
    )


def _add_cooling(group: argparse._ArgumentGroup, example: str, text: str) -> None:
    group.add_argument("--cool-to", metavar="TEMP", help=f"{text}, as {example}")


def _add_conditions(group: argparse._ArgumentGroup) -> None:
    add = group.add_argument
    add("--read-at", metavar="TEMP", help="temperature at which the end volume is read (default 20 degC)")
    add("--boil-at", metavar="TEMP", help="temperature at which the water is driven off (default 100 degC)")
    add("--bed", metavar="SHARE", help="solids' share of the settled crystals' volume (0.55; needles 0.40)")
