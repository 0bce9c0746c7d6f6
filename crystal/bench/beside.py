"""Pots with others in them, tabulated: what composition, temperature and share of others make, for many draws at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from crystal.bench.cooling import Cooled
from crystal.bench.even import between, place
from crystal.bench.pot import Pot

Floats = NDArray[np.float64]

_W, _T, _S = 161, 65, 3
_REACH_K = 16.0
_SALT = 0.12
"""Salt is tabulated this far on either side of what is thought, as a logarithm; held beyond."""


@dataclass(frozen=True, eq=False)
class Tabulated:
    """The salt's crystals' share of salt and water, and all crystals' of the volume, by salt, temperature and composition.

    Between the nodes all runs straight, so that thresholds are blurred by about a node's width: less than half a mass
    per cent.
    """

    salt: Floats
    temperature_C: Floats
    mass_fraction: Floats
    share: Floats
    filled: Floats
    known: Floats

    @classmethod
    def of(cls, start: Pot, about_C: float) -> Tabulated:
        """Tabulate a pot about a temperature, 16 K either way, from its start's composition to the dry salt."""
        return _tabulated(start, round(about_C))

    def read(
        self, salt: Floats, temperature_C: Floats, mass_fraction: Floats
    ) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """The salt's crystals per mass of salt and water, all crystals per volume of the cooled pot, and whether that is known.

        Parameters
        ----------
        salt, temperature_C : arrays (n,)
            Factor on the salt, °C.
        mass_fraction : array (m, n)
            Salt / (salt + water).
        """
        s, along_s = place(self.salt, np.log(salt))
        t, along_t = place(self.temperature_C, temperature_C)
        w, along_w = place(self.mass_fraction, mass_fraction)
        # Salt and temperature are the draw's own: one row over the compositions that occur is made for each draw.
        first = int(w.min(initial=len(self.mass_fraction) - 2))
        columns = slice(first, int(w.max(initial=0)) + 2)
        at = w - first + (columns.stop - first) * np.arange(len(salt))
        corners = [
            (s + i, t + j, (of_s * of_t)[:, None])
            for i, of_s in ((0, 1 - along_s), (1, along_s))
            for j, of_t in ((0, 1 - along_t), (1, along_t))
        ]
        found = []
        for values in (self.share, self.filled, self.known):
            rows = np.zeros((len(salt), columns.stop - first))
            for i, j, share in corners:
                rows += values[i, j, columns] * share
            found.append(between(rows.ravel(), at, along_w))
        return found[0], found[1], found[2] > 0.5


@lru_cache(maxsize=8)
def _tabulated(start: Pot, about_C: int) -> Tabulated:
    salt = np.linspace(-_SALT, _SALT, _S)
    low, high = start.model.map.low_C, start.model.map.high_C
    t = np.linspace(
        max(low, min(about_C - _REACH_K, high - 1.0)), min(high, max(about_C + _REACH_K, low + 1.0)), _T
    )
    w = np.linspace(0.8 * start.mass_fraction, 1.0 - 1e-6, _W)
    grams = start.salt_g * np.exp(salt)[:, None, None] + np.zeros((1, _T, _W))
    with np.errstate(invalid="ignore"):
        cooled = Cooled.of(
            start.model,
            grams,
            grams * (1.0 - w) / w,
            t[:, None] + np.zeros(grams.shape),
            strict=False,
            others=start.others,
        )
    filled = np.where(cooled.equilibrium.liquor_fraction > 0, cooled.crystal_volume_fraction, 1.0)
    known = (cooled.outcome >= 0).astype(float)
    own_g = cooled.crystals_g - cooled.others_crystals_g
    share = np.where(known > 0, own_g / (cooled.salt_g + cooled.water_g), 0.0)
    return Tabulated(salt, t, w, share, np.where(known > 0, filled, 0.0), known)
