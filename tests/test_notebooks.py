"""The notebooks run, and print what is committed with them.

``PYTHONPATH=. python tests/test_notebooks.py`` runs them all and writes their outputs into the files.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import nbclient
import nbformat
import pytest

import crystal

ROOT = Path(__file__).parent.parent
PACKAGE_ROOT = str(Path(crystal.__file__).parent.parent)
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
ADDRESS = re.compile(r"\bat 0x[0-9a-f]{6,}")


def run(path: Path) -> Any:
    """The notebook with fresh outputs, of which nothing hangs on when or where it ran."""
    notebook = nbformat.read(path, as_version=4)
    env = {name: value for name, value in os.environ.items() if name != "CRYSTAL_DATA"}
    env["PYTHONPATH"] = os.pathsep.join(filter(None, [PACKAGE_ROOT, env.get("PYTHONPATH")]))
    client = nbclient.NotebookClient(
        notebook,
        timeout=120,
        kernel_name="python3",
        record_timing=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    client.execute(env=env)
    for cell in notebook.cells:
        cell.metadata.clear()
    notebook.metadata["language_info"] = {"name": "python"}
    return notebook


def texts(notebook: Any) -> list[list[str]]:
    """What each code cell prints and shows in words; pictures are left to the eye."""
    return [
        [text for output in cell.outputs for text in _texts(output)]
        for cell in notebook.cells
        if cell.cell_type == "code"
    ]


def _texts(output: Any) -> list[str]:
    if output.output_type == "stream":
        return [output.text]
    data = output.get("data", {})
    return [data[kind] for kind in ("text/plain", "text/html") if kind in data]


def test_there_is_one_for_each_question():
    assert len(NOTEBOOKS) == 5


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_says_what_is_committed(path):
    committed = texts(nbformat.read(path, as_version=4))
    assert all(committed), "a code cell without output"
    assert texts(run(path)) == committed


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_what_is_committed_can_be_read_and_hangs_on_no_machine(path):
    text = path.read_text(encoding="utf-8")
    notebook = nbformat.read(path, as_version=4)
    assert not ADDRESS.search(text)
    assert str(ROOT) not in text
    assert "Traceback" not in text
    assert notebook.cells[0].source.startswith("# ")
    shown = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert [cell.execution_count for cell in shown] == list(range(1, len(shown) + 1))
    imports = {
        line.strip()
        for cell in shown
        for line in cell.source.splitlines()
        if re.match(r"\s*(import|from) ", line)
    }
    assert imports == {"import crystal"}, "a notebook uses the public interface alone"


if __name__ == "__main__":
    for one in NOTEBOOKS:
        nbformat.write(run(one), one)
