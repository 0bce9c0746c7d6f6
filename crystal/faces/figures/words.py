"""Formulas and numbers as they are set in a figure; loads no drawing library."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from crystal.bench.pot import Pot
    from crystal.physics.model import Model

_WATER = re.compile(r"^(?P<salt>.+?)[.·•*](?P<waters>\d*\.?\d+)?H2O(?:-(?P<form>[a-z]+))?$")
_COUNT = re.compile(r"(?<=[A-Za-z)\]])\d+")
_SUBSCRIPTS = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_FORMS = {"alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ"}


def formula_text(formula: str) -> str:
    """A solid's formula with subscripts and a raised dot before its crystal water.

    Parameters
    ----------
    formula : str
        As in the tables; other words, such as ``ice``, are returned as they are.

    Examples
    --------
    >>> formula_text("CuSO4.5H2O"), formula_text("FeCl3.3.5H2O"), formula_text("KAl(SO4)2")
    ('CuSO₄·5H₂O', 'FeCl₃·3.5H₂O', 'KAl(SO₄)₂')
    >>> formula_text("NiSO4.6H2O-alpha")
    'NiSO₄·6H₂O (α)'
    """
    found = _WATER.match(formula)
    if found is None:
        return _subscripted(formula)
    form = found["form"]
    tail = f" ({_FORMS.get(form, form)})" if form else ""
    return f"{_subscripted(found['salt'])}·{found['waters'] or ''}H₂O{tail}"


def _subscripted(formula: str) -> str:
    return _COUNT.sub(lambda count: count[0].translate(_SUBSCRIPTS), formula)


def size_text(value: float) -> str:
    """A mass or a volume to three figures, without an exponent.

    Examples
    --------
    >>> size_text(1234.4), size_text(56.78), size_text(0.1234)
    ('1234', '56.8', '0.123')
    """
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"


def salt_text(model: Model) -> str:
    """The salt as a title names it; a calibrated curve is said, for it is not the pure salt's."""
    name = formula_text(model.salt.formula)
    return name if model.calibration is None else f"{name} (calibrated curve '{model.calibration.name}')"


def pot_text(pot: Pot) -> str:
    """The pot's masses as a subtitle has them: 'Pot: 97.7 g of MgSO₄ in 402 g of water'."""
    held = [(pot.model.salt.formula, pot.salt_g), *pot.others.amounts_g.items()]
    parts = [f"{size_text(grams)} g of {formula_text(formula)}" for formula, grams in held]
    listed = " and ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else parts[0]
    return f"Pot: {listed} in {size_text(pot.water_g)} g of water"


def degrees_text(temperature_C: float) -> str:
    """A temperature to a tenth of a degree, with a true minus.

    Examples
    --------
    >>> degrees_text(20.0), degrees_text(-2.849)
    ('20 °C', '−2.8 °C')
    """
    text = f"{round(temperature_C, 1) + 0.0:.1f}".removesuffix(".0")
    return text.replace("-", "−") + " °C"
