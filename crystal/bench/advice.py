"""The end point to stop at, with a margin for a misread mark and a cold night."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.bench.window import EndPoint, Window

Floats = NDArray[np.float64]

BED_SHARE = 0.8
"""The advised crop fills at most this share of what a settled bed would."""

VOLUME_MARGIN = 0.05
"""A mark read this much too low must still give a crop that pours off."""

COLD_MARGIN_K = 3.0
"""And so must a night this much colder."""

_GRID = 193


@dataclass(frozen=True, eq=False)
class Advice:
    """What to stop at, or why nothing can be advised.

    ``end`` is None where no end point gives a crop. ``margin_kept`` tells whether the crop survives the volume and the
    cold margin together; ``colder_C`` is the coldest temperature at which it was tried.
    """

    end: EndPoint | None
    crystals_g: float
    solid: int
    margin_kept: bool
    colder_C: float

    @classmethod
    def of(cls, window: Window) -> Advice:
        """Find the largest crop that keeps the margin; failing that, the middle of the widest crop band.

        Parameters
        ----------
        window : Window
            The outcomes at the cooling temperature.

        Notes
        -----
        The margin: crystals' share of the volume at most 0.8 of the bed's, and still a crop when the end volume is
        5 % smaller, when the night is 3 K colder, and when both hold. Where the data end less than 3 K below, the
        margin is taken down to where they end.

        Examples
        --------
        >>> from crystal.bench.pot import Pot
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> pot = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 97.7, 402.3)
        >>> advice = Advice.of(Window.of(pot, 5.0))
        >>> round(advice.end.end_volume_mL), advice.margin_kept
        (188, True)
        """
        colder = _coldest_known(window)
        spans = [
            (max(run.from_w, 1e-9), run.to_w)
            for run in window.runs
            if run.outcome == "crop" and run.to_w > window.start.mass_fraction
        ]
        if not spans:
            return cls(None, 0.0, -1, False, colder)
        spans = [(max(a, window.start.mass_fraction), b) for a, b in spans]
        grid = np.concatenate([np.linspace(a, b, _GRID) for a, b in spans])
        w, crystals = _best(window, grid, colder)
        if w is not None:
            # Once more between the neighbours of the best, so that the answer does not hang on the grid.
            i = int(np.searchsorted(grid, w))
            near = np.linspace(grid[max(i - 1, 0)], grid[min(i + 1, len(grid) - 1)], _GRID)
            again, more = _best(window, near, colder)
            if again is not None and more >= crystals:
                w = again
        kept = w is not None
        if w is None:
            a, b = max(spans, key=lambda span: _volume_span(window, span))
            w = (a + b) / 2
        cooled = window.cooled(window.start.salt_g * (1 - w) / w)
        end = EndPoint.of(window.start, w, window.read_at_C)
        return cls(end, float(cooled.crystals_g), int(cooled.main_solid), kept, colder)


def _volume_span(window: Window, span: tuple[float, float]) -> float:
    large, small = (EndPoint.of(window.start, w, window.read_at_C).end_volume_mL for w in span)
    return large - small


def _coldest_known(window: Window) -> float:
    """3 K below the cooling temperature, or where the data or the liquid end before that."""
    phase_map = window.start.model.map
    return max(window.cool_to_C - COLD_MARGIN_K, min(phase_map.low_C, window.cool_to_C))


def _best(window: Window, w: Floats, colder_C: float) -> tuple[float | None, float]:
    """The composition with most crystals of those that keep the margin."""
    start = window.start
    water = start.salt_g * (1.0 - w) / w
    volume = start.volume_of(water, window.read_at_C)
    less = start.water_for_volume((1.0 - VOLUME_MARGIN) * volume, window.read_at_C)
    less = np.maximum(less, 0.0)
    here = window.cooled(water)
    good = (here.outcome == 1) & (here.crystal_volume_fraction <= BED_SHARE * window.bed)
    for water_then, temperature_C in ((less, window.cool_to_C), (water, colder_C), (less, colder_C)):
        then = window.cooled(water_then, temperature_C)
        good &= (then.outcome == 1) & (then.ice_g == 0)
    if not good.any():
        return None, 0.0
    crystals = np.where(good, here.crystals_g, -1.0)
    best = int(np.argmax(crystals))
    return float(w[best]), float(crystals[best])
