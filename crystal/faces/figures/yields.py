"""The yield: what one end pot gives against the temperature that it is cooled to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from crystal.bench.cooling import LOOSE_BED, OUTCOMES, UNKNOWN, Cooled
from crystal.bench.pot import Pot
from crystal.faces.figures.layout import PLATE, Callout, Key, Room, Sheet, set_labels
from crystal.faces.figures.style import BLACK, BLUE, GREY, OUTCOME_FIELDS, SKY, house_look
from crystal.faces.figures.words import degrees_text, formula_text, pot_text, salt_text, size_text
from crystal.faces.titles import axis

_POINTS = 1600
_BESIDE_C = 1e-6
"""How near to a change of solid, on both sides, the line is drawn."""


def yield_chart(pot: Pot, temperatures_C: Sequence[float] = (), *, bed: float = LOOSE_BED) -> Figure:
    """Crystals and yield of one end pot against the cooling temperature, over everything that the data cover.

    Parameters
    ----------
    pot : Pot
        The pot as it is left to cool.
    temperatures_C : sequence of float
        Temperatures to be marked, °C; those outside the data are shown as such.
    bed : float
        Solids' share of the volume of the settled crystals.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi; crystals (g) above, yield (% of the salt in the pot) below.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> pot = Pot(Model.of(Catalogue.bundled().find("KNO3")), 100.0, 100.0)
    >>> [plot.get_ylabel() for plot in yield_chart(pot, [0.0, 20.0]).axes]
    ['Crystals (g)', 'Yield (%)']
    """
    with house_look():
        return _chart(pot, [float(t) for t in temperatures_C], bed)


def _chart(pot: Pot, asked_C: list[float], bed: float) -> Figure:
    beside = " in salt and water" if pot.others else ""
    t = temperature_grid(pot, asked_C)
    state = Cooled.of(pot.model, pot.salt_g, pot.water_g, t, bed=bed, strict=False, others=pot.others)
    known = state.outcome != UNKNOWN
    crystals = np.where(known, state.crystals_g, np.nan)
    percent = np.where(known, 100 * state.yield_fraction, np.nan)
    fields = _fields(t, state.outcome)
    keys = [Key.of_field(OUTCOME_FIELDS[word]) for word in dict.fromkeys(word for *_, word in fields)]
    has_ice = bool((state.ice_g > 0).any())
    if has_ice:
        keys.append(Key("ice (no crop)", line={"color": SKY, "linewidth": 1.6, "linestyle": ":"}))
    sheet = Sheet(
        f"{salt_text(pot.model)}: crystals against the temperature cooled to",
        f"{pot_text(pot)} ({100 * pot.mass_fraction:.3g} mass % of anhydrous salt{beside}).",
        keys=keys,
        callouts=[_callout(pot, at, bed) for at in sorted(set(asked_C))],
    )
    upper, lower = sheet.lay_out([250, 150], axis_px=54, between_px=18)
    ice = np.where(known & (state.ice_g > 0), state.ice_g, np.nan)
    top = max(float(np.nanmax(crystals, initial=0.0)), float(np.nanmax(ice, initial=0.0))) or 1.0
    upper.set_xlim(float(t[0]), float(t[-1]))
    upper.set_ylim(0.0, 1.22 * top)
    lower.set_ylim(0.0, 105.0)
    set_labels(upper, None, axis("crystals_g"))
    set_labels(lower, axis("cool_to_degC"), axis("yield_percent"))
    for plot, values in ((upper, crystals), (lower, percent)):
        _draw_fields(plot, fields)
        plot.plot(t, values, color=BLUE, linewidth=2.2, zorder=4)
    if has_ice:
        upper.plot(t, ice, color=SKY, linewidth=1.6, linestyle=":", zorder=4)
    room = Room(sheet, upper)
    room.keep_off_line(t, crystals)
    room.keep_off_line(t, ice)
    for callout in sheet.callouts:
        for plot, values in ((upper, crystals), (lower, percent)):
            plot.axvline(callout.x, color=callout.ink, linewidth=0.9, linestyle="--", zorder=3)
            at = int(np.argmin(np.abs(t - callout.x)))
            plot.plot(
                t[at],
                values[at],
                marker="o",
                markersize=6,
                color=BLACK,
                linestyle="none",
                zorder=5,
                clip_on=False,
            )
        room.keep_off_line([callout.x, callout.x], [0.0, 1.22 * top], pad_px=2)
    sheet.draw_callouts(upper)
    x, _ = room.cell_centres()
    for a, b, index in _runs(t, np.where(known & (crystals > 0), state.main_solid, -1)):
        if index >= 0:
            middle = (a + b) / 2
            at = int(np.argmin(np.abs(t - middle)))
            name = formula_text(pot.model.solid_name(index) or "")
            within = np.broadcast_to((x > a) & (x < b), room.shape)
            room.put(
                [name], (middle, float(crystals[at])), within=within, upright=True, bbox=PLATE, color=BLUE
            )
    for a, b, word in fields:
        within = np.broadcast_to((x > a) & (x < b), room.shape)
        look = OUTCOME_FIELDS[word]
        room.put([look.word], ((a + b) / 2, 1.18 * top), within=within, upright=True, bbox=PLATE)
    return sheet.figure


def temperature_grid(pot: Pot, asked_C: Sequence[float]) -> NDArray[np.float64]:
    """Temperatures over the data and what was asked, close on both sides of every change of solids."""
    phase_map = pot.model.map
    low, high = min([phase_map.low_C, *asked_C]), max([phase_map.high_C, *asked_C])
    edges = np.array([s.low_C for s in phase_map.stretches] + [phase_map.high_C])
    t = np.concatenate(
        [np.linspace(low, high, _POINTS), edges - _BESIDE_C, edges, edges + _BESIDE_C, asked_C]
    )
    return np.unique(t[(t >= low) & (t <= high)])


def _callout(pot: Pot, at_C: float, bed: float) -> Callout:
    state = Cooled.of(pot.model, pot.salt_g, pot.water_g, at_C, bed=bed, strict=False, others=pot.others)
    word = state.outcome_word()
    if word is None:
        return Callout(at_C, f"{degrees_text(at_C)}\nnot in the data", GREY)
    crystals = float(state.crystals_g)
    if crystals <= 0:
        return Callout(
            at_C, f"{degrees_text(at_C)}\n" + ("ice only" if float(state.ice_g) > 0 else "clear"), GREY
        )
    name = formula_text(pot.model.solid_name(int(state.main_solid)) or "")
    share = 100 * float(state.yield_fraction)
    return Callout(
        at_C, f"{degrees_text(at_C)}: {word}\n{size_text(crystals)} g, {share:.0f} %\n{name}", GREY
    )


def _runs(t: NDArray[np.float64], code: NDArray[np.int8]) -> list[tuple[float, float, int]]:
    """Runs of one code: from, to, code; the border half-way between two temperatures."""
    cuts = np.flatnonzero(np.diff(code)) + 1
    edges = [float(t[0]), *((t[cuts] + t[cuts - 1]) / 2).tolist(), float(t[-1])]
    firsts = [0, *cuts.tolist()]
    return [(a, b, int(code[i])) for a, b, i in zip(edges, edges[1:], firsts, strict=False)]


def _fields(t: NDArray[np.float64], outcome: NDArray[np.int8]) -> list[tuple[float, float, str | None]]:
    return [(a, b, None if code == UNKNOWN else OUTCOMES[code]) for a, b, code in _runs(t, outcome)]


def _draw_fields(plot: Axes, fields: list[tuple[float, float, str | None]]) -> None:
    for a, b, word in fields:
        look = OUTCOME_FIELDS[word]
        plot.axvspan(a, b, facecolor=look.fill, edgecolor=look.ink, hatch=look.hatch, linewidth=0.0, zorder=0)
