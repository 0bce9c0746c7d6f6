"""Files of calibrated curves: each by its name, written by ``crystal calibrate``, used again by name."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from crystal.errors import InputError
from crystal.faces.facts import Facts, Given
from crystal.faces.filing import replace_content, sole_writer
from crystal.physics.calibration import Calibration
from crystal.physics.model import Model

_EXAMPLE = 'crystal calibrate "old liquor" CuSO4 --point "31 degC = 20 % w/w" --save liquors.toml'


def curve_of(facts: Facts, model: Model) -> Calibration | None:
    """The calibrated curve that the facts name (``curve``, ``curve_file``) for this salt; None where they name none.

    Raises
    ------
    InputError
        Where the file cannot be read, or has no such curve, or it is another salt's.
    """
    name, file = facts.get("curve"), facts.get("curve_file")
    if name is None and file is None:
        return None
    if file is None:
        assert name is not None
        raise InputError(
            name.what, repr(name.text), "given with the file that holds it", '--curve-file "liquors.toml"'
        )
    table = _table(Path(file.text), file.what)
    if name is None:
        if len(table) != 1:
            raise InputError(
                file.what, repr(file.text), f"given with one of its names: {', '.join(map(repr, table)) or 'it has none'}",
                '--curve "old liquor"',
            )  # fmt: skip
        name = Given(next(iter(table)), file.what)
    if name.text not in table:
        raise InputError(
            name.what, repr(name.text), f"one of the curves in {file.text}: {', '.join(map(repr, table))}"
        )
    return _curve(table[name.text], name.text, file.text, model)


def save_curve(path: Path, model: Model, curve: Calibration, points: Sequence[str]) -> None:
    """Add a curve to a file, or put it in place of the one of that name; comments and other curves stay.

    Raises
    ------
    InputError
        Where the file is no such file, is held by another program, or cannot be written; it is then as it was.
    """
    import tomlkit

    with sole_writer(path):
        table = _table(path, "--save") if path.exists() else {}
        if curve.name in table and table[curve.name].get("salt") != model.salt.formula:
            raise InputError(
                "NAME",
                repr(curve.name),
                f"another name: {path} has a curve of {table[curve.name].get('salt')} under it",
            )
        document = tomlkit.parse(path.read_bytes().decode("utf-8")) if path.exists() else tomlkit.document()
        entry = tomlkit.table()
        entry["salt"] = model.salt.formula
        entry["factor"] = round(curve.factor, 6)
        entry["factor"].comment("times the pure salt's g per 100 g of water")
        entry["doubt"] = round(curve.doubt, 6)
        entry["doubt"].comment("standard uncertainty of its logarithm")
        listed = tomlkit.array()
        for point in points:
            listed.append(point)
        entry["points"] = listed.multiline(len(points) > 1)
        document[curve.name] = entry
        replace_content(path, tomlkit.dumps(document).encode("utf-8"))


def _table(path: Path, what: str) -> dict[str, Any]:
    try:
        table = tomllib.loads(path.read_bytes().decode("utf-8"))
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise InputError(
            what, repr(str(path)), f"a file of calibrated curves that can be read ({reason})", _EXAMPLE
        ) from None
    except (ValueError, RecursionError) as error:  # no text, no TOML, or a path that no file can have
        raise InputError(what, repr(str(path)), f"a file of calibrated curves ({error})", _EXAMPLE) from None
    if not all(isinstance(one, dict) for one in table.values()):
        raise InputError(
            what, repr(str(path)), "a file of calibrated curves, one table for each name", _EXAMPLE
        )
    return table


def _curve(entry: dict[str, Any], name: str, file: str, model: Model) -> Calibration:
    place = f"{file}: {name}"
    salt = entry.get("salt")
    if salt != model.salt.formula:
        raise InputError(place, f"a curve of {salt!r}", f"one of {model.salt.formula}, the salt at hand")
    numbers = []
    for key, low, high in (("factor", 0.5, 2.0), ("doubt", 0.0, 0.999)):
        value = entry.get(key)
        if not isinstance(value, int | float) or isinstance(value, bool) or not low <= value <= high:
            raise InputError(
                f"{place}: {key}", repr(value)[:60], f"a number from {low:g} to {high:g}", "0.92"
            )
        numbers.append(float(value))
    points = entry.get("points", [])
    return Calibration(name, numbers[0], numbers[1], len(points) if isinstance(points, list) else 0)
