"""Second crops: one pot reduced, cooled and drained again and again, until there is a reason to stop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from crystal.bench.cooling import LOOSE_BED, Cooled
from crystal.bench.crop_ends import REDUCE, CropEnd, Told, end_of_crop
from crystal.bench.doubt import Doubt
from crystal.bench.harvest import Draining, Harvest, Wash
from crystal.bench.ledger import Ledger, Matter
from crystal.bench.pot import Pot
from crystal.bench.window import EndPoint

MOST_CROPS = 5
LEAST_SHARE = 0.03
"""A crop of less than this share of the salt at the start is not worth a round, unless told; a convention."""

_MOST_WATER, _TRIES = 4.0, 33
_HELD_BACK = ("purity", "joins")


@dataclass(frozen=True, slots=True)
class Stops:
    """When to stop.

    Parameters
    ----------
    most : int
        Crops at most.
    least_g : float or None
        Dry crop below which a round is not worth it, g; None takes 3 % of the first pot's salt.
    purity : float or None
        Purity, 0 to 1, below which a crop is not wanted.
    liquor_others : float or None
        Other solutes per salt in the liquor, g/g, above which no further round is made.
    """

    most: int = MOST_CROPS
    least_g: float | None = None
    purity: float | None = None
    liquor_others: float | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Crop:
    """One round.

    ``pot`` is what it began with, ``end`` what it was cooled from; ``kind`` is 'reduce', or 'rescue' where the pot had
    to be thinned first (``warm_to_C`` then). ``cumulative_yield`` counts the salt in all dry crops so far.
    """

    kind: str
    pot: Pot
    end: Pot
    end_point: EndPoint
    harvest: Harvest
    margin_kept: bool
    odds_of_setting: float | None
    warm_to_C: float | None
    cumulative_yield: float

    @property
    def outcome(self) -> str | None:
        return self.harvest.outcome

    @property
    def water_removed_g(self) -> float:
        """Negative where water was added."""
        return self.pot.water_g - self.end.water_g


@dataclass(frozen=True, eq=False, slots=True)
class Crops:
    """A sequence of crops from one pot, and why it ends; ``rule`` is one of the words of ``RULES``."""

    start: Pot
    cool_to_C: float
    crops: tuple[Crop, ...]
    rule: str
    stopped_because: str
    left: Pot
    washings_back: bool

    @classmethod
    def of(
        cls,
        start: Pot,
        cool_to_C: float,
        *,
        how: Draining | None = None,
        washes: Sequence[Wash] = (),
        stops: Stops | None = None,
        told: Sequence[Told] = (),
        risk: float | None = None,
        doubt: Doubt | None = None,
        washings_back: bool = False,
        spilled_g: float = 0.0,
        read_at_C: float = 20.0,
        bed: float = LOOSE_BED,
    ) -> Crops:
        """Plan crop after crop.

        Parameters
        ----------
        start : Pot
            The pot, also one that has set solid already: it is thinned first.
        cool_to_C : float
            Temperature of each crop, °C.
        how, washes : optional
            How each crop is drained and washed; the washes' masses are those of the first crop and shrink with the crops.
        stops : Stops, optional
            When to stop.
        told : sequence of Told
            The first crops as the person wants them; the others are chosen.
        risk : float, optional
            Odds that a crop sets or is thick; each end point is then the best bet under it. Without it the advice's margin
            is kept.
        doubt : Doubt, optional
            What the risk is reckoned with.
        washings_back : bool
            Washings go back into the pot with the liquor.
        spilled_g : float
            Liquor lost when the first crop is poured off, g; as the washes, less of the later crops.
        read_at_C, bed : float
            As in :meth:`Window.of`.

        Raises
        ------
        CoverageError
            Where the cooling temperature lies outside the data.

        Notes
        -----
        Each crop is the largest that its margin or risk allows. Salt alone leaves the same saturated liquor every time, so
        what stays is a product of one share per crop: the largest crop each time wins most altogether.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> pot = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 97.7, 402.3)
        >>> found = Crops.of(pot, 5.0, stops=Stops(most=2))
        >>> [crop.outcome for crop in found.crops], found.rule
        (['crop', 'crop'], 'number')
        """
        how = Draining.by() if how is None else how
        stops = Stops() if stops is None else stops
        least = LEAST_SHARE * start.salt_g if stops.least_g is None else stops.least_g
        pot, taken, won = start, [], 0.0
        rule, why = "number", f"{stops.most} crops were asked for."
        round_of = _Rounds(how, tuple(washes), bed, spilled_g)
        for number in range(stops.most):
            wish = told[number] if number < len(told) else Told()
            to_C = cool_to_C if wish.cool_to_C is None else wish.cool_to_C
            chosen = end_of_crop(pot, to_C, wish, risk, doubt, read_at_C, bed)
            if isinstance(chosen, str):
                rule, why = "sets", f"Crop {number + 1} at {to_C:g} °C: {chosen}"
                break
            if not float(_cooled(chosen.end, to_C, bed).salt_in_crystals_g) > 0:
                rule, why = "small", f"Crop {number + 1} at {to_C:g} °C would give no crystals."
                break
            harvest = round_of.harvest(chosen.end, to_C)
            if wish.is_free:
                stop = _reason_against(harvest, stops, least, number + 1)
                if stop is not None and stop[0] in _HELD_BACK:
                    chosen, harvest, stop = _held_back(round_of, chosen, pot, to_C, stop, stops, least)
                if stop is not None:
                    rule, why = stop
                    break
            round_of.began(harvest)
            won += harvest.cake.dried.salt_g
            taken.append(
                Crop(
                    chosen.kind, pot, chosen.end,
                    EndPoint.of(pot, chosen.end.mass_fraction, read_at_C), harvest,
                    chosen.margin_kept, chosen.odds, chosen.warm_to_C, won / start.salt_g,
                )
            )  # fmt: skip
            on = harvest.liquor + (harvest.washed_off if washings_back else Matter())
            pot = on.pot(replace(start, read_at_C=read_at_C))
            if pot.salt_g <= 0 or pot.water_g <= 0:
                rule, why = "dry", f"Crop {number + 1} left no liquor."
                break
            ceiling = stops.liquor_others
            if ceiling is not None and pot.others.total_g / pot.salt_g > ceiling:
                rule = "impurity"
                why = (
                    f"The liquor now holds {pot.others.total_g / pot.salt_g:.3g} g of other solutes per gram of salt, more "
                    f"than the {ceiling:g} allowed."
                )
                break
        return cls(start, cool_to_C, tuple(taken), rule, why, pot, washings_back)

    def ledger(self) -> Ledger:
        """Every gram over all rounds: crystals and what clings to them when dry, liquor left, washings, spilled, dried off."""
        brought, found = [("pot", Matter.of(self.start))], []
        for number, crop in enumerate(self.crops, 1):
            removed = crop.water_removed_g
            if removed < 0:
                brought.append(("water added", Matter(water_g=-removed)))
            elif removed > 0:
                found.append(("boiled off", Matter(water_g=removed)))
            harvest = crop.harvest
            brought += [("washes", matter) for matter in harvest.brought]
            cake = harvest.cake
            found.append((f"crop {number}, crystals", cake.crystals + cake.enclosed))
            found.append((f"crop {number}, clinging", cake.dried - cake.crystals - cake.enclosed))
            found.append(("dried off", cake.drying_loss))
            if harvest.spilled.mass_g > 0:
                found.append(("spilled", harvest.spilled))
            if not self.washings_back:
                found += [("washings", matter) for matter in harvest.washings]
        found.append(("liquor left", Matter.of(self.left)))
        return Ledger(tuple(brought), tuple(found)).joined()


RULES = ("number", "sets", "small", "purity", "joins", "impurity", "dry")
"""Why a sequence ends: as many as asked for; the next would set; too small; not pure enough; another solute would
crystallise too; the liquor too impure; no liquor left."""


@dataclass(slots=True)
class _Rounds:
    """How every round is drained and washed; the washes' masses are those of the first crop."""

    how: Draining
    washes: tuple[Wash, ...]
    bed: float
    spilled_g: float = 0.0
    first_g: float | None = None

    def harvest(self, end: Pot, to_C: float) -> Harvest:
        plain = Harvest.of(end, to_C, self.how, bed=self.bed)
        if not self.washes and not self.spilled_g:
            return plain
        crystals_g = plain.cakes[0].crystals_g
        share = crystals_g / (self.first_g or crystals_g)
        scaled = tuple(replace(wash, liquid_g=share * wash.liquid_g) for wash in self.washes)
        return Harvest.of(end, to_C, self.how, scaled, bed=self.bed, spilled_g=share * self.spilled_g)

    def began(self, harvest: Harvest) -> None:
        """Take the first crop as the measure of the washes."""
        self.first_g = self.first_g or harvest.cakes[0].crystals_g


def _cooled(pot: Pot, temperature_C: float, bed: float) -> Cooled:
    return Cooled.of(pot.model, pot.salt_g, pot.water_g, temperature_C, bed=bed, others=pot.others)


def _reason_against(harvest: Harvest, stops: Stops, least_g: float, number: int) -> tuple[str, str] | None:
    """Which stop rule this crop breaks, with the sentence that says so."""
    dry, purity = harvest.cake.dried.mass_g, harvest.cake.purity
    if harvest.outcome != "crop":
        return "sets", f"Crop {number} would not pour off ({harvest.outcome})."
    if dry < least_g:
        return (
            "small",
            f"Crop {number} would be {dry:.3g} g, less than the {least_g:.3g} g that is worth a round.",
        )
    if stops.purity is not None and purity < stops.purity:
        return (
            "purity",
            f"Crop {number} would be {100 * purity:.4g} % pure, less than the {100 * stops.purity:.4g} % wanted.",
        )
    if float(harvest.cooled.others_crystals_g) > 0:
        return "joins", f"In crop {number} another solute would crystallise with the salt."
    return None


def _held_back(
    round_of: _Rounds,
    chosen: CropEnd,
    pot: Pot,
    to_C: float,
    stop: tuple[str, str],
    stops: Stops,
    least_g: float,
) -> tuple[CropEnd, Harvest, tuple[str, str] | None]:
    """Less reduced, where that keeps the crop pure enough and another solute dissolved; else as it was, and why not."""
    end = chosen.end
    most = _MOST_WATER * end.water_g
    if chosen.kind == REDUCE:
        most = min(most, pot.water_g)
    for water in np.geomspace(end.water_g, most, _TRIES)[1:]:
        thinner = end.with_water(float(water))
        if not float(_cooled(thinner, to_C, round_of.bed).salt_in_crystals_g) > 0:
            break
        harvest = round_of.harvest(thinner, to_C)
        if _reason_against(harvest, stops, least_g, 0) is None:
            return replace(chosen, end=thinner), harvest, None
    return chosen, round_of.harvest(end, to_C), stop
