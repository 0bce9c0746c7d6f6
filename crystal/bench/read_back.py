"""What composition a reading of the pot means: its boiling temperature, or a hydrometer's density."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from crystal.bench.marks import names_of
from crystal.bench.pot import Pot, mass_fraction_of_density
from crystal.errors import InputError
from crystal.physics.boiling import Boiling
from crystal.physics.boiling_beside import BoilingBeside, boiling_of
from crystal.physics.model import Model
from crystal.physics.vapour import boiling_temperature_C


@dataclass(frozen=True, slots=True)
class Reading:
    """The composition that a reading means, with the two that its error allows."""

    mass_fraction: float
    low_mass_fraction: float
    high_mass_fraction: float

    @classmethod
    def of_density(cls, model: Model, density_g_mL: float, temperature_C: float) -> Reading:
        """What a hydrometer's density at a temperature means; InputError where no solution has it."""
        w = mass_fraction_of_density(model, density_g_mL, temperature_C)
        doubt = float(model.density.relative_doubt(w, temperature_C))
        light = float(model.density.density_g_mL(0.0, temperature_C))
        low, high = (
            float(model.density.mass_fraction_for_density(max(rho, light), temperature_C))
            for rho in (density_g_mL * (1 - doubt), density_g_mL * (1 + doubt))
        )
        return cls(w, low if np.isfinite(low) else 0.0, high if np.isfinite(high) else 1.0)

    @classmethod
    def of_pot_density(cls, pot: Pot, density_g_mL: float, temperature_C: float) -> Reading:
        """The same for a pot that holds others beside the salt: how far it is reduced when it has that density.

        Raises
        ------
        InputError
            Where it has that density with no amount of water.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.others import Others
        >>> model = Model.of(Catalogue.bundled().find("NaCl"))
        >>> pot = Pot(model, 50.0, 450.0, others=Others.of({"HCl": 10.0}))
        >>> round(Reading.of_pot_density(pot, 1.12, 20.0).mass_fraction, 3)
        0.149
        """
        water = pot.water_for_density(density_g_mL, temperature_C)
        if not 0.0 < water < math.inf:
            light = float(pot.model.density.density_g_mL(0.0, temperature_C))
            raise InputError(
                "density",
                f"{density_g_mL:.4g} g/mL",
                f"above water's ({light:.4g} g/mL at {temperature_C:g} degC) and one that this pot can come to",
                f"{pot.density_g_mL(temperature_C):.3f} g/mL at {temperature_C:g} degC",
            )
        w = pot.with_water(water).mass_fraction
        doubt = float(pot.model.density.relative_doubt(w, temperature_C))
        lean, rich = (
            pot.water_for_density(rho, temperature_C)
            for rho in (density_g_mL * (1 - doubt), density_g_mL * (1 + doubt))
        )
        low, high = (pot.salt_g / (pot.salt_g + water) for water in (lean, rich))
        return cls(w, low, high)

    @classmethod
    def of_boiling(cls, model: Model, temperature_C: float, pressure_kPa: float) -> Reading:
        """What a boiling temperature at a pressure means.

        Raises
        ------
        InputError
            Where the solution of no known composition boils there.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> model = Model.of(Catalogue.bundled().find("NaCl"))
        >>> round(Reading.of_boiling(model, 105.0, 101.325).mass_fraction, 2)
        0.2
        """
        return cls._boiling_at(Boiling.of(model), model.salt.formula, temperature_C, pressure_kPa)

    @classmethod
    def of_pot_boiling(cls, pot: Pot, temperature_C: float, pressure_kPa: float) -> Reading:
        """The same for a pot, whatever it holds beside the salt; raises as :meth:`of_boiling` does."""
        boiling = boiling_of(pot.model, pot.salt_g, pot.others)
        return cls._boiling_at(boiling, names_of(pot), temperature_C, pressure_kPa)

    @classmethod
    def _boiling_at(
        cls, boiling: Boiling | BoilingBeside, name: str, temperature_C: float, pressure_kPa: float
    ) -> Reading:
        high_w = boiling.highest_mass_fraction
        if not high_w:
            raise InputError(
                "boiling temperature",
                f"{temperature_C:g} degC for {name}",
                "of a salt whose water activity is in the data; read a hydrometer instead",
                "1.18 g/mL at 20 degC",
            )
        w = boiling.mass_fraction(temperature_C, pressure_kPa)
        low_C = float(boiling_temperature_C(pressure_kPa))
        high_C = float(boiling.temperature_C(high_w, pressure_kPa))
        if math.isnan(w):
            raise InputError(
                "boiling temperature",
                f"{temperature_C:g} degC",
                f"from {low_C:.1f} degC (water at {pressure_kPa:.4g} kPa) to {high_C:.1f} degC, where what is known of "
                f"{name} ends ({100 * high_w:.3g} mass %)",
                f"{(low_C + high_C) / 2:.0f} degC",
            )
        error = float(boiling.error_K(w, pressure_kPa))
        low, high = (
            boiling.mass_fraction(float(np.clip(temperature_C + off, low_C, high_C)), pressure_kPa)
            for off in (-error, error)
        )
        return cls(w, low, high)
