"""Why a batch went as it did: where it lay, what was to be expected, what explains what was seen."""

from __future__ import annotations

from dataclasses import dataclass, replace

from crystal.bench import sentences
from crystal.bench.advice import Advice
from crystal.bench.batch import Batch
from crystal.bench.boildown import Standing
from crystal.bench.cooling import DOES_NOT_POUR, Cooled, outcome_class
from crystal.bench.ends import Ends
from crystal.bench.evidence import Learned
from crystal.bench.forecast import Forecast
from crystal.bench.likelihood import THERMOMETER_K
from crystal.bench.odds import DrawnEnds, Odds
from crystal.bench.plan import Plan
from crystal.bench.pot import Pot
from crystal.bench.rescue import Rescue
from crystal.bench.risk import RISK
from crystal.bench.suspects import EXTRA, PLAUSIBLE, SIGNED, TIED, Suspect, suspects, telling_test, tied
from crystal.errors import InputError

WEIGHING_DOUBT = 0.15
"""How far a weighed crop may lie from the expected one before it needs a reason; common practice, no source."""

FIRST_CRYSTALS_DOUBT_K = 2.0
"""How far first crystals may lie from their expected temperature before that needs a reason, K."""

LATE_AT_MOST_K = 20.0
"""Undercooling, K, beyond which a solution that stays clear asks for more than patience; common practice, no source."""

EXPLAINS = 0.3
"""A cause that explains what was seen no better than this, as a logarithm, than no cause is not put forward."""

_OF_STRENGTH = (
    "more_salt",
    "less_salt",
    "too_far_reduced",
    "not_far_enough",
    "other_solutes",
    "supersaturated",
)


@dataclass(frozen=True, slots=True)
class Reason:
    """One cause, by its word, and a sentence with its numbers; ``suspect`` tells how far off, where it was weighed."""

    cause: str
    text: str
    suspect: Suspect | None = None


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
    odds : Odds
        The plan's at its end point, before anything was seen.
    verdict : str or None
        ``certain``, ``within_odds`` or ``outside_odds``: how what was seen lay in them; None where no outcome was seen.
    luck : str
        The same in a sentence with its numbers.
    reasons : tuple of Reason
        The strongest first.
    ranked : tuple of Suspect
        Every cause that was weighed, the best supported first.
    tests : tuple of str
        What would tell causes apart that what was seen cannot.
    learned : Learned or None
        What the observations say of the inputs.
    worked : Advice
        The end point that would have given a crop; ``worked_odds`` are its odds, with what was seen counted in. Where
        something was seen it is that of the bet on what was learned, as long as the plan too has a crop there.
    rescue : Rescue or None
        For a pot that does not pour.
    """

    batch: Batch
    where: str
    expected: Cooled
    outcome_expected: str | None
    outcome_seen: str | None
    agrees: bool | None
    odds: Odds
    verdict: str | None
    luck: str
    reasons: tuple[Reason, ...]
    ranked: tuple[Suspect, ...]
    tests: tuple[str, ...]
    learned: Learned | None
    worked: Advice
    worked_odds: Odds | None
    rescue: Rescue | None
    warnings: tuple[str, ...]

    @classmethod
    def of(cls, batch: Batch, *, risk: float = RISK, forecast: Forecast | None = None) -> Explanation:
        """Explain a batch.

        Parameters
        ----------
        batch : Batch
            Start, end point, cooling temperature, and what was seen if anything.
        risk : float
            Odds of a pot that does not pour that the end point of another try may bear.
        forecast : Forecast, optional
            That of the same pot and observations, where it is at hand.

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
            doubt = replace(batch.doubt, temperature=min(batch.doubt.temperature, THERMOMETER_K))
            batch = replace(batch, cool_to_C=looked_at[-1], doubt=doubt)
        if forecast is None or looked_at:
            planned = Plan.of(
                batch.start, float(batch.cool_to_C or 0.0), read_at_C=batch.read_at_C, boil_at_C=batch.boil_at_C,
                bed=batch.bed, ends=batch.end.mass_fraction, vessel_mL=batch.vessel_mL,
            )  # fmt: skip
            forecast = Forecast.of(batch, planned, risk=risk)
        plan, learned, worked_odds = forecast.plan, forecast.learned, forecast.advised
        if plan.advised is not None and plan.advised.cooled.outcome_word(0) != "crop":
            # What was seen moves the advice so far that the pot as it was told gives none there.
            plan, end = forecast.by_margin, forecast.by_margin.advice.end
            worked_odds = None if end is None else forecast.at([end.end_volume_mL])
        plan = plan.ending_at(batch.end.mass_fraction)
        draws = batch.draws()
        ranked = suspects(batch, plan.window, draws) if batch.seen else []
        expected = plan.ends.cooled
        word, seen = expected.outcome_word(0), batch.outcome_seen
        agrees = None if seen is None else outcome_class(word) == outcome_class(seen)
        found = (
            [Reason(cause, text) for cause, text in sentences.of_the_plan(plan, batch)]
            if agrees is not False
            else []
        )
        if seen is not None and not agrees:
            found += _of_the_difference(plan, batch, word, seen, ranked)
        found += _unnamed(found, _of_first_crystals(plan, batch, ranked))
        found += _unnamed(found, _of_no_crystals(plan, batch))
        if agrees:
            found += _unnamed(found, _of_the_weighing(plan, batch, ranked))
        found += _of_the_solid(plan, batch)
        found += _of_the_hot_pot(batch)
        volumes = plan.ends.end_volume_mL
        odds = DrawnEnds.of(
            batch.start, draws, plan.window.cool_to_C, volumes, read_at_C=batch.read_at_C, weighed=batch.end_weighed
        ).odds(draws, volumes)  # fmt: skip
        verdict, luck = sentences.verdict(odds, seen)
        rescue, taken_as = _rescue(batch, word, seen, ranked)
        return cls(
            batch, sentences.where_it_lay(plan, batch), expected, word, seen, agrees, odds, verdict, luck, tuple(found),
            tuple(ranked), _tests(found), learned, plan.advice, worked_odds, rescue,
            (*_several_outcomes(batch), *taken_as, *forecast.warnings, *plan.warnings),
        )  # fmt: skip


def _several_outcomes(batch: Batch) -> list[str]:
    words = list(dict.fromkeys(s.outcome for s in batch.seen if s.outcome is not None))
    if len(words) < 2 or batch.outcome_seen is None:
        return []
    told = ", ".join("set solid" if word == "set" else word for word in words)
    return [f"More than one outcome is told ({told}): the last is explained, at the temperature told last."]


def _rescue(
    batch: Batch, expected: str | None, seen: str | None, ranked: list[Suspect]
) -> tuple[Rescue | None, list[str]]:
    """Rescue a pot that does not pour; one that set against the plan is taken to hold what would explain it."""
    stuck = expected if seen is None else seen
    if outcome_class(stuck) != DOES_NOT_POUR:
        return None, []
    end = batch.end
    if outcome_class(expected) == DOES_NOT_POUR:
        return Rescue.of(batch, end.salt_g, end.water_g), []
    for suspect in ranked:
        if suspect.cause == "more_salt":
            taken_as = f"to hold {suspect.amount:.3g} times the salt that was told"
            rescue = Rescue.of(batch, end.salt_g * suspect.amount, end.water_g)
        elif suspect.cause == "too_far_reduced":
            volume = end.volume_mL() * suspect.amount
            water = float(end.water_for_volume(volume, end.read_at_C))
            taken_as = f"to have been reduced to {volume:.3g} mL"
            rescue = Rescue.of(batch, end.salt_g, max(water, 1e-6 * end.salt_g))
        else:
            continue
        return rescue, [] if rescue is None else [
            f"It went against the plan: for the rescue the pot is taken {taken_as}, the nearest that would explain it."
        ]
    return None, []


def _of_the_difference(
    plan: Plan, batch: Batch, expected: str | None, seen: str, ranked: list[Suspect]
) -> list[Reason]:
    """Reasons for an outcome that the plan did not promise, the best supported first."""
    more_solid = (outcome_class(seen) or 0) > (outcome_class(expected) or 0)
    may_be_late = not more_solid and outcome_class(expected) != DOES_NOT_POUR
    found = []
    for suspect in ranked:
        if suspect.fit < EXPLAINS:
            continue
        if suspect.cause == "supersaturated":
            if may_be_late:
                found.append(Reason("supersaturated", sentences.supersaturated(plan, batch), suspect))
        elif suspect.cause == "other_solutes":
            found.append(Reason("other_solutes", sentences.other_solutes(batch), suspect))
        elif abs(suspect.sigmas) <= PLAUSIBLE:
            found.append(Reason(suspect.cause, sentences.of_suspect(suspect, batch), suspect))
    plausible = [r for r in found if r.cause not in ("supersaturated", "other_solutes")]
    due = plan.ends.first_crystals_C(0)
    too_late = due is None or due - plan.window.cool_to_C > LATE_AT_MOST_K
    named = {reason.cause for reason in found}
    if may_be_late and "supersaturated" not in named:
        found.append(Reason("supersaturated", sentences.supersaturated(plan, batch)))
    if not plausible and (not may_be_late or too_late):
        misread = [s for s in ranked if s.cause not in EXTRA and s.fit >= EXPLAINS]
        found.append(Reason("unexplained", sentences.unexplained(batch, expected, seen, misread)))
    if more_solid and "other_solutes" not in named:
        found.append(Reason("other_solutes", sentences.other_solutes(batch)))
    return found


def _unnamed(found: list[Reason], more: list[Reason]) -> list[Reason]:
    """Those of the further reasons whose cause is not named yet."""
    named = {reason.cause for reason in found}
    return [reason for reason in more if reason.cause not in named]


def _of_first_crystals(plan: Plan, batch: Batch, ranked: list[Suspect]) -> list[Reason]:
    """What first crystals at another temperature than due say: the best supported cause, and those not told from it."""
    seen = [s for s in batch.seen if s.first_crystals_C is not None]
    if not seen:
        return []
    last = seen[-1]
    assert last.first_crystals_C is not None
    pot = _pot_at(batch, last.volume_mL)
    ends = Ends.of(pot, pot.mass_fraction, plan.window.cool_to_C, read_at_C=batch.read_at_C, bed=batch.bed)
    due = ends.first_crystals_C(0)
    if due is None or abs(last.first_crystals_C - due) <= FIRST_CRYSTALS_DOUBT_K:
        return []
    told = sentences.first_crystals(last.first_crystals_C, due)
    early = last.first_crystals_C > due
    of_strength = [
        s for s in ranked if s.cause in _OF_STRENGTH and not (early and s.cause == "supersaturated")
    ]
    reasons = [
        Reason(s.cause, sentences.of_suspect(s, batch), s) for s in (of_strength[0], *tied(of_strength))
    ]
    return [replace(reasons[0], text=f"{told} {reasons[0].text}"), *reasons[1:]]


def _of_no_crystals(plan: Plan, batch: Batch) -> list[Reason]:
    """A pot seen without crystals where they are due is late, as long as none were seen to come."""
    none = [s.no_crystals_C for s in batch.seen if s.no_crystals_C is not None and s.volume_mL is None]
    due = plan.ends.first_crystals_C(0)
    came = any(s.first_crystals_C is not None or s.outcome not in (None, "clear") for s in batch.seen)
    if not none or came or due is None or none[-1] >= due - FIRST_CRYSTALS_DOUBT_K:
        return []
    told = sentences.no_crystals(none[-1], due)
    return [Reason("supersaturated", f"{told} {sentences.supersaturated(plan, batch)}")]


def _of_the_weighing(plan: Plan, batch: Batch, ranked: list[Suspect]) -> list[Reason]:
    """What a crop lighter or heavier than expected says."""
    weighed = [s for s in batch.seen if s.crystals_g is not None]
    expected = float(plan.ends.cooled.crystals_g[0])
    if not weighed or expected <= 0:
        return []
    last = weighed[-1]
    assert last.crystals_g is not None
    share = last.crystals_g / expected
    if abs(share - 1.0) <= WEIGHING_DOUBT:
        return []
    if share > 1.0 and last.wet:
        return [Reason("losses", sentences.wet_crop(last.crystals_g, expected))]
    tell = sentences.light_crop if share < 1.0 else sentences.heavy_crop
    told = tell(last.crystals_g, expected)
    # How densely a bed settles changes the room that crystals take, not what they weigh.
    causes = [s for s in ranked if s.cause not in SIGNED["bed"] and (share < 1.0 or s.cause != "losses")]
    explain = [s for s in causes if s.fit >= EXPLAINS] or ([] if share < 1.0 else causes)
    if explain:
        reasons = [Reason(s.cause, sentences.of_suspect(s, batch), s) for s in (explain[0], *tied(explain))]
        reasons[0] = replace(reasons[0], text=f"{told} {reasons[0].text}")
    else:
        reasons = [Reason("losses", told)]  # as much as is usually lost
    if share < 1.0:
        reasons += _unnamed(reasons, [Reason("supersaturated", sentences.supersaturated(plan, batch))])
    return reasons


def _tests(found: list[Reason]) -> tuple[str, ...]:
    """What tells the best supported of the causes put forward from those that are not told from it."""
    weighed = sorted(
        (r.suspect for r in found if r.suspect is not None), key=lambda suspect: -suspect.support
    )
    if not weighed:
        return ()
    near = [s for s in weighed[1:] if s.support > weighed[0].support - TIED]
    return tuple(dict.fromkeys(telling_test(weighed[0].cause, other.cause) for other in near))


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
    """Whether a pot that stood at a told or read temperature steamed rather than boiled, or stood hotter than it can."""
    stood: list[tuple[Pot, float, str]] = []
    if batch.boil_at_C is not None and batch.end_water_g is not None:
        stood += [(batch.start, batch.boil_at_C, "steaming"), (batch.end, batch.boil_at_C, "too_hot")]
    for seen in batch.seen:
        if seen.boiling_C is not None:
            stood.append((_pot_at(batch, seen.volume_mL), seen.boiling_C, "steaming"))
    for pot, at_C, word in stood:
        standing = Standing.of(pot, at_C, batch.pressure_kPa)
        if standing is not None and standing.word == word:
            return [Reason(word, standing.text)]
    return []


def _pot_at(batch: Batch, volume_mL: float | None) -> Pot:
    """The pot at a volume that was read; at the end point where none was."""
    if volume_mL is None:
        return batch.end
    water = float(batch.start.water_for_volume(volume_mL, batch.read_at_C))
    return batch.start.with_water(water, batch.read_at_C)
