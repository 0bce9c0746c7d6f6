"""What is known of a batch after what was seen: the draws reweighted, and what does not fit together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch
from crystal.bench.doubt import UNCERTAIN, Draws, normal_numbers
from crystal.bench.likelihood import FLOOR, QUIET, Truths, log_likelihoods, usual_undercooling_K
from crystal.bench.sampling import ENOUGH, Sampled

Floats = NDArray[np.float64]

FAR = 3.0
"""An input that the evidence moves by more standard uncertainties than this is said to contradict what was told."""

_WIDER = 2.0
_MOST_WIDENED = 4
_CONFLICT = 3.5  # of the mean log likelihood; a told outcome that no draw gives stands at 3.9
_NIGHT_SEED = 13
_TOLD = ("holds", "volume", "mass", "temperature")


@dataclass(frozen=True, eq=False)
class Learned:
    """The draws after the evidence.

    Attributes
    ----------
    draws : Draws
        Reweighted, and drawn anew about the evidence where too few were left.
    effective_size : float
        How many equal draws they are worth.
    redrawn : int
        How often they were drawn anew.
    widened : float
        Factor by which the doubts of what was told and read were widened because too few draws could have done what was
        seen; 1 as a rule.
    conflicts : tuple of str
        Observations that no plausible truth explains together with the others.
    far : dict of str to float
        Inputs that lie further than three standard uncertainties from what was told, and by how many.
    means, spreads : dict of str to float
        For each of ``UNCERTAIN`` the mean and standard deviation now, in standard uncertainties as they were before.
    """

    draws: Draws
    effective_size: float
    redrawn: int
    widened: float
    conflicts: tuple[str, ...]
    far: dict[str, float]
    means: dict[str, float]
    spreads: dict[str, float]


def learn(batch: Batch, draws: Draws) -> Learned:
    """Hold the draws against everything that was seen.

    Parameters
    ----------
    batch : Batch
        The batch with its observations; needs a cooling temperature where an outcome or a crop was seen.
    draws : Draws
        Draws from the doubts alone.

    Returns
    -------
    Learned

    Notes
    -----
    Importance sampling. The first proposal is the prior; while fewer than 400 effective draws remain, the proposal becomes a
    normal distribution fitted to the (tempered) weighted draws, a little wider, and the same quasi-random numbers are
    sent through it again, at most eight times. If then fewer than 100 remain, or an observation is out
    of reach of all, the doubts of what was told and read are doubled, up to 16 times.
    """
    undercooling = usual_undercooling_K(batch)
    widened = 1.0
    while True:
        wide = replace(draws, spreads=draws.spreads * _wider(widened))
        found = Sampled.of(draws.z, partial(_fit, batch, wide, undercooling))
        few = found.size < min(ENOUGH, len(draws) / 10) / 4
        out_of_reach = any(float(values @ found.weights) < FLOOR + 1.0 for _, values, _ in found.each)
        if not (few or out_of_reach) or widened >= _WIDER**_MOST_WIDENED:
            break
        widened *= _WIDER
    weights, z = found.weights, found.z
    means = z @ weights
    spreads = np.sqrt(np.maximum(((z - means[:, None]) ** 2) @ weights, 0.0))
    conflicts = tuple(
        dict.fromkeys(name for name, values, best in found.each if best - float(values @ weights) > _CONFLICT)
    )
    by_name = dict(zip(UNCERTAIN, (_wider(widened) * means).tolist(), strict=True))
    return Learned(
        wide.at(z).weighed(weights), found.size, found.redrawn, widened, conflicts,
        {name: value for name, value in by_name.items() if abs(value) > FAR}, by_name,
        dict(zip(UNCERTAIN, (_wider(widened) * spreads).tolist(), strict=True)),
    )  # fmt: skip


def _fit(batch: Batch, draws: Draws, undercooling_K: float, z: Floats) -> list[tuple[str, Floats, float]]:
    return log_likelihoods(batch, Truths(draws.at(z), undercooling_K, quiet=QUIET))


def next_night(draws: Draws) -> Draws:
    """The same draws for another cooling: what one night was says nothing of the next."""
    row = UNCERTAIN.index("temperature")
    z = draws.z.copy()
    z[row] = normal_numbers(1, len(draws), _NIGHT_SEED)[0]
    return replace(draws, z=z)


def contradictions(learned: Learned) -> list[str]:
    """Sentences on what does not fit together; empty where all does."""
    found = [
        f"Seen: {name}. It does not fit with the rest of what was seen and told: one of them is misread, or something outside "
        "the model was at work."
        for name in learned.conflicts
    ]
    found += [
        f"What was seen fits only if {_INPUTS[name]} was off by {abs(by):.1f} times its doubt."
        for name, by in learned.far.items()
    ]
    if learned.widened > 1.0:
        found.append(
            f"Hardly any draw could have done what was seen: the doubts of what was told and read were widened "
            f"{learned.widened:g} times to go on."
        )
    return found


_INPUTS = {
    "holds": "the pot's content",
    "volume": "the marks' reading",
    "mass": "the balance",
    "temperature": "the final temperature",
    "curve": "the saturation curve",
    "density": "the density model",
    "bed": "the settled bed's density",
}


def _wider(factor: float) -> Floats:
    """For each doubt the factor that widens it: what was told and read may be mistaken, the data are not."""
    return np.array([factor if name in _TOLD else 1.0 for name in UNCERTAIN])
