"""The figures: what their axes hold, that every text can be read, and that the files come out the same each time."""

from __future__ import annotations

import struct
import subprocess
import sys
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path

import matplotlib
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from numpy.testing import assert_allclose

from crystal.bench.cooling import Cooled
from crystal.bench.path import SaturationPath
from crystal.bench.plan import Plan
from crystal.bench.pot import Pot
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.figures import curve_chart, formula_text, path_chart, save, window_chart, yield_chart
from crystal.faces.figures.layout import spread
from crystal.physics.model import Model

# Salt, grams of it, grams of water, cooled to °C; invented pots, chosen for what the salt does.
POTS = {
    "CuSO4": (60.0, 340.0, 5.0),  # crystallises before any reducing; another hydrate stands in the hot pot
    "MgSO4": (97.7, 402.3, 5.0),  # four hydrates, less soluble hot
    "FeCl3": (150.0, 250.0, 10.0),  # hydrates that melt, eutectics between them
    "Na2SO4": (80.0, 320.0, 5.0),  # retrograde above 32 °C, far past saturation
    "CaCl2": (150.0, 250.0, -5.0),  # below 0 °C
    "KNO3": (50.0, 150.0, 20.0),  # no hydrate
    "Zn(NO3)2": (150.0, 150.0, 5.0),  # gaps in the data
    "Li2SO4": (60.0, 240.0, 5.0),
    "MnSO4": (120.0, 300.0, 5.0),
    "KAl(SO4)2": (20.0, 380.0, 5.0),  # dilute; no data below 0 °C
}


def pot_of(formula: str, salt_g: float, water_g: float) -> Pot:
    return Pot(Model.of(Catalogue.bundled().find(formula)), salt_g, water_g)


@cache
def plan_of(formula: str) -> Plan:
    salt, water, cold = POTS[formula]
    return Plan.of(pot_of(formula, salt, water), cold)


def end_pot(plan: Plan) -> Pot:
    assert plan.advice.end is not None
    w = plan.advice.end.mass_fraction
    return plan.window.start.with_water(plan.window.start.salt_g * (1 - w) / w)


@cache
def path_of(formula: str) -> SaturationPath:
    plan = plan_of(formula)
    return SaturationPath.of(plan.window.start, end_pot(plan).water_g, plan.window.cool_to_C)


@cache
def drawn(kind: str, formula: str) -> Figure:
    """A figure to look at, made once; those that a test changes or writes are drawn anew."""
    return draw(kind, formula)


def draw(kind: str, formula: str) -> Figure:
    if kind == "window":
        return window_chart(plan_of(formula))
    if kind == "yield":
        return yield_chart(end_pot(plan_of(formula)), [-3.0, 5.0, 20.0, 40.0])
    return (
        path_chart(path_of(formula)) if kind == "path" else curve_chart(plan_of(formula).window.start.model)
    )


def texts_of(figure: Figure) -> list[Text]:
    """Every text that is drawn: titles, labels, notes, and the tick labels within the limits."""
    figure.canvas.draw()  # tick labels are worded when they are drawn
    found = list(figure.texts)
    for plot in figure.axes:
        found += [*plot.texts, plot.title]
        for axis in (plot.xaxis, plot.yaxis):
            low, high = sorted(axis.get_view_interval())
            if axis.get_visible():
                found += [axis.label, axis.get_offset_text()]
                found += [t.label1 for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
    return [text for text in found if text.get_visible() and text.get_text().strip()]


def faults(figure: Figure) -> list[str]:
    """Texts that overlap, leave the canvas or are too small; boxes as the renderer measures them."""
    canvas = figure.canvas
    assert isinstance(canvas, FigureCanvasAgg)
    renderer = canvas.get_renderer()
    width, height = canvas.get_width_height()
    boxes = [(text, text.get_window_extent(renderer)) for text in texts_of(figure)]
    found = [f"small: {text.get_text()!r}" for text, _ in boxes if text.get_fontsize() < 9]
    for text, box in boxes:
        if box.x0 < 0 or box.y0 < 0 or box.x1 > width or box.y1 > height:
            found.append(f"leaves the canvas: {text.get_text()!r}")
    for (a, box_a), (b, box_b) in combinations(boxes, 2):
        # One pixel of slack: line spacing gives boxes a little more than their ink.
        if (
            min(box_a.x1, box_b.x1) - max(box_a.x0, box_b.x0) > 1
            and min(box_a.y1, box_b.y1) - max(box_a.y0, box_b.y0) > 1
        ):
            found.append(f"overlap: {a.get_text()!r} and {b.get_text()!r}")
    return found


@pytest.mark.parametrize("formula", POTS)
@pytest.mark.parametrize("kind", ["window", "yield", "path", "curve"])
def test_every_text_can_be_read(kind: str, formula: str) -> None:
    figure = drawn(kind, formula)
    assert figure.get_size_inches()[0] * figure.dpi == 800
    assert len(texts_of(figure)) > 18
    assert faults(figure) == []


def test_the_check_of_texts_sees_faults() -> None:
    figure = draw("curve", "KNO3")
    figure.text(0.5, 0.5, "one")
    figure.text(0.51, 0.5, "two", fontsize=6)
    figure.text(0.99, 0.2, "out of it")
    assert [fault.split(":")[0] for fault in faults(figure)] == ["small", "leaves the canvas", "overlap"]


@pytest.mark.parametrize("kind", ["window", "yield", "path", "curve"])
def test_every_axis_has_a_unit(kind: str) -> None:
    for plot in drawn(kind, "MgSO4").axes:
        for axis in (plot.xaxis, plot.yaxis):
            if axis.get_visible() and axis.get_tick_params().get("labelbottom", True):
                assert any(
                    unit in axis.label.get_text() for unit in ("(g)", "(mL", "(%", "(°C)", "(mass %")
                ), axis.label


def line_of(figure: Figure, label: str) -> tuple[np.ndarray, np.ndarray]:
    (line,) = [line for plot in figure.axes for line in plot.get_lines() if line.get_label() == label]
    return np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)


@pytest.mark.parametrize("formula", POTS)
def test_window_line_passes_through_the_advice(formula: str) -> None:
    plan = plan_of(formula)
    figure = drawn("window", formula)
    volume, crystals = line_of(figure, "crystals")
    at, advised = line_of(figure, "advised")
    assert plan.advice.end is not None
    assert_allclose([at[0], advised[0]], [plan.advice.end.end_volume_mL, plan.advice.crystals_g])
    span = float(np.nanmax(crystals))
    known = np.isfinite(crystals)
    assert_allclose(np.interp(at, volume[known][::-1], crystals[known][::-1]), advised, atol=0.002 * span)


def test_window_shows_its_thresholds_and_both_scales() -> None:
    plan = plan_of("MgSO4")
    figure = window_chart(plan)
    volume, crystals = line_of(figure, "crystals")
    window = plan.window
    assert window.saturates is not None
    assert_allclose(crystals[volume >= window.saturates.end_volume_mL * (1 + 1e-9)], 0.0)
    assert (crystals[volume < window.saturates.end_volume_mL * (1 - 1e-9)] > 0).all()
    words = " ".join(text.get_text() for text in figure.texts).replace("\n", " ")
    for end in (window.saturates, window.pours_off_down_to, window.sets_solid_below):
        assert end is not None
        assert f"{end.end_volume_mL:.0f} mL" in words
    plot, percent = figure.axes
    assert_allclose(percent.get_xlim(), 100 * np.array(plot.get_xlim()) / window.start.volume_mL())
    assert {"clear", "crop", "thick", "set"} <= {text.get_text() for text in plot.texts}
    assert plot.get_xlim()[1] > plot.get_xlim()[0]


def test_window_line_breaks_where_the_data_do_not_tell() -> None:
    plan = Plan.of(pot_of("Zn(NO3)2", 150.0, 150.0), 40.0)
    assert any(band.outcome is None for band in plan.window.bands)
    figure = window_chart(plan)
    _, crystals = line_of(figure, "crystals")
    assert np.isnan(crystals).any()
    assert "unknown: not in the data" in [text.get_text() for text in figure.texts]
    assert faults(figure) == []


@pytest.mark.parametrize(
    ("formula", "salt_g", "water_g", "cold_C"),
    [
        ("MgSO4", 150.0, 120.0, 5.0),  # sets as it stands: no advice
        ("CuSO4", 1.0, 2000.0, 5.0),  # very dilute
        ("KNO3", 4.0, 196.0, -2.0),  # ice first
        ("CaCl2", 300.0, 120.0, 20.0),
        ("NaCl", 60.0, 300.0, -10.0),
        ("(NH4)2Fe(SO4)2", 0.04, 0.3, 10.0),  # a drop
        ("Na2B4O7", 40000.0, 900000.0, 10.0),  # a tank
    ],
)
def test_window_of_odd_pots(formula: str, salt_g: float, water_g: float, cold_C: float) -> None:
    plan = Plan.of(pot_of(formula, salt_g, water_g), cold_C)
    figure = window_chart(plan)
    assert faults(figure) == []
    if plan.advice.end is None:
        assert plan.reason.split()[0] in " ".join(text.get_text() for text in figure.texts)


@pytest.mark.parametrize("formula", POTS)
def test_yield_marks_what_the_pot_gives(formula: str) -> None:
    pot = end_pot(plan_of(formula))
    asked = [5.0, 20.0, 40.0]
    upper, lower = yield_chart(pot, asked).axes
    there = Cooled.of(pot.model, pot.salt_g, pot.water_g, asked)
    for plot, expected in ((upper, there.crystals_g), (lower, 100 * there.yield_fraction)):
        line = plot.get_lines()[0]
        t, values = np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
        assert_allclose([t.min(), t.max()], [pot.model.map.low_C, pot.model.map.high_C])
        assert_allclose(np.interp(asked, t, values), expected, rtol=1e-9, atol=1e-9)
        marks = [mark for mark in plot.get_lines() if mark.get_marker() == "o"]
        assert_allclose([float(np.ravel(mark.get_xdata())[0]) for mark in marks], asked)
        assert_allclose([float(np.ravel(mark.get_ydata())[0]) for mark in marks], expected)


def test_yield_says_what_is_not_in_the_data_and_what_freezes() -> None:
    figure = yield_chart(pot_of("KNO3", 10.0, 190.0), [-20.0, -2.0, 60.0, 120.0])
    words = [text.get_text() for text in figure.texts]
    assert "−20 °C\nnot in the data" in words
    assert "−2 °C\nice only" in words
    assert "60 °C\nclear" in words
    assert faults(figure) == []


def test_yield_takes_many_temperatures_and_none() -> None:
    pot = end_pot(plan_of("MgSO4"))
    assert faults(yield_chart(pot, np.linspace(0, 60, 13).tolist())) == []
    assert faults(yield_chart(pot)) == []


@pytest.mark.parametrize("formula", POTS)
def test_path_follows_its_steps_and_the_tie_line_its_lever(formula: str) -> None:
    path = path_of(formula)
    figure = drawn("path", formula)
    w, t = line_of(figure, "pot")
    start, end = path.steps[0], path.steps[-1]
    assert_allclose(
        [w[0], t[0], w[-1], t[-1]],
        [100 * start.mass_fraction, start.temperature_C, 100 * end.mass_fraction, end.temperature_C],
    )
    assert path.boil_at_C in t
    assert all(a == b or c == d for (a, b), (c, d) in zip(pairwise(w), pairwise(t), strict=True))
    tie_w, tie_t = line_of(figure, "tie line")
    assert_allclose(tie_t, end.temperature_C)
    assert end.crystals_g is not None
    lever = (w[-1] - tie_w[0]) / (tie_w[1] - tie_w[0])
    assert_allclose(lever * (end.salt_g + end.water_g), end.crystals_g, rtol=1e-9)
    words = " ".join(text.get_text() for text in figure.axes[0].texts)
    assert "clear solution" in words
    assert f"{len(path.steps)}" in words


def test_path_without_crystals_has_no_tie_line() -> None:
    figure = path_chart(SaturationPath.of(pot_of("KNO3", 20.0, 180.0), 150.0, 40.0))
    assert [line for line in figure.axes[0].get_lines() if line.get_label() == "tie line"] == []
    assert faults(figure) == []


@pytest.mark.parametrize("formula", POTS)
def test_curve_passes_through_its_points(formula: str) -> None:
    salt = Catalogue.bundled().find(formula)
    lines = drawn("curve", formula).axes[0].get_lines()
    tracks = [np.column_stack([np.ravel(line.get_xdata()), np.ravel(line.get_ydata())]) for line in lines]
    curves = [line for line in tracks if len(line) > 1]
    marks = np.concatenate([line for line in tracks if len(line) == 1])
    for branch in salt.branches:
        for point in branch.points:
            at = np.array([point.temperature_C, 100 * point.mass_fraction])
            assert np.abs(marks - at).max(axis=1).min() < 1e-9
            if len(branch.points) > 1:
                # A melting point is drawn at the solid's own composition, at most 0.15 mass % from the listed one.
                assert min(np.abs(line - at).max(axis=1).min() for line in curves) < (
                    0.16 if point.kind == "congruent" else 1e-6
                )
    dashed = [line for line in lines if line.get_linestyle() == "--"]
    assert bool(dashed) == any(b.metastable and len(b.points) > 1 for b in salt.branches)


def test_curve_puts_a_name_beside_its_own_line() -> None:
    plot = drawn("curve", "Na2SO4").axes[0]
    names = {text.get_text().replace("\n", " "): text for text in plot.texts}
    lines = [line for line in plot.get_lines() if len(np.ravel(line.get_xdata())) > 1]
    tracks = {line.get_label(): plot.transData.transform(np.column_stack(line.get_data())) for line in lines}
    for solid in ("Na₂SO₄·10H₂O", "Na₂SO₄·7H₂O (metastable)", "Na₂SO₄", "ice"):
        at = plot.transAxes.transform(names[solid].get_position())
        nearest = min(tracks, key=lambda label: np.hypot(*(tracks[label] - at).T).min())
        assert nearest == solid


def test_curve_names_its_sources_and_solids() -> None:
    salt = Catalogue.bundled().find("MgSO4")
    figure = curve_chart(Model.of(salt))
    notes = " ".join(text.get_text() for text in figure.texts)
    assert all(point.source in notes for branch in salt.branches for point in branch.points)
    named = {text.get_text() for text in figure.axes[0].texts}
    assert {"ice", "MgSO₄·11H₂O", "MgSO₄·7H₂O", "MgSO₄·6H₂O", "MgSO₄·H₂O"} <= named


@pytest.mark.parametrize(
    ("formula", "text"),
    [
        ("CuSO4.5H2O", "CuSO₄·5H₂O"),
        ("MnSO4.H2O", "MnSO₄·H₂O"),
        ("FeCl3.3.5H2O", "FeCl₃·3.5H₂O"),
        ("Na2B4O7.10H2O", "Na₂B₄O₇·10H₂O"),
        ("NiSO4.6H2O-beta", "NiSO₄·6H₂O (β)"),
        ("K4Fe(CN)6", "K₄Fe(CN)₆"),
        ("C12H22O11", "C₁₂H₂₂O₁₁"),
        ("ice", "ice"),
    ],
)
def test_formula_text(formula: str, text: str) -> None:
    assert formula_text(formula) == text


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_files_come_out_the_same_each_time(ending: str, tmp_path: Path) -> None:
    first = save(draw("window", "CuSO4"), tmp_path / f"a.{ending}").read_bytes()
    with matplotlib.rc_context({"font.size": 30, "savefig.bbox": "tight", "axes.facecolor": "red"}):
        again = save(draw("window", "CuSO4"), tmp_path / f"b.{ending}").read_bytes()
    assert first == again
    assert first.startswith({"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}[ending])
    assert b"CreationDate" not in first
    assert b"dc:date" not in first
    if ending == "png":
        assert struct.unpack(">I", first[16:20]) == (800,)


def test_another_ending_is_refused(tmp_path: Path) -> None:
    figure = draw("curve", "KNO3")
    with pytest.raises(InputError, match=r"ending in \.png, \.svg or \.pdf"):
        save(figure, tmp_path / "curve.jpg")
    assert list(tmp_path.iterdir()) == []


def test_settings_of_the_person_stay() -> None:
    before = dict(matplotlib.rcParams)
    draw("path", "KNO3")
    assert dict(matplotlib.rcParams) == before


def test_drawing_library_is_loaded_late_and_without_its_global_state() -> None:
    code = (
        "import sys; import crystal.faces.figures as f; f.formula_text('CuSO4'); assert 'matplotlib' not in sys.modules; "
        "f.curve_chart; assert 'matplotlib' in sys.modules; assert 'matplotlib.pyplot' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@given(st.lists(st.tuples(st.floats(0, 700), st.floats(5, 100)), min_size=1, max_size=7))
def test_spread_keeps_callouts_apart(boxes: list[tuple[float, float]]) -> None:
    wanted, widths = zip(*sorted(boxes), strict=True)
    places = spread(wanted, widths, 0.0, 700.0)
    for (a, width_a), (b, width_b) in pairwise(zip(places, widths, strict=True)):
        assert b - a >= (width_a + width_b) / 2 - 1e-6
    assert places[0] - widths[0] / 2 >= -1e-6
    assert places[-1] + widths[-1] / 2 <= 700 + 1e-6
