"""What was seen during a batch, held against possible truths: each observation reweights the draws.

Every likelihood is stated where it is computed. Readings of one vessel's marks share their error: the same beaker
deceives the same way each time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch, Seen
from crystal.bench.causes import DOES_NOT_POUR, outcome_class
from crystal.bench.doubt import UNCERTAIN, Draws, normal_numbers
from crystal.bench.odds import DrawnEnds, water_g

Floats = NDArray[np.float64]

THERMOMETER_K = 1.0
"""Standard uncertainty of a temperature read in the pot, K; common practice, no source."""

HYDROMETER = 0.003
"""Standard uncertainty of a hydrometer reading, relative; common practice, no source."""

USUAL_UNDERCOOLING_K = 2.0
"""Mean undercooling at which first crystals show where the data state no metastable zone, K; common practice, no source."""

MISTOLD = 0.02
"""Odds that an outcome was told wrongly, or that something outside the model made it."""

DRY_LOSS, DRY_SPREAD = 0.05, 0.10
"""Usual loss, and its spread, of a crop that is weighed dry; common practice, no source."""

WET_GAIN, WET_SPREAD = 0.12, 0.10
"""Liquor that usually clings to a crop that is weighed wet, and its spread; common practice, no source."""

FLOOR = -30.0
"""Log likelihood of an observation that a draw cannot give at all."""

ENOUGH = 400.0
"""Effective draws below which the sampling is moved towards the evidence and repeated."""

_ROUNDS = 8
_CONFLICT = 4.5  # half the square of three standard deviations


@dataclass(frozen=True, eq=False)
class Truths:
    """Arrays (n,) that an observation is held against: draws, and what the draws do not hold.

    ``curve_shift`` is added to the draws' own; ``undercooling_K`` is the mean by which first crystals come late.
    """

    draws: Draws
    undercooling_K: float | Floats
    curve_shift: Floats | float = 0.0
    loss: Floats | float = 0.0

    @property
    def curve(self) -> Floats:
        return np.asarray(self.draws.curve + self.curve_shift)


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
    conflicts : tuple of str
        Observations that no plausible truth explains together.
    means, spreads : dict of str to float
        For each of ``UNCERTAIN`` the mean and standard deviation now, in standard uncertainties as they were before.
    """

    draws: Draws
    effective_size: float
    redrawn: int
    conflicts: tuple[str, ...]
    means: dict[str, float]
    spreads: dict[str, float]


def log_likelihoods(batch: Batch, truths: Truths) -> list[tuple[str, Floats, float]]:
    """For each observation its name, its log likelihood at each truth, and the most that it could be."""
    found: list[tuple[str, Floats, float]] = []
    for seen in batch.seen:
        found += _of_one(batch, seen, truths)
    return found


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
    sent through it again, at most eight times.
    """
    undercooling = usual_undercooling_K(batch)
    n = len(draws)
    rows = len(UNCERTAIN)
    numbers = draws.z
    mean, root = np.zeros(rows), np.eye(rows)
    redrawn = 0
    while True:
        moved = replace(draws, z=mean[:, None] + root @ numbers, weights=np.full(n, 1.0 / n))
        each = log_likelihoods(batch, Truths(moved, undercooling))
        fit = np.sum([values for _, values, _ in each], axis=0) if each else np.zeros(n)
        log_weight = fit - 0.5 * np.sum(moved.z**2, axis=0) + 0.5 * np.sum(numbers**2, axis=0)
        weights = _normal(log_weight)
        size = 1.0 / float(np.sum(weights**2))
        if size >= ENOUGH or redrawn >= _ROUNDS:
            break
        mean, root = _fitted(moved.z, _tempered(log_weight))
        redrawn += 1
    learned = moved.weighed(weights)
    means = moved.z @ weights
    spreads = np.sqrt(np.maximum(((moved.z - means[:, None]) ** 2) @ weights, 0.0))
    conflicts = tuple(
        name
        for name, values, best in each
        if best - float(np.max(np.where(weights > 1e-6, values, -np.inf))) > _CONFLICT
    )
    return Learned(
        learned, size, redrawn, conflicts, dict(zip(UNCERTAIN, map(float, means), strict=True)),
        dict(zip(UNCERTAIN, map(float, spreads), strict=True)),
    )  # fmt: skip


def usual_undercooling_K(batch: Batch) -> float:
    """Mean undercooling at which first crystals show: the salt's metastable zone where the data hold it."""
    stated = batch.start.model.salt.extra.get("mszw_K", "")
    return float(stated) if stated else USUAL_UNDERCOOLING_K


def _of_one(batch: Batch, seen: Seen, truths: Truths) -> list[tuple[str, Floats, float]]:
    draws, model = truths.draws, batch.start.model
    volume = batch.end.volume_mL() if seen.volume_mL is None else seen.volume_mL
    weighed = batch.end_weighed and seen.volume_mL is None
    found: list[tuple[str, Floats, float]] = []

    def state() -> tuple[Floats, Floats]:
        salt = batch.start.salt_g * draws.salt
        water = water_g(batch.start, draws, np.array([volume]), batch.read_at_C, weighed)[0]
        return salt, water

    if seen.first_crystals_C is not None or seen.no_crystals_C is not None:
        salt, water = state()
        due, known = _due_C(batch, salt / (salt + water), truths.curve)
        if seen.first_crystals_C is not None:
            values = _late_by(due - seen.first_crystals_C, truths.undercooling_K)
            found.append(
                ("first crystals", np.where(known, values, FLOOR), _best_late(truths.undercooling_K))
            )
        if seen.no_crystals_C is not None:
            values = _not_yet(due - seen.no_crystals_C, truths.undercooling_K)
            found.append(("no crystals yet", np.where(known, values, 0.0), 0.0))
    if seen.mass_g is not None:
        salt, water = state()
        off = np.log(seen.mass_g / (salt + water + batch.start.others.total_g)) / max(draws.spreads[2], 1e-4)
        found.append(("mass of the pot", np.maximum(-0.5 * off**2, FLOOR), 0.0))
    if seen.density_g_mL is not None:
        salt, water = state()
        w = salt / (salt + water)
        density = (salt + water + batch.start.others.total_g) / batch.start.volume_of(
            water, seen.density_at_C, salt
        )
        density = density * (1.0 + draws.density_error(model.density.relative_doubt(w, seen.density_at_C)))
        off = np.log(seen.density_g_mL / density) / HYDROMETER
        found.append(("hydrometer reading", np.maximum(-0.5 * off**2, FLOOR), 0.0))
    if seen.outcome is not None or seen.crystals_g is not None:
        found += _of_the_cold_pot(batch, seen, truths, volume, weighed)
    return found


def _of_the_cold_pot(
    batch: Batch, seen: Seen, truths: Truths, volume: float, weighed: bool
) -> list[tuple[str, Floats, float]]:
    draws = truths.draws
    cold = batch.cool_to_C if seen.temperature_C is None else seen.temperature_C
    assert cold is not None
    if seen.temperature_C is not None:
        draws = draws.without("temperature", THERMOMETER_K)
    ends = DrawnEnds.of(
        batch.start,
        draws,
        cold,
        [volume],
        read_at_C=batch.read_at_C,
        weighed=weighed,
        curve_shift=truths.curve_shift,
    )
    code, crystals = ends.outcome[0], ends.crystals_g[0]
    found = []
    if seen.outcome is not None:
        wanted = outcome_class(seen.outcome)
        fits = np.minimum(code, DOES_NOT_POUR) == wanted
        odds = np.where(fits, 1.0 - MISTOLD, MISTOLD)
        if wanted == 0:
            # Clear where a crop is due: it may yet come. The further below its first crystals, the less likely.
            salt = batch.start.salt_g * draws.salt
            water = water_g(batch.start, draws, np.array([volume]), batch.read_at_C, weighed)[0]
            due, known = _due_C(batch, salt / (salt + water), truths.curve)
            late = np.exp(-np.maximum(due - (cold + draws.temperature_K), 0.0) / truths.undercooling_K)
            odds = np.where(fits, odds, np.where(known, np.maximum(late, MISTOLD), MISTOLD))
        found.append(("outcome", np.where(code < 0, 0.0, np.log(odds)), float(np.log(1.0 - MISTOLD))))
    if seen.crystals_g is not None:
        usual, spread = (WET_GAIN, WET_SPREAD) if seen.wet else (-DRY_LOSS, DRY_SPREAD)
        kept = np.maximum(crystals * (1.0 - truths.loss), 1e-9)
        off = (np.log(seen.crystals_g / kept) - usual) / spread
        found.append(
            ("crystals weighed", np.where(crystals > 0, np.maximum(-0.5 * off**2, FLOOR), FLOOR), 0.0)
        )
    return found


def _due_C(batch: Batch, mass_fraction: Floats, curve: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """When first crystals are due: a curve that is richer by so much is the given one met by so much leaner a pot."""
    model = batch.start.model
    first = model.onset.first(np.clip(mass_fraction - curve, 1e-6, 1.0 - 1e-9))
    ice = np.array([s.is_ice for s in model.map.solids] + [True])
    return first.temperature_C, first.found & ~ice[first.solid]


def _late_by(late_K: Floats, mean_K: float | Floats) -> Floats:
    """Log density of first crystals seen so much below the due temperature: exponential delay and normal reading."""
    from scipy.special import log_ndtr

    rate = 1.0 / np.asarray(mean_K)
    s = THERMOMETER_K
    values = np.log(rate) + 0.5 * (rate * s) ** 2 - rate * late_K + log_ndtr(late_K / s - rate * s)
    return np.maximum(values, FLOOR)


@lru_cache(maxsize=64)
def _best_late_of(mean_K: float) -> float:
    return float(_late_by(np.linspace(-4.0, 12.0, 641), mean_K).max())


def _best_late(mean_K: float | Floats) -> float:
    return _best_late_of(float(np.min(mean_K)))


def _not_yet(below_K: Floats, mean_K: float | Floats) -> Floats:
    """Log probability that nothing has shown so far below the due temperature (above it: next to certain)."""
    from scipy.special import log_ndtr, ndtr

    rate, s = 1.0 / np.asarray(mean_K), THERMOMETER_K
    late = np.exp(np.minimum(0.5 * (rate * s) ** 2 - rate * below_K + log_ndtr(below_K / s - rate * s), 0.0))
    return np.maximum(np.log(np.maximum(ndtr(-below_K / s) + late, 1e-13)), FLOOR)


def _normal(log_weight: Floats) -> Floats:
    weights = np.exp(log_weight - log_weight.max())
    return np.asarray(weights / weights.sum())


def _tempered(log_weight: Floats) -> Floats:
    """Weights flattened just so far that enough draws count."""
    low, high = 0.0, 1.0
    for _ in range(24):
        power = (low + high) / 2
        weights = _normal(power * log_weight)
        if 1.0 / np.sum(weights**2) < ENOUGH / 2:
            high = power
        else:
            low = power
    return _normal(low * log_weight)


def _fitted(z: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Mean and root of covariance of weighted draws, a little widened and never narrower than a tenth."""
    mean = z @ weights
    off = z - mean[:, None]
    covariance = 1.3 * (off * weights) @ off.T + 0.01 * np.eye(len(mean))
    return mean, np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)


def nuisance_numbers(n: int) -> Floats:
    """Quasi-random numbers for what no cause is named after (curve, density, bed)."""
    return normal_numbers(3, n, seed=7)
