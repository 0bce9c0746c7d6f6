"""The temperature at which a salt's solution boils, and the composition that a boiling temperature means."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.records import Salt
from crystal.physics.activity import Activity
from crystal.physics.formula import WATER_G_MOL, molar_mass_g_mol
from crystal.physics.model import Model
from crystal.physics.vapour import (
    STANDARD_kPa,
    activity_of_boiling,
    boiling_temperature_C,
    boiling_with_activity_C,
)

Floats = NDArray[np.float64]

NONE, IONS, BETWEEN = 0, 1, 2
"""What a boiling temperature rests on: nothing, ion interaction, or the way from its end to the saturated liquor."""

LEAST_ERROR_K = 0.2
ERROR_PER_K = 0.10
ERROR_PER_K_AND_PHI = 0.3
ANCHOR_ERROR_K = 1.5
BETWEEN_PER_K = 0.1


@dataclass(frozen=True, slots=True)
class SaturatedBoiling:
    """A tabulated boiling temperature of a saturated liquor at one atmosphere; ``mass_fraction`` None if not given."""

    temperature_C: float
    mass_fraction: float | None
    source: str
    provenance: str

    @classmethod
    def of(cls, salt: Salt) -> SaturatedBoiling | None:
        """The salt's value in the data; None where there is none."""
        text = salt.extra.get("saturated_boiling_C", "")
        if not text:
            return None
        percent = salt.extra.get("saturated_boiling_mass_percent", "")
        return cls(
            float(text),
            float(percent) / 100.0 if percent else None,
            salt.extra.get("boiling_source", ""),
            salt.extra.get("boiling_provenance", ""),
        )


@dataclass(frozen=True, slots=True)
class Boiling:
    """Boiling temperatures of one salt's solutions.

    Parameters
    ----------
    molar_mass_g_mol : float
        Of the anhydrous salt.
    activity : Activity or None
        Water activity at 25 °C from ion-interaction parameters, up to their highest molality.
    saturated : SaturatedBoiling or None
        The saturated liquor's boiling temperature at one atmosphere, where the data hold it.

    Notes
    -----
    The osmotic coefficients of 25 °C are taken for the boiling liquor. From the end of their range to a tabulated
    saturated liquor with its composition, -ln a runs straight in molality. Everywhere else nothing is said (NaN).

    The stated error is 0.2 K + (0.1 + 0.3 (phi - 1)) of the elevation, the last where the osmotic coefficient phi
    is above 1: strong interaction fades with heat, so strong liquors of lithium, calcium, magnesium and of alkalis
    come out too high. It holds 95 of 98 handbook points on 18 salts (``tests/published/boiling_elevation.csv``).
    Between the range and the saturated liquor it grows to 1.5 K and a tenth of the way.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> boiling = Boiling.of(Model.of(Catalogue.bundled().find("NaCl")))
    >>> round(float(boiling.temperature_C(0.20, 101.325)), 1)
    105.0
    """

    molar_mass_g_mol: float
    activity: Activity | None
    saturated: SaturatedBoiling | None

    @classmethod
    def of(cls, model: Model) -> Boiling:
        """What is known of the boiling of a salt's solutions."""
        return cls(
            molar_mass_g_mol(model.salt.formula),
            Activity.of(model.salt.formula),
            SaturatedBoiling.of(model.salt),
        )

    @property
    def range_mass_fraction(self) -> float:
        """Composition up to which the ion-interaction parameters reach; 0 where there are none."""
        return 0.0 if self.activity is None else self.activity.max_mass_fraction

    @property
    def highest_mass_fraction(self) -> float:
        """Composition up to which a boiling temperature is given; 0 where none is."""
        anchor = self._anchor()
        return self.range_mass_fraction if anchor is None else anchor[0]

    def basis(self, mass_fraction: ArrayLike) -> NDArray[np.int8]:
        """What a boiling temperature rests on: ``NONE``, ``IONS`` or ``BETWEEN``."""
        w = np.asarray(mass_fraction, dtype=float)
        inside, known = w <= self.range_mass_fraction, w <= self.highest_mass_fraction
        reached = np.where(inside, IONS, np.where(known, BETWEEN, NONE))
        return np.where((w < 0) | (self.activity is None), NONE, reached).astype(np.int8)

    def water_activity(self, mass_fraction: ArrayLike) -> Floats:
        """Water activity at compositions salt / (salt + water); NaN where nothing is known."""
        w = np.asarray(mass_fraction, dtype=float)
        basis = self.basis(w)
        if self.activity is None:
            return np.full(w.shape, np.nan)[()]
        edge = self.range_mass_fraction
        m = self.activity.molality(np.clip(w, 0.0, self.highest_mass_fraction))
        a = self.activity.water_activity(np.minimum(m, self.activity.ions.max_molality))
        anchor = self._anchor()
        if anchor is not None:
            m1, m2 = self.activity.molality(edge), self.activity.molality(anchor[0])
            share = np.clip((m - m1) / (m2 - m1), 0.0, 1.0)
            edge_a = self.activity.water_activity(m1)
            a = np.where(basis == BETWEEN, edge_a * (anchor[1] / edge_a) ** share, a)
        return np.where(basis == NONE, np.nan, a)[()]

    def temperature_C(self, mass_fraction: ArrayLike, pressure_kPa: ArrayLike) -> Floats:
        """Boiling temperature.

        Parameters
        ----------
        mass_fraction : array_like
            Salt / (salt + water).
        pressure_kPa : array_like
            The air's pressure, kPa; the two broadcast.

        Returns
        -------
        numpy.ndarray
            °C; NaN where nothing is known of that composition.
        """
        return boiling_with_activity_C(self.water_activity(mass_fraction), pressure_kPa)

    def error_K(self, mass_fraction: ArrayLike, pressure_kPa: ArrayLike) -> Floats:
        """Stated error of :meth:`temperature_C`, K, either way; NaN where that is."""
        w, p = np.broadcast_arrays(np.asarray(mass_fraction, float), np.asarray(pressure_kPa, float))
        water_C = boiling_temperature_C(p)
        if self.activity is None:
            return np.full(w.shape, np.nan)[()]
        within = np.clip(w, 0.0, self.range_mass_fraction)
        phi = self.activity.osmotic_coefficient(self.activity.molality(within))
        share = ERROR_PER_K + ERROR_PER_K_AND_PHI * np.maximum(phi - 1.0, 0.0)
        edge_C = self.temperature_C(within, p)
        error = LEAST_ERROR_K + share * (edge_C - water_C)
        way = self.temperature_C(w, p) - edge_C
        beyond = np.maximum(error, ANCHOR_ERROR_K) + BETWEEN_PER_K * way
        return np.where(self.basis(w) == BETWEEN, beyond, error + 0.0 * way)[()]

    def mass_fraction(self, temperature_C: float, pressure_kPa: float) -> float:
        """Composition of the solution that boils at a temperature; NaN below water's or above the last known one."""
        return composition_of_boiling(self, temperature_C, pressure_kPa)

    def disagreement_K(self) -> float | None:
        """Computed less tabulated boiling temperature of the saturated liquor at one atmosphere.

        None where no table has it with its composition, or that lies beyond the parameters' range.
        """
        at = self.saturated
        if at is None or at.mass_fraction is None or at.mass_fraction > self.range_mass_fraction:
            return None
        return float(self.temperature_C(at.mass_fraction, STANDARD_kPa)) - at.temperature_C

    def extrapolated_C(self, mass_fraction: float, pressure_kPa: float) -> float:
        """What the parameters would say if they were used at any composition: to show how far off, never as an answer."""
        if self.activity is None:
            return float("nan")
        a = self.activity.water_activity(self.activity.molality(mass_fraction))
        return float(boiling_with_activity_C(a, pressure_kPa))

    def _anchor(self) -> tuple[float, float] | None:
        """Composition and water activity of the tabulated saturated liquor, where it lies beyond the range."""
        at = self.saturated
        if self.activity is None or at is None or at.mass_fraction is None:
            return None
        a = float(activity_of_boiling(at.temperature_C, STANDARD_kPa))
        edge = self.range_mass_fraction
        if at.mass_fraction <= edge or a >= float(
            self.activity.water_activity(self.activity.ions.max_molality)
        ):
            return None
        return at.mass_fraction, a


class KnownBoiling(Protocol):
    """What boiling temperatures are known of one liquor against salt / (salt + water)."""

    @property
    def highest_mass_fraction(self) -> float: ...
    def water_activity(self, mass_fraction: ArrayLike) -> Floats: ...
    def temperature_C(self, mass_fraction: ArrayLike, pressure_kPa: ArrayLike) -> Floats: ...


def composition_of_boiling(boiling: KnownBoiling, temperature_C: float, pressure_kPa: float) -> float:
    """Composition of the liquor that boils at a temperature; NaN below water's or above the last known one."""
    high = boiling.highest_mass_fraction
    top = float(boiling.temperature_C(high, pressure_kPa)) if high else np.nan
    if not float(boiling_temperature_C(pressure_kPa)) <= temperature_C <= top:
        return float("nan")
    from scipy.optimize import brentq

    wanted = np.log(float(activity_of_boiling(temperature_C, pressure_kPa)))

    def over(w: float) -> float:
        return float(np.log(float(boiling.water_activity(w)))) - wanted

    # At either end what is wanted may be met but for rounding.
    if over(0.0) <= 0.0:
        return 0.0
    return high if over(high) >= 0.0 else float(brentq(over, 0.0, high, xtol=1e-15))


def at_least_C(boiling: KnownBoiling, mass_fraction: float, pressure_kPa: float) -> tuple[float, bool]:
    """A temperature that the boiling liquor reaches at least, °C, and whether it is the boiling temperature itself.

    Beyond what is known that of the highest known composition is taken, or pure water's: dissolved matter only raises it.
    """
    known = float(boiling.temperature_C(mass_fraction, pressure_kPa))
    if not np.isnan(known):
        return known, True
    high = boiling.highest_mass_fraction
    if high and mass_fraction > high:
        return float(boiling.temperature_C(high, pressure_kPa)), False
    return float(boiling_temperature_C(pressure_kPa)), False


def elevation_constant_K_kg_mol() -> float:
    """Water's boiling elevation per mole of particles in a kilogram of it, in the dilute limit at one atmosphere.

    Examples
    --------
    >>> round(elevation_constant_K_kg_mol(), 3)
    0.513
    """
    few = 1e-3
    warmer = boiling_with_activity_C(np.exp(-few * WATER_G_MOL / 1000.0), STANDARD_kPa)
    return float(warmer - boiling_temperature_C(STANDARD_kPa)) / few
