"""How far an input must have been off for the pot to have done what was seen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch
from crystal.bench.cooling import OUTCOMES, Cooled

VOLUME_DOUBT = 0.05
"""Standard uncertainty of a volume read off a beaker, relative; common practice, no source."""

TEMPERATURE_DOUBT_K = 3.0
"""Standard uncertainty of the temperature that a room or a night gives, K; common practice, no source."""

CONTENT_DOUBT = 0.03
"""Standard uncertainty of the salt that a recipe claims, relative; common practice, no source."""

PLAUSIBLE = 3.0
"""Standard uncertainties beyond which a cause is no longer put forward."""

DOES_NOT_POUR = 2


@dataclass(frozen=True, slots=True)
class Shift:
    """An input moved just far enough: ``factor_or_K`` is a factor (volume, content) or a difference in K.

    ``sigmas`` counts standard uncertainties of that input. ``salt_g``, ``water_g`` and ``temperature_C`` are the pot
    with the shift.
    """

    cause: str
    factor_or_K: float
    sigmas: float
    salt_g: float
    water_g: float
    temperature_C: float


def outcome_class(word: str | None) -> int | None:
    """0 clear, 1 crop, 2 does not pour (thick and set are one class); None for unknown.

    Examples
    --------
    >>> outcome_class("thick") == outcome_class("set")
    True
    """
    return None if word is None else min(OUTCOMES.index(word), DOES_NOT_POUR)


def shifts_that_explain(batch: Batch, seen: str) -> list[Shift]:
    """The least shift of each single input that turns the expected outcome into the one seen.

    Parameters
    ----------
    batch : Batch
        The batch; needs a cooling temperature.
    seen : str
        The outcome seen, a word of ``OUTCOMES``.

    Returns
    -------
    list of Shift
        One for each input that can do it at all within a factor of 0.5 to 2 (volume, content) or 25 K, the most
        plausible first. Empty where none can.
    """
    assert batch.cool_to_C is not None
    wanted = outcome_class(seen)
    end = batch.end
    salt, water, cold = end.salt_g, end.water_g, batch.cool_to_C
    volume = end.volume_mL()
    factors = np.concatenate([np.linspace(0.5, 1.0, 501)[:-1], np.linspace(1.0, 2.0, 1001)[1:]])
    kelvins = np.concatenate([np.linspace(-25.0, 0.0, 501)[:-1], np.linspace(0.0, 25.0, 501)[1:]])

    def water_for(
        salt_g: NDArray[np.float64] | float, volume_mL: NDArray[np.float64] | float
    ) -> NDArray[np.float64]:
        return end.water_for_volume(volume_mL, end.read_at_C, salt_g)

    trials: list[tuple[str, str, float, NDArray[np.float64], tuple[NDArray[np.float64] | float, ...]]] = [
        (
            "too_far_reduced",
            "not_far_enough",
            VOLUME_DOUBT,
            factors,
            (salt, water_for(salt, volume * factors), cold),
        ),
        ("too_cold", "not_cold_enough", TEMPERATURE_DOUBT_K, kelvins, (salt, water, cold + kelvins)),
        (
            "less_salt",
            "more_salt",
            CONTENT_DOUBT,
            factors,
            (salt * factors, water_for(salt * factors, volume), cold),
        ),
    ]
    found = []
    for low_cause, high_cause, doubt, amounts, (s, w, t) in trials:
        neutral = 0.0 if amounts is kelvins else 1.0
        nearest = _nearest(
            batch, np.asarray(s), np.asarray(w), np.asarray(t), amounts - neutral, lambda c: c == wanted
        )
        if nearest is None:
            continue
        i, salt_g, water_g, temperature_C = nearest
        off = float(amounts[i] - neutral)
        found.append(
            Shift(
                low_cause if off < 0 else high_cause,
                float(amounts[i]),
                abs(off) / doubt,
                salt_g,
                water_g,
                temperature_C,
            )
        )
    return sorted(found, key=lambda shift: shift.sigmas)


def _nearest(
    batch: Batch,
    salt_g: NDArray[np.float64],
    water_g: NDArray[np.float64],
    temperature_C: NDArray[np.float64],
    off: NDArray[np.float64],
    fits: Callable[[NDArray[np.int8]], NDArray[np.bool_]],
) -> tuple[int, float, float, float] | None:
    salt_g, water_g, temperature_C = np.broadcast_arrays(salt_g, water_g, temperature_C)
    possible = (water_g > 0) & (temperature_C <= batch.start.model.map.high_C)
    cooled = Cooled.of(
        batch.start.model,
        salt_g,
        np.maximum(water_g, 0.0),
        temperature_C,
        bed=batch.bed,
        strict=False,
        others=batch.start.others,
    )
    classes = np.minimum(cooled.outcome, DOES_NOT_POUR)
    good = np.flatnonzero(fits(classes) & possible)
    if not len(good):
        return None
    i = int(good[np.argmin(np.abs(off[good]))])
    return i, float(salt_g[i]), float(water_g[i]), float(temperature_C[i])
