"""Turned round: which end point, or how much feed, gives a wanted mass of crystals."""

from __future__ import annotations

from dataclasses import dataclass

from crystal.bench.plan import Plan
from crystal.bench.window import Band, EndPoint


@dataclass(frozen=True, slots=True)
class Want:
    """How a wanted crop is come by.

    ``end`` is the end point of the feed named by ``feed_factor`` (1: the pot as given; else more or less of the same
    solution), its fraction counted on that feed. ``end`` and the factor are None where no crop can be had.
    """

    crystals_g: float
    end: EndPoint | None
    outcome: str | None
    feed_factor: float | None
    feed_volume_mL: float | None
    feed_mass_g: float | None
    solid: str | None

    @classmethod
    def of(cls, plan: Plan, crystals_g: float) -> Want:
        """Solve for a wanted crop.

        Parameters
        ----------
        plan : Plan
            The plan of the pot as given.
        crystals_g : float
            Crystals wanted, g as they lie in the pot, with their own water.

        Returns
        -------
        Want
            The end point, exact by the lever rule, where it lies in the first band with a crop: with A g of salt,
            a liquor of s g salt per g water and x g salt per g crystals, W = (A - C(x - s(1 - x)))/s of water is
            left. Otherwise the feed that gives the crop at the advised end point.

        Examples
        --------
        >>> from crystal.bench.pot import Pot
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> pot = Pot(Model.of(Catalogue.bundled().find("KNO3")), 100.0, 400.0)
        >>> want = Want.of(Plan.of(pot, 20.0), 50.0)
        >>> want.outcome, want.feed_factor, want.solid
        ('crop', 1.0, 'KNO3')
        """
        window, start = plan.window, plan.window.start
        band = next((band for band in window.bands if band.outcome == "crop"), None)
        if band is not None:
            w = _mass_fraction_with(plan, band, crystals_g)
            if w is not None:
                end = EndPoint.of(start, w, window.read_at_C)
                name = start.model.solid_name(band.solid)
                return cls(crystals_g, end, "crop", 1.0, start.volume_mL(), start.mass_g, name)
        advised = plan.advice.end
        if advised is None or plan.advised is None or plan.advice.crystals_g <= 0:
            return cls(crystals_g, None, None, None, None, None, None)
        factor = crystals_g / plan.advice.crystals_g
        feed = start.scaled(factor)
        return cls(
            crystals_g,
            EndPoint.of(feed, advised.mass_fraction, window.read_at_C),
            plan.advised.cooled.outcome_word(0),
            factor,
            feed.volume_mL(),
            feed.mass_g,
            start.model.solid_name(plan.advice.solid),
        )


def _mass_fraction_with(plan: Plan, band: Band, crystals_g: float) -> float | None:
    """Composition inside a band with a crop at which that many crystals come; None where it lies outside it."""
    window, model = plan.window, plan.window.start.model
    run = next(run for run in window.runs if run.outcome == "crop" and run.to_w == band.end.mass_fraction)
    x = float(model.solid_mass_fractions[band.solid])
    state = model.map.at((band.start.mass_fraction + band.end.mass_fraction) / 2, window.cool_to_C)
    liquor = float(state.liquor_mass_fraction)
    s = liquor / (1.0 - liquor)
    water = (window.start.salt_g - crystals_g * (x - s * (1.0 - x))) / s
    if water <= 0 or water > window.start.water_g:
        return None
    w = window.start.salt_g / (window.start.salt_g + water)
    return w if run.from_w < w < run.to_w else None
