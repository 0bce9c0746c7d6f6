"""The path of a batch over the phase map."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from crystal.bench.path import SaturationPath, Step
from crystal.faces.figures.layout import PLATE, Key, Room, Sheet, set_labels
from crystal.faces.figures.phasefields import draw_fields, name_fields
from crystal.faces.figures.style import BLACK, ORANGE, house_look
from crystal.faces.figures.words import degrees_text, formula_text, salt_text, size_text
from crystal.faces.titles import axis


def path_chart(path: SaturationPath) -> Figure:
    """The phase map of the salt with the path of a batch, its steps numbered, and the tie line at the end.

    Parameters
    ----------
    path : SaturationPath
        The batch.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi; mass % of anhydrous salt across, °C upwards.

    Examples
    --------
    >>> from crystal.bench.pot import Pot
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> pot = Pot(Model.of(Catalogue.bundled().find("KNO3")), 100.0, 400.0)
    >>> path_chart(SaturationPath.of(pot, 100.0, 20.0)).axes[0].get_ylabel()
    'Temperature (°C)'
    """
    with house_look():
        return _chart(path)


def _chart(path: SaturationPath) -> Figure:
    phase_map = path.model.map
    end = path.steps[-1]
    tie = _tie_line(path)
    beside = [formula_text(formula) for formula in path.start.others.formulas]
    whole = f"salt and water, {' and '.join(beside)} left out" if beside else "the whole pot"
    keys = [Key("the pot", line={"color": BLACK, "linewidth": 2.4})]
    if tie is not None:
        keys.append(
            Key("its liquor while it cools", line={"color": BLACK, "linewidth": 3.0, "linestyle": ":"})
        )
        look = {"color": ORANGE, "linewidth": 3.0}
        keys.append(Key("tie line at the end: from the liquor to the solid", line=look))
    sheet = Sheet(
        f"{salt_text(path.model)}: the batch on its way to {degrees_text(end.temperature_C)}",
        f"Across: anhydrous salt in {whole}. {path.fields_told}",
        keys=keys,
        notes=[f"{i}  {_told(step)}" for i, step in enumerate(path.steps, 1)],
    )
    (plot,) = sheet.lay_out([460], axis_px=54)
    at_C = [phase_map.low_C, phase_map.high_C, *(step.temperature_C for step in path.steps)]
    low, high = min(at_C), max(at_C)
    plot.set_xlim(0.0, 100.0)
    plot.set_ylim(low - 0.03 * (high - low), high + 0.03 * (high - low))
    set_labels(plot, axis("mass_percent"), axis("temperature_degC"))
    draw_fields(plot, phase_map)
    room = Room(sheet, plot)
    x, y = route(path)
    plot.plot(x, y, color=BLACK, linewidth=2.4, zorder=4, label="pot")
    room.keep_off_line(x, y)
    t, liquor = path.cooling_track()
    moved = np.where(np.abs(liquor - end.mass_fraction) > 1e-9, liquor, np.nan)
    if tie is not None:
        plot.plot(100 * moved, t, color=BLACK, linewidth=3.0, linestyle=":", zorder=3)
        plot.plot(*tie, color=ORANGE, linewidth=3.0, zorder=3, label="tie line")
        room.keep_off_line(*tie)
    for solid in phase_map.solids:
        for piece in solid.pieces:
            room.keep_off_line(100 * piece.mass_fraction, piece.temperature_C, pad_px=2)
    _number_steps(plot, room, path.steps)
    if tie is not None:
        for at, text in zip(tie[0], ("liquor", "crystals"), strict=True):
            room.put([text], (at, end.temperature_C), reach_px=30, bbox=PLATE)
    name_fields(room, phase_map)
    return sheet.figure


def route(path: SaturationPath) -> tuple[list[float], list[float]]:
    """The pot's way as mass % and °C: heated as it is, boiled down, cooled."""
    start, end = path.steps[0], path.steps[-1]
    x = [start.mass_fraction, start.mass_fraction, end.mass_fraction, end.mass_fraction]
    return [100 * w for w in x], [start.temperature_C, path.boil_at_C, path.boil_at_C, end.temperature_C]


def _tie_line(path: SaturationPath) -> tuple[list[float], list[float]] | None:
    """Mass % and °C from the liquor to the solid at the end; None where there are not both."""
    end = path.steps[-1]
    if end.phase is None or not end.liquor_g or end.liquor_mass_fraction is None or not end.salt_g:
        return None
    solid = float(path.model.solid_mass_fractions[path.model.solid_index(end.phase)])
    solution_g = end.liquor_g - path.start.others.total_g  # the map knows salt and water alone
    if solution_g <= 0 or solution_g >= (end.salt_g + end.water_g) * (1 - 1e-12):
        return None
    liquor = end.liquor_mass_fraction * end.liquor_g / solution_g
    if abs(solid - liquor) < 1e-9:
        return None
    return [100 * liquor, 100 * solid], [end.temperature_C] * 2


def _told(step: Step) -> str:
    text = f"{step.name}: {degrees_text(step.temperature_C)}, {100 * step.mass_fraction:.3g} mass %"
    if step.crystals_g is None:
        return f"{text}; not in the data"
    if step.phase is None:
        return f"{text}; clear"
    name = " + ".join(formula_text(solid) for solid, _ in step.solids or ()) or formula_text(step.phase)
    if step.crystals_g > 0.0005 * (step.salt_g + step.water_g):
        text += f"; {size_text(step.crystals_g)} g of {name}"
        if step.liquor_g and step.liquor_mass_fraction is not None:
            text += f" under {size_text(step.liquor_g)} g of liquor with {100 * step.liquor_mass_fraction:.3g} mass %"
        return text
    return f"{text}; {name}"


def _number_steps(plot: Axes, room: Room, steps: tuple[Step, ...]) -> None:
    """A dot at each step; steps that fall on one another share a label."""
    px = plot.transData.transform([(100 * s.mass_fraction, s.temperature_C) for s in steps])
    groups: list[list[int]] = []
    for i in range(len(steps)):
        if groups and np.hypot(*(px[i] - px[groups[-1][-1]])) < 16:
            groups[-1].append(i)
        else:
            groups.append([i])
    for group in groups:
        for i in group:
            at = (100 * steps[i].mass_fraction, steps[i].temperature_C)
            plot.plot(*at, marker="o", markersize=7, color=BLACK, linestyle="none", zorder=5)
            room.keep_off_point(*at, pad_px=5)
    for group in groups:
        first = steps[group[0]]
        numbers = ", ".join(str(i + 1) for i in group)
        names = ", ".join(dict.fromkeys(steps[i].name for i in group))
        near = (100 * first.mass_fraction, first.temperature_C)
        room.put([f"{numbers} {names}", numbers], near, reach_px=90, bbox=PLATE, weight="bold")
