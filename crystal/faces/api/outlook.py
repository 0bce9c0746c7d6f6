"""Odds of each outcome, and what was seen weighed as evidence, in the Python interface."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from crystal.bench.batch import Batch
from crystal.bench.cooling import OUTCOMES
from crystal.bench.evidence import learn
from crystal.bench.forecast import NAMES, Forecast
from crystal.bench.suspects import Suspect, suspects, telling_test, tied
from crystal.bench.window import Window
from crystal.faces.api.tables import Chart, Column, Result, word
from crystal.faces.words import celsius, grams, millilitres, per_cent, percent, short_cautions, three


class Odds(Result):
    """Odds of each outcome at end points, and the end point that bears a stated risk.

    Attributes
    ----------
    end_volume_mL : float or None
        The end point with the largest expected crop under the risk; None where none stays under it.
    safe_mL : tuple of (float, float) or None
        Lower and upper end volume between which a crop is more likely than not, under the risk.
    risk : float
        Odds of ``thick`` or ``set`` that were to be borne.
    """

    columns = (
        Column("end_volume_mL"),
        *(Column(f"odds_{name}", per_cent, percent=True) for name in OUTCOMES),
        Column("crop_expected_g"),
        Column("crop_p10_g"),
        Column("crop_p90_g"),
    )

    def __init__(self, forecast: Forecast) -> None:
        self._forecast, self._window = forecast, forecast.plan.window
        self._bet = bet = forecast.bet
        self.risk = bet.risk
        self.end_volume_mL = None if bet.end is None else bet.end.end_volume_mL
        self.safe_mL = None if bet.safe is None else (bet.safe.low_mL, bet.safe.high_mL)
        self.warnings = list(forecast.warnings)
        self.cautions = short_cautions(self._window.start.model.salt)
        own = [] if bet.end is None else [bet.end.end_volume_mL]
        self._volumes = np.array(sorted({*forecast.ends.end_volume_mL.tolist(), *own}, reverse=True))

    def rows(self) -> list[dict[str, Any]]:
        odds = self._forecast.at(self._volumes)
        return [
            {"end_volume_mL": float(volume)}
            | {f"odds_{name}": float(odds.odds[k, i]) for k, name in enumerate(OUTCOMES)}
            | {
                "crop_expected_g": float(odds.crop_expected_g[i]),
                "crop_p10_g": float(odds.crop_p10_g[i]),
                "crop_p90_g": float(odds.crop_p90_g[i]),
                "odds_not_in_data": float(odds.unknown[i]),
            }
            for i, volume in enumerate(self._volumes)
        ]

    def gains(self) -> list[dict[str, Any]]:
        """What knowing each input better would add to the expected crop, g, the most first."""
        return [
            {
                "input": NAMES[one.name],
                "known_exactly_g": one.exact_g,
                "how": one.how,
                "with_it_g": one.with_it_g,
            }
            for one in self._forecast.gains
        ]

    def chart(self) -> Chart:
        """Crystals and odds against the end volume, with the advised end point."""
        from crystal.faces.figures import window_chart

        return Chart(window_chart(self._forecast.plan, self._forecast))

    def _title(self) -> str:
        return f"{self._window.start.model.salt.formula} cooled to {celsius(self._window.cool_to_C)}: odds"

    def _sentences(self) -> list[str]:
        bet = self._bet
        if bet.end is None:
            return [
                f"No end point keeps the odds of a pot that does not pour under {100 * self.risk:g} %; least are "
                f"{percent(bet.least_risk)} at {millilitres(bet.least_risk_mL)}."
            ]
        lines = [
            f"Stop at {millilitres(bet.end.end_volume_mL)}: {grams(bet.expected_g)} expected, odds of a pot that does not "
            f"pour under {100 * self.risk:g} %."
        ]
        if self.safe_mL is not None:
            low, high = self.safe_mL
            lines.append(
                f"A crop is more likely than not, at that risk, from {millilitres(high)} down to {millilitres(low)}."
            )
        return lines

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Mind", self.warnings), ("Cautions", self.cautions)]


class Evidence(Result):
    """Which single cause explains best what was seen.

    Attributes
    ----------
    causes : list of str
        The best supported first.
    test : str or None
        What would tell the first from those that fit as well; None where it stands alone.
    learned : dict of str to float
        How far each input has moved by what was seen, in its own standard uncertainties.
    """

    columns = (
        Column("cause", word, left=True),
        Column("amount", word, left=True),
        Column("standard_uncertainties", lambda value: f"{value:.1f}"),
        Column("odds_by_chance", per_cent, percent=True),
        Column("support", lambda value: f"{value:.1f}"),
    )

    def __init__(self, batch: Batch) -> None:
        assert batch.cool_to_C is not None
        window = Window.of(batch.start, batch.cool_to_C, read_at_C=batch.read_at_C, bed=batch.bed)
        draws = batch.draws()
        self._batch = batch
        self._ranked = suspects(batch, window, draws)
        learned = learn(batch, draws)
        self.learned = learned.means
        self.conflicts = list(learned.conflicts)
        self.causes = [one.cause for one in self._ranked]
        others = tied(self._ranked)
        self.test = telling_test(self._ranked[0].cause, others[0].cause) if others else None

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "cause": one.cause.replace("_", " "), "amount": _amount(one), "standard_uncertainties": one.sigmas,
                "odds_by_chance": one.odds, "support": one.support,
            }
            for one in self._ranked
        ]  # fmt: skip

    def _title(self) -> str:
        return f"{self._batch.start.model.salt.formula}: what was seen, held against each cause alone"

    def _sentences(self) -> list[str]:
        lines = [] if self.test is None else [f"To tell the first ones apart: {self.test}"]
        if self.conflicts:
            lines.append(f"Not explained together by anything plausible: {', '.join(self.conflicts)}.")
        return lines


def _amount(one: Suspect) -> str:
    if one.cause in ("too_cold", "not_cold_enough", "supersaturated"):
        return f"{three(one.amount)} K"
    if one.cause == "losses":
        return percent(one.amount)
    return f"× {three(one.amount)}"
