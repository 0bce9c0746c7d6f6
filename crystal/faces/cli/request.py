"""What the words of a command ask for: the catalogue, the facts on the batch, and the batch itself."""

from __future__ import annotations

import argparse
from dataclasses import replace

from crystal import units
from crystal.bench.batch import Batch
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile
from crystal.faces.facts import Facts, Given, overriding
from crystal.faces.told import Told, filtered_off, read_made

_OPTIONS = {
    "holds": ("--holds", "holds"),
    "strength": ("--strength", "strength"),
    "density": ("--density", "density"),
    "start": ("--start", "volume"),
    "start_at": ("--start-at", "at"),
    "mass": ("--mass", "mass"),
    "water": ("--water", "water"),
    "remove": ("--remove", "remove"),
    "cool_to": ("--cool-to", "cool_to"),
    "read_at": ("--read-at", "read_at"),
    "boil_at": ("--boil-at", "boil_at"),
    "bed": ("--bed", "bed"),
    "vessel": ("--vessel", "vessel"),
    "altitude": ("--altitude", "altitude"),
    "pressure": ("--pressure", "pressure"),
    "doubt": ("--doubt", "doubt"),
    "risk": ("--risk", "risk"),
    "want": ("--want", "want"),
    "curve": ("--curve", "curve"),
    "curve_file": ("--curve-file", "curve_file"),
}


def catalogue_of(args: argparse.Namespace) -> Catalogue:
    """The bundled catalogue, with own salts over it where they are given."""
    return Catalogue.current(args.data)


def told_by(args: argparse.Namespace, catalogue: Catalogue) -> Told:
    """The batch as the words tell it: the batch file's or the made pot's, with the options laid over it."""
    own = {
        key: Given(getattr(args, name), option)
        for name, (option, key) in _OPTIONS.items()
        if getattr(args, name, None) is not None
    }
    if getattr(args, "reduce_to", None) is not None:
        own["to"] = Given(args.reduce_to, args.reduce_to_named)
    if args.others is not None:
        own["with"] = Given("; ".join(args.others), "--with")
    if args.plain:
        own["plain"] = Given("yes", "--plain")
    salt, file = args.salt, args.batch
    if (
        file is None and salt is not None and salt.lower().endswith(".toml")
    ):  # a batch file in the salt's place
        salt, file = None, salt
    sources = {"SALT": salt, "--batch": file, "--from": args.made}
    given = {what: text for what, text in sources.items() if text is not None}
    if len(given) > 1:
        raise InputError(
            " and ".join(given), " and ".join(map(repr, given.values())), "only one of the two; a file names its own salt",
            "--batch batch.toml",
        )  # fmt: skip
    if args.made is not None:
        made = read_made(args.made)
        return Told(own, "", made, tuple(filtered_off(made)))
    if file is None:
        return Told(own if salt is None else own | {"salt": Given(salt, "SALT")})
    told = BatchFile.read(file).told(catalogue)
    return replace(told, facts=overriding(told.facts, own))


def batch_from(told: Told, catalogue: Catalogue) -> Batch:
    """The batch with its one final temperature."""
    if "cool_to" not in told.facts:
        raise InputError("--cool-to", "nothing", "the temperature that the pot is cooled to", '"5 degC"')
    return told.batch(catalogue)


def cooling_temperatures(facts: Facts) -> list[float]:
    """One or several final temperatures, °C."""
    given = facts.get("cool_to")
    if given is None:
        raise InputError("--cool-to", "nothing", "one or several final temperatures", '"20, 10, 0 degC"')
    return units.temperatures_C(given.text, what=given.what)
