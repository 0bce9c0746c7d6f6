"""``crystal log``: what was seen, written into the batch file without disturbing what stands there."""

from __future__ import annotations

import argparse
from pathlib import Path

from rich.console import Console

from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of
from crystal.faces.facts import Given, model_of
from crystal.faces.filing import WAIT_s, replace_content, sole_writer
from crystal.faces.observations import keys_of, seen_of


def answer(args: argparse.Namespace) -> Answer:
    """Add the observation, then tell what was added."""
    keys = keys_of(args.seen)
    _read_as_explain_will(args, keys)
    count = add_seen(Path(args.batch), keys)
    data = {"batch": args.batch, "seen": keys, "observations": count}

    def show(console: Console) -> None:
        told = ", ".join(f"{key} = {value}" for key, value in keys.items())
        console.print(f"Written into {args.batch}: {told}.")
        many = "1 observation is" if count == 1 else f"{count} observations are"
        console.print(f"{many} in it now; 'crystal reduce' and 'crystal explain' count them in.")

    return Answer(data, show)


def _read_as_explain_will(args: argparse.Namespace, keys: dict[str, str]) -> None:
    """Refuse now what could not be counted in later."""
    catalogue, written = catalogue_of(args), BatchFile.read(args.batch)
    told = written.told(catalogue)
    model = told.start(catalogue).model if written.made is not None else model_of(told.facts, catalogue)
    seen_of({key: Given(text, "SEEN") for key, text in keys.items()}, model)


def add_seen(path: Path, keys: dict[str, str], *, wait_s: float = WAIT_s) -> int:
    """Add a [[seen]] table to a batch file.

    Parameters
    ----------
    path : Path
        A batch file that can be read.
    keys : dict of str
        The observation.
    wait_s : float
        How long another writer is waited for.

    Returns
    -------
    int
        How many observations the file holds then.

    Raises
    ------
    InputError
        Where the file cannot be read, is no batch file, is held by another program, or cannot be replaced: it is then as it
        was.
    """
    import tomlkit
    from tomlkit.items import AoT

    if not path.is_file():
        raise InputError(
            "the batch file", repr(str(path)), "a file that can be read (No such file)", "batch.toml"
        )
    with sole_writer(path, wait_s):
        BatchFile.read(path)  # refuses what is half-written or no batch, naming the place
        document = tomlkit.parse(path.read_bytes().decode("utf-8"))
        entry = tomlkit.table()
        entry.trivia.indent = "\n"  # an empty line before it
        for key, value in keys.items():
            entry[key] = value
        seen = document.get("seen")
        if isinstance(seen, AoT):
            seen.append(entry)
        elif seen:
            seen.append(tomlkit.inline_table() | keys)
        else:
            document.pop("seen", None)
            tables = tomlkit.aot()
            tables.append(entry)
            document["seen"] = tables
        text = tomlkit.dumps(document).encode("utf-8")
        made = BatchFile.parse(text, str(path))
        replace_content(path, text)
    return len(made.seen)
