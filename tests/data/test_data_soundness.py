"""The curves hang together: branches meet, hydrates melt at their own composition, no course turns twice."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

import pytest

from crystal.data.catalogue import Catalogue
from crystal.data.formulas import hydrate_mass_fraction
from crystal.data.records import Branch, Salt

SALTS = list(Catalogue.bundled().salts.values())
CONGRUENT_TOLERANCE_MASS_PERCENT = 0.05

# Invariant points at which only one solid of the data meets.
LONELY = {("Na2B4O7", 58.2)}  # decahydrate's other solid there, kernite, is not followed in the data

# Called peritectic by their table though the liquid lies between the two solids.
BETWEEN_ITS_SOLIDS = {("MgCl2", -16.8)}  # beyond the melting point of the 12-hydrate, on its rich side

THIN_STABLE = {
    ("Mg(NO3)2", "Mg(NO3)2"),
    ("Na2CO3", "Na2CO3"),
    ("(NH4)2HPO4", "(NH4)2HPO4.2H2O"),
}
THIN_METASTABLE = {
    ("MgSO4", "MgSO4.7H2O"),
    ("CoSO4", "CoSO4.6H2O"),
    ("ZnSO4", "ZnSO4.6H2O"),
    ("FeCl3", "FeCl3.3.5H2O"),
    ("FeCl3", "FeCl3.2H2O"),
    ("Cu(NO3)2", "Cu(NO3)2.6H2O"),
    ("Ni(NO3)2", "Ni(NO3)2.6H2O"),
    ("Co(NO3)2", "Co(NO3)2.6H2O"),
    ("Na2CO3", "Na2CO3.7H2O"),
    ("Na2CO3", "Na2CO3.H2O"),
    ("(NH4)2HPO4", "(NH4)2HPO4"),
    ("Na3C6H5O7", "Na3C6H5O7.2H2O"),
    ("Na2WO4", "Na2WO4.2H2O"),
}
# The ice branch ends where its data end; no eutectic is known.
ICE_WITHOUT_EUTECTIC = {"LiCl", "Na3PO4", "C6H8O7", "Na3C6H5O7"}


def _meetings(salt: Salt) -> dict[tuple[float, str], list[tuple[Branch, float]]]:
    """The branches that meet at each invariant temperature, with the mass fraction that each gives."""
    found: dict[tuple[float, str], list[tuple[Branch, float]]] = defaultdict(list)
    for branch in salt.branches:
        for point in branch.points:
            if point.kind in ("eutectic", "peritectic"):
                found[point.temperature_C, point.kind].append((branch, point.mass_fraction))
    return found


def _composition(salt: Salt, branch: Branch) -> float:
    return hydrate_mass_fraction(salt.formula, salt.phase(branch.phase).waters)


@pytest.mark.parametrize("salt", SALTS, ids=lambda salt: salt.formula)
class TestOneSalt:
    def test_has_a_stable_branch_and_describes_each_solid(self, salt: Salt) -> None:
        assert any(not branch.metastable for branch in salt.branches)
        for branch in salt.branches:
            assert salt.phase(branch.phase).formula == branch.phase

    def test_branches_meet_exactly(self, salt: Salt) -> None:
        for (temperature_C, kind), met in _meetings(salt).items():
            if (salt.formula, temperature_C) in LONELY:
                assert len(met) == 1
                continue
            assert len({branch.phase for branch, _ in met}) == 2, (temperature_C, kind)
            assert len({mass_fraction for _, mass_fraction in met}) == 1, (temperature_C, met)
            assert len({branch.metastable for branch, _ in met}) == 1, (temperature_C, met)

    def test_invariant_liquid_lies_on_the_right_side_of_its_solids(self, salt: Salt) -> None:
        """Between the two solids at a eutectic, leaner than both at a peritectic (lever rule)."""
        for (temperature_C, kind), met in _meetings(salt).items():
            solids = sorted(_composition(salt, branch) for branch, _ in met)
            between = solids[0] <= met[0][1] <= solids[-1]
            expected = kind == "eutectic" or (salt.formula, temperature_C) in BETWEEN_ITS_SOLIDS
            assert between == expected or len(met) == 1, (temperature_C, kind)

    def test_congruent_points_have_the_solids_composition(self, salt: Salt) -> None:
        for branch in salt.branches:
            for point in branch.points:
                if point.kind == "congruent":
                    off = 100 * abs(point.mass_fraction - _composition(salt, branch))
                    assert off <= CONGRUENT_TOLERANCE_MASS_PERCENT, (branch.phase, off)

    def test_temperatures_run_one_way_on_each_side(self, salt: Salt) -> None:
        for branch in salt.branches:
            summit = max(range(len(branch.points)), key=lambda i: branch.points[i].temperature_C)
            steps = [b.temperature_C - a.temperature_C for a, b in pairwise(branch.points)]
            assert all(step > 0 for step in steps[:summit]), branch.phase
            assert all(step < 0 for step in steps[summit:]), branch.phase
            if 0 < summit < len(branch.points) - 1:
                assert branch.points[summit].kind == "congruent", branch.phase

    def test_ice_begins_in_pure_water_and_ends_in_the_eutectic(self, salt: Salt) -> None:
        ice = salt.branch("ice")
        if ice is None:
            return
        assert (ice.points[0].temperature_C, ice.points[0].mass_fraction) == (0.0, 0.0)
        assert all(b.mass_fraction > a.mass_fraction for a, b in pairwise(ice.points))
        assert (ice.points[-1].kind == "eutectic") == (salt.formula not in ICE_WITHOUT_EUTECTIC)

    def test_sources_are_known(self, salt: Salt) -> None:
        catalogue = Catalogue.bundled()
        keys = {point.source for branch in salt.branches for point in branch.points}
        keys |= {phase.density_source for phase in salt.phases if phase.solid_density_g_mL is not None}
        keys |= {share.solute.source for share in salt.density_shares}
        keys |= {caution.source for caution in salt.cautions}
        assert keys
        assert {key for key in keys if catalogue.citation(key) == key} == set()


def test_thin_branches_are_the_known_ones() -> None:
    thin = {
        (salt.formula, branch.phase, branch.metastable)
        for salt in SALTS
        for branch in salt.branches
        if len(branch.points) < 2
    }
    assert thin == {(*name, False) for name in THIN_STABLE} | {(*name, True) for name in THIN_METASTABLE}


def test_all_salts_are_there() -> None:
    assert len(SALTS) == 87


def test_iron_chloride_keeps_its_turned_back_branch() -> None:
    """Roozeboom 1892: the hexahydrate melts at 37 °C and its rich side runs down to 27.4 °C, 68.63 %."""
    branch = Catalogue.bundled().salts["FeCl3"].branch("FeCl3.6H2O")
    assert branch is not None
    kinds = [point.kind for point in branch.points]
    assert kinds.index("congruent") == 9
    assert branch.points[-1].temperature_C == 27.4
    assert branch.points[-1].mass_fraction == pytest.approx(0.6863, abs=1e-12)
