"""What is told of a batch: facts, and where the pot was made by reactions, that pot."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from crystal import units
from crystal.bench.batch import Batch
from crystal.bench.made import MadePot
from crystal.bench.makeup import pot_of_made
from crystal.bench.pot import ROOM_C, Pot
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.curvefile import curve_of
from crystal.faces.doubts import doubt_of
from crystal.faces.facts import CONTENTS, SIZES, Facts, Given, batch_of, model_of, pot_of, temperature
from crystal.faces.observations import seen_of

_PRODUCER = "crystal react ... --json > made.json"


@dataclass(frozen=True, slots=True)
class Told:
    """A batch as it is told; ``notes`` are what its making asks to mind."""

    facts: Facts
    title: str = ""
    made: MadePot | None = None
    notes: tuple[str, ...] = ()
    seen: tuple[Mapping[str, Given], ...] = ()

    def start(self, catalogue: Catalogue) -> Pot:
        """The pot at the start.

        Raises
        ------
        InputError
            Where the facts do not tell a pot, or tell one beside the pot that was made.
        """
        start = self._start(catalogue)
        curve = curve_of(self.facts, start.model)
        return start if curve is None else replace(start, model=start.model.calibrated(curve))

    def _start(self, catalogue: Catalogue) -> Pot:
        if self.made is None:
            return pot_of(model_of(self.facts, catalogue), self.facts, catalogue)
        clash = [self.facts[key].what for key in (*CONTENTS, *SIZES, "with") if key in self.facts]
        if clash:
            raise InputError(
                clash[0],
                "a fact on the pot",
                "left out: the pot is the one that was made, which holds what it holds",
            )
        pot = pot_of_made(self.made, catalogue, read_at_C=temperature(self.facts, "at", ROOM_C))
        return replace(pot, others=replace(pot.others, plain="plain" in self.facts))

    def batch(self, catalogue: Catalogue, *, without: tuple[str, ...] = ()) -> Batch:
        """The batch, as far as the facts tell it; those under ``without`` are not read."""
        facts = {key: given for key, given in self.facts.items() if key not in without}
        start = self.start(catalogue)
        weighed = "to" in facts and units.end_size(facts["to"].text, what=facts["to"].what).kind == "mass_g"
        seen = tuple(seen_of(one, start.model) for one in self.seen)
        batch = batch_of(start, facts, title=self.title, seen=seen)
        return replace(batch, end_weighed=weighed, doubt=doubt_of(self.facts))


def filtered_off(made: MadePot) -> list[str]:
    """Said of solids that do not go into the pot that is boiled down."""
    solids = " and ".join(f"{grams:.3g} g of {name}" for name, grams in made.undissolved_g.items())
    return [f"{solids} undissolved in the pot made is taken to be filtered off."] if solids else []


def read_made(path: str, what: str = "--from") -> MadePot:
    """The pot in a file that holds the JSON of ``crystal react``.

    Raises
    ------
    InputError
        Where the file cannot be read or holds no such pot.
    """
    example = f"the file that '{_PRODUCER}' writes"
    try:
        data = json.loads(Path(path).read_bytes().decode("utf-8-sig"), parse_constant=_refuse)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise InputError(what, repr(path), f"a file that can be read ({reason}), {example}") from None
    except (ValueError, RecursionError) as error:
        problem = "nested too deeply" if isinstance(error, RecursionError) else " ".join(str(error).split())
        raise InputError(what, repr(path), f"JSON ({problem}), {example}") from None
    pot = data.get("pot") if isinstance(data, dict) else None
    if not isinstance(pot, dict):
        raise InputError(what, repr(path), f"an answer of 'crystal react' with its pot, {example}")
    salt = pot.get("salt")
    if not isinstance(salt, str):
        raise InputError(
            f"{what}: {path}: pot.salt", repr(salt)[:60], "the formula of a dissolved salt", "ZnSO4"
        )
    amounts = {key: _grams(pot.get(key), f"{what}: {path}: pot.{key}") for key in ("salt_g", "water_g")}
    others, solids = (
        _several(pot.get(key), f"{what}: {path}: pot.{key}") for key in ("others_g", "undissolved_g")
    )
    return MadePot(salt, amounts["salt_g"], amounts["water_g"], others, solids)


def _refuse(name: str) -> float:
    raise ValueError(f"{name} is no number of a pot")


def _grams(value: Any, what: str, *, least: str = "more than 0 g") -> float:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number or not (value > 0 or (value == 0 and "or more" in least)) or value > 1e12:
        raise InputError(what, repr(value)[:60], least, "80.7")
    return float(value)


def _several(value: Any, what: str) -> Mapping[str, float]:
    if value is None:
        return {}
    if not isinstance(value, dict):
        raise InputError(what, repr(value)[:60], "an object of grams by formula", '{"H2SO4": 11.0}')
    return {name: _grams(grams, f"{what}.{name}", least="0 g or more") for name, grams in value.items()}
