"""The phase map of one salt and water: what stands in equilibrium at a composition and a temperature.

At every temperature the axis of composition falls into regions, each between two end members: a solid, or a liquid on
a saturation branch. The regions are tabulated once against temperature; a look-up is a search and one lever rule.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.records import Salt
from crystal.errors import CoverageError
from crystal.physics.regions import LIQUID, Region, Solid, Stretch, solids_of, stretches_of

Floats = NDArray[np.float64]
_BEYOND = 2.0  # larger than any mass fraction


@dataclass(frozen=True, eq=False)
class Equilibrium:
    """What stands in equilibrium, per unit mass of the pot; arrays of one shape.

    ``liquor_fraction`` + ``lean_solid_fraction`` + ``rich_solid_fraction`` = 1. The lean solid is the one with more
    water; its index counts in ``PhaseMap.solids`` and is -1 where there is none. ``liquor_mass_fraction`` is salt in
    the liquor, 0 where no liquor is left. ``known`` is False where the data hold no answer: everything else is 0 there.
    """

    liquor_fraction: Floats
    liquor_mass_fraction: Floats
    lean_solid: NDArray[np.int8]
    lean_solid_fraction: Floats
    rich_solid: NDArray[np.int8]
    rich_solid_fraction: Floats
    known: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Slices:
    """The axis of composition at n temperatures: region k lies between ``edges[k]`` and ``edges[k + 1]``.

    ``edges`` has shape (k + 1, n), the others (k, n); unused regions have edges beyond 1. ``liquidus`` marks the edges
    that are a saturated liquid's composition. ``lean`` and ``rich`` are indices of the end members, -1 the liquid.
    """

    temperature_C: Floats
    edges: Floats
    lean: NDArray[np.int8]
    rich: NDArray[np.int8]
    known: NDArray[np.bool_]
    liquidus: NDArray[np.bool_]
    beyond: NDArray[np.bool_]

    def shifted(self, mass_fraction: Floats) -> Slices:
        """The same with every saturated liquid richer by so much, held between its neighbours."""
        moved = np.where(self.liquidus, self.edges + mass_fraction, self.edges)
        solid = np.where(self.liquidus, np.nan, self.edges)
        # A liquid stays between the solids on either side of it: nearest edges that do not move.
        low = np.fmax.accumulate(np.where(np.isnan(solid), -np.inf, solid), axis=0)
        high = np.fmin.accumulate(np.where(np.isnan(solid), np.inf, solid)[::-1], axis=0)[::-1]
        return replace(self, edges=np.maximum.accumulate(np.clip(moved, low, high), axis=0))


class PhaseMap:
    """Phase map of one salt in water, tabulated once and looked up over arrays.

    Parameters
    ----------
    salt : Salt
        The salt with its branches. Use :meth:`of`.

    Attributes
    ----------
    solids : tuple of Solid
        Every solid that the map can name, from ice to the anhydrous salt.
    low_C, high_C : float
        The coldest and the hottest temperature of the data.
    covers_degC : tuple of (float, float)
        The temperatures at which a saturated liquor of the salt is known.
    """

    def __init__(self, salt: Salt, solids: tuple[Solid, ...], stretches: tuple[Stretch, ...]) -> None:
        self.salt = salt
        self.solids = solids
        self.stretches = stretches
        self._tabulate()

    @classmethod
    def of(cls, salt: Salt, *, only: str | None = None) -> PhaseMap:
        """Make the map of a salt's stable branches.

        Parameters
        ----------
        salt : Salt
            The salt.
        only : str, optional
            A phase whose stable and metastable points are used and no other solid's: what would happen if only
            that solid formed. Metastable points are never used without this.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> salt = Catalogue.bundled().find("CuSO4")
        >>> here = PhaseMap.of(salt).at(0.30, 20.0)
        >>> round(float(here.rich_solid_fraction), 3), round(float(here.liquor_mass_fraction), 3)
        (0.282, 0.167)
        """
        solids = solids_of(salt, only=only)
        return cls(salt, solids, stretches_of(salt, solids))

    def _tabulate(self) -> None:
        nodes: list[Floats] = []
        width = max(len(s.regions) for s in self.stretches)
        self._steps = [1 << i for i in reversed(range(max(width - 1, 1).bit_length()))]
        width = 1 << len(self._steps)
        starts, searched, edges, members, knowns, owner = [], [], [], [], [], []
        for index, stretch in enumerate(self.stretches):
            t = stretch.nodes_C()
            n, m = len(t), len(stretch.regions)
            edge = np.full((n, width + 1), _BEYOND)
            edge[:, 0] = 0.0
            for k, region in enumerate(stretch.regions):
                edge[:, k + 1] = region.right_edge(t)
            edge[:, 1 : m + 1] = np.maximum.accumulate(edge[:, : m + 1], axis=1)[:, 1:]
            search = edge.copy()
            search[:, m] = _BEYOND  # the last region is closed at w = 1
            member = np.full((2, width), LIQUID, dtype=np.int8)
            known = np.ones(width, dtype=bool)
            for k, region in enumerate(stretch.regions):
                member[:, k] = region.left, region.right
                known[k] = region.known
            nodes.append(t)
            starts.append(t[:-1])
            searched.append(np.stack([search[:-1, :width], np.diff(search[:, :width], axis=0)]))
            edges.append(np.stack([edge[:-1], np.diff(edge, axis=0)]))
            members.append(np.broadcast_to(member[:, None, :], (2, n - 1, width)))
            knowns.append(np.broadcast_to(known, (n - 1, width)))
            owner.append(np.full(n - 1, index))
        self._width = width
        keys = np.concatenate(starts)
        self._start = keys
        self._length_K = np.concatenate([np.diff(t) for t in nodes])
        joined = np.concatenate(searched, axis=1)
        self._search, self._search_step = (np.ascontiguousarray(a).ravel() for a in joined)
        joined = np.concatenate(edges, axis=1)
        self._edge, self._edge_step = (np.ascontiguousarray(a).ravel() for a in joined)
        both = np.concatenate(members, axis=1)
        self._lean, self._rich = (np.ascontiguousarray(a).ravel() for a in both)
        self._known = np.concatenate(knowns).ravel()
        self._owner = np.concatenate(owner)
        self.low_C, self.high_C = float(keys[0]), float(nodes[-1][-1])
        # A temperature on the border of two stretches belongs to the one that knows more; else to the hotter one.
        self._keys = keys.copy()
        at = 0
        for colder, hotter, t in zip(self.stretches, self.stretches[1:], nodes, strict=False):
            at += len(t) - 1
            if colder.unknown_width < hotter.unknown_width - 1e-12:
                self._keys[at] = np.nextafter(self._keys[at], np.inf)

    @cached_property
    def covers_degC(self) -> tuple[tuple[float, float], ...]:
        merged: list[tuple[float, float]] = []
        for stretch in self.stretches:
            if not stretch.has_liquor:
                continue
            if merged and merged[-1][1] >= stretch.low_C:
                merged[-1] = (merged[-1][0], stretch.high_C)
            else:
                merged.append((stretch.low_C, stretch.high_C))
        return tuple(merged)

    def look_up(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> Equilibrium:
        """Equilibrium at compositions and temperatures, marking what the data do not cover.

        Parameters
        ----------
        mass_fraction : array_like
            Salt / (salt + water), 0 to 1.
        temperature_C : array_like
            Temperature, °C. The two broadcast.

        Returns
        -------
        Equilibrium
            Arrays of the broadcast shape; ``known`` is False beyond the data.
        """
        w, t = np.broadcast_arrays(np.asarray(mass_fraction, float), np.asarray(temperature_C, float))
        shape = w.shape
        w, t = w.ravel(), t.ravel()
        cell, u = self._cell(t)
        row = cell * self._width
        place = row.copy()
        for step in self._steps:
            candidate = place + step
            border = self._search_step.take(candidate)
            border *= u
            border += self._search.take(candidate)
            place += step * (border < w)  # on a border the leaner region: at a melt that is the liquid
        at_edge = place + cell  # rows of edges are one wider
        left = self._edge_step.take(at_edge)
        left *= u
        left += self._edge.take(at_edge)
        at_edge += 1
        right = self._edge_step.take(at_edge)
        right *= u
        right += self._edge.take(at_edge)
        lean, rich = self._lean.take(place), self._rich.take(place)
        known = self._known.take(place)
        known &= (t >= self.low_C) & (t <= self.high_C)
        span = right - left
        share = w - left
        # Only pure water at the melting point of ice meets a region of no width; it is liquid.
        share = np.divide(share, span, out=np.ones_like(span), where=span > 0)
        np.clip(share, 0.0, 1.0, out=share)
        has_lean, has_rich = lean >= 0, rich >= 0
        rich_fraction = np.where(has_rich & known, share, 0.0)
        lean_fraction = np.where(has_lean & known, 1.0 - share, 0.0)
        liquor_fraction = np.where(
            has_rich, np.where(has_lean, 0.0, 1.0 - share), np.where(has_lean, share, 1.0)
        )
        liquor_w = np.where(has_rich, left, np.where(has_lean, right, w))
        lost = ~known | (has_rich & has_lean)
        liquor_w[lost] = 0.0
        liquor_fraction[~known] = 0.0
        arrays = (liquor_fraction, liquor_w, lean, lean_fraction, rich, rich_fraction, known)
        return Equilibrium(*(a.reshape(shape) for a in arrays))

    def _cell(self, t: Floats) -> tuple[NDArray[np.intp], Floats]:
        """Row of the table for each temperature, and how far along it the temperature lies."""
        cell = np.searchsorted(self._keys, t, side="right")
        cell -= 1
        np.maximum(cell, 0, out=cell)
        u = t - self._start.take(cell)
        u /= self._length_K.take(cell)  # a division: exactly 1 at a cell's hot end
        return cell, u

    def slices(self, temperature_C: ArrayLike) -> Slices:
        """The regions met at each of many temperatures, for many compositions at each.

        Parameters
        ----------
        temperature_C : array_like, shape (n,)
            Temperatures, °C; beyond the data the nearest covered one is taken (``beyond`` tells which).

        Returns
        -------
        Slices
        """
        t = np.asarray(temperature_C, float)
        cell, u = self._cell(np.clip(t, self.low_C, self.high_C))
        width = max(len(s.regions) for s in self.stretches)
        at_edge = cell * (self._width + 1) + np.arange(width + 1)[:, None]
        edges = self._edge.take(at_edge) + u * self._edge_step.take(at_edge)
        place = cell * self._width + np.arange(width)[:, None]
        lean, rich = self._lean.take(place), self._rich.take(place)
        known = self._known.take(place)
        liquidus = np.zeros(edges.shape, dtype=bool)
        liquidus[1:] = (rich == LIQUID) & known & (edges[1:] < 1.0)
        return Slices(t, edges, lean, rich, known, liquidus, (t < self.low_C) | (t > self.high_C))

    def at(self, mass_fraction: ArrayLike, temperature_C: ArrayLike) -> Equilibrium:
        """Equilibrium at compositions and temperatures.

        Parameters and returns as :meth:`look_up`.

        Raises
        ------
        CoverageError
            Where any state lies outside the data, naming the first such state and what is covered.
        """
        found = self.look_up(mass_fraction, temperature_C)
        if not found.known.all():
            w, t = np.broadcast_arrays(np.asarray(mass_fraction, float), np.asarray(temperature_C, float))
            bad = np.flatnonzero(~found.known.ravel())[0]
            raise self.not_covered(float(w.ravel()[bad]), float(t.ravel()[bad]))
        return found

    def not_covered(self, mass_fraction: float | None, temperature_C: float) -> CoverageError:
        """Make the error that says what is not covered, and what is."""
        covered = "; ".join(f"{low:g} to {high:g} degC" for low, high in self.covers_degC)
        name = self.salt.formula
        if not self.low_C <= temperature_C <= self.high_C:
            text = f"{temperature_C:g} degC is outside the data for {name}; they cover {covered}"
            floor = self.stretches[0]
            if temperature_C < self.low_C and floor.ends_in_eutectic:
                text += f" (below {self.low_C:g} degC a solution of it freezes solid)"
            return CoverageError(text, self.covers_degC)
        text = f"at {temperature_C:g} degC the data for {name} do not tell what stands"
        if mass_fraction is not None:
            gaps = [
                f"{100 * r.left_w:.4g}-{100 * r.right_w:.4g}"
                for r in self.regions(temperature_C)
                if not r.known and r.right_w > r.left_w
            ]
            text += f" at {100 * mass_fraction:.4g} mass % (unknown there: {', '.join(gaps)} mass %)"
        return CoverageError(f"{text}; they cover {covered}", self.covers_degC)

    def regions(self, temperature_C: float) -> tuple[RegionAt, ...]:
        """The regions met at one temperature from water to dry salt.

        Parameters
        ----------
        temperature_C : float
            Temperature, °C.

        Returns
        -------
        tuple of RegionAt

        Raises
        ------
        CoverageError
            Outside the temperatures of the data.
        """
        if not self.low_C <= temperature_C <= self.high_C:
            raise self.not_covered(None, temperature_C)
        cell = int(np.searchsorted(self._keys, temperature_C, side="right")) - 1
        cell = max(cell, 0)
        stretch = self.stretches[int(self._owner[cell])]
        u = (temperature_C - self._start[cell]) / self._length_K[cell]
        first = cell * (self._width + 1)
        n = len(stretch.regions)
        edges = self._edge[first : first + n + 1] + u * self._edge_step[first : first + n + 1]
        return tuple(
            RegionAt(region, float(edges[k]), float(edges[k + 1])) for k, region in enumerate(stretch.regions)
        )


@dataclass(frozen=True, slots=True)
class RegionAt:
    """A region with its edges at one temperature."""

    region: Region
    left_w: float
    right_w: float

    @property
    def known(self) -> bool:
        return self.region.known
