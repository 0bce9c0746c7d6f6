"""Where the window lies: outcomes against the end point, exact to the thresholds of the phase map.

At one temperature each region of the phase map gives one run of outcomes, and the compositions at which the crystals
reach a given share of the volume follow from the lever rule. So the bands are computed, not searched for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.bench.cooling import LOOSE_BED, OUTCOMES, SET_SHARE, UNKNOWN, Cooled
from crystal.bench.pot import Pot
from crystal.physics.company import company_of
from crystal.physics.model import Model
from crystal.physics.others import NOTHING, Others
from crystal.physics.phasemap import RegionAt
from crystal.physics.regions import LIQUID

Floats = NDArray[np.float64]

_ROUNDS, _POINTS = 12, 33
_SCAN, _NARROWINGS, _PARTS = 129, 3, 65


@dataclass(frozen=True, slots=True)
class Run:
    """A run of compositions with one outcome at one temperature.

    ``outcome`` is a word of ``OUTCOMES``, None where the data hold no answer; ``solid`` the index of the solid with most
    mass that is not ice (-1: none).
    """

    from_w: float
    to_w: float
    outcome: str | None
    solid: int


@dataclass(frozen=True, slots=True)
class EndPoint:
    """A point to stop at: the composition, and the sizes at which the pot has it."""

    mass_fraction: float
    end_volume_mL: float
    fraction_of_start: float
    end_mass_g: float

    @classmethod
    def of(cls, start: Pot, mass_fraction: float, read_at_C: float) -> EndPoint:
        """The sizes of a pot brought to a composition, its volume read at ``read_at_C``."""
        end = start.with_water(start.salt_g * (1.0 - mass_fraction) / mass_fraction, read_at_C)
        volume = end.volume_mL()
        return cls(mass_fraction, volume, volume / start.volume_mL(), end.mass_g)


@dataclass(frozen=True, slots=True)
class Band:
    """A run of end volumes with one outcome, from the larger to the smaller."""

    start: EndPoint
    end: EndPoint
    outcome: str | None
    solid: int


@dataclass(frozen=True, eq=False)
class Window:
    """The outcomes of one pot against how far it is reduced, for one cooling temperature.

    Attributes
    ----------
    saturates, pours_off_down_to, sets_solid_below : EndPoint or None
        Each the first met from the dilute side: where crystals begin, where the crop stops pouring off, where the
        pot sets. An end point larger than the start is given where the pot is already past it.
    bands : tuple of Band
        From the start to the dry salt.
    """

    start: Pot
    cool_to_C: float
    read_at_C: float
    bed: float
    runs: tuple[Run, ...]
    saturates: EndPoint | None
    pours_off_down_to: EndPoint | None
    sets_solid_below: EndPoint | None
    bands: tuple[Band, ...]

    @classmethod
    def of(cls, start: Pot, cool_to_C: float, *, read_at_C: float = 20.0, bed: float = LOOSE_BED) -> Window:
        """Find the window.

        Parameters
        ----------
        start : Pot
            The pot before reducing.
        cool_to_C : float
            Temperature that the pot is cooled to, °C.
        read_at_C : float
            Temperature at which an end volume is read, °C.
        bed : float
            Solids' share of the volume of the settled crystals.

        Raises
        ------
        CoverageError
            Where the cooling temperature lies outside the data.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> model = Model.of(Catalogue.bundled().find("MgSO4"))
        >>> window = Window.of(Pot(model, 97.7, 402.3), 5.0)
        >>> [band.outcome for band in window.bands][:4]
        ['clear', 'crop', 'thick', 'set']
        >>> {band.outcome for band in window.bands[4:]}  # and so on to the dry salt, over ever drier hydrates
        {'set'}
        """
        runs = runs_at(start.model, cool_to_C, bed, salt_g=start.salt_g, others=start.others)

        def first(*words: str) -> EndPoint | None:
            # What lies beyond a gap in the data may not be the first: nothing is claimed there.
            for run in runs:
                if run.outcome is None:
                    return None
                if run.outcome in words and 0.0 < run.from_w < 1.0:
                    return EndPoint.of(start, run.from_w, read_at_C)
            return None

        here = start.mass_fraction
        bands = []
        for run in runs:
            if run.to_w <= here:
                continue
            edges = [EndPoint.of(start, w, read_at_C) for w in (max(run.from_w, here), run.to_w)]
            bands.append(Band(edges[0], edges[1], run.outcome, run.solid))
        return cls(
            start, cool_to_C, read_at_C, bed, runs,
            first("crop", "thick", "set"), first("thick", "set"), first("set"), tuple(bands),
        )  # fmt: skip

    def cooled(self, water_g: ArrayLike, at_C: float | None = None) -> Cooled:
        """The pot with so much water, g, cooled as planned unless told; ``unknown`` where the data do not tell."""
        start, to_C = self.start, self.cool_to_C if at_C is None else at_C
        return Cooled.of(
            start.model, start.salt_g, water_g, to_C, bed=self.bed, strict=False, others=start.others
        )


def runs_at(
    model: Model,
    temperature_C: float,
    bed: float = LOOSE_BED,
    *,
    salt_g: float = 1.0,
    others: Others = NOTHING,
) -> tuple[Run, ...]:
    """Outcomes along the axis of composition at one temperature, from water to dry salt.

    Parameters
    ----------
    model : Model
        The salt.
    temperature_C : float
        Temperature, °C.
    bed : float
        Solids' share of the volume of the settled crystals.
    salt_g, others : float, Others
        The pot's salt and what is dissolved beside it; they matter together, for the liquor's volume.

    Returns
    -------
    tuple of Run
        Without gaps from 0 to 1; neighbours differ.

    Raises
    ------
    CoverageError
        Outside the temperatures of the data.
    """

    if company_of(model, others) is not None:
        return _runs_beside(model, temperature_C, bed, salt_g, others)

    def filled(solid: int, solid_w: float, liquor_w: float, share: float) -> float:
        if others:
            return _where_crystals_fill_beside(model, salt_g, others, solid_w, liquor_w, temperature_C, share)
        return _where_crystals_fill(model, solid, solid_w, liquor_w, temperature_C, share)

    merged: list[Run] = []
    for region in model.map.regions(temperature_C):
        for run in _runs_in(model, region, bed, filled):
            if run.to_w <= run.from_w:
                continue
            last = merged[-1] if merged else None
            if last is not None and (last.outcome, last.solid) == (run.outcome, run.solid):
                merged[-1] = Run(last.from_w, run.to_w, run.outcome, run.solid)
            else:
                merged.append(run)
    return tuple(merged)


def _runs_beside(
    model: Model, temperature_C: float, bed: float, salt_g: float, others: Others
) -> tuple[Run, ...]:
    """The same where others shift the solubility: no lever is straight, so the changes are searched for."""
    if not model.map.low_C <= temperature_C <= model.map.high_C:
        raise model.map.not_covered(None, temperature_C)

    def codes(w: Floats) -> NDArray[np.int64]:
        """Outcome and main solid of each composition as one number."""
        inner = np.clip(w, 1e-9, 1.0 - 1e-12)
        state = Cooled.of(
            model, salt_g, salt_g * (1.0 - inner) / inner, temperature_C, bed=bed, strict=False, others=others
        )
        # Ice is no crop, and another salt's crystals are named with them, not instead.
        outcome = np.where((state.crystals_g <= 0) & (state.outcome > 0), 0, state.outcome)
        return outcome.astype(np.int64) * 256 + np.where(outcome > 0, state.main_solid, -1)

    edges = [r.right_w for r in model.map.regions(temperature_C)]
    w = np.unique(np.concatenate([np.linspace(0.0, 1.0, _SCAN), [e for e in edges if 0.0 < e < 1.0]]))
    found = codes(w)
    k = np.flatnonzero(found[1:] != found[:-1])
    low, high, left = w[k], w[k + 1], found[k]
    for _ in range(_NARROWINGS):
        inner = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, _PARTS)[1:-1]
        if not inner.size:
            break
        gone = codes(inner.ravel()).reshape(inner.shape) != left[:, None]
        first = np.argmax(np.concatenate([gone, np.ones((len(k), 1), dtype=bool)], axis=1), axis=1)
        every = np.concatenate([low[:, None], inner, high[:, None]], axis=1)
        place = np.arange(len(k))
        low, high = every[place, first], every[place, first + 1]
    starts = np.concatenate([[0.0], high])
    names = found[np.concatenate([k, [len(w) - 1]])] if len(k) else found[:1]
    ends = np.concatenate([high, [1.0]])
    runs = []
    for a, b, code in zip(starts.tolist(), ends.tolist(), names.tolist(), strict=True):
        outcome, solid = (code + 1) // 256, (code + 1) % 256 - 1
        runs.append(Run(a, b, None if outcome == UNKNOWN else OUTCOMES[outcome], solid))
    return tuple(runs)


def _runs_in(
    model: Model, at: RegionAt, bed: float, filled: Callable[[int, float, float, float], float]
) -> Iterator[Run]:
    left, right = at.region.left, at.region.right
    a, b = at.left_w, at.right_w
    if not at.known:
        yield Run(a, b, None, -1)
    elif (left == LIQUID and right == LIQUID) or (
        left == 0 and model.map.solids[0].is_ice and right == LIQUID
    ):
        yield Run(a, b, "clear", -1)
    elif left != LIQUID and right != LIQUID:
        middle = a + (b - a) / 2  # by mass the heavier solid changes half-way
        lean_name = -1 if model.map.solids[left].is_ice else left
        if lean_name >= 0:
            yield Run(a, middle, "set", lean_name)
            yield Run(middle, b, "set", right)
        else:
            yield Run(a, b, "set", right)
    else:
        solid = right if left == LIQUID else left
        liquor_w, solid_w = (a, b) if left == LIQUID else (b, a)
        edges = [filled(solid, solid_w, liquor_w, f) for f in (bed, SET_SHARE)]
        steps = [(liquor_w, edges[0], "crop"), (edges[0], edges[1], "thick"), (edges[1], solid_w, "set")]
        for start, end, word in steps if left == LIQUID else [(e, s, word) for s, e, word in reversed(steps)]:
            yield Run(start, end, word, solid)


def _where_crystals_fill(
    model: Model, solid: int, solid_w: float, liquor_w: float, temperature_C: float, share: float
) -> float:
    """Composition at which a solid over its liquor fills that share of their volume."""
    heavy = share * float(model.solid_densities_g_mL[solid])
    light = (1.0 - share) * float(model.density.density_g_mL(liquor_w, temperature_C))
    return liquor_w + (solid_w - liquor_w) * heavy / (heavy + light)


def _where_crystals_fill_beside(
    model: Model,
    salt_g: float,
    others: Others,
    solid_w: float,
    liquor_w: float,
    temperature_C: float,
    share: float,
) -> float:
    """The same where others stay in the liquor and thicken it: narrowed, as the share rises towards the solid."""
    low, high = liquor_w, solid_w
    for _ in range(_ROUNDS):
        inner = np.linspace(low, high, _POINTS)
        cooled = Cooled.of(
            model, salt_g, salt_g * (1.0 - inner) / inner, temperature_C, strict=False, others=others
        )
        beyond = int(np.argmax(np.append(cooled.crystal_volume_fraction[1:-1] >= share, True))) + 1
        low, high = float(inner[beyond - 1]), float(inner[beyond])
        if abs(high - low) <= 1e-15:
            break
    return (low + high) / 2
