"""What the words of a command ask for: the catalogue, the facts on the batch, and the batch itself."""

from __future__ import annotations

import argparse

from crystal import units
from crystal.bench.batch import Batch
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile
from crystal.faces.facts import Facts, Given, batch_of, model_of, overriding
from crystal.physics.model import Model

_OPTIONS = {
    "holds": ("--holds", "holds"),
    "strength": ("--strength", "strength"),
    "density": ("--density", "density"),
    "start": ("--start", "volume"),
    "start_at": ("--start-at", "at"),
    "mass": ("--mass", "mass"),
    "water": ("--water", "water"),
    "reduce_to": ("--reduce-to", "to"),
    "remove": ("--remove", "remove"),
    "cool_to": ("--cool-to", "cool_to"),
    "read_at": ("--read-at", "read_at"),
    "boil_at": ("--boil-at", "boil_at"),
    "bed": ("--bed", "bed"),
    "vessel": ("--vessel", "vessel"),
}


def catalogue_of(args: argparse.Namespace) -> Catalogue:
    """The bundled catalogue, with own salts over it where they are given."""
    return Catalogue.current(args.data)


def facts_of(args: argparse.Namespace) -> tuple[str, dict[str, Given]]:
    """The batch's title and facts: the batch file's, with the options laid over them."""
    own = {
        key: Given(getattr(args, name), option)
        for name, (option, key) in _OPTIONS.items()
        if getattr(args, name, None) is not None
    }
    if args.batch is None:
        return "", own if args.salt is None else own | {"salt": Given(args.salt, "SALT")}
    if args.salt is not None:
        raise InputError(
            "SALT and --batch", f"{args.salt!r} and {args.batch!r}", "only one of the two; the batch file names its salt",
            "--batch batch.toml",
        )  # fmt: skip
    written = BatchFile.read(args.batch)
    if "salt" not in written.facts:
        raise InputError(f"{args.batch}: salt", "nothing", "the salt's formula or name", 'salt = "MgSO4"')
    return written.title, overriding(written.facts, own)


def batch_from(facts: Facts, catalogue: Catalogue, title: str = "") -> tuple[Model, Batch]:
    """The batch of the facts with its one final temperature."""
    if "cool_to" not in facts:
        raise InputError("--cool-to", "nothing", "the temperature that the pot is cooled to", '"5 degC"')
    model = model_of(facts, catalogue)
    return model, batch_of(model, facts, title=title)


def cooling_temperatures(facts: Facts) -> list[float]:
    """One or several final temperatures, °C."""
    given = facts.get("cool_to")
    if given is None:
        raise InputError("--cool-to", "nothing", "one or several final temperatures", '"20, 10, 0 degC"')
    return units.temperatures_C(given.text, what=given.what)
