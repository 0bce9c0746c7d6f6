"""Humidity of air and of salts: dew point, the humidity over a saturated solution, the balance between two hydrates."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.humidity import HumidityTable, PairPressure, humidity_tables, pair_pressures
from crystal.physics.activity import Activity
from crystal.physics.formula import WATER_G_MOL, Hydrate
from crystal.physics.heat import enthalpy_of_formation_kJ_mol
from crystal.physics.model import Model
from crystal.physics.regions import LIQUID
from crystal.physics.species import Species
from crystal.physics.vapour import boiling_temperature_C, saturation_pressure_kPa

Floats = NDArray[np.float64]

TABLE, ROOM, ESTIMATE = "table", "known at 25 degC only", "estimate"
"""What a humidity rests on: a table that covers the temperature, one value at 25 °C, the solution's water activity."""

UNSTATED_DOUBT, ROUGH_DOUBT = 2.0, 3.0
"""Doubts in percent of humidity of sources that state none; the second is the rms difference of the vapour pressure
table from the others between 20 and 30 °C."""

ROUGH_SOURCE, ROUGH_DEGC = "CRC-vapor-pressure-saturated", (20.0, 30.0)

NEAR_K = 5.0
"""How far from the one temperature where it is known a humidity or a pair pressure is still used, K."""

FAR_K = 30.0
"""From how far away what is known corrects an estimate, K; a judgement, no source."""

SLOPE_DOUBT_PER_K, PAIR_SLOPE_PER_K = 0.4, 0.8
"""Percent of humidity per kelvin: nine tenths of the tables' slopes are below the first; a pair pressure's is steeper."""

ESTIMATE_DOUBT, HELD_DOUBT = 3.0, 10.0
"""Doubts of an estimate within the range of the ion interaction parameters, and beyond it."""

_GAS_CONSTANT_J_MOL_K = 8.314462618
_ROOM_C = 25.0
_ZERO_K = 273.15


def vapour_pressure_kPa(temperature_C: ArrayLike, rh_percent: ArrayLike) -> Floats:
    """Pressure of the water vapour in air of that relative humidity, over liquid water, kPa."""
    return np.asarray(saturation_pressure_kPa(temperature_C) * np.asarray(rh_percent, float) / 100.0)


def dew_point_C(temperature_C: ArrayLike, rh_percent: ArrayLike) -> Floats:
    """Temperature to which air must cool for dew.

    Parameters
    ----------
    temperature_C : array_like
        Temperature of the air, °C.
    rh_percent : array_like
        Its relative humidity, 0 to 100 %.

    Returns
    -------
    numpy.ndarray
        °C; NaN where it lies below 0 °C, where frost comes instead.

    References
    ----------
    IAPWS-IF97, equations 30 and 31, as :func:`saturation_pressure_kPa`.

    Examples
    --------
    >>> round(float(dew_point_C(25.0, 50.0)), 1)
    13.9
    """
    return boiling_temperature_C(vapour_pressure_kPa(temperature_C, rh_percent))


def relative_humidity_percent(temperature_C: ArrayLike, dew_point: ArrayLike) -> Floats:
    """Relative humidity, %, of air of that temperature and dew point, °C; above 100 % fog.

    Examples
    --------
    >>> round(float(relative_humidity_percent(25.0, 13.86)))
    50
    """
    return np.asarray(100.0 * saturation_pressure_kPa(dew_point) / saturation_pressure_kPa(temperature_C))


@dataclass(frozen=True, slots=True)
class Humidity:
    """A relative humidity with its doubt, both in percent; ``basis`` tells what it rests on."""

    rh_percent: float
    doubt_percent: float
    source: str
    provenance: str
    basis: str = TABLE


@dataclass(frozen=True, slots=True)
class Deliquescence:
    """Humidity over the saturated solution of one solid, from the most trusted table that covers a temperature.

    Parameters
    ----------
    tables : tuple of HumidityTable
        The most trusted first.
    """

    tables: tuple[HumidityTable, ...]

    @classmethod
    def of(cls, phase: str) -> Deliquescence:
        """The tables of a solid; empty where there are none.

        Examples
        --------
        >>> round(Deliquescence.of("NaCl").at(22.5).rh_percent, 1)
        75.4
        """
        return cls(humidity_tables().get(phase, ()))

    def at(self, temperature_C: float) -> Humidity | None:
        """The humidity at a temperature, linear between a table's points; None where no table covers it.

        Notes
        -----
        Each point left out and interpolated from its neighbours comes back within its stated uncertainty.
        """
        for table in self.tables:
            t = np.array([p.temperature_C for p in table.points])
            low, high = _span_C(table)
            if not low <= temperature_C <= high:
                continue
            after = int(np.searchsorted(t, temperature_C))
            near = {table.points[max(after - 1, 0)], table.points[after]}
            unstated = ROUGH_DOUBT if table.source == ROUGH_SOURCE else UNSTATED_DOUBT
            doubts = [unstated if p.uncertainty_percent is None else p.uncertainty_percent for p in near]
            recalled = any(p.provenance == "memory" for p in near)
            rh = float(np.interp(temperature_C, t, [p.rh_percent for p in table.points]))
            return Humidity(rh, max(doubts), table.source, "memory" if recalled else "read")
        return None

    def left_out_errors(self) -> dict[str, Floats]:
        """By source, each inner point's value less what its neighbours give, percent of humidity."""
        found = {}
        for table in self.tables:
            t = np.array([p.temperature_C for p in table.points])
            rh = np.array([p.rh_percent for p in table.points])
            share = (t[1:-1] - t[:-2]) / (t[2:] - t[:-2])
            found[table.source] = rh[1:-1] - (rh[:-2] + share * (rh[2:] - rh[:-2]))
        return found


def _span_C(table: HumidityTable) -> tuple[float, float]:
    """Temperatures over which a table is read; the rough source's only near those of a room."""
    low, high = table.points[0].temperature_C, table.points[-1].temperature_C
    return (
        (max(low, ROUGH_DEGC[0]), min(high, ROUGH_DEGC[1])) if table.source == ROUGH_SOURCE else (low, high)
    )


def saturated(model: Model, temperature_C: float) -> tuple[float, str] | None:
    """The most dilute saturated liquor at a temperature and the solid under it.

    Parameters
    ----------
    model : Model
        The salt.
    temperature_C : float
        Temperature, °C.

    Returns
    -------
    (float, str) or None
        Salt / (salt + water), and the solid's formula; None where the data do not tell.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> w, solid = saturated(Model.of(Catalogue.bundled().find("KNO3")), 20.0)
    >>> round(w / (1 - w), 3), solid
    (0.319, 'KNO3')
    """
    if not model.map.low_C <= temperature_C <= model.map.high_C:
        return None
    for at in model.map.regions(temperature_C):
        if at.known and at.region.left == LIQUID and at.region.right > 0:
            return at.left_w, model.map.solids[at.region.right].formula
    return None


def deliquescence(model: Model, solid: str, temperature_C: float) -> Humidity | None:
    """The humidity above which a solid takes up water until it is a solution.

    Parameters
    ----------
    model : Model
        The salt.
    solid : str
        One of its solids.
    temperature_C : float
        Temperature, °C.

    Returns
    -------
    Humidity or None
        From a table; else, for the solid that stands under the saturated solution, from the salt's one value at 25 °C
        within 5 K of it, or from the saturated solution's water activity, in the ratio in which that misses what is known
        within 30 K. None where nothing tells.

    Notes
    -----
    Beyond the range of the ion interaction parameters the osmotic coefficient is held at its edge. As it rises there,
    the estimate is then an upper bound, and not given where it falls.
    """
    known = _known(model, solid, temperature_C)
    if known is not None:
        return known
    over = saturated(model, temperature_C)
    if over is None or over[1] != solid:
        return None
    estimate = _by_activity(model, over[0])
    return None if estimate is None else _from_the_nearest(model, solid, temperature_C, estimate)


def _known(model: Model, solid: str, temperature_C: float) -> Humidity | None:
    """From a table, or from the salt's one value within 5 K."""
    found = Deliquescence.of(solid).at(temperature_C)
    if found is not None:
        return found
    extra, away = model.salt.extra, abs(temperature_C - _ROOM_C)
    if not extra.get("deliquescence_rh_25C_percent") or away > NEAR_K:
        return None
    over = saturated(model, temperature_C)
    if over is None or over[1] != solid:
        return None
    return Humidity(
        float(extra["deliquescence_rh_25C_percent"]),
        UNSTATED_DOUBT + SLOPE_DOUBT_PER_K * away,
        extra.get("rh_source", ""),
        extra.get("rh_provenance", ""),
        ROOM,
    )


def _from_the_nearest(model: Model, solid: str, temperature_C: float, estimate: Humidity) -> Humidity:
    """An estimate, moved to meet what is known at the nearest temperature, so that it goes on from there without a jump."""
    spans = [_span_C(table) for table in Deliquescence.of(solid).tables]
    if model.salt.extra.get("deliquescence_rh_25C_percent"):
        spans.append((_ROOM_C - NEAR_K, _ROOM_C + NEAR_K))
    edges = [min(max(temperature_C, low), high) for low, high in spans if low <= high]
    for near_C in sorted(edges, key=lambda edge: abs(edge - temperature_C)):
        away = abs(near_C - temperature_C)
        known, over = _known(model, solid, near_C), saturated(model, near_C)
        if away > FAR_K or known is None or over is None or over[1] != solid:
            continue
        there = _by_activity(model, over[0])
        if there is None:
            continue
        doubt = float(np.hypot(known.doubt_percent, SLOPE_DOUBT_PER_K * away))
        return replace(
            estimate,
            rh_percent=known.rh_percent * estimate.rh_percent / there.rh_percent,
            doubt_percent=min(doubt, estimate.doubt_percent),
        )
    return estimate


def _by_activity(model: Model, mass_fraction: float) -> Humidity | None:
    activity = Activity.of(model.salt.formula)
    if activity is None:
        return None
    m, most = float(activity.molality(mass_fraction)), activity.ions.max_molality
    if m > most:
        edge = activity.osmotic_coefficient(np.array([0.9 * most, most]))
        if not edge[1] > 1.0 or not edge[0] < edge[1]:
            return None
        phi, doubt = float(edge[1]), HELD_DOUBT
    else:
        phi, doubt = float(activity.osmotic_coefficient(m)), ESTIMATE_DOUBT
    water = 100.0 * float(np.exp(-phi * activity.ions_per_formula * m * WATER_G_MOL / 1000.0))
    return Humidity(water, doubt, activity.ions.source, "derived", ESTIMATE)


@dataclass(frozen=True, slots=True)
class Pair:
    """The balance between a hydrate and the next lower one.

    Parameters
    ----------
    pressure : PairPressure
        The published value.
    heat_kJ_mol : float or None
        Heat taken up per mole of liquid water that the hydrate gives off; None where no enthalpy is in the data.
    """

    pressure: PairPressure
    heat_kJ_mol: float | None

    @classmethod
    def below(cls, hydrate: str) -> Pair | None:
        """The balance in which this hydrate loses water; None where it is not in the data.

        Examples
        --------
        >>> pair = Pair.below("MgSO4.7H2O")
        >>> pair.pressure.lower, round(pair.at(25.0).rh_percent), Pair.below("NaCl") is None
        ('MgSO4.6H2O', 51, True)
        """
        found = next((p for p in pair_pressures() if p.hydrate == hydrate), None)
        return None if found is None else cls._of(found)

    @classmethod
    def _of(cls, found: PairPressure) -> Pair:
        own = _heat_per_water_kJ_mol(found.hydrate, found.lower)
        return cls(found, found.heat_kJ_mol if own is None else own)

    @classmethod
    def above(cls, hydrate: str) -> Pair | None:
        """The balance in which this solid takes up water to a higher hydrate; None where it is not in the data."""
        found = next((p for p in pair_pressures() if p.lower == hydrate), None)
        return None if found is None else cls._of(found)

    def at(self, temperature_C: float) -> Humidity | None:
        """The humidity of the balance; None too far from where it is known.

        Notes
        -----
        By van 't Hoff's equation with the enthalpies at 25 °C; where these are not known, the one value within 5 K.
        """
        known = self.pressure
        away = temperature_C - known.temperature_C
        if self.heat_kJ_mol is None:
            if abs(away) > NEAR_K:
                return None
            rh, doubt = known.rh_percent, known.doubt_percent + PAIR_SLOPE_PER_K * abs(away)
        else:
            inverse = 1.0 / (temperature_C + _ZERO_K) - 1.0 / (known.temperature_C + _ZERO_K)
            rh = known.rh_percent * float(np.exp(-1e3 * self.heat_kJ_mol / _GAS_CONSTANT_J_MOL_K * inverse))
            doubt = known.doubt_percent * rh / known.rh_percent + 0.1 * abs(away)
        return Humidity(min(rh, 100.0), doubt, known.source, known.provenance)


def _heat_per_water_kJ_mol(hydrate: str, lower: str) -> float | None:
    """Heat of hydrate -> lower + liquid water, per mole of that water."""
    wet, dry = Hydrate.parse(hydrate), Hydrate.parse(lower)
    ends = [enthalpy_of_formation_kJ_mol(Species.parse(_without_form(h)), "s") for h in (wet, dry)]
    water = enthalpy_of_formation_kJ_mol(Species.parse("H2O"), "l")
    if ends[0] is None or ends[1] is None or water is None:
        return None
    moles = wet.waters - dry.waters
    return (ends[1] + moles * water - ends[0]) / moles


def _without_form(hydrate: Hydrate) -> str:
    return f"{hydrate.anhydrous}.{hydrate.waters:g}H2O" if hydrate.waters else hydrate.anhydrous
