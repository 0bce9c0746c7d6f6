"""How a result of the Python interface shows itself: as text, as a table in a notebook, as a data frame."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from crystal.faces.api.given import parameters_named
from crystal.faces.titles import term_of
from crystal.faces.words import prose, three

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from crystal.data.glossary import Term

_CELL = "padding:0.2em 0.7em;text-align:{}"


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a printed table: the key of the row, how a value is written, and what the glossary calls it.

    Parameters
    ----------
    key : str
        Of the row.
    within : str
        Group that gives the key another meaning.
    percent, bare : bool
        A share told in per cent; whether the cells carry the unit.
    """

    key: str
    write: Callable[[Any], str] = three
    left: bool = False
    within: str = ""
    percent: bool = False
    bare: bool = False

    @property
    def heading(self) -> str:
        """Title in one line."""
        term = self._term
        return term.heading if self.bare else term.inline

    @property
    def narrow(self) -> list[str]:
        """Title in narrow lines."""
        return self._term.column(bare=self.bare).splitlines()

    @property
    def _term(self) -> Term:
        return term_of(f"{self.within}.{self.key}" if self.within else self.key, percent=self.percent)

    def cell(self, row: dict[str, Any]) -> str:
        value = row[self.key]
        return "-" if value is None else self.write(value)


class Result:
    """A result with sentences, rows and remarks; prints as text and shows as a table in a notebook."""

    columns: ClassVar[tuple[Column, ...]] = ()

    def rows(self) -> list[dict[str, Any]]:
        """The rows as plain objects: keys end in their unit, numbers are unrounded, what is not known is None."""
        return []

    def to_frame(self) -> pd.DataFrame:
        """The rows as a pandas data frame, unrounded; lists of solids become one text."""
        import pandas as pd

        return pd.DataFrame([{key: _flat(value) for key, value in row.items()} for row in self.rows()])

    def _title(self) -> str:
        raise NotImplementedError

    def _sentences(self) -> list[str]:
        return []

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        """Headed lists under the table."""
        return []

    def __repr__(self) -> str:
        lines = [self._title(), *self._sentences()]
        rows = self.rows() if self.columns else []
        if rows:
            lines += ["", *_text_table(self.columns, rows)]
        for heading, texts in self._remarks():
            if texts:
                lines += ["", heading, *(f"- {text}" for text in texts)]
        return parameters_named(prose("\n".join(lines)))

    def _repr_html_(self) -> str:
        parts = [f"<p><b>{escape(self._title())}</b></p>"]
        parts += [f"<p>{escape(text)}</p>" for text in self._sentences()]
        rows = self.rows() if self.columns else []
        if rows:
            parts.append(_html_table(self.columns, rows))
        for heading, texts in self._remarks():
            if texts:
                items = "".join(f"<li>{escape(text)}</li>" for text in texts)
                parts.append(f"<p><b>{escape(heading)}</b></p><ul>{items}</ul>")
        return parameters_named(prose("\n".join(parts)))


class Chart:
    """A chart: shows itself in a notebook, and goes into a file with ``save``."""

    def __init__(self, figure: Figure) -> None:
        self.figure = figure

    def save(self, path: Path | str) -> Path:
        """Write it; the file's ending (.png, .svg or .pdf) decides the format."""
        from crystal.faces.figures import save

        return save(self.figure, path)

    def __repr__(self) -> str:
        title = self.figure.texts[0].get_text() if self.figure.texts else "no title"
        return f"<chart: {title}>"

    def _repr_png_(self) -> bytes:
        from crystal.faces.figures.style import house_look

        with house_look():
            file = BytesIO()
            self.figure.savefig(file, format="png", metadata={"Software": None})
        return file.getvalue()


def word(value: Any) -> str:
    """A text as it stands."""
    return str(value)


def degrees(value: float) -> str:
    """A temperature in a table, to a tenth.

    Examples
    --------
    >>> degrees(5.0), degrees(31.349)
    ('5', '31.3')
    """
    return f"{round(value, 1) + 0.0:g}"


def _flat(value: Any) -> Any:
    if isinstance(value, list):
        return "; ".join(
            " ".join(str(part) for part in one.values()) if isinstance(one, dict) else str(one)
            for one in value
        )
    return value


def _text_table(columns: Sequence[Column], rows: list[dict[str, Any]]) -> list[str]:
    titles = [c.narrow for c in columns]
    height = max(len(lines) for lines in titles)
    heads = zip(*([""] * (height - len(lines)) + lines for lines in titles), strict=True)
    cells = [*(list(line) for line in heads), *([c.cell(row) for c in columns] for row in rows)]
    widths = [max(len(line[i]) for line in cells) for i in range(len(columns))]
    return [
        "  ".join(
            text.ljust(width) if c.left else text.rjust(width)
            for c, text, width in zip(columns, line, widths, strict=True)
        ).rstrip()
        for line in cells
    ]


def _html_table(columns: Sequence[Column], rows: list[dict[str, Any]]) -> str:
    sides = [_CELL.format("left" if c.left else "right") for c in columns]
    head = "".join(
        f'<th scope="col" style="{side}">{escape(c.heading)}</th>'
        for c, side in zip(columns, sides, strict=True)
    )
    body = "\n".join(
        "<tr>"
        + "".join(
            f'<td style="{side}">{escape(c.cell(row))}</td>' for c, side in zip(columns, sides, strict=True)
        )
        + "</tr>"
        for row in rows
    )
    return f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody>\n</table>"
