"""Further dissolved matter in a pot: free acid, a by-product salt. It adds mass and volume and stays in the liquor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.catalogue import Catalogue
from crystal.data.reagents import Reagents
from crystal.data.records import Salt
from crystal.errors import InputError
from crystal.physics.density import SolutionDensity
from crystal.physics.formula import Hydrate, molar_mass_g_mol
from crystal.physics.water import density_g_mL as water_density_g_mL

Floats = NDArray[np.float64]

_ROUNDS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Others:
    """Dissolved matter beside the salt, by formula; grams of the anhydrous substance.

    Their volume follows the mixture rule of the density model: each substance's apparent volume at the total mass
    fraction of solutes.

    Parameters
    ----------
    formulas : tuple of str
    grams : tuple of float
    densities : tuple of SolutionDensity
        Density of each one's own solutions.
    plain : bool
        Whether the salt is taken to crystallise as if they were not there.
    """

    formulas: tuple[str, ...] = ()
    grams: tuple[float, ...] = ()
    densities: tuple[SolutionDensity, ...] = ()
    plain: bool = False

    @classmethod
    def of(cls, amounts_g: Mapping[str, float], catalogue: Catalogue | None = None) -> Others:
        """Take substances by formula; reagents and salts of the catalogue bring their densities.

        Parameters
        ----------
        amounts_g : mapping of str to float
            Grams of each anhydrous substance; a substance of 0 g is left out.
        catalogue : Catalogue, optional
            Where salts are looked up; the bundled one unless given.

        Raises
        ------
        InputError
            Where an amount is negative or not a number, or a formula cannot be read.

        Examples
        --------
        >>> Others.of({"HCl": 12.0}).total_g
        12.0
        """
        kept = {}
        for formula, grams in amounts_g.items():
            if not (np.isfinite(grams) and grams >= 0):
                raise InputError("--with", f"{grams:g} g of {formula}", "0 g or more", "12 g of HCl")
            if grams > 0:
                kept[formula] = float(grams)
        salts = [_record(formula, catalogue or Catalogue.bundled()) for formula in kept]
        return cls(tuple(kept), tuple(kept.values()), tuple(SolutionDensity.of(s) for s in salts))

    @property
    def total_g(self) -> float:
        return sum(self.grams)

    @property
    def amounts_g(self) -> dict[str, float]:
        return dict(zip(self.formulas, self.grams, strict=True))

    def __bool__(self) -> bool:
        return bool(self.grams)

    def scaled(self, factor: float | Floats) -> Others:
        """More or less of the same; an array of factors makes the grams arrays."""
        return replace(self, grams=tuple(factor * g for g in self.grams))  # type: ignore[misc]

    def volume_mL(
        self, salt: SolutionDensity, salt_g: ArrayLike, water_g: ArrayLike, temperature_C: ArrayLike
    ) -> Floats:
        """Volume of the clear liquid of so much salt, water and these, mL; the inputs broadcast.

        Parameters
        ----------
        salt : SolutionDensity
            Density of the salt's own solutions.
        salt_g, water_g : array_like
            Grams of anhydrous salt and water.
        temperature_C : array_like
            Temperature, °C.
        """
        if not self:
            return np.asarray(salt.volume_mL(salt_g, water_g, temperature_C))
        s, w = np.asarray(salt_g, float), np.asarray(water_g, float)
        whole = s + w + self.total_g
        solutes = np.divide(s + self.total_g, whole, out=np.zeros(np.shape(whole)), where=whole > 0)
        volume = w / water_density_g_mL(temperature_C) + s * salt.apparent_volume_mL_g(solutes, temperature_C)
        for grams, density in zip(self.grams, self.densities, strict=True):
            volume = volume + grams * density.apparent_volume_mL_g(solutes, temperature_C)
        return np.asarray(volume)

    def water_g_for_volume(
        self, salt: SolutionDensity, salt_g: ArrayLike, volume_mL: ArrayLike, temperature_C: ArrayLike
    ) -> Floats:
        """Water that makes so much salt and these up to a volume, g; negative where they alone fill more."""
        if not self:
            return np.asarray(salt.water_g_for_volume(salt_g, volume_mL, temperature_C))
        s, v, t = (np.asarray(x, float) for x in (salt_g, volume_mL, temperature_C))
        light = water_density_g_mL(t)
        dry = self.volume_mL(salt, s, 0.0, t)
        water = np.maximum((v - dry) * light, 0.0)
        for _ in range(_ROUNDS):
            off = v - self.volume_mL(salt, s, water, t)
            # The solutes' own volume hardly changes with dilution: a step of pure water nearly closes the gap.
            step = off * light
            water = np.maximum(water + step, 0.0)
            if np.all(np.abs(step) <= 1e-13 * (water + s + self.total_g)) or not np.any(water):
                break
        return np.where(v >= dry, water, (v - dry) * light)

    def warnings(self, salt_formula: str, *, either_way: bool = False) -> list[str]:
        """What their presence means for an answer that rests on the pure salt's curve.

        ``either_way`` where the usual rule of shared ions is known not to hold.
        """
        if not self:
            return []
        named = ", ".join(f"{grams:.3g} g of {formula}" for formula, grams in self.amounts_g.items())
        usual = (
            ""
            if either_way
            else ": an acid or salt that shares an ion with it usually pushes it out (crystals come earlier and there are more "
            "of them), one that shares none often keeps more of it dissolved"
        )
        text = f"The pot also holds {named}. The curve is that of pure {salt_formula} in water{usual}. They stay in the liquor."
        return [text, *self.volume_notes()]

    def volume_notes(self) -> list[str]:
        """Which of them fill a volume that is only estimated."""
        guessed = [f for f, d in zip(self.formulas, self.densities, strict=True) if d.is_estimate]
        if not guessed:
            return []
        return [
            f"The volume that {', '.join(guessed)} adds is estimated: no solution density is in the data."
        ]


NOTHING = Others()
"""A pot of salt and water alone."""


def _record(formula: str, catalogue: Catalogue) -> Salt:
    reagents = Reagents.bundled()
    if formula in reagents:
        return reagents.find(formula).salt
    if formula in catalogue.salts:
        return catalogue.salts[formula]
    if Hydrate.parse(formula).waters:
        raise InputError(
            "--with", formula, "named without crystal water, its water counted as water", "12 g of HCl"
        )
    molar_mass_g_mol(formula)
    return Salt(formula, formula)
