"""Into how many crops a pot is best split."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from crystal.bench.cooling import LOOSE_BED
from crystal.bench.crop_ends import Told
from crystal.bench.crops import Crops, Stops
from crystal.bench.doubt import Doubt, Draws
from crystal.bench.harvest import Draining, Wash
from crystal.bench.pot import Pot
from crystal.bench.shared_risk import Stakes, odds_of_any


@dataclass(frozen=True, eq=False, slots=True)
class Split:
    """The salt won in so many crops, and the plan that wins it.

    ``crop_risks`` is each one's part of the risk, None where the margin is kept. ``odds_of_any`` are the joint odds that at
    least one does not pour when each liquor is weighed and its end point shifted in proportion, ``odds_by_marks`` those by the
    planned marks alone; None where they are not reckoned: with the margin, and beside others.
    """

    crops: int
    crop_risks: tuple[float, ...] | None
    yield_fraction: float
    end_volumes_mL: tuple[float, ...]
    plan: Crops
    odds_of_any: float | None = None
    odds_by_marks: float | None = None


def splits_of(found: Crops) -> tuple[Split, ...]:
    """What the first crop of a sequence alone wins, the first two, and so on."""
    ends = [crop.end_point.end_volume_mL for crop in found.crops]
    return tuple(
        Split(n, None, crop.cumulative_yield, tuple(ends[:n]), found) for n, crop in enumerate(found.crops, 1)
    )


def best_splits(
    start: Pot,
    cool_to_C: float,
    total_risk: float,
    *,
    how: Draining | None = None,
    washes: Sequence[Wash] = (),
    stops: Stops | None = None,
    doubt: Doubt | None = None,
    washings_back: bool = False,
    spilled_g: float = 0.0,
    read_at_C: float = 20.0,
    bed: float = LOOSE_BED,
) -> tuple[Split, ...]:
    """What 1, 2, ... crops win when the risk that any of them does not pour is the same altogether.

    Parameters
    ----------
    start, cool_to_C, how, washes, stops, doubt, washings_back, spilled_g, read_at_C, bed
        As in :meth:`Crops.of`.
    total_risk : float
        Odds that at least one crop does not pour, 0 to 1.

    Returns
    -------
    tuple of Split
        One for each number of crops that can be made; the last one's plan tells why there are no more.

    Notes
    -----
    Salt alone: the sharing of the risk that wins most, under joint odds (:mod:`crystal.bench.shared_risk`). Beside others,
    whose liquor changes from crop to crop, the risk is shared evenly, 1 - (1 - R)^(1/n) each, as if independent.
    """
    how = Draining.by() if how is None else how
    stops = Stops() if stops is None else stops
    draws = Draws.of(start, cool_to_C, Doubt() if doubt is None else doubt, bed=bed)
    stakes = None
    if not start.others:
        held = how.held_g_per_g + how.enclosed_g_per_g
        stakes = Stakes.of(start, cool_to_C, draws, read_at_C=read_at_C, held_g_per_g=held, bed=bed)
    found: list[Split] = []
    for n in range(1, stops.most + 1):
        risks: tuple[float, ...] | None = (1.0 - (1.0 - total_risk) ** (1.0 / n),) * n
        told: list[Told] = []
        if stakes is not None:
            risks = stakes.borne(n, total_risk)
            if risks is None:
                _ended(
                    found, "sets",
                    f"No sharing is known that keeps the odds that any of {n} crops does not pour under {100 * total_risk:g} %.",
                )  # fmt: skip
                break
            told = [Told(end_mass_fraction=stakes.end_for(risk), odds=risk) for risk in risks]
        plan = Crops.of(
            start, cool_to_C, how=how, washes=washes, stops=replace(stops, most=n), told=told,
            risk=None if risks is None else risks[-1], doubt=doubt, washings_back=washings_back, spilled_g=spilled_g,
            read_at_C=read_at_C, bed=bed,
        )  # fmt: skip
        if len(plan.crops) < n:
            _ended(found, plan.rule, plan.stopped_because)
            break
        pots = [crop.pot for crop in plan.crops]
        ends = [crop.end_point.end_volume_mL for crop in plan.crops]
        joint: tuple[float | None, float | None] = (None, None)
        if stakes is not None:
            weighed, by_marks = (
                odds_of_any(pots, ends, cool_to_C, draws, read_at_C=read_at_C, held_g_per_g=held, weighed=one)
                for one in (True, False)
            )
            joint = weighed, by_marks
        found.append(Split(n, risks, plan.crops[-1].cumulative_yield, tuple(ends), plan, *joint))
    return tuple(found)


def _ended(found: list[Split], rule: str, why: str) -> None:
    """Tell in the last split's plan why there is no further one."""
    if found:
        found[-1] = replace(found[-1], plan=replace(found[-1].plan, rule=rule, stopped_because=why))
