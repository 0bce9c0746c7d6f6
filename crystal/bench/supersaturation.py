"""Supersaturation of a pot that cools and stays clear: where first crystals are due, and where they can hold off no more."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.bench.pot import Pot
from crystal.bench.shift import Shift
from crystal.physics.company import company_of, first_beside
from crystal.physics.model import Model

Floats = NDArray[np.float64]

BASIS = "g of anhydrous salt per 100 g of water"

SEED_SHARE = 0.4
"""Seed goes in this far into the zone: far enough not to dissolve, far from where crystals come by themselves."""

SEED_BY_K = 1.0
"""Where no width is known, seed this far below the first crystals: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Zone:
    """The metastable zone of one composition on cooling, °C.

    ``width_K`` and ``limit_C`` are None where the data have no width. ``solid`` is the first solid; ``is_ice`` tells that ice
    comes before any crystals.
    """

    saturated_C: float
    solid: str
    is_ice: bool
    width_K: float | None
    limit_C: float | None
    source: str

    @classmethod
    def of(cls, pot: Pot) -> Zone | None:
        """The zone of a pot; None where no temperature of first crystals is known.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> pot = Pot(Model.of(Catalogue.bundled().find("KNO3")), 100.0, 120.0)
        >>> zone = Zone.of(pot)
        >>> round(zone.saturated_C), zone.width_K
        (50, 0.4)
        """
        first = first_beside(pot.model, pot.others, pot.salt_g, [pot.mass_fraction])
        if not bool(first.found[0]):
            return None
        solid = pot.model.map.solids[int(first.solid[0])]
        at = float(first.temperature_C[0])
        text = pot.model.salt.extra.get("mszw_K", "")
        width = float(text) if text and not solid.is_ice else None
        return cls(
            at, solid.formula, solid.is_ice, width, None if width is None else at - width,
            pot.model.salt.extra.get("mszw_source", "") if width is not None else "",
        )  # fmt: skip

    @property
    def seed_C(self) -> float:
        """Temperature to seed at: inside the zone, or a kelvin below the first crystals where its width is not known."""
        return self.saturated_C - (SEED_BY_K if self.width_K is None else SEED_SHARE * self.width_K)

    def word(self, temperature_C: float) -> str:
        """``undersaturated``, ``metastable``, ``beyond`` (crystals come by themselves), or ``supersaturated``."""
        if temperature_C > self.saturated_C:
            return "undersaturated"
        if self.limit_C is None:
            return "supersaturated"
        return "metastable" if temperature_C >= self.limit_C else "beyond"


@dataclass(frozen=True, eq=False, slots=True)
class Supersaturation:
    """A pot that stays clear, against the saturated liquor; arrays of one shape, NaN where that is not in the data.

    ``ratio`` and ``difference_g`` count g of anhydrous salt per 100 g of water, the basis of `BASIS`; with hydrates a ratio on
    another basis is another number.
    """

    temperature_C: Floats
    saturated_g: Floats
    pot_g: float

    @classmethod
    def of(cls, pot: Pot, temperature_C: ArrayLike) -> Supersaturation:
        """Compare a pot with the liquor that is saturated at each temperature beside as much of others per water.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> model = Model.of(Catalogue.bundled().find("KNO3"))
        >>> over = Supersaturation.of(Pot(model, 40.0, 60.0), [20.0])
        >>> round(float(over.ratio[0]), 2)
        2.09
        """
        t = np.atleast_1d(np.asarray(temperature_C, float))
        model, own_g = pot.model, 100.0 * pot.salt_g / pot.water_g
        if company_of(model, pot.others) is None:
            return cls(t, _saturated_g(model, pot.mass_fraction, t), own_g)
        factor = np.array([np.nan if one is None else one.factor for one in (Shift.of(pot, at) for at in t)])
        # The pure curve is entered where the shift brings the pot: on the same branch.
        alike = own_g / factor
        plain = np.array(
            [
                float(_saturated_g(model, g / (100.0 + g), np.array([at]))[0]) if np.isfinite(g) else np.nan
                for g, at in zip(alike, t, strict=True)
            ]
        )
        return cls(t, plain * factor, own_g)

    @property
    def ratio(self) -> Floats:
        return self.pot_g / self.saturated_g

    @property
    def difference_g(self) -> Floats:
        return self.pot_g - self.saturated_g


def _saturated_g(model: Model, mass_fraction: float, temperature_C: Floats) -> Floats:
    """What 100 g of water holds over the salt alone, g: the limit that is nearest to a composition; NaN where unknown."""
    slices = model.map.slices(temperature_C)
    liquid = np.where(slices.liquidus & (slices.edges > 0), slices.edges, np.nan)
    # The first saturated liquid at or below the composition, or else the next above: a clear pot's own limit.
    below = np.where(liquid <= mass_fraction, liquid, -np.inf)
    above = np.where(liquid > mass_fraction, liquid, np.inf)
    found = model.map.look_up(mass_fraction, temperature_C)
    clear = found.known & (found.liquor_fraction == 1.0)
    saturated = np.where(clear, above.min(axis=0), below.max(axis=0))
    known = np.isfinite(saturated) & (saturated > 0) & found.known & ~slices.beyond
    saturated = np.where(known, saturated, np.nan)
    return np.asarray(100.0 * saturated / (1.0 - saturated))
