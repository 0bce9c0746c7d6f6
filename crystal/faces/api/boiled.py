"""The stages after the plan, asked of a pot: boil, cool, harvest, crops."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from crystal import units
from crystal.bench.boildown import EFFICIENCY, Boildown
from crystal.bench.cooldown import Cooldown
from crystal.bench.crops import MOST_CROPS, Stops
from crystal.bench.harvest import Harvest
from crystal.bench.purity import Purifying
from crystal.bench.seeding import USUAL_SEED_MM
from crystal.bench.weighing import Weighing
from crystal.errors import InputError
from crystal.faces.api.base import ToldPot
from crystal.faces.api.given import Value, facts_of, given, in_python_words, several
from crystal.faces.api.stages import Boiling, Cooling, CropPlan, Harvested
from crystal.faces.cli import boil as boil_command
from crystal.faces.cli.cool import CURVE_H, cool_answer, exponent_of
from crystal.faces.cli.crops import crops_risk, crops_warnings, planned_crops, told_crops
from crystal.faces.cli.harvest import cooled_warnings, harvest_warnings
from crystal.faces.facts import Given, naming_the_cold, temperature
from crystal.faces.harvestanswers import crops_answer, harvest_answer
from crystal.faces.harvestfacts import draining_of, purity_of, spilled_g, washes_of
from crystal.faces.heatfacts import Air, read_log, share_of
from crystal.faces.words import short_cautions
from crystal.units.heat import length_mm, power_W


class BoiledPot(ToldPot):
    """A pot with the stages that follow its plan."""

    def boil(
        self,
        reduce_to: Value | None = None,
        *,
        power: Value | None = None,
        efficiency: Value | None = None,
        log: Path | str | None = None,
        boil_at: Value | None = None,
        read_at: Value | None = None,
        altitude: Value | None = None,
        pressure: Value | None = None,
    ) -> Boiling:
        """Water, heat and hours of boiling it down.

        Parameters
        ----------
        reduce_to : str, quantity or number of mL
            The end point: "190 mL", "270 g", "40 %".
        power : str, quantity or number of W, optional
            The heater's; ``efficiency`` is the share of it that reaches the pot, "50 %" or 0.5 unless told.
        log : path, optional
            A CSV of readings: time_h or time_min, volume_mL or mass_g, temperature_degC.
        boil_at, read_at
            As for :meth:`reduce`.
        altitude, pressure
            As for :meth:`marks`.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("KNO3", holds="120 g", water="300 g")
        >>> round(pot.boil("180 mL", power="300 W").data["water_to_drive_off_g"])
        173
        """
        with in_python_words():
            facts = self._with(
                facts_of(
                    reduce_to=reduce_to,
                    boil_at=boil_at,
                    read_at=read_at,
                    altitude=altitude,
                    pressure=pressure,
                )
            )
            batch = facts.batch(self._catalogue, without=("cool_to",))
            if batch.end_water_g is None:
                raise InputError("reduce_to", "nothing", "the end of reducing", '"190 mL"')
            air = Air.told(facts.facts)
            watts = None if power is None else power_W(given(power, "power", "W").text, what="power")
            share = EFFICIENCY
            if efficiency is not None:
                share = share_of(given(efficiency, "efficiency", "").text, "efficiency", example="50 %")
            readings = [] if log is None else read_log(str(log))
            found = Boildown.of(
                batch.start, batch.end_water_g, boil_at_C=batch.boil_at_C, pressure_kPa=air.pressure_kPa, power_W=watts,
                efficiency=share, log=readings,
            )  # fmt: skip
        standing = boil_command.standing_of(found, readings, air)
        data = boil_command.boil_answer(found, readings, standing, air, batch.read_at_C, watts, share)
        data["warnings"] = [*found.warnings, *self._told.notes]
        return Boiling(found, data)

    def cool(
        self,
        cool_to: Value | None = None,
        *,
        reduce_to: Value | None = None,
        cool_from: Value | None = None,
        hours: Value | None = None,
        exponent: Value | None = None,
        size: Value | None = None,
        seed_size: Value | None = None,
        night: Value | Sequence[Value] | None = None,
        insulated_from: Value | None = None,
    ) -> Cooling:
        """The pot on its way down: first crystals, when to seed, a curve to lead it down by.

        Parameters
        ----------
        cool_to, reduce_to
            As for :meth:`yields`, with one temperature.
        cool_from : str, quantity or number of °C, optional
            Temperature of the hot pot, 100 unless told.
        hours : str, quantity or number of h, optional
            How long it is led down, 8 unless told.
        exponent : number, optional
            How slow at first: 3 with seed, 4 without.
        size : str, quantity or number of mm, optional
            Crystals wanted: tells how much seed of ``seed_size``, 0.3 mm unless told.
        night : one or several temperatures, optional
            Nights outside to compare, °C.
        insulated_from : str, quantity or number of °C, optional
            Left from there in an insulated vessel: where it ends.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("KNO3", holds="120 g", water="300 g")
        >>> cooled = pot.cool("5 degC", reduce_to="180 mL", night="8, 2 degC")
        >>> round(cooled.data["first_crystals_degC"]), round(cooled.data["crystals_g"])
        (54, 98)
        """
        told = self._with(facts_of(cool_to=cool_to, reduce_to=reduce_to))
        batch = self._batch(cool_to=cool_to, reduce_to=reduce_to)
        assert batch.cool_to_C is not None
        with in_python_words(), naming_the_cold(told.facts):
            nights = None if night is None else several(night, "night", "degC")
            seed_mm = USUAL_SEED_MM
            if seed_size is not None:
                seed_mm = length_mm(given(seed_size, "seed_size", "mm").text, what="seed_size")
            found = Cooldown.of(
                batch.end,
                batch.cool_to_C,
                from_C=_degrees(cool_from, "cool_from"),
                hours=CURVE_H
                if hours is None
                else units.time_h(given(hours, "hours", "h").text, what="hours"),
                exponent=None if exponent is None else exponent_of(given(exponent, "exponent", "").text),
                size_mm=None if size is None else length_mm(given(size, "size", "mm").text, what="size"),
                seed_mm=seed_mm,
                nights_C=[] if nights is None else units.temperatures_C(nights.text, what=nights.what),
                insulated_from_C=_degrees(insulated_from, "insulated_from"),
                bed=batch.bed,
            )
        return Cooling(found, cool_answer(found, batch.start, [*found.warnings, *told.notes]))

    def harvest(
        self,
        cool_to: Value | None = None,
        *,
        reduce_to: Value | None = None,
        remove: Value | None = None,
        method: str | None = None,
        wash: Value | Sequence[Value] | None = None,
        wash_at: Value | None = None,
        wash_with: str | None = None,
        contact: Value | None = None,
        held: Value | None = None,
        enclosed: Value | None = None,
        spilled: Value | None = None,
        purity: Value | None = None,
    ) -> Harvested:
        """Crystals drained, washed and dried, and where every gram went.

        Parameters
        ----------
        cool_to, reduce_to, remove
            As for :meth:`yields`, with one temperature.
        method : {'drained', 'suction', 'centrifuged'}, optional
            How liquor and crystals are parted; ``held`` (g of liquor per g of crystals) goes before it.
        wash : one or several masses or volumes, optional
            Wash liquid; numbers count mL. ``wash_at`` is its temperature (°C), ``wash_with`` "water" or "saturated solution",
            ``contact`` the share of saturation that it reaches.
        enclosed : str or number, optional
            Liquor inside the crystals, g per g: "0.5 %".
        spilled : str, quantity or number of g, optional
            Liquor lost.
        purity : str or number, optional
            Purity wanted, "99.5 %" or 0.995: how often to recrystallise.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL", beside="5 g of NaCl")
        >>> crop = pot.harvest("8 degC", reduce_to="240 mL", method="suction", wash="20 mL", wash_at=8)
        >>> [row["stage"] for row in crop.rows()], crop.data["purity_percent"] > 99
        (['drained', 'wash 1'], True)
        """
        more = _harvest_facts(
            wash, method=method, wash_at=wash_at, wash_with=wash_with, contact=contact, held=held, enclosed=enclosed,
            spilled=spilled, purity=purity,
        )  # fmt: skip
        facts = self._with({**facts_of(cool_to=cool_to, reduce_to=reduce_to, remove=remove), **more}).facts
        batch = self._batch(cool_to=cool_to, reduce_to=reduce_to, remove=remove)
        assert batch.cool_to_C is not None
        with in_python_words(), naming_the_cold(facts):
            washes = washes_of(batch.start.model, facts, batch.cool_to_C)
            found = Harvest.of(
                batch.end,
                batch.cool_to_C,
                draining_of(facts),
                washes,
                bed=batch.bed,
                spilled_g=spilled_g(facts),
            )
            wanted = purity_of(facts)
            purifying = None if wanted is None else Purifying.of(found, wanted, bed=batch.bed)
            warnings = [*harvest_warnings(found, washes), *cooled_warnings(batch), *self._told.notes]
        weighed = Weighing.all_of(found, batch.seen)
        data = harvest_answer(batch, found, purifying, weighed, self._catalogue, warnings)
        return Harvested(data, short_cautions(batch.start.model.salt))

    def crops(
        self,
        cool_to: Value | None = None,
        *,
        most: int | None = None,
        least: Value | None = None,
        purity: Value | None = None,
        risk: Value | None = None,
        method: str | None = None,
        wash: Value | Sequence[Value] | None = None,
        washings_back: bool = False,
    ) -> CropPlan:
        """Crop after crop from the same liquor, until a stop rule ends them.

        Parameters
        ----------
        cool_to : str, quantity or number of °C
            Temperature of each crop.
        most : int, optional
            Crops at most, 6 unless told.
        least : str, quantity or number of g, optional
            The smallest dry crop worth its work.
        purity : str or number, optional
            The least purity of a crop, "99 %" or 0.99.
        risk : str or number, optional
            Odds that all crops together may bear of a pot that does not pour: the best splits are found for it.
        method, wash
            As for :meth:`harvest`.
        washings_back : bool
            The washings go back into the pot.

        Examples
        --------
        >>> import crystal
        >>> plan = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL").crops("8 degC", most=2)
        >>> [row["outcome"] for row in plan.rows()]
        ['crop', 'crop']
        """
        more = _harvest_facts(wash, method=method, purity=purity)
        facts = self._with({**facts_of(cool_to=cool_to), **more}).facts
        with in_python_words():
            told = told_crops(self._crops)
            stops = Stops(
                most=max(MOST_CROPS if most is None else most, len(told)),
                least_g=None
                if least is None
                else units.mass_g(given(least, "least", "g").text, what="least"),
                purity=purity_of(facts),
            )
            risked = None if risk is None else crops_risk(given(risk, "risk", "").text)
            found, splits = planned_crops(
                self._start, facts, stops, risk=risked, told=told, washings_back=washings_back
            )
            boil_at = temperature(facts, "boil_at", 0.0) if "boil_at" in facts else None
            warnings = [*crops_warnings(found, boil_at), *self._told.notes]
        return CropPlan(found, crops_answer(found, splits, self._catalogue, warnings))


def _degrees(value: Value | None, what: str) -> float | None:
    return None if value is None else units.temperature_C(given(value, what, "degC").text, what=what)


def _harvest_facts(wash: Value | Sequence[Value] | None, **values: Value | None) -> dict[str, Given]:
    washes = {} if wash is None else {"wash": several(wash, "wash", "mL")}
    return {**facts_of(**values), **washes}
