"""Cooling: the curve to lead a pot along, what it does when left to itself, and how the crop comes on either way."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from crystal.bench.cooldown import Cooldown
from crystal.bench.supersaturation import Zone
from crystal.faces.figures.layout import PLATE, Key, Room, Sheet, set_labels
from crystal.faces.figures.style import BLUE, GREEN, GREY, ORANGE, SKY, house_look, tint
from crystal.faces.figures.words import degrees_text, formula_text, salt_text, size_text
from crystal.faces.titles import axis

_POINTS = 400


def cool_chart(found: Cooldown) -> Figure:
    """Temperature and crystals against time, with the first crystals and the metastable zone.

    Parameters
    ----------
    found : Cooldown
        The cooling of one pot.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi; hours across, °C above, grams of crystals (at equilibrium) below.

    Examples
    --------
    >>> from crystal.bench.pot import Pot
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> pot = Pot(Model.of(Catalogue.bundled().find("KNO3")), 100.0, 120.0)
    >>> [plot.get_ylabel() for plot in cool_chart(Cooldown.of(pot, 10.0)).axes]
    ['Temperature (°C)', 'Crystals (g)']
    """
    with house_look():
        return _chart(found)


def _chart(found: Cooldown) -> Figure:
    controlled, natural, zone = found.controlled, found.natural, found.zone
    keys, remark = [], []
    if controlled is not None:
        keys.append(Key("led along the curve", line={"color": BLUE, "linewidth": 2.2}))
        remark.append(
            f"The curve begins at {degrees_text(controlled.from_C)}, exponent {controlled.exponent:g}."
        )
    if natural is not None:
        keys.append(Key("left to itself", line={"color": ORANGE, "linewidth": 2.2, "linestyle": "--"}))
    due = zone is not None and not zone.is_ice and zone.saturated_C > found.to_C
    if due:
        keys.append(Key("first crystals due", line={"color": GREEN, "linewidth": 1.4}))
    if due and zone is not None and zone.limit_C is not None:
        keys.append(
            Key("metastable zone (recalled)", patch={"facecolor": tint(GREEN, 0.35), "edgecolor": GREEN})
        )
    if controlled is None and natural is None:
        remark.append("No curve: no first crystals are due on the way, and no readings were given.")
    sheet = Sheet(
        f"{salt_text(found.pot.model)}: cooling to {degrees_text(found.to_C)}",
        " ".join([*remark, f"Crop at the end: {size_text(found.crop_g)} g. Crystals as at equilibrium."]),
        keys=keys,
    )
    upper, lower = sheet.lay_out([260, 170], axis_px=54, between_px=18)
    hours = _hours(found)
    t = np.linspace(0.0, hours, _POINTS)
    upper.set_xlim(0.0, hours)
    lines = []
    if controlled is not None:
        lines.append((controlled.temperature_C(t), BLUE, "-"))
    if natural is not None:
        lines.append((natural.temperature_C(t), ORANGE, "--"))
    tops = [float(values.max()) for values, _, _ in lines] + (
        [zone.saturated_C] if due and zone is not None else []
    )
    high, low = max([*tops, found.to_C + 1.0]), min([found.to_C, *(float(v.min()) for v, _, _ in lines)])
    upper.set_ylim(low - 0.06 * (high - low), high + 0.10 * (high - low))
    set_labels(upper, None, axis("temperature_degC"))
    set_labels(lower, axis("time_h"), axis("crystals_g"))
    most = [float(np.nanmax(found.crystals_at_g(values), initial=0.0)) for values, _, _ in lines]
    lower.set_ylim(0.0, 1.15 * max([found.crop_g, 1e-3, *most]))
    if due and zone is not None:
        _draw_zone(upper, zone)
    room = Room(sheet, upper)
    for values, ink, dash in lines:
        upper.plot(t, values, color=ink, linewidth=2.2, linestyle=dash, zorder=4)
        lower.plot(t, found.crystals_at_g(values), color=ink, linewidth=2.2, linestyle=dash, zorder=4)
        room.keep_off_line(t, values)
    lower.axhline(found.crop_g, color=GREY, linewidth=0.9, linestyle=":", zorder=2)
    if due and zone is not None:
        room.keep_off_line([0.0, hours], [zone.saturated_C] * 2)
        text = f"{formula_text(zone.solid)} due at {degrees_text(zone.saturated_C)}"
        room.put([text], (0.75 * hours, zone.saturated_C), beside=True, bbox=PLATE, color=GREEN)
    if float(found.cooled.ice_g) > 0:
        upper.axhline(0.0, color=SKY, linewidth=1.2, linestyle=":", zorder=2)
    return sheet.figure


def _hours(found: Cooldown) -> float:
    """Time shown: the curve's, or until a pot left to itself has all but come down."""
    spans = [] if found.controlled is None else [found.controlled.hours]
    natural = found.natural
    if natural is not None:
        down = natural.hours_to(found.to_C)
        spans.append(np.log(50.0) / natural.per_h if down is None else down)
    return float(min(max(spans, default=1.0), 1000.0))


def _draw_zone(plot: Axes, zone: Zone) -> None:
    plot.axhline(zone.saturated_C, color=GREEN, linewidth=1.4, zorder=2)
    if zone.limit_C is not None:
        plot.axhspan(
            zone.limit_C, zone.saturated_C, facecolor=tint(GREEN, 0.35), edgecolor=GREEN, linewidth=0.4, zorder=1
        )  # fmt: skip
