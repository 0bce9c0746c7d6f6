"""What a program reads of a harvest, of crops and of keeping."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from crystal.bench.batch import Batch
from crystal.bench.crops import Crops
from crystal.bench.harvest import Cake, Harvest
from crystal.bench.keeping import Keeping, window_against_temperature
from crystal.bench.ledger import Ledger, Matter
from crystal.bench.purity import LiquorSolute, Purifying, liquor_solutes
from crystal.bench.splits import Split
from crystal.bench.weighing import Weighing
from crystal.data.catalogue import Catalogue
from crystal.faces.answers import end_answer, start_answer
from crystal.physics.humidity import Humidity

Answer = dict[str, Any]


def matter_answer(matter: Matter) -> Answer:
    """Amounts of one stream."""
    mass = matter.mass_g
    return {
        "mass_g": mass,
        "salt_g": matter.salt_g,
        "water_g": matter.water_g,
        "others_g": dict(matter.others_g),
        "liquor_mass_percent": 100.0 * matter.salt_g / mass if mass > 0 else None,
    }


def ledger_answer(ledger: Ledger) -> Answer:
    """What came in, where it is, and how far the two sums differ."""
    return {
        "in": [{"name": name} | matter_answer(matter) for name, matter in ledger.brought],
        "out": [{"name": name} | matter_answer(matter) for name, matter in ledger.found],
        "gap_g": ledger.gap_g,
    }


def solutes_answer(solutes: Iterable[LiquorSolute]) -> list[Answer]:
    """The other solutes of a liquor against their own solubility."""
    return [
        {
            "formula": s.formula,
            "g": s.grams,
            "g_per_100g_water": s.g_per_100g_water,
            "own_solubility_g_per_100g_water": s.own_g_per_100g_water,
            "own_solid": s.own_solid,
            "saturation_percent": None if s.saturation is None else 100.0 * s.saturation,
        }
        for s in solutes
    ]


def cake_answer(name: str, cake: Cake) -> Answer:
    """The cake at one stage: as drained, or after a wash."""
    dry = cake.dried
    return {
        "stage": name,
        "crystals_g": cake.crystals_g,
        "crystals_wet_g": cake.wet_g,
        "crystals_dry_g": dry.mass_g,
        "liquor_held_g": cake.clinging.mass_g,
        "purity_percent": 100.0 * cake.purity,
        "others_g": dict(dry.others_g),
    }


def harvest_answer(
    batch: Batch,
    found: Harvest,
    purifying: Purifying | None,
    weighed: Iterable[Weighing],
    catalogue: Catalogue,
    warnings: Iterable[str],
) -> Answer:
    """One harvest, with its stages, streams and ledger."""
    cake = found.cake
    boiled_off = batch.start.water_g - batch.end.water_g
    stages = [cake_answer("drained" if i == 0 else f"wash {i}", one) for i, one in enumerate(found.cakes)]
    return {
        "salt": batch.start.model.salt.formula,
        "start": start_answer(batch.start),
        "end": end_answer(batch),
        "cool_to_degC": float(found.cooled.temperature_C),
        "outcome": found.outcome,
        "phase": cake.solid,
        "method": found.how.method,
        "held_g_per_g": found.how.held_g_per_g,
        "enclosed_g_per_g": found.how.enclosed_g_per_g,
        "displaced_percent": 100.0 * found.how.displaced,
        "crystals_g": found.cakes[0].crystals_g,
        "crystals_dry_g": cake.dried.mass_g,
        "crystals_wet_g": cake.wet_g,
        "liquor_held_g": cake.clinging.mass_g,
        "washed_away_g": found.dissolved_g,
        "dried_off_g": cake.drying_loss.mass_g,
        "purity_percent": 100.0 * cake.purity,
        "yield_percent": 100.0 * found.yield_fraction,
        "apparent_yield_percent": 100.0 * found.apparent_yield_fraction,
        "weighed": [
            {
                "weighed_g": one.weighed_g,
                "wet": one.wet,
                "expected_g": one.expected_g,
                "agrees": one.agrees,
                "held_g_per_g": one.held_g_per_g,
                "text": one.text,
            }
            for one in weighed
        ],
        "stages": stages,
        "liquor": matter_answer(found.liquor),
        "washings": matter_answer(found.washed_off),
        "liquor_solutes": solutes_answer(
            liquor_solutes(found.liquor, float(found.cooled.temperature_C), catalogue)
        ),
        "purifying": None if purifying is None else purifying_answer(purifying),
        "ledger": ledger_answer(found.ledger(boiled_off_g=boiled_off)),
        "warnings": list(warnings),
    }


def purifying_answer(found: Purifying) -> Answer:
    """The rounds of recrystallising."""
    return {
        "wanted_percent": 100.0 * found.wanted,
        "reached": found.reached,
        "why": found.why,
        "rounds": [
            {
                "add_water_g": one.water_g,
                "warm_to_degC": one.warm_to_C,
                "crystals_dry_g": one.harvest.cake.dried.mass_g,
                "purity_percent": 100.0 * one.purity,
                "yield_percent": 100.0 * one.yield_fraction,
            }
            for one in found.rounds
        ],
    }


def crops_answer(
    found: Crops, splits: Sequence[Split], catalogue: Catalogue, warnings: Iterable[str]
) -> Answer:
    """The crops, why they end, the best splits and the ledger."""
    rows = []
    for number, crop in enumerate(found.crops, 1):
        harvest, cake = crop.harvest, crop.harvest.cake
        odds = crop.odds_of_setting
        rows.append(
            {
                "crop": number,
                "kind": crop.kind,
                "end_volume_mL": crop.end_point.end_volume_mL,
                "end_mass_g": crop.end_point.end_mass_g,
                "end_mass_share_percent": 100.0 * crop.end.mass_g / crop.pot.mass_g,
                "water_removed_g": crop.water_removed_g,
                "warm_to_degC": crop.warm_to_C,
                "cool_to_degC": float(harvest.cooled.temperature_C),
                "outcome": crop.outcome,
                "phase": cake.solid,
                "crystals_g": harvest.cakes[0].crystals_g,
                "crystals_wet_g": cake.wet_g,
                "crystals_dry_g": cake.dried.mass_g,
                "purity_percent": 100.0 * cake.purity,
                "yield_percent": 100.0 * cake.dried.salt_g / found.start.salt_g,
                "cumulative_yield_percent": 100.0 * crop.cumulative_yield,
                "margin_kept": crop.margin_kept,
                "odds_not_pouring_percent": None if odds is None else 100.0 * odds,
                "liquor_g": harvest.liquor.mass_g,
                "liquor_others_g_per_g": harvest.liquor.total_others_g / harvest.liquor.salt_g
                if harvest.liquor.salt_g > 0
                else None,
                "liquor_solutes": solutes_answer(
                    liquor_solutes(harvest.liquor, float(harvest.cooled.temperature_C), catalogue)
                ),
            }
        )
    return {
        "salt": found.start.model.salt.formula,
        "start": start_answer(found.start),
        "cool_to_degC": found.cool_to_C,
        "crops": rows,
        "stopped_because": found.stopped_because,
        "stopped_rule": found.rule,
        "splits": [
            {
                "crops": s.crops,
                "crop_risks_percent": None if s.crop_risks is None else [100.0 * r for r in s.crop_risks],
                "odds_any_percent": None if s.odds_of_any is None else 100.0 * s.odds_of_any,
                "odds_any_by_marks_percent": None if s.odds_by_marks is None else 100.0 * s.odds_by_marks,
                "yield_percent": 100.0 * s.yield_fraction,
                "end_volumes_mL": list(s.end_volumes_mL),
            }
            for s in splits
        ],
        "liquor": matter_answer(Matter.of(found.left)),
        "washings": matter_answer(
            Matter() if found.washings_back else Matter.sum(c.harvest.washed_off for c in found.crops)
        ),
        "ledger": ledger_answer(found.ledger()),
        "warnings": list(warnings),
    }


def humidity_answer(edge: Humidity | None) -> Answer | None:
    """One edge of a humidity window, with what it rests on."""
    if edge is None:
        return None
    return {
        "humidity_percent": edge.rh_percent,
        "doubt_percent": edge.doubt_percent,
        "basis": edge.basis if edge.source else "no water of its own",
        "source": edge.source or None,
        "provenance": edge.provenance or None,
    }


WINDOW_DEGC = np.arange(0.0, 50.5, 5.0)


def keep_answer(found: Keeping) -> Answer:
    """How a solid keeps."""
    lower, upper, _, _ = window_against_temperature(found.model, found.solid, WINDOW_DEGC)
    edges = [None if edge is None else edge.rh_percent for edge in (found.lower, found.upper)]
    return {
        "salt": found.model.salt.formula,
        "solid": found.solid,
        "temperature_degC": found.temperature_C,
        "humidity_percent": found.humidity_percent,
        "dew_point_degC": found.dew_point_C,
        "state": found.state,
        "turns_to": found.turns_to,
        "stable_humidity_percent": edges,
        "lower": humidity_answer(found.lower),
        "upper": humidity_answer(found.upper),
        "melts_degC": found.melts_C,
        "dry_below_degC": found.dry_below_C,
        "room_air_too_dry_from_degC": found.crumbles_warmer_than_C(),
        "keep_in": found.keep_in,
        "desiccant_refused": found.desiccant_refused,
        "window": [
            {
                "temperature_degC": float(t),
                "low_percent": None if np.isnan(a) else float(a),
                "high_percent": None if np.isnan(b) else float(b),
            }
            for t, a, b in zip(WINDOW_DEGC, lower, upper, strict=True)
        ],
        "warnings": list(found.warnings),
    }
