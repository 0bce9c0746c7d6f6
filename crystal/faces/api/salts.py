"""Salts as the Python interface shows them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from crystal.bench.keeping import Keeping
from crystal.data import records
from crystal.data.catalogue import Catalogue
from crystal.faces.answers import salt_answer
from crystal.faces.api.given import Value, facts_of, given, in_python_words
from crystal.faces.api.stages import Kept
from crystal.faces.api.tables import Chart, Column, Result, word
from crystal.faces.cli.keep import named_solid
from crystal.faces.facts import Given
from crystal.faces.harvestfacts import humidity_percent
from crystal.faces.words import short_cautions, spans
from crystal.physics.model import Model
from crystal.units import temperature_C


def _listed(value: list[str]) -> str:
    return ", ".join(value)


def _spans(value: list[list[float]]) -> str:
    return spans((low, high) for low, high in value)


class Salt(Result):
    """One salt of the data.

    Attributes
    ----------
    formula, name : str
        Of the anhydrous salt.
    """

    def __init__(self, record: records.Salt) -> None:
        self._record = record
        self._model = Model.of(record)
        self.formula, self.name = record.formula, record.name

    @property
    def hydrates(self) -> list[str]:
        """Formulas of its solids but ice."""
        return list(salt_answer(self._record, self._model)["solids"])

    @property
    def covers_C(self) -> list[tuple[float, float]]:
        """Temperatures, °C, at which saturated liquors are known."""
        return [(float(low), float(high)) for low, high in self._model.map.covers_degC]

    @property
    def cautions(self) -> list[str]:
        """The cautions that go on every plan with this salt; reminders, not a safety assessment."""
        return short_cautions(self._record)

    def chart(self) -> Chart:
        """Its solubility curve."""
        from crystal.faces.figures import curve_chart

        return Chart(curve_chart(self._model))

    def keep(
        self,
        at: Value = 20.0,
        *,
        humidity: Value | None = None,
        dew_point: Value | None = None,
        solid: str | None = None,
    ) -> Kept:
        """How its crystals keep in a room: melt, crumble or stay; drying and jars.

        Parameters
        ----------
        at : str, quantity or number of °C
            The room.
        humidity : str or number of %, optional
            Its relative humidity, or ``dew_point`` (°C) instead.
        solid : str, optional
            Formula of the crystals, "MgSO4.7H2O"; what stands at that temperature unless told.

        Examples
        --------
        >>> import crystal
        >>> crystal.salt("Epsom salt").keep("22 degC", humidity="60 %").data["state"]
        'stable'
        """
        facts = facts_of(humidity=humidity, dew_point=dew_point)
        with in_python_words():
            at_C = temperature_C(given(at, "at", "degC").text, what="at")
            named = None if solid is None else named_solid(Given(solid, "solid"), self._model, told=True)
            return Kept(Keeping.of(self._model, at_C, humidity_percent(facts, at_C), solid=named))

    def _title(self) -> str:
        return f"{self.formula}, {self.name}"

    def _sentences(self) -> list[str]:
        names = self._record.common_names
        return [
            *([f"Also called {', '.join(names)}."] if names else []),
            f"Solids: {', '.join(self.hydrates)}. Liquors known: {spans(self.covers_C)}.",
        ]

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Cautions", self.cautions)]


class Salts(Result):
    """Salts found; ``[...]`` gives one by its formula."""

    columns = (
        Column("formula", word, left=True),
        Column("name", word, left=True),
        Column("solids", _listed, left=True),
        Column("covers_degC", _spans, left=True, bare=True),
    )

    def __init__(self, found: list[records.Salt], text: str) -> None:
        self._found, self._text = {one.formula: one for one in found}, text

    def rows(self) -> list[dict[str, Any]]:
        return [salt_answer(one, Model.of(one)) for one in self._found.values()]

    def __len__(self) -> int:
        return len(self._found)

    def __getitem__(self, formula: str) -> Salt:
        return Salt(self._found[formula])

    def _title(self) -> str:
        counted = "1 salt" if len(self) == 1 else f"{len(self)} salts"
        return f"{counted} for {self._text!r}" if self._text else counted


def salt(name: str) -> Salt:
    """One salt by its formula, hydrate, name or common name.

    Parameters
    ----------
    name : str
        ``"MgSO4"``, ``"MgSO4.7H2O"``, ``"magnesium sulfate"``, ``"Epsom salt"``.

    Raises
    ------
    crystal.errors.InputError
        Where nothing or more than one salt bears that name; it names the nearest.

    Examples
    --------
    >>> import crystal
    >>> crystal.salt("Epsom salt").formula
    'MgSO4'
    >>> crystal.salt("saltpetre").hydrates
    ['KNO3']
    """
    return Salt(Catalogue.current(None).find(name))


def salts(text: str = "") -> Salts:
    """Salts in whose names every word of the text occurs; all of them without a text.

    Examples
    --------
    >>> import crystal
    >>> [row["formula"] for row in crystal.salts("blue vitriol").rows()]
    ['CuSO4', 'NiSO4']
    """
    catalogue = Catalogue.current(None)
    return Salts(catalogue.search(text) or [catalogue.find(text)], text)
