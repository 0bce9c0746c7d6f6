"""How likely each observation of a batch is at each possible truth.

Every likelihood is stated where it is computed. Readings of one vessel's marks share their error: the same beaker
deceives the same way each time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch, Seen
from crystal.bench.boildown import STEAMING_BY_K
from crystal.bench.cooling import DOES_NOT_POUR, outcome_class
from crystal.bench.doubt import UNCERTAIN, Draws, normal_numbers
from crystal.bench.harvest import DRAINED, HELD_G_PER_G
from crystal.bench.odds import DrawnEnds, water_g
from crystal.bench.pot import Pot
from crystal.physics.boiling_beside import boiling_of
from crystal.physics.company import first_beside
from crystal.physics.vapour import boiling_temperature_C

Floats = NDArray[np.float64]

THERMOMETER_K = 1.0
"""Standard uncertainty of a temperature read in the pot, K; common practice, no source."""

HYDROMETER = 0.003
"""Standard uncertainty of a hydrometer reading, relative; common practice, no source."""

USUAL_UNDERCOOLING_K = 2.0
"""Mean undercooling at which first crystals show, K, unless the data state a wider metastable zone; common practice, no source."""

QUIET, LATE_K = 0.2, 5.0
"""Share of pots that stay quiet, and by how many K more they come late on average; common practice, no source."""

MISTOLD = 0.02
"""Odds that an outcome was told wrongly, or that something outside the model made it."""

DRY_LOSS, DRY_SPREAD = 0.05, 0.10
"""Usual loss, and its spread, of a crop that is weighed dry; common practice, no source."""

WET_GAIN, WET_SPREAD = float(np.log1p(HELD_G_PER_G[DRAINED])), 0.12
"""Liquor that clings to a crop weighed wet, as a harvest reckons it; its spread is common practice, no source."""

FLOOR = -30.0
"""Log likelihood of an observation that a draw cannot give at all."""

_READING_SEED = 11


@dataclass(frozen=True, eq=False)
class Truths:
    """Arrays (n,) that an observation is held against: draws, and what the draws do not hold.

    ``curve_shift`` is added to the draws' own; ``undercooling_K`` is the mean by which first crystals come late, but for
    the share ``quiet`` of all pots, which come ``LATE_K`` later still.
    """

    draws: Draws
    undercooling_K: float | Floats
    curve_shift: Floats | float = 0.0
    loss: Floats | float = 0.0
    quiet: float = 0.0

    @property
    def curve(self) -> Floats:
        return np.asarray(self.draws.curve + self.curve_shift)


def log_likelihoods(batch: Batch, truths: Truths) -> list[tuple[str, Floats, float]]:
    """For each observation its name, its log likelihood at each truth, and the most that it could be."""
    found: list[tuple[str, Floats, float]] = []
    for seen in batch.seen:
        found += _of_one(batch, seen, truths)
    return found


def usual_undercooling_K(batch: Batch) -> float:
    """Mean undercooling at which first crystals show.

    The data's metastable zones were found with crystals present; without any a pot is seldom ready sooner than usual.
    """
    stated = batch.start.model.salt.extra.get("mszw_K", "")
    return max(float(stated or 0.0), USUAL_UNDERCOOLING_K)


def _of_one(batch: Batch, seen: Seen, truths: Truths) -> list[tuple[str, Floats, float]]:
    draws, model = truths.draws, batch.start.model
    volume = batch.end.volume_mL() if seen.volume_mL is None else seen.volume_mL
    weighed = batch.end_weighed and seen.volume_mL is None
    found: list[tuple[str, Floats, float]] = []

    @cache
    def state() -> tuple[Floats, Floats]:
        salt = batch.start.salt_g * draws.salt
        water = water_g(batch.start, draws, np.array([volume]), batch.read_at_C, weighed)[0]
        return salt, water

    if seen.first_crystals_C is not None or seen.no_crystals_C is not None:
        salt, water = state()
        due, known = _due_C(batch, salt / (salt + water), truths.curve)
        # Where no draw has a temperature of first crystals (a salt less soluble hot), they tell nothing.
        if seen.first_crystals_C is not None and known.any():
            values = _late_by(due - seen.first_crystals_C, truths.undercooling_K, truths.quiet)
            best = _best_late(float(np.min(truths.undercooling_K)), truths.quiet)
            found.append(("first crystals", np.where(known, values, FLOOR), best))
        if seen.no_crystals_C is not None:
            values = _not_yet(due - seen.no_crystals_C, truths.undercooling_K, truths.quiet)
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


def untold_first_crystals(batch: Batch, draws: Draws) -> list[str]:
    """Sentences on first crystals that were seen where no draw has a temperature for them."""
    said = []
    for seen in batch.seen:
        if seen.first_crystals_C is None:
            continue
        volume = batch.end.volume_mL() if seen.volume_mL is None else seen.volume_mL
        weighed = batch.end_weighed and seen.volume_mL is None
        salt = batch.start.salt_g * draws.salt
        water = water_g(batch.start, draws, np.array([volume]), batch.read_at_C, weighed)[0]
        if not _due_C(batch, salt / (salt + water), draws.curve)[1].any():
            said.append(
                f"First crystals at {seen.first_crystals_C:g} °C and {volume:.3g} mL are not counted: in the data that composition "
                f"of {batch.start.model.salt.formula} is clear at no temperature. Weigh the pot when they show."
            )
    return said


def _of_boiling(batch: Batch, seen_C: float, mass_fraction: Floats) -> list[tuple[str, Floats, float]]:
    """A normal reading about the boiling temperature; tells nothing where that is not known, or the pot only steamed.

    The stated error of the boiling temperature is taken as two standard uncertainties. No solution boils cooler than water:
    a reading that low is of an open pot that steams, and says nothing of what is in it.
    """
    if seen_C < float(boiling_temperature_C(batch.pressure_kPa)) - STEAMING_BY_K:
        return []
    boiling = boiling_of(batch.start.model, batch.start.salt_g, batch.start.others)
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
            below = np.maximum(due - (cold + draws.temperature_K), 0.0)
            kinds = _delays(truths.undercooling_K, truths.quiet)
            late = np.sum([share * np.exp(-below / mean) for share, mean in kinds], axis=0)
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
        due = due + _beside_K(batch.start, round(float(np.mean(mass_fraction)), 3))
    return due, first.found & ~ice[first.solid]


def _delays(usual_K: Floats | float, quiet: float) -> list[tuple[float, Floats]]:
    """Kinds of pots by how late their first crystals come: share of all and mean, K; exponential each."""
    usual = np.asarray(usual_K)
    return [(share, mean) for share, mean in ((1.0 - quiet, usual), (quiet, usual + LATE_K)) if share > 0.0]


@lru_cache(maxsize=64)
def _beside_K(start: Pot, mass_fraction: float) -> float:
    """By how much the others in a pot move its first crystals, K; none where they never come."""
    w = np.array([mass_fraction])
    beside, plain = first_beside(start.model, start.others, start.salt_g, w), start.model.onset.first(w)
    return (
        float((beside.temperature_C - plain.temperature_C)[0]) if beside.found[0] and plain.found[0] else 0.0
    )


def _late_by(late_K: Floats, usual_K: Floats | float, quiet: float) -> Floats:
    """Log density of first crystals seen so much below the due temperature: exponential delay and normal reading."""
    from scipy.special import log_ndtr

    s, found = THERMOMETER_K, np.array(-np.inf)
    for share, mean in _delays(usual_K, quiet):
        rate = 1.0 / mean
        values = (
            np.log(share * rate) + 0.5 * (rate * s) ** 2 - rate * late_K + log_ndtr(late_K / s - rate * s)
        )
        found = np.logaddexp(found, values)
    return np.maximum(found, FLOOR)


@lru_cache(maxsize=64)
def _best_late(mean_K: float, quiet: float) -> float:
    """The most that this density can be."""
    return float(_late_by(np.linspace(-4.0, 12.0, 641), mean_K, quiet).max())


def _not_yet(below_K: Floats, usual_K: Floats | float, quiet: float) -> Floats:
    """Log probability that nothing has shown so far below the due temperature (above it: next to certain)."""
    from scipy.special import log_ndtr, ndtr

    s, odds = THERMOMETER_K, np.asarray(ndtr(-below_K / THERMOMETER_K))
    for share, mean in _delays(usual_K, quiet):
        rate = 1.0 / mean
        late = 0.5 * (rate * s) ** 2 - rate * below_K + log_ndtr(below_K / s - rate * s)
        odds = odds + share * np.exp(np.minimum(late, 0.0))
    return np.maximum(np.log(np.maximum(odds, 1e-13)), FLOOR)
