"""Bringing a pot that set solid back to a crop: water to add, how warm to make it, what then comes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from crystal.bench.advice import Advice
from crystal.bench.batch import Batch
from crystal.bench.cooling import Cooled
from crystal.bench.pot import Pot
from crystal.bench.window import Window
from crystal.physics.company import first_beside, look_up_beside

WARMER_K = 5.0
"""How far above the temperature of first crystals the pot is warmed, K; common practice, no source."""

_TRIES = 129


@dataclass(frozen=True, slots=True)
class Rescue:
    """Add water, warm until all has dissolved, cool again.

    ``warm_to_C`` is None where no temperature is known at which the diluted pot is clear.
    """

    add_water_g: float
    warm_to_C: float | None
    cool_to_C: float
    crystals_g: float
    outcome: str

    @classmethod
    def of(cls, batch: Batch, salt_g: float, water_g: float) -> Rescue | None:
        """Plan the rescue of a pot that holds so much salt and water.

        Parameters
        ----------
        batch : Batch
            The batch, for its cooling temperature and bed.
        salt_g, water_g : float
            What the pot holds now, g.

        Returns
        -------
        Rescue or None
            None where no amount of water gives a crop at that temperature.
        """
        assert batch.cool_to_C is not None
        model = batch.start.model
        # The advice is for the salt at hand, from a pot dilute enough to offer every end point.
        dilute = Pot(model, salt_g, 1e4 * salt_g, batch.read_at_C, batch.start.others)
        window = Window.of(dilute, batch.cool_to_C, read_at_C=batch.read_at_C, bed=batch.bed)
        advice = Advice.of(window)
        if advice.end is None or window.saturates is None:
            return None
        most = min(advice.end.mass_fraction, salt_g / (salt_g + water_g))
        w, warm = _richest_that_clears(batch, most, window.saturates.mass_fraction)
        water = max(salt_g * (1.0 - w) / w, water_g)
        then = Cooled.of(model, salt_g, water, batch.cool_to_C, bed=batch.bed, others=batch.start.others)
        word = then.outcome_word()
        assert word is not None
        return cls(water - water_g, warm, batch.cool_to_C, float(then.crystals_g), word)


def _richest_that_clears(batch: Batch, most: float, least: float) -> tuple[float, float | None]:
    """The richest composition up to ``most`` that some temperature makes clear; ``most`` itself where none does."""
    assert batch.cool_to_C is not None
    for w in np.linspace(most, least, _TRIES)[:-1]:
        warm = clear_temperature_C(batch, float(w))
        if warm is not None and warm > batch.cool_to_C:
            return float(w), warm
    return most, None


def clear_temperature_C(batch: Batch, mass_fraction: float) -> float | None:
    """A temperature at which that composition is safely clear: 5 K above its first crystals, whole degrees."""
    model = batch.start.model
    start = batch.start
    first = first_beside(model, start.others, start.salt_g, mass_fraction)
    if not bool(first.found):
        return None
    at = float(first.temperature_C)
    tries = np.array([np.ceil(at + WARMER_K), np.ceil(at + WARMER_K / 2), np.ceil(at + 1.0)])
    tries = np.minimum(tries, model.map.high_C)
    state = look_up_beside(model, start.others, start.salt_g, mass_fraction, tries)
    clear = np.flatnonzero(state.known & (state.liquor_fraction >= 1.0) & (tries > at))
    return float(tries[clear[0]]) if len(clear) else None
