"""Command lines of every command and option, with plausible and wild values."""

from __future__ import annotations

import argparse
from functools import cache

import wild
from belongings import files
from budget import fuzzed
from hypothesis import strategies as st
from running import Expected, check, check_only_seen_was_added, folder_with, run

from crystal.faces.cli.parser import _build
from crystal.faces.observations import EXAMPLES

COMMANDS = _build()[1]
"""Every command with every option there is: a new one is tried without being named here."""
READ = (
    "batch.toml",
    "made.json",
    "log.csv",
    "readings.csv",
    "liquors.toml",
    "spent.json",
    "own.csv",
    "junk.bin",
    "sub",
    "none",
)
WRITTEN = ("--chart", "--csv", "--save", "--output", "--folder")
FILES = ("--batch", "--from", "--log", "--readings", "--curve-file", "--curve")
POTS = ("reduce", "yield", "path", "marks", "boil", "cool", "harvest", "crops")
COMPANY = ("--with", "--join", "separate")


def of_option(option: str, metavar: str, salt: str) -> st.SearchStrategy[str]:
    """A plausible value."""
    solid, beside, _ = wild.SALTS.get(salt, wild.SALTS["MgSO4"])
    amount = st.builds("{} of {}".format, wild.mass, st.sampled_from([solid, solid, salt])) | wild.mass
    by_option = {
        "--cool-to": wild.several(wild.cold),
        "--with": st.builds("{} of {}".format, wild.quantity(0.1, 30, "g"), st.just(beside)),
        "--chart": st.sampled_from(["a.svg", "a.png", "a.pdf", "none/a.png", "a.bmp", "sub"]),
        "--csv": st.sampled_from(["a.csv", "a.xls"]),
        "--save": st.sampled_from(["new.toml", "liquors.toml", "junk.bin", "own.csv"]),
        "--output": st.sampled_from(["a.html", "a.txt"]),
        "--data": st.sampled_from(["own.csv", "sub", "none", "junk.bin", "batch.toml"]),
        "--curve": st.just("old liquor"),
        "--curve-file": st.just("liquors.toml"),
        "--log": st.just("log.csv"),
        "--join": st.just("spent.json"),
        "--make": amount | wild.volume,
        "--mix": wild.amount_of_solution,
        "--titrant": wild.solution,
        "--ends": wild.several(wild.size),
        "--reading": wild.temperature | wild.density | wild.mass | wild.volume | wild.quantity(0, 60, "Be"),
        "--dried": amount,
        "--night": wild.several(wild.cold, 2),
        "--size": wild.quantity(0.05, 10, "mm"),
        "--seed-size": wild.quantity(0.05, 5, "mm"),
        "--want": amount,
        "--reduce-to": wild.size,
        "--end": wild.size,
        "--remove": wild.mass | wild.quantity(1, 90, "%"),
        "--wash": wild.quantity(1, 50, "mL", "g"),
        "--crystals": st.just(solid),
        "--beside": st.just(beside),
        "--port": st.just("0"),
    }
    by_metavar = {
        "SALT": st.just(salt),
        "TEXT": st.sampled_from(["vitriol", "a", salt]),
        "TEMP": wild.temperature,
        "STRENGTH": wild.strength,
        "DENSITY": wild.density,
        "VOLUME": wild.volume,
        "MASS": wild.mass,
        "AMOUNT": amount,
        "SHARE": wild.share,
        "RATIO": wild.share,
        "PART": wild.share | wild.volume,
        "HEIGHT": wild.quantity(0, 3000, "m"),
        "PRESSURE": wild.quantity(60, 105, "kPa"),
        "POWER": wild.quantity(10, 2000, "W"),
        "TIME": wild.quantity(0.1, 20, "h", "min"),
        "NUMBER": st.integers(0, 9).map(str),
        "N": st.integers(0, 9).map(str),
        "WORD": st.sampled_from(["drained", "pressed", "suction"]),
        "PERCENT": wild.quantity(1, 100, "%"),
        "LIQUID": st.sampled_from(["water", "saturated solution"]),
        "SOLUTION": wild.solution,
        "EQUATION": st.sampled_from(wild.EQUATIONS),
        "FORMULA=AMOUNT": st.builds(
            "{}={}".format, st.sampled_from(wild.USED), wild.mass | wild.amount_of_solution
        ),
        "FORMULA": st.sampled_from([solid, salt, *wild.USED]),
        "NAME": st.sampled_from(["old liquor", "x"]),
        "ODDS": wild.share,
        "POINT": st.builds("{} = {}".format, wild.temperature, wild.strength),
        "SEEN": st.sampled_from(EXAMPLES),
        "DIR": st.just("demo"),
        "PAIRS": st.sampled_from(["volume=5 %", "temperature=2 K, holds=3 %", "curve=1 %, bed=0.05"]),
        "BATCH.toml": st.just("batch.toml"),
        "READINGS": st.just("readings.csv"),
        "FILE": st.sampled_from(READ),
    }
    return by_option[option] if option in by_option else by_metavar.get(metavar, wild.wild())


@st.composite
def command_lines(draw: st.DrawFn, commands: tuple[str, ...] = tuple(COMMANDS)) -> list[str]:
    """A command with what it needs and some options more, all plausible; then mostly one thing in it is spoiled, or two."""
    name = draw(st.sampled_from(commands))
    named = draw(st.integers(0, 5)) == 0
    salt = draw(st.sampled_from(wild.OTHER_NAMES if named else tuple(wild.SALTS)))
    actions = [a for a in COMMANDS[name]._actions if "--help" not in a.option_strings]
    parts: list[tuple[str, str]] = []
    source = draw(st.sampled_from(["pot"] * 6 + ["batch", "made"])) if name in POTS else "pot"
    for action in actions:
        if not action.option_strings and source == "pot":
            metavar = "EQUATION" if action.dest == "equation" else str(action.metavar)
            count = action.nargs if isinstance(action.nargs, int) else 1
            parts += [("", draw(of_option("", metavar, salt))) for _ in range(count)]
    parts += _needed(draw, name, salt, source)
    if name == "react":
        left = parts[0][1].split("->")[0].split(" + ")
        parts += [("--use", f"{reagent.strip()}={draw(wild.mass)}") for reagent in left]
    more = [a for a in actions if a.option_strings and a.option_strings[-1] not in dict(parts)]
    facts = (
        ("--holds", "--strength", "--density", "--start", "--start-at", "--mass", "--water")
        if name in POTS
        else ()
    )
    seldom = ("--chart", "--with", "--join", "--data", *FILES, *facts)
    for action in draw(st.lists(st.sampled_from(more), max_size=3, unique_by=id)):
        option = action.option_strings[-1]
        if isinstance(action, argparse._StoreTrueAction):
            parts.append((option, ""))
        elif option not in seldom or draw(st.integers(0, 4)) == 0:
            text = draw(
                st.sampled_from(["A4", "letter"])
                if action.choices
                else of_option(option, str(action.metavar), salt)
            )
            parts.append((option, text))
    for _ in range(draw(st.sampled_from([0, 0, 1, 1, 1, 1, 2]))):
        at = draw(st.integers(0, max(0, len(parts) - 1)))
        kind = draw(st.sampled_from(["value"] * 5 + ["drop", "insert", "double"]))
        if kind == "value" and parts:
            parts[at] = (parts[at][0], draw(wild.wild()))
        elif kind == "insert" or not parts:
            parts.insert(at, ("", draw(wild.wild())))
        else:
            parts[at : at + 1] = [] if kind == "drop" else [parts[at], parts[at]]
    words = [name]
    for option, text in parts:
        flag = not option or text == ""
        words += [option or text] if flag else [f"{option}={text}"] if draw(st.booleans()) else [option, text]
    return words


def _needed(draw: st.DrawFn, name: str, salt: str, source: str) -> list[tuple[str, str]]:
    """Options without which the command says little; values that mostly make a pot."""
    solid, _, per_100g = wild.SALTS.get(salt, wild.SALTS["MgSO4"])
    cold = ("--cool-to", draw(wild.cold))
    if name in POTS:
        water = draw(st.floats(100, 900))
        salt_g = water / 100 * per_100g * draw(st.floats(0.2, 2.0))
        content = draw(st.sampled_from(["holds", "holds", "strength", "density"]))
        pot = [("--water", f"{water:.4g} g"), ("--holds", f"{salt_g:.4g} g of {solid}")]
        if source != "pot":
            pot = [("--batch", "batch.toml")] if source == "batch" else [("--from", "made.json")]
        elif content != "holds":
            told = draw(wild.strength) if content == "strength" else draw(wild.density)
            pot = [(f"--{content}", told), ("--start", draw(wild.volume))]
        end = draw(wild.quantity(20, 95, "%"))
        more = {"reduce": [cold], "yield": [cold], "path": [cold, ("--reduce-to", end)], "marks": [("--end", end)],
                "boil": [("--end", end), ("--power", draw(wild.quantity(50, 900, "W")))], "cool": [cold, ("--end", end)],
                "harvest": [cold, ("--reduce-to", end)], "crops": [cold]}[name]  # fmt: skip
        return pot + more
    if name == "dilute":
        made = draw(wild.volume | wild.mass)
        return [("--stock", draw(wild.solution)), ("--target", draw(wild.strength)), ("--make", made)]
    needed = {
        "separate": lambda: [("--water", draw(wild.mass)), cold],
        "assay": lambda: [("--volume", draw(wild.volume)), ("--density", draw(wild.density))],
        "keep": lambda: [("--humidity", draw(wild.quantity(1, 100, "%")))],
        "calibrate": lambda: [
            (
                "--point",
                f"{draw(wild.quantity(15, 45, 'degC'))} = {draw(st.floats(0.8, 1.2)) * per_100g:.4g} g/100 g water",
            )
        ],
    }
    return needed[name]() if name in needed else []


@cache
def option_names(name: str) -> tuple[str, ...]:
    """What an error may call a thing that was not given."""
    if name not in COMMANDS:
        return ("COMMAND",)
    actions = COMMANDS[name]._actions
    return tuple(text for a in actions for text in (*a.option_strings, str(a.metavar or a.dest)))


def expected(words: list[str]) -> Expected:
    name = words[0] if words[0] in COMMANDS else ""
    pieces = [piece for word in words for piece in (word, *word.split("=", 1))]
    targets = {b if sign else after for word, after in zip(words, [*words[1:], ""], strict=True)
               for option, sign, b in [word.partition("=")] if option in WRITTEN}  # fmt: skip
    made = set(targets) | ({"sheet.html"} if name == "sheet" else set())
    if name == "demo":
        made |= {f"{folder}/{file}" for folder in (*targets, "crystal-demo")
                 for file in ("batch.toml", "window.png", "yield.png", "path.png", "curve.png")}  # fmt: skip
    return Expected(
        may_make=frozenset(made), may_change=frozenset({"batch.toml"} if name == "log" else ()),
        named=(*pieces, *option_names(name)), with_company=any(piece in COMPANY for piece in pieces),
    )  # fmt: skip


def hold(words: list[str]) -> None:
    with folder_with(files()) as folder:
        ran = run(words, folder)
        check(ran, expected(words))
        if ran.code == 0 and ran.before["batch.toml"] != ran.after["batch.toml"]:
            check_only_seen_was_added(ran.before["batch.toml"], ran.after["batch.toml"])


@fuzzed(
    60, words=command_lines(tuple(name for name in COMMANDS if name not in ("reduce", "demo", "separate")))
)
def test_quick_commands(words: list[str]) -> None:
    """Those that answer at once."""
    hold(words)


@fuzzed(6, words=command_lines(("reduce", "demo", "separate")))
def test_slow_commands(words: list[str]) -> None:
    """Those that draw thousands of pots, or charts."""
    hold(words)


SOME_WORDS = (*COMMANDS, "--json", "--holds", "5 g", "MgSO4", "--cool-to", "--help", "--version")


@fuzzed(150, words=st.lists(st.sampled_from(SOME_WORDS) | wild.wild(), max_size=5))
def test_any_words(words: list[str]) -> None:
    """Words in no order; those of slow commands mostly make no command."""
    if "page" not in words and "demo" not in words:
        hold(words or ["--version"])
