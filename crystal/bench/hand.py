"""A hand calculation checked: a crop from a solubility that the person gives, of any hydrate they name."""

from __future__ import annotations

from dataclasses import dataclass

from crystal.errors import InputError
from crystal.physics.balance import crystals_over_liquor_g


@dataclass(frozen=True, slots=True)
class HandCrop:
    """Crystals and liquor from a given solubility; masses in g.

    ``liquor_left`` is False where the pot has set: the crystals would need more water than there is.
    """

    crystals_g: float
    liquor_g: float
    liquor_mass_fraction: float
    yield_fraction: float
    liquor_left: bool

    @classmethod
    def of(
        cls, salt_g: float, water_g: float, liquor_g_per_g_water: float, solid_salt_share: float
    ) -> HandCrop:
        """Work out the crop.

        Parameters
        ----------
        salt_g, water_g : float
            Anhydrous salt and all water in the pot, g.
        liquor_g_per_g_water : float
            Solubility at the final temperature, g anhydrous salt per g water.
        solid_salt_share : float
            g of anhydrous salt per g of the crystals.

        Raises
        ------
        InputError
            Where the solubility is at or above the crystals' own composition, so that no such crystals can come.

        Examples
        --------
        >>> crop = HandCrop.of(3000.0, 7000.0, 0.215, 106.0 / 286.2)
        >>> round(crop.crystals_g), round(crop.liquor_g)
        (6362, 3638)
        """
        if solid_salt_share < 1.0 and liquor_g_per_g_water >= solid_salt_share / (1.0 - solid_salt_share):
            most = solid_salt_share / (1.0 - solid_salt_share)
            raise InputError(
                "--solubility",
                f"{100 * liquor_g_per_g_water:.4g} g/100 g water",
                f"below the crystals' own composition, {100 * most:.4g} g/100 g water",
                "21.5 g/100 g water",
            )
        total = salt_g + water_g
        crystals = float(crystals_over_liquor_g(salt_g, water_g, liquor_g_per_g_water, solid_salt_share))
        left_water = water_g - crystals * (1.0 - solid_salt_share)
        has_liquor = left_water > 1e-12 * total
        if not has_liquor:
            crystals = total
        salt_left = salt_g - crystals * solid_salt_share if has_liquor else 0.0
        liquor = total - crystals
        in_crystals = salt_g - salt_left
        return cls(
            crystals,
            liquor,
            salt_left / liquor if has_liquor and liquor > 0 else 0.0,
            in_crystals / salt_g if salt_g > 0 else 0.0,
            has_liquor,
        )
