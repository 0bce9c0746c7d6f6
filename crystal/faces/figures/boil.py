"""Boiling down: the pot's log, the line through it, and when it will be at the end point."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from crystal.bench.boildown import Boildown
from crystal.errors import InputError
from crystal.faces.figures.layout import Callout, Key, Sheet, set_labels
from crystal.faces.figures.style import BLACK, BLUE, GREY, RED, house_look, tint
from crystal.faces.figures.words import formula_text, size_text
from crystal.faces.titles import axis

_POINTS = 400
_SHOWN = 3.0  # a late end further off than so many expected waits is left out of the picture


def boil_chart(found: Boildown) -> Figure:
    """Water left against time: readings with their errors, the fitted line, its band, the end mark.

    Parameters
    ----------
    found : Boildown
        With a log.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi; hours across, grams of water upwards.

    Raises
    ------
    InputError
        Without a log there is nothing to draw.

    Examples
    --------
    >>> from crystal.bench.boildown import LogReading
    >>> from crystal.bench.pot import Pot
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> pot = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 60.0, 300.0)
    >>> log = [LogReading(0.5, mass_g=330.0), LogReading(1.5, mass_g=250.0)]
    >>> boil_chart(Boildown.of(pot, 100.0, log=log)).axes[0].get_ylabel()
    'Water in the pot (g)'
    """
    if found.fit is None or found.end_h is None:
        raise InputError("--chart", "a plan without a log", "asked of a pot with its --log", "--log log.csv")
    with house_look():
        return _chart(found)


def _chart(found: Boildown) -> Figure:
    fit, end_h = found.fit, found.end_h
    assert fit is not None
    assert end_h is not None
    last = float(fit.hours[-1])
    latest = (
        found.late_h
        if found.late_h is not None and found.late_h < last + _SHOWN * max(end_h - last, 0.1)
        else end_h
    )
    right = 1.06 * max(last, latest, end_h)
    salt = formula_text(found.start.model.salt.formula)
    late = "no late bound" if found.late_h is None else f"{found.late_h:.2f} h"
    early = "no early bound" if found.early_h is None else f"{found.early_h:.2f} h"
    keys = [
        Key("readings with their standard errors", line={"color": BLACK, "marker": "o", "linestyle": "none"})
    ]
    if not fit.used.all():
        look = {"color": GREY, "marker": "o", "markerfacecolor": "white", "linestyle": "none"}
        keys.append(Key("left out: warming up", line=look))
    keys += [
        Key("fit", line={"color": BLUE, "linewidth": 2.2}),
        Key("forecast", line={"color": BLUE, "linewidth": 2.2, "linestyle": "--"}),
        Key("its band, 19 of 20 cases", patch={"facecolor": tint(BLUE, 0.2), "edgecolor": "none"}),
        Key("end mark", line={"color": RED, "linewidth": 1.6}),
    ]
    sheet = Sheet(
        f"{salt}: boiling down to {size_text(found.end.mass_g)} g",
        f"The line: {fit.rate_g_h:.0f} g of water an hour, give or take {fit.rate_error_g_h:.0f}. "
        f"End mark at {end_h:.2f} h, in 19 of 20 cases from {early} to {late}.",
        keys=keys,
        callouts=[Callout(end_h, f"end mark\n{end_h:.2f} h", RED)],
    )  # fmt: skip
    (plot,) = sheet.lay_out([340], axis_px=54)
    t = np.linspace(float(fit.hours[fit.used][0]), right, _POINTS)
    low, high = fit.band_g(t)
    plot.set_xlim(-0.02 * right, right)
    plot.set_ylim(0.0, 1.08 * max(float(fit.water_g.max()), found.end_water_g))
    set_labels(plot, axis("log.time_h"), axis("log.water_g"))
    plot.fill_between(
        t, np.maximum(low, 0.0), np.maximum(high, 0.0), color=tint(BLUE, 0.2), linewidth=0, zorder=1
    )
    line = np.where(fit.water_at_g(t) >= 0.0, fit.water_at_g(t), np.nan)
    past = t <= last
    plot.plot(t[past], line[past], color=BLUE, linewidth=2.2, zorder=3)
    plot.plot(t[~past], line[~past], color=BLUE, linewidth=2.2, linestyle="--", zorder=3)
    plot.axhline(found.end_water_g, color=RED, linewidth=1.6, zorder=2)
    plot.plot(
        [end_h, end_h],
        [found.end_water_g, plot.get_ylim()[1]],
        color=RED,
        linewidth=0.9,
        linestyle="--",
        zorder=2,
    )
    for chosen, face, ink in ((fit.used, BLACK, BLACK), (~fit.used, "white", GREY)):
        if chosen.any():
            plot.errorbar(
                fit.hours[chosen], fit.water_g[chosen], yerr=fit.error_g[chosen], fmt="o", color=ink,
                markerfacecolor=face, markersize=6, capsize=3, zorder=5,
            )  # fmt: skip
    sheet.draw_callouts(plot)
    return sheet.figure
