"""A preparation as it is told: reactions one after the other in one pot, made up with water at the end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from crystal import units
from crystal.bench.made import MadePot, Reacted
from crystal.bench.makeup import pot_of_made
from crystal.bench.pot import ROOM_C, Pot
from crystal.bench.react import react
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.facts import Given
from crystal.faces.filing import quoted
from crystal.faces.solutions import Used, used
from crystal.physics.equation import Equation

_WORTH_TELLING_PERCENT = 0.5
"""An excess below this is a balance's own; a judgement, no source."""


@dataclass(frozen=True, slots=True)
class Step:
    """One reaction as texts; ``salt`` is what the pot is named after."""

    equation: Given
    use: tuple[Given, ...] = ()
    converted: Given | None = None
    lost: Given | None = None
    undissolved: tuple[Given, ...] = ()
    gas: tuple[Given, ...] = ()
    hydrate: tuple[Given, ...] = ()
    salt: Given | None = None


@dataclass(frozen=True, slots=True)
class Prepared:
    """A preparation carried out.

    ``made`` is the pot at its end, made up where that was told; ``pot`` the same as a pot to boil down, None where the
    data do not know its salt. ``added_water_g`` made it up; ``just_enough`` tells of what was told in excess how much would do.
    """

    steps: tuple[Reacted, ...]
    made: MadePot
    pot: Pot | None
    added_water_g: float
    just_enough: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Preparation:
    """Reactions in order; ``volume`` is what the pot was made up to, ``at`` the temperature of all volumes.

    ``place`` is where the texts stand, for errors.
    """

    steps: tuple[Step, ...]
    volume: Given | None = None
    at: Given | None = None
    place: str = ""

    def as_batch(self) -> str:
        """The reactions as the text of a batch file, as they were told."""
        salt = self.steps[-1].salt
        lines = [] if salt is None else [f"salt = {quoted(salt.text)}"]
        lines.append("[made]")
        for key, given in (("volume", self.volume), ("at", self.at)):
            lines += [] if given is None else [f"{key} = {quoted(given.text)}"]
        for step in self.steps:
            lines += ["[[made.step]]", f"equation = {quoted(step.equation.text)}"]
            for key in ("use", "undissolved", "gas"):
                texts = [quoted(given.text) for given in getattr(step, key)]
                lines += [f"{key} = [{', '.join(texts)}]"] if texts else []
            for key in ("converted", "lost"):
                one = getattr(step, key)
                lines += [] if one is None else [f"{key} = {quoted(one.text)}"]
        return "\n".join(lines) + "\n"

    def carried_out(self, catalogue: Catalogue) -> Prepared:
        """Let the reactions run.

        Raises
        ------
        InputError
            Naming the step and the text at fault.
        """
        at_C = ROOM_C if self.at is None else units.temperature_C(self.at.text, what=self.at.what)
        done: list[Reacted] = []
        warnings: list[str] = []
        enough: list[str] = []
        for number, step in enumerate(self.steps, start=1):
            with self._named(step, number):
                equation = Equation.parse(step.equation.text)
                uses = [used(given, catalogue, temperature_C=at_C) for given in step.use]
                reacted = react(
                    equation,
                    [one.charge for one in uses],
                    catalogue=catalogue,
                    after=done[-1].pot if done else None,
                    conversion=1.0 if step.converted is None else _share(step.converted),
                    lost_fraction=0.0 if step.lost is None else _share(step.lost),
                    hydrates=[given.text.strip() for given in step.hydrate],
                    undissolved=[given.text for given in step.undissolved],
                    gases=[given.text for given in step.gas],
                    pot_salt=None if step.salt is None else step.salt.text,
                )
            done.append(reacted)
            before = f"Step {number}: " if len(self.steps) > 1 else ""
            enough += [before + one for one in _just_enough(reacted, step.use, uses)]
            said = [*reacted.warnings, *(warning for one in uses for warning in one.warnings)]
            warnings += [before + warning for warning in said]
        made, added = done[-1].pot, 0.0
        pot = None
        if made.salt in catalogue.salts and made.salt_g > 0 and made.water_g > 0:
            pot = pot_of_made(made, catalogue, read_at_C=at_C)
        if self.volume is not None:
            volume_mL = units.volume_mL(self.volume.text, what=self.volume.what)
            try:
                pot = pot_of_made(made, catalogue, read_at_C=at_C, made_up_to_mL=volume_mL)
            except InputError as error:
                raise InputError(
                    self.volume.what, repr(self.volume.text), error.must_be, error.example
                ) from None
            added = pot.water_g - made.water_g
            made = replace(made, water_g=pot.water_g)
        if pot is not None:
            warnings += pot.model.density.warnings(pot.mass_fraction, at_C)
        return Prepared(tuple(done), made, pot, added, tuple(enough), tuple(dict.fromkeys(warnings)))

    @contextmanager
    def _named(self, step: Step, number: int) -> Iterator[None]:
        """Errors of the bench under the step's name, and a charge's or share's under its own text's."""
        place = self.place or ("" if len(self.steps) == 1 else f"step {number}: ")
        told = {"conversion": step.converted, "loss": step.lost, "salt of the pot": step.salt}
        own = {given.what for given in (*step.use, step.converted, step.lost) if given is not None}
        try:
            yield
        except InputError as error:
            if error.what in own:
                raise
            given = told.get(error.what)
            if given is not None:
                raise InputError(given.what, repr(given.text), error.must_be, error.example) from None
            if error.what == "charge" and step.use:
                what = step.use[0].what
                raise InputError(what, error.got, f"of {error.must_be}", error.example) from None
            at = f"{place}{number}: " if self.place else place
            raise InputError(f"{at}{error.what}", error.got, error.must_be, error.example) from None


def _share(given: Given) -> float:
    return units.share(given.text, what=given.what)


def _just_enough(reacted: Reacted, told: Sequence[Given], uses: Sequence[Used]) -> list[str]:
    """How much of each reagent in excess would have done, in the terms that it was told in."""
    said = []
    for left in reacted.left_over:
        own = [
            (given, use.charge)
            for given, use in zip(told, uses, strict=True)
            if use.charge.formula == left.formula
        ]
        if len(own) != 1 or left.excess_percent < _WORTH_TELLING_PERCENT:
            continue
        given, charge = own[0]
        share = 1.0 - left.excess_g / charge.grams
        if share > 0.0:
            read = units.taken(given.text.partition("=")[2], what=given.what)
            of = left.formula if not read.of else f"{left.formula} of {read.of}"
            said.append(f"{share * read.value:.3g} {read.kind} of {of} would be just enough.")
    return said
