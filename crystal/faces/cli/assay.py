"""``crystal assay``: salt that is really in a solution, by whatever was measured."""

from __future__ import annotations

import argparse
from typing import Any

from rich.console import Console

from crystal import units
from crystal.bench.agreement import Comparison, compare
from crystal.bench.assay import Assay
from crystal.bench.pot import ROOM_C, mass_fraction_of_density
from crystal.errors import InputError
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of
from crystal.faces.facts import Given, require_same_salt
from crystal.faces.solutions import named
from crystal.faces.titles import columns
from crystal.faces.words import celsius, grams, millilitres, three
from crystal.physics.formula import Hydrate
from crystal.physics.model import Model

_PAIRS = (("dried", "dried_from"), ("titrant", "titrated"))
_METHODS = ("density", "dried", "titrant", "first_crystals")


def answer(args: argparse.Namespace) -> Answer:
    """Work out every measurement, and hold them against one another."""
    model = Model.of(catalogue_of(args).find(args.salt))
    given = {
        name: Given(getattr(args, name), f"--{name.replace('_', '-')}")
        for name in (*_METHODS, "volume", "mass", "dried_from", "titrated", "per_salt", "read_at")
        if getattr(args, name) is not None
    }
    size = _size(given)
    at_C = units.temperature_C(given["read_at"].text, what="--read-at") if "read_at" in given else ROOM_C
    for one, other in _PAIRS:
        if (one in given) != (other in given):
            has, lacks = (one, other) if one in given else (other, one)
            raise InputError(
                f"--{lacks.replace('_', '-')}", "nothing", f"given beside {given[has].what}",
                '"10 mL"' if lacks in ("dried_from", "titrated") else '"3.2 g of CuSO4.5H2O" or "20 mL of 0.1 mol/L"',
            )  # fmt: skip
    if "per_salt" in given and "titrant" not in given:
        raise InputError("--per-salt", repr(given["per_salt"].text), "left out where nothing was titrated")
    if not any(name in given for name in _METHODS):
        raise InputError(
            "crystal assay", "no measurement", "given --density, --dried, --titrant or --first-crystals",
            '--density "1.18 g/mL at 20 degC"',
        )  # fmt: skip
    found = []
    if "density" in given:
        found.append(_by_density(model, given["density"], size, at_C))
    if "dried" in given:
        found.append(_by_drying(model, given, size))
    if "titrant" in given:
        found.append(_by_titration(model, given, size))
    if "first_crystals" in given:
        first = given["first_crystals"]
        seen_C = units.temperature_C(first.text, what=first.what)
        with named(first):
            found.append(Assay.by_first_crystals(model, seen_C, **size, read_at_C=at_C))
    pairs = compare(found)
    data = _data(model, size, at_C, found, pairs)
    rows = [{key: one[key] for key in ("method", "salt_g", "doubt_g")} for one in data["assays"]]
    return Answer(data, lambda console: _show(console, model, data), rows=rows)


def _size(given: dict[str, Given]) -> dict[str, float]:
    if ("volume" in given) == ("mass" in given):
        got = "both" if "volume" in given else "nothing"
        raise InputError("--volume or --mass", got, "one of the two: the whole solution", '--volume "400 mL"')
    if "volume" in given:
        return {"volume_mL": units.volume_mL(given["volume"].text, what="--volume")}
    return {"mass_g": units.mass_g(given["mass"].text, what="--mass")}


def _by_density(model: Model, given: Given, size: dict[str, float], at_C: float) -> Assay:
    density, measured_C = units.density_at(given.text, what=given.what)
    read_C = at_C if measured_C is None else measured_C
    with named(given):
        if (
            "volume_mL" in size and read_C != at_C
        ):  # the same liquor fills another volume where it was weighed by hydrometer
            w = mass_fraction_of_density(model, density, read_C)
            size = {"volume_mL": size["volume_mL"] * float(model.density.density_g_mL(w, at_C)) / density}
        return Assay.by_density(model, density, read_at_C=read_C, **size)


def _parts(part: Given, size: dict[str, float]) -> dict[str, float]:
    read = units.taken(part.text, what=part.what)
    if read.kind == "mol" or read.of:
        raise InputError(part.what, repr(part.text), "a volume or a mass", '"10 mL"')
    if (read.kind == "mL") != ("volume_mL" in size):
        kind, option = ("volume", "--volume") if "volume_mL" in size else ("mass", "--mass")
        raise InputError(
            part.what, repr(part.text), f"a {kind}, as {option} tells the whole",
            '"10 mL"' if kind == "volume" else '"10 g"',
        )  # fmt: skip
    if "volume_mL" in size:
        return {"aliquot_mL": read.value, "total_mL": size["volume_mL"]}
    return {"aliquot_g": read.value, "total_g": size["mass_g"]}


def _by_drying(model: Model, given: dict[str, Given], size: dict[str, float]) -> Assay:
    dried, part = given["dried"], given["dried_from"]
    amount = units.amount_of(dried.text, what=dried.what)
    if amount.formula is None:
        raise InputError(
            dried.what,
            repr(dried.text),
            "told with what it was dried to",
            f"{dried.text.strip()} of {model.salt.formula}",
        )
    require_same_salt(model, amount.formula, dried)
    parts = _parts(part, size)
    with named(part):
        return Assay.by_drying(
            model,
            amount.grams,
            Hydrate(model.salt.formula, amount.formula.waters, amount.formula.form),
            **parts,
        )


def _by_titration(model: Model, given: dict[str, Given], size: dict[str, float]) -> Assay:
    titrant, part = given["titrant"], given["titrated"]
    read = units.taken(titrant.text, what=titrant.what)
    must_be = "a volume of a strength in mol/L"
    if read.kind != "mL" or not read.of:
        raise InputError(titrant.what, repr(titrant.text), must_be, "20.0 mL of 0.1 mol/L")
    strength = units.strength(read.of, what=titrant.what)
    if strength.kind != "mol_per_L":
        raise InputError(titrant.what, repr(titrant.text), must_be, "20.0 mL of 0.1 mol/L")
    per_salt = 1.0
    if "per_salt" in given:
        try:
            per_salt = float(given["per_salt"].text)
        except ValueError:
            per_salt = -1.0
        if not 0.0 < per_salt < 1000.0:
            raise InputError(
                "--per-salt", repr(given["per_salt"].text), "a number of more than 0, moles per mole", "2"
            )
    parts = _parts(part, size)
    with named(part):
        return Assay.by_titration(
            model, titrant_mL=read.value, titrant_mol_L=strength.value, titrant_per_salt=per_salt, **parts
        )


def _data(
    model: Model, size: dict[str, float], at_C: float, found: list[Assay], pairs: list[Comparison]
) -> dict[str, Any]:
    said = [pair.sentence for pair in pairs if pair.sentence is not None]
    return {
        "salt": model.salt.formula,
        "volume_mL": size.get("volume_mL"),
        "mass_g": size.get("mass_g"),
        "read_at_degC": at_C,
        "assays": [one.to_json() for one in found],
        "comparisons": [
            {
                "more": pair.more.method,
                "less": pair.less.method,
                "difference_g": pair.difference_g,
                "combined_doubt_g": pair.combined_doubt_g,
                "agree": pair.agree,
                "sentence": pair.sentence,
            }
            for pair in pairs
        ],
        "warnings": list(dict.fromkeys([*said, *(w for one in found for w in one.warnings)])),
    }


def _show(console: Console, model: Model, data: dict[str, Any]) -> None:
    console.print(show.salt_line(model.salt))
    if data["volume_mL"] is not None:
        whole = f"{millilitres(data['volume_mL'])} at {celsius(data['read_at_degC'])}"
    else:
        whole = grams(data["mass_g"])
    console.print(f"Anhydrous salt in {whole} of solution:")
    rows = [
        (one["method"], three(one["salt_g"]), f"± {one['doubt_g']:.2g}", one["assumption"])
        for one in data["assays"]
    ]
    show.table(console, columns("method", "salt_g", "doubt_g", "assumption"), rows, left=(0, 3))
    console.print(
        "The doubt is one standard uncertainty; two measurements agree within twice their combined one."
    )
    for pair in data["comparisons"]:
        if pair["agree"]:
            console.print(
                f"{pair['more'].capitalize()} and {pair['less']} agree: {grams(pair['difference_g'])} apart, combined "
                f"uncertainty {pair['combined_doubt_g']:.2g} g."
            )
    show.warnings_and_cautions(console, data["warnings"], model.salt)
