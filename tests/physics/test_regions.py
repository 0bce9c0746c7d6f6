"""Which solids exist where, the breakpoints between, and data that cannot be true."""

from __future__ import annotations

from itertools import pairwise

import pytest
from salts import SALTS, breakpoints_C, model

from crystal.data.records import Branch, Phase, Point, Salt
from crystal.errors import CoverageError, DataError
from crystal.physics.formula import Hydrate, composition_mass_fraction
from crystal.physics.phasemap import PhaseMap


def invented(*branches: Branch) -> Salt:
    """MgSO4 by formula, for its molar mass; the points are made up."""
    waters = {b.phase: None if b.phase == "ice" else Hydrate.parse(b.phase).waters for b in branches}
    phases = tuple(Phase(f, w) for f, w in waters.items())
    return Salt("MgSO4", "an invented salt", phases=phases, branches=branches, origin="own.csv")


def branch(phase: str, *points: tuple) -> Branch:
    return Branch(phase, tuple(Point(*p) for p in points))


HEPTA_ENDS = branch("MgSO4.7H2O", (0.0, 0.20), (40.0, 0.30), (50.0, 0.33, "peritectic"))
MONO_BEGINS = branch("MgSO4.H2O", (50.0, 0.33, "peritectic"), (90.0, 0.29))


def formulas_at(salt: Salt, w: float, t: float) -> set[str]:
    its = PhaseMap.of(salt)
    found = its.at(w, t)
    shares = ((found.lean_solid, found.lean_solid_fraction), (found.rich_solid, found.rich_solid_fraction))
    return {its.solids[int(i)].formula for i, share in shares if share > 0}


def test_hydrate_ends_where_it_decomposes_and_the_drier_one_takes_over():
    salt = invented(HEPTA_ENDS, MONO_BEGINS)
    assert formulas_at(salt, 0.45, 49.9) == {"MgSO4.7H2O"}
    assert formulas_at(salt, 0.45, 50.1) == {"MgSO4.H2O"}
    # Below their common point the two stand together, dry: the drier one still exists without a liquor over it.
    assert formulas_at(salt, 0.60, 20.0) == {"MgSO4.7H2O", "MgSO4.H2O"}


def test_same_pair_without_a_listed_common_point_is_unknown_not_dry():
    salt = invented(
        branch("MgSO4.7H2O", (0.0, 0.20), (40.0, 0.30)), branch("MgSO4.H2O", (50.0, 0.33), (90.0, 0.29))
    )
    with pytest.raises(CoverageError, match=r"unknown there: 48\.84-86\.98 mass %"):
        PhaseMap.of(salt).at(0.60, 20.0)
    with pytest.raises(CoverageError, match="at 45 degC the data for MgSO4 do not tell"):
        PhaseMap.of(salt).at(0.60, 45.0)


def test_pair_is_unknown_where_only_one_of_the_two_branches_ends_in_a_listed_point():
    salt = invented(HEPTA_ENDS, branch("MgSO4.H2O", (60.0, 0.33), (90.0, 0.29)))
    with pytest.raises(CoverageError, match="do not tell what stands at 60 mass %"):
        PhaseMap.of(salt).at(0.60, 20.0)


def test_without_an_ice_branch_a_dilute_pot_is_unknown_below_0_degC_and_clear_above():
    its = PhaseMap.of(invented(branch("MgSO4.7H2O", (-10.0, 0.18), (40.0, 0.30))))
    assert float(its.at(0.05, 0.5).liquor_fraction) == 1.0
    with pytest.raises(CoverageError, match="do not tell what stands at 5 mass %"):
        its.at(0.05, -0.5)
    assert formulas_at(its.salt, 0.30, -0.5) == {"MgSO4.7H2O"}


def test_above_the_top_hydrate_it_is_dry_with_the_implied_anhydrous_salt():
    salt = invented(HEPTA_ENDS, MONO_BEGINS)
    its = PhaseMap.of(salt)
    assert its.solids[-1].implied
    assert its.solids[-1].mass_fraction == 1.0
    found = its.at(0.95, 20.0)
    assert float(found.liquor_fraction) == 0.0
    assert its.solids[int(found.rich_solid)].implied


def test_phase_with_one_point_is_named_in_the_data_but_not_predicted():
    salt = invented(HEPTA_ENDS, MONO_BEGINS, branch("MgSO4.4H2O", (60.0, 0.35)))
    assert not any(s.formula == "MgSO4.4H2O" for s in PhaseMap.of(salt).solids)


def test_of_two_forms_with_the_same_water_the_one_whose_branch_covers_stands():
    its = model("NiSO4").map
    forms = {s.formula: s for s in its.solids if s.formula.startswith("NiSO4.6H2O")}
    assert set(forms) == {"NiSO4.6H2O-alpha", "NiSO4.6H2O-beta"}
    x = composition_mass_fraction("NiSO4", 6.0)
    for form, solid in forms.items():
        (piece,) = solid.pieces
        t = (piece.low_C + piece.high_C) / 2
        w = (float(piece.mass_fraction_at(t)) + x) / 2
        assert its.solids[int(its.at(w, t).rich_solid)].formula == form


def test_branch_below_a_wetter_stable_solid_is_refused_with_its_place():
    salt = invented(
        branch("MgSO4.7H2O", (0.0, 0.20), (50.0, 0.30), (90.0, 0.489, "congruent")),
        branch("MgSO4.H2O", (10.0, 0.25), (80.0, 0.29)),
    )
    with pytest.raises(DataError, match=r"own\.csv, column mass_percent: the branch of MgSO4\.H2O between"):
        PhaseMap.of(salt)


def test_crossing_branches_are_refused():
    salt = invented(
        branch("ice", (0.0, 0.0), (-10.0, 0.30)), branch("MgSO4.7H2O", (-10.0, 0.20), (30.0, 0.25))
    )
    with pytest.raises(DataError, match="cross near"):
        PhaseMap.of(salt)


def test_salt_without_any_branch_of_two_points_is_refused():
    with pytest.raises(DataError, match="no branch of MgSO4 has two points"):
        PhaseMap.of(invented(branch("MgSO4.7H2O", (20.0, 0.25))))


@pytest.mark.parametrize("formula", sorted(SALTS))
def test_stretches_join_without_gap(formula):
    stretches = model(formula).map.stretches
    assert all(a.high_C == b.low_C for a, b in pairwise(stretches))
    edges = breakpoints_C(formula)
    if edges[0] < 0 < edges[-1]:
        assert 0.0 in edges
