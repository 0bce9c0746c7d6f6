"""The models under test, made once, and states of them that are worth trying."""

from __future__ import annotations

from functools import cache

import numpy as np
from hypothesis import strategies as st

from crystal.bench.pot import Pot
from crystal.data.catalogue import Catalogue
from crystal.physics.formula import composition_mass_fraction
from crystal.physics.model import Model

SALTS = Catalogue.bundled().salts


@cache
def model(name: str) -> Model:
    return Model.of(Catalogue.bundled().find(name))


def pot(name: str, salt_g: float, water_g: float) -> Pot:
    return Pot(model(name), salt_g, water_g)


def breakpoints_C(formula: str) -> list[float]:
    """Every temperature at which the list of solids or liquids changes."""
    its = model(formula).map
    return sorted({t for s in its.stretches for t in (s.low_C, s.high_C)})


def special_w(formula: str, temperature_C: float) -> list[float]:
    """0, 1, the solids' own compositions, the data's points, the edges at this temperature, and neighbours of all."""
    salt, its = SALTS[formula], model(formula).map
    exact = {0.0, 1.0, *(composition_mass_fraction(formula, p.waters) for p in salt.phases)}
    exact |= {p.mass_fraction for b in salt.branches if not b.metastable for p in b.points}
    if its.low_C <= temperature_C <= its.high_C:
        exact |= {w for r in its.regions(temperature_C) for w in (r.left_w, r.right_w)}
    around = {float(np.nextafter(w, towards)) for w in exact for towards in (0.0, 1.0)}
    return sorted(min(max(w, 0.0), 1.0) for w in exact | around)


def special_C(formula: str) -> list[float]:
    """Breakpoints, the data's own temperatures, 0 °C, and the next numbers on either side."""
    salt = SALTS[formula]
    exact = {0.0, *breakpoints_C(formula)}
    exact |= {p.temperature_C for b in salt.branches if not b.metastable for p in b.points}
    around = {float(np.nextafter(t, towards)) for t in exact for towards in (-np.inf, np.inf)}
    its = model(formula).map
    return sorted(t for t in exact | around if its.low_C <= t <= its.high_C)


@st.composite
def states(draw: st.DrawFn) -> tuple[str, float, float]:
    """Any salt, any covered temperature, any composition; the special ones far more often than chance would."""
    formula = draw(st.sampled_from(sorted(SALTS)))
    its = model(formula).map
    t = draw(st.one_of(st.sampled_from(special_C(formula)), st.floats(its.low_C, its.high_C)))
    w = draw(st.one_of(st.sampled_from(special_w(formula, t)), st.floats(0.0, 1.0)))
    return formula, w, t
