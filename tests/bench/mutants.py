"""Small faults put into the physics and the bench, one at a time: which do the checks find?

Needs `pip install cosmic-ray pytest-cov`. From the project's folder:

    python tests/bench/mutants.py map OUT         # once: which check runs which line, and how long it takes
    python tests/bench/mutants.py run OUT [N] [PART/PARTS]   # N faults in each module, drawn with a fixed seed
    python tests/bench/mutants.py again OUT MODULE=CHECKS ...  # those not found in a module once more, by these checks
    python tests/bench/mutants.py tell OUT        # the score, before and after, and what was not found

Each fault is tried by the checks that run its line, the quickest first, a minute's worth of them at most; a fault in a line
that runs on import is tried by those that run anything in its module. Drawn are faults that a person could make: a number
off by one, + for -, * for /, a comparison turned or its edge moved, a condition negated. What can only end in a type error
is left out, as it would flatter the score.
"""

from __future__ import annotations

import csv
import os
import random
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PARTS = ("crystal/physics", "crystal/bench")
CHECKS = (
    "tests/physics",
    "tests/bench_layer",
    "tests/published",
    "tests/test_doctests.py",
    "tests/test_records.py",
)
SECONDS = 40.0
SEED = 20261127
COLUMNS = ("module", "operator", "occurrence", "line", "checks", "found", "diff")
FAULTS = re.compile(
    r"NumberReplacer|ReplaceTrueWithFalse|ReplaceFalseWithTrue|ReplaceOrWithAnd|ReplaceAndWithOr|AddNot|Delete_Not"
    r"|Delete_USub|ZeroIterationForLoop|ReplaceBreakWithContinue"
    r"|BinaryOperator_(Add_Sub|Sub_Add|Mul_Div|Div_Mul|Pow_Mul|BitAnd_BitOr)$"
    r"|ComparisonOperator_(Gt_GtE|GtE_Gt|Lt_LtE|LtE_Lt|Gt_Lt|Lt_Gt|GtE_LtE|LtE_GtE|Eq_NotEq|NotEq_Eq|Is_IsNot|IsNot_Is)$"
)


def main(words: list[str]) -> int:
    """Run one of the three steps."""
    step, out = words[0], Path(words[1])
    out.mkdir(exist_ok=True)
    if step == "map":
        draw_map(out)
    elif step == "again":
        again(out, words[2:])
    elif step == "run":
        part = words[3] if len(words) > 3 else "1/1"
        run(out, int(words[2]) if len(words) > 2 else 6, *(int(n) for n in part.split("/")))
    else:
        tell(out)
    return 0


def scratch() -> Path:
    """A copy of the project in which faults may be made."""
    place = Path(tempfile.mkdtemp(prefix="mutants-"))
    for name in ("crystal", "tests", "datasets", "pyproject.toml", "README.md"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, place / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, place / name)
    return place


def pytest(place: Path, words: list[str], seconds: float | None = None) -> int:
    """The exit code of pytest in the copy; that of a run that had to be stopped is 1."""
    env = os.environ | {"PYTHONPATH": str(place), "CI": "true", "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *words]
    try:
        return subprocess.run(command, cwd=place, env=env, timeout=seconds, capture_output=True).returncode
    except subprocess.TimeoutExpired:
        return 1


def draw_map(out: Path) -> None:
    """Lines by check, and seconds by check."""
    place = scratch()
    words = [
        "--cov=crystal",
        "--cov-context=test",
        "--cov-report=",
        f"--junitxml={out / 'times.xml'}",
        *CHECKS,
    ]
    code = pytest(place, words)
    shutil.copy(place / ".coverage", out / "coverage")
    print(f"the checks ended with {code}")


def seconds_by_check(out: Path) -> dict[str, float]:
    """How long each check took."""
    found = {}
    for case in ET.parse(out / "times.xml").iter("testcase"):
        file = case.attrib["classname"].replace(".", "/")
        file, _, cls = (file, "", "") if (ROOT / f"{file}.py").is_file() else file.rpartition("/")
        middle = f"::{cls}" if cls else ""
        found[f"{file}.py{middle}::{case.attrib['name']}"] = float(case.attrib["time"])
    return found


def checks_by_line(out: Path, module: str) -> dict[int, set[str]]:
    """Checks that run each line of a module; those that run the module at all stand at line 0."""
    from coverage import CoverageData

    data = CoverageData(str(out / "coverage"))
    data.read()
    file = next((f for f in data.measured_files() if f.endswith(module)), None)
    found: dict[int, set[str]] = {0: set()}
    for line, contexts in (data.contexts_by_lineno(file) if file else {}).items():
        checks = {context.rpartition("|")[0] for context in contexts if context}
        found[line] = checks
        found[0] |= checks
    return found


def drawn(module: str, count: int, out: Path) -> list[tuple[str, int, int]]:
    """Faults to be made: operator, its occurrence, the line."""
    base = out / (module.replace("/", "-") + ".sqlite")
    config = base.with_suffix(".toml")
    config.write_text(
        f'[cosmic-ray]\nmodule-path = "{module}"\ntimeout = 60.0\nexcluded-modules = []\ntest-command = "false"\n'
        '[cosmic-ray.distributor]\nname = "local"\n'
    )
    if not base.exists():
        tool = str(Path(sys.executable).parent / "cosmic-ray")
        subprocess.run([tool, "init", str(config), str(base)], cwd=ROOT, check=True, capture_output=True)
    with sqlite3.connect(base) as database:
        rows = database.execute(
            "select operator_name, occurrence, start_pos_row from mutation_specs"
        ).fetchall()
    rows = sorted(row for row in rows if FAULTS.search(row[0]))
    return random.Random(f"{SEED} {module}").sample(rows, min(count, len(rows)))


def run(out: Path, count: int, part: int, parts: int) -> None:
    """Make each fault and write down what became of it."""

    seconds = seconds_by_check(out)
    modules = sorted(
        str(p.relative_to(ROOT)) for d in PARTS for p in (ROOT / d).glob("*.py") if p.stem != "__init__"
    )
    random.Random(SEED).shuffle(modules)  # so that a run cut short is a fair sample all the same
    place = scratch()
    with open(out / f"found-{part}.csv", "w", newline="", encoding="utf-8") as file:
        write = csv.writer(file)
        write.writerow(COLUMNS)
        for module in modules[part - 1 :: parts]:
            lines = checks_by_line(out, module)
            for operator, occurrence, line in drawn(module, count, out):
                checks = sorted(lines.get(line) or lines[0], key=lambda c: seconds.get(c, 1.0))
                chosen = within(checks, seconds, SECONDS)
                code, changed = tried(place, module, operator, occurrence, chosen)
                write.writerow([module, operator, occurrence, line, len(chosen), code != 0, changed])
                file.flush()


def again(out: Path, words: list[str]) -> None:
    """Try what was not found in each module named by the checks named with it (comma between), such as new ones."""
    named = {module: checks.split(",") for module, _, checks in (word.partition("=") for word in words)}
    place = scratch()
    with open(out / "again.csv", "a", newline="", encoding="utf-8") as file:
        write = csv.writer(file)
        if not file.tell():
            write.writerow(COLUMNS)
        for row in missed(out):
            module, operator, occurrence, line = (row[key] for key in COLUMNS[:4])
            if module not in named:
                continue
            where = moved(place / module, operator, int(occurrence), row["diff"])
            code = 0 if where is None else tried(place, module, operator, where, named[module])[0]
            write.writerow([module, operator, occurrence, line, len(named[module]), code != 0, row["diff"]])
            file.flush()


def moved(target: Path, operator: str, occurrence: int, diff: str) -> int | None:
    """Which occurrence makes that fault in the module as it now is; None where the line is no more."""
    from cosmic_ray.mutating import apply_mutation
    from cosmic_ray.plugins import get_operator

    whole = target.read_text(encoding="utf-8")
    for there in sorted(range(max(occurrence - 40, 0), occurrence + 40), key=lambda k: abs(k - occurrence)):
        before, after = apply_mutation(target, get_operator(operator)(), there)
        target.write_text(whole, encoding="utf-8")
        if after is not None and difference(before, after) == diff:
            return there
    return None


def within(checks: list[str], seconds: dict[str, float], budget: float) -> list[str]:
    """As many of the quickest checks as the time allows, one at least."""
    chosen: list[str] = []
    total = 0.0
    for check in checks:
        total += seconds.get(check, 1.0)
        if chosen and (total > budget or len(chosen) >= 200):
            break
        chosen.append(check)
    return chosen


def tried(place: Path, module: str, operator: str, occurrence: int, checks: list[str]) -> tuple[int, str]:
    """Pytest's exit code with that fault in place, and the lines that it changed."""
    from cosmic_ray.mutating import apply_mutation
    from cosmic_ray.plugins import get_operator

    target = place / module
    whole = target.read_text(encoding="utf-8")
    before, after = apply_mutation(target, get_operator(operator)(), occurrence)
    try:
        code = pytest(place, ["-x", *checks], 10 * SECONDS) if checks and after else 0
    finally:
        target.write_text(whole, encoding="utf-8")
    return code, difference(before, after)


def missed(out: Path) -> list[dict[str, str]]:
    """What the first run did not find."""
    rows = [row for path in sorted(out.glob("found-*.csv")) for row in read(path)]
    return [row for row in rows if row["found"] != "True"]


def read(path: Path) -> list[dict[str, str]]:
    with open(path, encoding="utf-8") as file:
        return list(csv.DictReader(file))


def difference(before: str, after: str | None) -> str:
    """The lines that a fault changed."""
    pairs = zip(before.splitlines(), (after or "").splitlines(), strict=False)
    return " | ".join(f"{one.strip()} => {other.strip()}" for one, other in pairs if one != other)[:300]


def tell(out: Path) -> None:
    """Print the score before and after, and what was not found."""
    tried_in_all = sum(len(read(path)) for path in out.glob("found-*.csv"))
    left = missed(out)
    print(score("At first", tried_in_all - len(left), tried_in_all))
    if (out / "again.csv").exists():
        retried = read(out / "again.csv")
        found = {identity(row) for row in retried if row["found"] == "True"}
        left = [row for row in left if identity(row) not in found]
        print(score("After new checks, and longer", tried_in_all - len(left), tried_in_all))
    for row in left:
        print(f"  {row['module']}:{row['line']} ({row['checks']} checks) {row['diff']}")


def score(when: str, found: int, of: int) -> str:
    return f"{when} {found} of {of} faults found, {100 * found / max(of, 1):.0f} %"


def identity(row: dict[str, str]) -> tuple[str, str, str]:
    return row["module"], row["operator"], row["occurrence"]


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
