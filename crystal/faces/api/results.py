"""The results of the Python interface: a reduction, yields, a path, an explanation, end marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from crystal.bench.batch import Batch
from crystal.bench.explain import Explanation
from crystal.bench.forecast import Forecast
from crystal.bench.marks import Liquid
from crystal.bench.marks import Marks as EndMarks
from crystal.bench.path import SaturationPath
from crystal.bench.plan import Plan
from crystal.bench.window import EndPoint
from crystal.faces.answers import advice_answer, explain_answer, path_answer, reduce_answer, yield_answer
from crystal.faces.api.tables import Chart, Column, Result, degrees, word
from crystal.faces.words import (
    celsius,
    grams,
    millilitres,
    outcome_phrase,
    outcome_word,
    percent,
    short_cautions,
    three,
)


@dataclass(frozen=True, slots=True)
class Advice:
    """The end point to stop at; every size is None where none can be advised.

    ``end_volume_mL`` is that of the clear liquid at ``read_at_C``.
    """

    end_volume_mL: float | None
    fraction_of_start: float | None
    end_mass_g: float | None
    density_g_mL: float | None
    read_at_C: float
    cool_to_C: float
    crystals_g: float | None
    solid: str | None
    outcome: str | None
    reason: str

    @classmethod
    def of(cls, plan: Plan) -> Advice:
        """From the bench's plan."""
        found = advice_answer(plan)
        reason = found.pop("reason")
        solid = plan.window.start.model.solid_name(plan.advice.solid)
        return cls(
            **found,
            read_at_C=plan.window.read_at_C,
            cool_to_C=plan.window.cool_to_C,
            solid=solid,
            reason=reason,
        )

    def __str__(self) -> str:
        if self.end_volume_mL is None or self.end_mass_g is None or self.crystals_g is None:
            return self.reason
        return (
            f"Stop at {millilitres(self.end_volume_mL)} ({percent(self.fraction_of_start or 0.0)} of the start, "
            f"{grams(self.end_mass_g)}), read at {celsius(self.read_at_C)}. Cooled to {celsius(self.cool_to_C)}: "
            f"{grams(self.crystals_g)} of {self.solid}, {outcome_phrase(self.outcome)}. {self.reason}"
        )

    def _repr_html_(self) -> str:
        from html import escape

        return f"<p>{escape(str(self))}</p>"


class Reduction(Result):
    """How far to reduce a pot for one cooling temperature: the window, end points, the advice.

    Attributes
    ----------
    advice : Advice
    data : dict
        The object that ``crystal reduce --json`` prints, but the marks.
    warnings, cautions : list of str
    """

    columns = (
        Column("end_volume_mL"),
        Column("end_mass_g"),
        Column("first_crystals_degC", degrees),
        Column("outcome", word, left=True),
        Column("phase", word, left=True),
        Column("crystals_g"),
        Column("yield_percent"),
        Column("liquor_mL"),
    )

    def __init__(self, forecast: Forecast, notes: Sequence[str] = ()) -> None:
        self._forecast = forecast
        self._plan = plan = forecast.plan
        self.advice = Advice.of(plan)
        self.warnings = [*forecast.warnings, *plan.warnings, *notes]
        self.data = reduce_answer(plan, None, self.warnings, forecast)
        self.cautions = short_cautions(plan.window.start.model.salt)

    def rows(self) -> list[dict[str, Any]]:
        return list(self.data["ends"])

    def chart(self) -> Chart:
        """Crystals against end volume, over the outcomes, with the advised end point."""
        from crystal.faces.figures import window_chart

        return Chart(window_chart(self._plan, self._forecast))

    def _title(self) -> str:
        return f"{self.data['salt']} cooled to {celsius(self.advice.cool_to_C)}"

    def _sentences(self) -> list[str]:
        window = self._plan.window
        named = (
            ("crystals begin at", window.saturates),
            ("the crop pours off down to", window.pours_off_down_to),
            ("it sets solid below", window.sets_solid_below),
        )
        edges = [f"{words} {_size(end)}" for words, end in named if end is not None]
        line = "; ".join(edges) or "no crystals at any end point that the data cover"
        return [f"Window: {line}.", f"Advice: {self.advice}"]

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Mind", self.warnings), ("Cautions", self.cautions)]


def _size(end: EndPoint) -> str:
    past = ", already past at the start" if end.fraction_of_start >= 1.0 else ""
    return f"{millilitres(end.end_volume_mL)} ({percent(end.fraction_of_start)}{past})"


class Yields(Result):
    """What one end point gives at one or several temperatures.

    Attributes
    ----------
    data : dict
        The object that ``crystal yield --json`` prints.
    warnings, cautions : list of str
    """

    columns = (
        Column("cool_to_degC", degrees),
        Column("outcome", word, left=True),
        Column("phase", word, left=True),
        Column("crystals_g"),
        Column("yield_percent"),
        Column("liquor_mL"),
        Column("liquor_mass_percent"),
    )

    def __init__(self, batch: Batch, rows: list[dict[str, Any]], warnings: Sequence[str]) -> None:
        self._batch = batch
        self.warnings = list(warnings)
        self.data = yield_answer(batch, rows, self.warnings)
        self.cautions = short_cautions(batch.start.model.salt)

    def rows(self) -> list[dict[str, Any]]:
        return list(self.data["rows"])

    def chart(self) -> Chart:
        """Crystals and yield against the temperature, over everything that the data cover."""
        from crystal.faces.figures import yield_chart

        asked = [row["cool_to_degC"] for row in self.rows()]
        return Chart(yield_chart(self._batch.end, asked, bed=self._batch.bed))

    def _title(self) -> str:
        end = self.data["end"]
        return f"{self.data['salt']}, cooled from {millilitres(end['end_volume_mL'])} ({grams(end['end_mass_g'])})"

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Mind", self.warnings), ("Cautions", self.cautions)]


class Path(Result):
    """The states that a batch goes through.

    Attributes
    ----------
    data : dict
        The object that ``crystal path --json`` prints.
    warnings : list of str
    """

    columns = (
        Column("step", word, left=True),
        Column("temperature_degC", degrees),
        Column("mass_percent"),
        Column("phase", word, left=True),
        Column("crystals_g"),
        Column("liquor_g"),
        Column("liquor_mass_percent"),
    )

    def __init__(self, path: SaturationPath, warnings: Sequence[str]) -> None:
        self._path = path
        self.warnings = list(warnings)
        self.data = path_answer(path, self.warnings)

    def rows(self) -> list[dict[str, Any]]:
        return list(self.data["steps"])

    def chart(self) -> Chart:
        """The path over the phase map of the salt."""
        from crystal.faces.figures import path_chart

        return Chart(path_chart(self._path))

    def _title(self) -> str:
        return f"{self.data['salt']}: the batch on its way to {celsius(self._path.cool_to_C)}"

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Mind", self.warnings)]


class Explained(Result):
    """Why a batch went as it did, and how to save it.

    Attributes
    ----------
    data : dict
        The object that ``crystal explain --json`` prints.
    warnings, cautions : list of str
    """

    columns = (Column("cause", word, left=True), Column("text", word, left=True, within="reasons"))

    def __init__(self, found: Explanation) -> None:
        self._found = found
        self.warnings = list(found.warnings)
        self.data = explain_answer(found)
        self.cautions = short_cautions(found.batch.start.model.salt)

    def rows(self) -> list[dict[str, Any]]:
        return [
            {"cause": reason.cause.replace("_", " "), "text": reason.text} for reason in self._found.reasons
        ]

    def _title(self) -> str:
        return self._found.batch.title or f"{self.data['salt']}: why it went so"

    def _sentences(self) -> list[str]:
        found = self._found
        lines = [found.where, f"Expected: {outcome_word(found.outcome_expected)}."]
        if found.outcome_seen is not None:
            agrees = "as expected" if found.agrees else "not as expected"
            lines[-1] += f" Seen: {outcome_word(found.outcome_seen)}, {agrees}."
        end, odds = found.worked.end, found.worked_odds
        if end is not None:
            crystals = found.worked.crystals_g if odds is None else float(odds.crop_expected_g[0])
            lines.append(
                f"Most is to be expected from stopping at {millilitres(end.end_volume_mL)} ({percent(end.fraction_of_start)} of the "
                f"start): {grams(crystals)}."
            )
        rescue = found.rescue
        if rescue is not None:
            warm = "" if rescue.warm_to_C is None else f", warm to {celsius(rescue.warm_to_C)} until clear"
            lines.append(
                f"Rescue: add {grams(rescue.add_water_g)} of water{warm}, cool to {celsius(rescue.cool_to_C)}: "
                f"{grams(rescue.crystals_g)} of crystals, {outcome_word(rescue.outcome)}."
            )
        return lines

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Mind", self.warnings), ("Cautions", self.cautions)]


def _finely(value: float) -> str:
    """A reading to the digit that tells: three places for a density, a whole number for a large size."""
    return f"{value:.3f}" if value < 10 else f"{value:.1f}" if value < 200 else f"{value:.0f}"


class Marks(Result):
    """One end point told by the balance, the volume, the hydrometer and the boiling temperature.

    Attributes
    ----------
    warnings : list of str
    """

    columns = (
        Column("mark", word, left=True),
        Column("value", _finely),
        Column("unit", word, left=True),
    )

    def __init__(self, marks: EndMarks) -> None:
        self._marks = marks
        self.warnings = list(marks.warnings)

    def rows(self) -> list[dict[str, Any]]:
        marks = self._marks
        found: list[tuple[str, float | None, str]] = [("mass of the pot's content", marks.end.mass_g, "g")]
        for liquid in (marks.liquid, marks.hot):
            found += [] if liquid is None else _liquid_rows(liquid)
        found.append(
            ("boiling temperature", marks.boiling_C, f"°C, ± {three(marks.boiling_error_K or 0.0)} K")
        )
        return [
            {"mark": name, "value": value, "unit": unit} for name, value, unit in found if value is not None
        ]

    def _title(self) -> str:
        return f"{self._marks.end.model.salt.formula}: marks of one end point"

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Mind", self.warnings)]


def _liquid_rows(liquid: Liquid) -> list[tuple[str, float | None, str]]:
    at = celsius(liquid.read_at_C)
    return [
        (f"volume of the clear liquid at {at}", liquid.volume_mL, "mL"),
        (f"density at {at}", liquid.density_g_mL, "g/mL"),
        (f"hydrometer, heavy scale, at {at}", liquid.baume_degrees, "°Bé (US)"),
    ]
