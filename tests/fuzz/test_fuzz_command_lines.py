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
    """A command with what it mostly needs, some options more, and now and then something odd."""
    name = draw(st.sampled_from(commands))
    salt = draw(st.sampled_from(tuple(wild.SALTS)) | st.sampled_from(wild.OTHER_NAMES))
    odd = draw(st.integers(0, 2))  # in a third of the cases all is plausible

    def value(option: str, metavar: str) -> str:
        plausible = of_option(option, metavar, salt)
        return draw(st.one_of(plausible, plausible, plausible, wild.wild())) if odd else draw(plausible)

    words = [name]
    actions = [a for a in COMMANDS[name]._actions if "--help" not in a.option_strings]
    for action in actions:
        if not action.option_strings and (action.nargs != "?" or draw(st.integers(0, 9)) < 9):
            metavar = "EQUATION" if action.dest == "equation" else str(action.metavar)
            words += [value("", metavar) for _ in range(action.nargs if isinstance(action.nargs, int) else 1)]
    if name == "react" and odd < 2:
        left = words[1].split("->")[0].split(" + ")
        words += [word for reagent in left for word in ("--use", f"{reagent.strip()}={draw(wild.mass)}")]
    told = dict(_needed(draw, name, salt))
    options = [a for a in actions if a.option_strings]
    for action in draw(st.lists(st.sampled_from(options), max_size=4)):
        if isinstance(action, argparse._StoreTrueAction):
            words.append(action.option_strings[-1])
        elif (
            action.option_strings[-1] not in ("--chart", "--with", "--join") or draw(st.integers(0, 3)) == 0
        ):  # slow
            option = action.option_strings[-1]
            told[option] = (
                draw(st.sampled_from(["A4", "letter"]))
                if action.choices
                else value(option, str(action.metavar))
            )
    if odd == 2 and told and draw(st.booleans()):
        told.pop(draw(st.sampled_from(sorted(told))))
    for option, text in told.items():
        words += [f"{option}={text}"] if draw(st.booleans()) else [option, text]
    if odd == 2 and draw(st.integers(0, 3)) == 0:
        words.insert(draw(st.integers(0, len(words))), draw(wild.wild()))
    return words


def _needed(draw: st.DrawFn, name: str, salt: str) -> list[tuple[str, str]]:
    """Options without which the command says little; values that mostly make a pot."""
    solid, _, per_100g = wild.SALTS.get(salt, wild.SALTS["MgSO4"])
    cold = ("--cool-to", draw(wild.cold))
    if name in POTS:
        water = draw(st.floats(100, 900))
        salt_g = water / 100 * per_100g * draw(st.floats(0.2, 2.0))
        content = draw(st.sampled_from(["holds", "holds", "strength", "density"]))
        pot = [("--water", f"{water:.4g} g"), ("--holds", f"{salt_g:.4g} g of {solid}")]
        if content != "holds":
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
        "calibrate": lambda: [("--point", f"{draw(wild.temperature)} = {draw(wild.strength)}")],
    }
    return needed[name]() if name in needed else []


@cache
def option_names(name: str) -> tuple[str, ...]:
    """What an error may call a thing that was not given."""
    if name not in COMMANDS:
        return ("COMMAND",)
    actions = COMMANDS[name]._actions
    return tuple(text for a in actions for text in (*a.option_strings[-1:], str(a.metavar or a.dest)))


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
