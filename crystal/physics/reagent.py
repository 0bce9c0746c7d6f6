"""A solute and the density of its solutions, for acids and bases as for salts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.reagents import ListedStrength, Reagent
from crystal.data.records import Salt
from crystal.physics.density import SolutionDensity
from crystal.physics.formula import molar_mass_g_mol

Array = NDArray[np.float64]

# A listed strength this little beyond the fit adds nothing to it.
_AT_THE_EDGE = 0.005
# Standard relative uncertainty between listed densities, at 20 °C.
_LISTED_DOUBT = 0.005
# A density is read as a strength at most this far beyond what is known, in mass fraction.
_REACH = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class ReagentDensity:
    """Density of a reagent's solutions: the published formula, then listed densities beyond its range.

    Beyond the fit the specific volume runs straight from one listed density at 20 °C to the next, and on from
    the last; it expands with temperature as at the fit's edge. Without listed densities there it is
    :class:`SolutionDensity` alone, whose extension is no good for acids near their pure state.

    Parameters
    ----------
    fit : SolutionDensity
        The published formula.
    mass_fractions, expansions : array, shape (n,)
        The fit's edge and the listed strengths beyond it, rising, and each one's specific volume over that at
        the edge at 20 °C; one entry where nothing is listed.
    """

    fit: SolutionDensity
    mass_fractions: Array
    expansions: Array

    @classmethod
    def of(cls, salt: Salt, listed: tuple[ListedStrength, ...]) -> ReagentDensity:
        """Make it from the solute's record and its listed strengths."""
        fit = SolutionDensity.of(salt)
        edge = fit.edge_mass_fraction
        at_edge = float(fit.density_g_mL(edge, 20.0))
        beyond = [s for s in listed if s.mass_fraction > edge + _AT_THE_EDGE]
        return cls(
            fit,
            np.array([edge, *(s.mass_fraction for s in beyond)]),
            np.array([1.0, *(at_edge / s.density_20C_g_mL for s in beyond)]),
        )

    @property
    def known_mass_fraction(self) -> float:
        """The strongest solution whose density is known."""
        return float(self.mass_fractions[-1])

    def density_g_mL(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> Array:
        """Density of the solution, g/mL; the two inputs broadcast.

        Examples
        --------
        >>> from crystal.data.reagents import Reagents
        >>> acid = Solute.of_reagent(Reagents.bundled().find("H2SO4"))
        >>> float(acid.density.density_g_mL(0.96, 20.0)).__round__(4)
        1.8355
        """
        w, t = np.asarray(mass_fraction, dtype=float), np.asarray(temperature_C, dtype=float)
        if len(self.mass_fractions) == 1:
            return self.fit.density_g_mL(w, t)
        edge = self.mass_fractions[0]
        start, slope = self._stretch(np.searchsorted(self.mass_fractions, w, side="right") - 1)
        inside = self.fit.density_g_mL(np.minimum(w, edge), t)
        return np.where(w <= edge, inside, inside / (start + slope * w))[()]

    def water_g_for_volume(self, salt_g: ArrayLike, volume_mL: ArrayLike, temperature_C: ArrayLike) -> Array:
        """Water that makes so much solute up to a volume, as :meth:`SolutionDensity.water_g_for_volume`."""
        water = self.fit.water_g_for_volume(salt_g, volume_mL, temperature_C)
        if len(self.mass_fractions) == 1:
            return water
        salt, volume = np.asarray(salt_g, dtype=float), np.asarray(volume_mL, dtype=float)
        t = np.asarray(temperature_C, dtype=float)
        edge = self.mass_fractions[0]
        # In units of the edge's specific volume a stretch's volume is start·(salt + water) + slope·salt.
        scaled = volume * self.fit.density_g_mL(edge, t)
        place = (scaled[..., None] * self.mass_fractions <= salt[..., None] * self.expansions).sum(
            axis=-1
        ) - 1
        start, slope = self._stretch(place)
        return np.where(place >= 0, (scaled - slope * salt) / start - salt, water)[()]

    def relative_doubt(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> Array:
        """Standard relative uncertainty of the density: 0.5 % between listed densities, else the fit's own."""
        w = np.asarray(mass_fraction, dtype=float)
        listed = (w > self.mass_fractions[0]) & (w <= self.known_mass_fraction)
        return np.where(listed, _LISTED_DOUBT, self.fit.relative_doubt(w, temperature_C))[()]

    def warnings(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> list[str]:
        """Sentences on what the density rests on; empty inside the fit."""
        w_max = float(np.max(mass_fraction))
        if not self.mass_fractions[0] + 1e-9 < w_max <= self.known_mass_fraction + 1e-9:
            return self.fit.warnings(mass_fraction, temperature_C)
        return [
            f"The density of {self.fit.formula} solutions is known as a formula up to "
            f"{100 * self.mass_fractions[0]:.1f} mass %; at {100 * w_max:.1f} mass % it is read between listed densities "
            "at 20 °C, to about 0.5 %: where the bottle states its density, give that.",
            *self.fit.warnings(self.mass_fractions[0], temperature_C),
        ]

    def _stretch(self, place: ArrayLike) -> tuple[Array, Array]:
        """Intercept and slope of the straight stretch that begins at each place of the list."""
        k = np.clip(place, 0, len(self.mass_fractions) - 2)
        slopes = np.diff(self.expansions) / np.diff(self.mass_fractions)
        return self.expansions[k] - slopes[k] * self.mass_fractions[k], slopes[k]


@dataclass(frozen=True, slots=True, eq=False)
class Solute:
    """A dissolved substance: its record, the density of its solutions, and how it is poured.

    ``kind`` and ``dilution_heat`` are blank for a salt. ``reach_mass_fraction`` is the strongest solution that a
    density is taken for.

    Examples
    --------
    >>> from crystal.data.reagents import Reagents
    >>> acid = Solute.of_reagent(Reagents.bundled().find("muriatic acid"))
    >>> acid.formula, float(acid.density.density_g_mL(0.31, 20.0)).__round__(3)
    ('HCl', 1.154)
    """

    salt: Salt
    density: SolutionDensity | ReagentDensity
    reach_mass_fraction: float = 1.0
    kind: str = ""
    dilution_heat: str = ""

    @classmethod
    def of(cls, salt: Salt) -> Solute:
        """Take a salt as a solute."""
        return cls(salt, SolutionDensity.of(salt))

    @classmethod
    def of_reagent(cls, reagent: Reagent) -> Solute:
        """Take a reagent as a solute."""
        density = ReagentDensity.of(reagent.salt, reagent.strengths)
        reach = min(1.0, density.known_mass_fraction + _REACH)
        return cls(reagent.salt, density, reach, reagent.kind, reagent.dilution_heat)

    @property
    def formula(self) -> str:
        return self.salt.formula

    @property
    def molar_mass_g_mol(self) -> float:
        return molar_mass_g_mol(self.salt.formula)

    @property
    def is_lighter_than_water(self) -> bool:
        """Whether its dilute solutions are, as ammonia's."""
        light, water = self.density.density_g_mL(np.array([0.05, 0.0]), 20.0)
        return bool(light < water)

    @property
    def known_mass_fraction(self) -> float:
        """The strongest solution whose density is known, as a formula or listed."""
        if isinstance(self.density, ReagentDensity):
            return self.density.known_mass_fraction
        return self.density.edge_mass_fraction

    def densities_g_mL(self, temperature_C: float) -> tuple[float, float]:
        """The lightest and the heaviest of its solutions, from water to the strongest that a density is taken for."""
        every = self.density.density_g_mL(np.linspace(0.0, self.reach_mass_fraction, 201), temperature_C)
        return float(every.min()), float(every.max())

    def mass_fractions_of_density(self, density_g_mL: float, temperature_C: float) -> tuple[float, ...]:
        """Every strength that has that density, weak to strong; none where no solution has it.

        Notes
        -----
        Acetic acid is densest near 80 mass %, so that a density may fit two strengths. Solved to 1e-12 by
        narrowing each crossing of a grid of 0.5 mass %.
        """
        grid = np.linspace(0.0, self.reach_mass_fraction, 201)
        excess = self.density.density_g_mL(grid, temperature_C) - density_g_mL
        if excess[0] == 0.0:
            excess[0] = -excess[1]  # water itself is no solution
        found = []
        for i in np.flatnonzero(np.sign(excess[:-1]) * np.sign(excess[1:]) < 0):
            low, high = grid[i], grid[i + 1]
            while high - low > 1e-12:
                inner = np.linspace(low, high, 17)
                off = self.density.density_g_mL(inner, temperature_C) - density_g_mL
                k = int(np.flatnonzero(np.sign(off) != np.sign(excess[i]))[0])
                low, high = inner[k - 1], inner[k]
            found.append(float(0.5 * (low + high)))
        found += [float(w) for w, off in zip(grid[1:], excess[1:], strict=True) if off == 0.0]
        return tuple(sorted(found))
