"""Why a batch went as it did: where it lay, what was to be expected, what explains what was seen."""

from __future__ import annotations

from dataclasses import dataclass, replace

from crystal.bench import sentences
from crystal.bench.advice import Advice
from crystal.bench.batch import Batch
from crystal.bench.boildown import Standing
from crystal.bench.causes import DOES_NOT_POUR, PLAUSIBLE, Shift, outcome_class, shifts_that_explain
from crystal.bench.cooling import Cooled
from crystal.bench.ends import Ends
from crystal.bench.plan import Plan
from crystal.bench.rescue import Rescue
from crystal.errors import InputError

WEIGHING_DOUBT = 0.15
"""How far a weighed crop may lie from the expected one before it needs a reason; common practice, no source."""

FIRST_CRYSTALS_DOUBT_K = 2.0
"""How far first crystals may lie from their expected temperature before that needs a reason, K."""


LATE_AT_MOST_K = 20.0
"""Undercooling, K, beyond which a solution that stays clear asks for more than patience; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One cause, by its word, and a sentence with its numbers."""

    cause: str
    text: str


@dataclass(frozen=True, eq=False)
class Explanation:
    """What was to be expected of a batch and what explains what was seen.

    Attributes
    ----------
    expected : Cooled
        The pot at the end point, cooled.
    outcome_expected, outcome_seen : str or None
        Words of ``OUTCOMES``.
    agrees : bool or None
        Whether they are of one class ('thick' and 'set' both do not pour); None where nothing was seen.
    reasons : tuple of Reason
        The strongest first.
    worked : Advice
        The end point that would have given a crop.
    rescue : Rescue or None
        For a pot that does not pour.
    """

    batch: Batch
    where: str
    expected: Cooled
    outcome_expected: str | None
    outcome_seen: str | None
    agrees: bool | None
    reasons: tuple[Reason, ...]
    worked: Advice
    rescue: Rescue | None
    warnings: tuple[str, ...]

    @classmethod
    def of(cls, batch: Batch) -> Explanation:
        """Explain a batch.

        Parameters
        ----------
        batch : Batch
            Start, end point, cooling temperature, and what was seen if anything.

        Raises
        ------
        InputError
            Where the batch has no cooling temperature.
        CoverageError
            Where that temperature lies outside the data.
        """
        if batch.cool_to_C is None and all(s.temperature_C is None for s in batch.seen):
            raise InputError("[cool] to", "nothing", "the temperature that the pot was cooled to", "5 degC")
        looked_at = [s.temperature_C for s in batch.seen if s.temperature_C is not None]
        if looked_at:
            batch = replace(batch, cool_to_C=looked_at[-1])
        end = batch.end
        plan = Plan.of(
            batch.start, float(batch.cool_to_C or 0.0), read_at_C=batch.read_at_C, boil_at_C=batch.boil_at_C, bed=batch.bed,
            ends=end.mass_fraction, vessel_mL=batch.vessel_mL,
        )  # fmt: skip
        expected = plan.ends.cooled
        word, seen = expected.outcome_word(0), batch.outcome_seen
        agrees = None if seen is None else outcome_class(word) == outcome_class(seen)
        shifts = [] if seen is None or agrees else shifts_that_explain(batch, seen)
        found = (
            [Reason(cause, text) for cause, text in sentences.of_the_plan(plan, batch)]
            if agrees is not False
            else []
        )
        if seen is not None and not agrees:
            found += _of_the_difference(plan, batch, word, seen, shifts)
        found += _of_first_crystals(plan, batch)
        if agrees:
            found += _of_the_weighing(plan, batch)
        found += _of_the_solid(plan, batch)
        found += _of_the_hot_pot(batch)
        rescue = _rescue(batch, word, seen, shifts)
        return cls(
            batch, sentences.where_it_lay(plan, batch), expected, word, seen, agrees, tuple(found), plan.advice, rescue,
            plan.warnings,
        )  # fmt: skip


def _rescue(batch: Batch, expected: str | None, seen: str | None, shifts: list[Shift]) -> Rescue | None:
    """Rescue a pot that does not pour; one that set against the plan is taken to hold what would explain it."""
    stuck = expected if seen is None else seen
    if outcome_class(stuck) != DOES_NOT_POUR:
        return None
    if outcome_class(expected) == DOES_NOT_POUR:
        return Rescue.of(batch, batch.end.salt_g, batch.end.water_g)
    stronger = [s for s in shifts if s.water_g != batch.end.water_g or s.salt_g != batch.end.salt_g]
    return Rescue.of(batch, stronger[0].salt_g, stronger[0].water_g) if stronger else None


def _of_the_difference(
    plan: Plan, batch: Batch, expected: str | None, seen: str, shifts: list[Shift]
) -> list[Reason]:
    """Reasons for an outcome that the plan did not promise, the most plausible first."""
    found = []
    plausible = [s for s in shifts if s.sigmas <= PLAUSIBLE]
    more_solid = (outcome_class(seen) or 0) > (outcome_class(expected) or 0)
    due = plan.ends.first_crystals_C(0)
    may_be_late = not more_solid and outcome_class(expected) != DOES_NOT_POUR
    if may_be_late:
        found.append(Reason("supersaturated", sentences.supersaturated(plan, batch)))
    too_late = due is None or due - plan.window.cool_to_C > LATE_AT_MOST_K
    found += [Reason(s.cause, sentences.of_shift(s, batch, seen)) for s in plausible]
    if more_solid:
        found.append(Reason("other_solutes", sentences.other_solutes(batch)))
    if not plausible and (not may_be_late or too_late):
        found.append(Reason("unexplained", sentences.unexplained(batch, expected, seen, shifts)))
    return found


def _of_first_crystals(plan: Plan, batch: Batch) -> list[Reason]:
    seen = [s.first_crystals_C for s in batch.seen if s.first_crystals_C is not None]
    due = plan.ends.first_crystals_C(0)
    if not seen or due is None or abs(seen[-1] - due) <= FIRST_CRYSTALS_DOUBT_K:
        return []
    cause = "more_salt" if seen[-1] > due else "supersaturated"
    return [Reason(cause, sentences.first_crystals(seen[-1], due))]


def _of_the_weighing(plan: Plan, batch: Batch) -> list[Reason]:
    weighed = [s for s in batch.seen if s.crystals_g is not None]
    expected = float(plan.ends.cooled.crystals_g[0])
    if not weighed or expected <= 0:
        return []
    last = weighed[-1]
    assert last.crystals_g is not None
    share = last.crystals_g / expected
    if abs(share - 1.0) <= WEIGHING_DOUBT:
        return []
    if share < 1.0:
        return [Reason("losses", sentences.light_crop(last.crystals_g, expected)),
                Reason("supersaturated", sentences.supersaturated(plan, batch))]  # fmt: skip
    if last.wet:
        return [Reason("losses", sentences.wet_crop(last.crystals_g, expected))]
    return [Reason("more_salt", sentences.heavy_crop(last.crystals_g, expected))]


def _of_the_solid(plan: Plan, batch: Batch) -> list[Reason]:
    named = [s.solid for s in batch.seen if s.solid is not None]
    if not named:
        return []
    ends: Ends = plan.ends
    due = ends.start.model.solid_name(int(ends.cooled.main_solid[0]))
    if due is None or named[-1] == due:
        return []
    return [Reason("other_hydrate", sentences.other_hydrate(batch, named[-1], due))]


def _of_the_hot_pot(batch: Batch) -> list[Reason]:
    """Whether a pot that stood at a told temperature steamed rather than boiled, or stood hotter than it can."""
    at_C = batch.boil_at_C
    if at_C is None or batch.end_water_g is None:
        return []
    for pot, word in ((batch.start, "steaming"), (batch.end, "too_hot")):
        standing = Standing.of(pot, at_C, batch.pressure_kPa)
        if standing is not None and standing.word == word:
            return [Reason(word, standing.text)]
    return []
