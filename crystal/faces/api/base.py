"""What every pot of the Python interface has: its facts, its numbers, and how it shows itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from crystal import units
from crystal.bench.batch import Batch, Seen
from crystal.bench.forecast import Forecast
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.advised import plan_of
from crystal.faces.api.given import Value, facts_of, given, in_python_words, several
from crystal.faces.api.salts import Salt
from crystal.faces.api.tables import Result
from crystal.faces.cli.show import pot_line
from crystal.faces.doubts import risk_of
from crystal.faces.facts import Given, end_mass_fractions, naming_the_cold, overriding
from crystal.faces.observations import seen_of
from crystal.faces.told import Told
from crystal.faces.words import short_cautions


class ToldPot(Result):
    """A pot by what was told of it."""

    def __init__(
        self, told: Told, seen: tuple[Seen, ...] = (), crops: Sequence[Mapping[str, Given]] = ()
    ) -> None:
        self._told, self._seen, self._crops = told, seen, crops
        self._catalogue = Catalogue.current(None)
        with in_python_words():
            self._start = told.start(self._catalogue)
        start = self._start
        self.salt = Salt(start.model.salt)
        self.salt_g, self.water_g, self.mass_g = start.salt_g, start.water_g, start.mass_g
        self.volume_mL, self.read_at_C = start.volume_mL(), start.read_at_C
        self.mass_percent, self.density_g_mL = 100.0 * start.mass_fraction, start.density_g_mL()

    def _with(self, more: Mapping[str, Given]) -> Told:
        return replace(self._told, facts=overriding(self._told.facts, more))

    def _batch(self, more: Mapping[str, Given] | None = None, **values: Value | None) -> Batch:
        """The batch with one final temperature."""
        told = self._with({**facts_of(**values), **(more or {})})
        if "cool_to" not in told.facts:
            raise InputError("cool_to", "nothing", "the temperature that the pot is cooled to", '"5 degC"')
        with in_python_words():
            return replace(told.batch(self._catalogue), seen=self._seen)

    def _forecast(self, batch: Batch, ends: Value | Sequence[Value] | None, risk: Value | None) -> Forecast:
        """The plan with its odds; where a batch tells its own end point, that joins the spread."""
        with in_python_words(), naming_the_cold(facts_of(cool_to=batch.cool_to_C)):
            wanted = None
            if ends is not None:
                sizes = several(ends, "ends", "mL")
                read = units.end_sizes(sizes.text, what=sizes.what)
                wanted = end_mass_fractions(batch.start, read, sizes, batch.read_at_C)
            plan = plan_of(batch, wanted)
            if wanted is None and batch.end_water_g is not None:
                plan = plan_of(batch, sorted({*plan.ends.mass_fraction.tolist(), batch.end.mass_fraction}))
            risked = risk_of({**self._told.facts, **facts_of(risk=risk)})
            return Forecast.of(batch, plan, risk=risked)

    def _observed(
        self, batch: Batch, outcome: str | None, crystals: Value | None, weighed: str | None, solid: str | None,
        first_crystals: Value | None,
    ) -> Batch:  # fmt: skip
        texts = {
            name: given(value, name, unit)
            for name, value, unit in (
                ("outcome", outcome, ""), ("crystals", crystals, "g"), ("weighed", weighed, ""), ("solid", solid, ""),
                ("first_crystals", first_crystals, "degC"),
            )
            if value is not None
        }  # fmt: skip
        if not texts:
            return batch
        with in_python_words():
            return batch.with_seen(seen_of(texts, batch.start.model))

    def _title(self) -> str:
        return f"{self._told.title or 'A pot'} ({self.salt.formula}, {self.salt.name})"

    def _sentences(self) -> list[str]:
        return [pot_line(self._start)]

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Cautions", short_cautions(self._start.model.salt))]
