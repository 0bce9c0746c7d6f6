"""Two substances in one liquor: how one shifts the other's solubility, and the diagram of two salts with a plan's path."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from crystal.bench.separate import Separation, isotherm_percent
from crystal.errors import InputError
from crystal.faces.figures.layout import Key, Sheet, set_labels
from crystal.faces.figures.style import BLACK, BLUE, GREY, RED, SMALL_PT, house_look, tint
from crystal.faces.figures.words import formula_text
from crystal.faces.titles import axis
from crystal.physics.company import Company, company_of
from crystal.physics.formula import molar_mass_g_mol
from crystal.physics.model import Model
from crystal.physics.others import Others

_POINTS = 121


def beside_chart(model: Model, other: str, temperature_C: float) -> Figure:
    """Saturated liquor of a salt against another substance in it, with its doubt.

    Parameters
    ----------
    model : Model
        The salt.
    other : str
        Formula of the substance beside it.
    temperature_C : float
        Temperature, °C.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi; mass % of the whole liquor on both axes.

    Raises
    ------
    InputError
        Where no shift can be told, saying why.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> figure = beside_chart(Model.of(Catalogue.bundled().find("CuSO4")), "H2SO4", 25.0)
    >>> figure.axes[0].get_xlabel()
    'H₂SO₄ in the liquor (mass % of liquor)'
    """
    company = company_of(model, Others.of({other: 1.0}))
    if company is None:
        reason = Company.of(model, {other: 1.0}).reason
        raise InputError("--beside", other, f"a substance whose effect is known: {reason}", "H2SO4")
    with house_look():
        return _beside(model, company, other, temperature_C)


def _beside(model: Model, company: Company, other: str, temperature_C: float) -> Figure:
    salt = model.salt.formula
    grams = molar_mass_g_mol(salt), molar_mass_g_mol(other)
    most = 1.3 * company.beside.others_reach if np.isfinite(company.beside.others_reach) else 6.0
    joins = float(company.curves.table(np.array([temperature_C])).joins_at[0])
    molality = np.linspace(0.0, min(most, joins), _POINTS)
    found = [company.shift(temperature_C, float(b)) for b in molality]
    known = [(b, one) for b, one in zip(molality, found, strict=True) if one is not None]
    if not known:
        raise model.map.not_covered(None, temperature_C)
    pure = float(company.curves.table(np.array([temperature_C])).pure_molality[0])
    b = np.array([b for b, _ in known])

    def percents(a: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        whole = 1000.0 + a * grams[0] + b * grams[1]
        return 100.0 * b * grams[1] / whole, 100.0 * a * grams[0] / whole

    factor, doubt, used = (np.array([one[k] for _, one in known], dtype=float) for k in range(3))
    solids = [one[3] for _, one in known]
    x, y = percents(pure * factor)
    bands = [percents(pure * factor * np.exp(sign * doubt)) for sign in (-1.0, 1.0)]
    plain_x, plain_y = percents(np.full(b.shape, pure))
    keys = [
        Key(f"{formula_text(salt)} beside {formula_text(other)}", line={"color": BLUE, "linewidth": 2.2}),
        Key("its standard uncertainty", patch={"facecolor": tint(BLUE, 0.18), "edgecolor": tint(BLUE, 0.4)}),
        Key(
            "as if it were not there (same salt per water)",
            line={"color": GREY, "linestyle": "--", "linewidth": 1.2},
        ),
    ]
    notes = []
    if (used > 1.0).any():
        keys.append(
            Key("beyond the parameters' range", line={"color": BLUE, "linewidth": 2.2, "linestyle": ":"})
        )
    if np.isfinite(joins) and joins < most:
        notes.append(f"The line ends where {formula_text(other)} crystallises too.")
    sheet = Sheet(
        f"{formula_text(salt)}: saturated liquor beside {formula_text(other)} at {temperature_C:g} °C",
        "From the pure salt's curve, shifted by the activities of the ions (parameters of 25 °C).",
        keys=keys, notes=notes,
    )  # fmt: skip
    (plot,) = sheet.lay_out([360], axis_px=54)
    plot.set_xlim(0.0, max(float(x[-1]), 1e-3) * 1.02)
    plot.set_ylim(0.0, 1.12 * max(float(y.max()), float(bands[1][1].max())))
    plot.fill(
        np.concatenate([bands[0][0], bands[1][0][::-1]]), np.concatenate([bands[0][1], bands[1][1][::-1]]),
        facecolor=tint(BLUE, 0.18), edgecolor=tint(BLUE, 0.4), linewidth=0.6, zorder=2,
    )  # fmt: skip
    plot.plot(plain_x, plain_y, color=GREY, linestyle="--", linewidth=1.2, zorder=3)
    inside = used <= 1.0
    plot.plot(np.where(inside, x, np.nan), np.where(inside, y, np.nan), color=BLUE, linewidth=2.2, zorder=4)
    edge = ~inside | np.concatenate([~inside[1:], [False]])
    plot.plot(
        np.where(edge, x, np.nan),
        np.where(edge, y, np.nan),
        color=BLUE,
        linewidth=2.2,
        linestyle=":",
        zorder=4,
    )
    for k in range(1, len(solids)):
        if solids[k] != solids[k - 1]:
            plot.axvline(x[k], color=BLACK, linewidth=0.8, linestyle=":")
            plot.annotate(
                f"{formula_text(solids[k - 1])} | {formula_text(solids[k])}", (x[k], plot.get_ylim()[1]),
                xytext=(0, -4), textcoords="offset points", ha="center", va="top", fontsize=SMALL_PT,
                bbox={"facecolor": "white", "linewidth": 0, "pad": 1.5},
            )  # fmt: skip
    set_labels(plot, *(axis("liquor_mass_percent", of=formula_text(formula)) for formula in (other, salt)))
    return sheet.figure


def pair_chart(found: Separation) -> Figure:
    """The diagram of two salts with a common ion: saturated liquors hot and cold, and the liquors of a plan's turns.

    Parameters
    ----------
    found : Separation
        The plan.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi; mass % of the whole liquor on both axes.

    Raises
    ------
    InputError
        Where the two salts share no ion.
    """
    with house_look():
        return _pair(found)


def _pair(found: Separation) -> Figure:
    first, second = found.salts_g
    several = found.several
    inks = {found.hot_C: RED, found.cold_C: BLUE}
    lines = {t: isotherm_percent(several, first, second, t) for t in inks}
    names = [formula_text(f) for f in (first, second)]
    keys = [Key(f"saturated at {t:g} °C", line={"color": ink, "linewidth": 2.0}) for t, ink in inks.items()]
    keys.append(
        Key(
            "liquor, start and after each turn",
            line={"color": BLACK, "marker": "o", "linewidth": 1.0, "markersize": 4},
        )
    )
    sheet = Sheet(
        f"{names[0]} and {names[1]}: saturated liquors and the plan's path",
        "Below a line all is dissolved; at its corner both salts stand beside the liquor.",
        keys=keys, notes=["Solids that are not in the data, double salts among them, are not shown."],
    )  # fmt: skip
    (plot,) = sheet.lay_out([420], axis_px=54)
    top = np.zeros(2)
    for t, some in lines.items():
        for line in some:
            plot.plot(line[0], line[1], color=inks[t], linewidth=2.0, zorder=3)
            top = np.maximum(top, line.max(axis=1))
    whole = sum(found.salts_g.values()) + found.water_g
    path = [(100.0 * found.salts_g[first] / whole, 100.0 * found.salts_g[second] / whole)]
    path += [turn.liquor_percent for turn in found.turns if turn.liquor_percent is not None]
    at = np.array(path)
    plot.plot(at[:, 0], at[:, 1], color=BLACK, marker="o", markersize=4, linewidth=1.0, zorder=5)
    top = np.maximum(top, at.max(axis=0))
    labels = {"start": path[0]}
    for solid in dict.fromkeys(turn.solid for turn in found.turns):
        numbers = [n for n, turn in enumerate(found.turns, 1) if turn.solid == solid]
        labels[f"{', '.join(map(str, numbers))}: {formula_text(solid)} out"] = path[numbers[0]]
    for text, point in labels.items():
        left = point[0] > 0.5 * top[0]
        plot.annotate(
            text, point, xytext=(-8, -6) if left else (8, 6), textcoords="offset points", fontsize=SMALL_PT, zorder=6,
            ha="right" if left else "left", va="top" if left else "bottom", bbox={"facecolor": "white", "linewidth": 0, "pad": 1.0},
        )  # fmt: skip
    plot.set_xlim(0.0, 1.12 * top[0])
    plot.set_ylim(0.0, 1.10 * top[1])
    set_labels(plot, *(axis("liquor_mass_percent", of=name) for name in names))
    return sheet.figure
