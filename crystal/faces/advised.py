"""The advice as every face gives it: the batch's plan, a wanted crop, and the sentences that tell where to stop and why."""

from __future__ import annotations

from collections.abc import Sequence

from crystal import units
from crystal.bench.batch import Batch
from crystal.bench.cooling import OUTCOMES
from crystal.bench.forecast import Forecast
from crystal.bench.forecast import percent as percent_of
from crystal.bench.marks import Marks
from crystal.bench.odds import Odds
from crystal.bench.plan import Plan
from crystal.bench.want import Want
from crystal.bench.window import EndPoint
from crystal.errors import InputError
from crystal.faces.facts import Given, require_same_salt
from crystal.faces.words import celsius, grams, millilitres, outcome_phrase, outcome_word, percent, three


def plan_of(batch: Batch, ends: Sequence[float] | None = None) -> Plan:
    """The plan of a batch that has its final temperature; ``ends`` are compositions of end points."""
    assert batch.cool_to_C is not None
    return Plan.of(
        batch.start, batch.cool_to_C, read_at_C=batch.read_at_C, boil_at_C=batch.boil_at_C,
        bed=batch.bed, ends=None if ends is None else list(ends), vessel_mL=batch.vessel_mL,
    )  # fmt: skip


def limits_of(plan: Plan) -> list[str]:
    """Those of a plan's warnings that hold for any of its end points: what the vessel and the salt bear."""
    return [text for text in plan.warnings if "worked below" in text or "vessel" in text]


def want_of(plan: Plan, given: Given, warnings: list[str]) -> Want:
    """How a wanted crop is come by; what to mind with it is added to the warnings."""
    model = plan.window.start.model
    amount = units.amount_of(given.text, what=given.what)
    want = Want.of(plan, amount.grams)
    if amount.formula is not None:
        require_same_salt(model, amount.formula, given)
        solid = want.solid
        if solid is not None and abs(amount.formula.waters - (model.salt.phase(solid).waters or 0.0)) > 1e-9:
            raise InputError(
                given.what, repr(given.text), f"crystals of {solid}, which is what comes at {plan.window.cool_to_C:g} degC",
                f"50 g of {solid}",
            )  # fmt: skip
    advised = plan.advice.end
    if want.end is None:
        warnings.append(
            f"No amount of this solution gives a crop at {plan.window.cool_to_C:g} degC by reducing it."
        )
    elif (
        want.feed_factor == 1.0
        and advised is not None
        and want.end.mass_fraction > advised.mass_fraction * (1 + 1e-9)
    ):
        warnings.append(
            f"The end point for {want.crystals_g:.3g} g lies beyond the advised one: it leaves less room for a misread "
            "mark or a colder night."
        )
    return want


def marks_of(batch: Batch, plan: Plan) -> Marks | None:
    """The advised end point in every way that it can be told; None where none is advised."""
    end = plan.advice.end
    if end is None:
        return None
    return Marks.at(
        batch.start, end.mass_fraction, read_at_C=batch.read_at_C, pressure_kPa=batch.pressure_kPa
    )


def size_text(end: EndPoint) -> str:
    """An end point by its sizes: '204 mL (40.8 % of the start, 250 g)'."""
    return f"{millilitres(end.end_volume_mL)} ({percent(end.fraction_of_start)} of the start, {grams(end.end_mass_g)})"


def stop_line(plan: Plan) -> str | None:
    """Where to stop and what comes of it; None where no end point can be advised."""
    end = plan.advice.end
    if end is None or plan.advised is None:
        return None
    window, cooled = plan.window, plan.advised.cooled
    # Over crystals no hydrometer shows this density; the marks then tell where it can be read.
    clear = plan.advised.slurry_mL(0) is None
    rho = f", where the liquor measures {end.end_mass_g / end.end_volume_mL:.3f} g/mL" if clear else ""
    return (
        f"Stop at {size_text(end)}, read at {celsius(window.read_at_C)}{rho}. Cooled to "
        f"{celsius(window.cool_to_C)}: {grams(float(cooled.crystals_g[0]))} of "
        f"{cooled.solids_text(0) or 'crystals'}, {outcome_phrase(cooled.outcome_word(0))}."
    )


def odds_line(odds: Odds) -> str:
    """The odds at one end point, and the crystals that it leaves to drain."""
    told = ", ".join(
        f"{outcome_word(word)} {percent_of(float(odds.odds[code, 0]))}" for code, word in enumerate(OUTCOMES)
    )
    band = f"{three(float(odds.crop_p10_g[0]))} to {grams(float(odds.crop_p90_g[0]))}"
    return f"Odds there: {told}. Crystals to drain: {grams(float(odds.crop_expected_g[0]))} expected, {band} in 80 of 100 cases."


def advice_lines(forecast: Forecast) -> list[str]:
    """The advice in sentences: where to stop, why, with which odds, and which doubt costs most."""
    lines = (
        stop_line(forecast.plan),
        f"Why: {forecast.plan.reason}",
        None if forecast.advised is None else odds_line(forecast.advised),
        forecast.costs_most,
    )
    return [line for line in lines if line is not None]


def want_line(plan: Plan, want: Want) -> str:
    """How the wanted crop is come by, in a sentence."""
    window = plan.window
    if (
        want.end is None
        or want.feed_factor is None
        or want.feed_volume_mL is None
        or want.feed_mass_g is None
    ):
        return "There is no end point that gives it."
    if want.feed_factor == 1.0:
        return f"Stop at {size_text(want.end)}: {grams(want.crystals_g)} of {want.solid}, {outcome_phrase(want.outcome)}."
    return (
        f"Take {millilitres(want.feed_volume_mL)} ({grams(want.feed_mass_g)}, {three(want.feed_factor)} times the pot) "
        f"of the same solution and stop at {millilitres(want.end.end_volume_mL)} "
        f"({percent(want.end.fraction_of_start)} of it, {grams(want.end.end_mass_g)}), read at "
        f"{celsius(window.read_at_C)}: {outcome_phrase(want.outcome)}."
    )
