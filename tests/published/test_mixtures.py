"""Measured mixtures against the prediction; sources in ``mixtures_sources.csv``. No parameter is fitted to these rows."""

from __future__ import annotations

import importlib.util
import re
import sys
from functools import cache
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

SCRIPT = Path(__file__).parents[1] / "bench" / "mixtures.py"


@cache
def _script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("mixtures_script", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["mixtures_script"] = module
    spec.loader.exec_module(module)
    return module


@cache
def _rows(mixing: bool = True) -> list:
    return _script().compared(mixing=mixing)


def test_every_row_is_predicted() -> None:
    rows = _rows()
    assert len(rows) == 152
    assert sum(row.inside for row in rows) == 102
    assert all(np.isfinite(row.predicted) and row.predicted > 0 for row in rows)


def test_medians_are_within_the_aim() -> None:
    """Aim: the median over systems at most 8 %, their 90th percentiles' median at most 25 %."""
    for rows in (_rows(), [r for r in _rows() if r.inside]):
        medians = _script().over_systems(rows)
        assert medians["predicted"][0] <= 0.08
        assert medians["predicted"][1] <= 0.25
        assert medians["predicted"][0] < 0.5 * medians["plain"][0]
        assert medians["predicted"][0] < 0.5 * medians["bare"][0]


def test_prediction_beats_the_plain_curve_and_the_bare_product() -> None:
    found = _script().summary(_rows())
    assert found["predicted"][0] < 0.06
    assert found["plain"][0] > 0.40
    assert found["predicted"][0] < 0.5 * found["bare"][0]
    assert found["predicted"][1] < 0.5 * found["bare"][1]


def test_up_to_sixty_degrees_the_tail_is_within_the_aim() -> None:
    """Aim: 90th percentile at most 25 %. Inside the range it is met up to 60 °C, and missed with the rows of 90 °C."""
    found = _script().groups(_rows())
    near, inside = found["inside, 0-60 °C"], found["inside the range"]
    assert len(near) == 93
    assert _script().summary(near)["predicted"][1] <= 0.25
    assert {r.temperature_C for r in inside if r not in near} == {90.0}
    assert _script().summary([r for r in inside if r not in near])["predicted"][0] > 0.25


def _of_the_readme() -> dict[str, list[str]]:
    text = (SCRIPT.parents[2] / "README.md").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if re.match(r"\| .+ \| \d+ \| [\d.]+ / ", line)]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {name: rest for name, *rest in cells}


def test_the_readme_tells_these_figures() -> None:
    told, text = _of_the_readme(), (SCRIPT.parents[2] / "README.md").read_text(encoding="utf-8")
    middle = _script().over_systems(_rows())["predicted"][0]
    assert (
        f"Of its {len({r.system for r in _rows()})} systems the middle one has {100 * middle:.1f} %" in text
    )
    assert set(_script().groups(_rows())) <= set(told)
    for name, rest in told.items():
        rows = _script().groups(_rows()).get(name) or [r for r in _rows() if r.system == name]
        assert rest[0] == str(len(rows))
        for cell, (median, p90) in zip(rest[1:], _script().summary(rows).values(), strict=True):
            assert cell == " / ".join(f"{100 * x:.{1 if x < 0.1 else 0}f}" for x in (median, p90))


SYSTEMS_WITHIN = {
    # system: (median, 90th percentile) that its rows stay under, all rows
    "KCl-NaCl": (0.05, 0.06), "Na2SO4-NaCl": (0.06, 0.10), "NaCl-CaCl2": (0.03, 0.08), "NaCl-KCl": (0.01, 0.03),
    "NaCl-Na2SO4": (0.02, 0.05), "NH4Cl-HCl": (0.08, 0.30), "CuSO4-H2SO4": (0.20, 0.45), "KNO3-KH2PO4": (0.12, 0.21),
}  # fmt: skip


@pytest.mark.parametrize(("system", "limits"), SYSTEMS_WITHIN.items())
def test_systems(system: str, limits: tuple[float, float]) -> None:
    median, p90 = _script().summary([r for r in _rows() if r.system == system])["predicted"]
    assert median <= limits[0]
    assert p90 <= limits[1]


KNOWN_TO_MISS = {
    # 25 °C parameters at 90 °C; acid near saturation with the gas; no mixing terms known for nitrate with phosphate.
    "Na2SO4-NaOH", "KCl-HCl", "KH2PO4-KNO3", "Na2CO3-Na2SO4",
}  # fmt: skip


def test_the_systems_that_miss_are_the_ones_explained() -> None:
    systems = {r.system for r in _rows()}
    missed = {
        s for s in systems if _script().summary([r for r in _rows() if r.system == s])["predicted"][0] > 0.25
    }
    assert missed == KNOWN_TO_MISS


def test_mixing_terms_are_used_by_principle_and_both_are_reported() -> None:
    """They belong to other binary parameters; here they help, which is told and not what they were chosen by."""
    with_terms, without = (_script().summary(_rows(mixing))["predicted"] for mixing in (True, False))
    assert with_terms[0] < without[0]
    assert with_terms[1] < without[1]


@pytest.mark.parametrize(
    ("system", "temperature_C", "other"),
    [("NaCl-HCl", 0.0, 3.433), ("Na2SO4-NaCl", 33.0, 5.619), ("NaCl-CaCl2", 25.0, 3.546)],
)
def test_single_rows(system: str, temperature_C: float, other: float) -> None:
    (row,) = (
        r for r in _rows()
        if r.system == system and r.temperature_C == temperature_C and abs(r.other_molality - other) < 2e-3
    )  # fmt: skip
    assert abs(row.error("predicted")) < 0.08
    assert abs(row.error("plain")) > 0.5
