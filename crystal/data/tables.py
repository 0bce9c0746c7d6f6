"""Tables on disk: CSV read with its line numbers kept, so that a fault can name file, line and column."""

from __future__ import annotations

import csv
import difflib
import io
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from crystal.errors import DataError


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table; its readers raise DataError at the cell."""

    table: Table
    line: int
    cells: list[str]

    def fault(self, column: str, problem: str) -> NoReturn:
        """Raise DataError for one cell of this row."""
        raise DataError(self.table.file, self.line, column, problem)

    def text(self, column: str, default: str = "") -> str:
        """The cell's text; the default where it is blank or the column is absent."""
        place = self.table.places.get(column)
        return default if place is None else self.cells[place] or default

    def required(self, column: str) -> str:
        """The cell's text; a blank is a fault."""
        text = self.text(column)
        if not text:
            self.fault(column, "the cell is blank; every row needs a value here")
        return text

    def word(self, column: str, allowed: tuple[str, ...], default: str) -> str:
        """One of the allowed words, the default where blank."""
        text = self.text(column, default)
        if text not in allowed:
            self.fault(column, f"{text!r} is not known; use one of {', '.join(allowed)}")
        return text

    def number(self, column: str, low: float = -math.inf, high: float = math.inf) -> float:
        """The cell's number within low to high; a blank is a fault."""
        text = self.required(column)
        plain = text.replace(",", ".") if self.table.decimal_comma else text
        try:
            value = float(plain)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            self.fault(column, f"{text!r} is not a number; write for example 25 or 16.7")
        if not low <= value <= high:
            self.fault(column, f"{text} is outside {low:g} to {high:g}")
        return value

    def number_or_none(self, column: str, low: float = -math.inf, high: float = math.inf) -> float | None:
        """The cell's number, None where it is blank."""
        return self.number(column, low, high) if self.text(column) else None


@dataclass(frozen=True, slots=True)
class Table:
    """A CSV file: its name as given, the place of each column, and its rows."""

    file: str
    places: dict[str, int]
    lines: tuple[tuple[int, list[str]], ...]
    decimal_comma: bool = False

    @classmethod
    def read(
        cls,
        path: Path | str,
        required: Iterable[str] = (),
        optional: Iterable[str] = (),
        *,
        own: bool = False,
    ) -> Table:
        """Read a CSV file with a heading line.

        Parameters
        ----------
        path : Path or str
            UTF-8 file, with or without byte order mark, any line ends. Delimiter comma or semicolon; with
            semicolons a decimal comma is read too.
        required, optional : iterable of str
            Columns that must be there, and further ones that are understood.
        own : bool
            A person's own file: a heading close to a known column is taken for a slip of the pen.

        Raises
        ------
        DataError
            Where the file is absent, empty or not UTF-8, a column is missing, or a line has too many or too
            few cells.
        """
        file = str(path)
        heading, lines, semicolons = _read_lines(Path(path), file)
        places: dict[str, int] = {}
        for place, column in enumerate(heading):
            if column in places:
                raise DataError(file, 1, column, "this column occurs twice")
            places[column] = place
        required = tuple(required)
        known = (*required, *optional)
        for column in required:
            if column not in places:
                raise DataError(
                    file,
                    1,
                    column,
                    f"the column is missing; needed are {', '.join(required)}; found {', '.join(heading)}",
                )
        if own:
            for column in places:
                close = difflib.get_close_matches(
                    column, [name for name in known if name not in places], 1, 0.8
                )
                if column not in known and close:
                    raise DataError(file, 1, column, f"this column is not known; did you mean {close[0]}?")
        for line, cells in lines:
            if len(cells) != len(heading):
                raise DataError(file, line, None, f"{len(cells)} cells where the heading has {len(heading)}")
        return cls(file, places, tuple(lines), semicolons)

    def __iter__(self) -> Iterator[Row]:
        return (Row(self, line, cells) for line, cells in self.lines)


def _read_lines(path: Path, file: str) -> tuple[list[str], list[tuple[int, list[str]]], bool]:
    """Heading, numbered lines that are not blank, and whether semicolons part the cells."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise DataError(file, None, None, "the file is not UTF-8 text; save it as CSV UTF-8") from None
    except OSError as error:
        raise DataError(file, None, None, f"the file cannot be read ({error.strerror})") from None
    first = text.lstrip("\r\n").partition("\n")[0]
    semicolons = first.count(";") > first.count(",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=";" if semicolons else ",", strict=True)
    heading: list[str] = []
    lines: list[tuple[int, list[str]]] = []
    begun = 1
    try:
        for cells in reader:
            stripped = [cell.strip() for cell in cells]
            if any(stripped):
                if heading:
                    lines.append((begun, stripped))
                else:
                    heading = stripped
            begun = reader.line_num + 1
    except csv.Error as error:
        raise DataError(file, begun, None, f"the line cannot be split into cells ({error})") from None
    if not lines:
        raise DataError(file, None, None, "the file is empty; it needs a heading line and at least one row")
    return heading, lines, semicolons
