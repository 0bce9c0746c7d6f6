"""Branches as curves: through their points, without overshoot, level at the melt, and finely enough tabulated."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from oracle import SlowMap
from salts import SALTS, model

from crystal.data.records import Branch, Point
from crystal.physics.curve import leave_one_out_errors, pieces_of

TABULATION = 1e-5  # mass fraction: chord against the interpolating cubic

PIECES = [
    pytest.param(formula, solid, piece, id=f"{solid.formula}-{piece.side}-{formula}")
    for formula in SALTS
    for solid in model(formula).map.solids
    for piece in solid.pieces
]


def turning_branch() -> Branch:
    points = [(0.0, 0.40), (20.0, 0.50), (30.0, 0.601, "congruent"), (20.0, 0.68), (10.0, 0.70, "eutectic")]
    return Branch("X.6H2O", tuple(Point(*p) for p in points))


@pytest.mark.parametrize(("formula", "solid", "piece"), PIECES)
def test_tabulated_curve_against_the_cubic_it_came_from(formula, solid, piece):
    slow = next(s for s in SlowMap(formula).solids if s.name == solid.formula)
    t = np.concatenate(
        [
            np.linspace(piece.low_C, piece.high_C, 1501),
            (piece.temperature_C[:-1] + piece.temperature_C[1:]) / 2,
        ]
    )
    t = t[(t >= piece.low_C) & (t <= piece.high_C)]
    exact = [slow.curves[piece.side].at(float(x)) for x in t]
    assert_allclose(piece.mass_fraction_at(t), exact, rtol=0, atol=TABULATION)


@pytest.mark.parametrize(("formula", "solid", "piece"), PIECES)
def test_curve_passes_through_every_point_of_its_branch(formula, solid, piece):
    branch = SALTS[formula].branch(solid.formula)
    on_this_side = [
        p for p in branch.points
        if p.kind == "congruent" or (p.mass_fraction > solid.mass_fraction) == (piece.side == "rich")
        or solid.is_ice
    ]  # fmt: skip
    assert on_this_side
    for point in on_this_side:
        w = solid.mass_fraction if point.kind == "congruent" else point.mass_fraction
        assert_allclose(piece.mass_fraction_at(point.temperature_C), w, rtol=0, atol=1e-9, err_msg=str(point))


@pytest.mark.parametrize(("formula", "solid", "piece"), PIECES)
def test_curve_is_tabulated_in_order_and_never_leaves_its_points_range(formula, solid, piece):
    assert (np.diff(piece.temperature_C) > 0).all()
    w = [p.mass_fraction for p in SALTS[formula].branch(solid.formula).points] + [solid.mass_fraction] * (
        solid.melts_congruently
    )
    assert piece.mass_fraction.min() >= min(w) - 1e-12
    assert piece.mass_fraction.max() <= max(w) + 1e-12
    if piece.side == "lean":
        assert (piece.mass_fraction <= solid.mass_fraction).all()
    else:
        assert (piece.mass_fraction >= solid.mass_fraction).all()


def test_branch_that_turns_back_is_two_pieces_that_meet_in_the_solid_itself():
    lean, rich = pieces_of(turning_branch(), 0.6)
    assert (lean.side, rich.side) == ("lean", "rich")
    assert lean.high_C == rich.high_C == 30.0
    assert lean.mass_fraction[-1] == rich.mass_fraction[-1] == 0.6  # snapped from 0.601
    assert (lean.starts_invariant, rich.starts_invariant) == (False, True)
    assert lean.ends_invariant
    assert rich.ends_invariant


def test_top_of_a_turning_branch_is_level():
    lean, rich = pieces_of(turning_branch(), 0.6)
    for piece in (lean, rich):
        # T falls with the square of the distance: a tenth of the way down in T is a third of the way out in w.
        near, far = (abs(float(piece.mass_fraction_at(30.0 - d)) - 0.6) for d in (0.001, 0.1))
        assert 8 < far / near < 12


def test_retrograde_branch_is_one_piece_that_falls():
    falling = Branch("X.H2O", tuple(Point(t, 0.40 - t / 1000) for t in (20.0, 50.0, 100.0)))
    (piece,) = pieces_of(falling, 0.9)
    assert (np.diff(piece.mass_fraction) < 0).all()
    assert [sign for sign, _, _ in piece.monotone_parts()] == [-1]


def test_branch_of_one_point_gives_no_curve():
    assert pieces_of(Branch("X", (Point(20.0, 0.3),)), 1.0) == ()


def test_leaving_one_point_out_of_a_bent_curve_tells_how_far_the_rest_miss_it():
    points = [Point(float(t), 0.2 + t * t / 50000) for t in range(0, 101, 20)]
    points[2] = Point(40.0, points[2].mass_fraction + 0.01)
    errors = leave_one_out_errors(Branch("X", tuple(points)), 1.0)
    assert errors.shape == (4,)
    assert_allclose(errors[1], -0.01, atol=1e-3)
    assert leave_one_out_errors(Branch("X", tuple(points[:3])), 1.0).size == 0


def test_melting_point_is_never_left_out():
    assert len(leave_one_out_errors(turning_branch(), 0.6)) == 2
