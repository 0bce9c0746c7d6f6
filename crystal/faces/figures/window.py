"""The window: what a pot gives against how far it is reduced."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from crystal.bench.cooling import OUTCOMES
from crystal.bench.forecast import Forecast
from crystal.bench.plan import Plan
from crystal.bench.window import EndPoint, Window
from crystal.faces.figures.layout import PLATE, Callout, Key, Room, Sheet, set_labels
from crystal.faces.figures.style import (
    BLACK,
    BLUE,
    GREY,
    OUTCOME_FIELDS,
    PURPLE,
    SMALL_PT,
    house_look,
    tint,
)
from crystal.faces.figures.words import degrees_text, formula_text, pot_text, salt_text, size_text
from crystal.faces.titles import axis

_POINTS_PER_BAND = 160
_ODDS_POINTS = 161
_VIEW_OF_CLEAR = 1.6
"""How far past saturation, in multiples of its volume, the clear pot is shown."""

_VIEW_OF_SET = 0.22
"""How much of the width shows what lies beyond setting."""


def window_chart(plan: Plan, forecast: Forecast | None = None) -> Figure:
    """Crystals against end volume, over the outcomes, with thresholds and the advised end point.

    Parameters
    ----------
    plan : Plan
        With or without advice. Larger volumes stand on the right, as the pot stands before it is reduced; a long
        clear range is cut short.
    forecast : Forecast, optional
        Its odds: the crystals to be expected are drawn beside the line, the odds of each outcome stacked below it.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi.

    Examples
    --------
    >>> from crystal.bench.pot import Pot
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> pot = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 97.7, 402.3)
    >>> figure = window_chart(Plan.of(pot, 5.0))
    >>> figure.axes[0].get_ylabel()
    'Crystals (g)'
    """
    with house_look():
        return _chart(plan, forecast)


def _chart(plan: Plan, forecast: Forecast | None) -> Figure:
    window = plan.window
    start = window.start
    cold, read = degrees_text(window.cool_to_C), degrees_text(window.read_at_C)
    whole = EndPoint.of(start, start.mass_fraction, window.read_at_C)
    left, right = _view(window, whole)
    words = {band.outcome: None for band in window.bands if band.start.end_volume_mL > left}
    notes = []
    advised = plan.advised
    if plan.advice.end is None:
        notes.append(plan.reason)
    elif advised is not None and advised.slurry_mL(0) is not None:
        notes.append(f"At {read} solid stands in the pot at the advised end point: read it hot, or weigh it.")
    if right < whole.end_volume_mL * 0.999:
        notes.append(f"The start, {size_text(whole.end_volume_mL)} mL, lies further to the right.")
    past = [text for end, text in _thresholds(window) if end.end_volume_mL > right]
    if past:
        notes.append(
            f"Already passed before reducing: {', '.join(text.replace(chr(10), ' ') for text in past)}."
        )
    sheet = Sheet(
        f"{salt_text(start.model)} cooled to {cold}: crystals against end volume",
        f"{pot_text(start)}. End volumes are those of the "
        f"clear liquid, read at {read}; crystals are what stands after cooling to {cold}.",
        keys=[*(Key.of_field(OUTCOME_FIELDS[word]) for word in words), *(_ODDS_KEYS if forecast else ())],
        notes=notes,
        callouts=_callouts(plan, whole, left, right),
    )
    plots = sheet.lay_out([330] if forecast is None else [330, 150], axis_px=116, between_px=18)
    plot, lowest = plots[0], plots[-1]
    volume, crystals, solid = crystal_line(window)
    shown = crystals[(volume >= left) & (volume <= right)]
    top = float(np.nanmax(shown, initial=0.0)) or 1.0
    plot.set_xlim(left, right)
    plot.set_ylim(0.0, 1.14 * top)
    end_label = axis("end_volume_mL", f"read at {read}")
    set_labels(plot, None if forecast else end_label, axis("crystals_g"))
    if forecast is not None:
        set_labels(lowest, end_label, axis("odds", percent=True))
        _draw_odds(plot, lowest, forecast, left, right)
    _percent_axis(lowest, start.volume_mL(), left, right)
    spans = _draw_fields(plot, window, left, right)
    plot.plot(volume, crystals, color=BLUE, linewidth=2.2, zorder=4, label="crystals")
    room = Room(sheet, plot)
    room.keep_off_line(volume, crystals)
    for callout in sheet.callouts:
        plot.axvline(callout.x, color=callout.ink, linewidth=0.9, linestyle="--", zorder=3)
        room.keep_off_line([callout.x, callout.x], [0.0, 1.14 * top], pad_px=2)
        if lowest is not plot:
            lowest.axvline(callout.x, color=callout.ink, linewidth=0.9, linestyle="--", zorder=3)
    sheet.draw_callouts(plot)
    if plan.advice.end is not None:
        at = (plan.advice.end.end_volume_mL, plan.advice.crystals_g)
        plot.plot(*at, marker="o", markersize=8, color=BLACK, zorder=5, linestyle="none", label="advised")
        room.keep_off_point(*at)
        name = formula_text(start.model.solid_name(plan.advice.solid) or "")
        kept = "" if plan.advice.margin_kept else "\n(no full margin)"
        text = f"{size_text(plan.advice.crystals_g)} g of\n{name}{kept}"
        room.put([text], at, pt=SMALL_PT, bbox=PLATE, weight="bold")
    _name_solids(room, plan, volume, crystals, solid, left, right)
    for a, b, word in spans:
        middle = ((a + b) / 2, 1.10 * top)
        within = _columns_between(room, a, b)
        room.put([OUTCOME_FIELDS[word].word], middle, within=within, upright=True, bbox=PLATE)
    return sheet.figure


_ODDS_KEYS = (
    Key("crystals to be expected, drained", line={"color": PURPLE, "linewidth": 1.8, "linestyle": "--"}),
    Key(
        "so many in 80 of 100 cases",
        patch={"facecolor": tint(PURPLE, 0.30), "edgecolor": PURPLE, "linewidth": 0.6},
    ),
)


def _draw_odds(upper: Axes, lower: Axes, forecast: Forecast, left: float, right: float) -> None:
    """Crystals to be expected in the upper plot, the odds of the outcomes stacked in the lower, the worst at the bottom."""
    volume = np.linspace(left, right, _ODDS_POINTS)
    odds = forecast.at(volume)
    upper.fill_between(
        volume,
        odds.crop_p10_g,
        odds.crop_p90_g,
        facecolor=tint(PURPLE, 0.30),
        edgecolor=PURPLE,
        linewidth=0.6,
        alpha=0.45,
        zorder=2,
    )
    upper.plot(
        volume,
        odds.crop_expected_g,
        color=PURPLE,
        linewidth=1.8,
        linestyle="--",
        zorder=3.5,
        label="expected",
    )
    lower.set_ylim(0.0, 100.0)
    low = np.zeros_like(volume)
    for code in reversed(range(len(OUTCOMES))):
        look = OUTCOME_FIELDS[OUTCOMES[code]]
        high = low + 100.0 * odds.odds[code]
        lower.fill_between(
            volume, low, high, facecolor=look.fill, edgecolor=look.ink, hatch=look.hatch, linewidth=0.6, zorder=1,
            label=OUTCOMES[code],
        )  # fmt: skip
        low = high
    lower.axhline(100.0 * forecast.bet.risk, color=BLACK, linewidth=0.9, linestyle=":", zorder=3)


def crystal_line(window: Window) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int8]]:
    """End volumes from large to small, the crystals there (NaN where unknown), and the index of the main solid."""
    start = window.start
    parts = [np.linspace(b.start.mass_fraction, b.end.mass_fraction, _POINTS_PER_BAND) for b in window.bands]
    w = np.concatenate(parts)
    unknown = np.concatenate(
        [np.full(len(p), b.outcome is None) for p, b in zip(parts, window.bands, strict=True)]
    )
    water = start.salt_g * (1.0 - w) / w
    cooled = window.cooled(water)
    crystals = np.where(unknown | (cooled.outcome < 0), np.nan, cooled.crystals_g)
    volume = start.volume_of(water, window.read_at_C)
    return volume, crystals, cooled.main_solid


def _view(window: Window, whole: EndPoint) -> tuple[float, float]:
    """Smallest and largest end volume shown."""
    driest = window.bands[-1].end.end_volume_mL
    right = whole.end_volume_mL
    if window.saturates is not None:
        right = min(right, _VIEW_OF_CLEAR * window.saturates.end_volume_mL)
    # Beyond the last end point that pours or can be pressed nothing more is decided: only a part of it is shown.
    wanted = [band.end.end_volume_mL for band in window.bands if band.outcome not in ("set", None)]
    if not wanted or min(wanted) >= right:
        return driest, right
    ends = min(wanted)
    return max(driest, ends - _VIEW_OF_SET / (1 - _VIEW_OF_SET) * (right - ends)), right


def _thresholds(window: Window) -> list[tuple[EndPoint, str]]:
    named = [
        (window.saturates, "crystals from"),
        (window.pours_off_down_to, "pours off down to"),
        (window.sets_solid_below, "sets solid below"),
    ]
    found: list[tuple[EndPoint, str]] = []
    for end, words in named:
        if end is None:
            continue
        if found and abs(found[-1][0].end_volume_mL / end.end_volume_mL - 1) < 1e-6:
            words = found.pop()[1].split("\n")[0] + " /\n" + words
        found.append((end, f"{words}\n{size_text(end.end_volume_mL)} mL"))
    return found


def _callouts(plan: Plan, whole: EndPoint, left: float, right: float) -> list[Callout]:
    found = [Callout(end.end_volume_mL, text, GREY) for end, text in _thresholds(plan.window)]
    found.append(Callout(whole.end_volume_mL, f"start\n{size_text(whole.end_volume_mL)} mL", GREY))
    if plan.advice.end is not None:
        stop = plan.advice.end
        found.append(
            Callout(
                stop.end_volume_mL,
                f"advised: stop at\n{size_text(stop.end_volume_mL)} mL ({100 * stop.fraction_of_start:.0f} %)",
                BLACK,
            )
        )
    return [c for c in found if left <= c.x <= right * (1 + 1e-9)]


def _percent_axis(plot: Axes, start_mL: float, left: float, right: float) -> None:
    percent = plot.twiny()
    percent.set_xlim(100 * left / start_mL, 100 * right / start_mL)
    percent.xaxis.set_ticks_position("bottom")
    percent.xaxis.set_label_position("bottom")
    percent.spines["bottom"].set_position(("outward", 44))
    percent.spines["bottom"].set_visible(True)
    percent.set_xlabel(axis("fraction_of_start", percent=True))


def _draw_fields(
    plot: Axes, window: Window, left: float, right: float
) -> list[tuple[float, float, str | None]]:
    """Fill the outcomes; returns (smaller volume, larger volume, outcome), neighbours merged."""
    spans: list[tuple[float, float, str | None]] = []
    for band in window.bands:
        a, b = max(band.end.end_volume_mL, left), min(band.start.end_volume_mL, right)
        if b <= a:
            continue
        if spans and spans[-1][2] == band.outcome:
            spans[-1] = (a, spans[-1][1], band.outcome)
        else:
            spans.append((a, b, band.outcome))
    for a, b, word in spans:
        look = OUTCOME_FIELDS[word]
        plot.axvspan(a, b, facecolor=look.fill, edgecolor=look.ink, hatch=look.hatch, linewidth=0.0, zorder=0)
    return spans


def _columns_between(room: Room, a: float, b: float) -> NDArray[np.bool_]:
    x, _ = room.cell_centres()
    return np.broadcast_to((x > a) & (x < b), room.shape)


def _name_solids(
    room: Room,
    plan: Plan,
    volume: NDArray[np.float64],
    crystals: NDArray[np.float64],
    solid: NDArray[np.int8],
    left: float,
    right: float,
) -> None:
    """Name each solid once beside its part of the line, but the advised one, which is named at its mark."""
    seen = (volume >= left) & (volume <= right) & (crystals > 0)
    for index in dict.fromkeys(solid[seen].tolist()):
        if index < 0 or (plan.advice.end is not None and index == plan.advice.solid):
            continue
        mine = np.flatnonzero(seen & (solid == index))
        at = mine[len(mine) // 2]
        name = formula_text(plan.window.start.model.solid_name(index) or "")
        within = _columns_between(room, float(volume[mine].min()), float(volume[mine].max()))
        near = (float(volume[at]), float(crystals[at]))
        room.put([name], near, within=within, upright=True, bbox=PLATE, color=BLUE)
