"""The two charts of the bench sheet: small, for print, as SVG that can stand inside a page."""

from __future__ import annotations

import re
from io import StringIO

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from crystal.bench.path import SaturationPath
from crystal.bench.window import EndPoint, Window
from crystal.faces.figures.layout import PLATE, Callout, Key, Room, Sheet, set_labels
from crystal.faces.figures.path import route
from crystal.faces.figures.phasefields import draw_fields, name_fields
from crystal.faces.figures.style import BLACK, BLUE, GREY, OUTCOME_FIELDS, house_look
from crystal.faces.figures.window import crystal_line
from crystal.faces.figures.words import degrees_text, formula_text, size_text
from crystal.faces.titles import axis

WIDTH_PX = 430
"""Half a page of 190 mm at a type size that can be read at arm's length."""

_PLOT_PX = 148
_REFERENCE = re.compile(r'(?<=href=")#|(?<=url\()#')
_ID = re.compile(r'(?<= id=")')
_KEYS = {
    "clear": "clear", "crop": "crop: pours off", "thick": "thick: a wet cake", "set": "set solid", None: "not in the data",
}  # fmt: skip
_BEYOND_SET, _BEYOND_CLEAR = 0.8, 1.25


def window_svg(window: Window, end: EndPoint) -> str:
    """Crystals against end volume over the outcomes, the end point marked."""
    with house_look():
        return _svg(_window(window, end), "window")


def path_svg(path: SaturationPath) -> str:
    """The way of the batch over the phase map."""
    with house_look():
        return _svg(_path(path), "path")


def _window(window: Window, end: EndPoint) -> Figure:
    start = window.start
    volume, crystals, _ = crystal_line(window)
    edges = [one for one in (window.saturates, window.pours_off_down_to, window.sets_solid_below) if one]
    sizes = [end.end_volume_mL, *(one.end_volume_mL for one in edges)]
    top_mL, dry_mL = start.volume_mL(window.read_at_C), float(volume.min())
    left = max(dry_mL, _BEYOND_SET * min(sizes))
    right = min(max(top_mL, 1.02 * end.end_volume_mL), _BEYOND_CLEAR * max(sizes))
    shown = [b for b in window.bands if b.start.end_volume_mL > left and b.end.end_volume_mL < right]
    words = list(dict.fromkeys(band.outcome for band in shown))
    callouts = [
        Callout(one.end_volume_mL, f"{said}\n{size_text(one.end_volume_mL)}", GREY)
        for one, said in (
            (window.saturates, "crystals"),
            (window.pours_off_down_to, "pours to"),
            (window.sets_solid_below, "sets"),
        )
        if one is not None and left <= one.end_volume_mL <= right
    ]
    callouts.append(Callout(end.end_volume_mL, f"STOP\n{size_text(end.end_volume_mL)}"))
    sheet = Sheet("Window", "", keys=[_key(word) for word in words], callouts=callouts, width_px=WIDTH_PX)
    (plot,) = sheet.lay_out([_PLOT_PX], axis_px=50)
    inside = (volume >= left) & (volume <= right)
    top = float(np.nanmax(crystals[inside], initial=0.0)) or 1.0
    plot.set_xlim(left, right)
    plot.set_ylim(0.0, 1.14 * top)
    read, cold = degrees_text(window.read_at_C), degrees_text(window.cool_to_C)
    set_labels(plot, axis("end_volume_mL", f"read at {read}"), axis("crystals_g", f"at {cold}"))
    for band in shown:
        look = OUTCOME_FIELDS[band.outcome]
        a, b = max(band.end.end_volume_mL, left), min(band.start.end_volume_mL, right)
        plot.axvspan(a, b, facecolor=look.fill, edgecolor=look.ink, hatch=look.hatch, linewidth=0.0, zorder=0)
    plot.plot(volume, crystals, color=BLUE, linewidth=2.2, zorder=4)
    for callout in callouts:
        plot.axvline(callout.x, color=callout.ink, linewidth=0.9, linestyle="--", zorder=3)
    sheet.draw_callouts(plot)
    return sheet.figure


def _key(word: str | None) -> Key:
    look = OUTCOME_FIELDS[word]
    patch = {"facecolor": look.fill, "edgecolor": look.ink, "hatch": look.hatch, "linewidth": 0.6}
    return Key(_KEYS[word], patch=patch)


def _path(path: SaturationPath) -> Figure:
    phase_map, end = path.model.map, path.steps[-1]
    keys = [
        Key("the pot", line={"color": BLACK, "linewidth": 2.0}),
        Key("its liquor on cooling", line={"color": BLACK, "linewidth": 2.4, "linestyle": ":"}),
    ]
    sheet = Sheet("Path", "", keys=keys, width_px=WIDTH_PX)
    (plot,) = sheet.lay_out([_PLOT_PX + 44], axis_px=50)
    at_C = [phase_map.low_C, phase_map.high_C, *(step.temperature_C for step in path.steps)]
    margin = 0.03 * (max(at_C) - min(at_C))
    plot.set_xlim(0.0, 100.0)
    plot.set_ylim(min(at_C) - margin, max(at_C) + margin)
    set_labels(plot, axis("mass_percent"), axis("temperature_degC"))
    draw_fields(plot, phase_map)
    room = Room(sheet, plot)
    x, y = route(path)
    plot.plot(x, y, color=BLACK, linewidth=2.0, zorder=4)
    room.keep_off_line(x, y)
    t, liquor = path.cooling_track()
    moved = np.where(np.abs(liquor - end.mass_fraction) > 1e-9, liquor, np.nan)
    plot.plot(100 * moved, t, color=BLACK, linewidth=2.4, linestyle=":", zorder=3)
    seen = np.isfinite(moved)
    room.keep_off_line(100 * moved[seen], t[seen])
    for solid in phase_map.solids:
        for piece in solid.pieces:
            room.keep_off_line(100 * piece.mass_fraction, piece.temperature_C, pad_px=2)
    _mark_steps(plot, room, path)
    name_fields(room, phase_map)
    return sheet.figure


def _mark_steps(plot: Axes, room: Room, path: SaturationPath) -> None:
    for step in path.steps:
        at = (100 * step.mass_fraction, step.temperature_C)
        plot.plot(*at, marker="o", markersize=5, color=BLACK, linestyle="none", zorder=5)
        room.keep_off_point(*at, pad_px=5)
    for step in path.steps:
        if step.name in ("start", "first crystals", "end"):
            at = (100 * step.mass_fraction, step.temperature_C)
            solid = f", {formula_text(step.phase)}" if step.phase and step.name == "end" else ""
            text = f"{step.name}, {degrees_text(step.temperature_C)}"
            for reach_px in (30, 80):  # a short name at its point rather than a long one beyond a line
                if room.put([text + solid, text, step.name], at, reach_px=reach_px, bbox=PLATE):
                    break


def _svg(figure: Figure, name: str) -> str:
    """The drawing alone, without prolog and metadata, its inner names made unlike those of another drawing."""
    file = StringIO()
    figure.savefig(file, format="svg", metadata={"Date": None})
    text = file.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = _ID.sub(f"{name}-", _REFERENCE.sub(f"#{name}-", text))
    return text.replace("<svg ", f'<svg role="img" aria-label="{name} chart" ', 1)
