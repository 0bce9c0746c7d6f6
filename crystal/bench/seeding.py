"""Seed: how much of what size makes crystals of a wanted size, where nothing but the seed grows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.errors import InputError

Floats = NDArray[np.float64]

USUAL_SEED_MM = 0.3


def product_size_mm(seed_mm: ArrayLike, deposit_g: ArrayLike, seed_g: ArrayLike) -> Floats:
    """Size that seed grows to when a mass settles on it, every grain by the same shape and none new.

    Parameters
    ----------
    seed_mm : array_like
        Size of the seed grains.
    deposit_g : array_like
        Crystals that come on top of the seed, g.
    seed_g : array_like
        Seed, g. The three broadcast.

    Returns
    -------
    numpy.ndarray
        L_p = L_s (1 + dM/M_s)^(1/3), in the unit of the seed.

    References
    ----------
    The mass balance of grains of one shape; J. W. Mullin, Crystallization, 4th ed. (2001), ch. 9.

    Examples
    --------
    >>> round(float(product_size_mm(0.5, 700.0, 100.0)), 3)
    1.0
    """
    deposit, seed = np.asarray(deposit_g, float), np.asarray(seed_g, float)
    return np.asarray(np.asarray(seed_mm, float) * np.cbrt(1.0 + deposit / seed))


def critical_share(seed_mm: ArrayLike) -> Floats:
    """Seed, per mass of crop, from which hardly any new crystals come.

    Parameters
    ----------
    seed_mm : array_like
        Size of the seed grains, mm.

    Returns
    -------
    numpy.ndarray
        2.17e-6 times the square of the size in micrometres; a rule of thumb, good to a factor of about two.

    References
    ----------
    N. Doki, N. Kubota and others, Crystal Growth & Design and J. Chem. Eng. Japan (2001-2002), from memory.

    Examples
    --------
    >>> round(float(critical_share(0.1)), 4)
    0.0217
    """
    return np.asarray(2.17 * np.asarray(seed_mm, float) ** 2)


@dataclass(frozen=True, slots=True)
class Seeding:
    """Seed for one crop.

    ``at_C`` is where it goes in. ``crop_g`` is what the cold pot gives beside the seed.
    """

    at_C: float
    seed_mm: float
    seed_g: float
    product_mm: float
    crop_g: float

    @classmethod
    def for_size(
        cls, crop_g: float, at_C: float, product_mm: float, seed_mm: float = USUAL_SEED_MM
    ) -> Seeding:
        """How much seed gives crystals of a size.

        Raises
        ------
        InputError
            Where the wanted size is not above the seed's, or nothing crystallises.

        Examples
        --------
        >>> round(Seeding.for_size(700.0, 40.0, 1.0, 0.5).seed_g, 6)
        100.0
        """
        if not crop_g > 0:
            raise InputError(
                "--size", f"{product_mm:g} mm", "asked of a pot that crystallises", "a colder --cool-to"
            )
        if not 0 < seed_mm < product_mm:
            raise InputError(
                "--size",
                f"{product_mm:g} mm",
                f"above the seed's size ({seed_mm:g} mm), itself above 0",
                "2 mm",
            )
        return cls(at_C, seed_mm, crop_g / ((product_mm / seed_mm) ** 3 - 1.0), product_mm, crop_g)

    @property
    def critical_g(self) -> float:
        """Seed of this size from which hardly any other crystals come, g; see :func:`critical_share`."""
        return float(critical_share(self.seed_mm)) * self.crop_g

    @property
    def warnings(self) -> list[str]:
        """What to mind with so much seed."""
        said = [
            "The size holds where every grain grows and no new ones come: seed wet, inside the zone, cool along the curve and "
            "stir gently. Dust on the seed counts as many grains: rinse it with a little saturated liquor."
        ]
        if self.seed_g < self.critical_g:
            said.append(
                f"{self.seed_g:.2g} g of seed is little: by a rule of thumb it takes about {float(f'{self.critical_g:.2g}'):g} g of "
                f"{self.seed_mm:g} mm (a factor of two either way) to keep other crystals from coming. Cool the slower, or take "
                "finer seed: the rule goes with the square of its size."
            )
        if self.seed_g > 0.2 * self.crop_g:
            said.append(f"{self.seed_g:.3g} g of seed is more than a fifth of the crop: take smaller seed.")
        return said
