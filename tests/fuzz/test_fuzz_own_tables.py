"""Own salts: wild numbers, missing columns, doubled temperatures, crossing branches, wrong encodings, other tables, huge files."""

from __future__ import annotations

import csv
import io

import pytest
import wild
from budget import fuzzed
from hypothesis import strategies as st
from running import Expected, check, folder_with, run

from crystal.data.catalogue import bundled_folder

COLUMNS = (
    "system",
    "phase",
    "temperature_C",
    "mass_percent",
    "waters",
    "point",
    "stability",
    "source",
    "note",
)
FILE = "mine.csv"
FAULTS = ("cell", "cell", "column", "rename", "double", "shuffle", "short", "long", "heading")
SYSTEMS = ("RbBrO3", "CuSO4", "FeCl3", "XeF2", "MgSO4", "NaCl", "nonsense", "")


def numbers() -> st.SearchStrategy[str]:
    return st.one_of(wild.numbers(), wild.wild())


@st.composite
def rows(draw: st.DrawFn) -> list[list[str]]:
    """One or two salts, each with one to three branches that rise, fall, turn or cross."""
    found = []
    for system in draw(st.lists(st.sampled_from(SYSTEMS[:6]), min_size=1, max_size=2, unique=True)):
        for waters in draw(
            st.lists(
                st.sampled_from(["", ".H2O", ".5H2O", ".3.5H2O", "ice"]), min_size=1, max_size=3, unique=True
            )
        ):
            phase = waters if waters == "ice" else system + waters
            t = sorted(
                draw(
                    st.lists(
                        st.floats(-30, 110).map(lambda x: round(x, 1)), min_size=1, max_size=6, unique=True
                    )
                )
            )
            w = draw(st.lists(st.floats(0, 100).map(lambda x: round(x, 2)), min_size=len(t), max_size=len(t)))
            if draw(st.booleans()):
                w.sort()
            if waters == "ice":
                t, w = [0.0, *(-abs(x) for x in t)], [0.0, *sorted(x / 3 for x in w)]
            points = [
                draw(st.sampled_from(["saturated"] * 6 + ["eutectic", "peritectic", "congruent"])) for _ in t
            ]
            stability = draw(st.sampled_from(["stable", "stable", "", "metastable"]))
            found += [
                [system, phase, f"{a:g}", f"{b:g}", "", p, stability, "Bench", ""]
                for a, b, p in zip(t, w, points, strict=True)
            ]
    return found


@st.composite
def tables(draw: st.DrawFn) -> bytes:
    """The rows as a file, mostly with one thing or another wrong."""
    columns, lines = list(COLUMNS), draw(rows())
    for fault in draw(st.lists(st.sampled_from(FAULTS), max_size=2)):
        line = draw(st.integers(0, len(lines) - 1))
        column = draw(st.integers(0, len(COLUMNS) - 1)) % max(1, len(columns))
        if fault == "cell" and column < len(lines[line]):
            lines[line][column] = draw(numbers())
        elif fault == "column" and columns:
            columns.pop(column)
            lines = [[cell for i, cell in enumerate(cells) if i != column] for cells in lines]
        elif fault == "rename" and columns:
            columns[column] = draw(
                st.sampled_from(["Temperature", "mass%", "", "temperature_c", "system", *COLUMNS])
            )
        elif fault == "double":
            lines.append(list(lines[line]))
        elif fault == "shuffle":
            lines = draw(st.permutations(lines))
        elif fault == "short":
            lines[line] = lines[line][:-1]
        elif fault == "long":
            lines[line] = [*lines[line], "x"]
        elif fault == "heading":
            columns = []
    made = io.StringIO()
    comma, end = draw(st.sampled_from([",", ",", ";", "\t"])), draw(st.sampled_from(["\n", "\r\n", "\r"]))
    csv.writer(made, delimiter=comma, lineterminator=end).writerows([columns, *lines] if columns else lines)
    text = made.getvalue()
    encoding = draw(st.sampled_from(["utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16", "latin-1", "utf-32"]))
    content = text.encode(encoding, "replace")
    return draw(wild.mutated(content)) if draw(st.integers(0, 4)) == 0 else content


@st.composite
def commands(draw: st.DrawFn) -> list[str]:
    salt = draw(st.sampled_from(SYSTEMS))
    pot = ["--holds", f"{draw(st.floats(1, 300)):.4g} g", "--water", "200 g"]
    cold = ["--cool-to", draw(wild.cold)]
    words = draw(st.sampled_from([
        ["salts"], ["card", salt], ["card", salt], ["yield", salt, *pot, *cold], ["path", salt, *pot, *cold, "--reduce-to", "50 %"],
        ["crops", salt, *pot, *cold], ["harvest", salt, *pot, *cold, "--reduce-to", "60 %"], ["keep", salt, "--humidity", "40 %"],
        ["marks", salt, *pot, "--end", "70 %"], ["cool", salt, *pot, *cold], ["calibrate", "x", salt, "--point", "31 degC = 20 % w/w"],
    ]))  # fmt: skip
    return [*words, *draw(st.sampled_from([[], ["--json"], ["--json"]]))]


def hold(words: list[str], files: dict[str, bytes], data: str) -> None:
    with folder_with(files) as folder:
        ran = run([*words, "--data", data], folder)
        # Faults name the file; a curve that is sound but cannot answer is named by the salt or by the option at fault.
        named = (FILE, data, *(word for word in words[1:] if word), "salt:")
        check(ran, Expected(named=named, said=" ".join(c.decode("latin-1") for c in files.values())))


@fuzzed(150, words=commands(), content=tables())
def test_own_tables(words: list[str], content: bytes) -> None:
    """One file of saturated liquids."""
    hold(words, {FILE: content}, FILE)


TABLES = tuple(path.name for path in sorted(bundled_folder().glob("*.csv")))
PACKAGES = (b"{", b"[]", b'{"version": 1}', b'{"version": NaN}', b"\xff", b"{}", b"null")


@st.composite
def folders(draw: st.DrawFn) -> dict[str, bytes]:
    """A folder with damaged copies of the bundled tables' first lines, and sometimes with own liquids."""
    found = {}
    for name in draw(st.lists(st.sampled_from(TABLES), min_size=1, max_size=3, unique=True)):
        lines = (bundled_folder() / name).read_bytes().splitlines(keepends=True)
        start = draw(st.integers(1, max(1, len(lines) - 8)))
        found[f"own/{name}"] = draw(wild.mutated(b"".join([lines[0], *lines[start : start + 8]])))
    if draw(st.booleans()):
        found["own/solubility.csv"] = draw(tables())
    if draw(st.integers(0, 5)) == 0:
        found["own/datapackage.json"] = draw(st.sampled_from(PACKAGES))
    return found


@fuzzed(60, words=commands(), content=folders())
def test_own_folders(words: list[str], content: dict[str, bytes]) -> None:
    """A folder of tables."""
    hold(words, content, "own")


@pytest.mark.parametrize("kind", ["points", "systems", "one line", "blank lines"])
def test_huge_files(kind: str) -> None:
    """Some megabytes are read or refused in bounded time, as any table is."""
    heading = b"system,phase,temperature_C,mass_percent\n"
    lines = {
        "points": b"".join(b"RbBrO3,RbBrO3,%.4f,%.6f\n" % (k / 500, 1 + k / 2000) for k in range(40_000)),
        "systems": b"".join(b"C%dH4O,C%dH4O,%d,5\nC%dH4O,C%dH4O,50,6\n" % (k, k, k % 7, k, k) for k in range(1, 3000)),
        "one line": b"RbBrO3,RbBrO3,20," + b"1" * 3_000_000 + b"\n",
        "blank lines": b"\n" * 2_000_000 + b"RbBrO3,RbBrO3,0,1.5\nRbBrO3,RbBrO3,20,3\n",
    }[kind]  # fmt: skip
    hold(
        ["yield", "RbBrO3", "--holds", "20 g", "--water", "400 g", "--cool-to", "10 degC", "--json"],
        {FILE: heading + lines},
        FILE,
    )
