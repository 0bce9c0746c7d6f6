"""End marks: four ways that agree with one another, absent with a sentence where there is none, and back again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from salts import model, pot
from scipy.optimize import brentq

from crystal.bench.cooling import Cooled
from crystal.bench.marks import Liquid, Marks
from crystal.bench.pot import Pot
from crystal.bench.read_back import Reading
from crystal.errors import InputError
from crystal.physics.boiling import Boiling
from crystal.physics.others import Others
from crystal.physics.scales import BAUME_US


@given(
    st.sampled_from(["NaCl", "MgSO4", "KNO3", "CuSO4", "NiSO4", "ZnSO4"]),
    st.floats(0.05, 0.9),
    st.floats(0.05, 0.95),
)
def test_marks_are_of_one_pot(formula, start_share, left):
    start = pot(formula, 100.0 * start_share, 300.0)
    marks = Marks.of(start, left * start.water_g, read_at_C=25.0)
    assert_allclose(marks.end.mass_g, start.salt_g + left * start.water_g)
    assert_allclose(marks.liquid.density_g_mL * marks.liquid.volume_mL, marks.end.mass_g, rtol=1e-12)
    assert (marks.boiling_C is None) == (marks.boiling_error_K is None) == (marks.boiling_basis is None)
    if marks.boiling_C is None:
        assert any("No boiling temperature is given" in text for text in marks.warnings)
    else:
        assert marks.boiling_C > marks.water_boils_C
    if marks.hot is not None:
        assert marks.hot.read_at_C > 25.0
        assert_allclose(marks.hot.density_g_mL * marks.hot.volume_mL, marks.end.mass_g, rtol=1e-12)
        assert any("weigh it" in text or "Read it hot" in text for text in marks.warnings)


def test_less_air_boils_cooler_and_more_removed_boils_hotter():
    start = pot("NaCl", 50.0, 450.0)
    sea, hill = Marks.of(start, 200.0), Marks.of(start, 200.0, pressure_kPa=84.0)
    assert hill.boiling_C < sea.boiling_C - 4.0
    assert_allclose(hill.boiling_C - hill.water_boils_C, sea.boiling_C - sea.water_boils_C, atol=0.4)
    assert Marks.of(start, 150.0).boiling_C > sea.boiling_C
    assert_allclose(sea.liquid.baume_degrees, BAUME_US.degrees(sea.liquid.specific_gravity))


def test_a_hot_liquid_lighter_than_water_has_no_baume():
    assert Liquid.of(pot("NaCl", 1.0, 400.0), 90.0).baume_degrees is None


def test_end_point_that_crystallises_cold_is_read_hot():
    marks = Marks.of(pot("KNO3", 100.0, 400.0), 100.0)
    assert marks.hot.read_at_C == 65.0
    assert "68.1 g of KNO3 stands in it" in marks.warnings[0]
    assert Marks.of(pot("KNO3", 100.0, 400.0), 390.0).hot is None


def test_sentences_where_there_is_no_boiling_mark():
    texts = {
        "citric acid": "the water activity of C6H8O7 solutions is not in the data",
        "MgSO4": "what is known of MgSO4 ends at 30.3 mass %",
    }
    for name, text in texts.items():
        assert any(text in one for one in Marks.of(pot(name, 100.0, 400.0), 100.0).warnings), name
    acid = Pot(model("NaCl"), 50.0, 450.0, others=Others.of({"HCl": 20.0}))
    marks = Marks.of(acid, 150.0)
    assert marks.boiling_C is None
    assert any("what is known of NaCl with HCl ends at 20.7 mass %" in one for one in marks.warnings)
    vinegar = Marks.of(Pot(model("NaCl"), 50.0, 450.0, others=Others.of({"NH3": 5.0})), 300.0)
    assert vinegar.boiling_C is None
    assert any("NH3 is no salt or strong acid of known ions" in one for one in vinegar.warnings)
    assert any(
        "its saturated liquor boils at 103.3" in one
        for one in Marks.of(pot("boric acid", 10.0, 400.0), 90.0).warnings
    )


def test_both_heat_limits_are_said_where_the_boiling_mark_passes_them():
    marks = Marks.of(pot("FeCl2", 80.0, 400.0), 315.0)
    assert marks.boiling_C > 90.0
    assert any("is worked below about 90 °C" in one for one in marks.warnings)
    assert not any("breaks down" in one for one in marks.warnings)


def test_disagreement_with_the_table_is_said():
    said = Marks.of(pot("K2SO4", 50.0, 450.0), 300.0).warnings
    assert any("For the saturated liquor a table has 101.1 °C" in one for one in said)


def test_crystals_in_the_boiling_pot_end_the_mark():
    said = Marks.of(pot("K2SO4", 80.0, 450.0), 260.0).warnings
    assert any("already stands in the boiling pot" in one for one in said)


@given(st.floats(0.02, 0.26), st.floats(80.0, 102.0))
def test_readings_give_the_composition_back(w, pressure_kPa):
    its = model("NaCl")
    marks = Marks.of(Pot(its, 100.0 * w, 1000.0), 100.0 * (1 - w), read_at_C=60.0, pressure_kPa=pressure_kPa)
    boils = Reading.of_boiling(its, marks.boiling_C, pressure_kPa)
    dense = Reading.of_density(its, marks.liquid.density_g_mL, 60.0)
    for reading in (boils, dense):
        assert_allclose(reading.mass_fraction, w, atol=1e-6)
        assert reading.low_mass_fraction <= reading.mass_fraction <= reading.high_mass_fraction
    assert boils.high_mass_fraction > boils.low_mass_fraction


@pytest.mark.parametrize(
    ("name", "boils_C", "text"),
    [
        ("NaCl", 99.0, r"from 100\.0 degC \(water at 101\.3 kPa\) to 108\.7 degC"),
        ("NaCl", 130.0, r"where what is known of NaCl ends \(28\.4 mass %\)"),
        ("citric acid", 103.0, r"read a hydrometer instead"),
    ],
)
def test_readings_that_mean_nothing_are_refused(name, boils_C, text):
    with pytest.raises(InputError, match=text):
        Reading.of_boiling(model(name), boils_C, 101.325)


def test_what_is_beside_the_salt_raises_the_boiling_mark():
    alone = Marks.of(pot("NaCl", 50.0, 450.0), 300.0)
    beside = Marks.of(Pot(model("NaCl"), 50.0, 450.0, others=Others.of({"HCl": 10.0})), 300.0)
    assert beside.boiling_C > alone.boiling_C + 1.0
    assert beside.boiling_error_K > alone.boiling_error_K
    assert beside.boiling_basis == "ion interaction of all that is dissolved, at 25 °C"
    assert any("HCl leaves with the steam" in one for one in beside.warnings)


@given(st.floats(0.1, 0.9), st.floats(0.5, 12.0))
def test_readings_of_a_pot_with_others_give_its_composition_back(left, acid_g):
    """Both ways round: a hydrometer in a pot with acid must not be read as if all were salt."""
    start = Pot(model("NaCl"), 30.0, 450.0, others=Others.of({"H2SO4": acid_g}))
    end = start.with_water(left * start.water_g)
    dense = Reading.of_pot_density(start, end.density_g_mL(40.0), 40.0)
    assert_allclose(dense.mass_fraction, end.mass_fraction, rtol=1e-6)
    assert dense.low_mass_fraction <= dense.mass_fraction <= dense.high_mass_fraction
    marks = Marks.of(start, end.water_g)
    if marks.boiling_C is not None:
        boils = Reading.of_pot_boiling(start, marks.boiling_C, marks.pressure_kPa)
        assert_allclose(boils.mass_fraction, end.mass_fraction, rtol=1e-6)
        assert boils.low_mass_fraction < boils.mass_fraction < boils.high_mass_fraction


def test_density_that_a_pot_with_others_cannot_have_is_refused():
    start = Pot(model("NaCl"), 30.0, 450.0, others=Others.of({"H2SO4": 5.0}))
    with pytest.raises(InputError, match=r"density: got 0\.98 g/mL.* one that this pot can come to"):
        Reading.of_pot_density(start, 0.98, 20.0)


def test_clear_again_is_told_beside_others():
    """Acid pushes the salt out: it is clear only hotter than without the acid."""
    alone = Marks.of(pot("KCl", 90.0, 400.0), 280.0)
    beside = Marks.of(Pot(model("KCl"), 90.0, 400.0, others=Others.of({"HCl": 8.0})), 280.0)
    assert alone.hot is None
    assert beside.hot.read_at_C > 25.0
    assert any("Read it hot: crystals begin at" in one for one in beside.warnings)


def test_a_block_has_no_mark_but_its_mass():
    assert Marks.of(pot("MgSO4", 97.7, 491.0), 1.0).never_clear
    assert not Marks.of(pot("KNO3", 100.0, 400.0), 100.0).never_clear  # read hot
    assert not Marks.of(pot("KNO3", 100.0, 400.0), 390.0).never_clear


def test_the_boiling_marks_error_is_told_as_a_share_of_the_volume():
    marks = Marks.of(pot("NaCl", 50.0, 450.0), 300.0)
    boiling = Boiling.of(marks.end.model)
    wanted = marks.boiling_C - marks.boiling_error_K
    w = brentq(lambda w: float(boiling.temperature_C(w, marks.pressure_kPa)) - wanted, 0.01, 0.2)
    thinner = Pot(marks.end.model, 50.0, 50.0 * (1 - w) / w)
    assert_allclose(
        marks.boiling_error_share, thinner.volume_mL(20.0) / marks.end.volume_mL(20.0) - 1, rtol=1e-4
    )
    poor = [text for text in marks.warnings if "is known to" in text and "of the volume" in text]
    assert [f"which is {100 * marks.boiling_error_share:.0f} % of the volume" in text for text in poor] == [
        True
    ]


def test_less_than_a_gram_of_crystals_stands_too():
    marks = Marks.of(pot("Li2SO4", 0.55, 3.0), 0.9)
    assert 0.0 < float(Cooled.of(marks.end.model, 0.55, 0.9, 20.0).crystals_g) < 1.0
    assert marks.never_clear


def test_the_example_in_a_refusal_is_itself_taken():
    its = model("NaCl")
    with pytest.raises(InputError, match="boiling temperature") as refused:
        Reading.of_boiling(its, 150.0, 101.325)
    example = float(refused.value.example.split()[0])
    assert 0.0 < Reading.of_boiling(its, example, 101.325).mass_fraction < 0.27


def test_a_density_beside_others_is_read_with_its_doubt_on_either_side():
    start = Pot(model("NaCl"), 50.0, 450.0, others=Others.of({"HCl": 10.0}))
    read = Reading.of_pot_density(start, 1.12, 20.0)
    assert read.low_mass_fraction < read.mass_fraction < read.high_mass_fraction
    doubt = float(start.model.density.relative_doubt(read.mass_fraction, 20.0))
    for w, rho in (
        (read.low_mass_fraction, 1.12 * (1 - doubt)),
        (read.high_mass_fraction, 1.12 * (1 + doubt)),
    ):
        assert_allclose(start.with_water(50.0 * (1 - w) / w).density_g_mL(20.0), rho, rtol=1e-9)
