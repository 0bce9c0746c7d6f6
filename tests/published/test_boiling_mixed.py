"""Boiling of mixtures against published values, each beside its citation, and hydrochloric acid, where the answers end."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from held import Held
from salts import model

from crystal.physics.boiling_beside import VOLATILE_MOLALITY, BoilingBeside
from crystal.physics.others import Others
from crystal.physics.vapour import STANDARD_kPa, boiling_temperature_C, boiling_with_activity_C

with (Path(__file__).parent / "boiling_mixed.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def boils_beside(row: dict[str, str]) -> Held:
    """One row: ours against the published value with its tolerance."""
    salt_g, water_g = float(row["salt_g"]), float(row["water_g"])
    boiling = BoilingBeside.of(model(row["salt"]), salt_g, Others.of(json.loads(row["others_json"])))
    w = salt_g / (salt_g + water_g)
    published, tolerance = float(row["published"]), float(row["tolerance"])
    if row["quantity"] == "water_activity":
        # Two saturated salts together lie beyond the range: the activity is looked at, a boiling mark is not given.
        assert np.isnan(boiling.temperature_C(w, STANDARD_kPa))
        m = 1000.0 * salt_g / water_g / boiling.salt_g_mol
        found = float(np.exp(boiling.beside.ln_product(m, boiling.others_mol * m)[1]))
    else:
        found = float(boiling.temperature_C(w, STANDARD_kPa))
        if row["quantity"] == "elevation_K":
            found -= float(boiling_temperature_C(STANDARD_kPa))
        assert abs(found - published) < float(boiling.error_K(w, STANDARD_kPa))
    return Held(row["id"], found, published, atol=tolerance)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_mixtures_boil_as_published(row):
    boils_beside(row).check()


def test_hydrochloric_acid_shows_why_volatile_acids_end_early():
    """10 % boils at 103 °C (manufacturers' tables, recalled); water's activity alone would say 104.3."""
    boiling = BoilingBeside.of(model("NaCl"), 1e-6, Others.of({"HCl": 1.0}))
    acid_m = 1000.0 * 10.0 / 90.0 / 36.46
    assert acid_m > VOLATILE_MOLALITY
    assert np.isnan(boiling.temperature_C(1e-6 * 10.0 / 90.0, STANDARD_kPa))
    ln_water = boiling.beside.ln_product(acid_m / boiling.others_mol, acid_m)[1]
    assert 1.0 < float(boiling_with_activity_C(np.exp(ln_water), STANDARD_kPa)) - 103.0 < 1.6
