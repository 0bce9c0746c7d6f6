"""Draws: the stated spreads come out, the same seed gives the same draws, knowing an input narrows it where it lies."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from salts import model

from crystal.bench.doubt import INSTRUMENTS, UNCERTAIN, Doubt, Draws, curve_doubt
from crystal.bench.pot import Pot
from crystal.errors import InputError
from crystal.physics.calibration import Calibration

POT = Pot(model("MgSO4"), 97.7, 402.3)


def test_spreads_of_the_draws_are_those_stated():
    doubt = Doubt(volume=0.04, mass=0.01, temperature=2.5, holds=0.02, curve=0.006, bed=0.03)
    draws = Draws.of(POT, 5.0, doubt, bed=0.55)
    found = {
        "holds": np.log(draws.salt), "volume": np.log(draws.volume), "mass": np.log(draws.mass),
        "temperature": draws.temperature_K, "curve": draws.curve, "bed": draws.bed - 0.55,
    }  # fmt: skip
    for name, values in found.items():
        assert_allclose(values.std(), getattr(doubt, name), rtol=0.01, err_msg=name)
        assert abs(values.mean()) < 0.02 * getattr(doubt, name), name
    together = np.corrcoef(draws.z)
    assert np.abs(together - np.eye(len(UNCERTAIN))).max() < 0.05


def test_the_same_seed_gives_the_same_draws_to_the_last_digit():
    one, other = (Draws.of(POT, 5.0, Doubt(), bed=0.55, n=512) for _ in range(2))
    assert_array_equal(one.z, other.z)
    assert not np.array_equal(one.z, Draws.of(POT, 5.0, Doubt(), bed=0.55, n=512, seed=5).z)
    # Values that any machine must give: the sequence and the quantile are the libraries', the seed is ours.
    assert_allclose(one.z[0, :3], [1.00262, -0.00711, -1.54904], atol=1e-5)


def test_a_density_told_overrides_the_models_own():
    draws = Draws.of(POT, 5.0, Doubt(density=0.01), bed=0.55)
    assert_allclose(np.std(draws.density_error(0.5)), 0.01, rtol=0.01)
    assert_allclose(np.std(Draws.of(POT, 5.0, Doubt(), bed=0.55).density_error(0.5)), 0.5, rtol=0.01)


def test_curve_doubt_joins_other_tables_and_interpolation():
    salt = POT.model.salt
    assert salt.curve_doubt_mass_fraction is not None
    assert curve_doubt(POT.model, 5.0) >= salt.curve_doubt_mass_fraction
    fitted = POT.model.calibrated(Calibration("mine", 0.95, 0.10))
    w = 0.95 * 0.2232 / (1 - 0.2232)
    w = w / (1 + w)
    assert_allclose(curve_doubt(fitted, 5.0), 0.10 * w * (1 - w), rtol=0.05)


def test_knowing_an_input_narrows_it_where_its_mean_lies():
    draws = Draws.of(POT, 5.0, Doubt(volume=0.05), bed=0.55)
    leaning = draws.weighed(np.exp(2.0 * draws.z[1]))
    mean = float(np.log(leaning.volume) @ leaning.weights)
    assert_allclose(mean, 0.1, rtol=0.05)
    known = leaning.known("volume")
    assert_allclose(np.log(known.volume), mean, rtol=1e-9)
    narrowed = leaning.known("volume", 0.01)
    off = np.log(narrowed.volume) - float(np.log(narrowed.volume) @ narrowed.weights)
    assert_allclose(np.sqrt(off**2 @ narrowed.weights), 0.01, rtol=0.05)


def test_content_told_by_a_size_takes_over_its_doubt():
    assert_allclose(Doubt(holds=0.03, volume=0.04).of_content("volume").holds, 0.05)
    assert_allclose(Doubt(holds=0.03, mass=0.004).of_content("mass").holds, np.hypot(0.03, 0.004))
    assert Doubt().of_content("") == Doubt()


@pytest.mark.parametrize(
    ("name", "value"), [("volume", 1.0), ("holds", -0.1), ("temperature", -1.0), ("curve", 2.0)]
)
def test_impossible_doubts_are_refused(name, value):
    with pytest.raises(InputError, match=f"doubt of {name}: got .* zero or more"):
        Doubt(**{name: value})


def test_every_instrument_names_a_doubt_that_exists():
    assert {of for of, _ in INSTRUMENTS.values()} <= set(UNCERTAIN)


def test_no_bed_is_drawn_that_no_crystals_make():
    """However unsure, a settled bed is between a tenth and nine tenths solid."""
    bed = Draws.of(POT, 5.0, Doubt(bed=0.9), bed=0.55, n=1024).bed
    assert (bed.min(), bed.max()) == (0.1, 0.9)
