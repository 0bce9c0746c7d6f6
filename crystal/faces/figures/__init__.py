"""Figures: the window, the yield against temperature, the path over the phase map, the solubility curve.

The drawing library is loaded when a figure is first asked for, not before.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from crystal.faces.figures.words import formula_text

if TYPE_CHECKING:
    from crystal.faces.figures.curve import curve_chart
    from crystal.faces.figures.path import path_chart
    from crystal.faces.figures.style import save
    from crystal.faces.figures.window import window_chart
    from crystal.faces.figures.yields import yield_chart

__all__ = ["curve_chart", "formula_text", "path_chart", "save", "window_chart", "yield_chart"]

_HOMES = {
    "curve_chart": "curve",
    "path_chart": "path",
    "save": "style",
    "window_chart": "window",
    "yield_chart": "yields",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
