"""The saturation path of a batch: start, boiled down, first crystals, changes of solid, end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.bench.cooling import LOOSE_BED, UNKNOWN, Cooled
from crystal.bench.ends import BOILING_C
from crystal.bench.pot import Pot
from crystal.bench.shift import company_notes
from crystal.physics.company import company_of, look_up_beside
from crystal.physics.model import Model

Floats = NDArray[np.float64]

ROUNDING = 1e-9
"""Crystals below this share of the pot are rounding where first crystals are just due."""

_SCAN = 1601
_NARROWINGS, _PARTS = 6, 64
_JOINED_WITHIN_K = 1e-6


@dataclass(frozen=True, slots=True)
class Step:
    """One state on the path; ``phase`` is the solid with most mass (ice included), None where the pot is clear.

    ``crystals_g``, ``liquor_g``, ``liquor_mass_fraction`` and ``solids`` (each with its grams, the heavier first) are None
    where the data do not tell.
    """

    name: str
    temperature_C: float
    mass_fraction: float
    salt_g: float
    water_g: float
    phase: str | None
    crystals_g: float | None
    liquor_g: float | None
    liquor_mass_fraction: float | None
    solids: tuple[tuple[str, float], ...] | None = None


@dataclass(frozen=True, eq=False)
class SaturationPath:
    """A batch on the phase map.

    Attributes
    ----------
    steps : tuple of Step
        ``start``, ``boiled down``, ``clear`` (solid that dropped out hot is gone again), ``first crystals``,
        ``change of solid`` (as often as it happens), ``other salt joins``, ``end``.
    warnings : tuple of str
    """

    start: Pot
    end_water_g: float
    boil_at_C: float
    cool_to_C: float
    steps: tuple[Step, ...]
    warnings: tuple[str, ...]

    @property
    def model(self) -> Model:
        return self.start.model

    @property
    def fields_told(self) -> str:
        """What the fields of a phase map are, over which this path is drawn."""
        if company_of(self.model, self.start.others) is None:
            return "Fields tell what stands in equilibrium."
        return "Fields are the pure salt's; the pot's own points are shifted."

    @classmethod
    def of(
        cls,
        start: Pot,
        end_water_g: float,
        cool_to_C: float,
        *,
        boil_at_C: float | None = None,
        bed: float = LOOSE_BED,
    ) -> SaturationPath:
        """Follow a batch from the start over the end of reducing to the cold.

        Parameters
        ----------
        start : Pot
            The pot before reducing.
        end_water_g : float
            Water left at the end of reducing, g.
        cool_to_C : float
            Final temperature, °C.
        boil_at_C : float, optional
            Temperature at which the water is driven off, °C; 100, or where the data end below that.

        Raises
        ------
        CoverageError
            Where the data hold no answer at the final temperature.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> pot = Pot(Model.of(Catalogue.bundled().find("KNO3")), 100.0, 400.0)
        >>> [step.name for step in SaturationPath.of(pot, 100.0, 20.0).steps]
        ['start', 'boiled down', 'first crystals', 'end']
        """
        model = start.model
        hot_C = min(BOILING_C, model.map.high_C) if boil_at_C is None else boil_at_C
        hot_C = max(hot_C, cool_to_C)
        warnings = []
        if boil_at_C is None and hot_C < BOILING_C:
            warnings.append(
                f"The data for {model.salt.formula} end at {hot_C:g} degC: the path starts to cool there."
            )

        def step(name: str, temperature_C: float, water_g: float, phase: str | None = None) -> Step:
            strict = name == "end"
            state = Cooled.of(
                model, start.salt_g, water_g, temperature_C, bed=bed, strict=strict, others=start.others
            )
            w = start.salt_g / (start.salt_g + water_g)
            if int(state.outcome) == UNKNOWN:
                return Step(name, temperature_C, w, start.salt_g, water_g, None, None, None, None)
            solids = state.solids_g()
            named = phase if phase is not None or not solids else solids[0][0]
            crystals = float(state.crystals_g)
            due = name in ("first crystals", "first ice") or crystals < ROUNDING * (start.salt_g + water_g)
            if phase is not None and due:
                # The step stands exactly on the branch: what is left is rounding.
                crystals, solids = 0.0, []
            return Step(
                name, temperature_C, w, start.salt_g, water_g, named,
                crystals, float(state.liquor_g), float(state.liquor_mass_fraction), tuple(solids),
            )  # fmt: skip

        steps = [step("start", start.read_at_C, start.water_g), step("boiled down", hot_C, end_water_g)]
        steps += [
            step(name, t, end_water_g, solid) for name, t, solid in _events(start, steps[1], hot_C, cool_to_C)
        ]
        steps.append(step("end", cool_to_C, end_water_g))
        warnings += company_notes(start.with_water(end_water_g), cool_to_C)
        if steps[0].crystals_g is None:
            warnings.append(f"The state of the start at {start.read_at_C:g} degC is not in the data.")
        if steps[1].crystals_g is None:
            warnings.append(f"What stands in the hot pot at {hot_C:g} degC is not in the data.")
        elif steps[1].crystals_g > 0:
            warnings.append(
                f"{steps[1].crystals_g:.3g} g of {steps[1].phase} already stands in the hot pot at {hot_C:g} degC."
            )
        return cls(start, end_water_g, hot_C, cool_to_C, tuple(steps), tuple(warnings))

    def cooling_track(self, points: int = 400) -> tuple[Floats, Floats]:
        """Temperature and the liquor's mass fraction while the pot cools; NaN where no liquor or no data.

        Returns
        -------
        (temperature_C, liquor_mass_fraction) : arrays, shape (points,)
        """
        t = np.linspace(self.boil_at_C, self.cool_to_C, points)
        w = self.start.salt_g / (self.start.salt_g + self.end_water_g)
        found = look_up_beside(self.model, self.start.others, self.start.salt_g, w, t)
        return t, np.where(found.known & (found.liquor_fraction > 0), found.liquor_mass_fraction, np.nan)


def _events(start: Pot, hot: Step, hot_C: float, cool_to_C: float) -> list[tuple[str, float, str | None]]:
    """Where on cooling the solid in the pot appears, goes or changes: (name, temperature, solid)."""
    model, w = start.model, hot.mass_fraction
    t = np.linspace(hot_C, cool_to_C, _SCAN)
    edges = np.array([s.low_C for s in model.map.stretches])
    t = np.unique(np.concatenate([t, edges[(edges > cool_to_C) & (edges < hot_C)]]))[::-1]
    found = look_up_beside(model, start.others, start.salt_g, w, t)
    main = np.where(
        found.rich_solid_fraction >= found.lean_solid_fraction, found.rich_solid, found.lean_solid
    )
    main = np.where(found.rich_solid_fraction + found.lean_solid_fraction > 0, main, -1)
    main = np.where(found.known, main, -2)
    events: list[tuple[str, float, str | None]] = _joining(start, w, t)
    for i in range(1, len(t)):
        before, after = int(main[i - 1]), int(main[i])
        if before == after or -2 in (before, after):
            continue
        at = _change_between(start, w, float(t[i]), float(t[i - 1]), after)
        if after == -1:
            events.append(("clear", at, None))
        elif before == -1:
            events.append(
                (
                    "first crystals" if not model.map.solids[after].is_ice else "first ice",
                    at,
                    model.solid_name(after),
                )
            )
        else:
            events.append(("change of solid", at, model.solid_name(after)))
    return sorted(events, key=lambda event: -event[1])


def _joining(start: Pot, w: float, t: Floats) -> list[tuple[str, float, str | None]]:
    """Where on cooling another salt comes that the hot pot did not hold; ``t`` falls."""

    def joined(t: Floats) -> Cooled:
        water = start.salt_g * (1.0 - w) / w
        return Cooled.of(start.model, start.salt_g, water, t, strict=False, others=start.others)

    for _ in range(_NARROWINGS if start.others else 0):
        at = joined(t)
        stands = np.flatnonzero(at.others_crystals_g > 0)
        if not len(stands) or stands[0] == 0:
            return []
        first = int(stands[0])
        hot, cold, name = float(t[first - 1]), float(t[first]), at.other_solid(first)
        if hot - cold < _JOINED_WITHIN_K:
            return [("other salt joins", cold, name)]
        t = np.linspace(hot, cold, _PARTS)
    return []


def _change_between(start: Pot, w: float, cold_C: float, hot_C: float, cold_solid: int) -> float:
    """The hottest temperature up to which the state of the cold side holds."""
    for _ in range(_NARROWINGS):
        inner = np.linspace(cold_C, hot_C, _PARTS + 1)[1:-1]
        found = look_up_beside(start.model, start.others, start.salt_g, w, inner)
        lean, rich = found.lean_solid_fraction, found.rich_solid_fraction
        main = np.where(rich >= lean, found.rich_solid, found.lean_solid)
        main = np.where(rich + lean > 0, main, -1)
        # As by halving, but many at a time: the hottest of the cold side's run.
        changed = np.flatnonzero(main != cold_solid)
        k = int(changed[0]) if len(changed) else len(inner)
        cold_C, hot_C = (inner[k - 1] if k else cold_C), (inner[k] if k < len(inner) else hot_C)
    return float(cold_C)
