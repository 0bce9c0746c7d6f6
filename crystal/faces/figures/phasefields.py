"""The fields of a phase map as they are drawn: what stands where, in which fill, under which name."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes

from crystal.faces.figures.layout import Room
from crystal.faces.figures.style import GREY, SKY, Colour, solid_inks, tint
from crystal.faces.figures.words import formula_text
from crystal.physics.phasemap import PhaseMap
from crystal.physics.regions import LIQUID

_LEAST_CELLS = 250
"""A part of a field of fewer cells is too small to be named."""


@dataclass(frozen=True, slots=True)
class _Look:
    fill: Colour
    hatch: str
    names: tuple[str, ...]


def draw_fields(plot: Axes, phase_map: PhaseMap) -> None:
    """Fill the fields of a phase map (mass % against °C) and draw its saturation branches and solids."""
    inks = solid_inks([s.formula for s in phase_map.solids])
    for stretch in phase_map.stretches:
        t = stretch.nodes_C()
        edges = [np.zeros(len(t)), *(np.asarray(r.right_edge(t)) for r in stretch.regions)]
        for region, (left, right) in zip(stretch.regions, pairwise(edges), strict=True):
            look = _look(phase_map, region.left, region.right, region.known)
            a, b = 100 * left, 100 * np.maximum(left, right)
            # The edge in the colour of the fill closes the hairline between two stretches of one field.
            plot.fill_betweenx(t, a, b, facecolor=look.fill, edgecolor=look.fill, linewidth=0.7, zorder=0)
            if look.hatch:
                plot.fill_betweenx(
                    t,
                    a,
                    b,
                    facecolor="none",
                    edgecolor="#b8b8b8",
                    hatch=look.hatch,
                    linewidth=0.0,
                    zorder=0.5,
                )
    for solid in phase_map.solids:
        for piece in solid.pieces:
            plot.plot(
                100 * piece.mass_fraction,
                piece.temperature_C,
                color=inks[solid.formula],
                linewidth=1.8,
                zorder=2,
            )
        if 0.0 < solid.mass_fraction < 1.0:
            top = min(solid.top_C, phase_map.high_C)
            x = 100 * solid.mass_fraction
            plot.plot([x, x], [phase_map.low_C, top], color=inks[solid.formula], linewidth=1.0, zorder=1)


def name_fields(room: Room, phase_map: PhaseMap) -> None:
    """Write its name into each part of a field that is large enough, the largest first."""
    from scipy import ndimage

    x, t = room.cell_centres()
    found = phase_map.look_up(np.clip(x / 100, 0, 1)[None, :], t[:, None])
    inside = (x >= 0) & (x <= 100)
    lean, rich = found.lean_solid.astype(int), found.rich_solid.astype(int)
    code = np.where(found.known, 64 * (lean + 1) + rich + 1, LIQUID)
    code = np.where(inside[None, :], code, -2)
    parts = []
    for value in np.unique(code[code >= LIQUID]):
        label, count = ndimage.label(code == value)
        for i in range(1, count + 1):
            cells = label == i
            if int(cells.sum()) >= _LEAST_CELLS:
                parts.append((int(cells.sum()), int(value), cells))
    for _, value, cells in sorted(parts, key=lambda part: -part[0]):
        look = _look(phase_map, value // 64 - 1, value % 64 - 1, value != LIQUID)
        rows, columns = np.nonzero(cells)
        middle = (float(x[int(columns.mean())]), float(t[int(rows.mean())]))
        room.put(look.names, middle, within=cells, upright=True)


def _look(phase_map: PhaseMap, left: int, right: int, known: bool) -> _Look:
    if not known:
        return _Look((1.0, 1.0, 1.0), "...", ("not in the data", "not in\nthe data", "unknown"))
    if left == LIQUID and right == LIQUID:
        return _Look(tint(SKY, 0.22), "", ("clear solution", "clear\nsolution", "clear"))
    solids = phase_map.solids
    if LIQUID in (left, right):
        solid = solids[max(left, right)]
        name = formula_text(solid.formula)
        fill = tint(solid_inks([s.formula for s in solids])[solid.formula], 0.2)
        if solid.is_ice:
            return _Look(tint(GREY, 0.3), "", ("ice + solution", "ice +\nsolution", "ice"))
        return _Look(fill, "", (f"{name} + liquor", f"{name}\n+ liquor", name))
    lean, rich = formula_text(solids[left].formula), formula_text(solids[right].formula)
    return _Look((0.93, 0.93, 0.93), "///", (f"{lean} + {rich}", f"{lean}\n+ {rich}", "two solids", "dry"))
