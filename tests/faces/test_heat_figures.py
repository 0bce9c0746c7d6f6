"""The figures of boiling down and of cooling: what they hold, and that every text can be read."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.figure import Figure
from numpy.testing import assert_allclose
from test_figures import POTS, end_pot, faults, plan_of, pot_of, texts_of

from crystal.bench.boildown import Boildown, LogReading
from crystal.bench.cooldown import Cooldown
from crystal.bench.cooling_curve import NaturalCooling
from crystal.errors import InputError
from crystal.faces.figures.boil import boil_chart
from crystal.faces.figures.cool import cool_chart


def cooldown(formula: str, *, natural: bool = True) -> Cooldown:
    cold = POTS[formula][2]
    cooling = NaturalCooling(80.0, cold - 4.0, 0.6) if natural else None
    return Cooldown.of(end_pot(plan_of(formula)), cold, natural=cooling)


def lines_of(figure: Figure, plot: int) -> list[tuple[np.ndarray, np.ndarray]]:
    return [(np.asarray(line.get_xdata()), np.asarray(line.get_ydata())) for line in figure.axes[plot].lines]


@pytest.mark.parametrize("formula", POTS)
@pytest.mark.parametrize("natural", [True, False])
def test_cooling_can_be_read(formula: str, natural: bool) -> None:
    figure = cool_chart(cooldown(formula, natural=natural))
    assert figure.get_size_inches()[0] * figure.dpi == 800
    assert len(texts_of(figure)) > 12
    assert faults(figure) == []


def test_cooling_shows_the_curves_and_the_crop() -> None:
    found = cooldown("KNO3")
    figure = cool_chart(found)
    hours, _ = max(lines_of(figure, 0), key=lambda line: len(np.unique(line[1])))
    natural = found.natural
    controlled = found.controlled
    assert natural is not None
    assert controlled is not None
    curves = [y for _, y in lines_of(figure, 0) if len(y) > 2]
    assert_allclose(curves[0], controlled.temperature_C(hours))
    assert_allclose(curves[1], natural.temperature_C(hours))
    crystals = [y for _, y in lines_of(figure, 1) if len(y) > 2]
    assert_allclose(crystals[0][-1], found.crop_g)
    assert_allclose(crystals[1], found.crystals_at_g(natural.temperature_C(hours)))
    assert [plot.get_ylabel() for plot in figure.axes] == ["Temperature (°C)", "Crystals (g)"]
    assert figure.axes[1].get_xlabel() == "Time (h)"


@pytest.mark.parametrize("readings", [2, 3, 6])
@pytest.mark.parametrize("end_water_g", [20.0, 100.0, 170.0, 260.0])
def test_boiling_down_can_be_read(readings: int, end_water_g: float) -> None:
    pot = pot_of("MgSO4", 60.0, 300.0)
    log = [LogReading(0.5 * i, mass_g=360.0 - 20.0 * i - 20.0 * max(i - 1, 0)) for i in range(readings)]
    figure = boil_chart(Boildown.of(pot, end_water_g, log=log))
    assert len(texts_of(figure)) > 12
    assert faults(figure) == []


def test_boiling_down_shows_log_line_and_end() -> None:
    pot = pot_of("MgSO4", 60.0, 300.0)
    log = [LogReading(h, mass_g=m) for h, m in ((0.0, 360.0), (0.5, 340.0), (1.0, 300.0), (1.5, 260.0))]
    found = Boildown.of(pot, 100.0, log=log)
    figure = boil_chart(found)
    assert found.fit is not None
    assert found.end_h is not None
    (plot,) = figure.axes
    drawn = np.concatenate([np.column_stack(line.get_xydata().T) for line in plot.lines])
    for h, m in ((one.hours, one.mass_g - 60.0) for one in log if one.mass_g is not None):
        assert np.isclose(drawn, [h, m]).all(axis=1).any()
    long = [line for line in plot.lines if len(line.get_xdata()) > 10]
    for line in long:
        x, y = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
        shown = np.isfinite(y)
        assert_allclose(y[shown], found.fit.water_at_g(x[shown]))
    assert any("left out" in text.get_text() for text in texts_of(figure))
    assert f"{found.end_h:.2f} h" in "".join(text.get_text() for text in texts_of(figure))
    assert plot.get_xlabel().endswith("(h)")
    assert plot.get_ylabel() == "Water in the pot (g)"


def test_a_plan_without_a_log_has_no_chart() -> None:
    with pytest.raises(InputError, match="asked of a pot with its --log"):
        boil_chart(Boildown.of(pot_of("MgSO4", 60.0, 300.0), 100.0, power_W=500.0))
