"""Odds of each outcome at each end point: the engine asked once for all draws and all end points together."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.bench.beside import Tabulated
from crystal.bench.cooling import OUTCOMES, SET_SHARE, UNKNOWN
from crystal.bench.doubt import Draws
from crystal.bench.even import between, place
from crystal.bench.pot import Pot
from crystal.physics.phasemap import Slices
from crystal.physics.regions import LIQUID

Floats = NDArray[np.float64]

_TABLE = 2048
_TABLE_BESIDE, _SALT_STEPS = 256, 17
_HARDLY = 1e-9
"""Crystals, per volume of the pot, that are none but for rounding."""


@dataclass(frozen=True, eq=False)
class Odds:
    """Odds and crop at end points, arrays over the end points (m,).

    ``odds`` has shape (4, m), in the order of ``OUTCOMES``; it sums to 1 over the draws whose outcome the data tell.
    The crop counts the salt's crystals where the outcome is ``crop``, else nothing; crystals of another salt that comes with
    them are none of it. ``crop_g`` has it for every draw, shape (m, n), and ``weights`` what each counts. ``unknown`` is
    the share of draws without answer.
    """

    end_volume_mL: Floats
    odds: Floats
    crop_expected_g: Floats
    unknown: Floats
    crop_g: Floats
    weights: Floats

    @property
    def does_not_pour(self) -> Floats:
        """Odds of ``thick`` or ``set``."""
        return np.asarray(self.odds[2] + self.odds[3])

    @property
    def crop_p10_g(self) -> Floats:
        """The crop that is exceeded in nine draws of ten."""
        return self._middle[0]

    @property
    def crop_p90_g(self) -> Floats:
        """The crop that is exceeded in one draw of ten."""
        return self._middle[1]

    @cached_property
    def _middle(self) -> list[Floats]:
        return weighted_quantiles(self.crop_g, self.weights, (0.1, 0.9))


@dataclass(frozen=True, eq=False)
class DrawnEnds:
    """Every draw at every end point: outcome codes and crystals, arrays of shape (m, n)."""

    outcome: NDArray[np.int8]
    crystals_g: Floats

    @classmethod
    def of(
        cls, start: Pot, draws: Draws, cool_to_C: float, end_volume_mL: ArrayLike, *, read_at_C: float = 20.0,
        weighed: bool = False, curve_shift: Floats | float = 0.0,
    ) -> DrawnEnds:  # fmt: skip
        """Cool the pot of every draw at every end point.

        Parameters
        ----------
        start : Pot
            The pot as it is thought to be.
        draws : Draws
            Possible truths, n of them.
        cool_to_C : float
            Final temperature as planned, °C.
        end_volume_mL : array_like, shape (m,)
            End volumes, mL, as read (or as planned from the mass, where ``weighed``).
        read_at_C : float
            Temperature of the reading, °C.
        weighed : bool
            The end point is met by the pot's mass, not by the mark.
        curve_shift : float or array, shape (n,)
            Added to every saturated liquor's mass fraction, beside the draws' own.
        """
        volumes = np.asarray(end_volume_mL, float)
        water = water_g(start, draws, volumes, read_at_C, weighed)
        salt = start.salt_g * draws.salt
        if start.others:
            return _beside_others(start, draws, cool_to_C, salt, water, draws.curve + curve_shift)
        slices = start.model.map.slices(cool_to_C + draws.temperature_K).shifted(draws.curve + curve_shift)
        total = salt + water
        w = salt / total
        table = _Lever.of(start, draws, slices)
        place = np.zeros(w.shape, dtype=np.int32)
        for edge in slices.edges[1:-1]:
            place += w >= edge
        place *= len(draws)
        place += np.arange(len(draws), dtype=np.int32)
        share = table.slope.take(place)
        share *= w
        share += table.intercept.take(place)
        outcome = (share > 0).astype(np.int8)
        outcome += share >= table.bed.take(place)
        outcome += share >= table.set.take(place)
        unknown = table.unknown.take(place)
        outcome[unknown] = UNKNOWN
        share *= total
        share[unknown] = 0.0
        return cls(outcome, share)

    def odds(self, draws: Draws, end_volume_mL: ArrayLike) -> Odds:
        """Count the draws by their weights."""
        counted = draws.weights
        each = np.stack([(self.outcome == code) @ counted for code in range(len(OUTCOMES))])
        known = np.maximum(each.sum(axis=0), 1e-300)
        crop = np.where(self.outcome == OUTCOMES.index("crop"), self.crystals_g, 0.0)
        expected, unknown = (crop @ counted) / known, 1.0 - each.sum(axis=0)
        return Odds(np.asarray(end_volume_mL, float), each / known, expected, unknown, crop, counted)


def weighted_quantiles(values: Floats, weights: Floats, shares: tuple[float, ...]) -> list[Floats]:
    """Quantiles along the last axis of weighted values, shape (m,) each."""
    if np.ptp(weights) == 0.0:
        ranks = [min(int(share * values.shape[-1]), values.shape[-1] - 1) for share in shares]
        parted = np.partition(values, ranks, axis=-1)
        return [parted[..., rank] for rank in ranks]
    order = np.argsort(values, axis=-1)
    reached = np.cumsum(weights[order], axis=-1)
    found = []
    for share in shares:
        rank = np.minimum((reached < share).sum(axis=-1), values.shape[-1] - 1)
        at = np.take_along_axis(order, rank[..., None], axis=-1)
        found.append(np.take_along_axis(values, at, axis=-1)[..., 0])
    return found


def water_g(start: Pot, draws: Draws, volumes: Floats, read_at_C: float, weighed: bool) -> Floats:
    """Water in the pot of each draw at each end point, g, shape (m, n)."""
    salt, density = start.salt_g * draws.salt, start.model.density
    if weighed:
        mass = start.water_for_volume(volumes, read_at_C) + start.salt_g + start.others.total_g
        return np.maximum(mass[:, None] * draws.mass - salt - start.others.total_g, 1e-9 * salt)
    planned = start.salt_g / (start.salt_g + np.maximum(start.water_for_volume(volumes, read_at_C), 0.0))
    doubt = density.relative_doubt(planned, read_at_C)
    if start.others:
        true = volumes[:, None] * draws.volume * (1.0 + draws.density_error(np.asarray(doubt)[:, None]))
        return _water_beside_others(start, draws, true, read_at_C)
    # The volume that the model must give is the true one times the density's own error; per salt it is one curve.
    ratio = volumes[:, None] * (draws.volume / draws.salt)
    ratio *= 1.0 + draws.density_error(np.asarray(doubt)[:, None])
    dry = float(start.volume_of(0.0, read_at_C))
    table = np.linspace(dry, max(float(ratio.max()), 1.001 * dry), _TABLE)
    per_salt = np.maximum(start.water_for_volume(table, read_at_C), 1e-9 * start.salt_g)
    water = between(per_salt, *place(table, ratio))
    water *= draws.salt
    return water


def _water_beside_others(start: Pot, draws: Draws, volumes: Floats, read_at_C: float) -> Floats:
    """Water, g, that fills the volumes (m, n) beside others whose mass does not go with the salt's.

    Tabulated over volume for a few masses of salt, straight between them.
    """
    factor = draws.salt
    low, high = float(factor.min()), float(factor.max())
    factors = np.linspace(low, max(high, low * (1 + 1e-9)), _SALT_STEPS)
    table = np.linspace(float(volumes.min()), float(volumes.max()) * (1 + 1e-9), _TABLE_BESIDE)
    rows = start.water_for_volume(table, read_at_C, start.salt_g * factors[:, None])
    rows = np.maximum(rows, 1e-9 * start.salt_g)
    (i, u), (j, v) = place(table, volumes), place(factors, factor)
    at = j * _TABLE_BESIDE + i
    lower, upper = (between(part.ravel(), at, u) for part in (rows[:-1], rows[1:]))
    lower *= 1 - v
    upper *= v
    lower += upper
    return lower


def _beside_others(
    start: Pot, draws: Draws, cool_to_C: float, salt_g: Floats, water: Floats, curve: Floats
) -> DrawnEnds:
    """The same for a pot with others, from a table: a richer curve is the given one met by so much leaner a pot."""
    model = start.model
    total = salt_g + water
    w = salt_g / total
    cold = cool_to_C + draws.temperature_K
    share, filled, known = Tabulated.of(start, cool_to_C).read(draws.salt, cold, w - curve)
    filled = np.clip(filled, 0.0, 1.0)
    t = np.clip(cold, model.map.low_C, model.map.high_C)
    # A liquor that is denser than the model has it fills less.
    liquor = (1.0 - filled) / (1.0 + draws.density_error(model.density.relative_doubt(w, t)))
    filled = filled / np.maximum(filled + liquor, 1e-300)
    outcome = (filled > _HARDLY).astype(np.int8)
    some = outcome > 0
    outcome += some & (filled >= draws.bed)
    outcome += some & (filled >= SET_SHARE)
    frozen = np.broadcast_to((cold < model.map.low_C) & model.map.stretches[0].ends_in_eutectic, w.shape)
    outcome = np.where(frozen, OUTCOMES.index("set"), np.where(known, outcome, UNKNOWN)).astype(np.int8)
    return DrawnEnds(outcome, np.where(known & ~frozen, share * total, 0.0))


@dataclass(frozen=True, eq=False)
class _Lever:
    """For each region (k) and draw (n), flattened: crystals' mass share = intercept + slope × w, and its thresholds."""

    intercept: Floats
    slope: Floats
    bed: Floats
    set: Floats
    unknown: NDArray[np.bool_]

    @classmethod
    def of(cls, start: Pot, draws: Draws, slices: Slices) -> _Lever:
        model = start.model
        left, right = slices.edges[:-1], slices.edges[1:]
        lean, rich = slices.lean, slices.rich
        span = np.where(right > left, right - left, 1.0)
        has_ice = lean == 0
        of_rich = (rich != LIQUID) & ((lean == LIQUID) | has_ice)
        of_lean = (lean != LIQUID) & (rich == LIQUID) & ~has_ice
        dry = (lean != LIQUID) & (rich != LIQUID)
        slope = np.where(of_rich, 1.0 / span, np.where(of_lean, -1.0 / span, 0.0))
        intercept = np.where(of_rich, -left / span, np.where(of_lean, 1.0 + left / span, 0.0))
        intercept = np.where(dry & ~has_ice, 1.0, intercept)
        solid = np.where(of_rich, rich, lean)
        heavy = model.solid_densities_g_mL[solid]
        liquor_w = np.where(of_rich, left, right)
        t = np.clip(slices.temperature_C, model.map.low_C, model.map.high_C)
        liquor_w = np.clip(liquor_w, 0.0, 1.0)
        light = model.density.density_g_mL(liquor_w, np.broadcast_to(t, liquor_w.shape))
        light = light * (1.0 + draws.density_error(model.density.relative_doubt(liquor_w, t)))

        def mass_share(volume_share: Floats | float) -> Floats:
            """Crystals' share by mass where they fill that share of the volume."""
            return np.asarray(volume_share * heavy / (volume_share * heavy + (1.0 - volume_share) * light))

        frozen = slices.beyond & (slices.temperature_C < model.map.low_C)
        if not model.map.stretches[0].ends_in_eutectic:
            frozen = np.zeros_like(frozen)
        no_liquor = dry | frozen
        # Without liquor the pot has set whatever the share; a clear liquid never reaches a threshold.
        bed = np.where(no_liquor, -1.0, mass_share(draws.bed))
        hard = np.where(no_liquor, -1.0, mass_share(SET_SHARE))
        clear = ~(of_rich | of_lean | dry) & ~frozen
        bed, hard = np.where(clear, 2.0, bed), np.where(clear, 2.0, hard)
        intercept = np.where(frozen, 1.0, intercept)
        slope = np.where(frozen, 0.0, slope)
        unknown = ~slices.known & ~frozen
        flat = [np.ascontiguousarray(a).ravel() for a in (intercept, slope, bed, hard)]
        return cls(flat[0], flat[1], flat[2], flat[3], unknown.ravel())
