"""Others in the pot: the shift, its limits, and the balance of everything."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from crystal.data.catalogue import Catalogue
from crystal.physics.company import Company, MixedEquilibrium, company_of, look_up_beside
from crystal.physics.formula import WATER_G_MOL
from crystal.physics.model import Model
from crystal.physics.others import Others
from crystal.physics.products import Products
from crystal.physics.several import Several


@cache
def _model(salt: str) -> Model:
    return Model.of(Catalogue.bundled().find(salt))


@cache
def _company(salt: str, other: str) -> Company:
    return Company.of(_model(salt), {other: 1.0})


PAIRS = [("CuSO4", "H2SO4"), ("Na2SO4", "NaCl"), ("NaCl", "KCl"), ("KNO3", "NaNO3"), ("NaCl", "HCl"), ("MgSO4", "MgCl2"),
         ("KCl", "NaNO3"), ("KAl(SO4)2", "K2SO4")]  # fmt: skip
RATIOS = st.floats(0.01, 2.0)


@pytest.mark.parametrize("salt", [s for s in Catalogue.bundled().salts if Products(_model(s)).known])
def test_without_company_the_curve_is_met(salt: str) -> None:
    """To 1e-9 at every temperature of the salt's lean branches, however it is asked for."""
    model = _model(salt)
    company = Company(model, {"HCl" if "SO4" in salt or "Cl" in salt else "NaNO3": 1.0}, mirror=False)
    if not company.known:
        pytest.skip(f"{salt}: {company.reason}")
    pieces = [p for s in model.map.solids if not s.is_ice for p in s.pieces if p.side == "lean"]
    for piece in pieces:
        t = np.linspace(piece.low_C, piece.high_C, 41)[1:-1]
        w = np.min(
            [np.where((t >= p.low_C) & (t <= p.high_C), p.mass_fraction_at(t), 1.0) for p in pieces], axis=0
        )
        for some in (slice(None), slice(5)):  # interpolated between temperatures, and exact
            least = np.min(_known(company.curves.reader(t[some]).ln_salt(np.zeros(len(t[some])))), axis=0)
            assert_allclose(np.exp(least), company.products.molality(w[some]), rtol=1e-9)


def _known(ln: np.ndarray) -> np.ndarray:
    return np.where(np.isnan(ln), np.inf, ln)


@pytest.mark.parametrize(("salt", "other"), PAIRS)
def test_a_trace_of_company_changes_next_to_nothing(salt: str, other: str) -> None:
    model, company = _model(salt), _company(salt, other)
    w = np.linspace(0.01, 0.95, 150)
    for t in (5.0, 20.0, 35.0):
        plain, beside = model.map.look_up(w, t), company.look_up(w, t, 1e-13)
        for name in ("liquor_fraction", "rich_solid_fraction", "lean_solid_fraction"):
            assert_allclose(getattr(beside, name), getattr(plain, name), atol=1e-8)


TRACES = (1e-3, 1e-6, 1e-9, 1e-12, 1e-20, 1e-100, 1e-300, 1e-310, 5e-324)


@pytest.mark.parametrize(
    ("salt", "other"), [("NaCl", "HCl"), ("NaCl", "KCl"), ("CuSO4", "H2SO4"), ("KNO3", "NaCl")]
)
@pytest.mark.parametrize("t", [5.0, 37.3])
def test_grams_of_company_that_vanish_come_to_the_plain_curve(salt: str, other: str, t: float) -> None:
    """Less and less of it, down to the smallest number there is: no jump and no fault on the way to none at all."""
    model, w = _model(salt), np.linspace(0.02, 0.9, 80)
    plain = model.map.look_up(w, t)

    def held(grams: float) -> np.ndarray:
        found = look_up_beside(model, Others.of({other: grams}), 90.0, w, t)
        return np.stack([found.liquor_fraction, found.rich_solid_fraction, found.lean_solid_fraction])

    none = np.stack([plain.liquor_fraction, plain.rich_solid_fraction, plain.lean_solid_fraction])
    assert_allclose(held(0.0), none, rtol=0, atol=0)
    for grams in TRACES:
        # A gram drives out or holds a few grams at most, a hydrate's water counted; where no water is left it is more.
        wet = none[0] * (1.0 - plain.liquor_mass_fraction) > 0.05
        assert_allclose(held(grams)[:, wet], none[:, wet], rtol=0, atol=1e-9 + 5.0 * grams / 90.0)


def test_a_trace_among_others_is_no_company() -> None:
    """Beside 20 g of sodium chloride, next to nothing of a second substance takes nothing away from the answer."""
    model, w = _model("Na2SO4"), np.linspace(0.05, 0.9, 60)
    one = look_up_beside(model, Others.of({"NaCl": 20.0}), 80.0, w, 25.0)
    assert isinstance(one, MixedEquilibrium)
    assert (one.other_solid_fraction > 0).any()
    for trace in ({"HCl": 1e-14}, {"CH4N2O": 1e-13}):
        two = look_up_beside(model, Others.of({"NaCl": 20.0} | trace), 80.0, w, 25.0)
        assert isinstance(two, MixedEquilibrium)
        for name in ("liquor_fraction", "rich_solid_fraction", "other_solid_fraction"):
            assert_allclose(getattr(two, name), getattr(one, name), atol=1e-11)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(PAIRS), st.floats(0.02, 0.98), st.floats(1.0, 95.0), RATIOS)
def test_nothing_is_lost(pair: tuple[str, str], w: float, t: float, ratio: float) -> None:
    """Salt, others and water in solids and liquor sum to what was put in, to 1e-9."""
    salt, other = pair
    model, company = _model(salt), _company(salt, other)
    found = company.look_up(w, t, ratio)
    if not bool(found.known):
        return
    x = model.solid_mass_fractions
    held = float(found.liquor_fraction * found.liquor_mass_fraction)
    held += float(
        x[found.lean_solid] * found.lean_solid_fraction + x[found.rich_solid] * found.rich_solid_fraction
    )
    assert_allclose(held, w, atol=1e-9)
    taken = 0.0
    crystallised = 0.0
    if company.other is not None and float(found.other_solid_fraction) > 0:
        share = company.other.model.solid_mass_fractions[int(found.other_solid)]
        crystallised = float(found.other_solid_fraction) * share
        taken = float(found.other_solid_fraction) * (1.0 - share)
    whole = float(found.liquor_fraction + found.lean_solid_fraction + found.rich_solid_fraction) + taken
    assert_allclose(whole, 1.0, atol=1e-9)
    if company.other is not None:
        others = w / company.products.molar_mass_g_mol * ratio * company.other.products.molar_mass_g_mol
        assert_allclose(crystallised + others * float(found.others_left), others, rtol=1e-9, atol=1e-12)


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(PAIRS[:6]), st.floats(0.0, 0.3), st.floats(5.0, 60.0))
def test_small_additions_act_steadily(pair: tuple[str, str], b: float, t: float) -> None:
    """A common ion pushes the salt out, the more of it the more, while it is little."""
    company = _company(*pair)
    steps = [company.shift(t, b + step) for step in (0.0, 0.02, 0.04)]
    assert all(step is not None for step in steps)
    factors = [step[0] for step in steps if step is not None]
    assert factors[0] >= factors[1] >= factors[2]
    assert factors[2] < 1.0


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from([*PAIRS, ("MgSO4", "H2SO4"), ("NiSO4", "H2SO4"), ("MgSO4", "Na2SO4")]),
    st.lists(st.tuples(st.floats(0.02, 0.98), st.floats(0.0, 1.0)), min_size=1, max_size=60), RATIOS,
)  # fmt: skip
def test_five_times_what_the_water_alone_dissolves_is_never_clear(
    pair: tuple[str, str], at: list[tuple[float, float]], ratio: float
) -> None:
    """However much of the others there is, for one pot and for many temperatures at once: none of these frees so much."""
    company = _company(*pair)
    curves, phase_map = company.curves, company.model.map
    w, t = (
        np.array([x for x, _ in at]),
        phase_map.low_C + np.array([y for _, y in at]) * (phase_map.high_C - phase_map.low_C),
    )
    pure = np.exp(np.min(_known(curves.own_ln_molality(t)), axis=0))
    found = company.look_up(w, t, ratio)
    over = (company.products.molality(w) > 5.0 * pure) & found.known
    assert (found.rich_solid_fraction + found.lean_solid_fraction + found.other_solid_fraction)[over].all()


@pytest.mark.parametrize(
    ("salt", "other", "t"),
    [("Na2SO4", "NaCl", 25.0), ("Na2SO4", "NaCl", 15.0), ("NaCl", "KCl", 20.0), ("KNO3", "NaNO3", 20.0),
     ("NaCl", "KCl", 90.0), ("MgSO4", "Na2SO4", 30.0)],
)  # fmt: skip
@pytest.mark.parametrize("ratio", [0.2, 0.5, 1.5])
def test_the_curves_agree_with_the_active_set(salt: str, other: str, t: float, ratio: float) -> None:
    """Two ways to the same answer: tabulated curves with one unknown, and Newton steps on ions and solids."""
    company, several = _company(salt, other), Several([salt, other])
    w = np.linspace(0.02, 0.8, 40)
    a = w / company.products.molar_mass_g_mol
    state = several.standing(several.ions_of({salt: a, other: ratio * a}), (1.0 - w) / 1000.0, t)
    found = company.look_up(w, t, ratio)
    grams = {salt: np.zeros(40), other: np.zeros(40)}
    for i, one in enumerate(several.candidates):
        grams[one.salt] += state.solids_mol[i] * one.molar_mass_g_mol
    wet = ~state.dry
    assert wet.sum() > 10
    mine = found.rich_solid_fraction + found.lean_solid_fraction
    assert_allclose(mine[wet], grams[salt][wet], atol=6e-4)
    assert_allclose(found.other_solid_fraction[wet], grams[other][wet], atol=6e-4)
    if salt != "MgSO4":  # its last liquors lie beyond what the active set takes for a liquor at all
        assert_allclose(found.liquor_fraction[state.dry], 0.0, atol=1e-12)


def test_the_other_salt_lowers_the_change_of_solid() -> None:
    """Seidell, Am. Chem. J. 27 (1902) 52 (recalled): at 21.5, 27 and 30 °C the change stands at 18.4, 11.4, 5.5 % NaCl."""
    company = _company("Na2SO4", "NaCl")
    for t, measured in ((21.5, 18.4), (27.0, 11.4), (30.0, 5.5)):
        b = np.linspace(0.0, 5.5, 551)
        solids = [company.shift(t, float(x)) for x in b]
        changed = next(x for x, one in zip(b, solids, strict=True) if one is not None and one[3] == "Na2SO4")
        one = company.shift(t, float(changed))
        assert one is not None
        salt = one[0] * float(company.curves.table(np.array([t])).pure_molality[0]) * 142.04
        percent = 100.0 * changed * 58.44 / (1000.0 + changed * 58.44 + salt)
        assert abs(percent - measured) < 1.5


def test_first_crystals_come_where_the_liquor_is_saturated() -> None:
    company = _company("KNO3", "NaNO3")
    w = np.array([0.2, 0.3, 0.4])
    first = company.first(w, 0.5)
    for x, t in zip(w, first.temperature_C, strict=True):
        above, below = company.look_up(x, t + 0.1, 0.5), company.look_up(x, t - 0.1, 0.5)
        assert float(above.rich_solid_fraction) == 0.0
        assert float(below.rich_solid_fraction) > 0.0


@pytest.mark.parametrize(
    ("salt", "other", "says"),
    [
        ("FeSO4", "H2SO4", r"Fe\+2 with SO4-2"),
        ("CoSO4", "H2SO4", r"Co\+2 with SO4-2"),
        ("CuCl2", "HCl", "direction is unknown"),
        ("CoCl2", "NaCl", "direction is unknown"),
        ("ZnCl2", "HCl", "direction is unknown"),
        ("FeCl3", "HCl", "direction is unknown"),
        ("(NH4)2SO4", "H2SO4", r"NH4\+ with HSO4-"),
        ("C6H8O7", "NaCl", "no plain salt"),
        ("NaCl", "CH4N2O", "CH4N2O is no plain salt"),
    ],
)
def test_where_nothing_is_known_that_is_said(salt: str, other: str, says: str) -> None:
    import re

    company = Company.of(_model(salt), {other: 1.0})
    assert not company.known
    assert company.reason is not None
    assert re.search(says, company.reason)
    assert company_of(_model(salt), Others.of({other: 5.0})) is None


def test_plain_others_shift_nothing() -> None:
    from dataclasses import replace

    others = Others.of({"HCl": 5.0})
    assert company_of(_model("NaCl"), others) is not None
    assert company_of(_model("NaCl"), replace(others, plain=True)) is None


def test_doubt_grows_with_what_is_not_known() -> None:
    def doubt(salt: str, other: str, t: float, b: float) -> float:
        found = _company(salt, other).shift(t, b)
        assert found is not None
        return found[1]

    assert doubt("NaCl", "HCl", 25.0, 0.0) == 0.0
    assert doubt("NaCl", "HCl", 25.0, 1.0) < doubt("NaCl", "HCl", 25.0, 4.0)
    assert doubt("NaCl", "HCl", 25.0, 4.0) < doubt("NaCl", "HCl", 90.0, 4.0)
    assert doubt("NaCl", "HCl", 25.0, 4.0) < doubt("NaCl", "HCl", 25.0, 16.0)
    assert doubt("NaCl", "KCl", 25.0, 1.0) < doubt("KNO3", "KH2PO4", 25.0, 1.0)


SALTS = [("KNO3", "NaCl"), ("NaCl", "KCl"), ("Na2SO4", "NaCl"), ("K2SO4", "MgCl2"), ("NaNO3", "KCl"),
         ("KNO3", "NaCl", "Na2SO4"), ("NaCl", "KCl", "MgCl2"), ("CuSO4", "Na2SO4", "MgSO4")]  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(SALTS), st.lists(st.floats(0.1, 6.0), min_size=3, max_size=3), st.floats(1.0, 95.0))
def test_several_salts_are_balanced_neutral_and_stable(
    salts: tuple[str, ...], mol: list[float], t: float
) -> None:
    several = Several(salts)
    low, high = several.covers_degC
    t = min(max(t, low), high)
    ions = several.ions_of(dict(zip(salts, mol, strict=False)))
    state = several.standing(ions, 1.0, t)
    if bool(state.dry):
        return
    from crystal.data.ion_interaction import charge_of

    made_of = np.stack([c.ions for c in several.candidates], axis=1)
    assert_allclose(state.liquor_mol + made_of @ state.solids_mol, ions, rtol=1e-9)
    waters = np.array([c.waters for c in several.candidates])
    assert_allclose(float(state.water_kg) + waters @ state.solids_mol * WATER_G_MOL / 1000.0, 1.0, rtol=1e-9)
    charges = np.array([charge_of(ion) for ion in several.ions])
    assert_allclose(charges @ state.liquor_mol, 0.0, atol=1e-9)
    assert (state.solids_mol >= -1e-12).all()
    over = several.excess(state.liquor_mol[:, None], np.array([float(state.water_kg)]), several.ln_k(t))[:, 0]
    assert (over < 1e-6).all()
    stands = state.solids_mol > 1e-9
    assert_allclose(over[stands], 0.0, atol=1e-6)


def test_several_refuses_what_it_does_not_know() -> None:
    from crystal.errors import InputError

    with pytest.raises(InputError, match="binds chloride"):
        Several(["CuCl2", "NaCl"])
    with pytest.raises(InputError, match=r"Fe\+2 with SO4-2"):
        Several(["FeSO4", "Na2SO4"])
    with pytest.raises(InputError, match="plain salt"):
        Several(["NaCl", "C12H22O11"])


@pytest.mark.parametrize("off", [-1.0, 1.0])
def test_nothing_is_known_beside_others_outside_the_salts_own_data(off):
    its, others = Model.of(Catalogue.bundled().find("KNO3")), Others.of({"NaNO3": 30.0})
    t = its.map.low_C + off if off < 0 else its.map.high_C + off
    assert not bool(look_up_beside(its, others, 100.0, 0.4, t).known)
    assert bool(look_up_beside(its, others, 100.0, 0.4, t - 2 * off).known)


def test_ice_comes_from_a_dilute_pot_beside_others_and_lower_than_without() -> None:
    its, others = Model.of(Catalogue.bundled().find("KNO3")), Others.of({"NaNO3": 3.0})
    ice = look_up_beside(its, others, 6.0, 0.03, np.array([-2.6, -0.5]))
    plain = its.map.look_up(0.03, np.array([-2.6, -0.5]))
    assert its.map.solids[int(ice.lean_solid[0])].is_ice
    assert 0.0 < float(ice.lean_solid_fraction[0]) < float(plain.lean_solid_fraction[0])
    assert float(ice.liquor_fraction[1]) == 1.0
