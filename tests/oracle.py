"""A slow second opinion on the phase map: scalar, without tables, from the raw points and the rules alone.

It shares with the package the molar masses and nothing else. The rules, at a temperature T:

1. solids: ice up to 0 °C; every phase with a stable branch that is not above its melting or decomposition temperature; the
   anhydrous salt, implied where no branch gives it. Of two forms with the same water, the one whose branch covers T,
   else the nearest. A branch that stops for want of data gives way where a drier solid's branch takes over.
2. ordered by composition, neighbours a and b bracket w.
3. w_a is the rich side's liquid of a, w_b the lean side's of b: below w_a a and liquor, between them clear, above
   w_b b and liquor. Both branches ended in listed invariant points: a and b. Else unknown. Between the top hydrate and the
   implied anhydrous salt: dry.
4. the lever rule.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from crystal.physics.formula import composition_mass_fraction

SOLUBILITY = Path(__file__).parents[1] / "datasets" / "solubility.csv"
UNKNOWN = "unknown"
LIQUID = "liquid"


@dataclass(frozen=True)
class Curve:
    """One side of a branch: from its cold to its hot end, and whether each is a listed invariant point."""

    cold_C: float
    hot_C: float
    cold_invariant: bool
    hot_invariant: bool
    w_of_T: PchipInterpolator | None = None
    T_of_w: PchipInterpolator | None = None
    w_cold: float = 0.0
    w_hot: float = 0.0

    def at(self, t: float) -> float:
        if self.w_of_T is not None:
            return float(self.w_of_T(t))
        if t >= self.hot_C:
            return self.w_hot
        return float(brentq(lambda w: float(self.T_of_w(w)) - t, self.w_cold, self.w_hot, xtol=1e-14))


@dataclass
class SlowSolid:
    name: str
    x: float
    curves: dict[str, Curve] = field(default_factory=dict)
    life_ends_C: float = np.inf
    congruent: bool = False
    implied: bool = False


@dataclass(frozen=True)
class Part:
    """A region of composition at one temperature: its end members, LIQUID or a solid, or UNKNOWN."""

    left: str
    right: str
    from_w: float
    to_w: float


class SlowMap:
    def __init__(self, formula: str) -> None:
        self.formula = formula
        self.solids = _solids(formula)
        edges = [t for s in self.solids for c in s.curves.values() for t in (c.cold_C, c.hot_C)]
        self.low_C, self.high_C = min(edges), max(edges)
        self.breakpoints = sorted({*edges, 0.0, *(s.life_ends_C for s in self.solids)})
        self.x = {s.name: s.x for s in self.solids}

    def parts(self, t: float) -> list[Part]:
        here: dict[float, SlowSolid] = {}
        for solid in self.solids:
            if t > solid.life_ends_C:
                continue
            rival = here.get(solid.x)
            if rival is None or _away(solid, t) < _away(rival, t):
                here[solid.x] = solid
        chain: list[SlowSolid | None] = [here[x] for x in sorted(here)]
        if chain[0] is not None and chain[0].name != "ice":
            chain.insert(0, None)
        found: list[Part] = []
        for a, b in pairwise(chain):
            assert b is not None
            found += _bracket(a, b, t)
        return found

    def masses(self, w: float, t: float, parts: list[Part] | None = None) -> dict[str, float] | None:
        """Mass fractions of the solids and LIQUID of one pot; the liquor's composition under 'w'. None: unknown."""
        for part in self.parts(t) if parts is None else parts:
            if part.from_w <= w < part.to_w or (w == 1.0 and part.to_w == 1.0):
                break
        if part.left == UNKNOWN:
            return None
        if part.left == part.right == LIQUID:
            return {LIQUID: 1.0, "w": w}
        share = (w - part.from_w) / (part.to_w - part.from_w)
        out = {part.left: 1.0 - share, part.right: share}
        if LIQUID in out:
            out["w"] = part.from_w if part.left == LIQUID else part.to_w
        return out


def _away(solid: SlowSolid, t: float) -> float:
    return min((max(c.cold_C - t, t - c.hot_C, 0.0) for c in solid.curves.values()), default=np.inf)


def _bracket(a: SlowSolid | None, b: SlowSolid, t: float) -> list[Part]:
    x_a = 0.0 if a is None else a.x
    rich = None if a is None else a.curves.get("rich")
    lean = b.curves.get("lean")
    has_rich = rich is not None and rich.cold_C <= t <= rich.hot_C
    has_lean = lean is not None and lean.cold_C <= t <= lean.hot_C
    w_a = x_a
    found = []
    if has_rich:
        w_a = rich.at(t)
        found.append(Part(a.name, LIQUID, x_a, w_a))
    if has_lean:
        w_b = lean.at(t)
        between = LIQUID if has_rich or a is None else UNKNOWN
        return [*found, Part(between, between, w_a, w_b), Part(LIQUID, b.name, w_b, b.x)]
    if has_rich or a is None:
        return [*found, Part(UNKNOWN, UNKNOWN, w_a, b.x)]
    if rich is not None:
        a_ended = t < rich.cold_C and rich.cold_invariant
    else:
        its = a.curves.get("lean")
        a_ended = its is not None and its.hot_invariant and not a.congruent
    b_ended = lean is not None and t < lean.cold_C and lean.cold_invariant
    dry = b.implied and a.name != "ice"
    if dry or (a_ended and b_ended):
        return [Part(a.name, b.name, x_a, b.x)]
    return [Part(UNKNOWN, UNKNOWN, x_a, b.x)]


def _solids(formula: str) -> list[SlowSolid]:
    rows: dict[str, list[dict[str, str]]] = {}
    for row in _rows():
        if row["system"] == formula and row["stability"] == "stable":
            rows.setdefault(row["phase"], []).append(row)
    found = []
    for phase, points in rows.items():
        if len(points) < 2:
            continue
        waters = None if phase == "ice" else float(points[0]["waters"])
        solid = SlowSolid(phase, composition_mass_fraction(formula, waters))
        placed = [(float(p["temperature_C"]), float(p["mass_percent"]) / 100, p["point"]) for p in points]
        top = next((p for p in placed if p[2] == "congruent"), None)
        solid.congruent = top is not None
        lean = [p for p in placed if p is not top and p[1] < solid.x]
        rich = [p for p in placed if p is not top and p[1] >= solid.x]
        turning = None if top is None else _through((top[0], solid.x, top[2]), lean, rich)
        for side, these in (("lean", lean), ("rich", rich)):
            if these:
                solid.curves[side] = _curve(these, None if top is None else top[0], solid.x, turning)
        hottest = max(solid.curves.values(), key=lambda c: c.hot_C)
        solid.life_ends_C = hottest.hot_C if hottest.hot_invariant else np.inf
        found.append(solid)
    for solid in found:
        if solid.name != "ice" and solid.life_ends_C == np.inf:
            hottest_C = max(c.hot_C for c in solid.curves.values())
            later = [
                s.curves["lean"].cold_C for s in found if s.x > solid.x and "lean" in s.curves
                and s.curves["lean"].cold_C > hottest_C
            ]  # fmt: skip
            solid.life_ends_C = min(later, default=np.inf)
    ice = next((s for s in found if s.name == "ice"), None)
    if ice is None:
        found.append(SlowSolid("ice", 0.0, life_ends_C=0.0))
    else:
        ice.life_ends_C = 0.0
    if all(s.x < 1.0 for s in found):
        found.append(SlowSolid(formula, 1.0, implied=True))
    return found


_Point = tuple[float, float, str]


def _through(top: _Point, lean: list[_Point], rich: list[_Point]) -> PchipInterpolator:
    """T(w) through the melting point, level there: where one side is missing its nearest point is mirrored."""
    points = [*lean, top, *rich]
    if not lean or not rich:
        nearest = min(lean or rich, key=lambda p: abs(p[1] - top[1]))
        points.append((nearest[0], 2 * top[1] - nearest[1], ""))
    points.sort(key=lambda p: p[1])
    return PchipInterpolator([p[1] for p in points], [p[0] for p in points])


def _curve(
    points: list[_Point], summit_C: float | None, x: float, turning: PchipInterpolator | None
) -> Curve:
    points = sorted(points)
    cold, hot = points[0], points[-1]
    ends = cold[2] != "saturated", hot[2] != "saturated"
    if summit_C is None:
        return Curve(
            cold[0], hot[0], *ends, PchipInterpolator([p[0] for p in points], [p[1] for p in points])
        )
    return Curve(cold[0], summit_C, ends[0], True, None, turning, cold[1], x)


@cache
def _rows() -> list[dict[str, str]]:
    with SOLUBILITY.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
