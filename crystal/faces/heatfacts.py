"""Heat and time as a person tells them: the air, shares, and the log of a pot that boils down."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from crystal import units
from crystal.bench.boildown import LogReading
from crystal.errors import DataError, InputError
from crystal.faces.facts import Facts
from crystal.faces.facts import pressure_kPa as air_kPa

_LOG = "time_h or time_min, and volume_mL or mass_g; temperature_degC where it was read"


@dataclass(frozen=True, slots=True)
class Air:
    """The air's pressure and how it is known."""

    pressure_kPa: float
    said: str

    @classmethod
    def told(cls, facts: Facts) -> Air:
        """As the facts tell it; the sea's unless they do."""
        value = air_kPa(facts)
        if "altitude" in facts:
            return cls(value, f"{value:.1f} kPa, the standard air at {facts['altitude'].text.strip()}")
        said = f"{value:.4g} kPa"
        return cls(value, said if "pressure" in facts else f"{said}, the sea's standard air")


def share_of(text: str, what: str, *, example: str) -> float:
    """A share as "50 %" or "0.5", above 0 and at most 1."""
    plain = text.strip().replace(",", ".")
    try:
        value = float(plain.removesuffix("%")) / (100.0 if plain.endswith("%") else 1.0)
    except ValueError:
        value = -1.0
    if not 0.0 < value <= 1.0:
        raise InputError(what, repr(text), "a share above 0 and at most 100 %", example)
    return value


def read_log(path: str, *, growing: bool = False) -> list[LogReading]:
    """The readings in a CSV file.

    Parameters
    ----------
    path : str
        The file, with a heading line; blank cells are readings not taken. Cells parted by commas, or by semicolons.
    growing : bool
        The file may not be there yet, may hold no reading yet, and a last line without its end is left for later.

    Raises
    ------
    DataError
        Naming file, line and column.
    """
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        if growing:
            return []
        raise DataError(path, None, None, f"there is no such file; it holds {_LOG}") from None
    except (OSError, UnicodeDecodeError) as error:
        raise DataError(path, None, None, f"the file cannot be read ({error})") from None
    if growing:
        text = text[: text.rfind("\n") + 1]
    # Where the comma is the decimal sign, spreadsheets part the cells by semicolons.
    by = ";" if ";" in text.partition("\n")[0] else ","
    cells = csv.reader(io.StringIO(text, newline=""), delimiter=by)
    try:
        rows = [row for row in cells if any(cell.strip() for cell in row)]
    except csv.Error as error:
        raise DataError(path, cells.line_num, None, f"the line is no CSV ({error})") from None
    if not rows:
        if growing:
            return []
        raise DataError(path, None, None, f"the file is empty; it holds {_LOG}")
    heading = [cell.strip() for cell in rows[0]]
    if not {"time_h", "time_min"} & set(heading) or not {"volume_mL", "mass_g"} & set(heading):
        raise DataError(path, 1, None, f"the columns are {', '.join(heading)}; needed are {_LOG}")
    return [_reading(path, line, heading, row) for line, row in enumerate(rows[1:], 2)]


def _reading(path: str, line: int, heading: list[str], row: list[str]) -> LogReading:
    if len(row) != len(heading):
        raise DataError(path, line, None, f"{len(row)} cells where the heading has {len(heading)}")
    cells = {name: cell.strip() for name, cell in zip(heading, row, strict=True)}

    def number(name: str, *, least: float) -> float | None:
        text = cells.get(name, "")
        if not text:
            return None
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            value = float("nan")
        if not least <= value < 1e9:
            raise DataError(path, line, name, f"{text!r} is no number of {least:g} or more")
        return value

    hours, minutes = number("time_h", least=0.0), number("time_min", least=0.0)
    if hours is None and minutes is None:
        raise DataError(path, line, "time_h", "the time is missing")
    volume, mass = number("volume_mL", least=0.0), number("mass_g", least=0.0)
    if volume is None and mass is None:
        raise DataError(path, line, "volume_mL", "neither a volume nor a mass was written down")
    at = hours if hours is not None else (minutes or 0.0) / 60.0
    return LogReading(at, volume, mass, number("temperature_degC", least=-50.0))


def hours_of(text: str | None, what: str, otherwise: float) -> float:
    """A length of time, h."""
    return otherwise if text is None else units.time_h(text, what=what)
