"""A crop on the balance held against what was reckoned of it, wet or dry."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from crystal.bench.batch import Seen
from crystal.bench.harvest import Harvest

AGREES_WITHIN = 0.10
"""A weighing this near to what was reckoned, relative, needs no reason; common practice, no source."""

HELD_AT_MOST = 0.6
"""More liquor per gram of crystals than this is slush that has not drained: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Weighing:
    """One weighing of a crop against the harvest.

    ``expected_g`` is the harvest's wet mass or its dry one, as it was weighed. ``held_g_per_g`` is the liquor per gram of
    crystals that a wet weighing would mean if the crystals were as reckoned; None dry, and where they are fewer.
    """

    weighed_g: float
    wet: bool
    expected_g: float
    crystals_g: float
    dry_g: float
    held_g_per_g: float | None

    @classmethod
    def of(cls, harvest: Harvest, weighed_g: float, wet: bool) -> Weighing:
        """Compare a weighing, g, with the cake after its last wash.

        Examples
        --------
        >>> from crystal.bench.pot import Pot
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> harvest = Harvest.of(Pot(Model.of(Catalogue.bundled().find("KNO3")), 100.0, 100.0), 20.0)
        >>> one = Weighing.of(harvest, 80.0, wet=True)
        >>> round(one.expected_g, 1), round(one.held_g_per_g, 2)
        (85.1, 0.18)
        """
        cake = harvest.cake
        solid = cake.crystals_g + cake.enclosed.mass_g
        held = (weighed_g - solid) / cake.crystals_g
        held_or_not = max(held, 0.0) if wet and held > -1e-9 else None
        return cls(
            weighed_g,
            wet,
            cake.wet_g if wet else cake.dried.mass_g,
            cake.crystals_g,
            cake.dried.mass_g,
            held_or_not,
        )

    @classmethod
    def all_of(cls, harvest: Harvest, seen: Iterable[Seen]) -> tuple[Weighing, ...]:
        """Every crop that was weighed."""
        return tuple(cls.of(harvest, s.crystals_g, s.wet) for s in seen if s.crystals_g is not None)

    @property
    def share(self) -> float:
        """Weighed over expected."""
        return self.weighed_g / self.expected_g

    @property
    def agrees(self) -> bool:
        return abs(self.share - 1.0) <= AGREES_WITHIN

    @property
    def text(self) -> str:
        """What the weighing says, in a sentence or two."""
        word = "wet" if self.wet else "dry"
        start = f"{self.weighed_g:.3g} g were weighed {word}, {self.expected_g:.3g} g are reckoned {word}"
        if self.agrees:
            return f"{start}: they agree."
        if self.wet and self.held_g_per_g is not None:
            text = f"{start}: with the crystals as reckoned, {self.held_g_per_g:.2g} g of liquor cling to each gram of them"
            if self.held_g_per_g > HELD_AT_MOST:
                return f"{text}, more than drained crystals hold. It has not drained, or there are more crystals: weigh again dry."
            return f"{text}. Say --held {self.held_g_per_g:.2g} and the other numbers follow."
        if self.share < 1.0:
            less = self.expected_g - self.weighed_g
            return (
                f"{start}: {less:.3g} g are missing, left in the vessel or the filter, washed away, or not crystallised"
                + ("." if self.wet else ", or dried below the hydrate's own water.")
            )
        return f"{start}: it is not dry yet, or more has crystallised than reckoned. Dry it until its weight stands still."
