"""How a solution's volume goes on beyond its density fit: straight stretches, turned so that a liquid stays below solids."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.data.records import Phase, Salt
from crystal.physics.formula import WATER_G_MOL, composition_mass_fraction, molar_mass_g_mol
from crystal.physics.solids import solid_density_g_mL
from crystal.physics.water import density_g_mL as water_density_g_mL

Array = NDArray[np.float64]

# A liquid of a solid's own composition is taken to reach at most this share of the solid's density.
_MELT_SHARE = 0.98


@dataclass(frozen=True, slots=True)
class Segment:
    """A straight stretch of specific volume (mL/g) in mass fraction, from one composition on."""

    mass_fraction: float
    volume: Array
    start: Array
    slope: Array

    @classmethod
    def through(cls, mass_fraction: float, volume: Array, slope: Array) -> Segment:
        """The stretch that has that volume there and rises or falls by that slope."""
        return cls(mass_fraction, volume, volume - slope * mass_fraction, slope)


def choose(segments: list[Segment], reaches: Callable[[Segment], NDArray[np.bool_]]) -> tuple[Array, Array]:
    """Intercept and slope of the last segment that each state reaches; the first where it reaches none."""
    start, slope = segments[0].start, segments[0].slope
    for segment in segments[1:]:
        reached = reaches(segment)
        start, slope = np.where(reached, segment.start, start), np.where(reached, segment.slope, slope)
    return start, slope


def turned(slope: Array, volume: Array, solid: float, distance: float) -> Array:
    """The slope, made flatter where the line would come too near to the solid's specific volume."""
    return np.maximum(slope, (np.minimum(solid / _MELT_SHARE, 0.5 * (volume + solid)) - volume) / distance)


def ideal_volume_mL_g(salt: Salt) -> float:
    """Volume of the wettest solid of known density less its water's (25 °C), per g of anhydrous salt."""
    anhydrous = Phase(salt.formula, 0.0)
    known = [p for p in salt.phases if p.waters is not None and p.solid_density_g_mL is not None]
    top = max(known, key=lambda p: p.waters or 0.0, default=anhydrous)
    mass, waters = molar_mass_g_mol(salt.formula), top.waters or 0.0
    density, _ = solid_density_g_mL(salt, top)
    water_mL = waters * WATER_G_MOL / float(water_density_g_mL(25.0))
    return ((mass + waters * WATER_G_MOL) / density - water_mL) / mass


def bounding_solids(salt: Salt) -> tuple[tuple[float, float], ...]:
    """Solids by composition, up to the anhydrous salt, each with the specific volume that bounds a liquor.

    A drier solid that is lighter bounds the liquors before it too, so volumes never rise along the list.
    """
    given = [p for p in salt.phases if p.waters is not None and p.solid_density_g_mL is not None]
    if all(p.waters for p in given):
        given.append(Phase(salt.formula, 0.0))
    bounds: dict[float, float] = {}
    least = 0.0
    for phase in sorted(given, key=lambda p: p.waters or 0.0):
        least = max(least, 1 / solid_density_g_mL(salt, phase)[0])
        bounds[composition_mass_fraction(salt.formula, phase.waters)] = least
    return tuple(sorted(bounds.items()))
