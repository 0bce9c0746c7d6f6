"""The temperature at which a salt's solution boils when others are dissolved in it, in the same proportion throughout."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.physics.boiling import (
    ERROR_PER_K,
    ERROR_PER_K_AND_PHI,
    IONS,
    LEAST_ERROR_K,
    NONE,
    Boiling,
    composition_of_boiling,
)
from crystal.physics.company import moles_of
from crystal.physics.company_doubt import COMPLEXING
from crystal.physics.formula import WATER_G_MOL, molar_mass_g_mol
from crystal.physics.model import Model
from crystal.physics.others import Others
from crystal.physics.products import Products
from crystal.physics.saturation import Beside
from crystal.physics.vapour import boiling_temperature_C, boiling_with_activity_C

Floats = NDArray[np.float64]

MIXED_ERROR_PER_K = 0.10
"""Added to the error's share of the elevation where half of the ions are the others', less where the mixture is lopsided."""

TRACE = 1e-3
"""Share of the salt's mass below which others are left out of its boiling: they move it by hundredths of a kelvin."""

VOLATILE = ("HCl", "HBr", "HNO3")
VOLATILE_MOLALITY = 3.0
"""Molality of a volatile acid up to which its own vapour is left out; above it the pot boils cooler than water tells."""


@dataclass(frozen=True, eq=False, slots=True)
class BoilingBeside:
    """Boiling temperatures of a salt's solutions beside others, as :class:`Boiling` has them for the salt alone.

    Parameters
    ----------
    beside : Beside or None
        The ions; None where the boiling temperature is not told.
    salt_g_mol : float
        Molar mass of the anhydrous salt.
    others_mol : float
        Moles of all others together per mole of the salt.
    volatile_mol : float
        Moles of volatile acid per mole of the salt.
    reason : str
        Why nothing is told, in half a sentence; empty where something is.

    Notes
    -----
    Water's activity in the mixture at 25 °C, from the same parameters as for the salts alone and the mixing terms in the
    data, taken for the boiling liquor. The range ends where the shares that each substance uses of its own parameters'
    molality sum to one. The stated error is that of a salt alone, with the mixture's osmotic coefficient, and up to a
    tenth of the elevation more, as mixing terms may be missing. Sea water's published elevations are met within 0.1 K up to
    120 g/kg, sulfuric acid's boiling points up to 30 % within 0.5 K (``tests/published/boiling_mixed.csv``). Hydrochloric
    acid of 10 % would come out 1.3 K too hot: volatile acids end at 3 mol/kg.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.others import Others
    >>> model = Model.of(Catalogue.bundled().find("NaCl"))
    >>> boiling = BoilingBeside.of(model, 50.0, Others.of({"KCl": 20.0}))
    >>> round(float(boiling.temperature_C(0.15, 101.325)), 1)
    104.4
    """

    beside: Beside | None
    salt_g_mol: float
    others_mol: float
    volatile_mol: float
    reason: str = ""

    @classmethod
    def of(cls, model: Model, salt_g: float, others: Others) -> BoilingBeside:
        """What is known of the boiling of so much salt with so much of others, in any amount of water."""
        salt_g_mol = molar_mass_g_mol(model.salt.formula)
        moles = {f: n / (salt_g / salt_g_mol) for f, n in moles_of(others.amounts_g).items()}
        beside = Beside(Products(model), moles)
        reason = _reason_against(model.salt.formula, beside)
        volatile = sum(n for f, n in moles.items() if f in VOLATILE)
        return cls(None if reason else beside, salt_g_mol, sum(moles.values()), volatile, reason)

    @property
    def range_mass_fraction(self) -> float:
        """Salt / (salt + water) at which the parameters' range, or that of a volatile acid, ends; 0 where none."""
        if self.beside is None:
            return 0.0
        used = float(self.beside.reach_used(1.0, self.others_mol))
        most = min(1.0 / used, VOLATILE_MOLALITY / self.volatile_mol if self.volatile_mol else np.inf)
        grams = most * self.salt_g_mol
        return grams / (1000.0 + grams)

    @property
    def highest_mass_fraction(self) -> float:
        """Composition up to which a boiling temperature is given; 0 where none is."""
        return self.range_mass_fraction

    def basis(self, mass_fraction: ArrayLike) -> NDArray[np.int8]:
        """``IONS`` within the range, else ``NONE``."""
        w = np.asarray(mass_fraction, dtype=float)
        return np.where((w > 0) & (w <= self.range_mass_fraction), IONS, NONE).astype(np.int8)

    def water_activity(self, mass_fraction: ArrayLike) -> Floats:
        """Water activity at compositions salt / (salt + water); NaN where nothing is known."""
        return np.exp(self._ln_water(mass_fraction))

    def temperature_C(self, mass_fraction: ArrayLike, pressure_kPa: ArrayLike) -> Floats:
        """Boiling temperature, °C; as :meth:`Boiling.temperature_C`."""
        return boiling_with_activity_C(self.water_activity(mass_fraction), pressure_kPa)

    def error_K(self, mass_fraction: ArrayLike, pressure_kPa: ArrayLike) -> Floats:
        """Stated error of :meth:`temperature_C`, K, either way; NaN where that is."""
        w, p = np.broadcast_arrays(np.asarray(mass_fraction, float), np.asarray(pressure_kPa, float))
        rise = self.temperature_C(w, p) - boiling_temperature_C(p)
        share = ERROR_PER_K + ERROR_PER_K_AND_PHI * np.maximum(self._osmotic(w) - 1.0, 0.0)
        mine, theirs = self._ions
        share = share + MIXED_ERROR_PER_K * 2.0 * min(mine, theirs) / max(mine + theirs, 1e-300)
        return np.asarray(LEAST_ERROR_K + share * rise)[()]

    def mass_fraction(self, temperature_C: float, pressure_kPa: float) -> float:
        """Composition of the solution that boils at a temperature; NaN below water's or above the last known one."""
        return composition_of_boiling(self, temperature_C, pressure_kPa)

    @property
    def _ions(self) -> tuple[float, float]:
        """Moles of ions per mole of the salt: its own, and the others'."""
        if self.beside is None:
            return 0.0, 0.0
        return float(self.beside.of_salt.sum()), float(self.others_mol * self.beside.of_others.sum())

    def _molality(self, mass_fraction: ArrayLike) -> Floats:
        """mol of salt per kg of water; NaN out of range."""
        w = np.asarray(mass_fraction, dtype=float)
        inside = (w >= 0) & (w <= self.range_mass_fraction)
        w = np.where(inside, w, 0.0)
        return np.where(inside, 1000.0 * w / ((1.0 - w) * self.salt_g_mol), np.nan)

    def _ln_water(self, mass_fraction: ArrayLike) -> Floats:
        m = self._molality(mass_fraction)
        if self.beside is None:
            return np.full(m.shape, np.nan)[()]
        some = np.where(np.isfinite(m), m, 0.0)
        ln_water = self.beside.ln_product(some, self.others_mol * some)[1]
        return np.where(np.isfinite(m), ln_water, np.nan)[()]

    def _osmotic(self, mass_fraction: ArrayLike) -> Floats:
        """Osmotic coefficient of all ions together; 1 in pure water."""
        m = self._molality(mass_fraction)
        with np.errstate(invalid="ignore", divide="ignore"):
            phi = -self._ln_water(mass_fraction) / (sum(self._ions) * m * WATER_G_MOL / 1000.0)
        return np.where(m == 0.0, 1.0, phi)


def boiling_of(model: Model, salt_g: float, others: Others) -> Boiling | BoilingBeside:
    """What is known of the boiling of a pot's liquor, whether or not there is something beside the salt."""
    if not others or others.total_g < TRACE * salt_g:
        return Boiling.of(model)
    return BoilingBeside.of(model, salt_g, others)


def _reason_against(formula: str, beside: Beside) -> str:
    """Why no boiling temperature is told, in half a sentence; empty where one is."""
    ions = beside.products.ions
    if ions is None:
        return f"{formula} is no salt of known ions"
    if beside.unread:
        return f"{' and '.join(beside.unread)} is no salt or strong acid of known ions"
    metal = next((ion for ion in COMPLEXING if ion in beside.ions), None)
    if metal is not None and "Cl-" in beside.ions:
        return f"{metal} binds chloride there, which frees water to an extent that is not in the data"
    missing = beside.products.missing or beside.missing
    if missing:
        pairs = ", ".join(f"{cation} with {anion}" for cation, anion in missing)
        return f"no ion-interaction parameters are in the data for {pairs}"
    return ""
