"""Which cause explains best what was seen, how far off it must have been, and what would tell two of them apart.

Each cause is a supposition: this one thing may have been far off, everything else within its stated doubt. It is
supported by how much more likely that makes all that was seen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import erfc, exp, log, sqrt

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch
from crystal.bench.doubt import THICKEST_BED, THINNEST_BED, UNCERTAIN, Draws, normal_numbers
from crystal.bench.likelihood import LATE_K, Truths, log_likelihoods, usual_undercooling_K
from crystal.bench.sampling import Sampled
from crystal.bench.window import Window

Floats = NDArray[np.float64]

FAULT = 4.0
"""What is suspected is taken to be off by about so many times its stated doubt."""

SOLUTES_DOUBT = 0.10
"""Usual share, as a logarithm, by which acid or another salt lowers the solubility; common practice, no source."""

SOLUTES_PRIOR = 0.25
"""Others that were not told are taken to be so much as likely as a misreading: half of them would raise the solubility, and
most pots hold what they are said to; common practice, no source."""

LOSS = 0.15
"""Usual size of a loss in handling, as a logarithm; common practice, no source."""

TIED = 1.0
"""Causes whose support differs by less (natural logarithm) are not told apart by what was seen."""

SOME = 0.5
"""A cause with less support than this explains no more than the stated doubts do."""

PLAUSIBLE = 3.0
"""Standard uncertainties beyond which a misreading is no longer put forward."""

_MANY = 1024
_SEEN_WELL = 0.3
_SCATTER = 0.7  # of the logarithm of a one-sided cause's size


@dataclass(frozen=True, slots=True)
class Suspect:
    """One cause taken alone.

    Parameters
    ----------
    cause : str
        Word of the cause.
    sigmas : float
        How far off it must have been, in stated standard uncertainties; signed. A misreading is given at the least size that
        explains half as well as the best size does, the others at their most likely size.
    amount : float
        The same as a factor (salt, volume, solubility, the settled bed's solids), in K (temperature, late crystals) or a
        share (losses).
    support : float
        Log of how much more likely what was seen is, if this may have been far off, than if all doubts held.
    fit : float
        Log of how much better it explains what was seen at its best size than at none; small where it explains nothing.
    odds : float
        Odds of being so far off by chance, either way.
    """

    cause: str
    sigmas: float
    amount: float
    support: float
    fit: float
    odds: float


SIGNED = {
    "holds": ("less_salt", "more_salt"),
    "volume": ("too_far_reduced", "not_far_enough"),
    "temperature": ("too_cold", "not_cold_enough"),
    "bed": ("loose_bed", "dense_bed"),
}
"""Words of the causes for an input below and above what was thought."""

EXTRA = ("other_solutes", "supersaturated", "losses")
"""Causes that are no misreading of an input."""


def suspects(batch: Batch, window: Window, draws: Draws) -> list[Suspect]:
    """Rank the causes by how well each one explains what was seen.

    Parameters
    ----------
    batch : Batch
        The batch with its observations.
    window : Window
        Its window, for the saturated liquor at the cooling temperature.
    draws : Draws
        Draws from the doubts alone, for the standard uncertainties.

    Returns
    -------
    list of Suspect
        The best supported first. ``other_solutes`` counts only where it makes the salt less soluble.
    """
    usual = usual_undercooling_K(batch)
    plain = _sampled(batch, partial(_plain, draws, usual)).log_odds
    found = []
    for name, words in SIGNED.items():
        row = UNCERTAIN.index(name)
        spread = float(draws.spreads[row])
        if spread == 0.0:
            continue
        at = _sampled(batch, partial(_plain, draws.with_spread(name, FAULT * spread), usual))
        least, fit = _least(at.z[row], at.weights)
        sigmas = FAULT * least
        if name == "temperature":
            amount = spread * sigmas
        elif name == "bed":
            amount = min(max(batch.bed + spread * sigmas, THINNEST_BED), THICKEST_BED) / batch.bed
        else:
            amount = exp(spread * sigmas)
        found.append(_suspect(words[0] if sigmas < 0 else words[1], sigmas, amount, at.log_odds - plain, fit))
    w = 0.25 if window.saturates is None else window.saturates.mass_fraction

    def extra(size: float, truths: Callable[[Draws, Floats], Truths]) -> tuple[float, float]:
        """Most likely size of what the draws do not hold, and its support."""
        at = _sampled(batch, lambda z: truths(draws.at(z[:-1]), size * np.exp(_SCATTER * z[-1])), rows=1)
        return float(size * np.exp(_SCATTER * _mode(at.z[-1], at.weights))), at.log_odds - plain

    # A factor k on grams per gram of water moves the mass fraction by about ln k · w (1 - w).
    log_k, support = extra(SOLUTES_DOUBT, lambda d, x: Truths(d, usual, -x * w * (1.0 - w)))
    found.append(
        _suspect("other_solutes", -log_k / SOLUTES_DOUBT, exp(-log_k), support + log(SOLUTES_PRIOR), support)
    )
    late, support = extra(LATE_K, lambda d, x: Truths(d, usual + x))
    found.append(
        Suspect("supersaturated", late / LATE_K, usual + late, support, support, exp(-late / LATE_K))
    )
    if any(seen.crystals_g is not None for seen in batch.seen):
        log_kept, support = extra(LOSS, lambda d, x: Truths(d, usual, loss=1.0 - np.exp(-x)))
        found.append(_suspect("losses", log_kept / LOSS, 1.0 - exp(-log_kept), support, support))
    return sorted(found, key=lambda suspect: -suspect.support)


def tied(ranked: list[Suspect]) -> list[Suspect]:
    """The causes that what was seen cannot tell from the first; none where even the first explains nothing.

    What would have to be off out of all proportion is left out: by more than three standard uncertainties, and twice as many
    as the first.
    """
    if not ranked or ranked[0].support <= 0.0:
        return []
    far = max(PLAUSIBLE, 2.0 * abs(ranked[0].sigmas))
    return [s for s in ranked[1:] if s.support > ranked[0].support - TIED and abs(s.sigmas) <= far]


def telling_test(a: str, b: str) -> str:
    """The one test at the bench that tells two causes apart."""
    for causes, sentence in TESTS:
        if {a, b} & causes[0] and {a, b} & causes[1]:
            return sentence
    return (
        "Repeat with the end point weighed, the temperature read in the pot, and the start's density taken."
    )


_CONTENT = {"more_salt", "less_salt"}
_END = {"too_far_reduced", "not_far_enough"}
_COLD = {"too_cold", "not_cold_enough"}
_SOLUTES = {"other_solutes"}
_LATE = {"supersaturated"}
_LOST = {"losses"}
_BED = set(SIGNED["bed"])

TESTS = (
    ((_CONTENT, _END), "Weigh the pot at the end mark: at one volume and one first-crystal temperature, more salt makes it "
     "heavier, less volume lighter. A first-crystal reading alone tells only salt per volume."),
    ((_CONTENT, _SOLUTES), "Titrate or dry a sample of the start: other solutes shift the curve, not the salt's own content."),
    ((_END, _SOLUTES), "Weigh the pot at the end mark: other solutes leave the volume as it was read."),
    ((_COLD, _CONTENT | _END | _SOLUTES), "Read a thermometer in the pot: temperatures of first crystals do not depend on the "
     "night."),
    ((_LATE, _CONTENT | _END | _COLD | _SOLUTES), "Seed it with one crystal: a supersaturated pot crystallises at once, an "
     "unsaturated one dissolves the seed."),
    ((_BED, _CONTENT | _END | _COLD | _SOLUTES | _LATE), "Weigh the crystals, drained and dry: how they settle changes the room "
     "that they take and not how much they are."),
    ((_LOST, _CONTENT | _END | _COLD | _SOLUTES | _LATE | _BED), "Weigh the mother liquor and take its density: what was lost is "
     "not in it."),
)  # fmt: skip
"""Pairs of causes and the test at the bench that tells them apart; common practice, no source."""


def _suspect(cause: str, sigmas: float, amount: float, support: float, fit: float) -> Suspect:
    return Suspect(cause, sigmas, amount, support, fit, erfc(abs(sigmas) / sqrt(2.0)))


def _smoothed(values: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Density of weighted samples on a grid."""
    middle = float(values @ weights)
    width = max(0.3 * float(np.sqrt(((values - middle) ** 2) @ weights)), 0.02)
    grid = np.linspace(min(float(values.min()), 0.0), max(float(values.max()), 0.0), 301)
    return grid, np.exp(-0.5 * ((grid[:, None] - values) / width) ** 2) @ weights


def _mode(values: Floats, weights: Floats) -> float:
    """Most likely value of weighted samples."""
    grid, density = _smoothed(values, weights)
    return float(grid[int(np.argmax(density))])


def _least(values: Floats, weights: Floats) -> tuple[float, float]:
    """The size nearest to none that explains half as well as the best and clearly better than none; log of best over none.

    The samples' density over that of the standard normal that they were supposed to have is how well each size explains.
    """
    grid, density = _smoothed(values, weights)
    told = density > _SEEN_WELL * density.max()
    explains = np.where(told, density * np.exp(0.5 * grid**2), 0.0)
    best = explains.max()
    none = min(max(float(np.interp(0.0, grid, density)), 1e-12), best)
    good = np.flatnonzero(explains >= max(0.5 * best, none + 0.25 * (best - none)))
    return float(grid[good[int(np.argmin(np.abs(grid[good])))]]), float(np.log(best / none))


def _plain(draws: Draws, undercooling_K: float, z: Floats) -> Truths:
    return Truths(draws.at(z), undercooling_K)


def _sampled(batch: Batch, truths: Callable[[Floats], Truths], rows: int = 0) -> Sampled:
    numbers = normal_numbers(len(UNCERTAIN) + rows, _MANY)
    return Sampled.of(numbers, lambda z: log_likelihoods(batch, truths(z)))
