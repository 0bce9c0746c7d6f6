"""Values of our own that guard against change: one seed gives one answer, on every machine, to the last digits told."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from salts import model

from crystal.bench.batch import Batch, Seen
from crystal.bench.doubt import normal_numbers
from crystal.bench.evidence import learn
from crystal.bench.forecast import Forecast
from crystal.bench.plan import Plan
from crystal.bench.pot import Pot

BATCH = Batch(Pot(model("MgSO4"), 97.7, 402.3), cool_to_C=5.0)


def test_normal_numbers():
    """The first, second and last of 4096, for each of the seven doubts."""
    found = normal_numbers(7, 4096)[:, [0, 1, -1]]
    expected = [
        [1.0026201835666237, -0.007109149915956298, 1.0035191801992276],
        [-2.4430978355377193, 0.5487630582304561, 1.2413479880443439],
        [1.0468911570446113, -0.8494222368078347, 0.4785782382300324],
        [0.28227607379792863, -1.093544761200161, -0.49922875086360347],
        [1.28258961794466, -0.4720160589357856, -1.2626807706997574],
        [-0.09488465785546092, 0.5350229349912563, -0.30047702980638646],
        [-1.065784156966021, 0.1413163265517919, 1.0414805367283317],
    ]
    assert_allclose(found, expected, rtol=1e-9)


def test_odds_and_advice():
    found = Forecast.of(BATCH, Plan.of(BATCH.start, 5.0))
    counts = 4096 * found.at([370.0, 300.0, 240.0, 200.0, 150.0]).odds
    assert_allclose(counts, np.round(counts), atol=1e-6)
    expected = [
        [3018, 83, 0, 0, 0],
        [1069, 4004, 3898, 3473, 212],
        [0, 0, 189, 594, 3293],
        [9, 9, 9, 29, 591],
    ]
    # A draw on an edge may fall to either side where a machine rounds otherwise.
    assert_allclose(counts, expected, atol=1.5)
    assert found.bet.end is not None
    assert found.bet.end.end_volume_mL == pytest.approx(240.0, abs=1e-6)
    assert found.bet.expected_g == pytest.approx(95.5872, abs=0.05)


def test_evidence():
    batch = BATCH.with_seen(Seen(first_crystals_C=50.0, volume_mL=240.0, mass_g=330.0))
    learned = learn(batch, batch.draws())
    assert learned.redrawn == 2
    assert learned.effective_size == pytest.approx(1193.72, abs=0.1)
    assert learned.means["holds"] == pytest.approx(3.11728, abs=1e-4)
    assert learned.spreads["volume"] == pytest.approx(0.177873, abs=1e-5)
