"""Saturation branches as curves: which liquids can stand over one solid.

Most branches are functions w(T). A hydrate that melts to its own composition has a branch that turns back at its melting
point, where w(T) has an infinite slope; such a branch is interpolated as T(w) and tabulated the other way round.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from crystal.data.records import Branch, Point

Side = Literal["lean", "rich"]

TABULATION_ERROR = 5e-6
"""How far (mass fraction) a chord of the tabulated curve may lie from the cubic; it stays below 1e-5 on every branch."""

MOST_STEPS = 400
"""Chords between two points at most, where a curve's slope touches nothing at a point."""

LEAST_POINTS = 2
"""A branch of fewer points is named but not predicted."""


@dataclass(frozen=True, eq=False)
class Piece:
    """A stretch of a branch on which the liquid's composition is a single-valued function of temperature.

    Parameters
    ----------
    phase : str
        Formula of the solid.
    side : {'lean', 'rich'}
        ``lean``: the liquid holds less salt than the solid; ``rich``: more.
    temperature_C, mass_fraction : array, shape (n,)
        The tabulated curve, temperature rising.
    starts_invariant, ends_invariant : bool
        Whether the cold and the hot end are listed invariant points; False where only the data end.
    """

    phase: str
    side: Side
    temperature_C: NDArray[np.float64]
    mass_fraction: NDArray[np.float64]
    starts_invariant: bool
    ends_invariant: bool

    @property
    def low_C(self) -> float:
        return float(self.temperature_C[0])

    @property
    def high_C(self) -> float:
        return float(self.temperature_C[-1])

    def covers(self, temperature_C: float) -> bool:
        """Whether the piece reaches this temperature; its ends count as reached."""
        return self.low_C <= temperature_C <= self.high_C

    def mass_fraction_at(self, temperature_C: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Mass fraction of the saturated liquid at temperatures inside the piece; held at the ends beyond."""
        return np.asarray(np.interp(temperature_C, self.temperature_C, self.mass_fraction))

    def monotone_parts(self) -> Iterator[tuple[int, NDArray[np.float64], NDArray[np.float64]]]:
        """Yield (sign of dw/dT, w rising, T) for each stretch on which w runs one way."""
        turns = np.sign(np.diff(self.mass_fraction))
        start = 0
        for i in range(1, len(turns) + 1):
            if i < len(turns) and turns[i] == turns[start]:
                continue
            sign = int(turns[start])
            if sign:
                w, t = self.mass_fraction[start : i + 1], self.temperature_C[start : i + 1]
                yield (sign, w, t) if sign > 0 else (sign, w[::-1], t[::-1])
            start = i


def pieces_of(branch: Branch, solid_mass_fraction: float) -> tuple[Piece, ...]:
    """Tabulate a branch as pieces on which w is a single-valued function of T.

    Parameters
    ----------
    branch : Branch
        Points ordered along the branch from its dilute end.
    solid_mass_fraction : float
        Mass fraction of anhydrous salt in the solid itself: 0 for ice, 1 for the anhydrous salt.

    Returns
    -------
    tuple of Piece
        One piece, or two (lean and rich) where the hydrate melts congruently inside the data; none for a branch
        of fewer than two points. A congruent point is snapped to the solid's own composition.

    Notes
    -----
    Monotone piecewise cubic Hermite interpolation without overshoot (Fritsch and Carlson, SIAM J. Numer. Anal. 17
    (1980) 238, doi 10.1137/0717021) as scipy's ``PchipInterpolator`` has it.
    """
    if len(branch.points) < LEAST_POINTS:
        return ()
    points = branch.points
    summit = next((i for i, p in enumerate(points) if p.kind == "congruent"), None)
    if summit is None:
        side: Side = (
            "rich" if points[0].mass_fraction > solid_mass_fraction or solid_mass_fraction == 0 else "lean"
        )
        ordered = sorted(points, key=lambda p: p.temperature_C)
        return (_as_function_of_temperature(branch.phase, side, ordered),)
    return _through_a_summit(branch.phase, points, summit, solid_mass_fraction)


def _as_function_of_temperature(phase: str, side: Side, points: list[Point]) -> Piece:
    from scipy.interpolate import PchipInterpolator

    t = np.array([p.temperature_C for p in points])
    w = np.array([p.mass_fraction for p in points])
    curve = PchipInterpolator(t, w)
    bend = curve.derivative(2)
    spans = []
    for a, b in itertools.pairwise(t):
        # On a cubic the second derivative is straight: it is largest at one of the two ends.
        steepest = np.abs(bend([a, np.nextafter(b, a)])).max()
        spans.append(np.linspace(a, b, _steps((b - a) * np.sqrt(steepest)) + 1))
    nodes = np.unique(np.concatenate(spans))
    values = curve(nodes)
    values[np.searchsorted(nodes, t)] = w
    return Piece(phase, side, nodes, values, points[0].is_invariant, points[-1].is_invariant)


def _through_a_summit(
    phase: str, points: tuple[Point, ...], summit: int, solid_mass_fraction: float
) -> tuple[Piece, ...]:
    from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

    t = np.array([p.temperature_C for p in points])
    w = np.array([p.mass_fraction for p in points])
    w[summit] = solid_mass_fraction
    slopes = PchipInterpolator(w, t).derivative()(w)
    slopes[summit] = (
        0.0  # a melt of the solid's own composition freezes along a flat top, also where the data end there
    )
    curve = CubicHermiteSpline(w, t, slopes)
    found = []
    for side, outer in (("lean", range(summit)), ("rich", range(len(w) - 1, summit, -1))):
        if not outer:
            continue
        nodes: list[NDArray[np.float64]] = []
        for i in outer:
            inner = i + 1 if side == "lean" else i - 1
            if inner == summit:
                # T falls with the square of the distance from the top: nodes crowd there.
                u = np.linspace(1.0, 0.0, _steps(3.0 * np.sqrt(abs(w[i] - w[summit]))) + 1)
                nodes.append(w[summit] + (w[i] - w[summit]) * u * u)
            else:
                at = np.linspace(w[i], w[inner], 33)
                bend = np.abs(curve(at, 2)) / np.maximum(np.abs(curve(at, 1)), 1e-9)
                nodes.append(
                    np.linspace(w[i], w[inner], _steps(abs(w[inner] - w[i]) * np.sqrt(bend.max())) + 1)
                )
        w_nodes = np.concatenate([n[:-1] for n in nodes] + [w[summit : summit + 1]])
        t_nodes = curve(w_nodes)
        given = np.append(np.cumsum([0] + [len(n) - 1 for n in nodes]), -1)
        t_nodes[given] = t[[*outer, summit, summit]]
        rising = np.concatenate([[True], t_nodes[1:] > np.maximum.accumulate(t_nodes)[:-1]])
        outermost = points[0] if side == "lean" else points[-1]
        found.append(
            Piece(phase, side, t_nodes[rising], w_nodes[rising], outermost.is_invariant, ends_invariant=True)  # type: ignore[arg-type]
        )
    return tuple(found)


def _steps(length_times_root_bend: float) -> int:
    """Chords over a stretch: each errs by (its length)² · bend / 8."""
    return min(max(4, int(np.ceil(length_times_root_bend / np.sqrt(8.0 * TABULATION_ERROR)))), MOST_STEPS)


def leave_one_out_errors(branch: Branch, solid_mass_fraction: float) -> NDArray[np.float64]:
    """Error of the interpolation at each inner point when that point is left out.

    Parameters
    ----------
    branch : Branch
        At least four points, else no error can be told.
    solid_mass_fraction : float
        Composition of the solid.

    Returns
    -------
    array, shape (n - 2,)
        Interpolated minus given mass fraction at the inner points; a congruent point is never left out. Empty for
        branches of fewer than four points.

    Examples
    --------
    >>> from crystal.data.records import Branch, Point
    >>> line = Branch("NaCl", tuple(Point(t, 0.26 + t / 1e4) for t in (0.0, 10.0, 20.0, 30.0)))
    >>> float(abs(leave_one_out_errors(line, 1.0)).max()) < 1e-12
    True
    """
    points = branch.points
    if len(points) < 4:
        return np.zeros(0)
    errors = []
    for i in range(1, len(points) - 1):
        left_out = points[i]
        if left_out.kind == "congruent":
            continue
        rest = Branch(branch.phase, points[:i] + points[i + 1 :], branch.metastable)
        rich = left_out.mass_fraction > solid_mass_fraction
        side = "rich" if rich else "lean"
        for piece in pieces_of(rest, solid_mass_fraction):
            if piece.side == side and piece.covers(left_out.temperature_C):
                errors.append(float(piece.mass_fraction_at(left_out.temperature_C)) - left_out.mass_fraction)
    return np.array(errors)
