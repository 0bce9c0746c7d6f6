"""A plan with its odds: what each end point may give, which one to stop at for a stated risk, what measuring would buy."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from crystal.bench.batch import Batch
from crystal.bench.doubt import UNCERTAIN, Draws
from crystal.bench.evidence import Learned, contradictions, learn, next_night
from crystal.bench.likelihood import untold_first_crystals
from crystal.bench.odds import DrawnEnds, Odds, water_g
from crystal.bench.plan import Plan
from crystal.bench.risk import RISK, Bet, Gain, SafeRange, gains
from crystal.bench.window import EndPoint, Window

WORTH = 0.01
"""A doubt that costs less than this share of the expected crop is not worth a measurement."""

MANY_OUTSIDE = 0.01

APART = 0.02
"""Share by which what was seen must move the pot's mass at a mark before that is said; a judgement, no source."""

LEFT_OUT = (
    "As what was seen does not fit together, the odds and the advice leave it out: that stops earlier. Find out first which "
    "reading is wrong."
)

NAMES = {
    "holds": "the pot's content",
    "volume": "reading the mark",
    "mass": "the balance",
    "temperature": "the final temperature",
    "curve": "the saturation curve",
    "density": "the liquor's density",
    "bed": "how densely the crystals settle",
}
"""What each doubt is of, as a person reads it."""


@dataclass(frozen=True, eq=False)
class Forecast:
    """A plan with its odds.

    Attributes
    ----------
    plan : Plan
        Its advice is the end point of the bet, or that of the margin where no end point stays under the risk.
    draws : Draws
        What may be true, sharpened by what was seen.
    bet : Bet
    ends : Odds
        At the plan's end points.
    advised : Odds or None
        At the advised end point.
    learned : Learned or None
        What was learned from observations, where there are any.
    by_margin : Plan
        The plan with the advice that keeps a fixed margin.
    """

    plan: Plan
    draws: Draws
    bet: Bet
    ends: Odds
    advised: Odds | None
    learned: Learned | None
    warnings: tuple[str, ...]
    by_margin: Plan
    weighed: bool = False

    @classmethod
    def of(cls, batch: Batch, plan: Plan, *, risk: float = RISK) -> Forecast:
        """Put odds on a plan.

        Parameters
        ----------
        batch : Batch
            The batch with its doubts and what was seen.
        plan : Plan
            Its plan, with the advice that keeps a margin.
        risk : float
            Odds of ``thick`` or ``set`` that the advice may bear.

        Examples
        --------
        >>> from crystal.bench.pot import Pot
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> batch = Batch(Pot(Model.of(Catalogue.bundled().find("KNO3")), 120.0, 480.0), cool_to_C=10.0)
        >>> found = Forecast.of(batch, Plan.of(batch.start, 10.0))
        >>> bool(found.advised.does_not_pour[0] <= 0.05), found.plan.advice.end == found.bet.end
        (True, True)
        """
        before, learned, said, by_margin = batch.draws(), None, [], plan
        window, weighed = plan.window, batch.end_weighed
        if batch.seen:
            learned = learn(batch, before)
            bet, draws, left_out = careful_bet(window, learned, before, risk=risk, weighed=weighed)
            said = [*contradictions(learned), *([LEFT_OUT] if left_out else [])]
            said += untold_first_crystals(batch, before)
        else:
            bet, draws = Bet.of(window, before, risk=risk, weighed=weighed), before
        end = bet.end or plan.advice.end
        advised = None if end is None else _odds(window, draws, [end.end_volume_mL], weighed)
        why = _why(bet, end, advised)
        if bet.end is not None:
            plan = plan.stopping_at(bet.end, why)
        elif why:
            plan = replace(plan, reason=f"{why} {plan.reason}")
        return cls(
            plan, draws, bet, _odds(window, draws, plan.ends.end_volume_mL, weighed), advised, learned,
            (*said, *_moved(plan, draws, advised, weighed), *_outside(plan, draws)), by_margin, weighed,
        )  # fmt: skip

    def at(self, end_volume_mL: ArrayLike) -> Odds:
        """Odds at further end volumes, mL."""
        return _odds(self.plan.window, self.draws, end_volume_mL, self.weighed)

    @cached_property
    def gains(self) -> tuple[Gain, ...]:
        """What each doubt costs, the costliest first; empty where no end point stays under the risk."""
        if self.bet.end is None:
            return ()
        return tuple(gains(self.plan.window, self.draws, self.bet, weighed=self.weighed))

    @property
    def costs_most(self) -> str | None:
        """Which doubt costs most, and what measuring better would buy; None where neither is worth it."""
        worth = WORTH * max(self.bet.expected_g, 1e-9)
        if not self.gains or self.gains[0].exact_g < worth:
            return None
        most = self.gains[0]
        text = f"Doubt of {NAMES[most.name]} costs most: {most.exact_g:.3g} g of expected crystals."
        better = [g for g in self.gains if g.how is not None and g.with_it_g >= worth]
        best = max(better, key=lambda g: g.with_it_g, default=None)
        if best is None:
            return text
        assert best.how is not None
        text += f" {best.how[0].upper()}{best.how[1:]}: {best.with_it_g:.3g} g more are expected"
        if self.bet.safe is not None and best.with_it is not None:
            now, then = _range(self.bet.safe), _range(best.with_it)
            wider = best.with_it.high_mL - best.with_it.low_mL > self.bet.safe.high_mL - self.bet.safe.low_mL
            text += f", the range widens from {now} to {then}" if wider and now != then else ""
        return text + "."


def careful_bet(
    window: Window, learned: Learned, before: Draws, *, risk: float = RISK, weighed: bool = False
) -> tuple[Bet, Draws, bool]:
    """The bet for another cooling with what was seen counted in.

    Where that does not fit together, the one that stops earlier of it and the bet without: what was seen is left out of the
    latter.

    Parameters
    ----------
    window : Window
    learned : Learned
        What was seen says.
    before : Draws
        Draws from the doubts alone.
    risk, weighed
        As ``Bet.of`` has them.

    Returns
    -------
    Bet, the draws that it was made on, and whether what was seen is left out of them.
    """
    after = next_night(learned.draws)
    bet = Bet.of(window, after, risk=risk, weighed=weighed)
    if not learned.conflicts and learned.widened == 1.0:
        return bet, after, False
    without = Bet.of(window, before, risk=risk, weighed=weighed)
    earlier = without.end is not None and (
        bet.end is None or without.end.end_volume_mL > bet.end.end_volume_mL
    )
    return (without, before, True) if earlier else (bet, after, False)


def sharpened(learned: Learned) -> list[str]:
    """What the observations say of the inputs, in sentences."""
    found = [f"Counted in: {_how_much_is_left(learned)}."]
    told = [text for name in UNCERTAIN if (text := _now(learned, name)) is not None]
    found.append(f"They say: {'; '.join(told)}." if told else "They say nothing that was not taken already.")
    return found


def _odds(window: Window, draws: Draws, end_volume_mL: ArrayLike, weighed: bool) -> Odds:
    volumes = np.asarray(end_volume_mL, float)
    drawn = DrawnEnds.of(
        window.start, draws, window.cool_to_C, volumes, read_at_C=window.read_at_C, weighed=weighed
    )
    return drawn.odds(draws, volumes)


def _now(learned: Learned, name: str) -> str | None:
    """Where one input lies now; None where it was not learned about."""
    mean, spread = learned.means[name], learned.spreads[name]
    if abs(mean) < 0.3 and spread > 0.85:
        return None
    values = {"holds": learned.draws.salt, "volume": learned.draws.volume, "mass": learned.draws.mass}.get(
        name
    )
    if values is not None:
        middle = float(values @ learned.draws.weights)
        off = float(np.sqrt(((values - middle) ** 2) @ learned.draws.weights))
        what = {"holds": "the pot holds", "volume": "true volumes are", "mass": "true masses are"}[name]
        of = "of the salt that was told" if name == "holds" else "of those read"
        return f"{what} {100 * middle:.3g} ± {100 * off:.2g} % {of}"
    return f"{NAMES[name]} lies {mean:+.1f} ± {spread:.1f} times its doubt from what was taken"


def _why(bet: Bet, end: EndPoint | None, odds: Odds | None) -> str:
    if end is None or odds is None:
        return ""
    if bet.end is not None:
        text = (
            f"The most crystals to be expected, {bet.expected_g:.3g} g, with odds of a pot that does not pour of "
            f"{percent(float(odds.does_not_pour[0]))} (at most {percent(bet.risk)} are borne)."
        )
        if bet.safe is not None:
            text += (
                f" From {_range(bet.safe, ' to ')} the risk is no greater and a crop more likely than not."
            )
        return text
    least = (
        f"the least with any crop is {percent(bet.least_risk)} at {bet.least_risk_mL:.3g} mL"
        if np.isfinite(bet.least_risk)
        else "none gives a crop"
    )
    return (
        f"No end point keeps the odds of a pot that does not pour under {percent(bet.risk)}: {least}. This is the end point "
        f"of a fixed margin; its odds of not pouring are {percent(float(odds.does_not_pour[0]))}."
    )


def percent(share: float) -> str:
    """Odds as a person reads them: whole per cent, a tenth below ten, never quite 0 or 100 unless so.

    Examples
    --------
    >>> percent(0.0476), percent(0.953), percent(0.0002), percent(0.9999), percent(1.0)
    ('4.8 %', '95 %', 'below 0.1 %', 'above 99.9 %', '100 %')
    """
    if 0.0 < share < 0.001:
        return "below 0.1 %"
    if 0.999 < share < 1.0:
        return "above 99.9 %"
    points = 100.0 * share
    text = f"{points:.1f}" if points < 9.95 or points > 99.0 else f"{points:.0f}"
    return f"{text.removesuffix('.0')} %"


def _how_much_is_left(learned: Learned) -> str:
    """What the observations leave of the draws, which are 'what may be true' to whoever reads it."""
    if learned.redrawn:
        return f"little of what might have been true fits, so it was drawn anew {_times(learned.redrawn)}"
    left = round(100 * learned.effective_size / len(learned.draws))
    return (
        "all that may be true fits"
        if left == 100
        else f"about {left} % of what might have been true still fits"
    )


def _times(n: int) -> str:
    return {1: "once", 2: "twice"}.get(n, f"{n} times")


def _range(safe: SafeRange, between: str = "-") -> str:
    ends = (f"{v:.0f}" if v >= 99.95 else f"{v:.3g}" for v in (safe.low_mL, safe.high_mL))
    return between.join(ends) + " mL"


def _moved(plan: Plan, draws: Draws, advised: Odds | None, weighed: bool) -> list[str]:
    """That what was seen parts the advised mark from the mass and the crystals of the pot as it was told."""
    end = plan.advice.end
    if end is None or advised is None or weighed:
        return []
    start = plan.window.start
    water = water_g(start, draws, np.array([end.end_volume_mL]), plan.window.read_at_C, False)[0]
    mass = float((start.salt_g * draws.salt + water + start.others.total_g) @ draws.weights)
    if abs(mass / end.end_mass_g - 1.0) < APART:
        return []
    return [
        f"By what was seen and told the pot weighs about {mass:.3g} g at the mark of {end.end_volume_mL:.3g} mL, not "
        f"{end.end_mass_g:.3g} g, and {float(advised.crop_expected_g[0]):.3g} g of crystals are to be expected of it: go by "
        "that mark. The other figures of this end point are those of the pot as it was told."
    ]


def _outside(plan: Plan, draws: Draws) -> list[str]:
    """Nights that the data do not cover, where they are not few."""
    phase_map = plan.window.start.model.map
    cold = plan.window.cool_to_C + draws.temperature_K
    below = float(draws.weights @ (cold < phase_map.low_C))
    above = float(draws.weights @ (cold > phase_map.high_C))
    found = []
    if below > MANY_OUTSIDE:
        then = "there the whole pot is taken as frozen" if phase_map.stretches[0].ends_in_eutectic else (
            f"what happens at {phase_map.low_C:g} °C is taken for them")  # fmt: skip
        found.append(
            f"{percent(below)} of the possible nights are colder than the data go ({phase_map.low_C:g} °C): {then}."
        )
    if above > MANY_OUTSIDE:
        found.append(
            f"{percent(above)} of the possible final temperatures lie above the data ({phase_map.high_C:g} °C): what happens "
            "there is taken for them."
        )
    return found
