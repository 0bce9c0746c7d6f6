"""What the page computes: once for each pot what depends on the pot alone, and at each end point the rest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch
from crystal.bench.ends import Ends
from crystal.bench.explain import Explanation
from crystal.bench.forecast import Forecast
from crystal.bench.marks import Marks
from crystal.bench.odds import DrawnEnds, Odds
from crystal.bench.path import SaturationPath
from crystal.bench.plan import Plan
from crystal.bench.want import Want
from crystal.bench.window import EndPoint
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.advised import plan_of, want_of
from crystal.faces.doubts import risk_of
from crystal.faces.facts import REDUCTIONS, Given, naming_the_cold
from crystal.faces.observations import seen_of
from crystal.faces.page.state import BY_KEY, State
from crystal.faces.told import Told

KEPT = 24
"""Pots, and answers, that are remembered."""

_CURVE_POINTS, _CURVE_DRAWS, _LINE_POINTS = 72, 1024, 160
_LEAST_mL, _MOST_mL = 1e-2, 1e7

Floats = NDArray[np.float64]
Texts = tuple[tuple[str, str], ...]
"""Facts by key, so that they can be remembered by."""


@dataclass(frozen=True, eq=False)
class Planned:
    """Everything that depends on the pot and the night, not on where the slider stands.

    ``plan`` is the one before its odds; ``wanted_warnings`` go with ``want``.
    """

    batch: Batch
    plan: Plan
    forecast: Forecast
    curve: Odds
    want: Want | None
    wanted_warnings: tuple[str, ...]

    @cached_property
    def low_mL(self) -> float:
        """The smallest end volume that the slider reaches."""
        window = self.plan.window
        dry = self.batch.start.volume_of(0.0, window.read_at_C)
        last = window.sets_solid_below or window.pours_off_down_to or window.saturates
        low = 0.75 * last.end_volume_mL if last is not None else 0.1 * self.high_mL
        return float(min(max(low, 1.03 * float(dry)), 0.9 * self.high_mL))

    @cached_property
    def high_mL(self) -> float:
        """The volume at the start, as it reads where the end volume is read."""
        return float(self.batch.start.volume_mL(self.plan.window.read_at_C))

    @cached_property
    def crystal_line(self) -> tuple[Floats, Floats]:
        """End volumes that the slider reaches, mL, and crystals there, g, NaN where the data do not tell."""
        start, window = self.batch.start, self.plan.window
        volume = np.linspace(self.low_mL, self.high_mL, _LINE_POINTS)
        water = np.minimum(np.maximum(start.water_for_volume(volume, window.read_at_C), 0.0), start.water_g)
        cooled = window.cooled(water)
        return volume, np.where(cooled.outcome < 0, np.nan, cooled.crystals_g)

    @property
    def advised(self) -> EndPoint | None:
        """The end point that bears the risk; else the one that keeps a margin."""
        return self.forecast.plan.advice.end


@dataclass(frozen=True, eq=False)
class Stopped:
    """What follows from one end point."""

    planned: Planned
    end: EndPoint
    ends: Ends
    odds: Odds
    marks: Marks
    path: SaturationPath
    explanation: Explanation


class Workbench:
    """Works the page's answers out and remembers the last ones."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self.planned: Callable[[Texts, bool], Planned] = lru_cache(KEPT)(self._planned)
        self._taught: Callable[[Texts, bool, float, str], Planned] = lru_cache(KEPT)(self._learned)
        self._stopped: Callable[[Texts, float | None, str], Stopped] = lru_cache(KEPT)(self._at)

    def stopped(self, state: State) -> Stopped:
        """The answer to a state.

        Raises
        ------
        CrystalError
            In the form's own labels.
        """
        for fault in state.too_long():
            raise fault
        facts = tuple((key, given.text) for key, given in sorted(state.facts().items()))
        stop = None
        if state["stop"] and not (state["to"] or state["remove"]):
            stop = _number(state["stop"])
        return self._stopped(facts, stop, state["saw"])

    def _batch(self, facts: Texts) -> tuple[Batch, dict[str, Given]]:
        """The batch that the form tells, with its facts under the form's labels."""
        labels = {field.fact: field.label for field in BY_KEY.values() if field.fact}
        given = {key: Given(text, labels[key]) for key, text in facts}
        for key, say in (
            ("salt", "the salt's formula or any name of it"),
            ("cool_to", "the temperature that the pot is cooled to"),
        ):
            if key not in given:
                field = next(field for field in BY_KEY.values() if field.fact == key)
                raise InputError(field.label, "nothing", say, field.example)
        told = Told(given)
        volume = told.start(self.catalogue).volume_mL()
        if not _LEAST_mL <= volume <= _MOST_mL:
            size = next((given[key].what for key in ("volume", "mass", "water") if key in given), "the pot")
            raise InputError(
                size, f"a pot of {volume:.3g} mL", "that of a pot between 0.01 mL and 10 000 L", "500 mL"
            )
        return told.batch(self.catalogue), given

    def _planned(self, facts: Texts, weighed: bool) -> Planned:
        batch, given = self._batch(facts)
        batch = replace(batch, end_weighed=weighed)
        risk = risk_of(given)
        with naming_the_cold(given):
            plan = plan_of(batch)
        forecast = Forecast.of(batch, plan, risk=risk)
        warnings: list[str] = []
        want = want_of(forecast.plan, given["want"], warnings) if "want" in given else None
        made = Planned(batch, plan, forecast, forecast.ends, want, tuple(warnings))
        return replace(made, curve=_curve(made))

    def _learned(self, facts: Texts, weighed: bool, end_water_g: float, saw: str) -> Planned:
        """The same with what was seen at an end point counted in."""
        planned = self.planned(facts, weighed)
        seen = seen_of({"outcome": Given(saw, BY_KEY["saw"].label)}, planned.batch.start.model)
        batch = replace(planned.batch, end_water_g=end_water_g, seen=(seen,))
        forecast = Forecast.of(batch, planned.plan, risk=planned.forecast.bet.risk)
        made = replace(planned, batch=batch, forecast=forecast)
        return replace(made, curve=_curve(made))

    def _at(self, facts: Texts, stop_mL: float | None, saw: str) -> Stopped:
        pot = tuple(pair for pair in facts if pair[0] not in REDUCTIONS)
        water, weighed = None, False
        if pot != facts:
            told, _ = self._batch(facts)
            water, weighed = told.end_water_g, told.end_weighed
        planned = self.planned(pot, weighed)
        start, read_at_C = planned.batch.start, planned.batch.read_at_C
        if stop_mL is not None:
            stop_mL = min(max(stop_mL, planned.low_mL), planned.high_mL)
            water = min(float(start.water_for_volume(stop_mL, read_at_C)), start.water_g)
        elif water is None and planned.advised is not None:
            w = planned.advised.mass_fraction
            water = min(start.salt_g * (1 - w) / w, start.water_g)
        if saw:
            planned = self._taught(pot, weighed, start.water_g if water is None else water, saw)
        batch, window = replace(planned.batch, end_water_g=water), planned.plan.window
        end = EndPoint.of(start, batch.end.mass_fraction, read_at_C)
        ends = Ends.of(
            start, end.mass_fraction, window.cool_to_C, read_at_C=read_at_C,
            boil_at_C=planned.plan.ends.boil_at_C, bed=batch.bed,
        )  # fmt: skip
        return Stopped(
            planned,
            end,
            ends,
            planned.forecast.at([end.end_volume_mL]),
            Marks.of(start, batch.end.water_g, read_at_C=read_at_C, pressure_kPa=batch.pressure_kPa),
            SaturationPath.of(
                start, batch.end.water_g, window.cool_to_C, boil_at_C=batch.boil_at_C, bed=batch.bed
            ),
            Explanation.of(batch, forecast=planned.forecast),
        )


def _curve(planned: Planned) -> Odds:
    """Odds all along the slider, of fewer draws."""
    volumes = np.linspace(planned.low_mL, planned.high_mL, _CURVE_POINTS)
    window, draws = planned.plan.window, planned.forecast.draws.first(_CURVE_DRAWS)
    drawn = DrawnEnds.of(
        window.start, draws, window.cool_to_C, volumes, read_at_C=window.read_at_C, weighed=planned.forecast.weighed
    )  # fmt: skip
    return drawn.odds(draws, volumes)


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e12:
        raise InputError(BY_KEY["to"].label, repr(text), "a number of mL where the slider stands", "190")
    return value
