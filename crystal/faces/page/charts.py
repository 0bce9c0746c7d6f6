"""The page's two charts as small SVG with classes, so that the style sheet colours them for light and dark.

The figures of ``crystal.faces.figures`` are for paper: 800 px wide, half a second to draw. These are redrawn at every move
of the slider and stay legible on a phone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby, pairwise
from typing import TypeVar

import numpy as np
from markupsafe import Markup, escape

from crystal.bench.cooling import OUTCOMES
from crystal.bench.path import SaturationPath
from crystal.faces.figures.words import formula_text
from crystal.faces.page.speech import OUNCE_mL, Speech
from crystal.faces.page.work import Planned, Stopped
from crystal.faces.titles import axis
from crystal.faces.words import outcome_word, three
from crystal.physics.regions import LIQUID

WIDTH, LEFT, RIGHT = 480.0, 52.0, 456.0
_POINTS = 160

Values = TypeVar("Values", float, np.ndarray)


class Frame:
    """A plot's box and its scales; smaller end volumes stand left."""

    def __init__(self, x: tuple[float, float], y: tuple[float, float], top: float, bottom: float) -> None:
        self.x, self.y, self.top, self.bottom = x, y, top, bottom

    def px(self, value: Values) -> Values:
        return LEFT + (value - self.x[0]) / (self.x[1] - self.x[0]) * (RIGHT - LEFT)

    def py(self, value: Values) -> Values:
        return self.bottom - (value - self.y[0]) / (self.y[1] - self.y[0]) * (self.bottom - self.top)

    def points(self, xs: Iterable[float], ys: Iterable[float]) -> str:
        return " ".join(f"{self.px(x):.1f},{self.py(y):.1f}" for x, y in zip(xs, ys, strict=True))


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Round numbers between two values."""
    if not high > low:
        return [low]
    step = 10.0 ** np.floor(np.log10((high - low) / about))
    step = next(step * k for k in (1, 2, 5, 10) if (high - low) / (step * k) <= about)
    return [
        float(v) for v in np.arange(np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9) + 1) * step + 0.0
    ]


def _line(x1: float, y1: float, x2: float, y2: float, css: str) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" class="{css}"/>'


def _text(x: float, y: float, text: str, css: str = "", anchor: str = "middle") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" class="{css}">{escape(text)}</text>'


def _axis(frame: Frame, values: Sequence[float], texts: Sequence[str], y: float) -> list[str]:
    found = []
    for value, text in zip(values, texts, strict=True):
        x = frame.px(value)
        found += [_line(x, y, x, y + 5, "axis"), _text(x, y + 20, text)]
    return found


def _svg(height: float, name: str, parts: Iterable[str]) -> Markup:
    label = escape(name)
    body = "".join(parts)
    return Markup(f'<svg viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" aria-label="{label}">{body}</svg>')


def window_svg(stopped: Stopped, say: Speech) -> Markup:
    """Crystals against end volume over the outcomes, the odds below, and where the slider stands."""
    planned, end = stopped.planned, stopped.end
    here = min(max(end.end_volume_mL, planned.low_mL), planned.high_mL)
    crystals = float(stopped.ends.cooled.crystals_g[0])
    view = (planned.low_mL, planned.high_mL)
    top = _top(planned)
    frame, odds = Frame(view, (0.0, top), 46.0, 240.0), Frame(view, (0.0, 1.0), 300.0, 378.0)
    x = frame.px(here)
    marker = [
        _line(x, frame.top, x, frame.bottom, "here"),
        _line(x, odds.top, x, odds.bottom, "here"),
        f'<circle cx="{x:.1f}" cy="{frame.py(min(crystals, top)):.1f}" r="7" class="here-dot"/>',
    ]
    word = outcome_word(stopped.ends.cooled.outcome_word(0))
    name = f"Crystals against end volume. At {say.volume(end.end_volume_mL)}: {three(crystals)} g, {word}."
    return _svg(428.0, name, [_window_ground(planned, frame, odds, say), *marker])


def _top(planned: Planned) -> float:
    _, crystals = planned.crystal_line
    return 1.12 * float(np.nanmax(crystals, initial=0.0)) or 1.0


def _window_ground(planned: Planned, frame: Frame, odds: Frame, say: Speech) -> str:
    """All that does not move with the slider."""
    window = planned.plan.window
    low, high = frame.x
    parts = []
    for word, run in groupby(window.bands, key=lambda band: band.outcome):
        bands = list(run)
        a, b = max(bands[-1].end.end_volume_mL, low), min(bands[0].start.end_volume_mL, high)
        if b <= a:
            continue
        x, width = frame.px(a), frame.px(b) - frame.px(a)
        css = word or "unknown"
        parts.append(
            f'<rect x="{x:.1f}" y="{frame.top}" width="{width:.1f}" height="{frame.bottom - frame.top}" class="{css}"/>'
        )
        label = {None: "?", "set": "set"}.get(word, word)
        if width > 11 * len(label or ""):
            parts.append(_text(x + width / 2, frame.top - 9, label or "", "name"))
    for value in ticks(0.0, frame.y[1], 4):
        y = frame.py(value)
        parts += [_line(LEFT, y, RIGHT, y, "grid"), _text(LEFT - 7, y + 5, f"{value:g}", anchor="end")]
    volume, crystals = planned.crystal_line
    known = ~np.isnan(crystals)
    parts.append(f'<polyline points="{frame.points(volume[known], crystals[known])}" class="crystals"/>')
    parts.append(_text(4, 16, axis("crystals_g", f"at {say.degrees(window.cool_to_C)}"), "label", "start"))
    if planned.advised is not None and low <= planned.advised.end_volume_mL <= high:
        x = frame.px(planned.advised.end_volume_mL)
        parts += [
            _line(x, frame.top, x, frame.bottom, "advised"),
            _line(x, frame.bottom + 24, x, odds.bottom, "advised"),
            _text(x, frame.bottom + 17, "advised", "title"),
        ]
    curve = planned.curve
    parts.append(_text(4, odds.top - 17, axis("odds", percent=True), "label", "start"))
    below = np.zeros(len(curve.end_volume_mL))
    for code, word in enumerate(OUTCOMES):
        above = below + curve.odds[code]
        forth = odds.points(curve.end_volume_mL, above)
        back = odds.points(curve.end_volume_mL[::-1], below[::-1])
        parts.append(f'<polygon points="{forth} {back}" class="{word}"/>')
        below = above
    for share in (0.0, 0.5, 1.0):
        parts.append(_text(LEFT - 7, odds.py(share) + 5, f"{100 * share:.0f}", anchor="end"))
    unit = OUNCE_mL if say.ounces else 1.0
    values = ticks(low / unit, high / unit)
    parts += _axis(odds, [v * unit for v in values], [f"{v:g}" for v in values], odds.bottom)
    read = f"read at {say.degrees(window.read_at_C)}"
    end = axis("end_volume_mL", read, unit=say.volume_unit)
    parts.append(_text((LEFT + RIGHT) / 2, odds.bottom + 42, end, "label"))
    return "".join(parts)


def path_svg(path: SaturationPath, say: Speech) -> Markup:
    """The pot's way over the phase map; the steps' numbers are those of the list beneath."""
    phase_map = path.model.map
    temperatures = [phase_map.low_C, phase_map.high_C, *(step.temperature_C for step in path.steps)]
    low, high = min(temperatures), max(temperatures)
    pad = 0.03 * (high - low)
    frame = Frame((0.0, 100.0), (low - pad, high + pad), 24.0, 326.0)
    parts = []
    for stretch in phase_map.stretches:
        t = stretch.nodes_C()
        edges = [np.zeros(len(t)), *(np.asarray(region.right_edge(t)) for region in stretch.regions)]
        for region, (left, right) in zip(stretch.regions, pairwise(edges), strict=True):
            css = _field(region.known, region.left, region.right)
            forth, back = frame.points(100 * left, t), frame.points(100 * right[::-1], t[::-1])
            parts.append(f'<polygon points="{forth} {back}" class="{css}"/>')
    start, end = path.steps[0], path.steps[-1]
    ways = [(s.mass_fraction, t) for s, t in (
        (start, start.temperature_C), (start, path.boil_at_C), (end, path.boil_at_C), (end, end.temperature_C)
    )]  # fmt: skip
    t, liquor = path.cooling_track(60)
    moved = ~np.isnan(liquor) & (np.abs(np.nan_to_num(liquor) - end.mass_fraction) > 1e-9)
    lines = [np.linspace(a, b, _POINTS) for a, b in pairwise(ways)]
    lines.append(np.column_stack([liquor[moved], t[moved]]))
    w, at_C = np.vstack(lines).T
    parts += _field_names(path, frame, frame.px(100 * w), frame.py(at_C))
    for solid in phase_map.solids:
        for piece in solid.pieces:
            parts.append(
                f'<polyline points="{frame.points(100 * piece.mass_fraction, piece.temperature_C)}" class="branch"/>'
            )
        if 0.0 < solid.mass_fraction < 1.0:
            x, y = frame.px(100 * solid.mass_fraction), frame.py(min(solid.top_C, phase_map.high_C))
            parts.append(_line(x, frame.py(phase_map.low_C), x, y, "solid"))
    parts.append(
        f'<polyline points="{frame.points((100 * w for w, _ in ways), (t for _, t in ways))}" class="way"/>'
    )
    if moved.any():
        parts.append(f'<polyline points="{frame.points(100 * liquor[moved], t[moved])}" class="liquor"/>')
    taken: list[tuple[float, float]] = []
    for number, step in enumerate(path.steps, 1):
        x, y = frame.px(100 * step.mass_fraction), frame.py(step.temperature_C)
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" class="dot"/>')
        beside = x + 14 if x < RIGHT - 30 else x - 14
        while any(abs(beside - a) < 12 and abs(y - b) < 15 for a, b in taken):
            beside += 13
        taken.append((beside, y))
        parts.append(_text(beside, y + 5, str(number), "number"))
    degrees = ticks(_shown(low, say.fahrenheit), _shown(high, say.fahrenheit), 6)
    for value in degrees:
        y = frame.py((value - 32.0) / 1.8 if say.fahrenheit else value)
        parts += [
            _line(LEFT - 5, y, LEFT, y, "axis"),
            _text(LEFT - 8, y + 5, f"{value:g}".replace("-", "−"), anchor="end"),
        ]
    parts += _axis(frame, [0, 20, 40, 60, 80, 100], ["0", "20", "40", "60", "80", "100"], frame.bottom)
    salt = formula_text(path.model.salt.formula)
    parts.append(_text((LEFT + RIGHT) / 2, frame.bottom + 42, axis("mass_percent", of=salt), "label"))
    parts.append(_text(4, 14, axis("temperature_degC", unit=say.degree_unit), "label", "start"))
    return _svg(376.0, "The pot's way over the phase map; its steps are listed below.", parts)


def _field_names(path: SaturationPath, frame: Frame, line_x: np.ndarray, line_y: np.ndarray) -> list[str]:
    """What stands in each field, once, where it is widest off the lines of the batch; left out where it does not fit."""
    best: dict[str, tuple[float, float, float]] = {}
    solids = path.model.map.solids
    for stretch in path.model.map.stretches:
        t = np.linspace(stretch.low_C, stretch.high_C, 9)
        edges = [np.zeros(len(t)), *(np.asarray(region.right_edge(t)) for region in stretch.regions)]
        for region, (left, right) in zip(stretch.regions, pairwise(edges), strict=True):
            if not region.known or (LIQUID not in (region.left, region.right)):
                continue
            liquid = region.left == LIQUID and region.right == LIQUID
            name = "clear" if liquid else formula_text(solids[max(region.left, region.right)].formula)
            for y, a, b in zip(t[1:-1], left[1:-1], right[1:-1], strict=True):
                level = frame.py(float(y))
                crossing = np.sort(line_x[np.abs(line_y - level) < 14])
                ends = np.array([frame.px(100 * a), *crossing, frame.px(100 * b)]).clip(
                    frame.px(100 * a), frame.px(100 * b)
                )
                gap = int(np.argmax(np.diff(ends)))
                width = float(ends[gap + 1] - ends[gap])
                tall = frame.py(stretch.low_C) - frame.py(stretch.high_C)
                if tall > 22 and width > max(10.5 * len(name), best.get(name, (0.0, 0.0, 0.0))[0] * 1.02):
                    best[name] = (width, float(ends[gap] + ends[gap + 1]) / 2, level + 5)
    return [_text(x, y, name, "title") for name, (_, x, y) in best.items()]


def _shown(temperature_C: float, fahrenheit: bool) -> float:
    return 1.8 * temperature_C + 32.0 if fahrenheit else temperature_C


def _field(known: bool, left: int, right: int) -> str:
    if not known:
        return "unknown"
    if left == LIQUID and right == LIQUID:
        return "clear"
    if LIQUID in (left, right):
        return "two" if max(left, right) % 2 else "two-b"
    return "dry"
