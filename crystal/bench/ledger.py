"""Where every gram went: amounts of salt, water and each other solute, what came in against where it is now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from crystal.bench.pot import Pot
from crystal.physics.others import Others

_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True)
class Matter:
    """Anhydrous salt, water and other solutes by formula, g."""

    salt_g: float = 0.0
    water_g: float = 0.0
    others_g: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, pot: Pot) -> Matter:
        """What a pot holds."""
        return cls(pot.salt_g, pot.water_g, pot.others.amounts_g)

    @classmethod
    def sum(cls, parts: Iterable[Matter]) -> Matter:
        """Several together."""
        total = cls()
        for part in parts:
            total = total + part
        return total

    @property
    def mass_g(self) -> float:
        return self.salt_g + self.water_g + self.total_others_g

    @property
    def total_others_g(self) -> float:
        return sum(self.others_g.values())

    def __add__(self, other: Matter) -> Matter:
        return self._with(other, 1.0)

    def __sub__(self, other: Matter) -> Matter:
        """What is left; what rounding leaves of nothing is nothing.

        Examples
        --------
        >>> Matter(2.0, 5.0) - Matter(0.5, 5.0)
        Matter(salt_g=1.5, water_g=0.0, others_g={})
        """
        return self._with(other, -1.0)

    def _with(self, other: Matter, sign: float) -> Matter:
        def joined(a: float, b: float) -> float:
            value = a + sign * b
            return 0.0 if abs(value) < _ROUNDING * max(abs(a), abs(b)) else value

        names = dict.fromkeys((*self.others_g, *other.others_g))
        return Matter(
            joined(self.salt_g, other.salt_g),
            joined(self.water_g, other.water_g),
            {name: joined(self.others_g.get(name, 0.0), other.others_g.get(name, 0.0)) for name in names},
        )

    def scaled(self, factor: float) -> Matter:
        """More or less of the same."""
        others = {name: factor * grams for name, grams in self.others_g.items()}
        return Matter(factor * self.salt_g, factor * self.water_g, others)

    def pot(self, like: Pot) -> Pot:
        """It as a pot of the same salt as another one, which brings what is known of the other solutes."""
        known = dict(zip(like.others.formulas, like.others.densities, strict=True))
        kept = {name: grams for name, grams in self.others_g.items() if grams > 0}
        missing = Others.of({name: grams for name, grams in kept.items() if name not in known})
        known |= dict(zip(missing.formulas, missing.densities, strict=True))
        others = replace(
            like.others,
            formulas=tuple(kept),
            grams=tuple(kept.values()),
            densities=tuple(known[name] for name in kept),
        )
        return replace(like, salt_g=self.salt_g, water_g=self.water_g, others=others)


@dataclass(frozen=True, slots=True)
class Ledger:
    """What came in and where it is now, by name.

    ``brought`` and ``found`` are independent lists: that they sum to the same is a check, not a definition.
    """

    brought: tuple[tuple[str, Matter], ...] = ()
    found: tuple[tuple[str, Matter], ...] = ()

    @property
    def total_in(self) -> Matter:
        return Matter.sum(matter for _, matter in self.brought)

    @property
    def total_out(self) -> Matter:
        return Matter.sum(matter for _, matter in self.found)

    @property
    def gap_g(self) -> float:
        """The largest difference between in and out of salt, water and each other solute, g.

        Examples
        --------
        >>> round(Ledger((("start", Matter(1.0, 9.0)),), (("crystals", Matter(0.4)),)).gap_g, 9)
        9.0
        """
        a, b = self.total_in, self.total_out
        names = dict.fromkeys((*a.others_g, *b.others_g))
        off = [a.others_g.get(name, 0.0) - b.others_g.get(name, 0.0) for name in names]
        return max(abs(v) for v in (a.salt_g - b.salt_g, a.water_g - b.water_g, *off))

    @property
    def solutes(self) -> tuple[str, ...]:
        """Formulas of the other solutes that occur, in order of appearance."""
        return tuple(
            dict.fromkeys(name for _, matter in (*self.brought, *self.found) for name in matter.others_g)
        )

    def joined(self) -> Ledger:
        """Entries of one name put together."""

        def by_name(entries: tuple[tuple[str, Matter], ...]) -> tuple[tuple[str, Matter], ...]:
            names = dict.fromkeys(name for name, _ in entries)
            return tuple(
                (name, Matter.sum(matter for other, matter in entries if other == name)) for name in names
            )

        return Ledger(by_name(self.brought), by_name(self.found))
