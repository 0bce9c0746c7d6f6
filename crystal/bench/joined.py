"""Where another salt joins the crystals, and how far the liquor's others may be trusted at an end point."""

from __future__ import annotations

import numpy as np

from crystal.bench.ends import Ends
from crystal.bench.shift import Shift
from crystal.bench.window import EndPoint, Window

_SCAN, _NARROWINGS, _PARTS = 129, 3, 65
_LEAST_SHARE = 1e-6
"""Another salt counts from this share of the crystals on."""


def other_salt_joins(window: Window) -> EndPoint | None:
    """The first end point, from the start on, at which another salt crystallises too; None where none does.

    Examples
    --------
    >>> from crystal.bench.pot import Pot
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> from crystal.physics.others import Others
    >>> model = Model.of(Catalogue.bundled().find("Na2SO4"))
    >>> pot = Pot(model, 80.0, 300.0, others=Others.of({"NaCl": 60.0}))
    >>> round(other_salt_joins(Window.of(pot, 25.0)).end_volume_mL, -1)
    230.0
    """
    start = window.start
    if not start.others:
        return None
    low, high = start.mass_fraction, 1.0 - 1e-9
    count = _SCAN
    for _ in range(_NARROWINGS + 1):
        w = np.linspace(low, high, count)
        cooled = window.cooled(start.salt_g * (1.0 - w) / w)
        joined = np.flatnonzero(cooled.others_crystals_g > _LEAST_SHARE * cooled.crystals_g)
        if not len(joined):
            return None
        first = int(joined[0])
        if first == 0:
            return EndPoint.of(start, float(w[0]), window.read_at_C)
        low, high, count = float(w[first - 1]), float(w[first]), _PARTS
    return EndPoint.of(start, high, window.read_at_C)


def joined_notes(window: Window, advised: Ends | None, water_g: float | None = None) -> list[str]:
    """Sentences on crops that are mixtures, and on an advised liquor that alone lies beyond the parameters.

    ``water_g`` is the water where crystals begin, the start's unless given: a liquor beyond them there is told elsewhere.
    """
    start, t = window.start, window.cool_to_C
    said = []
    joins = other_salt_joins(window)
    if joins is not None:
        other = " and ".join(start.others.formulas)
        mixed = 0.0 if advised is None else float(advised.cooled.others_crystals_g[0])
        if joins.fraction_of_start >= 1.0:
            said.append(f"At {t:g} °C {other} crystallises from the start: every crop of this pot holds it.")
        else:
            at = f"{joins.end_volume_mL:.3g} mL ({100 * joins.fraction_of_start:.3g} % of the start)"
            too = (
                "crystallises too"
                if _salt_stands(window, joins)
                else "crystallises, before the salt itself does,"
            )
            text = f"Below {at} {other} {too} at {t:g} °C: a crop from there is a mixture."
            if advised is not None and mixed > 0:
                text += (
                    f" Of the {float(advised.cooled.crystals_g[0]):.3g} g at the advised end point {mixed:.3g} g are {other}: for "
                    "crystals of one salt stop before that mark."
                )
            said.append(text)
    shift = None if advised is None else Shift.of_cooled(advised.cooled, 0)
    before = Shift.of(start, t, water_g)
    if shift is not None and shift.used > 1.0 and not (before is not None and before.used > 1.0):
        said.append(
            f"The liquor at the advised end point lies beyond the range that the ion parameters were fitted over ({shift.used:.3g} "
            "times its end): what it holds there is a rough guess."
        )
    return said


def _salt_stands(window: Window, at: EndPoint) -> bool:
    w = at.mass_fraction
    return bool(window.cooled(window.start.salt_g * (1.0 - w) / w).main_solid[()] >= 0)
