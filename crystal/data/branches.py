"""Rows of saturated liquids turned into branches, ordered along the branch, and the checks this needs."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from crystal.data.formulas import hydrate_mass_fraction, split_crystal_water
from crystal.data.records import Branch, Point
from crystal.data.tables import Row

_POINTS = ("saturated", "eutectic", "peritectic", "congruent")
_STABILITIES = ("stable", "metastable")
_CONGRUENT_TOLERANCE_MASS_FRACTION = 0.0015

_Placed = tuple[Point, Row]


def checked_phase(row: Row) -> tuple[str, float | None]:
    """The row's solid and its moles of water; DataError where it is no solid of the row's salt."""
    system, phase = row.required("system"), row.required("phase")
    salt, waters = split_crystal_water(phase)
    if waters is not None and salt != system:
        row.fault(
            "phase", f"{phase!r} is no solid of {system}; write ice, {system} or for example {system}.2H2O"
        )
    if row.text("waters"):
        stated = row.number("waters", 0, 50)
        if stated != waters:
            row.fault("waters", f"{stated:g} does not agree with the formula {phase}")
    return phase, waters


def branches_from_rows(rows: Sequence[Row], *, own: bool) -> tuple[Branch, ...]:
    """The branches of one salt, in the order of the rows.

    A branch that turns back at a congruent point, and the ice branch, run by mass fraction; others by
    temperature. Metastable points on the two sides of a congruent composition are two branches.
    """
    groups: dict[tuple[str, bool], list[_Placed]] = {}
    turning: dict[str, float] = {}
    waters_of: dict[str, float | None] = {}
    for row in rows:
        phase = row.text("phase")
        if phase not in waters_of or row.text("waters"):
            phase, waters_of[phase] = checked_phase(row)
        point = Point(
            row.number("temperature_C", -150, 400),
            row.number("mass_percent", 0, 100) / 100,
            row.word("point", _POINTS, "saturated"),
            row.text("source"),
            row.text("provenance", "own" if own else ""),
            row.text("note"),
        )
        metastable = row.word("stability", _STABILITIES, "stable") == "metastable"
        groups.setdefault((phase, metastable), []).append((point, row))
        if point.kind == "congruent":
            turning[phase] = point.mass_fraction
            if own:
                _check_congruent(row, point, waters_of[phase])
    found: list[Branch] = []
    for (phase, metastable), placed in groups.items():
        for side in _pieces(placed, turning.get(phase), ice=phase == "ice"):
            found.append(Branch(phase, tuple(point for point, _ in side), metastable))
    return tuple(found)


def _pieces(placed: list[_Placed], turn: float | None, *, ice: bool) -> list[list[_Placed]]:
    if ice:
        placed.sort(key=lambda item: item[0].mass_fraction)
        _check_course(placed, falling=True)
        return [placed]
    if turn is None:
        placed.sort(key=lambda item: item[0].temperature_C)
        _check_course(placed, falling=False)
        return [placed]
    placed.sort(key=lambda item: item[0].mass_fraction)
    lean = [item for item in placed if item[0].mass_fraction <= turn]
    rich = [item for item in placed if item[0].mass_fraction >= turn]
    _check_course(lean, falling=False)
    _check_course(rich, falling=True)
    if lean and rich and not any(point.mass_fraction == turn for point, _ in placed):
        return [lean, rich]
    return [placed]


def _check_course(side: list[_Placed], *, falling: bool) -> None:
    """Temperatures must run strictly one way along a side; DataError names the later of the two lines."""
    for (first, row_a), (second, row_b) in pairwise(side):
        early, late = sorted((row_a.line, row_b.line))
        row = row_b if row_b.line == late else row_a
        if first.temperature_C == second.temperature_C:
            row.fault(
                "temperature_C",
                f"{first.temperature_C:g} stands already in line {early} for this branch; keep one value, or "
                "mark the melting point as congruent where the curve turns back",
            )
        if (first.temperature_C > second.temperature_C) != falling:
            way = "fall" if falling else "rise"
            row.fault(
                "temperature_C",
                f"along this branch temperatures must {way} as mass_percent rises; compare with line {early}",
            )


def _check_congruent(row: Row, point: Point, waters: float | None) -> None:
    solid = hydrate_mass_fraction(row.text("system"), waters)
    if abs(point.mass_fraction - solid) > _CONGRUENT_TOLERANCE_MASS_FRACTION:
        row.fault(
            "mass_percent", f"a congruent point has the solid's own composition, here {100 * solid:.2f}"
        )
