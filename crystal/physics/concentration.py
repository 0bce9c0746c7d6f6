"""One solution told on every basis: mass percent, per volume, per water, density and its older scales."""

from __future__ import annotations

from dataclasses import dataclass, replace

from crystal.errors import InputError
from crystal.physics.reagent import Solute
from crystal.physics.scales import (
    BAUME_RATIONAL,
    BAUME_US,
    SG_20_4,
    SG_60_60,
    Baume,
    Gravity,
    peroxide_g_L,
    peroxide_volumes,
)
from crystal.physics.strength import ROOM_C, Strength

_LIGHTEST_g_mL, _HEAVIEST_g_mL = 0.6, 3.5
# A stated density this far from the known one belongs to another strength; labels round to 1 %.
_UNLIKE = 0.015


@dataclass(frozen=True, slots=True, eq=False)
class Concentration:
    """A solution of one solute in water at a temperature.

    The mass fraction is the truth; everything else follows from it and the density.

    Parameters
    ----------
    solute : Solute
        What is dissolved.
    mass_fraction : float
        Solute per mass of the solution, 0 (water) to below 1.
    temperature_C : float
        Temperature to which volumes and density belong, °C.
    stated_density_g_mL : float, optional
        The solution's density at that temperature as the person states it; it wins over the model.
    notes : tuple of str
        What a strength read off a hydrometer rests on.

    Examples
    --------
    >>> from crystal.data.reagents import Reagents
    >>> acid = Solute.of_reagent(Reagents.bundled().find("HCl"))
    >>> stock = Concentration.of(acid, Strength("mass_fraction", 0.31))
    >>> round(stock.mol_L, 2), round(stock.baume(BAUME_US), 1)
    (9.81, 19.7)
    """

    solute: Solute
    mass_fraction: float
    temperature_C: float = ROOM_C
    stated_density_g_mL: float | None = None
    notes: tuple[str, ...] = ()

    @classmethod
    def of(
        cls,
        solute: Solute,
        strength: Strength,
        *,
        temperature_C: float = ROOM_C,
        density_g_mL: float | None = None,
    ) -> Concentration:
        """Make it from a strength.

        Parameters
        ----------
        solute : Solute
            What is dissolved.
        strength : Strength
            On any of its bases.
        temperature_C : float
            Temperature at which volumes are read, °C.
        density_g_mL : float, optional
            The solution's own density at that temperature, where it is stated.

        Raises
        ------
        InputError
            Where no solution is that strong, or the density is none of a solution.
        """
        if density_g_mL is None:
            return cls(solute, strength.mass_fraction(solute, temperature_C), temperature_C)
        if not _LIGHTEST_g_mL < density_g_mL < _HEAVIEST_g_mL:
            raise InputError(
                "density",
                f"{density_g_mL:g} g/mL",
                f"a solution's, from {_LIGHTEST_g_mL} to {_HEAVIEST_g_mL} g/mL",
                "1.18 g/mL",
            )
        if strength.is_per_volume:
            w = strength.salt_g_per_mL(solute) / density_g_mL
            if not 0.0 < w < 1.0:
                raise InputError(
                    "strength",
                    f"{1000 * strength.salt_g_per_mL(solute):.4g} g/L in a solution of {density_g_mL:g} g/mL",
                    f"more than 0 and less than {1000 * density_g_mL:.4g} g/L, the whole solution",
                    "180 g/L",
                )
        else:
            w = strength.mass_fraction(solute, temperature_C)
        return cls(solute, w, temperature_C, density_g_mL)

    @classmethod
    def water(cls, solute: Solute, temperature_C: float = ROOM_C) -> Concentration:
        """Water, as the weakest solution of a solute."""
        return cls(solute, 0.0, temperature_C)

    @classmethod
    def of_density(
        cls, solute: Solute, density_g_mL: float, *, temperature_C: float = ROOM_C
    ) -> Concentration:
        """Make it from a density at a temperature.

        Raises
        ------
        InputError
            Where no solution, or more than one, has that density.
        """
        found = solute.mass_fractions_of_density(density_g_mL, temperature_C)
        got = f"{density_g_mL:.4g} g/mL at {temperature_C:g} degC"
        if len(found) > 1:
            both = " or ".join(f"{100 * w:.1f} % w/w" for w in found)
            raise InputError(
                "density",
                got,
                f"a density that only one strength of {solute.formula} has, not {both}",
                "80 % w/w",
            )
        if not found:
            low, high = solute.densities_g_mL(temperature_C)
            raise InputError(
                "density",
                got,
                f"that of a {solute.formula} solution of at most {100 * solute.reach_mass_fraction:.4g} mass %: "
                f"{low:.4g} to {high:.4g} g/mL there",
                f"{0.5 * (low + high):.2f} g/mL",
            )
        return cls(
            solute, found[0], temperature_C, notes=tuple(solute.density.warnings(found[0], temperature_C))
        )

    @classmethod
    def of_specific_gravity(
        cls,
        solute: Solute,
        specific_gravity: float,
        *,
        basis: Gravity = SG_60_60,
        temperature_C: float = ROOM_C,
    ) -> Concentration:
        """Make it from a specific gravity on a basis; volumes are then told at ``temperature_C``."""
        density = basis.density_g_mL(specific_gravity)
        return cls.of_density(solute, density, temperature_C=basis.solution_C).at(temperature_C)

    @classmethod
    def of_baume(
        cls, solute: Solute, degrees: float, *, scale: Baume = BAUME_US, temperature_C: float = ROOM_C
    ) -> Concentration:
        """Make it from degrees Baumé; the scale for lighter liquids is taken for a solute such as ammonia."""
        gravity = scale.specific_gravity(degrees, lighter=solute.is_lighter_than_water)
        return cls.of_specific_gravity(solute, gravity, basis=scale.gravity, temperature_C=temperature_C)

    @classmethod
    def of_peroxide_volumes(
        cls,
        solute: Solute,
        volumes: float,
        *,
        temperature_C: float = ROOM_C,
        density_g_mL: float | None = None,
    ) -> Concentration:
        """Make it from the 'volumes' of a hydrogen peroxide solution."""
        if solute.formula != "H2O2":
            raise InputError(
                "volumes",
                f"{volumes:g} volumes of {solute.formula}",
                "of hydrogen peroxide",
                "10 volumes of H2O2",
            )
        strength = Strength("g_per_mL", peroxide_g_L(volumes) / 1000.0)
        return cls.of(solute, strength, temperature_C=temperature_C, density_g_mL=density_g_mL)

    def at(self, temperature_C: float) -> Concentration:
        """The same solution at another temperature; a stated density expands as the model says."""
        if temperature_C == self.temperature_C:
            return self
        stated = None if self.stated_density_g_mL is None else self.density_at(temperature_C)
        return replace(self, temperature_C=temperature_C, stated_density_g_mL=stated)

    @property
    def mass_percent(self) -> float:
        return 100.0 * self.mass_fraction

    @property
    def density_g_mL(self) -> float:
        """Density at its temperature, the stated one where there is one."""
        return self.density_at(self.temperature_C)

    def density_at(self, temperature_C: float) -> float:
        """Density at another temperature, g/mL."""
        modelled = float(self.solute.density.density_g_mL(self.mass_fraction, temperature_C))
        if self.stated_density_g_mL is None:
            return modelled
        here = float(self.solute.density.density_g_mL(self.mass_fraction, self.temperature_C))
        return self.stated_density_g_mL * modelled / here

    @property
    def g_L(self) -> float:
        """Solute per litre of solution, g."""
        return 1000.0 * self.mass_fraction * self.density_g_mL

    @property
    def mol_L(self) -> float:
        """Solute per litre of solution, mol."""
        return self.g_L / self.solute.molar_mass_g_mol

    @property
    def mol_kg_water(self) -> float:
        """Solute per kg of water, mol."""
        return 1000.0 * self._g_per_g_water / self.solute.molar_mass_g_mol

    @property
    def g_100g_water(self) -> float:
        """Solute per 100 g of water, g."""
        return 100.0 * self._g_per_g_water

    @property
    def _g_per_g_water(self) -> float:
        return self.mass_fraction / (1.0 - self.mass_fraction)

    def specific_gravity(self, basis: Gravity = SG_60_60) -> float:
        """Specific gravity on a basis."""
        return basis.specific_gravity(self.density_at(basis.solution_C))

    def baume(self, scale: Baume = BAUME_US) -> float | None:
        """Degrees Baumé; None where the scale has none for a liquid lighter than water."""
        gravity = self.specific_gravity(scale.gravity)
        if gravity >= 1.0:
            return scale.degrees(gravity)
        return scale.degrees(gravity, lighter=True) if scale.has_light_scale else None

    @property
    def peroxide_volumes(self) -> float | None:
        """Litres of oxygen per litre of solution; None for any solute but hydrogen peroxide."""
        return peroxide_volumes(self.g_L) if self.solute.formula == "H2O2" else None

    @property
    def relative_doubt(self) -> float:
        """Standard relative uncertainty of the density; a label's rounding, 0.005 g/mL, where it is stated."""
        if self.stated_density_g_mL is not None:
            return 0.005 / self.stated_density_g_mL
        return float(self.solute.density.relative_doubt(self.mass_fraction, self.temperature_C))

    @property
    def warnings(self) -> list[str]:
        """What the density rests on where it lies beyond what is known; a stated density that does not fit."""
        if self.stated_density_g_mL is None:
            here = self.solute.density.warnings(self.mass_fraction, self.temperature_C)
            return list(dict.fromkeys((*self.notes, *here)))
        if self.mass_fraction > self.solute.known_mass_fraction:
            return []  # the person knows better
        known = float(self.solute.density.density_g_mL(self.mass_fraction, self.temperature_C))
        off = self.stated_density_g_mL / known - 1.0
        if abs(off) > _UNLIKE:
            return [
                f"The stated density of {self.stated_density_g_mL:.4g} g/mL is {100 * abs(off):.1f} % "
                f"{'above' if off > 0 else 'below'} that of {self.mass_percent:.4g} mass % {self.solute.formula} "
                f"({known:.4g} g/mL at {self.temperature_C:g} °C): check that both belong to the same bottle."
            ]
        return []

    def to_json(self) -> dict[str, object]:
        """Every basis under its key, for a program; absent is None."""
        return {
            "solute": self.solute.formula,
            "mass_percent": self.mass_percent,
            "g_per_L": self.g_L,
            "mol_per_L": self.mol_L,
            "mol_per_kg_water": self.mol_kg_water,
            "g_per_100g_water": self.g_100g_water,
            "density_g_mL": self.density_g_mL,
            "temperature_degC": self.temperature_C,
            "specific_gravity_20_4_degC": self.specific_gravity(SG_20_4),
            "specific_gravity_60_60_degF": self.specific_gravity(SG_60_60),
            "baume_us_degrees": self.baume(BAUME_US),
            "baume_rational_degrees": self.baume(BAUME_RATIONAL),
            "peroxide_volumes": self.peroxide_volumes,
            "warnings": self.warnings,
        }
