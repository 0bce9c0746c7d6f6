"""A pot on its way down: first crystals, seed, the curve to lead it along, what it does by itself, and a night outside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.bench.cooling import LOOSE_BED, UNKNOWN, Cooled
from crystal.bench.cooling_curve import SEEDED, UNSEEDED, ControlledCooling, NaturalCooling
from crystal.bench.crystallisation_heat import HeatOfCooling, InsulatedPot
from crystal.bench.ends import BOILING_C
from crystal.bench.pot import Pot
from crystal.bench.seeding import USUAL_SEED_MM, Seeding
from crystal.bench.shift import company_notes
from crystal.bench.supersaturation import Supersaturation, Zone
from crystal.errors import InputError

Floats = NDArray[np.float64]

ROWS = 9


@dataclass(frozen=True, slots=True)
class Night:
    """One end of a forecast: what stands in the pot if it takes on that temperature; None where the data do not tell."""

    temperature_C: float
    outcome: str | None
    crystals_g: float | None
    ice_g: float | None
    yield_fraction: float | None


@dataclass(frozen=True, eq=False, slots=True)
class Cooldown:
    """How a pot is cooled.

    Attributes
    ----------
    zone : Zone or None
        First crystals and the metastable zone.
    path : Supersaturation
        At even steps from the hot pot to the cold, were it to stay clear.
    crop_g, solid : float, str or None
        Crystals at the end, and the main solid.
    controlled : ControlledCooling or None
        None where no first crystals are due above the end.
    seeding : Seeding or None
        Where a size was asked for.
    natural : NaturalCooling or None
        Where the pot's own readings were given.
    """

    pot: Pot
    from_C: float
    to_C: float
    zone: Zone | None
    path: Supersaturation
    cooled: Cooled
    crop_g: float
    solid: str | None
    controlled: ControlledCooling | None
    seeding: Seeding | None
    natural: NaturalCooling | None
    nights: tuple[Night, ...]
    heat: HeatOfCooling
    insulated: InsulatedPot | None
    warnings: tuple[str, ...]

    @classmethod
    def of(
        cls,
        pot: Pot,
        to_C: float,
        *,
        from_C: float | None = None,
        hours: float = 8.0,
        exponent: float | None = None,
        size_mm: float | None = None,
        seed_mm: float = USUAL_SEED_MM,
        natural: NaturalCooling | None = None,
        nights_C: ArrayLike = (),
        insulated_from_C: float | None = None,
        bed: float = LOOSE_BED,
    ) -> Cooldown:
        """Work the cooling out.

        Parameters
        ----------
        pot : Pot
            The pot at its end point.
        to_C : float
            Temperature at the end, °C.
        from_C : float, optional
            Temperature of the hot pot, °C; 100, or where the data end below that.
        hours, exponent : float
            Of the controlled curve; the exponent is 3 with seed and 4 without, unless told.
        size_mm, seed_mm : float
            Crystals wanted and the seed at hand, mm.
        natural : NaturalCooling, optional
            How the pot cools by itself.
        nights_C : array_like
            Temperatures of a night outside, °C: a low and a high.
        insulated_from_C : float, optional
            Temperature at which crystals come in a pot that keeps its heat, °C.
        bed : float
            Solids' share of the volume of the settled crystals.

        Raises
        ------
        CoverageError
            Where the data hold no answer at ``to_C``.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> pot = Pot(Model.of(Catalogue.bundled().find("KNO3")), 100.0, 120.0)
        >>> cooldown = Cooldown.of(pot, 10.0, size_mm=2.0)
        >>> round(cooldown.controlled.from_C, 1), round(cooldown.seeding.seed_g, 2)
        (49.5, 0.25)
        """
        model = pot.model
        hot_C = min(BOILING_C, model.map.high_C) if from_C is None else from_C
        if not to_C < hot_C:
            raise InputError("--cool-to", f"{to_C:g} degC", f"below the hot pot's {hot_C:g} degC", "5 degC")
        cooled = Cooled.of(model, pot.salt_g, pot.water_g, to_C, bed=bed, others=pot.others)
        zone = Zone.of(pot)
        crop = float(cooled.crystals_g)
        said = _before(pot, hot_C, to_C, zone, cooled)
        controlled, seeding = None, None
        due = zone is not None and not zone.is_ice and zone.saturated_C > to_C and crop > 0
        if due and zone is not None:
            if size_mm is not None:
                seeding = Seeding.for_size(crop, zone.seed_C, size_mm, seed_mm)
                said += seeding.warnings
            begins = min(zone.seed_C if exponent != UNSEEDED else zone.saturated_C, hot_C)
            if begins > to_C:
                controlled = ControlledCooling.between(
                    begins, to_C, hours, SEEDED if exponent is None else exponent
                )
        elif size_mm is not None:
            said.append("No seed is reckoned: no first crystals are due on this way.")
        if natural is not None and natural.surroundings_C > to_C:
            said.append(
                f"Left to itself it nears {natural.surroundings_C:.0f} °C and never comes down to {to_C:g} °C."
            )
        insulated = InsulatedPot.of(pot, insulated_from_C) if insulated_from_C is not None else None
        nights = tuple(_night(pot, float(t), bed) for t in np.sort(np.asarray(nights_C, float).ravel()))
        said += _of_nights(pot, nights)
        steps = np.linspace(_top(hot_C, to_C, zone), to_C, ROWS)
        return cls(
            pot, hot_C, to_C, zone, Supersaturation.of(pot, steps), cooled, crop,
            model.solid_name(int(cooled.main_solid)), controlled, seeding, natural, nights,
            HeatOfCooling.of(pot, hot_C, cooled), insulated, tuple(said),
        )  # fmt: skip

    def crystals_at_g(self, temperature_C: ArrayLike) -> Floats:
        """Crystals at equilibrium at temperatures on the way, g; NaN where the data do not tell."""
        state = Cooled.of(
            self.pot.model,
            self.pot.salt_g,
            self.pot.water_g,
            temperature_C,
            strict=False,
            others=self.pot.others,
        )
        return np.where(state.outcome == UNKNOWN, np.nan, state.crystals_g)

    @property
    def first_hour_share(self) -> float | None:
        """What part of the crop has come, by equilibrium, in the first hour in which a pot left to itself has crystals.

        None without readings, or where the first crystals or the crop are not known.
        """
        natural, zone = self.natural, self.zone
        if natural is None or zone is None or self.crop_g <= 0:
            return None
        begins = natural.hours_to(min(zone.saturated_C, natural.from_C))
        if begins is None:
            return None
        end_C = max(self.to_C, natural.surroundings_C)
        then_C = max(float(natural.temperature_C(begins + 1.0)), end_C)
        then, whole = self.crystals_at_g(np.array([then_C, end_C]))
        return float(then / whole) if whole > 0 and np.isfinite(then) else None


def _top(hot_C: float, to_C: float, zone: Zone | None) -> float:
    """Where the table of the path begins: some way above the first crystals, not above the hot pot."""
    if zone is None or zone.saturated_C <= to_C:
        return hot_C
    return min(hot_C, zone.saturated_C + 0.25 * (zone.saturated_C - to_C))


def _night(pot: Pot, temperature_C: float, bed: float) -> Night:
    state = Cooled.of(
        pot.model, pot.salt_g, pot.water_g, temperature_C, bed=bed, strict=False, others=pot.others
    )
    if int(state.outcome) == UNKNOWN:
        return Night(temperature_C, None, None, None, None)
    return Night(
        temperature_C, state.outcome_word(), float(state.crystals_g), float(state.ice_g), float(state.yield_fraction)
    )  # fmt: skip


def _before(pot: Pot, hot_C: float, to_C: float, zone: Zone | None, cooled: Cooled) -> list[str]:
    name = pot.model.salt.formula
    said = company_notes(pot, to_C)
    hot = Cooled.of(pot.model, pot.salt_g, pot.water_g, hot_C, strict=False, others=pot.others)
    hot_g, cold_g = float(hot.crystals_g), float(cooled.crystals_g)
    stands = hot.solids_g()[0][0] if int(hot.outcome) != UNKNOWN and hot_g > 0 else None
    last = pot.model.solid_name(int(cooled.main_solid))
    dissolves = stands is not None and hot_g > cold_g and last in (None, stands)
    if dissolves:
        much = f"{hot_g - cold_g:.3g} g of it: the crop is what the boiling dropped, it needs no seed and no slow cooling."
        said.append(
            f"At {hot_C:g} °C {hot_g:.3g} g of {stands} already stands in the pot, and cooling dissolves "
            + (much if cold_g > 0 else "all of it: pour the liquor off hot to keep it.")
        )
    elif zone is None:
        said.append(f"No temperature of first crystals is known for this composition of {name}.")
    elif zone.is_ice:
        said.append(
            f"Ice comes first, at {zone.saturated_C:.1f} °C: no crystals of {name} are due before, and ice is no crop."
        )
    elif zone.width_K is None and zone.saturated_C > to_C:
        said.append(f"How far {name} can be undercooled is not in the data: watch for the first crystals.")
    if zone is not None and not zone.is_ice and to_C < zone.saturated_C and last not in (None, zone.solid):
        said.append(
            f"{zone.solid} comes first, {last} is what stands at {to_C:g} °C: seed with the first. The change is slow without "
            f"a crystal of {last}: add one when the pot is cold and let it stand before it is drained."
        )
    if int(hot.outcome) == UNKNOWN:
        said.append(f"Whether the hot pot is clear at {hot_C:g} °C is not in the data.")
    elif stands is not None and not dissolves:
        said.append(
            f"At {hot_C:g} °C {hot_g:.3g} g of {stands} already stands in the pot: "
            f"{'thin it' if zone is None else 'warm or thin it'} until it is clear, or that is the seed."
        )
    if float(cooled.ice_g) > 0:
        said.append(f"At {to_C:g} °C {float(cooled.ice_g):.3g} g of the pot is ice, which is no crop.")
    return said


def _of_nights(pot: Pot, nights: tuple[Night, ...]) -> list[str]:
    said = []
    for night in nights:
        floor = pot.model.map.stretches[0]
        if night.outcome is None and night.temperature_C < floor.low_C and floor.ends_in_eutectic:
            said.append(
                f"Below {floor.low_C:.1f} °C the pot freezes solid, ice and crystals together: a night of "
                f"{night.temperature_C:g} °C can crack the vessel; bring it under cover."
            )
        elif night.outcome is None:
            said.append(f"What a night of {night.temperature_C:g} °C leaves is not in the data.")
        elif night.ice_g:
            said.append(
                f"In a night of {night.temperature_C:g} °C {night.ice_g:.3g} g of the pot freezes to ice: it can crack the "
                "vessel and shuts crystals in; bring it under cover."
            )
        elif night.outcome in ("thick", "set"):
            said.append(
                f"In a night of {night.temperature_C:g} °C the crop no longer pours off ({night.outcome})."
            )
    return said
