"""Laying out a figure by measured text: the sheet with its title, key and notes, call-outs above a plot, room for labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from numpy.typing import ArrayLike, NDArray

from crystal.faces.figures.style import BLACK, DPI, GREY, LABEL_PT, SMALL_PT, TITLE_PT, WIDTH_PX, Field

LEFT_PX, RIGHT_PX, EDGE_PX = 76, 28, 12
_LINE_PX, _GAP_PX = 17, 10
_CELL_PX = 2


@dataclass(frozen=True, slots=True)
class Key:
    """One entry of the key under a plot: a swatch (``patch``) or a line with or without a marker (``line``)."""

    text: str
    patch: dict[str, Any] | None = None
    line: dict[str, Any] | None = None

    @classmethod
    def of_field(cls, look: Field) -> Key:
        return cls(
            f"{look.word}: {look.meaning}",
            patch={"facecolor": look.fill, "edgecolor": look.ink, "hatch": look.hatch, "linewidth": 0.6},
        )


@dataclass(frozen=True, slots=True)
class Callout:
    """A label above a plot with a leader down to an abscissa."""

    x: float
    text: str
    ink: Any = BLACK


@dataclass
class Sheet:
    """A figure of a given width whose height follows from what has to stand on it.

    Build it, then :meth:`lay_out` it once.
    """

    title: str
    remark: str
    keys: Sequence[Key] = ()
    notes: Sequence[str] = ()
    callouts: Sequence[Callout] = ()
    width_px: int = WIDTH_PX
    figure: Figure = field(init=False)

    def __post_init__(self) -> None:
        self.figure = Figure(figsize=(self.width_px / DPI, 6.0), dpi=DPI)
        self.canvas = FigureCanvasAgg(self.figure)

    def size_px(self, text: str, pt: float, **how: Any) -> tuple[float, float]:
        """Width and height of a text as it will be drawn."""
        probe = Text(0, 0, text, fontsize=pt, figure=self.figure, **how)
        box = probe.get_window_extent(self.canvas.get_renderer())
        return float(box.width), float(box.height)

    def wrapped(self, text: str, pt: float = SMALL_PT) -> list[str]:
        """The text in lines that fit the width of the sheet."""
        lines: list[str] = []
        for word in text.split(" "):
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and self.size_px(longer, pt)[0] <= self.width_px - 2 * EDGE_PX:
                lines[-1] = longer
            else:
                lines.append(word)
        return lines

    def lay_out(self, plot_px: Sequence[float], *, axis_px: float, between_px: float = 26) -> list[Axes]:
        """Place everything but the plots' contents; returns the plots from the top, sharing the abscissa."""
        head = [(line, TITLE_PT, BLACK) for line in self.wrapped(self.title, TITLE_PT)]
        head += [(line, SMALL_PT, GREY) for line in self.wrapped(self.remark)] if self.remark else []
        rows = self._key_rows()
        notes = [line for note in self.notes for line in self.wrapped(note)]
        levels = self._callout_levels()
        level_px = max((self.size_px(c.text, SMALL_PT)[1] for c in self.callouts), default=0.0) + 8
        head_px = EDGE_PX + sum(24 if pt == TITLE_PT else _LINE_PX for _, pt, _ in head) + 6
        strip_px = levels * level_px + (12 if levels else 0)
        foot_px = _LINE_PX * (len(rows) + len(notes)) + (_GAP_PX if rows and notes else 0) + EDGE_PX
        height = head_px + strip_px + sum(plot_px) + between_px * (len(plot_px) - 1) + axis_px + foot_px
        self.figure.set_size_inches(self.width_px / DPI, round(height) / DPI)
        self.height_px = round(height)
        y = height - EDGE_PX
        for line, pt, ink in head:
            self._write(EDGE_PX, y, line, pt, ink, "top")
            y -= 24 if pt == TITLE_PT else _LINE_PX
        y = foot_px
        for row in rows:
            for x, key in row:
                self._draw_key(x, y - _LINE_PX / 2, key)
            y -= _LINE_PX
        y -= _GAP_PX if rows and notes else 0
        for line in notes:
            self._write(EDGE_PX, y, line, SMALL_PT, GREY, "top")
            y -= _LINE_PX
        top = height - head_px - strip_px
        plots: list[Axes] = []
        for tall in plot_px:
            box = (
                LEFT_PX / self.width_px,
                (top - tall) / height,
                self.plot_width_px / self.width_px,
                tall / height,
            )
            plots.append(self.figure.add_axes(box, sharex=plots[0] if plots else None))
            top -= tall + between_px
        self._levels, self._level_px = levels, level_px
        return plots

    @property
    def plot_width_px(self) -> float:
        return self.width_px - LEFT_PX - RIGHT_PX

    def _write(self, x: float, y: float, text: str, pt: float, ink: Any, va: str, **how: Any) -> Text:
        return self.figure.text(
            x / self.width_px, y / self.height_px, text, fontsize=pt, color=ink, va=va, **how
        )

    def _key_rows(self) -> list[list[tuple[float, Key]]]:
        rows: list[list[tuple[float, Key]]] = []
        x = np.inf
        for key in self.keys:
            width = 30 + self.size_px(key.text, SMALL_PT)[0] + 18
            if x + width > self.width_px - EDGE_PX + 18:
                rows.append([])
                x = EDGE_PX
            rows[-1].append((x, key))
            x += width
        return rows

    def _draw_key(self, x: float, y: float, key: Key) -> None:
        to_x, to_y = 1 / self.width_px, 1 / self.height_px
        whole = self.figure.transFigure
        if key.patch is not None:
            box = Rectangle((x * to_x, (y - 5) * to_y), 22 * to_x, 10 * to_y, transform=whole, **key.patch)
            self.figure.add_artist(box)
        if key.line is not None:
            at = [x + 11] if key.line.get("linestyle") == "none" else [x, x + 22]
            line = Line2D([v * to_x for v in at], [y * to_y] * len(at), transform=whole, **key.line)
            self.figure.add_artist(line)
        self._write(x + 28, y, key.text, SMALL_PT, BLACK, "center_baseline")

    def _callout_levels(self) -> int:
        need = sum(self.size_px(c.text, SMALL_PT)[0] + 14 for c in self.callouts)
        return int(np.ceil(need / self.plot_width_px))

    def draw_callouts(self, plot: Axes) -> None:
        """Write the call-outs over a plot whose limits are set, spread so that they stand clear of each other."""
        if not self.callouts:
            return
        ordered = sorted(self.callouts, key=lambda c: c.x)
        at = plot.transData.transform([(c.x, 0.0) for c in ordered])[:, 0]
        top = plot.get_window_extent().y1
        for level in range(self._levels):
            mine = range(level, len(ordered), self._levels)
            sizes = [self.size_px(ordered[i].text, SMALL_PT) for i in mine]
            places = spread(
                [float(at[i]) for i in mine], [w + 14 for w, _ in sizes], EDGE_PX, self.width_px - 4
            )
            foot = top + 14 + level * self._level_px
            for i, place in zip(mine, places, strict=True):
                xs, ys = [at[i], at[i], place], [top, top + 5, foot - 2]
                self.figure.add_artist(
                    Line2D(
                        [x / self.width_px for x in xs], [y / self.height_px for y in ys],
                        color=ordered[i].ink, linewidth=0.9, transform=self.figure.transFigure, zorder=1,
                    )
                )  # fmt: skip
                self._write(
                    place, foot, ordered[i].text, SMALL_PT, BLACK, "bottom", ha="center", linespacing=1.15,
                    bbox={"boxstyle": "square,pad=0.1", "facecolor": "white", "linewidth": 0},
                )  # fmt: skip


def spread(wanted: Sequence[float], widths: Sequence[float], low: float, high: float) -> list[float]:
    """Centres next to the wanted ones (rising) at which boxes of those widths do not overlap, kept inside if they fit.

    Examples
    --------
    >>> spread([10.0, 11.0], [8.0, 8.0], 0.0, 100.0)
    [6.5, 14.5]
    """
    groups: list[tuple[float, list[float]]] = []  # left edge, widths
    for centre, width in zip(wanted, widths, strict=True):
        groups.append((min(max(centre - width / 2, low), high - width), [width]))
        while len(groups) > 1 and groups[-2][0] + sum(groups[-2][1]) > groups[-1][0]:
            (left_a, a), (left_b, b) = groups[-2:]
            left = (left_a * len(a) + (left_b - sum(a)) * len(b)) / (len(a) + len(b))
            groups[-2:] = [(max(min(left, high - sum(a) - sum(b)), low), a + b)]
    centres = []
    for left, boxes in groups:
        for width in boxes:
            centres.append(left + width / 2)
            left += width
    return centres


class Room:
    """Which parts of a plot are still free of lines and labels, in small cells; puts labels where there is room.

    Parameters
    ----------
    plot : Axes
        With its limits set: they must not change afterwards.
    """

    def __init__(self, sheet: Sheet, plot: Axes) -> None:
        self._sheet, self.plot = sheet, plot
        self._box = plot.get_window_extent()
        self.shape = int(self._box.height // _CELL_PX), int(self._box.width // _CELL_PX)
        self._taken = np.zeros(self.shape, dtype=bool)
        self._taken[[0, -1], :] = self._taken[:, [0, -1]] = True

    def cell_centres(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Abscissae, shape (columns,), and ordinates, shape (rows,), of the cells in data units."""
        rows, columns = self.shape
        (x0, y0), (x1, y1) = self.plot.transData.inverted().transform(
            [
                (self._box.x0, self._box.y0),
                (self._box.x0 + columns * _CELL_PX, self._box.y0 + rows * _CELL_PX),
            ]
        )
        u, v = (np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows
        return x0 + u * (x1 - x0), y0 + v * (y1 - y0)

    def keep_off_line(self, x: ArrayLike, y: ArrayLike, pad_px: float = 4) -> None:
        """No label on this line (data units)."""
        points = np.column_stack(np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float)))
        px = self.plot.transData.transform(points)
        for a, b in pairwise(px):
            if np.isfinite(a).all() and np.isfinite(b).all():
                steps = int(min(np.hypot(*(b - a)), 4000)) // _CELL_PX + 2
                for p in a + np.linspace(0, 1, steps)[:, None] * (b - a):
                    self._take(p[0] - pad_px, p[1] - pad_px, p[0] + pad_px, p[1] + pad_px)

    def nearest_line(self, lines: Sequence[tuple[ArrayLike, ArrayLike]]) -> NDArray[np.int64]:
        """For each cell the index of the line (data units) that passes nearest to it."""
        from scipy.spatial import cKDTree

        x, y = self.cell_centres()
        dots: list[NDArray[np.float64]] = []
        owner: list[int] = []
        for i, (a, b) in enumerate(lines):
            px = self.plot.transData.transform(np.column_stack([np.ravel(a), np.ravel(b)]))
            for p, q in pairwise([*px, px[-1]]):
                dots.append(
                    p + np.linspace(0, 1, int(np.hypot(*(q - p))) // 4 + 1, endpoint=False)[:, None] * (q - p)
                )
            owner += [i] * (sum(map(len, dots)) - len(owner))
        cells = self.plot.transData.transform(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2))
        _, at = cKDTree(np.concatenate(dots)).query(cells)
        return np.asarray(owner)[at].reshape(self.shape)

    def keep_off_point(self, x: float, y: float, pad_px: float = 7) -> None:
        """No label on this mark (data units)."""
        px, py = self.plot.transData.transform((x, y))
        self._take(px - pad_px, py - pad_px, px + pad_px, py + pad_px)

    def _take(self, x0: float, y0: float, x1: float, y1: float) -> None:
        columns = [int(np.floor((x - self._box.x0) / _CELL_PX)) for x in (x0, x1)]
        rows = [int(np.floor((y - self._box.y0) / _CELL_PX)) for y in (y0, y1)]
        if columns[1] >= 0 and rows[1] >= 0:
            self._taken[max(rows[0], 0) : rows[1] + 1, max(columns[0], 0) : columns[1] + 1] = True

    def put(
        self,
        texts: Sequence[str],
        near: tuple[float, float],
        *,
        within: NDArray[np.bool_] | None = None,
        pt: float = SMALL_PT,
        reach_px: float = np.inf,
        upright: bool = False,
        beside: bool = False,
        **how: Any,
    ) -> Text | None:
        """Write the first of the texts that finds room, as near to a point (data units) as it can.

        Parameters
        ----------
        texts : sequence of str
            The same said ever shorter.
        near : (float, float)
            Where it belongs.
        within : array of bool, shape ``self.shape``, optional
            Cells that the label must not leave.
        reach_px : float
            How far from ``near`` a label may stand and still be understood.
        upright : bool
            Try each text turned by a right angle before a shorter one.
        beside : bool
            Also ``within`` bring the edge of the label near, not its centre; always so without ``within``.

        Returns
        -------
        Text or None
            None where nothing fits: it is better left out.
        """
        target = self.plot.transData.transform(near)
        weight = how.get("weight", "normal")
        beside = beside or within is None
        blocked = self._taken if within is None else self._taken | ~within
        for text in texts:
            for turn in (0, 90) if upright else (0,):
                width, height = self._sheet.size_px(text, pt, rotation=turn, weight=weight)
                for margin in (4,) if beside else (16, 8, 4):
                    found = self._nearest(blocked, width + 2 * margin, height + 2 * margin, target, beside)
                    if found is not None and found[1] <= reach_px:
                        spot = found[0]
                        return self._write(text, spot, width, height, pt, turn, how)
        return None

    def _nearest(
        self,
        blocked: NDArray[np.bool_],
        width: float,
        height: float,
        target: NDArray[np.float64],
        by_edge: bool,
    ) -> tuple[NDArray[np.float64], float] | None:
        """The free spot for a box whose edge, or else whose centre, is nearest to the target; and how far that is."""
        tall, wide = int(np.ceil(height / _CELL_PX)), int(np.ceil(width / _CELL_PX))
        if tall >= self.shape[0] or wide >= self.shape[1]:
            return None
        total = np.zeros((self.shape[0] + 1, self.shape[1] + 1), dtype=np.int64)
        total[1:, 1:] = blocked.cumsum(axis=0).cumsum(axis=1)
        inside = total[tall:, wide:] - total[:-tall, wide:] - total[tall:, :-wide] + total[:-tall, :-wide]
        rows, columns = np.nonzero(inside == 0)
        if not len(rows):
            return None
        x = self._box.x0 + (columns + wide / 2) * _CELL_PX
        y = self._box.y0 + (rows + tall / 2) * _CELL_PX
        dx, dy = np.abs(x - target[0]), np.abs(y - target[1])
        apart = np.hypot(dx, dy)
        if by_edge:
            # Of the spots that touch equally the one most centred on the target.
            apart = np.hypot(np.maximum(dx - width / 2, 0), np.maximum(dy - height / 2, 0)) + 0.03 * apart
        best = int(np.argmin(apart))
        return np.array([x[best], y[best]]), float(apart[best])

    def _write(
        self,
        text: str,
        spot: NDArray[np.float64],
        width: float,
        height: float,
        pt: float,
        turn: int,
        how: dict[str, Any],
    ) -> Text:
        self._take(
            spot[0] - width / 2 - 2,
            spot[1] - height / 2 - 2,
            spot[0] + width / 2 + 2,
            spot[1] + height / 2 + 2,
        )
        x, y = self.plot.transAxes.inverted().transform(spot)
        how = {"color": BLACK, "zorder": 6, **how}
        return self.plot.text(
            x,
            y,
            text,
            transform=self.plot.transAxes,
            ha="center",
            va="center",
            fontsize=pt,
            rotation=turn,
            **how,
        )


PLATE = {"boxstyle": "round,pad=0.18", "facecolor": "white", "alpha": 0.82, "linewidth": 0}
"""Behind a label that stands on a hatched field."""


def set_labels(plot: Axes, x: str | None, y: str) -> None:
    """Name the axes, with units; ``x`` None where the plot below carries the abscissa."""
    plot.set_ylabel(y, fontsize=LABEL_PT)
    if x is None:
        plot.tick_params(labelbottom=False)
    else:
        plot.set_xlabel(x, fontsize=LABEL_PT)
