"""Invented batches, told as a person tells them."""

from __future__ import annotations

from salts import model

from crystal.bench.batch import Batch, Seen
from crystal.bench.pot import Amount, Pot
from crystal.physics.formula import Hydrate


def batch(
    holds: str,
    grams: float,
    start_mL: float,
    end_mL: float | None,
    cool_to_C: float | None,
    seen: Seen | str | None,
) -> Batch:
    """So many grams of a solid made up to a volume, boiled down to another, cooled."""
    hydrate = Hydrate.parse(holds)
    its = model(hydrate.anhydrous)
    start = Pot.from_facts(its, holds=Amount(grams, hydrate.salt_mass_fraction), volume_mL=start_mL)
    water = None if end_mL is None else float(its.density.water_g_for_volume(start.salt_g, end_mL, 20.0))
    looked = Seen(outcome=seen) if isinstance(seen, str) else seen
    return Batch(start, end_water_g=water, cool_to_C=cool_to_C, seen=() if looked is None else (looked,))
