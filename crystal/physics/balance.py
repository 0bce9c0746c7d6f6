"""The balance of a crop by hand: crystals of one solid over a liquor of given strength."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def crystals_over_liquor_g(
    salt_g: ArrayLike, water_g: ArrayLike, liquor_g_per_g_water: ArrayLike, solid_salt_share: ArrayLike
) -> Floats:
    """Crystals that a pot throws down until its liquor has the given strength.

    Parameters
    ----------
    salt_g, water_g : array_like
        Anhydrous salt and all water in the pot, g.
    liquor_g_per_g_water : array_like
        Solubility s: g of anhydrous salt per g of water in the liquor left.
    solid_salt_share : array_like
        x: g of anhydrous salt per g of the solid, 1 for the anhydrous salt itself.

    Returns
    -------
    array
        Crystals, g, broadcast: (A - s W) / (x - s (1 - x)); 0 where the pot is not saturated. Where the crystals
        would need more than all of the water the pot has no liquor left and the whole pot is returned.

    Notes
    -----
    Balance of salt and water; crystals take water with them, which is why the yield of a hydrate runs away. A liquor
    richer than the solid cannot be reached this way: the result is then 0 for pots leaner than the solid.

    Examples
    --------
    >>> float(crystals_over_liquor_g(184.0, 225.0, 0.316, 1.0)).__round__(1)
    112.9
    """
    salt, water, s, x = np.broadcast_arrays(
        *(np.asarray(a, float) for a in (salt_g, water_g, liquor_g_per_g_water, solid_salt_share))
    )
    excess, per_crystal = salt - s * water, x - s * (1.0 - x)
    crystals = np.divide(excess, per_crystal, out=np.zeros_like(excess), where=per_crystal > 0)
    crystals = np.maximum(crystals, 0.0)
    return np.minimum(crystals, salt + water)
