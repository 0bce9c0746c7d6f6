"""Out of the pot: liquor poured off, what clings to the crystals, what washing takes away, what stays when they are dry."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from crystal.bench.cooling import LOOSE_BED, OUTCOMES, UNKNOWN, Cooled
from crystal.bench.ledger import Ledger, Matter
from crystal.bench.pot import Pot
from crystal.errors import InputError
from crystal.physics.company import MixedEquilibrium
from crystal.physics.humidity import saturated

DRAINED, PRESSED, SUCTION = "drained", "pressed", "suction"

HELD_G_PER_G = {DRAINED: 0.25, PRESSED: 0.12, SUCTION: 0.08}
"""Liquor held per gram of crystals a few millimetres in size; common practice, no source. Fine crystals hold twice."""

DISPLACED = {DRAINED: 0.5, PRESSED: 0.5, SUCTION: 0.7}
"""Share of the old liquor that a wash of as much liquid as is held displaces; common practice, no source."""

WATER, SATURATED = "water", "saturated solution"


@dataclass(frozen=True, slots=True)
class Draining:
    """How crystals are parted from their liquor.

    Parameters
    ----------
    method : {'drained', 'pressed', 'suction'}
    held_g_per_g : float
        Liquor left clinging per gram of crystals.
    enclosed_g_per_g : float
        Liquor shut up inside the crystals per gram of them: no wash reaches it and it does not dry.
    displaced : float
        Share of the clinging liquor that a wash of as much liquid displaces, 0 to 1.
    """

    method: str = DRAINED
    held_g_per_g: float = HELD_G_PER_G[DRAINED]
    enclosed_g_per_g: float = 0.0
    displaced: float = DISPLACED[DRAINED]

    @classmethod
    def by(
        cls,
        method: str = DRAINED,
        *,
        held_g_per_g: float | None = None,
        enclosed_g_per_g: float = 0.0,
        displaced: float | None = None,
    ) -> Draining:
        """A method with its usual figures, or with others.

        Raises
        ------
        InputError
            For an unknown method or a figure that cannot be.

        Examples
        --------
        >>> Draining.by("suction").held_g_per_g
        0.08
        """
        if method not in HELD_G_PER_G:
            raise InputError("--method", repr(method), f"one of {', '.join(HELD_G_PER_G)}", DRAINED)
        held = HELD_G_PER_G[method] if held_g_per_g is None else held_g_per_g
        share = DISPLACED[method] if displaced is None else displaced
        for what, value, most in (("--held", held, 5.0), ("--enclosed", enclosed_g_per_g, 0.5)):
            if not 0.0 <= value <= most:
                raise InputError(
                    what, f"{value:g} g per g", f"from 0 to {most:g} g of liquor per gram", "0.2"
                )
        if not 0.0 <= share < 1.0:
            raise InputError("--displaced", f"{share:g}", "a share from 0 to below 1", "0.5")
        return cls(method, held, enclosed_g_per_g, share)


@dataclass(frozen=True, slots=True)
class Wash:
    """One wash of the cake.

    Parameters
    ----------
    liquid_g : float
        Its mass.
    temperature_C : float
        Its temperature.
    kind : {'water', 'saturated solution'}
        A pure saturated solution of the salt dissolves nothing.
    contact : float
        Share of the way to saturation that the water gets, 0 to 1; 1 is the most that it can dissolve.
    """

    liquid_g: float
    temperature_C: float
    kind: str = WATER
    contact: float = 1.0


@dataclass(frozen=True, eq=False, slots=True)
class Cake:
    """Crystals with the liquor that clings to them.

    ``crystals`` holds what is crystal, ``enclosed`` the liquor inside, ``clinging`` that outside; ``solid`` is the main
    solid's formula and ``salt_share`` its anhydrous salt per gram.
    """

    like: Pot
    solid: str
    salt_share: float
    crystals: Matter
    enclosed: Matter
    clinging: Matter

    @property
    def crystals_g(self) -> float:
        return self.crystals.mass_g

    @property
    def wet_g(self) -> float:
        """What a balance shows before drying."""
        return self.all.mass_g

    @property
    def all(self) -> Matter:
        return self.crystals + self.enclosed + self.clinging

    @property
    def dried(self) -> Matter:
        """What is left when it is dry.

        The clinging liquor leaves its salt, as the crystals' own hydrate where its water allows, and its other solutes;
        the enclosed liquor stays as it is.
        """
        return self.all - self.drying_loss

    @property
    def drying_loss(self) -> Matter:
        """The water that leaves: all of the clinging liquor's but what its salt takes as the crystals' hydrate."""
        bound = self.clinging.salt_g * (1.0 - self.salt_share) / self.salt_share
        return Matter(water_g=max(self.clinging.water_g - bound, 0.0))

    @property
    def purity(self) -> float:
        """Share of the dry crop, by mass, that is no other solute; 1 where none was told of."""
        dry = self.dried
        return 1.0 - dry.total_others_g / dry.mass_g if dry.mass_g > 0 else 1.0

    def washed(self, wash: Wash, how: Draining) -> tuple[Cake, Matter, Matter]:
        """Wash the cake and let it drain again.

        Parameters
        ----------
        wash : Wash
            With how much of what.
        how : Draining
            How it drains.

        Returns
        -------
        (Cake, Matter, Matter)
            The cake, the washings that ran off, and what the wash brought in.

        Notes
        -----
        Water dissolves crystals up to the balance of the whole cake with it at the wash's temperature, times ``contact``:
        the most that can be lost when ``contact`` is 1. Of the old clinging liquor (1 - E)^N then stays, N being the
        liquid used over the liquid held and E ``how.displaced``; never less than 1 - N, which would be a plug that pushes
        all before it.

        References
        ----------
        A. P. R. Choudhury, D. A. Dahlstrom, AIChE J. 3 (1957) 433: remaining share of a cake's liquor (recalled).

        Raises
        ------
        CoverageError
            Where the data hold no answer at the wash's temperature.
        """
        brought = _wash_liquid(self.like, wash)
        share = 0.0
        if wash.kind == WATER and self.crystals_g > 0:
            share = wash.contact * self._soluble_share(brought, wash.temperature_C)
        dissolved = (self.crystals + self.enclosed).scaled(share)
        crystals, enclosed = self.crystals.scaled(1.0 - share), self.enclosed.scaled(1.0 - share)
        fresh = brought + dissolved
        room = how.held_g_per_g * crystals.mass_g
        old, new = self.clinging.mass_g, fresh.mass_g
        holds = min(room, old + new)
        if holds <= 0:
            return self._holding(crystals, enclosed, Matter()), self.clinging + fresh, brought
        times = new / max(old, holds)
        stays = (1.0 - how.displaced) ** times if old > 0 else 0.0
        # No more can come in than there is of the wash: a plug that pushes all before it is the limit.
        from_new = min(holds - min(stays * holds, old), new)
        from_old = min(holds - from_new, old)
        clinging = Matter()
        if old > 0:
            clinging = clinging + self.clinging.scaled(from_old / old)
        if new > 0:
            clinging = clinging + fresh.scaled(from_new / new)
        return self._holding(crystals, enclosed, clinging), self.clinging + fresh - clinging, brought

    def _holding(self, crystals: Matter, enclosed: Matter, clinging: Matter) -> Cake:
        return replace(self, crystals=crystals, enclosed=enclosed, clinging=clinging)

    def _soluble_share(self, brought: Matter, temperature_C: float) -> float:
        """Share of the crystals' salt that the whole cake with the wash would dissolve."""
        whole = (self.crystals + self.clinging + brought).pot(self.like)
        at_rest = Cooled.of(whole.model, whole.salt_g, whole.water_g, temperature_C, others=whole.others)
        left = float(at_rest.salt_in_crystals_g)
        before = self.crystals.salt_g
        return float(np.clip(1.0 - left / before, 0.0, 1.0)) if before > 0 else 0.0


def _wash_liquid(like: Pot, wash: Wash) -> Matter:
    if wash.kind == WATER:
        return Matter(water_g=wash.liquid_g)
    found = saturated(like.model, wash.temperature_C)
    if found is None:
        raise like.model.map.not_covered(None, wash.temperature_C)
    return Matter(found[0] * wash.liquid_g, (1.0 - found[0]) * wash.liquid_g)


@dataclass(frozen=True, eq=False, slots=True)
class Harvest:
    """Crystals taken from one cooled pot.

    ``cakes`` are the cake as drained and after each wash. ``liquor`` is what was poured off (ice with it, which melts),
    ``spilled`` that part of it which was lost, ``washings`` what ran off with each wash, ``brought`` what the washes
    brought.
    """

    pot: Pot
    cooled: Cooled
    how: Draining
    washes: tuple[Wash, ...]
    cakes: tuple[Cake, ...]
    liquor: Matter
    spilled: Matter
    washings: tuple[Matter, ...]
    brought: tuple[Matter, ...]

    @classmethod
    def of(
        cls,
        pot: Pot,
        temperature_C: float,
        how: Draining | None = None,
        washes: tuple[Wash, ...] = (),
        *,
        bed: float = LOOSE_BED,
        spilled_g: float = 0.0,
    ) -> Harvest:
        """Cool a pot, pour its liquor off, wash and dry what stays.

        Parameters
        ----------
        pot : Pot
            As it is left to cool.
        temperature_C : float
            At which it is drained, °C.
        how : Draining, optional
            How; drained on a sieve unless told.
        washes : tuple of Wash
            One after the other.
        bed : float
            Solids' share of the volume of the settled crystals.
        spilled_g : float
            Liquor lost when it was poured off, g.

        Raises
        ------
        CoverageError
            Where the data hold no answer.
        InputError
            Where no crystals come, or more is spilled than there is.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> pot = Pot(Model.of(Catalogue.bundled().find("KNO3")), 100.0, 100.0)
        >>> crop = Harvest.of(pot, 20.0, Draining.by("suction"))
        >>> round(crop.cake.crystals_g, 1), round(crop.cake.wet_g, 1), round(crop.cake.dried.mass_g, 1)
        (68.1, 73.5, 69.4)
        """
        how = Draining.by() if how is None else how
        cooled = Cooled.of(pot.model, pot.salt_g, pot.water_g, temperature_C, bed=bed, others=pot.others)
        if not float(cooled.salt_in_crystals_g) > 0:
            raise InputError(
                "the pot", "a pot without crystals", f"one that crystallises at {temperature_C:g} degC: reduce it further",
                '--reduce-to "150 mL"',
            )  # fmt: skip
        cake, liquor = _poured(pot, cooled, how)
        if spilled_g > liquor.mass_g * (1 + 1e-12):
            raise InputError(
                "--spilled",
                f"{spilled_g:g} g",
                f"at most the liquor poured off ({liquor.mass_g:.4g} g)",
                "5 g",
            )
        spilled = liquor.scaled(min(spilled_g / liquor.mass_g, 1.0)) if spilled_g > 0 else Matter()
        cakes, washings, brought = [cake], [], []
        for wash in washes:
            after, ran_off, came = cakes[-1].washed(wash, how)
            cakes.append(after)
            washings.append(ran_off)
            brought.append(came)
        return cls(
            pot, cooled, how, washes, tuple(cakes), liquor - spilled, spilled, tuple(washings), tuple(brought)
        )

    @property
    def cake(self) -> Cake:
        """The cake at the end, wet."""
        return self.cakes[-1]

    @property
    def outcome(self) -> str | None:
        code = int(self.cooled.outcome)
        return None if code == UNKNOWN else OUTCOMES[code]

    @property
    def dissolved_g(self) -> float:
        """Crystals that the washes dissolved, g."""
        return self.cakes[0].crystals_g - self.cake.crystals_g

    @property
    def yield_fraction(self) -> float:
        """Salt in the dry crop over the salt in the pot."""
        return self.cake.dried.salt_g / self.pot.salt_g

    @property
    def apparent_yield_fraction(self) -> float:
        """The yield that the wet weight would tell if all of it were crystals."""
        return self.cake.wet_g * self.cake.salt_share / self.pot.salt_g

    @property
    def washed_off(self) -> Matter:
        return Matter.sum(self.washings)

    def ledger(self, *, boiled_off_g: float = 0.0) -> Ledger:
        """Every gram of the batch; ``boiled_off_g`` is water driven off before, which then counts as brought too."""
        brought = [("pot", Matter.of(self.pot) + Matter(water_g=boiled_off_g))]
        brought += [(f"wash {i}", matter) for i, matter in enumerate(self.brought, 1)]
        dry = self.cake.dried
        rest = dry - self.cake.crystals - self.cake.enclosed
        found = [
            ("boiled off", Matter(water_g=boiled_off_g)),
            ("crystals", self.cake.crystals),
            ("enclosed in them", self.cake.enclosed),
            ("dried onto them", rest),
            ("dried off", self.cake.drying_loss),
            ("liquor", self.liquor),
            ("spilled", self.spilled),
            *((f"washings {i}", matter) for i, matter in enumerate(self.washings, 1)),
        ]
        shown = {"crystals", "liquor"}
        return Ledger(tuple(brought), tuple((name, m) for name, m in found if name in shown or m.mass_g > 0))


def _poured(pot: Pot, cooled: Cooled, how: Draining) -> tuple[Cake, Matter]:
    """The cake as drained, and the liquor that ran off."""
    left = pot.others.amounts_g
    if isinstance(cooled.equilibrium, MixedEquilibrium) and float(cooled.others_crystals_g) > 0:
        stays = float(cooled.equilibrium.others_left)
        left = {name: stays * grams for name, grams in left.items()}
    solution_g = float(cooled.liquor_g) - sum(left.values())
    salt_left = max(pot.salt_g - float(cooled.salt_in_crystals_g), 0.0)
    if float(cooled.equilibrium.liquor_fraction) <= 0:
        # A pot that is all solid: nothing runs off, and what else it holds is in the block.
        salt_left, solution_g = 0.0, 0.0
        left = dict.fromkeys(left, 0.0)
    liquor = Matter(salt_left, max(solution_g - salt_left, 0.0), left)
    ice = Matter(water_g=float(cooled.ice_g))
    crystals = Matter.of(pot) - liquor - ice
    enclosed_g = min(how.enclosed_g_per_g * crystals.mass_g, liquor.mass_g)
    clings_g = min(how.held_g_per_g * crystals.mass_g, liquor.mass_g - enclosed_g)
    whole = liquor.mass_g
    enclosed = liquor.scaled(enclosed_g / whole) if whole > 0 else Matter()
    clinging = liquor.scaled(clings_g / whole) if whole > 0 else Matter()
    index = int(cooled.main_solid)
    cake = Cake(
        pot,
        pot.model.solid_name(index) or "",
        float(pot.model.solid_mass_fractions[index]),
        crystals,
        enclosed,
        clinging,
    )
    return cake, liquor - enclosed - clinging + ice
