"""How well it is proved: works out the table in the README, ``python tests/bench/proof.py``.

The quick rows are worked out anew each time, by the functions that the tests assert with; a test holds the README to them. The
slow rows (``SLOW``) stay as they are written unless they are named: ``--slow all``, or some of ``odds time suite``.
What falls short of its aim is shown so.
"""

from __future__ import annotations

import argparse
import csv
import importlib
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
for folder in ("", "tests", "tests/published", "tests/physics", "tests/bench"):
    if str(ROOT / folder) not in sys.path:
        sys.path.append(str(ROOT / folder))

from held import Held  # noqa: E402

from crystal.data.catalogue import Catalogue  # noqa: E402
from crystal.physics.curve import leave_one_out_errors  # noqa: E402
from crystal.physics.formula import composition_mass_fraction  # noqa: E402

README = ROOT / "README.md"
ERRORS = ROOT / "tests" / "bench" / "leave_one_out.csv"
BEGIN, END = "<!-- proof: tests/bench/proof.py writes this table -->", "<!-- end of proof -->"
HEADING = ("what was held against what", "n", "found", "aim")
BATCHES = 2400
"""Batches simulated for each arm of the odds."""


@dataclass(frozen=True)
class Line:
    """One line of the table."""

    what: str
    n: str
    found: str
    aim: str

    def __str__(self) -> str:
        return f"| {self.what} | {self.n} | {self.found} | {self.aim} |"


def _of(name: str):
    """A module of the tests."""
    return importlib.import_module(name)


def every(compare: Callable[..., list[Held]], cases: Iterable[object]) -> list[Held]:
    """All comparisons of all cases."""
    return [held for case in cases for held in compare(case)]


def percent(share: float) -> str:
    """As percent; what is left of rounding is not told further."""
    return f"{100 * share:.2g} %" if share == 0 or share > 1e-12 else "below 1e-10 %"


def counted(compared: list[Held]) -> str:
    return f"{sum(held.within for held in compared)} of {len(compared)}"


def relative(what: str, compared: Iterable[Held], aim: str = "") -> Line:
    """How many are within their tolerance, and the middle and the largest relative difference with its name."""
    compared = list(compared)
    off = [held.relative for held in compared]
    worst = compared[int(np.argmax(off))]
    allowed = sorted(held.rtol for held in compared)
    aim = aim or f"{percent(allowed[0])} to {percent(allowed[-1])}, row by row"
    found = f"median {percent(float(np.median(off)))}, worst {percent(max(off))} ({named(worst)})"
    return Line(what, counted(compared), found, aim)


def absolute(what: str, compared: Iterable[Held], unit: str, aim: str = "") -> Line:
    """The same for differences in a unit."""
    compared = list(compared)
    allowed = sorted(held.atol for held in compared)
    aim = aim or f"{allowed[0]:g} to {allowed[-1]:g}{unit}, row by row"
    off = [abs(held.apart) for held in compared]
    worst = compared[int(np.argmax(off))]
    return Line(
        what,
        counted(compared),
        f"median {np.median(off):.2g}{unit}, worst {max(off):.2g}{unit} ({named(worst)})",
        aim,
    )


def named(held: Held) -> str:
    """What was held, short enough for a table."""
    return re.split(r"[,;]| beyond | \(", held.what)[0].strip()


def published() -> list[Line]:
    """What was printed in books and papers: the tables in ``tests/published``."""
    yields, heat, density = _of("test_yields"), _of("test_heat"), _of("test_density")
    scales, pitzer, react = _of("test_scales"), _of("test_pitzer"), _of("bench_layer.test_react")
    ours = map(yields.beside_the_book, yields.DATA_TOLERANCE)
    hot = map(heat.saturated_boiling, heat.rows("saturated_boiling.csv"))
    return [
        relative("Worked examples of crystal yields", every(yields.reproduced, yields.EXAMPLES.values())),
        relative("The same with this program's solubilities", ours, "5 %: the books' curves differ"),
        relative("Worked examples of reactions", (react.published(*asked) for asked in react.ASKED)),
        relative("Strengths, hydrometer degrees, dilutions", map(scales.published, scales.ROWS)),
        relative("Densities of solutions", map(density.published, density.CHECKS)),
        relative("Water's vapour pressure, boiling, latent heat, air", map(heat.water_and_air, heat.rows("water_vapour.csv"))),
        relative("Activities of single solutes", map(pitzer.tabulated, pitzer.rows())),
        absolute("Boiling elevations", heat.elevations(), " K", "95 % within the error stated beside them"),
        absolute("Boiling points of saturated solutions", hot, " K", "1.5 K"),
        absolute("Humidities over saturated solutions", heat.humidities_inside(), "", "0.02 of water activity"),
        absolute("Heats of crystallising", map(heat.heat_of_crystallising, heat.rows("heat_of_solution.csv")), " kJ/mol"),
        relative("Seed and cooling curves", every(heat.seed_and_cooling, heat.rows("seed_and_cooling.csv"))),
    ]  # fmt: skip


def libraries() -> list[Line]:
    """What other programs compute."""
    heat, water, density = _of("test_heat"), _of("test_water"), _of("test_density")
    pitzer, formula, equation = _of("test_pitzer"), _of("test_formula"), _of("test_equation")
    steam = every(heat.beside_iapws, heat.BESIDE_IAPWS_C)
    steam += [h for span in water.RANGES if span[1] <= 150 for h in water.beside_standard(*span)]
    masses = [formula.molar_mass(f) for f in sorted(formula.SALTS)]
    masses += every(lambda solid: formula.hydrate_beside(*solid), formula.SOLIDS)
    brines = every(lambda brine: pitzer.beside_phreeqc(*brine), pitzer.BRINES)
    agreed = sum(map(equation.agrees_with_sympy, equation.EQUATIONS))
    return [
        relative("Water and steam to 300 °C: `iapws`", steam, "0.03 %"),
        relative("Densities, the published formula: `thermo`", every(density.beside_thermo, density.TRIED), "0.0001 %"),
        relative("Heat capacities, our rule: `thermo`", every(heat.heat_capacities, heat.COMMON), "13 %"),
        relative("Activities of ions in brines: `phreeqpython`", brines, "0.2 %"),
        relative("Molar masses, salt in a hydrate: `periodictable`", masses, "0.01 %"),
        Line("Balanced equations: `sympy`", f"{agreed} of {len(equation.EQUATIONS)}", "exact", "exact"),
    ]  # fmt: skip


def curve_errors() -> dict[str, np.ndarray]:
    """Errors of each salt's curves at each inner point when that point is left out, mass fraction."""
    found = {}
    for formula, salt in Catalogue.bundled().salts.items():
        waters = {phase.formula: phase.waters for phase in salt.phases}
        errors = [
            leave_one_out_errors(branch, composition_mass_fraction(formula, waters[branch.phase]))
            for branch in salt.branches
            if not branch.metastable
        ]
        found[formula] = np.abs(np.concatenate([np.zeros(0), *errors]))
    return found


def curves() -> Line:
    """The curves themselves: every point told by its neighbours."""
    by_salt = curve_errors()
    errors = 100 * np.concatenate(list(by_salt.values()))
    worst = max((e.max(initial=0.0), salt) for salt, e in by_salt.items())[1]
    found = f"median {np.median(errors):.2g}, 90th percentile {np.percentile(errors, 90):.2g}, worst {errors.max():.2g} ({worst})"
    return Line(
        "Each point of the curves left out, told by its neighbours",
        str(errors.size),
        f"{found} mass %",
        "none, shown by salt in [a list](tests/bench/leave_one_out.csv)",
    )


def mixtures() -> Line:
    """Measured solubilities beside another solute."""
    script = _of("mixtures")
    rows = script.compared()
    (median, p90), worst = script.summary(rows)["predicted"], max(abs(row.error("predicted")) for row in rows)
    over = script.over_systems(rows)["predicted"]
    found = f"median {percent(median)}, 90th percentile {percent(p90)}, worst {percent(worst)}"
    systems = f"the median system's {percent(over[0])} and {percent(over[1])}"
    aim = "8 % and 25 %, the median system's"
    return Line("Measured solubilities beside another solute", str(len(rows)), f"{found}; {systems}", aim)


ARMS: dict[str, dict[str, object]] = {"plain": {}, "after first crystals": {"seed": 3, "evidence": True}}


def realised(arm: str) -> tuple[int, float, float]:
    """End points of batches with a known truth, as ``calibration.py`` simulates them; how many crops lie in the band of 80 %, and
    how often a pot does not pour where the risk of 5 % is what limits it."""
    tally = _of("calibration").simulate(BATCHES, **ARMS[arm])
    ranks = np.array(tally.ranks)
    return ranks.size, float(np.mean((ranks >= 0.1) & (ranks <= 0.9))), float(np.mean(tally.bound))


def odds_line(found: dict[str, tuple[int, float, float]]) -> Line:
    told = [
        f"{arm}: 80 % bands hold {100 * inside:.1f} %, a 5 % risk is {100 * bound:.1f} %"
        for arm, (_, inside, bound) in found.items()
    ]
    number = f"{sum(n for n, *_ in found.values())} end points of {BATCHES * len(found)} batches"
    return Line("Odds against simulated batches", number, "; ".join(told), "77 to 83 %; 3.5 to 6.5 %")


def odds() -> list[Line]:
    """Odds told, and what came."""
    return [odds_line({arm: realised(arm) for arm in ARMS})]


def times() -> list[Line]:
    """Ratios within one run; they differ a little from machine to machine."""
    speed, company = _of("speed"), _of("company_speed")
    ratios = speed.engine_ratios() | speed.odds_ratios()
    maps, windows, draws = (
        max(ratio for name, ratio in ratios.items() if name.startswith(kind))
        for kind in ("phase map", "window", "odds")
    )
    beside = max(ratio for ratio, _ in company.window_ratios().values())
    start = speed.command_ratio()["crystal reduce over its third-party imports"]
    return [
        Line("Time over one `numpy.interp`: phase map of as many states; 200 end volumes (of 400 000); odds of 4096 draws of them "
             "(of as many)", "6 pots each", f"at most {maps:.1f}; {windows:.2f}; {draws:.1f}", "6; 0.5; 8"),
        Line("Time of a window with company over a plain one; of `crystal reduce` over its third-party imports", "5 pairs; 1",
             f"at most {beside:.1f}; {start:.2f}", "10; 2"),
    ]  # fmt: skip


def suite() -> list[Line]:
    """The README's own test command."""
    begun = time.perf_counter()
    words = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-n",
        "auto",
        "--dist",
        "loadfile",
        "-p",
        "no:cacheprovider",
    ]
    said = subprocess.run(words, cwd=ROOT, capture_output=True, text=True).stdout.splitlines()[-1]
    minutes = (time.perf_counter() - begun) / 60
    passed, failed = (sum(map(int, re.findall(rf"(\d+) {word}", said))) for word in ("passed", "failed"))
    return [
        Line(
            "Tests of this program",
            f"{passed} of {passed + failed} pass",
            f"{minutes:.1f} min on {_cores()} cores",
            "15 min",
        )
    ]


def _cores() -> int:
    import os

    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


QUICK: tuple[Callable[[], list[Line]], ...] = (
    published,
    libraries,
    lambda: [curves(), mixtures()],
)
SLOW: dict[str, Callable[[], list[Line]]] = {"odds": odds, "time": times, "suite": suite}
SLOW_BEGINS = {"odds": "Odds against", "time": "Time o", "suite": "Tests of"}
"""How a slow line begins."""


def quick_lines() -> list[str]:
    """The lines that are worked out anew each time."""
    return [str(line) for part in QUICK for line in part()]


def written() -> list[str]:
    """The table's lines as they stand in the README, heading and rule left out."""
    text = README.read_text(encoding="utf-8")
    between = text.partition(BEGIN)[2].partition(END)[0]
    return [line for line in between.splitlines() if line.startswith("| ")][2:]


def written_slow(part: str) -> list[str]:
    """The lines of a slow part as they stand in the README."""
    return [line for line in written() if line.startswith(f"| {SLOW_BEGINS[part]}")]


def write(lines: list[str]) -> None:
    """Put the table in place of the README's, and the curves' errors by salt beside this script."""
    heading = ["| " + " | ".join(HEADING) + " |", "| --- | --- | --- | --- |"]
    text = README.read_text(encoding="utf-8")
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    assert begin
    assert end
    README.write_text(
        f"{before}{BEGIN}\n\n" + "\n".join([*heading, *lines]) + f"\n\n{END}{after}", encoding="utf-8"
    )
    ERRORS.write_text(errors_csv(), encoding="utf-8")


def errors_csv() -> str:
    """Errors of the curves by salt, mass %; empty where no branch has four points."""
    rows = ["salt,points,median_mass_percent,worst_mass_percent"]
    for salt, errors in curve_errors().items():
        told = f"{100 * np.median(errors):.2g},{100 * errors.max():.2g}" if errors.size else ","
        rows.append(f"{next(csv.reader([salt]))[0]},{errors.size},{told}")
    return "\n".join(rows) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--slow", nargs="*", default=[], choices=[*SLOW, "all"])
    asked = parser.parse_args().slow
    lines = quick_lines()
    for part, measure in SLOW.items():
        anew = part in asked or "all" in asked
        lines += [str(line) for line in measure()] if anew else written_slow(part)
    write(lines)
    print("\n".join(lines))


if __name__ == "__main__":
    main()
