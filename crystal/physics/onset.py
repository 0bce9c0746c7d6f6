"""The temperature of first crystals: the phase map read the other way round."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.physics.phasemap import PhaseMap

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class FirstSolid:
    """First solid met on cooling: temperature in °C, index of the solid, and whether there is one at all."""

    temperature_C: Floats
    solid: NDArray[np.int8]
    found: NDArray[np.bool_]


class Onset:
    """For each composition the temperature at which solid first appears on cooling from the hottest clear range.

    A solid appears on cooling where a saturation branch has its clear liquid on the hot side; of all such crossings of
    one composition the hottest bounds the hottest clear range. A branch whose liquid lies on its cold side (a salt
    less soluble hot) is never met by cooling.

    Parameters
    ----------
    phase_map : PhaseMap
        The map to be read.
    """

    def __init__(self, phase_map: PhaseMap) -> None:
        falling = [
            (index, w, t)
            for index, solid in enumerate(phase_map.solids)
            for piece in solid.pieces
            for sign, w, t in piece.monotone_parts()
            if (sign > 0) == (piece.side == "lean")
        ]
        grid = np.unique(np.concatenate([w for _, w, _ in falling] or [np.array([0.0, 1.0])]))
        middle = (grid[:-1] + grid[1:]) / 2
        best = np.full(len(middle), -np.inf)
        self._solid = np.full(len(middle), -1, dtype=np.int8)
        self._low, self._high = np.zeros(len(middle)), np.zeros(len(middle))
        for index, w, t in falling:
            at = np.interp(middle, w, t, left=-np.inf, right=-np.inf)
            better = at > best
            best[better] = at[better]
            self._solid[better] = index
            self._low[better] = np.interp(grid[:-1], w, t)[better]
            self._high[better] = np.interp(grid[1:], w, t)[better]
        self._grid = grid

    def first(self, mass_fraction: ArrayLike) -> FirstSolid:
        """First solid on cooling for each composition.

        Parameters
        ----------
        mass_fraction : array_like
            Salt / (salt + water), 0 to 1.

        Returns
        -------
        FirstSolid
            Arrays of the same shape. ``found`` is False where no clear liquid of that composition is known to give
            solid on cooling; the temperature is 0 there. The solid may be ice (its index tells).

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> phase_map = PhaseMap.of(Catalogue.bundled().find("KNO3"))
        >>> round(float(Onset(phase_map).first(0.457).temperature_C), 1)
        50.0
        """
        w = np.asarray(mass_fraction, float)
        cell = np.clip(np.searchsorted(self._grid, w, side="right") - 1, 0, len(self._grid) - 2)
        inside = (w >= self._grid[0]) & (w <= self._grid[-1])
        share = (w - self._grid[cell]) / (self._grid[cell + 1] - self._grid[cell])
        t = self._low[cell] + share * (self._high[cell] - self._low[cell])
        found = inside & (self._solid[cell] >= 0)
        return FirstSolid(
            np.where(found, t, 0.0), np.where(found, self._solid[cell], -1).astype(np.int8), found
        )
