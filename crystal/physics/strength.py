"""How strong a solution is: the bases on which it is told, and the mass fraction that each means."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.records import Salt
from crystal.errors import InputError

ROOM_C = 20.0
"""Temperature at which a volume is read unless told, °C."""


class Density(Protocol):
    """What a volume needs to know of a solution's density."""

    def density_g_mL(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> NDArray[np.float64]:
        """Density of the solution, g/mL."""

    def water_g_for_volume(
        self, salt_g: ArrayLike, volume_mL: ArrayLike, temperature_C: ArrayLike
    ) -> NDArray[np.float64]:
        """Water that makes so much solute up to that volume, g; negative where it cannot be held."""


class Dissolved(Protocol):
    """A solute with the density of its solutions: a salt's model or a reagent."""

    @property
    def salt(self) -> Salt:
        """Its record."""

    @property
    def density(self) -> Density:
        """The density of its solutions."""

    @property
    def molar_mass_g_mol(self) -> float:
        """Grams per mole of the anhydrous solute."""


@dataclass(frozen=True, slots=True)
class Strength:
    """How strong a solution is, on a named basis.

    ``kind`` is one of ``mass_fraction`` (g per g of solution), ``g_per_g_water``, ``g_per_mL`` (of solution),
    ``mol_per_L`` (of solution), ``mol_per_kg_water``. ``salt_share`` is grams of anhydrous salt per gram of the solid
    that the strength counts: 1 for the anhydrous salt.
    """

    kind: str
    value: float
    salt_share: float = 1.0

    def mass_fraction(self, model: Dissolved, temperature_C: float = ROOM_C) -> float:
        """Salt / (salt + water) of a solution that strong, read at a temperature in °C.

        Raises
        ------
        InputError
            Where no solution is that strong.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> model = Model.of(Catalogue.bundled().find("CuSO4"))
        >>> round(Strength("g_per_g_water", 0.25).mass_fraction(model), 6)
        0.2
        """
        v, x = self.value, self.salt_share
        if self.kind == "mass_fraction":
            w = v * x
        elif self.kind == "g_per_g_water":
            w = v * x / (1.0 + v)
        elif self.kind == "mol_per_kg_water":
            salt = v * model.molar_mass_g_mol
            w = salt / (salt + 1000.0)
        else:
            w = _mass_fraction_holding(model, self.salt_g_per_mL(model), temperature_C)
        if not 0.0 < w < 1.0:
            raise InputError(
                "strength", f"{v:g} ({self.kind})", "between pure water and the dry salt", "18 % w/w"
            )
        return w

    @property
    def is_per_volume(self) -> bool:
        """Whether it counts per volume of solution, so that the density decides what it means."""
        return self.kind in ("g_per_mL", "mol_per_L")

    def salt_g_per_mL(self, model: Dissolved) -> float:
        """Anhydrous salt per mL of solution, of a strength that is per volume."""
        if self.kind == "g_per_mL":
            return self.value * self.salt_share
        return self.value * model.molar_mass_g_mol / 1000.0


def _mass_fraction_holding(model: Dissolved, salt_g_per_mL: float, temperature_C: float) -> float:
    """Composition of the solution that holds so much salt in each millilitre."""
    water = float(model.density.water_g_for_volume(salt_g_per_mL, 1.0, temperature_C))
    if water <= 0:
        raise InputError(
            "strength",
            f"{1000 * salt_g_per_mL:.4g} g/L of {model.salt.formula}",
            "less than the dry salt's own",
            "180 g/L",
        )
    return salt_g_per_mL / (salt_g_per_mL + water)
