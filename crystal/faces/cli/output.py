"""Where answers go: text or JSON on standard output, charts and tables into files, all or nothing."""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from crystal.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.console import Console

CHART_ENDINGS = (".png", ".svg", ".pdf")
WIDTH = 110
"""Columns where the output is no terminal; a terminal wider than that is not filled."""

Writer = Callable[[Path], object]


@dataclass(frozen=True, slots=True)
class Answer:
    """One command's result: for a program, for a person, and what may be written to files."""

    data: Any
    show: Callable[[Console], None]
    chart: Callable[[], Figure] | None = None
    rows: list[dict[str, Any]] | None = None
    batch: tuple[Path, str] | None = None


def check_target(path: str | None, what: str, endings: tuple[str, ...]) -> Path | None:
    """The file to be written, refused before anything is computed where it cannot be."""
    if path is None:
        return None
    target = Path(path)
    if target.suffix.lower() not in endings:
        listed = " or ".join(endings) if len(endings) < 3 else f"{', '.join(endings[:-1])} or {endings[-1]}"
        raise InputError(
            what, repr(path), f"a file name that ends in {listed}", f"{target.stem or 'window'}{endings[0]}"
        )
    folder = target.parent
    try:
        fits = not target.is_dir() and folder.is_dir() and os.access(folder, os.W_OK | os.X_OK)
    except OSError:  # a name longer than the system takes
        fits = False
    if not fits:
        raise InputError(
            what, repr(path), "a file in a folder that exists and can be written to", f"window{endings[0]}"
        )
    return target


def console(file: StringIO) -> Console:
    """A console of sensible width that writes into ``file``; bold only on a terminal."""
    from rich.console import Console

    terminal = sys.stdout.isatty()
    width = WIDTH
    if terminal:
        width = max(60, min(WIDTH, shutil.get_terminal_size().columns))
    return Console(
        file=file, width=width, force_terminal=terminal, highlight=False, markup=False, emoji=False
    )


def rendered(answer: Answer, as_json: bool) -> str:
    """The answer as text to be printed."""
    if as_json:
        return json.dumps(answer.data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    file = StringIO()
    answer.show(console(file))
    return "\n".join(line.rstrip() for line in file.getvalue().splitlines()) + "\n"


def chart_writer(chart: Callable[[], Figure]) -> Writer:
    """A writer of a figure, which is drawn only then."""

    def write(path: Path) -> None:
        from crystal.faces.figures import save

        save(chart(), path)

    return write


def text_writer(text: str) -> Writer:
    """A writer of a text."""
    return lambda path: path.write_text(text, encoding="utf-8")


def csv_writer(rows: list[dict[str, Any]]) -> Writer:
    """A writer of rows as CSV; a list becomes one cell of text, a pair of numbers 'low to high'."""

    def write(path: Path) -> None:
        import pandas as pd

        pd.DataFrame([{key: _cell(value) for key, value in row.items()} for row in rows]).to_csv(
            path, index=False
        )

    return write


def _cell(value: Any) -> Any:
    if isinstance(value, list):
        numbers = all(isinstance(one, float) for one in value)
        return (" to " if numbers else "; ").join(str(_cell(one)) for one in value)
    if isinstance(value, dict):
        return " ".join(str(one) for one in value.values())
    return value


def write_all(files: Iterable[tuple[Path, Writer]]) -> None:
    """Write every file beside its place, then put all in place; on any error none is touched."""
    made: list[tuple[str, Path]] = []
    try:
        for target, write in files:
            handle, beside = tempfile.mkstemp(suffix=target.suffix, prefix=".crystal-", dir=target.parent)
            os.close(handle)
            made.append((beside, target))
            write(Path(beside))
        for beside, target in made:
            os.chmod(beside, 0o666 & ~_umask())
            os.replace(beside, target)
    except OSError as error:
        raise InputError(
            "the output", error.strerror or type(error).__name__, "a place that can be written to"
        ) from None
    finally:
        for beside, _ in made:
            if os.path.exists(beside):
                os.unlink(beside)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def put(text: str) -> None:
    """Print, whatever the terminal's alphabet: characters that it lacks become a question mark."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    sys.stdout.write(text.encode(encoding, errors="replace").decode(encoding))
