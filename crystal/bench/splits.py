"""Into how many crops a pot is best split."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from crystal.bench.cooling import LOOSE_BED
from crystal.bench.crops import Crops, Stops
from crystal.bench.doubt import Doubt
from crystal.bench.harvest import Draining, Wash
from crystal.bench.pot import Pot


@dataclass(frozen=True, slots=True)
class Split:
    """The salt won in so many crops; ``crop_risk`` is each one's part of the risk, None where the margin is kept."""

    crops: int
    crop_risk: float | None
    yield_fraction: float
    end_volumes_mL: tuple[float, ...]


def splits_of(found: Crops) -> tuple[Split, ...]:
    """What the first crop of a sequence alone wins, the first two, and so on."""
    ends = [crop.end_point.end_volume_mL for crop in found.crops]
    return tuple(
        Split(n, None, crop.cumulative_yield, tuple(ends[:n])) for n, crop in enumerate(found.crops, 1)
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
    read_at_C: float = 20.0,
    bed: float = LOOSE_BED,
) -> tuple[Split, ...]:
    """What 1, 2, ... crops win when the risk that any of them sets is the same altogether.

    Parameters
    ----------
    start, cool_to_C, how, washes, stops, doubt, washings_back, read_at_C, bed
        As in :meth:`Crops.of`.
    total_risk : float
        Odds that at least one crop does not pour, 0 to 1.

    Returns
    -------
    tuple of Split
        One for each number of crops that can be made.

    Notes
    -----
    Each of n crops bears 1 - (1 - R)^(1/n): the risks are taken as independent and equal. With that each crop is the best
    bet, as :class:`Bet` finds it on the same draws. No other way of sharing the risk out is searched.
    """
    found: list[Split] = []
    stops = Stops() if stops is None else stops
    for n in range(1, stops.most + 1):
        each = 1.0 - (1.0 - total_risk) ** (1.0 / n)
        plan = Crops.of(
            start, cool_to_C, how=how, washes=washes, stops=replace(stops, most=n), risk=each, doubt=doubt,
            washings_back=washings_back, read_at_C=read_at_C, bed=bed,
        )  # fmt: skip
        if len(plan.crops) < n:
            break
        found.append(
            Split(
                n, each, plan.crops[-1].cumulative_yield,
                tuple(crop.end_point.end_volume_mL for crop in plan.crops),
            )
        )  # fmt: skip
    return tuple(found)
