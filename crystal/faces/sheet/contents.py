"""What stands on the bench sheet: one batch worked out for its end point."""

from __future__ import annotations

from dataclasses import dataclass

from crystal.bench.batch import Batch
from crystal.bench.cooldown import Cooldown
from crystal.bench.cooling import UNKNOWN, Cooled
from crystal.bench.ends import BOILING_C
from crystal.bench.forecast import Forecast
from crystal.bench.harvest import Harvest
from crystal.bench.keeping import Keeping
from crystal.bench.marks import Marks
from crystal.bench.odds import Odds
from crystal.bench.path import SaturationPath
from crystal.bench.pot import ROOM_C, Pot
from crystal.bench.window import EndPoint
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.advised import limits_of, plan_of
from crystal.faces.facts import Facts, temperature
from crystal.faces.harvestfacts import draining_of, humidity_percent, spilled_g, washes_of


@dataclass(frozen=True, eq=False, slots=True)
class SheetContents:
    """A batch worked out for one end point.

    Attributes
    ----------
    end : EndPoint
        The batch's own where it tells one, else the advised one.
    is_advised : bool
    stands_at_reading : bool
        Whether solid stands in the pot where its volume is read, so that a mark does not tell the end point.
    cooled : Cooled
        The pot when it is cold.
    cooldown : Cooldown or None
        None where the pot is not cooled from anything hotter.
    harvest : Harvest or None
        As the batch tells it; None where no crop is due.
    keeping : Keeping or None
        How its solid keeps in a room of 20 °C.
    odds : Odds
        At the end point, with the batch's doubts.
    sources : tuple of str
        Citations of the numbers used.
    """

    batch: Batch
    forecast: Forecast
    end: EndPoint
    is_advised: bool
    pot: Pot
    marks: Marks
    stands_at_reading: bool
    cooled: Cooled
    cooldown: Cooldown | None
    path: SaturationPath
    harvest: Harvest | None
    keeping: Keeping | None
    odds: Odds
    sources: tuple[str, ...]
    edition: str
    warnings: tuple[str, ...]

    @classmethod
    def of(
        cls, batch: Batch, catalogue: Catalogue, notes: tuple[str, ...], risk: float, facts: Facts
    ) -> SheetContents:
        """Work a batch out.

        Parameters
        ----------
        batch : Batch
            With its cooling temperature.
        catalogue : Catalogue
            For citations and the edition of the data.
        notes : tuple of str
            What the making of the pot asks to mind.
        risk : float
            Odds of a pot that does not pour which the advice may bear.
        facts : dict of str to Given
            What the batch tells of harvest and keeping; drained on a sieve, unwashed and in an ordinary room without.

        Raises
        ------
        InputError
            Where the batch tells no end point and none can be advised.
        CoverageError
            Where the cooling temperature lies outside the data.
        """
        assert batch.cool_to_C is not None
        start, cold = batch.start, batch.cool_to_C
        forecast = Forecast.of(batch, plan_of(batch), risk=risk)
        plan = forecast.plan
        own = batch.end_water_g is not None
        end = EndPoint.of(start, batch.end.mass_fraction, batch.read_at_C) if own else plan.advice.end
        if end is None:
            raise InputError(
                "the end of reducing", "nothing", f"told, for none can be advised: {plan.reason}", "190 mL"
            )
        water = start.salt_g * (1.0 - end.mass_fraction) / end.mass_fraction
        pot = start.with_water(water, batch.read_at_C)
        hot_C = min(BOILING_C, start.model.map.high_C) if batch.boil_at_C is None else batch.boil_at_C
        cooldown = Cooldown.of(pot, cold, from_C=hot_C, bed=batch.bed) if cold < hot_C else None
        marks = Marks.of(start, water, read_at_C=batch.read_at_C, pressure_kPa=batch.pressure_kPa)
        path = SaturationPath.of(start, water, cold, boil_at_C=batch.boil_at_C, bed=batch.bed)
        cooled = _state(pot, cold, batch.bed)
        harvest, keeping = None, None
        if cooled.outcome_word() in ("crop", "thick"):
            washes = washes_of(start.model, facts, cold)
            harvest = Harvest.of(
                pot, cold, draining_of(facts), washes, bed=batch.bed, spilled_g=spilled_g(facts)
            )
            room = {"at": facts["keep_at"]} if "keep_at" in facts else {}
            room_C = temperature(room, "at", ROOM_C)
            keeping = Keeping.of(
                start.model, room_C, humidity_percent(facts, room_C), solid=harvest.cake.solid
            )
        read = _state(pot, batch.read_at_C, batch.bed)
        stands = int(read.outcome) != UNKNOWN and float(read.crystals_g + read.ice_g) > 0
        said = [*marks.warnings, *(path.warnings if cooldown is None else cooldown.warnings)]
        warnings = dict.fromkeys([*forecast.warnings, *limits_of(plan), *said, *notes])
        return cls(
            batch, forecast, end, not own, pot, marks, stands, cooled, cooldown, path, harvest, keeping,
            forecast.at([end.end_volume_mL]), _sources(path, catalogue), catalogue.edition, tuple(warnings),
        )  # fmt: skip


def _state(pot: Pot, temperature_C: float, bed: float) -> Cooled:
    return Cooled.of(
        pot.model, pot.salt_g, pot.water_g, temperature_C, bed=bed, strict=False, others=pot.others
    )


def _sources(path: SaturationPath, catalogue: Catalogue) -> tuple[str, ...]:
    """Citations behind the curves of the solids met, the densities, the hazards and the cautions of the salt."""
    salt = path.model.salt
    met = {step.phase for step in path.steps}
    keys = [p.source for b in salt.branches if b.phase in met for p in b.points]
    keys += [phase.density_source for phase in salt.phases if phase.formula in met]
    keys += [share.solute.source for share in salt.density_shares]
    keys += [salt.ghs_source, *(caution.source for caution in salt.cautions)]
    keys += [salt.extra[key] for key in ("mszw_source", "boiling_source") if key in salt.extra]
    return tuple(catalogue.citation(key) for key in dict.fromkeys(keys) if key)
