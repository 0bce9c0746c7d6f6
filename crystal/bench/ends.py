"""End points in detail: what each one gives when cooled, when it begins to crystallise, and what stands in it hot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.bench.cooling import LOOSE_BED, Cooled
from crystal.bench.pot import Pot
from crystal.physics.company import first_beside
from crystal.physics.onset import FirstSolid

Floats = NDArray[np.float64]

BOILING_C = 100.0
"""Temperature at which the water is driven off unless told, °C: pure water's boiling point, rounded up."""


@dataclass(frozen=True, eq=False)
class Ends:
    """End points of one pot as arrays of one shape (n,).

    ``hot`` is the pot of each end point at the temperature where its water is driven off, ``read`` at the temperature
    where its volume is read, ``cooled`` at the final temperature. ``end_volume_mL`` is that of the clear liquid.
    """

    start: Pot
    mass_fraction: Floats
    water_g: Floats
    end_volume_mL: Floats
    first_solid: FirstSolid
    cooled: Cooled
    hot: Cooled
    read: Cooled
    boil_at_C: float
    read_at_C: float

    @classmethod
    def of(
        cls,
        start: Pot,
        mass_fraction: ArrayLike,
        cool_to_C: float,
        *,
        read_at_C: float = 20.0,
        boil_at_C: float = BOILING_C,
        bed: float = LOOSE_BED,
    ) -> Ends:
        """Work out end points.

        Parameters
        ----------
        start : Pot
            The pot before reducing.
        mass_fraction : array_like, shape (n,)
            Composition of each end point, above 0.
        cool_to_C, read_at_C, boil_at_C : float
            Final, reading and boiling-down temperatures, °C.
        bed : float
            Solids' share of the volume of the settled crystals.

        Raises
        ------
        CoverageError
            Where the data hold no answer at the final temperature. Hot and reading states that they do not cover are
            marked UNKNOWN instead.
        """
        model = start.model
        w = np.atleast_1d(np.asarray(mass_fraction, float))
        water = start.salt_g * (1.0 - w) / w
        return cls(
            start, w, water,
            start.volume_of(water, read_at_C),
            first_beside(model, start.others, start.salt_g, w),
            Cooled.of(model, start.salt_g, water, cool_to_C, bed=bed, others=start.others),
            Cooled.of(model, start.salt_g, water, boil_at_C, bed=bed, strict=False, others=start.others),
            Cooled.of(model, start.salt_g, water, read_at_C, bed=bed, strict=False, others=start.others),
            boil_at_C, read_at_C,
        )  # fmt: skip

    @property
    def end_mass_g(self) -> Floats:
        return self.start.salt_g + self.water_g + self.start.others.total_g

    @property
    def fraction_of_start(self) -> Floats:
        """End volume at its reading temperature over start volume at its own."""
        return self.end_volume_mL / self.start.volume_mL()

    @property
    def water_removed_g(self) -> Floats:
        return self.start.water_g - self.water_g

    def first_crystals_C(self, index: int) -> float | None:
        """Temperature of first crystals on cooling; None where none come before ice, or where it is never clear."""
        if (
            not self.first_solid.found[index]
            or self.start.model.map.solids[self.first_solid.solid[index]].is_ice
        ):
            return None
        return float(self.first_solid.temperature_C[index])

    def slurry_mL(self, index: int) -> float | None:
        """Volume of liquor and solids where solids stand in the pot as its volume is read; None where it is clear."""
        solids = self.read.lean_solid_g[index] + self.read.rich_solid_g[index]
        if self.read.outcome[index] < 0 or solids <= 0:
            return None
        rho = self.start.model.solid_densities_g_mL
        found = self.read.equilibrium
        return float(
            self.read.liquor_mL[index]
            + self.read.lean_solid_g[index] / rho[found.lean_solid[index]]
            + self.read.rich_solid_g[index] / rho[found.rich_solid[index]]
        )
