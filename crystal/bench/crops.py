"""Second crops: one pot reduced, cooled and drained again and again, until there is a reason to stop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from crystal.bench.advice import Advice
from crystal.bench.batch import Batch
from crystal.bench.cooling import LOOSE_BED, OUTCOMES, Cooled
from crystal.bench.doubt import Doubt, Draws
from crystal.bench.harvest import Draining, Harvest, Wash
from crystal.bench.ledger import Ledger, Matter
from crystal.bench.pot import Pot
from crystal.bench.rescue import Rescue, clear_temperature_C
from crystal.bench.risk import Bet, rounding_mL
from crystal.bench.window import EndPoint, Window
from crystal.errors import InputError

MOST_CROPS = 5
LEAST_SHARE = 0.03
"""A crop of less than this share of the salt at the start is not worth a round, unless told; a convention."""

REDUCE, RESCUE = "reduce", "rescue"

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


@dataclass(frozen=True, slots=True)
class Told:
    """One crop as the person wants it; what is None is chosen.

    ``end_volume_mL`` or ``end_mass_g`` is the size at which reducing ends, ``cool_to_C`` the temperature, ``what`` the name
    of the input that errors call it by. ``end_mass_fraction`` is where a search has it end, at ``odds`` of not pouring: the
    stop rules hold for it, and it is rounded up to a mark.
    """

    end_volume_mL: float | None = None
    end_mass_g: float | None = None
    cool_to_C: float | None = None
    what: str = "the crop"
    end_mass_fraction: float | None = None
    odds: float | None = None

    @property
    def is_free(self) -> bool:
        """Whether the end is left to be chosen."""
        return self.end_volume_mL is None and self.end_mass_g is None

    def end_of(self, pot: Pot, read_at_C: float) -> Pot | None:
        """The pot at its told end; None where none is told.

        Raises
        ------
        InputError
            Where the pot is smaller already, or its dry matter larger.
        """
        if self.end_volume_mL is not None:
            water = float(pot.water_for_volume(self.end_volume_mL, read_at_C))
            got = f"{self.end_volume_mL:g} mL"
        elif self.end_mass_g is not None:
            water, got = self.end_mass_g - pot.mass_g + pot.water_g, f"{self.end_mass_g:g} g"
        else:
            return None
        if not 0.0 < water <= pot.water_g * (1 + 1e-9):
            raise InputError(
                self.what, got,
                f"less than the pot holds by then ({pot.volume_mL(read_at_C):.4g} mL, {pot.mass_g:.4g} g) and more than what "
                "is dissolved", f"{pot.volume_mL(read_at_C) / 2:.3g} mL",
            )  # fmt: skip
        return pot.with_water(min(water, pot.water_g), read_at_C)


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
        round_of = _Rounds(how, tuple(washes), bed)
        for number in range(stops.most):
            wish = told[number] if number < len(told) else Told()
            to_C = cool_to_C if wish.cool_to_C is None else wish.cool_to_C
            chosen = _choose(pot, to_C, wish, risk, doubt, read_at_C, bed)
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
        """Every gram over all rounds; water boiled off and added, crops, liquor left, washings, what dried off."""
        brought, found = [("pot", Matter.of(self.start))], []
        for number, crop in enumerate(self.crops, 1):
            removed = crop.water_removed_g
            if removed < 0:
                brought.append(("water added", Matter(water_g=-removed)))
            elif removed > 0:
                found.append(("boiled off", Matter(water_g=removed)))
            harvest = crop.harvest
            brought += [("washes", matter) for matter in harvest.brought]
            found.append((f"crop {number}, dry", harvest.cake.dried))
            found.append(("dried off", harvest.cake.drying_loss))
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
    first_g: float | None = None

    def harvest(self, end: Pot, to_C: float) -> Harvest:
        plain = Harvest.of(end, to_C, self.how, bed=self.bed)
        if not self.washes:
            return plain
        crystals_g = plain.cakes[0].crystals_g
        share = crystals_g / (self.first_g or crystals_g)
        scaled = tuple(replace(wash, liquid_g=share * wash.liquid_g) for wash in self.washes)
        return Harvest.of(end, to_C, self.how, scaled, bed=self.bed)

    def began(self, harvest: Harvest) -> None:
        """Take the first crop as the measure of the washes."""
        self.first_g = self.first_g or harvest.cakes[0].crystals_g


@dataclass(frozen=True, eq=False, slots=True)
class _Chosen:
    kind: str
    end: Pot
    margin_kept: bool
    odds: float | None
    warm_to_C: float | None


def _cooled(pot: Pot, temperature_C: float, bed: float) -> Cooled:
    return Cooled.of(pot.model, pot.salt_g, pot.water_g, temperature_C, bed=bed, others=pot.others)


def _choose(
    pot: Pot, to_C: float, wish: Told, risk: float | None, doubt: Doubt | None, read_at_C: float, bed: float
) -> _Chosen | str:
    """The end point of the next crop, or why there is none."""
    told = wish.end_of(pot, read_at_C)
    if told is not None:
        return _Chosen(REDUCE, told, False, None, None)
    if wish.end_mass_fraction is not None:
        return _at_a_mark(pot, to_C, wish.end_mass_fraction, wish.odds, read_at_C)
    window = Window.of(pot, to_C, read_at_C=read_at_C, bed=bed)
    if risk is not None:
        bet = Bet.of(window, Draws.of(pot, to_C, Doubt() if doubt is None else doubt, bed=bed), risk=risk)
        if bet.end is not None and bet.odds is not None:
            end = pot.with_water(_water(pot, bet.end.mass_fraction), read_at_C)
            return _Chosen(REDUCE, end, False, float(bet.odds.does_not_pour[0]), None)
        why = f"no end point keeps the odds of setting under {100 * risk:g} %"
    else:
        advice = Advice.of(window)
        if advice.end is not None and advice.margin_kept:
            return _Chosen(
                REDUCE, pot.with_water(_water(pot, advice.end.mass_fraction), read_at_C), True, None, None
            )
        why = "no end point gives a crop with the full margin: it would set solid or nearly so"
    here = Cooled.of(pot.model, pot.salt_g, pot.water_g, to_C, bed=bed, strict=False, others=pot.others)
    if int(here.outcome) < OUTCOMES.index("crop"):
        return f"{why}."
    # It holds more than any end point with a margin: thin it first, as a pot that has set.
    rescue = Rescue.of(Batch(pot, cool_to_C=to_C, bed=bed, read_at_C=read_at_C), pot.salt_g, pot.water_g)
    if rescue is None or rescue.outcome != "crop":
        return f"{why}, and thinning it does not help."
    thinned = pot.with_water(pot.water_g + rescue.add_water_g, read_at_C)
    return _Chosen(RESCUE, thinned, True, None, rescue.warm_to_C)


def _at_a_mark(pot: Pot, to_C: float, mass_fraction: float, odds: float | None, read_at_C: float) -> _Chosen:
    """The end at a composition, rounded up to a mark that can be read; a pot that is richer already is thinned."""
    volume = pot.with_water(_water(pot, mass_fraction)).volume_mL(read_at_C)
    step = rounding_mL(volume)
    water = float(pot.water_for_volume(step * np.ceil(volume / step - 1e-9), read_at_C))
    if pot.mass_fraction < mass_fraction:
        return _Chosen(REDUCE, pot.with_water(min(water, pot.water_g), read_at_C), False, odds, None)
    thinned = pot.with_water(water, read_at_C)
    warm_C = clear_temperature_C(Batch(pot, cool_to_C=to_C, read_at_C=read_at_C), thinned.mass_fraction)
    return _Chosen(RESCUE, thinned, False, odds, warm_C)


def _water(pot: Pot, mass_fraction: float) -> float:
    return pot.salt_g * (1.0 - mass_fraction) / mass_fraction


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
    chosen: _Chosen,
    pot: Pot,
    to_C: float,
    stop: tuple[str, str],
    stops: Stops,
    least_g: float,
) -> tuple[_Chosen, Harvest, tuple[str, str] | None]:
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
