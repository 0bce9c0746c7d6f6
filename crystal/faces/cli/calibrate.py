"""``crystal calibrate``: the curve of a liquor that is not the pure salt, from its own first crystals."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from rich.console import Console

from crystal import units
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer, check_target
from crystal.faces.cli.request import catalogue_of
from crystal.faces.curvefile import save_curve
from crystal.faces.facts import Given, model_of, strength_mass_fraction
from crystal.faces.titles import columns
from crystal.faces.words import three
from crystal.physics.calibration import Calibration, fit, saturated
from crystal.physics.model import Model

_FEW = 2


def answer(args: argparse.Namespace) -> Answer:
    """Fit the curve, save it where that is asked."""
    target = check_target(args.save, "--save", (".toml",))
    catalogue: Catalogue = catalogue_of(args)
    model = model_of({"salt": Given(args.salt, "SALT")}, catalogue)
    name = " ".join(args.name.split())
    if not name:
        raise InputError("NAME", repr(args.name), "what the liquor is called", "old liquor")
    texts = args.points or []
    points = [_point(text, model) for text in texts]
    found = fit(model, name, points)
    fitted = model.calibrated(found)
    if target is not None:
        save_curve(Path(target), model, found, texts)
    rows = [
        {
            "temperature_degC": t,
            "mass_percent": 100.0 * w,
            "pure_mass_percent": 100.0 * saturated(model.map, t, w),
            "fitted_mass_percent": 100.0 * saturated(fitted.map, t, w),
        }
        for t, w in points
    ]
    warnings = [
        "Crystals that come late make the factor too large: cool slowly with a crystal of the salt in it."
    ]
    if len(points) < _FEW:
        warnings.append(
            "One point tells nothing of its own scatter: see a second one at another temperature."
        )
    data = {
        "name": name,
        "salt": model.salt.formula,
        "factor": found.factor,
        "doubt_percent": 100.0 * found.doubt,
        "points": rows,
        "saved_in": None if target is None else str(target),
        "warnings": warnings,
    }
    return Answer(data, lambda console: _show(console, model, found, data))


def _point(text: str, model: Model) -> tuple[float, float]:
    """Temperature of first crystals, and the composition of the liquor."""
    at, sign, strength = text.partition("=")
    if not sign:
        raise InputError("--point", repr(text), "a temperature, '=' and a strength", '"31 degC = 26 % w/w"')
    temperature = units.temperature_C(at.strip(), what="--point")
    return temperature, strength_mass_fraction(model, Given(strength.strip(), "--point"), temperature)


def _show(console: Console, model: Model, found: Calibration, data: dict[str, Any]) -> None:
    console.print(show.salt_line(model.salt))
    console.print(found.label)
    titles = columns("first_crystals_degC", "points.mass_percent", "pure_mass_percent", "fitted_mass_percent")
    rows = [
        (
            f"{row['temperature_degC']:.4g}",
            *(three(row[key]) for key in ("mass_percent", "pure_mass_percent", "fitted_mass_percent")),
        )
        for row in data["points"]
    ]
    show.table(console, titles, rows)
    if data["saved_in"] is not None:
        console.print(
            f"Saved in {data['saved_in']}. Use it with --curve '{found.name}' --curve-file {data['saved_in']}, or in a batch file:"
        )
        console.print(f'  [curve]\n  file = "{Path(data["saved_in"]).name}"\n  name = "{found.name}"')
    show.warnings_and_cautions(console, data["warnings"], model.salt)
