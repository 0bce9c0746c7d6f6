"""What follows the reduction in the Python interface: boiling, cooling, harvest, crops, keeping."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from crystal.bench.boildown import Boildown
from crystal.bench.cooldown import Cooldown
from crystal.bench.crops import Crops
from crystal.bench.keeping import Keeping
from crystal.errors import InputError
from crystal.faces.api.tables import Chart, Column, Result, degrees, word
from crystal.faces.cli.boil import hours_text
from crystal.faces.harvestanswers import keep_answer
from crystal.faces.words import celsius, grams, millilitres, outcome_phrase, percent, short_cautions, three

Data = dict[str, Any]


class Stage(Result):
    """One stage of the work.

    Attributes
    ----------
    data : dict
        The object that the command of that name prints with ``--json``.
    warnings, cautions : list of str
    """

    def __init__(self, data: Data, cautions: Sequence[str]) -> None:
        self.data = data
        self.warnings = list(data["warnings"])
        self.cautions = list(cautions)

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Mind", self.warnings), ("Cautions", self.cautions)]


class Boiling(Stage):
    """Water, heat and hours of boiling down; its rows are the log's readings."""

    columns = (
        Column("time_h", lambda value: f"{value:.2f}", within="log"),
        Column("volume_mL"),
        Column("mass_g"),
        Column("temperature_degC", degrees),
        Column("water_g", within="log"),
    )

    def __init__(self, found: Boildown, data: Data) -> None:
        super().__init__(data, short_cautions(found.start.model.salt))
        self._found = found

    def rows(self) -> list[dict[str, Any]]:
        return list(self.data["log"])

    def chart(self) -> Chart:
        """The log, its fit and the forecast; needs a log."""
        from crystal.faces.figures.boil import boil_chart

        if self._found.fit is None:
            raise InputError("log", "nothing", "told for a chart", '"log.csv"')
        return Chart(boil_chart(self._found))

    def _title(self) -> str:
        return f"{self.data['salt']}: boiled down to {millilitres(self.data['end_volume_mL'])}"

    def _sentences(self) -> list[str]:
        data, found = self.data, self._found
        lines = [
            f"{grams(data['water_to_drive_off_g'])} of water to drive off: {three(data['sensible_heat_kJ'])} kJ to warm the pot "
            f"to {celsius(data['boil_at_degC'])}, {three(data['latent_heat_kJ'])} kJ to evaporate the water."
        ]
        if found.power_h is not None:
            lines.append(f"By the heater's power: {hours_text(found.power_h)}.")
        if found.fit is not None and found.left_h is not None:
            lines.append(
                f"By the log: {found.fit.rate_g_h:.0f} g of water an hour; {hours_text(max(found.left_h, 0.0))} after the last "
                "reading at the end mark."
            )
        return lines


class Cooling(Stage):
    """A pot on its way down: first crystals, seed, a curve to lead it down by; its rows are that curve's."""

    columns = (
        Column("time_h"),
        Column("temperature_degC", lambda value: f"{value:.1f}"),
        Column("crystals_g"),
    )

    def __init__(self, found: Cooldown, data: Data) -> None:
        super().__init__(data, short_cautions(found.pot.model.salt))
        self._found = found

    def rows(self) -> list[dict[str, Any]]:
        return [] if self.data["controlled"] is None else list(self.data["controlled"]["rows"])

    def chart(self) -> Chart:
        """Temperature and crystals against time."""
        from crystal.faces.figures.cool import cool_chart

        return Chart(cool_chart(self._found))

    def _title(self) -> str:
        data = self.data
        return f"{data['salt']}: cooled from {celsius(data['cool_from_degC'])} to {celsius(data['cool_to_degC'])}"

    def _sentences(self) -> list[str]:
        data, lines = self.data, []
        if data["first_crystals_degC"] is not None:
            seed = "" if data["seed_at_degC"] is None else f"; seed at {data['seed_at_degC']:.1f} °C"
            lines.append(
                f"First crystals, {data['first_solid']}, at {data['first_crystals_degC']:.1f} °C{seed}."
            )
        if data["phase"] is None:
            lines.append("At the end: no crystals.")
        else:
            lines.append(
                f"At the end: {grams(data['crystals_g'])} of {data['phase']}, {outcome_phrase(data['outcome'])}."
            )
        if data["seed"] is not None:
            seed = data["seed"]
            lines.append(
                f"Seed: {grams(seed['seed_g'])} of grains of {seed['seed_mm']:g} mm for {seed['size_mm']:g} mm."
            )
        lines += [
            f"A night at {celsius(night['temperature_degC'])}: "
            + (
                "not in the data."
                if night["crystals_g"] is None
                else f"{grams(night['crystals_g'])}, {night['outcome']}."
            )
            for night in data["night"]
        ]
        return lines


class Harvested(Stage):
    """Crystals drained, washed and dried; its rows are the stages of the cake."""

    columns = (
        Column("stage", word, left=True),
        Column("crystals_g"),
        Column("liquor_held_g"),
        Column("crystals_wet_g"),
        Column("crystals_dry_g"),
        Column("purity_percent", lambda value: f"{value:.4g}"),
    )

    def rows(self) -> list[dict[str, Any]]:
        return list(self.data["stages"])

    def _title(self) -> str:
        return f"{self.data['phase'] or self.data['salt']}: harvest at {celsius(self.data['cool_to_degC'])}"

    def _sentences(self) -> list[str]:
        data = self.data
        return [
            f"{grams(data['crystals_dry_g'])} dry, {data['yield_percent']:.3g} % of the salt; {grams(data['liquor']['mass_g'])} "
            f"of liquor; the ledger closes to {data['ledger']['gap_g']:.1g} g."
        ]


class CropPlan(Stage):
    """Crop after crop from one pot."""

    columns = (
        Column("crop", word),
        Column("end_volume_mL"),
        Column("outcome", word, left=True),
        Column("crystals_dry_g"),
        Column("purity_percent", lambda value: f"{value:.4g}"),
        Column("cumulative_yield_percent"),
        Column("liquor_g"),
    )

    def __init__(self, found: Crops, data: Data) -> None:
        super().__init__(data, short_cautions(found.start.model.salt))
        self._found = found

    def rows(self) -> list[dict[str, Any]]:
        return list(self.data["crops"])

    def chart(self) -> Chart:
        """Yield and purity crop by crop; needs at least one crop."""
        from crystal.faces.figures.crops import crops_chart

        if not self._found.crops:
            raise InputError("crops", "none", "at least one for a chart")
        return Chart(crops_chart(self._found))

    def _title(self) -> str:
        return f"{self.data['salt']}: crops at {celsius(self.data['cool_to_degC'])}"

    def _sentences(self) -> list[str]:
        return [f"Stopped because {self.data['stopped_because']}"]


class Kept(Stage):
    """How a solid keeps in a room's air; its rows are its humidity window against temperature."""

    columns = (
        Column("temperature_degC", degrees),
        Column("low_percent"),
        Column("high_percent"),
    )

    def __init__(self, found: Keeping) -> None:
        super().__init__(keep_answer(found), short_cautions(found.model.salt))
        self._found = found

    def rows(self) -> list[dict[str, Any]]:
        return list(self.data["window"])

    def chart(self) -> Chart:
        """The humidity window against temperature."""
        from crystal.faces.figures.keeping import keeping_chart

        return Chart(keeping_chart(self._found))

    def _title(self) -> str:
        return f"{self._found.solid} at {celsius(self._found.temperature_C)}"

    def _sentences(self) -> list[str]:
        found, lines = self._found, []
        if found.humidity_percent is not None:
            lines.append(f"In air of {percent(found.humidity_percent / 100)}: {found.state or 'not known'}.")
        return [*lines, f"Dry it below {celsius(found.dry_below_C)}.", found.keep_in]
