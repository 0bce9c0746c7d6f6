"""Where a crop ends: as it is told, as a search found it, by the margin or by a risk; a pot that is past that is thinned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from crystal.bench.advice import Advice
from crystal.bench.batch import Batch
from crystal.bench.cooling import OUTCOMES, Cooled
from crystal.bench.doubt import Doubt, Draws
from crystal.bench.pot import Pot
from crystal.bench.rescue import Rescue, clear_temperature_C
from crystal.bench.risk import Bet, rounding_mL
from crystal.bench.window import Window
from crystal.errors import InputError

REDUCE, RESCUE = "reduce", "rescue"


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
class CropEnd:
    """The pot as it is left to cool, how it came there, and how sure that is."""

    kind: str
    end: Pot
    margin_kept: bool
    odds: float | None
    warm_to_C: float | None


def end_of_crop(
    pot: Pot, to_C: float, wish: Told, risk: float | None, doubt: Doubt | None, read_at_C: float, bed: float
) -> CropEnd | str:
    """The end point of the next crop, or why there is none."""
    told = wish.end_of(pot, read_at_C)
    if told is not None:
        return CropEnd(REDUCE, told, False, None, None)
    if wish.end_mass_fraction is not None:
        return _at_a_mark(pot, to_C, wish.end_mass_fraction, wish.odds, read_at_C)
    window = Window.of(pot, to_C, read_at_C=read_at_C, bed=bed)
    if risk is not None:
        bet = Bet.of(window, Draws.of(pot, to_C, Doubt() if doubt is None else doubt, bed=bed), risk=risk)
        if bet.end is not None and bet.odds is not None:
            end = pot.with_water(_water(pot, bet.end.mass_fraction), read_at_C)
            return CropEnd(REDUCE, end, False, float(bet.odds.does_not_pour[0]), None)
        why = f"no end point keeps the odds of setting under {100 * risk:g} %"
    else:
        advice = Advice.of(window)
        if advice.end is not None and advice.margin_kept:
            return CropEnd(
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
    return CropEnd(RESCUE, thinned, True, None, rescue.warm_to_C)


def _at_a_mark(pot: Pot, to_C: float, mass_fraction: float, odds: float | None, read_at_C: float) -> CropEnd:
    """The end at a composition, rounded up to a mark that can be read; a pot that is richer already is thinned."""
    volume = pot.with_water(_water(pot, mass_fraction)).volume_mL(read_at_C)
    step = rounding_mL(volume)
    water = float(pot.water_for_volume(step * np.ceil(volume / step - 1e-9), read_at_C))
    if pot.mass_fraction < mass_fraction:
        return CropEnd(REDUCE, pot.with_water(min(water, pot.water_g), read_at_C), False, odds, None)
    thinned = pot.with_water(water, read_at_C)
    warm_C = clear_temperature_C(Batch(pot, cool_to_C=to_C, read_at_C=read_at_C), thinned.mass_fraction)
    return CropEnd(RESCUE, thinned, False, odds, warm_C)


def _water(pot: Pot, mass_fraction: float) -> float:
    return pot.salt_g * (1.0 - mass_fraction) / mass_fraction
