"""Which single cause explains best what was seen, how far it must have been off, and what would tell two of them apart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import erfc, sqrt

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch
from crystal.bench.doubt import UNCERTAIN, Draws
from crystal.bench.evidence import Truths, log_likelihoods, nuisance_numbers, usual_undercooling_K
from crystal.bench.window import Window

Floats = NDArray[np.float64]

SOLUTES_DOUBT = 0.10
"""Standard uncertainty, relative, of what acid or another salt does to the solubility; common practice, no source."""

LATE_K = 5.0
"""Mean of how much later than usual a quiet solution crystallises, K; common practice, no source."""

LOSS = 0.15
"""Scale of a loss in handling, relative; common practice, no source."""

TIED = 1.0
"""Causes whose support differs by less (natural logarithm) are not told apart by what was seen."""

_SHIFTS = np.linspace(-6.0, 6.0, 121)
_NUISANCE = 128


@dataclass(frozen=True, slots=True)
class Suspect:
    """One cause taken alone.

    Parameters
    ----------
    cause : str
        Word of the cause.
    sigmas : float
        How far off it must have been, in standard uncertainties; signed.
    amount : float
        The same as a factor (salt, volume, solubility), in K (temperature, late crystals) or a share (losses).
    support : float
        Log of how much better it explains what was seen than no cause does, its own improbability included.
    odds : float
        Two-sided odds of being off so far by chance.
    """

    cause: str
    sigmas: float
    amount: float
    support: float
    odds: float


SIGNED = {
    "holds": ("less_salt", "more_salt"),
    "volume": ("too_far_reduced", "not_far_enough"),
    "temperature": ("too_cold", "not_cold_enough"),
}
"""Words of the causes for an input below and above what was thought."""


def suspects(batch: Batch, window: Window, draws: Draws) -> list[Suspect]:
    """Rank the causes by how well each one alone explains what was seen.

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
        The best supported first. A cause is given at its most likely size, what has no name (curve, density, bed) being
        averaged over; ``other_solutes`` counts only where it makes the salt less soluble.
    """
    usual = usual_undercooling_K(batch)
    nothing = _score(batch, draws, usual, np.zeros(1), row=None)[0]
    found = []
    for name, words in SIGNED.items():
        row = UNCERTAIN.index(name)
        if draws.spreads[row] == 0.0:
            continue
        scores = _score(batch, draws, usual, _SHIFTS, row=row) - 0.5 * _SHIFTS**2
        best = int(np.argmax(scores))
        size = float(_SHIFTS[best])
        spread = float(draws.spreads[row])
        amount = spread * size if name == "temperature" else float(np.exp(spread * size))
        found.append(_suspect(words[0] if size < 0 else words[1], size, amount, scores[best] - nothing))
    found.append(_of_solutes(batch, window, draws, usual, nothing))
    found.append(_of_lateness(batch, draws, usual, nothing))
    if any(seen.crystals_g is not None for seen in batch.seen):
        found.append(_of_losses(batch, draws, usual, nothing))
    return sorted(found, key=lambda suspect: -suspect.support)


def tied(ranked: list[Suspect]) -> list[Suspect]:
    """The causes that what was seen cannot tell from the first."""
    return [s for s in ranked[1:] if ranked[0].support - s.support < TIED and s.support > TIED / 2]


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

TESTS = (
    ((_CONTENT, _END), "Weigh the pot at the end mark: at one volume and one first-crystal temperature, more salt makes it "
     "heavier, less volume lighter. A first-crystal reading alone tells only salt per volume."),
    ((_CONTENT, _SOLUTES), "Titrate or dry a sample of the start: other solutes shift the curve, not the salt's own content."),
    ((_END, _SOLUTES), "Weigh the pot at the end mark: other solutes leave the volume as it was read."),
    ((_COLD, _CONTENT | _END | _SOLUTES), "Read a thermometer in the pot: temperatures of first crystals do not depend on the "
     "night."),
    ((_LATE, _CONTENT | _END | _COLD | _SOLUTES), "Seed it with one crystal: a supersaturated pot crystallises at once, an "
     "unsaturated one dissolves the seed."),
    ((_LOST, _CONTENT | _END | _COLD | _SOLUTES | _LATE), "Weigh the mother liquor and take its density: what was lost is not "
     "in it."),
)  # fmt: skip
"""Pairs of causes and the test at the bench that tells them apart; common practice, no source."""


def _suspect(cause: str, sigmas: float, amount: float, support: float) -> Suspect:
    return Suspect(cause, sigmas, amount, float(support), erfc(abs(sigmas) / sqrt(2.0)))


def _of_solutes(batch: Batch, window: Window, draws: Draws, usual: float, nothing: float) -> Suspect:
    w = 0.25 if window.saturates is None else window.saturates.mass_fraction
    sizes = _SHIFTS[_SHIFTS <= 0.0]
    # A factor k on grams per gram of water moves the mass fraction by about ln k · w (1 - w).
    scores = _score(batch, draws, usual, sizes, row=None, curve_per_shift=SOLUTES_DOUBT * w * (1.0 - w))
    scores = scores - 0.5 * sizes**2
    best = int(np.argmax(scores))
    size = float(sizes[best])
    return _suspect("other_solutes", size, float(np.exp(SOLUTES_DOUBT * size)), scores[best] - nothing)


def _of_lateness(batch: Batch, draws: Draws, usual: float, nothing: float) -> Suspect:
    extra = np.linspace(0.0, 40.0, 41)
    scores = (
        np.array([_score(batch, draws, usual + e, np.zeros(1), row=None)[0] for e in extra]) - extra / LATE_K
    )
    best = int(np.argmax(scores))
    late = float(extra[best])
    odds = float(np.exp(-late / LATE_K))
    return Suspect("supersaturated", late / LATE_K, usual + late, float(scores[best] - nothing), odds)


def _of_losses(batch: Batch, draws: Draws, usual: float, nothing: float) -> Suspect:
    shares = np.linspace(0.0, 0.8, 81)
    scores = np.array([_score(batch, draws, usual, np.zeros(1), row=None, loss=x)[0] for x in shares])
    scores = scores - 0.5 * (shares / LOSS) ** 2
    best = int(np.argmax(scores))
    return _suspect("losses", float(shares[best]) / LOSS, float(shares[best]), scores[best] - nothing)


def _score(
    batch: Batch,
    draws: Draws,
    undercooling_K: float,
    shifts: Floats,
    *,
    row: int | None,
    curve_per_shift: float = 0.0,
    loss: float = 0.0,
) -> Floats:
    """Log likelihood of all that was seen at each size of a cause, what has no name averaged over; shape of ``shifts``."""
    numbers = nuisance_numbers(_NUISANCE)
    n = len(shifts) * _NUISANCE
    z = np.zeros((len(UNCERTAIN), n))
    for name, values in zip(("curve", "density", "bed"), numbers, strict=True):
        z[UNCERTAIN.index(name)] = np.tile(values, len(shifts))
    along = np.repeat(shifts, _NUISANCE)
    if row is not None:
        z[row] = along
    truths = Truths(
        replace(draws, z=z, weights=np.full(n, 1.0 / n)), undercooling_K, curve_per_shift * along, loss
    )
    each = log_likelihoods(batch, truths)
    if not each:
        return np.zeros(len(shifts))
    total = np.sum([values for _, values, _ in each], axis=0).reshape(len(shifts), _NUISANCE)
    top = total.max(axis=1)
    return np.asarray(top + np.log(np.mean(np.exp(total - top[:, None]), axis=1)))
