"""The volume that a dissolved substance adds to its water: the terms that the density of a solution sums."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.data.records import DensityFit, DensityPoints
from crystal.physics.water import density_g_mL as water_density_g_mL

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FittedVolume:
    """Laliberté's apparent specific volume of one solute; ``part`` is its share of the salt's mass.

    ``volume_and_slope`` takes the total mass fraction of solutes, so that terms can be summed; volume (mL/g)
    and its change with mass fraction are held at the fit's edges.
    """

    name: str
    part: float
    fit: DensityFit
    max_mass_fraction: float
    t_min_C: float
    t_max_C: float

    @classmethod
    def of(cls, part: float, fit: DensityFit) -> FittedVolume:
        return cls(fit.solute, part, fit, fit.max_mass_fraction, fit.t_min_C, fit.t_max_C)

    def volume_and_slope(self, mass_fraction: Array, temperature_C: Array) -> tuple[Array, Array]:
        fit = self.fit
        t = np.minimum(np.maximum(temperature_C, self.t_min_C), self.t_max_C)
        w = np.minimum(mass_fraction, self.max_mass_fraction)
        shift = fit.c2 + fit.c3 * t
        scale = 1e3 * np.exp(-1e-6 * (t + fit.c4) ** 2)
        divisor = fit.c0 * w + fit.c1
        slope = scale * (fit.c1 - fit.c0 * shift) / divisor**2
        return scale * (w + shift) / divisor, np.where(mass_fraction < self.max_mass_fraction, slope, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class TabulatedVolume:
    """The same from measured densities at one temperature, linear in mass fraction between them."""

    name: str
    part: float
    mass_fractions: Array
    volumes_mL_g: Array
    max_mass_fraction: float
    t_min_C: float
    t_max_C: float

    @classmethod
    def of(cls, part: float, points: DensityPoints) -> TabulatedVolume:
        w = np.asarray(points.mass_fractions, dtype=float)
        t = points.temperature_C
        v = (1 / np.asarray(points.densities_g_mL) - (1 - w) / water_density_g_mL(t)) / w
        return cls(points.solute, part, w, v, float(w[-1]), t, t)

    def volume_and_slope(self, mass_fraction: Array, temperature_C: Array) -> tuple[Array, Array]:
        w = np.asarray(mass_fraction)
        slopes = np.concatenate(([0.0], np.diff(self.volumes_mL_g) / np.diff(self.mass_fractions), [0.0]))
        slope = slopes[np.searchsorted(self.mass_fractions, w, side="right")]
        return np.interp(w, self.mass_fractions, self.volumes_mL_g) + 0.0 * temperature_C, slope


SoluteVolume = FittedVolume | TabulatedVolume
