"""What a program reads: results as plain objects whose keys end in their unit; absent is None."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from crystal.bench.batch import Batch
from crystal.bench.cooling import OUTCOMES, UNKNOWN, Cooled
from crystal.bench.ends import Ends
from crystal.bench.evidence import Learned, contradictions
from crystal.bench.explain import Explanation
from crystal.bench.forecast import Forecast
from crystal.bench.odds import Odds
from crystal.bench.path import SaturationPath
from crystal.bench.plan import Plan
from crystal.bench.pot import Pot
from crystal.bench.shift import Shift
from crystal.bench.suspects import Suspect
from crystal.bench.want import Want
from crystal.bench.window import EndPoint, Window
from crystal.data.records import Salt
from crystal.physics.calibration import Calibration
from crystal.physics.model import Model

Answer = dict[str, Any]


def start_answer(pot: Pot) -> Answer:
    """The pot at the start; its volume is that of the clear liquid at its own reading temperature."""
    return {
        "volume_mL": pot.volume_mL(),
        "mass_g": pot.mass_g,
        "salt_g": pot.salt_g,
        "water_g": pot.water_g,
        "mass_percent": 100.0 * pot.mass_fraction,
        "density_g_mL": pot.density_g_mL(),
        "read_at_degC": pot.read_at_C,
        "curve": calibration_answer(pot.model.calibration),
        "others": [
            {"formula": formula, "g": grams, "mass_percent": 100.0 * grams / pot.mass_g}
            for formula, grams in pot.others.amounts_g.items()
        ],
    }


def shift_answer(shift: Shift | None) -> Answer:
    """What others do to the solubility, salt per water against the salt's own liquor; None where nothing is told."""
    return {
        "shift_percent": None if shift is None else shift.percent,
        "shift_doubt_percent": None if shift is None else shift.doubt_percent,
    }


def calibration_answer(curve: Calibration | None) -> Answer | None:
    """The calibrated curve that an answer rests on; None for the pure salt's."""
    if curve is None:
        return None
    return {
        "name": curve.name,
        "factor": curve.factor,
        "doubt_percent": 100.0 * curve.doubt,
        "points": curve.points,
    }


def end_point_answer(end: EndPoint | None, *, strength: bool = False) -> Answer | None:
    """A threshold or an end point by its sizes."""
    if end is None:
        return None
    sizes = {
        "end_volume_mL": end.end_volume_mL,
        "fraction_of_start": end.fraction_of_start,
        "end_mass_g": end.end_mass_g,
    }
    return sizes | {"mass_percent": 100.0 * end.mass_fraction} if strength else sizes


def solids_answer(cooled: Cooled, index: int | tuple[int, ...] = ()) -> list[Answer] | None:
    """Every solid with its mass, the heavier first; None where the data do not tell."""
    if int(cooled.outcome[index]) == UNKNOWN:
        return None
    return [{"phase": phase, "g": grams} for phase, grams in cooled.solids_g(index)]


def cooled_answer(cooled: Cooled, index: int | tuple[int, ...] = ()) -> Answer:
    """What one pot becomes at its final temperature."""
    if int(cooled.outcome[index]) == UNKNOWN:
        keys = (
            "outcome", "phase", "solids", "crystals_g", "yield_percent", "liquor_g", "liquor_mL",
            "liquor_mass_percent", "crystal_volume_fraction", "ice_g",
        )  # fmt: skip
        return dict.fromkeys(keys)
    liquor_g = float(cooled.liquor_g[index])
    strength = (
        100.0 * float(cooled.liquor_mass_fraction[index])
        if cooled.equilibrium.liquor_fraction[index] > 0
        else None
    )
    return {
        "outcome": cooled.outcome_word(index),
        "phase": cooled.model.solid_name(int(cooled.main_solid[index])),
        "solids": solids_answer(cooled, index),
        "crystals_g": float(cooled.crystals_g[index]),
        "yield_percent": 100.0 * float(cooled.yield_fraction[index]),
        "liquor_g": liquor_g,
        "liquor_mL": float(cooled.liquor_mL[index]),
        "liquor_mass_percent": strength,
        "crystal_volume_fraction": float(cooled.crystal_volume_fraction[index]),
        "ice_g": float(cooled.ice_g[index]),
    }


def end_rows(ends: Ends) -> list[Answer]:
    """One object for each end point."""
    return [
        {
            "end_volume_mL": float(ends.end_volume_mL[i]),
            "fraction_of_start": float(ends.fraction_of_start[i]),
            "end_mass_g": float(ends.end_mass_g[i]),
            "water_removed_g": float(ends.water_removed_g[i]),
            "mass_percent": 100.0 * float(ends.mass_fraction[i]),
            "slurry_mL": ends.slurry_mL(i),
            "first_crystals_degC": ends.first_crystals_C(i),
            "solids_while_hot": solids_answer(ends.hot, i),
        }
        | cooled_answer(ends.cooled, i)
        for i in range(len(ends.mass_fraction))
    ]


def bands_answer(window: Window) -> list[Answer]:
    """The bands of outcomes from the start to the dry salt."""
    return [
        {
            "from_mL": band.start.end_volume_mL,
            "to_mL": band.end.end_volume_mL,
            "outcome": band.outcome,
            "phase": window.start.model.solid_name(band.solid),
        }
        for band in window.bands
    ]


def odds_answer(odds: Odds, index: int) -> Answer:
    """Odds of each outcome, and the crystals that can be drained: expected, and the band that holds in 80 of 100 cases."""
    return {
        "odds": {word: float(odds.odds[code, index]) for code, word in enumerate(OUTCOMES)},
        "crop_g": {
            "p10": float(odds.crop_p10_g[index]),
            "expected": float(odds.crop_expected_g[index]),
            "p90": float(odds.crop_p90_g[index]),
        },
    }


def forecast_answer(forecast: Forecast) -> Answer:
    """What goes with the advice where a plan has odds, and what was learned."""
    bet, advised, learned = forecast.bet, forecast.advised, forecast.learned
    nothing: Answer = {"odds": None, "crop_g": None}
    return {
        "advice": (nothing if advised is None else odds_answer(advised, 0))
        | {
            "odds_not_pouring_fraction": None if advised is None else float(advised.does_not_pour[0]),
            "risk_fraction": bet.risk,
            "risk_kept": bet.end is not None,
            "least_odds_not_pouring_fraction": bet.least_risk if bet.least_risk <= 1.0 else None,
            "safe_from_mL": None if bet.safe is None else bet.safe.high_mL,
            "safe_to_mL": None if bet.safe is None else bet.safe.low_mL,
        },
        "doubts": [
            {
                "input": gain.name,
                "costs_g": gain.exact_g,
                "how": gain.how,
                "measured_better_g": gain.with_it_g if gain.how else None,
                "then_safe_from_mL": gain.with_it.high_mL if gain.with_it else None,
                "then_safe_to_mL": gain.with_it.low_mL if gain.with_it else None,
            }
            for gain in forecast.gains
        ],
        "evidence": None if learned is None else evidence_answer(learned),
    }


def evidence_answer(learned: Learned) -> Answer:
    """What the observations did to the draws; means and spreads count standard uncertainties as they were before."""
    return {
        "draws": len(learned.draws),
        "effective_draws": learned.effective_size,
        "redrawn": learned.redrawn,
        "widened": learned.widened,
        "contradictions": contradictions(learned),
        "inputs": [
            {"input": name, "mean": learned.means[name], "spread": learned.spreads[name]}
            for name in learned.means
        ],
    }


def advice_answer(plan: Plan) -> Answer:
    """The end point to stop at; its sizes are None where none can be advised."""
    keys = ("end_volume_mL", "fraction_of_start", "end_mass_g", "density_g_mL", "crystals_g", "outcome")
    found: Answer = dict.fromkeys(keys)
    if plan.advice.end is not None and plan.advised is not None:
        found |= end_point_answer(plan.advice.end) or {}
        found["density_g_mL"] = plan.advice.end.end_mass_g / plan.advice.end.end_volume_mL
        found["crystals_g"] = float(plan.advised.cooled.crystals_g[0])
        found["outcome"] = plan.advised.cooled.outcome_word(0)
    return found | {"reason": plan.reason}


def want_answer(want: Want) -> Answer:
    """How a wanted crop is come by; the end point belongs to the feed of ``feed_factor``."""
    sizes = end_point_answer(want.end) or dict.fromkeys(("end_volume_mL", "fraction_of_start", "end_mass_g"))
    return {
        "crystals_g": want.crystals_g,
        **sizes,
        "outcome": want.outcome,
        "feed_factor": want.feed_factor,
        "feed_volume_mL": want.feed_volume_mL,
        "feed_mass_g": want.feed_mass_g,
    }


def reduce_answer(
    plan: Plan, want: Want | None, warnings: Iterable[str], forecast: Forecast | None = None
) -> Answer:
    """The window, the end points and the advice; with odds where there is a forecast."""
    window = plan.window
    rows, advice, more = end_rows(plan.ends), advice_answer(plan), {}
    if forecast is not None:
        more = forecast_answer(forecast)
        rows = [row | odds_answer(forecast.ends, i) for i, row in enumerate(rows)]
        advice |= more.pop("advice")
    return {
        "salt": window.start.model.salt.formula,
        "start": start_answer(window.start),
        "cool_to_degC": window.cool_to_C,
        "read_at_degC": window.read_at_C,
        "boil_at_degC": plan.ends.boil_at_C,
        "bed_fraction": window.bed,
        "saturates": end_point_answer(window.saturates, strength=True),
        "pours_off_down_to": end_point_answer(window.pours_off_down_to),
        "sets_solid_below": end_point_answer(window.sets_solid_below),
        "bands": bands_answer(window),
        "ends": rows,
        "advice": advice,
        **more,
        "want": None if want is None else want_answer(want),
        **shift_answer(plan.shift),
        "warnings": list(warnings),
    }


def end_answer(batch: Batch) -> Answer:
    """The pot at the end of reducing, by its sizes."""
    end = EndPoint.of(batch.start, batch.end.mass_fraction, batch.end.read_at_C)
    return {
        **(end_point_answer(end) or {}),
        "water_removed_g": batch.start.water_g - batch.end.water_g,
        "mass_percent": 100.0 * batch.end.mass_fraction,
    }


def yield_answer(batch: Batch, rows: list[Answer], warnings: Iterable[str]) -> Answer:
    """Crystals at one or several temperatures."""
    return {
        "salt": batch.start.model.salt.formula,
        "start": start_answer(batch.start),
        "end": end_answer(batch),
        "rows": rows,
        "warnings": list(warnings),
    }


def yield_rows(cooled: Cooled) -> list[Answer]:
    """One object for each final temperature."""
    return [
        {"cool_to_degC": float(cooled.temperature_C[i])}
        | cooled_answer(cooled, i)
        | shift_answer(Shift.of_cooled(cooled, i))
        for i in range(len(cooled.temperature_C))
    ]


def path_answer(path: SaturationPath, warnings: Iterable[str]) -> Answer:
    """The states that a batch goes through."""
    return {
        "salt": path.model.salt.formula,
        "start": start_answer(path.start),
        "steps": [
            {
                "step": step.name,
                "temperature_degC": step.temperature_C,
                "mass_percent": 100.0 * step.mass_fraction,
                "salt_g": step.salt_g,
                "water_g": step.water_g,
                "phase": step.phase,
                "solids": None if step.solids is None else [{"phase": p, "g": g} for p, g in step.solids],
                "crystals_g": step.crystals_g,
                "liquor_g": step.liquor_g,
                "liquor_mass_percent": 100.0 * step.liquor_mass_fraction
                if step.liquor_mass_fraction is not None and step.liquor_g
                else None,
            }
            for step in path.steps
        ],
        **shift_answer(Shift.of(path.start, path.cool_to_C, path.end_water_g)),
        "warnings": list(warnings),
    }


def suspect_answer(suspect: Suspect) -> Answer:
    """One cause taken alone: how far off it must have been, in stated doubts and in its own unit, and how plausible that is."""
    kelvin = suspect.cause in ("too_cold", "not_cold_enough", "supersaturated")
    return {
        "cause": suspect.cause,
        "off_K": suspect.amount if kelvin else None,
        "off_factor": None
        if kelvin
        else 1.0 - suspect.amount
        if suspect.cause == "losses"
        else suspect.amount,
        "times_doubt": suspect.sigmas,
        "odds_fraction": suspect.odds,
        "support": suspect.support,
    }


def explain_answer(found: Explanation) -> Answer:
    """What was to be expected of a batch, why it went otherwise, and how it can be saved."""
    end, rescue = found.worked.end, found.rescue
    worked = None
    if end is not None:
        worked = {
            "end_volume_mL": end.end_volume_mL,
            "fraction_of_start": end.fraction_of_start,
            "crystals_g": found.worked.crystals_g,
            "odds": None if found.worked_odds is None else odds_answer(found.worked_odds, 0)["odds"],
        }
    return {
        "salt": found.batch.start.model.salt.formula,
        "title": found.batch.title or None,
        "start": start_answer(found.batch.start),
        "end": end_answer(found.batch),
        "expected": {"cool_to_degC": float(found.expected.temperature_C[0])}
        | cooled_answer(found.expected, 0)
        | shift_answer(Shift.of_cooled(found.expected, 0)),
        "outcome_expected": found.outcome_expected,
        "outcome_seen": found.outcome_seen,
        "agrees": found.agrees,
        **odds_answer(found.odds, 0),
        "verdict": found.verdict,
        "luck": found.luck,
        "reasons": [{"cause": reason.cause, "text": reason.text} for reason in found.reasons],
        "suspects": [suspect_answer(suspect) for suspect in found.ranked],
        "tests": list(found.tests),
        "evidence": None if found.learned is None else evidence_answer(found.learned),
        "would_have_worked": worked,
        "rescue": None
        if rescue is None
        else {
            "add_water_g": rescue.add_water_g,
            "warm_to_degC": rescue.warm_to_C,
            "cool_to_degC": rescue.cool_to_C,
            "crystals_g": rescue.crystals_g,
            "outcome": rescue.outcome,
        },
        "warnings": list(found.warnings),
    }


def salt_answer(salt: Salt, model: Model) -> Answer:
    """One salt in the list of what is covered."""
    return {
        "formula": salt.formula,
        "name": salt.name,
        "solids": [phase.formula for phase in salt.phases if not phase.is_ice],
        "covers_degC": [[low, high] for low, high in model.map.covers_degC],
    }
