"""Hydrometer scales and peroxide 'volumes': older ways to write a density or a strength, each with its basis."""

from __future__ import annotations

from dataclasses import dataclass

from crystal.errors import InputError
from crystal.physics.formula import molar_mass_g_mol
from crystal.physics.water import density_g_mL as water_density_g_mL

FAHRENHEIT_60_C = (60.0 - 32.0) / 1.8
IDEAL_GAS_L_MOL = 22.414
"""Volume of a mole of ideal gas at 0 °C and 1 atm, L: the convention behind peroxide 'volumes'."""


@dataclass(frozen=True, slots=True)
class Gravity:
    """A basis of specific gravity: the solution at one temperature against water at another, °C."""

    name: str
    solution_C: float
    water_C: float

    @property
    def water_density_g_mL(self) -> float:
        return float(water_density_g_mL(self.water_C))

    def density_g_mL(self, specific_gravity: float) -> float:
        """Density of the solution at ``solution_C``, g/mL.

        Examples
        --------
        >>> round(SG_60_60.density_g_mL(1.8354), 4)
        1.8336
        """
        if not specific_gravity > 0:
            raise InputError("specific gravity", f"{specific_gravity:g}", "more than 0", "1.18")
        return specific_gravity * self.water_density_g_mL

    def specific_gravity(self, density_g_mL: float) -> float:
        """Specific gravity of a solution with that density at ``solution_C``."""
        return density_g_mL / self.water_density_g_mL


SG_60_60 = Gravity("60/60 degF", FAHRENHEIT_60_C, FAHRENHEIT_60_C)
SG_20_4 = Gravity("20/4 degC", 20.0, 4.0)
SG_15_15 = Gravity("15/15 degC", 15.0, 15.0)


@dataclass(frozen=True, slots=True)
class Baume:
    """A Baumé scale: heavier than water sg = m/(m - Bé); the US one lighter than water sg = 140/(130 + Bé).

    Parameters
    ----------
    name : str
        ``"US"`` or ``"rational"``.
    modulus : float
        m: 145 on the US scale, 144.3 on the older European 'rational' scale. Older instruments have others
        (144, 146.78): the modulus stands on the stem.
    gravity : Gravity
        The basis of the specific gravity: 60/60 °F or 15/15 °C.
    has_light_scale : bool
        Whether liquids lighter than water have degrees on it.

    References
    ----------
    US formulas: Marks' Standard Handbook for Mechanical Engineers. Rational modulus and its temperature:
    G. Lunge's tables for sulfuric acid makers, from memory.

    Examples
    --------
    >>> round(BAUME_US.specific_gravity(66.0), 4)
    1.8354
    >>> round(BAUME_US.degrees(0.8974, lighter=True), 1)
    26.0
    """

    name: str
    modulus: float
    gravity: Gravity
    has_light_scale: bool = False

    def specific_gravity(self, degrees: float, *, lighter: bool = False) -> float:
        """Specific gravity at so many degrees; ``lighter`` is the scale for liquids lighter than water.

        Raises
        ------
        InputError
            Below 0 degrees, or for a lighter liquid below 10, both water's own mark; at or above the modulus; for the
            lighter scale where there is none.
        """
        got = f"{degrees:g} degrees Baume"
        if lighter:
            self._require_light_scale(got)
            if not degrees >= 10.0:
                raise InputError(
                    "Baume", got, "at least 10 degrees (water) for a liquid lighter than water", "26"
                )
            return 140.0 / (130.0 + degrees)
        if not 0.0 <= degrees < self.modulus:
            raise InputError(
                "Baume", got, f"from 0 (water) to below {self.modulus:g}, the scale's modulus", "66"
            )
        return self.modulus / (self.modulus - degrees)

    def degrees(self, specific_gravity: float, *, lighter: bool = False) -> float:
        """Degrees at a specific gravity, the other way round."""
        got = f"specific gravity {specific_gravity:g}"
        if lighter:
            self._require_light_scale(got)
            if not 0.0 < specific_gravity <= 1.0:
                raise InputError("Baume", got, "above 0 and at most 1 for a liquid lighter than water", "0.9")
            return 140.0 / specific_gravity - 130.0
        if not specific_gravity >= 1.0:
            raise InputError("Baume", got, "at least 1 for a liquid heavier than water", "1.18")
        return self.modulus - self.modulus / specific_gravity

    def _require_light_scale(self, got: str) -> None:
        if not self.has_light_scale:
            raise InputError(
                "Baume",
                f"{got}, lighter than water, on the {self.name} scale",
                "on the US scale",
                "26 degrees US",
            )


BAUME_US = Baume("US", 145.0, SG_60_60, has_light_scale=True)
BAUME_RATIONAL = Baume("rational", 144.3, SG_15_15)


def peroxide_g_L(volumes: float) -> float:
    """Hydrogen peroxide in a solution of so many 'volumes'.

    Parameters
    ----------
    volumes : float
        Litres of oxygen, counted as ideal gas at 0 °C and 1 atm, that a litre of the solution gives when all of
        it breaks down: 2 H2O2 -> 2 H2O + O2.

    Returns
    -------
    float
        g of H2O2 per litre of solution. Labels often round (10 volumes for 3 %).

    Examples
    --------
    >>> round(peroxide_g_L(10.0), 2)
    30.35
    """
    if not volumes > 0:
        raise InputError("volumes", f"{volumes:g}", "more than 0", "10 volumes")
    return volumes / IDEAL_GAS_L_MOL * 2.0 * molar_mass_g_mol("H2O2")


def peroxide_volumes(peroxide_g_L: float) -> float:
    """'Volumes' of a solution with so much hydrogen peroxide per litre, the other way round."""
    return peroxide_g_L / (2.0 * molar_mass_g_mol("H2O2")) * IDEAL_GAS_L_MOL
