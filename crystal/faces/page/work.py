"""What the page computes: once for each pot what depends on the pot alone, and at each end point the rest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from crystal.bench.batch import Batch, Seen
from crystal.bench.doubt import Doubt, Draws
from crystal.bench.ends import Ends
from crystal.bench.explain import Explanation
from crystal.bench.marks import Marks
from crystal.bench.odds import DrawnEnds, Odds
from crystal.bench.path import SaturationPath
from crystal.bench.plan import Plan
from crystal.bench.risk import RISK, Bet
from crystal.bench.window import EndPoint
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.facts import Given, naming_the_cold
from crystal.faces.heatfacts import share_of
from crystal.faces.page.state import BY_KEY, State
from crystal.faces.told import Told

KEPT = 24
"""Pots, and answers, that are remembered."""

_CURVE_POINTS, _CURVE_DRAWS = 72, 1024
_LEAST_mL, _MOST_mL = 1e-2, 1e7
_OUTCOMES = {"clear": "clear", "crop": "crop", "thick": "thick", "set": "set", "set solid": "set"}


@dataclass(frozen=True, eq=False)
class Planned:
    """Everything that depends on the pot and the night, not on where the slider stands."""

    batch: Batch
    plan: Plan
    draws: Draws
    bet: Bet
    curve: Odds

    @property
    def low_mL(self) -> float:
        """The smallest end volume that the slider reaches."""
        window = self.plan.window
        dry = self.batch.start.volume_of(0.0, window.read_at_C)
        last = window.sets_solid_below or window.pours_off_down_to or window.saturates
        low = 0.75 * last.end_volume_mL if last is not None else 0.1 * self.high_mL
        return float(min(max(low, 1.03 * float(dry)), 0.9 * self.high_mL))

    @property
    def high_mL(self) -> float:
        """The volume at the start, as it reads where the end volume is read."""
        return float(self.batch.start.volume_mL(self.plan.window.read_at_C))

    @property
    def advised(self) -> EndPoint | None:
        """The end point that bears the risk; else the one that keeps a margin."""
        return self.bet.end or self.plan.advice.end


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
        self.planned: Callable[[tuple[tuple[str, str], ...], float], Planned] = lru_cache(KEPT)(self._planned)
        self._stopped: Callable[[tuple[tuple[str, str], ...], float, float | None], Stopped]
        self._stopped = lru_cache(KEPT)(self._at)

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
        facts += (("saw", state["saw"]),) if state["saw"] else ()
        stop = None
        if state["stop"] and not (state["to"] or state["remove"]):
            stop = _number(state["stop"])
        return self._stopped(facts, _risk(state["risk"]), stop)

    def _planned(self, facts: tuple[tuple[str, str], ...], risk: float) -> Planned:
        texts = dict(facts)
        labels = {field.fact: field.label for field in BY_KEY.values() if field.fact}
        given = {key: Given(text, labels[key]) for key, text in texts.items() if key in labels}
        for key, say in (
            ("salt", "the salt's formula or any name of it"),
            ("cool_to", "the temperature that the pot is cooled to"),
        ):
            if key not in given:
                field = next(field for field in BY_KEY.values() if field.fact == key)
                raise InputError(field.label, "nothing", say, field.example)
        start = Told(given).start(self.catalogue)
        volume = start.volume_mL()
        if not _LEAST_mL <= volume <= _MOST_mL:
            size = next((given[key].what for key in ("volume", "mass", "water") if key in given), "the pot")
            raise InputError(
                size, f"a pot of {volume:.3g} mL", "that of a pot between 0.01 mL and 10 000 L", "500 mL"
            )
        batch = Told(given, "").batch(self.catalogue)
        if "saw" in texts:
            word = _OUTCOMES.get(texts["saw"].lower())
            if word is None:
                raise InputError(BY_KEY["saw"].label, repr(texts["saw"]), "clear, crop, thick or set", "set")
            batch = replace(batch, seen=(Seen(outcome=word),))
        assert batch.cool_to_C is not None
        with naming_the_cold(given):
            plan = Plan.of(
                batch.start, batch.cool_to_C, read_at_C=batch.read_at_C, boil_at_C=batch.boil_at_C,
                bed=batch.bed, vessel_mL=batch.vessel_mL,
            )  # fmt: skip
        draws = Draws.of(batch.start, batch.cool_to_C, Doubt(), bed=batch.bed)
        bet = Bet.of(plan.window, draws, risk=risk)
        made = Planned(batch, plan, draws, bet, _odds(batch, draws, [batch.start.volume_mL()]))
        volumes = np.linspace(made.low_mL, made.high_mL, _CURVE_POINTS)
        return replace(made, curve=_odds(batch, draws.first(_CURVE_DRAWS), volumes))

    def _at(self, facts: tuple[tuple[str, str], ...], risk: float, stop_mL: float | None) -> Stopped:
        planned = self.planned(facts, risk)
        batch, window = planned.batch, planned.plan.window
        start = batch.start
        if stop_mL is not None:
            stop_mL = min(max(stop_mL, planned.low_mL), planned.high_mL)
            water = min(float(start.water_for_volume(stop_mL, batch.read_at_C)), start.water_g)
            batch = replace(batch, end_water_g=water)
        elif batch.end_water_g is None and planned.advised is not None:
            w = planned.advised.mass_fraction
            batch = replace(batch, end_water_g=min(start.salt_g * (1 - w) / w, start.water_g))
        end = EndPoint.of(start, batch.end.mass_fraction, batch.read_at_C)
        ends = Ends.of(
            start, end.mass_fraction, window.cool_to_C, read_at_C=batch.read_at_C,
            boil_at_C=planned.plan.ends.boil_at_C, bed=batch.bed,
        )  # fmt: skip
        return Stopped(
            planned,
            end,
            ends,
            _odds(batch, planned.draws, [end.end_volume_mL]),
            Marks.of(start, batch.end.water_g, read_at_C=batch.read_at_C),
            SaturationPath.of(
                start, batch.end.water_g, window.cool_to_C, boil_at_C=batch.boil_at_C, bed=batch.bed
            ),
            Explanation.of(batch),
        )


def _odds(batch: Batch, draws: Draws, volumes: list[float] | np.ndarray) -> Odds:
    assert batch.cool_to_C is not None
    at = np.asarray(volumes, float)
    drawn = DrawnEnds.of(batch.start, draws, batch.cool_to_C, at, read_at_C=batch.read_at_C)
    return drawn.odds(draws, at)


def _risk(text: str) -> float:
    return share_of(text, BY_KEY["risk"].label, example="5 %") if text else RISK


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e12:
        raise InputError(BY_KEY["to"].label, repr(text), "a number of mL where the slider stands", "190")
    return value
