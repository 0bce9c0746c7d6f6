"""How pure a crop is, what recrystallising it brings and costs, and when the other solutes would crystallise too."""

from __future__ import annotations

from dataclasses import dataclass, replace

from crystal.bench.batch import Batch
from crystal.bench.cooling import LOOSE_BED
from crystal.bench.harvest import Draining, Harvest, Wash
from crystal.bench.ledger import Matter
from crystal.bench.pot import Pot
from crystal.bench.rescue import Rescue
from crystal.data.catalogue import Catalogue
from crystal.errors import CrystalError, InputError
from crystal.physics.humidity import saturated
from crystal.physics.model import Model

MOST_ROUNDS = 12
_NO_GAIN = 0.02  # of the impurity, from one round to the next


@dataclass(frozen=True, slots=True)
class LiquorSolute:
    """One other solute in a liquor.

    ``own_g_per_100g_water`` is what pure water holds of it over ``own_solid``, None where the catalogue does not tell:
    a rough guide, as the salt beside it shifts it.
    """

    formula: str
    grams: float
    g_per_100g_water: float
    own_g_per_100g_water: float | None
    own_solid: str | None

    @property
    def saturation(self) -> float | None:
        """Its concentration over its own solubility in pure water; from 1 on it is due to crystallise too."""
        if self.own_g_per_100g_water is None:
            return None
        return self.g_per_100g_water / self.own_g_per_100g_water


def liquor_solutes(
    liquor: Matter, temperature_C: float, catalogue: Catalogue | None = None
) -> tuple[LiquorSolute, ...]:
    """The other solutes of a liquor against their own solubility in as much pure water.

    Parameters
    ----------
    liquor : Matter
        The liquor.
    temperature_C : float
        Its temperature, °C.
    catalogue : Catalogue, optional
        Where the solutes' own curves are looked up.

    Examples
    --------
    >>> found = liquor_solutes(Matter(10.0, 100.0, {"NaCl": 18.0}), 20.0)[0]
    >>> found.own_solid, round(found.saturation, 2)
    ('NaCl', 0.5)
    """
    known = (catalogue or Catalogue.bundled()).salts
    rows = []
    for formula, grams in liquor.others_g.items():
        if not (liquor.water_g > 0 and grams > 0):
            continue
        own = saturated(Model.of(known[formula]), temperature_C) if formula in known else None
        rows.append(
            LiquorSolute(
                formula,
                grams,
                100.0 * grams / liquor.water_g,
                None if own is None else 100.0 * own[0] / (1.0 - own[0]),
                None if own is None else own[1],
            )
        )
    return tuple(rows)


@dataclass(frozen=True, eq=False, slots=True)
class Recrystallisation:
    """One round: water added to the dry crop, warmed until clear, cooled, harvested.

    ``yield_fraction`` counts from the salt in the first pot.
    """

    water_g: float
    warm_to_C: float | None
    harvest: Harvest
    yield_fraction: float

    @property
    def purity(self) -> float:
        return self.harvest.cake.purity


@dataclass(frozen=True, eq=False, slots=True)
class Purifying:
    """A crop recrystallised until it is as pure as wanted; ``reached`` tells whether it got there, ``why`` why it ended."""

    first: Harvest
    wanted: float
    rounds: tuple[Recrystallisation, ...]
    reached: bool
    why: str

    @classmethod
    def of(
        cls,
        first: Harvest,
        wanted: float,
        *,
        cool_to_C: float | None = None,
        washes: tuple[Wash, ...] | None = None,
        how: Draining | None = None,
        bed: float = LOOSE_BED,
        most: int = MOST_ROUNDS,
    ) -> Purifying:
        """Recrystallise a crop from as little water as clears it and keeps the advice's margin.

        Parameters
        ----------
        first : Harvest
            The crop to begin with.
        wanted : float
            The purity wanted, 0 to 1.
        cool_to_C : float, optional
            Temperature of each round, °C; that of the harvest unless told.
        washes, how : optional
            Each round's washes and draining; the first crop's unless told. Washes are scaled with the crop.
        bed : float
            Solids' share of the volume of the settled crystals.
        most : int
            Rounds at most.

        Notes
        -----
        Ends where a round takes less than 2 % of the impurity away, as when it is enclosed in the crystals.
        """
        if not 0.0 < wanted < 1.0:
            raise InputError("--purity", f"{100 * wanted:g} %", "above 0 and below 100 %", "99.5 %")
        to_C = float(first.cooled.temperature_C) if cool_to_C is None else cool_to_C
        how = first.how if how is None else how
        washes = first.washes if washes is None else washes
        rounds: list[Recrystallisation] = []
        last = first
        why = f"not reached in {most} rounds"
        while last.cake.purity < wanted and len(rounds) < most:
            crop = last.cake.dried
            pot = crop.pot(first.pot)
            plan = Rescue.of(Batch(pot, cool_to_C=to_C, bed=bed), pot.salt_g, pot.water_g)
            if plan is None:
                why = f"no amount of water gives a crop at {to_C:g} degC"
                break
            share = last.cake.crystals_g / first.cake.crystals_g
            scaled = tuple(replace(wash, liquid_g=share * wash.liquid_g) for wash in washes)
            try:
                taken = Harvest.of(pot.with_water(pot.water_g + plan.add_water_g), to_C, how, scaled, bed=bed)
            except CrystalError as error:
                why = str(error)
                break
            before, after = 1.0 - last.cake.purity, 1.0 - taken.cake.purity
            rounds.append(
                Recrystallisation(
                    plan.add_water_g, plan.warm_to_C, taken, taken.cake.dried.salt_g / first.pot.salt_g
                )
            )
            last = taken
            if after > (1.0 - _NO_GAIN) * before and after > 1.0 - wanted:
                why = "the last round hardly took any more of the impurity away"
                break
        reached = last.cake.purity >= wanted
        return cls(first, wanted, tuple(rounds), reached, "as pure as wanted" if reached else why)


def joined(pots: tuple[Pot, ...]) -> Pot:
    """Several liquors of one salt in one pot, read as the first is.

    Raises
    ------
    InputError
        Where they are not of one salt.

    Examples
    --------
    >>> model = Model.of(Catalogue.bundled().find("KNO3"))
    >>> both = joined((Pot(model, 10.0, 90.0), Pot(model, 30.0, 60.0)))
    >>> both.salt_g, both.water_g
    (40.0, 150.0)
    """
    formulas = list(dict.fromkeys(pot.model.salt.formula for pot in pots))
    if len(formulas) != 1:
        raise InputError(
            "--join", " and ".join(formulas) or "nothing", "liquors of one salt", "--join spent.json"
        )
    return Matter.sum(Matter.of(pot) for pot in pots).pot(pots[0])
