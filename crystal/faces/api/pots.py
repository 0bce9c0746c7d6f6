"""A pot, as the Python interface takes it, and everything that can be asked of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from crystal import units
from crystal.bench.batch import Batch, Seen
from crystal.bench.explain import Explanation
from crystal.bench.forecast import Forecast
from crystal.bench.marks import Marks as EndMarks
from crystal.bench.path import SaturationPath
from crystal.bench.plan import Plan
from crystal.bench.shift import company_notes
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.answers import yield_rows
from crystal.faces.api.given import Value, facts_of, given, in_python_words, several
from crystal.faces.api.outlook import Evidence, Odds, doubt_of
from crystal.faces.api.results import Explained, Marks, Path, Reduction, Yields
from crystal.faces.api.salts import Salt
from crystal.faces.api.tables import Result
from crystal.faces.batchfile import BatchFile
from crystal.faces.cli import yields as yield_command
from crystal.faces.cli.show import pot_line
from crystal.faces.doubts import risk_of
from crystal.faces.facts import Given, end_mass_fractions, naming_the_cold, overriding
from crystal.faces.told import Told
from crystal.faces.words import short_cautions


class Pot(Result):
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

    def __init__(self, told: Told, seen: tuple[Seen, ...] = ()) -> None:
        self._told, self._seen = told, seen
        self._catalogue = Catalogue.current(None)
        with in_python_words():
            self._start = told.start(self._catalogue)
        start = self._start
        self.salt = Salt(start.model.salt)
        self.salt_g, self.water_g, self.mass_g = start.salt_g, start.water_g, start.mass_g
        self.volume_mL, self.read_at_C = start.volume_mL(), start.read_at_C
        self.mass_percent, self.density_g_mL = 100.0 * start.mass_fraction, start.density_g_mL()

    def reduce(
        self,
        cool_to: Value | None = None,
        *,
        ends: Value | Sequence[Value] | None = None,
        read_at: Value | None = None,
        boil_at: Value | None = None,
        bed: float | None = None,
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
        batch = self._batch(cool_to=cool_to, read_at=read_at, boil_at=boil_at, bed=bed)
        wanted = None
        if ends is not None:
            sizes = several(ends, "ends", "mL")
            with in_python_words():
                read = units.end_sizes(sizes.text, what=sizes.what)
                wanted = end_mass_fractions(batch.start, read, sizes, batch.read_at_C)
        forecast = Forecast.of(batch, self._plan(batch, wanted), risk=risk_of(self._told.facts))
        return Reduction(forecast, self._told.notes)

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
        doubt: Mapping[str, float] | None = None,
        risk: float = 0.05,
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
        doubt : dict, optional
            Standard uncertainties: ``volume``, ``mass``, ``holds``, ``density`` (relative), ``temperature`` (K), ``curve``
            (mass fraction), ``bed``.
        risk : float
            Odds of a pot that does not pour which the advice may bear.
        weighed : bool
            The end point is met by the balance, not by the mark.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL")
        >>> pot.odds("5 degC").end_volume_mL > pot.odds("5 degC", by=["thermometer"], weighed=True).end_volume_mL
        True
        """
        plan = self.reduce(cool_to, ends=ends, read_at=read_at)._plan
        return Odds(plan, doubt_of(by, doubt or {}), risk, weighed=weighed)

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
        doubt: Mapping[str, float] | None = None,
    ) -> Evidence:
        """Which single cause explains best what was seen; parameters as for :meth:`explain` and :meth:`odds`.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL")
        >>> found = pot.evidence("5 degC", reduce_to="190 mL", outcome="set solid")
        >>> sorted(found.causes[:2])
        ['too_cold', 'too_far_reduced']
        """
        batch = self._batch(cool_to=cool_to, reduce_to=reduce_to, remove=remove)
        batch = self._observed(batch, outcome, crystals, weighed, None, first_crystals)
        if not batch.seen:
            raise InputError("outcome", "nothing", "something that was seen", '"set solid"')
        with in_python_words(), naming_the_cold(facts_of(cool_to=batch.cool_to_C)):
            return Evidence(batch, doubt_of(by, doubt or {}))

    def marks(self, reduce_to: Value | None = None, *, read_at: Value | None = None) -> Marks:
        """One end point told in every way that can be read at the bench.

        Parameters
        ----------
        reduce_to : str, quantity or number of mL
            The end point: "190 mL", "270 g", "40 %".
        read_at : str, quantity or number of °C, optional
            Where volume and hydrometer are read, 20.

        Examples
        --------
        >>> import crystal
        >>> pot = crystal.pot("NaCl", holds="50 g", water="450 g")
        >>> pot.marks("218 mL").rows()[0]["mark"]
        "mass of the pot's content"
        """
        with in_python_words():
            told = self._with(facts_of(reduce_to=reduce_to, read_at=read_at))
            batch = told.batch(self._catalogue, without=("cool_to",))
            if batch.end_water_g is None:
                raise InputError("reduce_to", "nothing", "the end of reducing", '"190 mL"')
            return Marks(EndMarks.of(batch.start, batch.end_water_g, read_at_C=batch.read_at_C))

    def _with(self, more: Mapping[str, Given]) -> Told:
        return replace(self._told, facts=overriding(self._told.facts, more))

    def _batch(self, **values: Value | None) -> Batch:
        """The batch with one final temperature."""
        told = self._with(facts_of(**values))
        if "cool_to" not in told.facts:
            raise InputError("cool_to", "nothing", "the temperature that the pot is cooled to", '"5 degC"')
        with in_python_words():
            return replace(told.batch(self._catalogue), seen=self._seen)

    def _plan(self, batch: Batch, ends: list[float] | None) -> Plan:
        assert batch.cool_to_C is not None
        with in_python_words(), naming_the_cold(facts_of(cool_to=batch.cool_to_C)):

            def plan(ends: list[float] | None) -> Plan:
                assert batch.cool_to_C is not None
                return Plan.of(
                    batch.start, batch.cool_to_C, read_at_C=batch.read_at_C, boil_at_C=batch.boil_at_C, bed=batch.bed,
                    ends=ends, vessel_mL=batch.vessel_mL,
                )  # fmt: skip

            found = plan(ends)
            if (
                ends is None and batch.end_water_g is not None
            ):  # a batch file's own end point joins the spread
                found = plan(sorted({*found.ends.mass_fraction.tolist(), batch.end.mass_fraction}))
        return found

    def _observed(
        self, batch: Batch, outcome: str | None, crystals: Value | None, weighed: str | None, solid: str | None,
        first_crystals: Value | None,
    ) -> Batch:  # fmt: skip
        texts = {
            name: given(value, name, unit)
            for name, value, unit in (
                ("outcome", outcome, ""), ("crystals", crystals, "g"), ("weighed", weighed, ""), ("solid", solid, ""),
                ("first_crystals", first_crystals, "degC"),
            )
            if value is not None
        }  # fmt: skip
        if not texts:
            return batch
        with in_python_words():
            return batch.with_seen(BatchFile("", "", {}, (texts,)).seen_of(batch.start.model)[0])

    def _title(self) -> str:
        return f"{self._told.title or 'A pot'} ({self.salt.formula}, {self.salt.name})"

    def _sentences(self) -> list[str]:
        return [pot_line(self._start)]

    def _remarks(self) -> list[tuple[str, Sequence[str]]]:
        return [("Cautions", short_cautions(self._start.model.salt))]
