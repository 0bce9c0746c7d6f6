"""Which solids exist at a temperature, and the regions between them along the axis of composition.

Between two breakpoints of temperature (ends of branches, melting points, 0 °C) the list of regions does not change;
such an interval is a stretch.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from crystal.data.records import Branch, Phase, Salt
from crystal.errors import DataError
from crystal.physics.curve import LEAST_POINTS, Piece, pieces_of
from crystal.physics.formula import composition_mass_fraction

LIQUID = -1
Floats = NDArray[np.float64]
End = Literal["curve", "ended", "no data"]

CROSSING_TOLERANCE = 2e-3
"""How far (mass fraction) two interpolated branches may overlap between their points before the data are refused."""


@dataclass(frozen=True, eq=False)
class Solid:
    """A solid of the map: its composition, its pieces of branch, and the temperature that it does not outlive.

    ``implied`` marks the anhydrous salt where no branch of the data gives it.
    """

    phase: Phase
    mass_fraction: float
    pieces: tuple[Piece, ...] = ()
    top_C: float = np.inf
    implied: bool = False
    melts_congruently: bool = False

    @property
    def formula(self) -> str:
        return self.phase.formula

    @property
    def is_ice(self) -> bool:
        return self.phase.is_ice

    def liquidus(self, side: str, low_C: float, high_C: float) -> tuple[End, Piece | None]:
        """The piece of branch on that side over an interval, or why there is none."""
        mine = [p for p in self.pieces if p.side == side]
        for piece in mine:
            if piece.low_C <= low_C and piece.high_C >= high_C:
                return "curve", piece
        colder = [p for p in mine if p.low_C >= high_C]
        if colder:
            nearest = min(colder, key=lambda p: p.low_C)
            return ("ended" if nearest.starts_invariant else "no data"), None
        if mine or self.implied:
            return "no data", None
        # No piece on this side at all: a solid that decomposes before melting never has one.
        decomposes = any(p.ends_invariant and p.high_C == self.top_C for p in self.pieces)
        return ("ended" if decomposes and not self.melts_congruently else "no data"), None


@dataclass(frozen=True, eq=False, slots=True)
class Region:
    """A region of the axis of composition between two end members.

    ``left`` and ``right`` are indices of solids, or LIQUID. ``right_edge_of`` is a composition or the branch piece that
    ends the region.
    """

    left: int
    right: int
    right_edge_of: float | Piece
    known: bool = True
    assumed_dry: bool = False

    def right_edge(self, temperature_C: Floats) -> Floats:
        if isinstance(self.right_edge_of, Piece):
            return self.right_edge_of.mass_fraction_at(temperature_C)
        return np.full(temperature_C.shape, self.right_edge_of)


@dataclass(frozen=True, eq=False)
class Stretch:
    """An interval of temperature with one list of regions."""

    low_C: float
    high_C: float
    regions: tuple[Region, ...]

    def nodes_C(self) -> Floats:
        """Temperatures at which the stretch is tabulated."""
        parts = [np.array([self.low_C, self.high_C])]
        for region in self.regions:
            if isinstance(region.right_edge_of, Piece):
                t = region.right_edge_of.temperature_C
                parts.append(t[(t > self.low_C) & (t < self.high_C)])
        nodes = np.unique(np.concatenate(parts))
        # Nodes of two branches may fall within rounding of each other: a cell needs some width.
        keep = np.concatenate([[True], np.diff(nodes) > 1e-10])
        keep[-1] = True
        if len(nodes) > 2 and nodes[-1] - nodes[-2] <= 1e-10:
            keep[-2] = False
        return nodes[keep]

    @property
    def has_liquor(self) -> bool:
        """Whether a liquor saturated with a solid other than ice is known here."""
        return any(r.known and r.left == LIQUID and r.right > 0 for r in self.regions)

    @property
    def ends_in_eutectic(self) -> bool:
        """Whether the coldest liquid of the stretch is a listed invariant with ice."""
        edges = [r.right_edge_of for r in self.regions if isinstance(r.right_edge_of, Piece)]
        return any(p.phase == "ice" and p.starts_invariant and p.low_C == self.low_C for p in edges)

    @property
    def unknown_width(self) -> float:
        """How much of the axis of composition is unknown in the middle of the stretch."""
        middle = np.array([(self.low_C + self.high_C) / 2])
        edges = [0.0] + [float(r.right_edge(middle)[0]) for r in self.regions]
        return sum(b - a for r, (a, b) in zip(self.regions, pairwise(edges), strict=True) if not r.known)


def solids_of(salt: Salt, *, only: str | None = None) -> tuple[Solid, ...]:
    """Every solid that the data can place, ice first, the anhydrous salt last.

    A phase with fewer than two stable points is left out: it is named, not predicted. Ice always stands first.
    """
    by_formula: dict[str, Solid] = {}
    for phase in salt.phases:
        branch = joined_branch(salt, phase.formula) if only else salt.branch(phase.formula)
        if (
            (only is not None and phase.formula != only)
            or branch is None
            or len(branch.points) < LEAST_POINTS
        ):
            continue
        x = composition_mass_fraction(salt.formula, phase.waters)
        pieces = pieces_of(branch, x)
        hottest = max(p.high_C for p in pieces)
        melts = any(p.kind == "congruent" for p in branch.points)
        known_end = melts or any(p.high_C == hottest and p.ends_invariant for p in pieces)
        by_formula[phase.formula] = Solid(phase, x, pieces, hottest if known_end else np.inf, False, melts)
    found = list(by_formula.values())
    if not any(s.is_ice for s in found):
        found.append(Solid(Phase("ice", None, "ice"), 0.0, top_C=0.0))
    if not any(s.mass_fraction == 1.0 for s in found):
        found.append(Solid(Phase(salt.formula, 0.0, f"anhydrous {salt.name}"), 1.0, implied=True))
    if len(found) == 2 and not any(s.pieces for s in found if not s.is_ice):
        raise DataError(
            salt.origin or salt.formula, None, None, f"no branch of {salt.formula} has two points"
        )
    found.sort(key=lambda s: (s.mass_fraction, s.pieces[0].low_C if s.pieces else 0.0))
    return tuple(_bounded(s, found) for s in found)


def joined_branch(salt: Salt, formula: str) -> Branch | None:
    """A phase's stable and metastable points as one branch; the stable one wins at equal temperature."""
    stable, metastable = salt.branch(formula), salt.branch(formula, metastable=True)
    if stable is None or metastable is None:
        return stable or metastable
    taken = {p.temperature_C for p in stable.points}
    points = stable.points + tuple(p for p in metastable.points if p.temperature_C not in taken)
    melts = any(p.kind == "congruent" for p in points)
    key = (lambda p: p.mass_fraction) if melts else (lambda p: p.temperature_C)
    return Branch(formula, tuple(sorted(points, key=key)))


def _bounded(solid: Solid, solids: list[Solid]) -> Solid:
    """Where a branch stops for want of data, the next drier solid's branch bounds the solid's life."""
    if solid.is_ice or not solid.pieces or solid.top_C < np.inf:
        return solid
    hottest = max(p.high_C for p in solid.pieces)
    later = [
        p.low_C
        for other in solids
        if other.mass_fraction > solid.mass_fraction
        for p in other.pieces
        if p.side == "lean" and p.low_C > hottest
    ]
    if not later:
        return solid
    return Solid(
        solid.phase, solid.mass_fraction, solid.pieces, min(later), solid.implied, solid.melts_congruently
    )


def stretches_of(salt: Salt, solids: tuple[Solid, ...]) -> tuple[Stretch, ...]:
    """Part the covered temperatures at every breakpoint and list the regions of each interval."""
    ends = {t for s in solids for p in s.pieces for t in (p.low_C, p.high_C)}
    low, high = min(ends), max(ends)
    ends |= {s.top_C for s in solids if low < s.top_C < high}
    if low < 0.0 < high:
        ends.add(0.0)
    return tuple(Stretch(a, b, _regions(salt, solids, a, b)) for a, b in pairwise(sorted(ends)) if b > a)


def _regions(salt: Salt, solids: tuple[Solid, ...], low_C: float, high_C: float) -> tuple[Region, ...]:
    present = _present(solids, low_C, high_C)
    found: list[Region] = []
    if not solids[present[0]].is_ice:
        found += _above_water(solids, present[0], low_C, high_C)
    for a, b in pairwise(present):
        found += _between(salt, solids, a, b, low_C, high_C)
    return tuple(found)


def _present(solids: tuple[Solid, ...], low_C: float, high_C: float) -> list[int]:
    """Indices of the solids that exist over the interval; of two forms with the same water, the nearer branch's."""

    def distance(i: int) -> float:
        middle = (low_C + high_C) / 2
        return min((max(p.low_C - middle, middle - p.high_C, 0.0) for p in solids[i].pieces), default=np.inf)

    chosen: dict[float, int] = {}
    for i, solid in enumerate(solids):
        if solid.top_C < high_C or (solid.is_ice and high_C > 0.0):
            continue
        rival = chosen.get(solid.mass_fraction)
        if rival is None or distance(i) < distance(rival):
            chosen[solid.mass_fraction] = i
    return [chosen[x] for x in sorted(chosen)]


def _above_water(solids: tuple[Solid, ...], b: int, low_C: float, high_C: float) -> list[Region]:
    x = solids[b].mass_fraction
    _, lean = solids[b].liquidus("lean", low_C, high_C)
    if lean is None:
        return [Region(LIQUID, LIQUID, x, known=False)]
    return [Region(LIQUID, LIQUID, lean), Region(LIQUID, b, x)]


def _between(
    salt: Salt, solids: tuple[Solid, ...], a: int, b: int, low_C: float, high_C: float
) -> list[Region]:
    x = solids[b].mass_fraction
    a_end, rich = solids[a].liquidus("rich", low_C, high_C)
    b_end, lean = solids[b].liquidus("lean", low_C, high_C)
    if rich is not None and lean is not None:
        _check_order(salt, rich, lean, low_C, high_C)
        return [Region(a, LIQUID, rich), Region(LIQUID, LIQUID, lean), Region(LIQUID, b, x)]
    if rich is not None:
        return [Region(a, LIQUID, rich), Region(LIQUID, LIQUID, x, known=False)]
    if lean is not None:
        if float(lean.mass_fraction_at((low_C + high_C) / 2)) < solids[a].mass_fraction:
            raise DataError(
                salt.origin or salt.formula,
                None,
                "mass_percent",
                f"the branch of {lean.phase} between {low_C:g} and {high_C:g} degC holds less salt than "
                f"{solids[a].formula}, which the data also call stable there",
            )
        return [Region(LIQUID, LIQUID, lean, known=False), Region(LIQUID, b, x)]
    if solids[b].implied and not solids[a].is_ice:
        return [Region(a, b, x, assumed_dry=True)]
    if a_end == "ended" and b_end == "ended":
        return [Region(a, b, x)]
    return [Region(LIQUID, LIQUID, x, known=False)]


def _check_order(salt: Salt, rich: Piece, lean: Piece, low_C: float, high_C: float) -> None:
    t = np.linspace(low_C, high_C, 33)
    over = rich.mass_fraction_at(t) - lean.mass_fraction_at(t)
    worst = int(np.argmax(over))
    if over[worst] > CROSSING_TOLERANCE:
        raise DataError(
            salt.origin or salt.formula,
            None,
            "mass_percent",
            f"the branches of {rich.phase} and {lean.phase} cross near {t[worst]:.3g} degC without a common point",
        )
