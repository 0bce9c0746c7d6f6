"""A reaction in the Python interface, and the pot that it makes."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

from crystal.data.catalogue import Catalogue
from crystal.faces.api.pots import Pot
from crystal.faces.api.tables import Column, Result, word
from crystal.faces.cli.react import pot_lines, react_answer
from crystal.faces.preparation import Prepared
from crystal.faces.told import Told, filtered_off
from crystal.faces.words import short_cautions, three


class Reaction(Result):
    """Reactions in one pot: what is made, where it goes, gas and heat, and the pot that remains.

    Attributes
    ----------
    pot : Pot
        The pot that can be boiled down; InputError where the data know no salt of it.
    data : dict
        The object that ``crystal react --json`` prints.
    warnings, cautions : list of str
    """

    columns = (
        Column("formula", word, left=True),
        Column("mol"),
        Column("g"),
        Column("where", word, left=True),
    )

    def __init__(self, done: Prepared) -> None:
        self._done = done
        self.data = react_answer(done)
        self.warnings = list(done.warnings)
        salts = Catalogue.current(None).salts
        self.cautions = short_cautions(salts[done.made.salt]) if done.made.salt in salts else []

    @cached_property
    def pot(self) -> Pot:
        """The pot that can be boiled down, as ``crystal.pot`` gives one."""
        made = self._done.made
        return Pot(Told({}, made=made, notes=(*self.warnings, *filtered_off(made))))

    def rows(self) -> list[dict[str, Any]]:
        return [row for step in self.data["steps"] for row in step["products"]]

    def _title(self) -> str:
        return "; then ".join(step["equation"] for step in self.data["steps"])

    def _sentences(self) -> list[str]:
        lines = []
        for step in self.data["steps"]:
            heat = step["heat_kJ"]
            if heat is not None:
                lines.append(f"Heat: {three(abs(heat))} kJ {'given off' if heat >= 0 else 'taken up'}.")
            lines += [f"Gas: {three(gas['L'])} L of {gas['formula']}." for gas in step["gas"]]
        return [*lines, *(f"The pot: {line}" for line in pot_lines(self._done)), *self._done.just_enough]

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Mind", self.warnings), ("Cautions", self.cautions)]
