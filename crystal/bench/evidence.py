"""What was seen during a batch, held against possible truths: each observation reweights the draws.

Every likelihood is stated where it is computed. Readings of one vessel's marks share their error: the same beaker
deceives the same way each time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch, Seen
from crystal.bench.cooling import DOES_NOT_POUR, outcome_class
from crystal.bench.doubt import UNCERTAIN, Draws, normal_numbers
from crystal.bench.odds import DrawnEnds, water_g
from crystal.physics.boiling import Boiling
from crystal.physics.company import first_beside

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

FAR = 3.0
"""An input that the evidence moves by more standard uncertainties than this is said to contradict what was told."""

_ROUNDS = 8
_WIDER = 2.0
_MOST_WIDENED = 4
_CONFLICT = 3.5  # of the mean log likelihood; a told outcome that no draw gives stands at 3.9
_READING_SEED, _NIGHT_SEED = 11, 13


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
    widened : float
        Factor by which all doubts were widened because too few draws could have done what was seen; 1 as a rule.
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
    sent through it again, at most eight times. If then fewer than 100 remain, or an observation is out
    of reach of all, all doubts are doubled, up to 16 times.
    """
    undercooling = usual_undercooling_K(batch)
    widened = 1.0
    while True:
        wide = replace(draws, spreads=_wider(draws.spreads, widened))
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
    by_name = dict(zip(UNCERTAIN, (widened * means).tolist(), strict=True))
    return Learned(
        wide.at(z).weighed(weights), found.size, found.redrawn, widened, conflicts,
        {name: value for name, value in by_name.items() if abs(value) > FAR}, by_name,
        dict(zip(UNCERTAIN, (widened * spreads).tolist(), strict=True)),
    )  # fmt: skip


def _fit(batch: Batch, draws: Draws, undercooling_K: float, z: Floats) -> list[tuple[str, Floats, float]]:
    return log_likelihoods(batch, Truths(draws.at(z), undercooling_K))


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
            f"Hardly any draw could have done what was seen: all doubts were widened {learned.widened:g} times to go on."
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


@dataclass(frozen=True, eq=False)
class Sampled:
    """Weighted samples of standard normal numbers z, shape (rows, n), held against what was seen.

    ``log_odds`` is the logarithm of how likely what was seen is under the prior as a whole.
    """

    z: Floats
    weights: Floats
    size: float
    redrawn: int
    log_odds: float
    each: list[tuple[str, Floats, float]]

    @classmethod
    def of(cls, numbers: Floats, fit: Callable[[Floats], list[tuple[str, Floats, float]]]) -> Sampled:
        """Importance sampling that moves the normal proposal towards the evidence while too few samples count.

        Parameters
        ----------
        numbers : array, shape (rows, n)
            Standard normal numbers: the first proposal, and what is sent through the later ones.
        fit : callable
            Gives for each observation its name, the log likelihood at each z, and the most that it could be.
        """
        rows, n = numbers.shape
        enough = min(ENOUGH, n / 10)
        mean, root = np.zeros(rows), np.eye(rows)
        redrawn = 0
        while True:
            z = mean[:, None] + root @ numbers
            each = fit(z)
            fits = np.sum([values for _, values, _ in each], axis=0) if each else np.zeros(n)
            log_weight = fits - 0.5 * np.sum(z**2, axis=0) + 0.5 * np.sum(numbers**2, axis=0)
            weights = _normal(log_weight)
            size = 1.0 / float(np.sum(weights**2))
            if size >= enough or redrawn >= _ROUNDS:
                top = float(log_weight.max())
                odds = (
                    top
                    + float(np.log(np.mean(np.exp(log_weight - top))))
                    + float(np.log(np.diag(root)).sum())
                )
                return cls(z, weights, size, redrawn, odds, each)
            mean, root = _fitted(z, _tempered(log_weight, enough / 2))
            redrawn += 1


def _wider(spreads: Floats, factor: float) -> Floats:
    """Every doubt times a factor; that of the bed stays: it is held within bounds anyway."""
    found = spreads * factor
    found[UNCERTAIN.index("bed")] = spreads[UNCERTAIN.index("bed")]
    return found


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
    if seen.boiling_C is not None:
        salt, water = state()
        found += _of_boiling(batch, seen.boiling_C, salt / (salt + water))
    if seen.outcome is not None or seen.crystals_g is not None:
        found += _of_the_cold_pot(batch, seen, truths, volume, weighed)
    return found


def _of_boiling(batch: Batch, seen_C: float, mass_fraction: Floats) -> list[tuple[str, Floats, float]]:
    """A normal reading about the boiling temperature; tells nothing where that is not known.

    The stated error of the boiling temperature is taken as two standard uncertainties.
    """
    if batch.start.others:
        return []
    boiling = Boiling.of(batch.start.model)
    due = boiling.temperature_C(mass_fraction, batch.pressure_kPa)
    known = np.isfinite(due)
    if not known.any():
        return []
    sigma = np.hypot(
        THERMOMETER_K, 0.5 * np.where(known, boiling.error_K(mass_fraction, batch.pressure_kPa), 0.0)
    )
    off = (seen_C - np.where(known, due, seen_C)) / sigma
    values = np.where(
        known, -0.5 * off**2 - np.log(sigma / sigma.min()), float(np.mean(-0.5 * off[known] ** 2))
    )
    return [("boiling temperature", np.maximum(values, FLOOR), 0.0)]


def _of_the_cold_pot(
    batch: Batch, seen: Seen, truths: Truths, volume: float, weighed: bool
) -> list[tuple[str, Floats, float]]:
    draws = truths.draws
    cold = batch.cool_to_C if seen.temperature_C is None else seen.temperature_C
    assert cold is not None
    if seen.temperature_C is not None and seen.temperature_C != batch.cool_to_C:
        # A thermometer in the pot: its error is its own and says nothing of the night that was planned.
        z = draws.z.copy()
        z[UNCERTAIN.index("temperature")] = normal_numbers(1, len(draws), _READING_SEED)[0]
        draws = replace(draws, z=z).with_spread("temperature", THERMOMETER_K)
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
    model, others = batch.start.model, batch.start.others
    first = model.onset.first(np.clip(mass_fraction - curve, 1e-6, 1.0 - 1e-9))
    ice = np.array([s.is_ice for s in model.map.solids] + [True])
    due = first.temperature_C
    if others:
        # What the others do to it is found once, at the middle of the draws.
        middle = np.array([float(np.mean(mass_fraction))])
        beside, plain = first_beside(model, others, batch.start.salt_g, middle), model.onset.first(middle)
        if bool(beside.found[0]) and bool(plain.found[0]):
            due = due + (beside.temperature_C[0] - plain.temperature_C[0])
    return due, first.found & ~ice[first.solid]


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


def _tempered(log_weight: Floats, enough: float) -> Floats:
    """Weights flattened just so far that enough draws count."""
    low, high = 0.0, 1.0
    for _ in range(24):
        power = (low + high) / 2
        weights = _normal(power * log_weight)
        if 1.0 / np.sum(weights**2) < enough:
            high = power
        else:
            low = power
    return _normal(low * log_weight)


def _fitted(z: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Mean and root of covariance of weighted draws, a little widened and never narrower than a tenth."""
    mean = z @ weights
    off = z - mean[:, None]
    covariance = 1.3 * (off * weights) @ off.T + 0.01 * np.eye(len(mean))
    return mean, np.asarray(np.linalg.cholesky(covariance))
