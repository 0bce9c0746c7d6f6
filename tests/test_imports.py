"""Importing stays light, and the layers import only downward."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import crystal

PACKAGE = Path(crystal.__file__).parent
LAYERS = ["errors", "data", "physics", "bench", "units", "faces"]


def loaded_after(statement: str) -> set[str]:
    code = f"import sys\n{statement}\nprint(*sorted({{name.partition('.')[0] for name in sys.modules}}))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PACKAGE.parent
    )
    return set(done.stdout.split())


def test_import_of_the_package_loads_neither_matplotlib_nor_pandas():
    loaded = loaded_after("import crystal")
    assert "crystal" in loaded
    assert not loaded & {"matplotlib", "pandas", "scipy", "pint", "numpy", "rich"}


def test_import_of_the_engine_loads_no_charts_tables_or_units():
    loaded = loaded_after("import crystal.bench.plan, crystal.bench.explain, crystal.data.catalogue")
    assert "numpy" in loaded
    assert not loaded & {"matplotlib", "pandas", "pint", "scipy"}


def test_layers_import_only_downward():
    modules = sorted(PACKAGE.rglob("*.py"))
    assert len(modules) > 30
    seen = 0
    for path in modules:
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        if parts[0] not in LAYERS:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{path}: relative import"
                names = [node.module or ""]
            for name in names:
                if name.startswith("crystal.") and name.split(".")[1] in LAYERS:
                    seen += 1
                    assert LAYERS.index(name.split(".")[1]) <= LAYERS.index(parts[0]), f"{path}: {name}"
    assert seen > 50


def test_units_library_is_named_only_in_units():
    users = {
        path.relative_to(PACKAGE).parts[0]
        for path in PACKAGE.rglob("*.py")
        for line in path.read_text(encoding="utf-8").splitlines()
        if line.strip().startswith(("import pint", "from pint"))
    }
    assert users == {"units"}
