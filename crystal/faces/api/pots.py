"""A pot, as the Python interface takes it, and everything that can be asked of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from crystal import units
from crystal.bench.explain import Explanation
from crystal.bench.marks import Marks as EndMarks
from crystal.bench.path import SaturationPath
from crystal.bench.shift import company_notes
from crystal.errors import InputError
from crystal.faces.advised import marks_of
from crystal.faces.answers import yield_rows
from crystal.faces.api.boiled import BoiledPot
from crystal.faces.api.given import Value, doubts_given, facts_of, in_python_words, several
from crystal.faces.api.outlook import Evidence, Odds
from crystal.faces.api.results import Explained, Marks, Path, Reduction, Yields
from crystal.faces.cli import yields as yield_command
from crystal.faces.facts import naming_the_cold


class Pot(BoiledPot):
    """A pot of salt solution; made by :func:`crystal.pot` or :func:`crystal.batch`.

    Wherever a quantity is asked for it may be a text with its unit ("5 degC"), a pint quantity, or a plain number in the
    unit that is named: mL, g, °C. A pot read from a batch file keeps the file's end point, temperatures and
    observations; what a method is told goes before them.

    Attributes
    ----------
    salt : Salt
    salt_g, water_g, mass_g, volume_mL, mass_percent, density_g_mL : float
        At the start; ``salt_g`` counts anhydrous salt, the volume is read at ``read_at_C``.
    """

    def reduce(
        self,
        cool_to: Value | None = None,
        *,
        ends: Value | Sequence[Value] | None = None,
        read_at: Value | None = None,
        boil_at: Value | None = None,
        bed: float | None = None,
        doubt: str | Mapping[str, Value] | None = None,
        risk: Value | None = None,
    ) -> Reduction:
        """How far to boil it down.

        Parameters
        ----------
        cool_to : str, quantity or number of °C
            Temperature that it is cooled to.
        ends : one or several sizes, optional
            End points to work out: "190 mL", "270 g", "40 %" (of the start), or numbers of mL.
        read_at, boil_at : str, quantity or number of °C, optional
            Where the end volume is read (20) and where the water is driven off (100).
        bed : float, optional
            Solids' share of the settled crystals' volume: 0.55; for needles and plates 0.40.
        doubt : str or dict, optional
            Standard uncertainties: "volume=5 %, temperature=2 K, holds=3 %" or ``{"volume": "measuring cylinder"}``; plain
            numbers are shares, and K for the temperature. The usual ones unless told.
        risk : str or number, optional
            Odds of a pot that does not pour which the advice may bear, "5 %" or 0.05 unless told.

        Raises
        ------
        crystal.errors.CoverageError
            Where the temperature lies outside the data.

        Examples
        --------
        >>> import crystal
        >>> plan = crystal.pot("KNO3", holds="120 g", water="300 g").reduce(cool_to="5 degC")
        >>> round(plan.advice.end_volume_mL), plan.advice.outcome
        (128, 'crop')
        """
        batch = self._batch(doubts_given(doubt), cool_to=cool_to, read_at=read_at, boil_at=boil_at, bed=bed)
        forecast = self._forecast(batch, ends, risk)
        marks = marks_of(batch, forecast.plan)
        return Reduction(forecast, [*self._told.notes, *(marks.heat_warnings if marks else ())])

    def yields(
        self,
        cool_to: Value | Sequence[Value] | None = None,
        *,
        reduce_to: Value | None = None,
        remove: Value | None = None,
        read_at: Value | None = None,
        boil_at: Value | None = None,
        bed: float | None = None,
    ) -> Yields:
        """What comes out at one or several temperatures.

        Parameters
        ----------
        cool_to : one or several temperatures
            "20, 10, 5 degC" or ``[20, 10, 5]`` (°C).
        reduce_to : str, quantity or number of mL, optional
            End of reducing: "190 mL", "270 g", "40 %"; as it stands unless told.
        remove : str, quantity or number of g, optional
            Water taken out instead: "300 g" or "5 %".
        read_at, boil_at, bed
            As for :meth:`reduce`.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("KNO3", holds="120 g", water="300 g")
        >>> [round(row["crystals_g"]) for row in pot.yields([20, 5], reduce_to="180 mL").rows()]
        [79, 98]
        """
        more = facts_of(reduce_to=reduce_to, remove=remove, read_at=read_at, boil_at=boil_at, bed=bed)
        if cool_to is not None:
            more["cool_to"] = several(cool_to, "cool_to", "degC")
        told = self._with(more)
        cold = told.facts.get("cool_to")
        if cold is None:
            raise InputError("cool_to", "nothing", "one or several final temperatures", "[20, 10, 5]")
        with in_python_words(), naming_the_cold(told.facts):
            temperatures = units.temperatures_C(cold.text, what=cold.what)
            batch = told.batch(self._catalogue, without=("cool_to",))
            cooled = yield_command.cooled_at(batch, temperatures)
        warnings = yield_command.warnings_of(batch, cooled)
        beside = company_notes(batch.end, temperatures[0])
        return Yields(batch, yield_rows(cooled), [*warnings, *beside, *told.notes])

    def path(
        self,
        cool_to: Value | None = None,
        *,
        reduce_to: Value | None = None,
        remove: Value | None = None,
        read_at: Value | None = None,
        boil_at: Value | None = None,
    ) -> Path:
        """The way of the batch over the phase map; parameters as for :meth:`yields`, with one temperature.

        Examples
        --------
        >>> import crystal
        >>> path = crystal.pot("KNO3", holds="120 g", water="300 g").path(5, reduce_to="180 mL")
        >>> [row["step"] for row in path.rows()]
        ['start', 'boiled down', 'first crystals', 'end']
        """
        batch = self._batch(
            cool_to=cool_to, reduce_to=reduce_to, remove=remove, read_at=read_at, boil_at=boil_at
        )
        start, end = batch.start, batch.end
        with in_python_words(), naming_the_cold(facts_of(cool_to=batch.cool_to_C)):
            found = SaturationPath.of(
                start, end.water_g, float(batch.cool_to_C or 0.0), boil_at_C=batch.boil_at_C, bed=batch.bed
            )
        strong = start.model.density.warnings(
            [start.mass_fraction, end.mass_fraction], [start.read_at_C, end.read_at_C]
        )
        return Path(found, [*found.warnings, *strong, *self._told.notes])

    def explain(
        self,
        cool_to: Value | None = None,
        *,
        reduce_to: Value | None = None,
        remove: Value | None = None,
        read_at: Value | None = None,
        outcome: str | None = None,
        crystals: Value | None = None,
        weighed: str | None = None,
        solid: str | None = None,
        first_crystals: Value | None = None,
    ) -> Explained:
        """Why a batch went as it did, and how to save it.

        Parameters
        ----------
        cool_to, reduce_to, remove, read_at
            As for :meth:`yields`, with one temperature.
        outcome : {'clear', 'crop', 'thick', 'set solid'}, optional
            What was seen.
        crystals : str, quantity or number of g, optional
            Crystals weighed; ``weighed`` tells "wet" or "dry".
        solid : str, optional
            Formula of the solid, where it is known.
        first_crystals : str, quantity or number of °C, optional
            Where the first crystals showed.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL")
        >>> why = pot.explain("5 degC", reduce_to="150 mL", outcome="set solid")
        >>> why.data["reasons"][0]["cause"]
        'too_far_reduced'
        """
        batch = self._batch(cool_to=cool_to, reduce_to=reduce_to, remove=remove, read_at=read_at)
        batch = self._observed(batch, outcome, crystals, weighed, solid, first_crystals)
        with in_python_words(), naming_the_cold(facts_of(cool_to=batch.cool_to_C)):
            found = Explanation.of(batch)
        return Explained(replace(found, warnings=(*found.warnings, *self._told.notes)))

    def odds(
        self,
        cool_to: Value | None = None,
        *,
        ends: Value | Sequence[Value] | None = None,
        by: Sequence[str] = (),
        doubt: str | Mapping[str, Value] | None = None,
        risk: Value | None = None,
        weighed: bool = False,
        read_at: Value | None = None,
    ) -> Odds:
        """Odds of each outcome at each end point, with everything that is not known exactly.

        Parameters
        ----------
        cool_to, ends, read_at
            As for :meth:`reduce`.
        by : sequence of str
            Instruments: "beaker mark", "measuring cylinder", "volumetric flask", "kitchen balance", "lab balance",
            "thermometer", "room", "overnight outdoors". A beaker and a night outdoors unless told.
        doubt, risk
            As for :meth:`reduce`.
        weighed : bool
            The end point is met by the balance, not by the mark.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL")
        >>> pot.odds("5 degC").end_volume_mL > pot.odds("5 degC", by=["thermometer"], weighed=True).end_volume_mL
        True
        """
        batch = self._batch(doubts_given(doubt, by), cool_to=cool_to, read_at=read_at)
        batch = replace(batch, end_weighed=weighed or batch.end_weighed)
        return Odds(self._forecast(batch, ends, risk))

    def evidence(
        self,
        cool_to: Value | None = None,
        *,
        reduce_to: Value | None = None,
        remove: Value | None = None,
        outcome: str | None = None,
        crystals: Value | None = None,
        weighed: str | None = None,
        first_crystals: Value | None = None,
        by: Sequence[str] = (),
        doubt: str | Mapping[str, Value] | None = None,
    ) -> Evidence:
        """Which single cause explains best what was seen; parameters as for :meth:`explain` and :meth:`odds`.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL")
        >>> found = pot.evidence("5 degC", reduce_to="190 mL", outcome="set solid")
        >>> "too_cold" in found.causes[:2]
        True
        """
        batch = self._batch(doubts_given(doubt, by), cool_to=cool_to, reduce_to=reduce_to, remove=remove)
        batch = self._observed(batch, outcome, crystals, weighed, None, first_crystals)
        if not batch.seen:
            raise InputError("outcome", "nothing", "something that was seen", '"set solid"')
        with in_python_words(), naming_the_cold(facts_of(cool_to=batch.cool_to_C)):
            return Evidence(batch)

    def marks(
        self,
        reduce_to: Value | None = None,
        *,
        read_at: Value | None = None,
        altitude: Value | None = None,
        pressure: Value | None = None,
    ) -> Marks:
        """One end point told in every way that can be read at the bench.

        Parameters
        ----------
        reduce_to : str, quantity or number of mL
            The end point: "190 mL", "270 g", "40 %".
        read_at : str, quantity or number of °C, optional
            Where volume and hydrometer are read, 20.
        altitude : str, quantity or number of m, optional
            Where the bench stands, for the boiling temperature; ``pressure`` (kPa) is the barometer's instead.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("NaCl", holds="50 g", water="450 g")
        >>> pot.marks("218 mL").rows()[0]["mark"]
        "mass of the pot's content"
        >>> [round(pot.marks("218 mL", altitude=m).rows()[-1]["value"], 1) for m in (0, "1200 m")]
        [105.0, 100.9]
        """
        with in_python_words():
            told = self._with(
                facts_of(reduce_to=reduce_to, read_at=read_at, altitude=altitude, pressure=pressure)
            )
            batch = told.batch(self._catalogue, without=("cool_to",))
            if batch.end_water_g is None:
                raise InputError("reduce_to", "nothing", "the end of reducing", '"190 mL"')
            return Marks(
                EndMarks.of(
                    batch.start, batch.end_water_g, read_at_C=batch.read_at_C, pressure_kPa=batch.pressure_kPa
                )
            )
