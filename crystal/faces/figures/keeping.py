"""The humidity window of a solid against temperature: where it crumbles, keeps, and takes up water."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from crystal.bench.keeping import Keeping, window_against_temperature
from crystal.faces.figures.layout import PLATE, Key, Room, Sheet, set_labels
from crystal.faces.figures.style import BLACK, BLUE, GREEN, GREY, ORANGE, RED, SKY, house_look, tint
from crystal.faces.figures.words import degrees_text, formula_text
from crystal.faces.titles import axis
from crystal.physics.humidity import vapour_pressure_kPa
from crystal.physics.vapour import saturation_pressure_kPa

Floats = NDArray[np.float64]

_POINTS = 241
_STEP = 1.0  # percent of humidity between neighbouring points


def keeping_chart(found: Keeping) -> Figure:
    """The window with its doubt, the room, and the room's air when it is warmed or cooled.

    Parameters
    ----------
    found : Keeping
        The solid and its room.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi; °C across, relative humidity (%) upwards.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> model = Model.of(Catalogue.bundled().find("MgSO4"))
    >>> keeping_chart(Keeping.of(model, 22.0, 60.0)).axes[0].get_ylabel()
    'Relative humidity (%)'
    """
    with house_look():
        return _chart(found)


def _chart(found: Keeping) -> Figure:
    solid = formula_text(found.solid)
    high = 50.0 if found.melts_C is None else min(50.0, found.melts_C)
    left, right = 0.0, max(high, found.temperature_C + 5.0)
    t = np.linspace(left, max(high, left + 1.0), _POINTS)
    lower, upper, lower_doubt, upper_doubt = window_against_temperature(found.model, found.solid, t)
    above = "turns to a higher hydrate" if found.upper_is_hydrate else "takes up water"
    keys = []
    has_upper, has_lower = bool(np.isfinite(upper).any()), bool(np.nanmax(np.nan_to_num(lower)) > 0)
    both = np.isfinite(lower) & np.isfinite(upper)
    if has_upper:
        keys.append(Key(above, patch={"facecolor": tint(SKY, 0.4), "edgecolor": BLUE, "linewidth": 0.6}))
    if both.any():
        keys.append(Key("keeps", patch={"facecolor": tint(GREEN, 0.3), "edgecolor": GREEN, "linewidth": 0.6}))
    if has_lower:
        look = {"facecolor": tint(ORANGE, 0.35), "edgecolor": ORANGE, "hatch": "///", "linewidth": 0.6}
        keys.append(Key("loses its water, crumbles", patch=look))
    keys.append(
        Key(
            "not in the data",
            patch={"facecolor": "white", "edgecolor": GREY, "hatch": "...", "linewidth": 0.6},
        )
    )
    if found.humidity_percent is not None:
        keys.append(
            Key("the room's air, warmed or cooled", line={"color": BLACK, "linewidth": 1.6, "linestyle": ":"})
        )
    sources = ", ".join(
        dict.fromkeys(e.source for e in (found.lower, found.upper) if e is not None and e.source)
    )
    notes = ["Dashed: the edges' doubt." + (f" Sources: {sources}." if sources else "")]
    if bool((np.abs(np.diff(upper[np.isfinite(upper)])) > _STEP).any()):
        notes.append("A step in a line: from there on another source or an estimate.")
    if found.lower is None:
        notes.append("How dry an air it bears is not in the data: window unknown.")
    sheet = Sheet(
        f"{solid}: the air in which it keeps",
        "Between the two lines it stays as it is; the data end where the lines end.",
        keys=keys,
        notes=notes,
    )
    (plot,) = sheet.lay_out([380], axis_px=54)
    plot.set_xlim(left, right)
    plot.set_ylim(0.0, 100.0)
    set_labels(plot, axis("temperature_degC"), axis("humidity_percent"))
    plot.axhspan(0.0, 100.0, facecolor="white", edgecolor=GREY, hatch="...", linewidth=0.0, zorder=0)
    room = Room(sheet, plot)
    if has_upper:
        plot.fill_between(t, upper, 100.0, facecolor=tint(SKY, 0.4), linewidth=0, zorder=1)
    if both.any():
        plot.fill_between(t, lower, upper, where=both, facecolor=tint(GREEN, 0.3), linewidth=0, zorder=1)
    if has_lower:
        plot.fill_between(
            t,
            0.0,
            lower,
            facecolor=tint(ORANGE, 0.35),
            edgecolor=ORANGE,
            hatch="///",
            linewidth=0.0,
            zorder=1,
        )
    for edge, doubt, ink in ((upper, upper_doubt, BLUE), (lower, lower_doubt, ORANGE)):
        if not (np.isfinite(edge).any() and np.nanmax(edge) > 0):
            continue
        plot.plot(t, edge, color=ink, linewidth=2.2, zorder=4)
        room.keep_off_line(t, edge)
        for off in (-doubt, doubt):
            plot.plot(t, np.clip(edge + off, 0, 100), color=ink, linewidth=0.9, linestyle="--", zorder=3)
    if found.melts_C is not None and left < found.melts_C < right:
        plot.axvline(found.melts_C, color=RED, linewidth=1.4, zorder=4)
        room.keep_off_line([found.melts_C] * 2, [0, 100])
        room.put(
            [f"melts or changes\nat {degrees_text(found.melts_C)}"],
            (found.melts_C, 50.0),
            bbox=PLATE,
            color=RED,
        )
    if found.humidity_percent is not None:
        pressure = float(vapour_pressure_kPa(found.temperature_C, found.humidity_percent))
        across = np.linspace(left, right, _POINTS)
        air = 100.0 * pressure / saturation_pressure_kPa(across)
        shown = np.where(air <= 100.0, air, np.nan)
        plot.plot(across, shown, color=BLACK, linewidth=1.6, linestyle=":", zorder=5)
        room.keep_off_line(across, shown)
        at = (found.temperature_C, found.humidity_percent)
        plot.plot(*at, marker="o", markersize=8, color=BLACK, linestyle="none", zorder=6)
        room.keep_off_point(*at)
        state = "not known" if found.state is None else found.state
        room.put(
            [f"the room: {degrees_text(at[0])}, {at[1]:.0f} %\n{state}"],
            at,
            bbox=PLATE,
            weight="bold",
            reach_px=160,
        )
    x, y = room.cell_centres()
    low, top = (
        np.interp(x, t, edge) for edge in (lower, upper)
    )  # NaN, and so nowhere, where an edge is not known
    _name(room, above, (x, y), top, np.full_like(x, 100.0))
    _name(room, "keeps", (x, y), low, top)
    if has_lower:
        _name(room, "crumbles", (x, y), np.zeros_like(x), low)
    return sheet.figure


def _name(room: Room, text: str, at: tuple[Floats, Floats], low: Floats, top: Floats) -> None:
    """Name a field inside itself, near its middle; left out where it is too thin."""
    x, y = at
    inside = (y[:, None] > low) & (y[:, None] < top)
    known = np.flatnonzero(inside.any(axis=0))
    if len(known):
        middle = known[len(known) // 2]
        room.put([text], (float(x[middle]), float(low[middle] + top[middle]) / 2), within=inside, bbox=PLATE)
