"""The sentences of an explanation: facts of the model put into words with their numbers."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from crystal.bench.batch import Batch
from crystal.bench.cooling import DOES_NOT_POUR, OUTCOMES, UNKNOWN, Cooled, outcome_class
from crystal.bench.forecast import percent
from crystal.bench.odds import Odds
from crystal.bench.plan import Plan
from crystal.bench.suspects import Suspect
from crystal.physics.model import Model

WORDS = {
    "clear": "stays clear",
    "crop": "gives a crop under liquor that pours off",
    "thick": "gives a wet cake that does not pour",
    "set": "sets solid",
}

WARM_ENOUGH_K = 15.0
"""A warmer place is named as the cure only if it lies within this many kelvin."""


def where_it_lay(plan: Plan, batch: Batch) -> str:
    """Where the batch lay: its end point, its outcome, and the window around it."""
    end, cooled, t = batch.end, plan.ends.cooled, plan.window.cool_to_C
    volume = end.volume_mL()
    share = 100 * volume / batch.start.volume_mL()
    text = (
        f"At {volume:.3g} mL ({share:.3g} % of the start) the pot held {100 * end.mass_fraction:.3g} mass % "
        f"{end.model.salt.formula}; cooled to {t:g} °C it {WORDS[cooled.outcome_word(0) or 'clear']}"
    )
    if cooled.crystals_g[0] > 0:
        text += (
            f": {cooled.crystals_g[0]:.3g} g of {cooled.solids_text(0)}, "
            f"{100 * cooled.crystal_volume_fraction[0]:.0f} % of the volume"
        )
    text += "."
    window = plan.window
    marks = [
        ("crystals begin below", window.saturates),
        ("the crop stops pouring off below", window.pours_off_down_to),
        ("the pot sets solid below", window.sets_solid_below),
    ]
    told = [
        f"{name} {at.end_volume_mL:.3g} mL ({100 * at.fraction_of_start:.3g} %)" for name, at in marks if at
    ]
    if told:
        text += f" At {t:g} °C " + ", ".join(told) + "."
    return text


def of_the_plan(plan: Plan, batch: Batch) -> Iterator[tuple[str, str]]:
    """Why the plan itself leads where it leads: (cause, sentence)."""
    cooled = plan.ends.cooled
    kind = outcome_class(cooled.outcome_word(0))
    if kind == DOES_NOT_POUR:
        yield from _why_it_does_not_pour(plan, batch)
    elif kind == 0:
        yield from _why_nothing_comes(plan, batch)
    hot = plan.ends.hot
    if hot.outcome[0] != UNKNOWN and hot.crystals_g[0] > 0:
        name = batch.start.model.solid_name(int(hot.main_solid[0]))
        yield (
            "hot_solid",
            f"Already at {plan.ends.boil_at_C:g} °C, before any cooling, {hot.crystals_g[0]:.3g} g of {name} stood in the "
            "pot: that much dropped out as the water was driven off.",
        )


def _why_it_does_not_pour(plan: Plan, batch: Batch) -> Iterator[tuple[str, str]]:
    model, end, cooled = batch.start.model, batch.end, plan.ends.cooled
    volume, last = end.volume_mL(), plan.window.pours_off_down_to
    if last is not None and volume < last.end_volume_mL:
        yield (
            "too_far_reduced",
            f"Reduced to {volume:.3g} mL, it went {last.end_volume_mL - volume:.3g} mL past the last end point that pours "
            f"off at {plan.window.cool_to_C:g} °C ({last.end_volume_mL:.3g} mL, {100 * last.fraction_of_start:.3g} % of the "
            "start).",
        )
    solid = int(cooled.main_solid[0])
    x = float(model.solid_mass_fractions[solid])
    if solid >= 0 and 0.0 < x < 1.0:
        yield "hydrate_water", _hydrate_water(model, solid, x, batch, cooled)
    warmer = _warmer_that_pours(batch)
    if warmer is not None:
        yield (
            "too_cold",
            f"The same pot would still pour off at {warmer:.0f} °C: the last {warmer - plan.window.cool_to_C:.0f} K made the "
            "difference.",
        )
    yield from _melt(plan, batch)


def _hydrate_water(model: Model, solid: int, x: float, batch: Batch, cooled: Cooled) -> str:
    name, end = model.solid_name(solid), batch.end
    taken = float(cooled.crystals_g[0] - cooled.salt_in_crystals_g[0])
    text = (
        f"{name} is {100 * (1 - x):.0f} % water: the crystals took {taken:.3g} g of the pot's {end.water_g:.3g} g of water "
        f"with them"
    )
    if end.mass_fraction >= x - 0.005 and float(cooled.liquor_g[0]) <= 0:
        return (
            text
            + f". The pot had reached {100 * end.mass_fraction:.3g} mass %, the hydrate's own composition is "
            f"{100 * x:.3g}: nothing was left to be liquor."
        )
    return text + f", {100 * taken / end.water_g:.0f} % of it, and left {cooled.liquor_g[0]:.3g} g of liquor."


def _melt(plan: Plan, batch: Batch) -> Iterator[tuple[str, str]]:
    """A pot near a hydrate's own composition is its melt: clear when warm, one block when cold."""
    model, end = batch.start.model, batch.end
    for solid in model.map.solids:
        near = abs(end.mass_fraction - solid.mass_fraction) < 0.03
        if solid.melts_congruently and near and solid.top_C > plan.window.cool_to_C:
            yield (
                "melted",
                f"Above {solid.top_C:g} °C a pot of this composition is {solid.formula} melted in its own water: clear and "
                "runny while warm, one block once cold, with hardly any liquor.",
            )


def _warmer_that_pours(batch: Batch) -> float | None:
    assert batch.cool_to_C is not None
    end = batch.end
    t = batch.cool_to_C + np.arange(1.0, WARM_ENOUGH_K + 1.0)
    states = Cooled.of(end.model, end.salt_g, end.water_g, t, bed=batch.bed, strict=False, others=end.others)
    good = np.flatnonzero(states.outcome == OUTCOMES.index("crop"))
    return float(t[good[0]]) if len(good) else None


def _why_nothing_comes(plan: Plan, batch: Batch) -> Iterator[tuple[str, str]]:
    window, volume, t = plan.window, batch.end.volume_mL(), plan.window.cool_to_C
    due = plan.ends.first_crystals_C(0)
    melted = list(_melt_above(plan, batch))
    yield from melted
    if window.saturates is not None and volume > window.saturates.end_volume_mL:
        yield (
            "not_far_enough",
            f"At {volume:.3g} mL the pot is not saturated at {t:g} °C: crystals begin only below "
            f"{window.saturates.end_volume_mL:.3g} mL ({100 * window.saturates.fraction_of_start:.3g} % of the start).",
        )
    if due is not None and due < t:
        yield (
            "not_cold_enough",
            f"As it stands, its first crystals are due at {due:.3g} °C, {t - due:.2g} K colder.",
        )


def _melt_above(plan: Plan, batch: Batch) -> Iterator[tuple[str, str]]:
    model, end, t = batch.start.model, batch.end, plan.window.cool_to_C
    for solid in model.map.solids:
        if (
            solid.melts_congruently
            and solid.top_C < t
            and abs(end.mass_fraction - solid.mass_fraction) < 0.08
        ):
            yield (
                "melted",
                f"{solid.formula} melts in its own water at {solid.top_C:g} °C; at {t:g} °C the pot is that melt. It "
                "sets when it cools below, almost without liquor.",
            )


CERTAIN, HARDLY = 0.95, 0.01
"""Odds from which a plan was certain to do something, and under which it was not in it."""


def verdict(odds: Odds, seen: str | None) -> tuple[str | None, str]:
    """Whether what was seen was certain, within the plan's odds, or outside them: a word and a sentence."""
    told = ", ".join(f"{word} {percent(float(odds.odds[code, 0]))}" for code, word in enumerate(OUTCOMES))
    kind = outcome_class(seen)
    if seen is None or kind is None:
        return None, f"The odds of this plan: {told}."
    share = float(odds.does_not_pour[0] if kind == DOES_NOT_POUR else odds.odds[kind, 0])
    what = {0: "staying clear", 1: "a crop that pours off", DOES_NOT_POUR: "a pot that does not pour"}[kind]
    if share >= CERTAIN:
        return (
            "certain",
            f"The plan was all but certain to do this: its odds of {what} were {percent(share)} ({told}).",
        )
    if share >= HARDLY:
        luck = "bad luck inside the plan's odds" if share < 0.5 else "what the plan was most likely to do"
        return "within_odds", f"This was {luck}: its odds of {what} were {percent(share)} ({told})."
    return (
        "outside_odds",
        f"This was outside the plan's odds: those of {what} were {percent(share)} ({told}). Something was further off than "
        "its doubt.",
    )


def of_suspect(suspect: Suspect, batch: Batch) -> str:
    """How far one thing must have been off, how plausible that is."""
    end, by = batch.end, suspect.amount
    volume, formula, chance = end.volume_mL(), end.model.salt.formula, _chance(suspect)
    if suspect.cause in ("too_far_reduced", "not_far_enough"):
        if batch.end_weighed:
            return f"Volumes read were really {100 * by:.3g} % of the marks: {chance}."
        return f"The end volume was really about {by * volume:.3g} mL instead of {volume:.3g} mL ({100 * (by - 1):+.2g} %): {chance}."
    if suspect.cause in ("too_cold", "not_cold_enough"):
        assert batch.cool_to_C is not None
        return (
            f"The pot was really at about {batch.cool_to_C + by:.3g} °C instead of {batch.cool_to_C:g} °C ({by:+.2g} K): "
            f"{chance}."
        )
    if suspect.cause in ("less_salt", "more_salt"):
        return (
            f"The pot held about {by * end.salt_g:.3g} g of {formula} instead of {end.salt_g:.3g} g ({100 * (by - 1):+.2g} %): "
            f"{chance}."
        )
    if suspect.cause == "other_solutes":
        return f"Something else dissolved lowered what the water holds to about {100 * by:.3g} % of the pure curve: {chance}."
    if suspect.cause in ("loose_bed", "dense_bed"):
        how = "loosely" if by < 1.0 else "densely"
        return (
            f"The crystals settled more {how} than thought, {by * batch.bed:.2g} of their bed solid instead of {batch.bed:.2g} "
            f"(needles and plates: 0.4): {chance}."
        )
    if suspect.cause == "supersaturated":
        return f"Such a solution would crystallise about {by:.2g} K late on average: {chance}."
    return f"About {100 * by:.2g} % of the crystals were lost, left behind or not counted: {chance}."


def _chance(suspect: Suspect) -> str:
    times = abs(suspect.sigmas)
    one_in = 1.0 / max(suspect.odds, 1e-12)
    if times < 1.0:
        return "well within its doubt"
    if one_in < 1e4:
        return f"{times:.1f} times its doubt, odds of about 1 in {float(f'{one_in:.2g}'):.0f}"
    return f"{times:.1f} times its doubt, odds below 1 in 10000"


def supersaturated(plan: Plan, batch: Batch) -> str:
    due = plan.ends.first_crystals_C(0)
    due_then, past = (
        (f"First crystals are due at {due:.3g} °C; without", "well below that")
        if due is not None
        else ("Without", "past its saturation")
    )
    return (
        f"{due_then} a seed, dust or a scratch a quiet {batch.start.model.salt.formula} solution can stay clear {past}, "
        "and then crystallise late, all at once or only in part. Seed it with one crystal of the wanted solid and wait."
    )


def other_solutes(batch: Batch) -> str:
    return (
        "Free acid or another salt in the pot usually pushes the salt out: it crystallises earlier and more than the pure "
        f"curve of {batch.start.model.salt.formula} tells. Only what was told to be in the pot is counted (with = ...)."
    )


def unexplained(batch: Batch, expected: str | None, seen: str, misread: list[Suspect]) -> str:
    name = expected or "an unknown outcome"
    text = f"The model expects '{name}' and '{seen}' was seen: no usual misreading of volume, temperature or content explains it."
    if misread:
        text += f" The nearest would be: {of_suspect(misread[0], batch)}"
    return text


def first_crystals(seen_C: float, due_C: float) -> str:
    if seen_C > due_C:
        return (
            f"First crystals showed at {seen_C:.3g} °C, {seen_C - due_C:.2g} K earlier than due ({due_C:.3g} °C): the pot was "
            "stronger than thought (more salt, further reduced, or other solutes)."
        )
    return (
        f"First crystals showed at {seen_C:.3g} °C, {due_C - seen_C:.2g} K later than due ({due_C:.3g} °C): the solution stayed "
        "supersaturated, or the pot was weaker than thought."
    )


def no_crystals(seen_C: float, due_C: float) -> str:
    return f"No crystals at {seen_C:.3g} °C, {due_C - seen_C:.2g} K colder than they are due."


def light_crop(weighed_g: float, expected_g: float) -> str:
    return (
        f"{weighed_g:.3g} g were weighed, {100 * weighed_g / expected_g:.0f} % of the {expected_g:.3g} g expected: spilled, left "
        "in the vessel or the filter, washed away, or dried below the hydrate's own water."
    )


def wet_crop(weighed_g: float, expected_g: float) -> str:
    return (
        f"{weighed_g:.3g} g were weighed wet where {expected_g:.3g} g of crystals are expected: liquor that clings to the "
        "crystals counts in a wet weighing. Weigh again dry."
    )


def heavy_crop(weighed_g: float, expected_g: float) -> str:
    return (
        f"{weighed_g:.3g} g were weighed dry where {expected_g:.3g} g are expected: more salt in the pot than thought, or "
        "crystals not yet dry."
    )


def other_hydrate(batch: Batch, seen: str, due: str) -> str:
    solids = {s.formula: s for s in batch.start.model.map.solids}
    text = f"{seen} was seen where {due} is the stable solid at {batch.cool_to_C:g} °C."
    solid = solids.get(seen)
    if solid is not None and solid.pieces:
        low = min(p.low_C for p in solid.pieces)
        high = max(p.high_C for p in solid.pieces)
        return (
            text
            + f" {seen} stands over a solution between {low:g} and {high:g} °C: it formed there and has not changed "
            "yet; masses and water differ until it has."
        )
    return text + f" The data hold no branch for {seen} here: it may have formed out of equilibrium."
