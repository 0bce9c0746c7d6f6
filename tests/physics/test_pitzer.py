"""Activities of ions: tabulated values, another library that uses the same equations, thermodynamic consistency."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np
import pytest
from held import Held
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from crystal.data.ion_interaction import charge_of
from crystal.physics.activity import Activity
from crystal.physics.formula import WATER_G_MOL
from crystal.physics.ion_parameters import PairTerms, ions_in, missing_pairs
from crystal.physics.mixture import Mixture
from crystal.physics.pitzer import Pitzer

PUBLISHED = Path(__file__).parents[1] / "published" / "activities.csv"


def rows() -> list[dict[str, str]]:
    with PUBLISHED.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def tabulated(row: dict[str, str]) -> Held:
    ions = ions_in(row["solute"])
    assert ions is not None
    n = np.array([number for _, number in ions], dtype=float)
    found = Mixture.of([ion for ion, _ in ions]).activities(n * float(row["molality"]))
    value = found.osmotic if row["quantity"] == "osmotic" else np.exp((n @ found.ln_gamma) / n.sum())
    what = f"{row['quantity']} of {row['solute']} at {row['molality']} mol/kg"
    return Held(what, float(value), float(row["value"]), float(row["tolerance_percent"]) / 100)


@pytest.mark.parametrize("row", rows(), ids=lambda r: f"{r['solute']}-{r['molality']}-{r['quantity']}")
def test_tabulated_activities_of_single_solutes(row: dict[str, str]) -> None:
    tabulated(row).check()


@pytest.mark.parametrize("formula", ["NaCl", "CuSO4", "CaCl2", "K2SO4", "Al2(SO4)3", "K4Fe(CN)6"])
def test_one_salt_agrees_with_the_single_salt_formula(formula: str) -> None:
    """Written down a second time for one salt, with its own algebra."""
    single, ions = Activity.of(formula), ions_in(formula)
    assert single is not None
    assert ions is not None
    m = np.linspace(0.01, single.ions.max_molality, 9)
    n = np.array([number for _, number in ions], dtype=float)
    found = Pitzer.of([ion for ion, _ in ions]).activities(n[:, None] * m)
    assert_allclose(found.osmotic, single.osmotic_coefficient(m), rtol=1e-12)


SEA = {"Na+": 0.486, "Mg+2": 0.055, "K+": 0.011, "Ca+2": 0.0, "Cl-": 0.551, "SO4-2": 0.028}
BRINE = {"Na+": 2.0, "Mg+2": 1.0, "K+": 0.4, "Ca+2": 0.0, "Cl-": 3.4, "SO4-2": 0.5}
LIME = {"Na+": 1.0, "Mg+2": 0.5, "K+": 0.5, "Ca+2": 1.0, "Cl-": 4.5, "SO4-2": 0.0}


SALT, GLAUBER = {"Na+": 1.0, "Cl-": 1.0}, {"Na+": 2.0, "SO4-2": 1.0}
# The last is strong in sulfate beside chloride: the fitted J (1975) and the exact integral there differ by 1.6e-3.
BRINES = [(SALT, 1e-3), (GLAUBER, 1e-3), (SEA, 1e-3), (LIME, 1e-3), (BRINE, 2e-3)]


def beside_phreeqc(brine: dict[str, float], rtol: float) -> list[Held]:
    """Mean activity coefficients of each pair of ions."""
    phreeqpython = pytest.importorskip("phreeqpython")
    folder = Path(phreeqpython.__file__).parent / "database"
    theirs = phreeqpython.PhreeqPython(database="pitzer.dat")
    elements = {"SO4-2": "S(6)"} | {ion: re.sub(r"[+-]\d*$", "", ion) for ion in brine if ion != "SO4-2"}
    held = {ion: m for ion, m in brine.items() if m > 0}
    solution = theirs.add_solution(
        {"units": "mol/kgw", "pH": 7.0} | {elements[ion]: m for ion, m in held.items()}
    )
    molality, activity = solution.species_molalities, solution.species_activities
    ions = [ion for ion in held if molality.get(ion, 0) > 0]
    assert set(ions) == set(held)
    pitzer = _with_their_parameters(folder / "pitzer.dat", ions)
    found = pitzer.activities([molality[ion] for ion in ions])
    gamma = {ion: activity[ion] / molality[ion] for ion in ions}
    mine = dict(zip(ions, np.exp(found.ln_gamma), strict=True))
    compared = []
    # Single ions' values hang on a convention, those of neutral combinations do not.
    for cation in (i for i in ions if charge_of(i) > 0):
        for anion in (i for i in ions if charge_of(i) < 0):
            n, k = -charge_of(anion), charge_of(cation)
            means = [(of[cation] ** n * of[anion] ** k) ** (1 / (n + k)) for of in (mine, gamma)]
            compared.append(Held(f"{cation} {anion}", float(means[0]), float(means[1]), rtol))
    return compared


@pytest.mark.parametrize(("brine", "rtol"), BRINES, ids=["salt", "glauber", "sea", "lime", "brine"])
def test_the_same_equations_in_another_library(brine: dict[str, float], rtol: float) -> None:
    """PHREEQC (Parkhurst & Appelo, USGS), with its own parameters given to the equations here."""
    for held in beside_phreeqc(brine, rtol):
        held.check()


def _with_their_parameters(path: Path, ions: list[str]) -> Pitzer:
    """The database's 25 °C values for these ions."""
    block, values = "", {}
    for line in path.read_text(encoding="utf-8", errors="replace").partition("\nPITZER")[2].splitlines():
        if line.startswith("EXCHANGE"):
            break
        words = line.split("#")[0].split()
        if not words:
            continue
        if words[0].startswith("-"):
            block = words[0][1:].upper()
            continue
        names = [w for w in words if re.fullmatch(r"[A-Z][A-Za-z0-9()]*[+-]\d*", w)]
        if block in ("B0", "B1", "B2", "C0", "THETA", "PSI") and names and set(names) <= set(ions):
            values[block, frozenset(names)] = float(words[len(names)])
    pairs = []
    for cation in (i for i in ions if charge_of(i) > 0):
        for anion in (i for i in ions if charge_of(i) < 0):
            key = frozenset((cation, anion))
            b0, b1, b2, c = (values.get((kind, key), 0.0) for kind in ("B0", "B1", "B2", "C0"))
            divalent = charge_of(cation) == 2 and charge_of(anion) == -2
            pairs.append(PairTerms(cation, anion, b0, b1, c, b2, 1.4 if divalent else 2.0))
    of = {kind: {k: v for (b, k), v in values.items() if b == kind} for kind in ("THETA", "PSI")}
    assert pairs
    assert of["THETA"] or len(ions) == 2
    return Pitzer(ions, pairs, of["THETA"], of["PSI"])


IONS = ("Na+", "Mg+2", "H+", "Cl-", "SO4-2")
amounts = st.lists(st.floats(0.01, 1.5), min_size=4, max_size=4)


def _neutral(amounts: list[float], ions: tuple[str, ...] = IONS) -> np.ndarray:
    """The first ions as drawn, the last one but one (chloride) closing the balance."""
    sodium, magnesium, acid, sulfate = amounts
    sulfate = min(sulfate, 0.4 * (sodium + 2 * magnesium + acid))
    m = np.array([sodium, magnesium, acid, sodium + 2 * magnesium + acid - 2 * sulfate, sulfate])
    assert_allclose(np.array([charge_of(ion) for ion in ions]) @ m, 0.0, atol=1e-12)
    return m


@settings(max_examples=60, deadline=None)
@given(amounts, st.lists(st.floats(-1, 1), min_size=4, max_size=4), st.booleans())
def test_gibbs_duhem(drawn: list[float], direction: list[float], mixing: bool) -> None:
    """Along any neutral change the sum of n d(ln a) over all ions and the water is nothing."""
    m = _neutral(drawn)
    sodium, magnesium, acid, sulfate = direction
    d = np.array([sodium, magnesium, acid, sodium + 2 * magnesium + acid - 2 * sulfate, sulfate])
    h = 1e-5 * m.min()
    mixture = Mixture(IONS, mixing=mixing)
    states = m[:, None] + np.array([-2.0, -1.0, 1.0, 2.0]) * h * d[:, None]
    found = mixture.activities(states)
    weights = np.array([1.0, -8.0, 8.0, -1.0]) / (12.0 * h)
    ions = (found.ln_gamma + np.log(states)) @ weights
    water = found.ln_water @ weights / (WATER_G_MOL / 1000.0)
    assert_allclose(m @ ions + water, 0.0, atol=2e-6 * max(1.0, np.abs(d).max()) * m.sum())


@settings(max_examples=60, deadline=None)
@given(amounts)
def test_hydrogen_sulfate_is_in_equilibrium(drawn: list[float]) -> None:
    """What the totals hide keeps to the dissociation constant, and no acid or sulfate is lost."""
    m = _neutral(drawn)
    mixture = Mixture(IONS)
    totals = mixture.activities(m)
    # The activity of free sulfate and acid, from the totals: any bound share must reproduce itself.
    activity = np.log(m) + totals.ln_gamma
    ln_bound = activity[2] + activity[4] + 1.979 * np.log(10.0)
    low, high = 0.0, min(m[2], m[4])
    pitzer = Pitzer.of((*IONS, "HSO4-"))
    for _ in range(200):
        bound = (low + high) / 2
        free = np.array([*m, bound])
        free[2], free[4] = m[2] - bound, m[4] - bound
        held = np.log(bound) + pitzer.activities(free).ln_gamma[-1]
        low, high = (bound, high) if held < ln_bound else (low, bound)
    free_activity = np.log(free[:-1]) + pitzer.activities(free).ln_gamma[:-1]
    assert_allclose(free_activity, activity, atol=1e-6)


def test_states_of_any_shape_are_each_answered_alone() -> None:
    states = np.array([[0.5, 0.1, 0.2], [0.1, 0.4, 0.7], [0.3, 0.2, 0.9]])
    whole = Mixture(IONS).activities(np.stack([_neutral([*s, 0.2]) for s in states], axis=1).reshape(5, 3, 1))
    assert whole.osmotic.shape == (3, 1)
    for i, s in enumerate(states):
        one = Mixture(IONS).activities(_neutral([*s, 0.2]))
        assert_allclose(whole.ln_gamma[:, i, 0], one.ln_gamma, rtol=1e-9)
        assert_allclose(whole.osmotic[i, 0], one.osmotic, rtol=1e-9)


def test_infinite_dilution_is_ideal() -> None:
    found = Mixture(IONS).activities(_neutral([0.01] * 4) * 1e-8)
    assert_allclose(np.exp(found.ln_gamma[[0, 1, 3]]), 1.0, atol=1e-3)
    assert_allclose(found.osmotic, 1.0, atol=1e-3)


def test_missing_pairs_are_named() -> None:
    assert missing_pairs(["Fe+2", "SO4-2", "Na+"]) == [("Fe+2", "SO4-2")]
    assert Mixture(("NH4+", "H+", "SO4-2")).missing == [("NH4+", "HSO4-")]
    assert ("Cu+2", "HSO4-") in Mixture(("Cu+2", "H+", "SO4-2")).by_analogy
