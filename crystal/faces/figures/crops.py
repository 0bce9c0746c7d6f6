"""Crop after crop: what each one gives, the salt won so far, and how pure each one is."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from crystal.bench.crop_ends import RESCUE
from crystal.bench.crops import Crops
from crystal.faces.figures.layout import PLATE, Key, Room, Sheet, set_labels
from crystal.faces.figures.style import BLACK, BLUE, GREEN, ORANGE, SMALL_PT, house_look, tint
from crystal.faces.figures.words import degrees_text, formula_text, salt_text, size_text
from crystal.faces.titles import axis

_WIDTH = 0.6


def crops_chart(found: Crops) -> Figure:
    """Dry mass of each crop, the salt won so far, and purity, crop by crop.

    Parameters
    ----------
    found : Crops
        With at least one crop.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi; crops (g) above, the salt won so far (%) in the middle, below it where other solutes were
        told of what of them is in each dry crop (%).

    Examples
    --------
    >>> from crystal.bench.pot import Pot
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> pot = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 97.7, 402.3)
    >>> [plot.get_ylabel() for plot in crops_chart(Crops.of(pot, 5.0)).axes]
    ['Dry crystals (g)', 'Yield so far (%)']
    """
    with house_look():
        return _chart(found)


def _chart(found: Crops) -> Figure:
    salt = formula_text(found.start.model.salt.formula)
    numbers = np.arange(1.0, len(found.crops) + 1.0)
    dry = np.array([crop.harvest.cake.dried.mass_g for crop in found.crops])
    crystals = np.array([crop.harvest.cake.crystals_g for crop in found.crops])
    won = 100 * np.array([crop.cumulative_yield for crop in found.crops])
    impure = 100 * np.array([1.0 - crop.harvest.cake.purity for crop in found.crops])
    keys = [
        Key("crystals", patch={"facecolor": tint(BLUE, 0.75), "edgecolor": BLUE, "linewidth": 0.6}),
        Key(
            "dried onto them from the clinging liquor",
            patch={"facecolor": tint(ORANGE, 0.5), "edgecolor": ORANGE, "hatch": "///", "linewidth": 0.6},
        ),
        Key("salt in all crops so far", line={"color": GREEN, "linewidth": 2.2}),
    ]
    dirty = bool(found.start.others)
    if dirty:
        keys.append(Key("other solutes in the crop", line={"color": BLACK, "linewidth": 1.6}))
    sheet = Sheet(
        f"{salt_text(found.start.model)}: crop after crop at {degrees_text(found.cool_to_C)}",
        f"From {size_text(found.start.salt_g)} g of {salt} in {size_text(found.start.water_g)} g of water. "
        "Under each crop: the volume at which it is left to cool.",
        keys=keys,
        notes=[f"Stopped: {found.stopped_because}"],
    )
    heights = [210, 130, 110] if dirty else [230, 150]
    plots = sheet.lay_out(heights, axis_px=70, between_px=18)
    upper, middle = plots[0], plots[1]
    upper.set_xlim(0.4, len(numbers) + 0.6)
    top = 1.25 * float(dry.max())
    upper.set_ylim(0.0, top)
    upper.bar(numbers, crystals, _WIDTH, facecolor=tint(BLUE, 0.75), edgecolor=BLUE, linewidth=0.6, zorder=3)
    upper.bar(
        numbers, np.maximum(dry - crystals, 0.0), _WIDTH, bottom=crystals, facecolor=tint(ORANGE, 0.5),
        edgecolor=ORANGE, hatch="///", linewidth=0.6, zorder=3,
    )  # fmt: skip
    middle.set_ylim(0.0, 108.0)
    middle.plot(numbers, won, color=GREEN, linewidth=2.2, marker="o", zorder=4, clip_on=False)
    set_labels(upper, None, axis("crystals_dry_g"))
    set_labels(middle, None, axis("cumulative_yield_percent"))
    if dirty:
        lower = plots[2]
        set_labels(lower, None, axis("impurity_percent"))
        lower.plot(numbers, impure, color=BLACK, linewidth=1.6, marker="s", zorder=4)
        lower.set_ylim(0.0, 1.35 * float(impure.max()) or 1.0)
    for plot in plots:
        plot.grid(axis="y", color="#e4e4e4", linewidth=0.6, zorder=0)
        plot.yaxis.set_major_locator(MaxNLocator(4))
    last = plots[-1]
    last.tick_params(labelbottom=True)
    last.set_xticks(numbers, [_told(found, i) for i in range(len(numbers))], fontsize=SMALL_PT)
    for plot in plots[:-1]:
        plot.tick_params(labelbottom=False)
    rooms = [Room(sheet, upper), Room(sheet, middle)]
    for x, value in zip(numbers, dry, strict=True):
        upper.text(
            x, value + 0.02 * top, f"{size_text(value)} g", ha="center", va="bottom", fontsize=SMALL_PT
        )
    rooms[1].keep_off_line(numbers, won)
    for x, value in zip(numbers, won, strict=True):
        rooms[1].put([f"{value:.1f} %"], (x, value), reach_px=60, bbox=PLATE)
    if dirty:
        room = Room(sheet, plots[2])
        room.keep_off_line(numbers, impure)
        for x, value in zip(numbers, impure, strict=True):
            room.put([f"{value:.2g} %"], (x, value), reach_px=60, bbox=PLATE)
    return sheet.figure


def _told(found: Crops, index: int) -> str:
    """One crop's name with its end."""
    crop = found.crops[index]
    text = f"crop {index + 1}\n{size_text(crop.end_point.end_volume_mL)} mL"
    return f"{text}\n(thinned)" if crop.kind == RESCUE else text
