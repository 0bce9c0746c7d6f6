"""Densities of solutions, and volumes and compositions got back from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.records import DensityFit, DensityPoints, Phase, Salt
from crystal.errors import DataError
from crystal.physics.formula import WATER_G_MOL, composition_mass_fraction, molar_mass_g_mol
from crystal.physics.solids import solid_density_g_mL
from crystal.physics.water import density_g_mL as water_density_g_mL

Array = NDArray[np.float64]

# A fit that never saw 1 % of salt says nothing of a liquor: chromium(III) sulfate's gives -1.2 mL/g.
_SLIGHT_FIT = 0.01
# A liquid of a solid's own composition is taken to reach at most this share of the solid's density.
_MELT_SHARE = 0.98
# A turned line keeps at least this share of its fall, so that density always rises.
_LEAST_FALL = 0.02

# Standard relative uncertainties of the density; how each was found: `SolutionDensity.relative_doubt`.
_BASE_DOUBT = 0.002
_DOUBT_PER_MASS_FRACTION = 0.15
_DOUBT_PER_K = 0.0004
_ESTIMATE_DOUBT = 0.04
_ESTIMATE_FULL_AT = 0.3


@dataclass(frozen=True, slots=True)
class _FittedTerm:
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
    def of(cls, part: float, fit: DensityFit) -> _FittedTerm:
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


@dataclass(frozen=True, slots=True)
class _TabulatedTerm:
    """The same from measured densities at one temperature, linear in mass fraction between them."""

    name: str
    part: float
    mass_fractions: Array
    volumes_mL_g: Array
    max_mass_fraction: float
    t_min_C: float
    t_max_C: float

    @classmethod
    def of(cls, part: float, points: DensityPoints) -> _TabulatedTerm:
        w = np.asarray(points.mass_fractions, dtype=float)
        t = points.temperature_C
        v = (1 / np.asarray(points.densities_g_mL) - (1 - w) / water_density_g_mL(t)) / w
        return cls(points.solute, part, w, v, float(w[-1]), t, t)

    def volume_and_slope(self, mass_fraction: Array, temperature_C: Array) -> tuple[Array, Array]:
        w = np.asarray(mass_fraction)
        slopes = np.concatenate(([0.0], np.diff(self.volumes_mL_g) / np.diff(self.mass_fractions), [0.0]))
        slope = slopes[np.searchsorted(self.mass_fractions, w, side="right")]
        return np.interp(w, self.mass_fractions, self.volumes_mL_g) + 0.0 * temperature_C, slope


_Term = _FittedTerm | _TabulatedTerm


@dataclass(frozen=True, slots=True)
class SolutionDensity:
    """Density of one salt's solutions in water at any composition and temperature.

    Up to ``edge_mass_fraction``, the end of the widest fit among the salt's solutes, the solution follows the
    published formula (solutes by their own range: beyond it their apparent volume is held). From there on the
    solution's specific volume runs straight in mass fraction, which is the same as holding the salt's
    apparent volume. Held volumes are as a rule too small in strong liquors, so where that line would make a
    liquid of a listed solid's composition denser than 0.98 of the solid, it is turned to meet that density,
    or half-way between edge and solid where the edge is denser already. So density rises with mass fraction
    and stays below the solids', and a volume has one composition. Inside the fits nothing is changed.

    Notes
    -----
    ``is_estimate`` tells that no solution density is known: the salt's volume is then its most hydrated
    solid's less that of its crystal water, counted as water. Against 66 salts with known densities, strong
    solutions at 25 °C come out 1 % light in the median, with a root mean square of 4 %.

    References
    ----------
    M. Laliberté, J. Chem. Eng. Data 54 (2009) 1725, doi 10.1021/je8008123; M. Laliberté, W. E. Cooper, J.
    Chem. Eng. Data 49 (2004) 1141, doi 10.1021/je0498659.

    Examples
    --------
    >>> salt = Salt("NaCl", "salt", phases=(Phase("NaCl", 0.0, solid_density_g_mL=2.17),))
    >>> liquor = SolutionDensity.of(salt)
    >>> round(float(liquor.density_g_mL(0.10, 20.0)), 3)
    1.054
    >>> float(liquor.water_g_for_volume(10.0, liquor.volume_mL(10.0, 90.0, 20.0), 20.0)).__round__(9)
    90.0
    """

    formula: str
    terms: tuple[_Term, ...]
    edge_mass_fraction: float
    estimated_volume_mL_g: float
    solids: tuple[tuple[float, float], ...]

    @classmethod
    def of(cls, salt: Salt) -> SolutionDensity:
        """Make the model of a salt's solutions from its record.

        Raises
        ------
        DataError
            Where the masses of a double salt's simple salts do not add up to the salt's own.
        """
        mass = molar_mass_g_mol(salt.formula)
        terms: list[_Term] = []
        for share in salt.density_shares:
            part = share.moles * molar_mass_g_mol(share.solute.solute) / mass
            if isinstance(share.solute, DensityFit):
                terms.append(_FittedTerm.of(part, share.solute))
            else:
                terms.append(_TabulatedTerm.of(part, share.solute))
        if terms and abs(sum(term.part for term in terms) - 1) > 1e-3:
            raise DataError(
                f"density shares of {salt.formula}",
                None,
                None,
                "the simple salts' masses must add up to the salt's",
            )
        if any(term.max_mass_fraction < _SLIGHT_FIT for term in terms):
            terms = []
        return cls(
            salt.formula,
            tuple(terms),
            max((term.max_mass_fraction for term in terms), default=0.0),
            _ideal_volume_mL_g(salt),
            _solids(salt),
        )

    @property
    def is_estimate(self) -> bool:
        """Whether no solution density is known and the solid's volume stands in."""
        return not self.terms

    def apparent_volume_mL_g(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> Array:
        """Volume that one gram of dissolved anhydrous salt adds to its water's.

        Parameters
        ----------
        mass_fraction : array_like
            Anhydrous salt in the solution, 0 to 1.
        temperature_C : array_like
            Temperature in °C, broadcast against the first.

        Returns
        -------
        numpy.ndarray
            mL per g of anhydrous salt, continuous; may be negative in dilute sulfates.
        """
        w, t = np.asarray(mass_fraction, dtype=float), np.asarray(temperature_C, dtype=float)
        water = 1 / water_density_g_mL(t)
        edge, slope = self._line(t, water)
        inside, _ = self._fitted(np.minimum(w, self.edge_mass_fraction), t)
        # The line from the edge on, as an apparent volume; at an edge of 0 the middle term is nothing.
        w_line = np.maximum(w, max(self.edge_mass_fraction, 1e-300))
        beyond = slope + water + (edge - slope * self.edge_mass_fraction - water) / w_line
        return np.where(w < self.edge_mass_fraction, inside, beyond)[()]

    def density_g_mL(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> Array:
        """Density of the solution.

        Parameters
        ----------
        mass_fraction : array_like
            Anhydrous salt in the solution, 0 to 1.
        temperature_C : array_like
            Temperature in °C, broadcast against the first.

        Returns
        -------
        numpy.ndarray
            g/mL.
        """
        w, t = np.asarray(mass_fraction, dtype=float), np.asarray(temperature_C, dtype=float)
        return (1 / self._specific_volume(w, t))[()]

    def volume_mL(self, salt_g: ArrayLike, water_g: ArrayLike, temperature_C: ArrayLike) -> Array:
        """Volume of the clear solution of that much anhydrous salt and water, in mL; 0 of an empty pot."""
        salt, water = np.asarray(salt_g, dtype=float), np.asarray(water_g, dtype=float)
        total = salt + water
        w = salt / np.where(total == 0, 1.0, total)
        return (total * self._specific_volume(w, np.asarray(temperature_C, dtype=float)))[()]

    def water_g_for_volume(self, salt_g: ArrayLike, volume_mL: ArrayLike, temperature_C: ArrayLike) -> Array:
        """Water that makes so much salt up to that volume of clear solution.

        Parameters
        ----------
        salt_g : array_like
            Anhydrous salt in g, not negative.
        volume_mL : array_like
            Volume of the solution in mL.
        temperature_C : array_like
            Temperature in °C at which the volume is read.

        Returns
        -------
        numpy.ndarray
            g of water, exact to about 1e-12 of the solution's mass; negative where the volume cannot hold
            even the dissolved salt alone: the caller decides what that means.
        """
        salt, volume = np.asarray(salt_g, dtype=float), np.asarray(volume_mL, dtype=float)
        t = np.asarray(temperature_C, dtype=float)
        per_water = 1 / water_density_g_mL(t)
        edge, slope = self._line(t, per_water)
        w_edge = self.edge_mass_fraction
        rich = (volume - slope * salt) / (edge - slope * w_edge) - salt
        if not self.terms:
            return rich[()]
        water_at_edge = salt * ((1 - w_edge) / w_edge)
        lean = rich > water_at_edge
        if not lean.any():
            return rich[()]
        water = np.where(lean, water_at_edge + (volume - salt * (edge / w_edge)) / per_water, water_at_edge)
        for _ in range(30):
            w = salt / np.maximum(salt + water, 1e-300)
            v, dv = self._fitted(w, t)
            step = (water * per_water + salt * v - volume) / (per_water - w * w * dv)
            water = np.where(lean, np.maximum(water - step, water_at_edge), water)
            if (np.abs(step) <= 1e-13 * (salt + water))[lean].all():
                break
        return np.where(lean, water, rich)[()]

    def mass_fraction_for_density(self, density_g_mL: ArrayLike, temperature_C: ArrayLike) -> Array:
        """Composition of the solution that has that density.

        Parameters
        ----------
        density_g_mL : array_like
            Density in g/mL.
        temperature_C : array_like
            Temperature in °C of the reading.

        Returns
        -------
        numpy.ndarray
            Mass fraction of anhydrous salt: below 0 for a liquid lighter than water, above 1 for one heavier
            than the model's liquid salt; the caller decides what that means.
        """
        density, t = np.broadcast_arrays(np.asarray(density_g_mL, float), np.asarray(temperature_C, float))
        per_water = 1 / water_density_g_mL(t)
        edge, slope = self._line(t, per_water)
        w_edge, wanted = self.edge_mass_fraction, 1 / density
        rich = w_edge + (wanted - edge) / slope
        if not self.terms:
            return rich[()]
        v_0, _ = self._fitted(np.zeros_like(density), t)
        light = (wanted - per_water) / (v_0 - per_water)
        low, high = np.zeros_like(wanted), np.full_like(wanted, w_edge)
        w = w_edge * (wanted - per_water) / (edge - per_water)
        for _ in range(60):
            w = np.where((w > low) & (w < high), w, 0.5 * (low + high))
            v, dv = self._fitted(w, t)
            excess = (1 - w) * per_water + w * v - wanted
            low, high = np.where(excess > 0, w, low), np.where(excess > 0, high, w)
            step = excess / (v + w * dv - per_water)
            w = w - step
            if ((np.abs(step) <= 1e-15) | (wanted > per_water) | (wanted < edge)).all():
                break
        w = np.minimum(np.maximum(w, low), high)
        return np.where(wanted < edge, rich, np.where(wanted > per_water, light, w))[()]

    def relative_doubt(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> Array:
        """Standard relative uncertainty of the density.

        Parameters
        ----------
        mass_fraction : array_like
            Anhydrous salt in the solution, 0 to 1.
        temperature_C : array_like
            Temperature in °C.

        Returns
        -------
        numpy.ndarray
            Fraction of the density.

        Notes
        -----
        0.2 % inside a fit: the root mean square difference from handbook densities at 18-20 °C
        (``tests/published/density_check.csv``). Beyond it 0.15 per mass fraction and 0.0004 per kelvin, the
        latter growing to full size at the fit's edge: the root mean square errors of the 110 fits when each
        is cut short and its end is predicted by holding. Estimates: 4 % from a mass fraction of 0.3 on, see
        the class.
        """
        w, t = np.asarray(mass_fraction, dtype=float), np.asarray(temperature_C, dtype=float)
        if not self.terms:
            estimate = _ESTIMATE_DOUBT * np.minimum(w / _ESTIMATE_FULL_AT, 1.0) + 0.0 * t
            return np.hypot(_BASE_DOUBT, estimate)[()]
        beyond_w: Array = np.zeros(())
        beyond_T: Array = np.zeros(())
        for term in self.terms:
            beyond_w = beyond_w + term.part * np.maximum(w - term.max_mass_fraction, 0.0)
            distance = np.maximum(term.t_min_C - t, 0.0) + np.maximum(t - term.t_max_C, 0.0)
            beyond_T = beyond_T + term.part * distance * np.minimum(w / term.max_mass_fraction, 1.0)
        return np.sqrt(
            _BASE_DOUBT**2 + (_DOUBT_PER_MASS_FRACTION * beyond_w) ** 2 + (_DOUBT_PER_K * beyond_T) ** 2
        )[()]

    def warnings(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> list[str]:
        """Sentences on what the density at these states rests on; empty inside the fits.

        Parameters
        ----------
        mass_fraction, temperature_C : array_like
            The states; one sentence covers them all.

        Returns
        -------
        list of str
            Each names the solute and its range.
        """
        if not self.terms:
            return [
                f"The density of {self.formula} solutions is not in the data: "
                "it is estimated from the solid's volume, to about 4 %."
            ]
        w_max = float(np.max(mass_fraction))
        t_low, t_high = float(np.min(temperature_C)), float(np.max(temperature_C))
        said = []
        for term in self.terms:
            known = f"The density of {term.name} solutions is known"
            low, high = term.t_min_C, term.t_max_C
            if w_max > term.max_mass_fraction + 1e-9:
                said.append(
                    f"{known} up to {100 * term.max_mass_fraction:.1f} mass %; "
                    f"at {100 * w_max:.1f} mass % it is extended from there."
                )
            if t_low < low - 1e-9 or t_high > high + 1e-9:
                span = f"only at {low:.0f} °C" if low == high else f"from {low:.0f} to {high:.0f} °C"
                asked = t_low if t_low < low - 1e-9 else t_high
                said.append(
                    f"{known} {span}; at {asked:.0f} °C the salt's volume is held at its nearest known value."
                )
        return said

    def _fitted(self, w: Array, t: Array) -> tuple[Array, Array]:
        """Apparent volume and its slope from the terms alone, held at their edges."""
        if not self.terms:
            held: Array = np.asarray(self.estimated_volume_mL_g)
            return held, np.zeros(())
        volume: Array = np.zeros(())
        slope: Array = np.zeros(())
        for term in self.terms:
            v, dv = term.volume_and_slope(w, t)
            volume, slope = volume + term.part * v, slope + term.part * dv
        return volume, slope

    def _line(self, t: Array, per_water: Array) -> tuple[Array, Array]:
        """The solution's specific volume at the edge, and its slope from there on, mL/g per mass fraction."""
        w_edge = self.edge_mass_fraction
        v, _ = self._fitted(np.asarray(w_edge), t)
        edge = (1 - w_edge) * per_water + w_edge * v
        slope = v - per_water
        held = slope
        for x, solid in self.solids:
            if x > w_edge:
                meeting = np.minimum(solid / _MELT_SHARE, 0.5 * (edge + solid))
                slope = np.maximum(slope, (meeting - edge) / (x - w_edge))
        return edge, np.minimum(slope, _LEAST_FALL * held)

    def _specific_volume(self, w: Array, t: Array) -> Array:
        per_water = 1 / water_density_g_mL(t)
        edge, slope = self._line(t, per_water)
        v, _ = self._fitted(np.minimum(w, self.edge_mass_fraction), t)
        beyond = edge + slope * (w - self.edge_mass_fraction)
        return np.where(w < self.edge_mass_fraction, (1 - w) * per_water + w * v, beyond)


def _ideal_volume_mL_g(salt: Salt) -> float:
    """Volume of the wettest solid of known density less its water's (25 °C), per g of anhydrous salt."""
    anhydrous = Phase(salt.formula, 0.0)
    known = [p for p in salt.phases if p.waters is not None and p.solid_density_g_mL is not None]
    top = max(known, key=lambda p: p.waters or 0.0, default=anhydrous)
    mass, waters = molar_mass_g_mol(salt.formula), top.waters or 0.0
    density, _ = solid_density_g_mL(salt, top)
    water_mL = waters * WATER_G_MOL / float(water_density_g_mL(25.0))
    return ((mass + waters * WATER_G_MOL) / density - water_mL) / mass


def _solids(salt: Salt) -> tuple[tuple[float, float], ...]:
    """Composition and specific volume (mL/g) of the solids of given density and of the anhydrous salt."""
    given = [p for p in salt.phases if p.waters is not None and p.solid_density_g_mL is not None]
    if all(p.waters for p in given):
        given.append(Phase(salt.formula, 0.0))
    return tuple(
        (composition_mass_fraction(salt.formula, p.waters), 1 / solid_density_g_mL(salt, p)[0]) for p in given
    )
