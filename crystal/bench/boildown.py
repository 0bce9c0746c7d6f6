"""Boiling a pot down to an end point: water, heat, hours by the heater's power or by the pot's own log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.bench.marks import heat_warnings
from crystal.bench.pot import Pot
from crystal.bench.rate import RateFit
from crystal.errors import InputError
from crystal.physics.boiling import at_least_C
from crystal.physics.boiling_beside import boiling_of
from crystal.physics.heat_capacity import solution_J_K
from crystal.physics.vapour import STANDARD_kPa, boiling_temperature_C, latent_heat_kJ_kg

Floats = NDArray[np.float64]

EFFICIENCY = 0.5
"""Share of a hotplate's power that reaches the water, unless told: common practice, no source; 0.1 to 0.7 occurs."""

READING_ERROR = 0.05
"""A beaker's marks are good to 5 % either way: as printed on beakers; taken as even odds inside (5 %/sqrt 3)."""

BALANCE_ERROR_G = 1.0
"""Standard error of a kitchen balance, g."""

SOON_H = 0.25
WARMING_BY_K = 15.0
"""A reading so much colder than the log's hottest was taken while the pot was heating up; common practice, no source."""

STEAMING_BY_K = 2.0
"""A pot this far below its boiling temperature, beyond that one's own error, steams."""


@dataclass(frozen=True, slots=True)
class LogReading:
    """One reading of a pot that boils down: hours since the start, and its volume as it stands, or its mass."""

    hours: float
    volume_mL: float | None = None
    mass_g: float | None = None
    temperature_C: float | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """How a hot pot stands against its boiling temperature: ``steaming``, ``boiling`` or ``too_hot``."""

    word: str
    temperature_C: float
    boiling_C: float
    error_K: float

    @classmethod
    def of(cls, pot: Pot, temperature_C: float, pressure_kPa: float = STANDARD_kPa) -> Standing | None:
        """Judge a pot's temperature; None where its boiling temperature is not known.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> pot = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 60.0, 300.0)
        >>> Standing.of(pot, 93.0).word
        'steaming'
        """
        known = boiling_of(pot.model, pot.salt_g, pot.others)
        boils = float(known.temperature_C(pot.mass_fraction, pressure_kPa))
        if np.isnan(boils):
            # Dissolved matter only raises it: below water's own the pot steams for sure.
            water_C = float(boiling_temperature_C(pressure_kPa))
            return (
                cls("steaming", temperature_C, water_C, 0.0)
                if temperature_C < water_C - STEAMING_BY_K
                else None
            )
        error = float(known.error_K(pot.mass_fraction, pressure_kPa))
        if temperature_C < boils - error - STEAMING_BY_K:
            word = "steaming"
        elif temperature_C <= boils + error + STEAMING_BY_K:
            word = "boiling"
        else:
            word = "too_hot"
        return cls(word, temperature_C, boils, error)

    @property
    def text(self) -> str:
        """The finding in a sentence."""
        if self.word == "steaming":
            return (
                f"At {self.temperature_C:.0f} °C it steams and does not boil (it would boil at "
                f"{'or above ' if not self.error_K else ''}{self.boiling_C:.0f} °C): usual for an open pot on a hotplate; "
                "its temperature is no mark, and climbs by some kelvin as the pot empties."
            )
        if self.word == "boiling":
            return f"At {self.temperature_C:.0f} °C it boils (by its composition at {self.boiling_C:.0f} °C)."
        return (
            f"At {self.temperature_C:.0f} °C it stands above its boiling temperature of {self.boiling_C:.0f} °C: it is "
            "stronger than thought, or the thermometer touches the vessel."
        )


@dataclass(frozen=True, slots=True)
class Energy:
    """Heat that boiling down takes, kJ: to warm the pot, and to drive the water off."""

    sensible_kJ: float
    latent_kJ: float
    boil_at_C: float

    @classmethod
    def of(cls, start: Pot, end_water_g: float, boil_at_C: float) -> Energy:
        """Reckon the heat from where the pot stands (its reading temperature).

        The vapour leaves at ``boil_at_C``; what it takes on above is nothing, what the salt gives or takes is left out.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> pot = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 60.0, 300.0)
        >>> heat = Energy.of(pot, 200.0, 100.0)
        >>> round(heat.sensible_kJ), round(heat.latent_kJ)
        (103, 226)
        """
        warm_K = max(boil_at_C - start.read_at_C, 0.0)
        capacity = float(solution_J_K(start.salt_g + start.others.total_g, start.water_g))
        latent = (start.water_g - end_water_g) * float(latent_heat_kJ_kg(boil_at_C))
        return cls(capacity * warm_K / 1000.0, latent / 1000.0, boil_at_C)

    @property
    def total_kJ(self) -> float:
        return self.sensible_kJ + self.latent_kJ

    def hours(self, power_W: float, efficiency: float) -> float:
        """Time that a heater of that power takes, h."""
        return self.total_kJ * 1000.0 / (power_W * efficiency) / 3600.0

    def rate_g_h(self, power_W: float, efficiency: float) -> float:
        """Water that it drives off once the pot is hot, g/h."""
        return power_W * efficiency * 3600.0 / (1000.0 * float(latent_heat_kJ_kg(self.boil_at_C))) * 1000.0


@dataclass(frozen=True, eq=False, slots=True)
class Boildown:
    """A plan, or a running log, of boiling one pot down to an end point.

    ``end_h``, ``early_h``, ``late_h`` are on the log's clock where there is a log, else hours from a cold start;
    the latter two None where there is no such bound. ``left_h`` is what is still to go after the last reading.
    """

    start: Pot
    end_water_g: float
    energy: Energy
    power_h: float | None
    fit: RateFit | None
    end_h: float | None
    early_h: float | None
    late_h: float | None
    left_h: float | None
    warnings: tuple[str, ...]

    @property
    def end(self) -> Pot:
        return self.start.with_water(self.end_water_g)

    @classmethod
    def of(
        cls,
        start: Pot,
        end_water_g: float,
        *,
        boil_at_C: float | None = None,
        pressure_kPa: float = STANDARD_kPa,
        power_W: float | None = None,
        efficiency: float = EFFICIENCY,
        log: Sequence[LogReading] = (),
        log_read_at_C: float | None = None,
        reading_error: float = READING_ERROR,
        warm_up_h: float | None = None,
    ) -> Boildown:
        """Work out heat and hours.

        Parameters
        ----------
        start : Pot
            The pot before reducing.
        end_water_g : float
            Water left at the end point, g.
        boil_at_C : float, optional
            Temperature at which the pot stands while the water goes, °C; half-way boiling temperature unless told.
        pressure_kPa : float
            The air's pressure, kPa.
        power_W, efficiency : float
            The heater's power, and the share of it that reaches the water.
        log : sequence of LogReading
            Readings so far; at least two after the warm-up, or none.
        log_read_at_C : float, optional
            Temperature at which the log's volumes were read, °C; as ``boil_at_C`` unless a reading tells its own.
        reading_error : float
            How far a volume may be misread, relative, either way; masses to a gram.
        warm_up_h : float, optional
            As in :meth:`RateFit.of`; unless told, readings well below the log's hottest are left out before that.

        Raises
        ------
        InputError
            Where the end point holds more water than the start, or the log cannot be used.
        """
        if not end_water_g < start.water_g:
            raise InputError(
                "end",
                f"{end_water_g:.4g} g of water",
                f"less than the {start.water_g:.4g} g at the start",
                "200 mL",
            )
        end = start.with_water(end_water_g)
        half = start.with_water((start.water_g + end_water_g) / 2)
        hot_C = _boils_C(half, pressure_kPa)[0] if boil_at_C is None else boil_at_C
        energy = Energy.of(start, end_water_g, hot_C)
        power_h = None if power_W is None else energy.hours(power_W, efficiency)
        last = _boils_C(end, pressure_kPa) if boil_at_C is None else (boil_at_C, True)
        said = heat_warnings(start.model, *last)
        if boil_at_C is not None:
            standing = Standing.of(start, boil_at_C, pressure_kPa)
            if standing is not None and standing.word != "boiling":
                said.append(standing.text)
        if not log:
            if power_h is not None and efficiency == EFFICIENCY:
                said.append(
                    "How much of the power reaches the water is a guess: a small beaker on a wide plate takes a tenth of it, "
                    "a pot that fits takes most. Two readings of the pot itself tell better."
                )
            if power_h is not None and power_h < SOON_H:
                said.append(_soon(power_h))
            return cls(start, end_water_g, energy, power_h, None, power_h, None, None, power_h, tuple(said))
        read_C = hot_C if log_read_at_C is None else log_read_at_C
        water, error = _water_of(start, log, read_C, reading_error)
        fit = RateFit.of(
            [one.hours for one in log],
            water,
            error,
            warm_up_h=_hot_from_h(log) if warm_up_h is None else warm_up_h,
        )
        end_h, early, late = fit.reaches_h(end_water_g)
        left = end_h - log[-1].hours
        said += _log_warnings(fit, end_water_g, left, early, log[-1].hours)
        if power_W is not None:
            said += _against_power(fit, energy.rate_g_h(power_W, efficiency), efficiency)
        for reading in log:
            if reading.temperature_C is not None:
                said += [one for one in heat_warnings(start.model, reading.temperature_C) if one not in said]
        return cls(start, end_water_g, energy, power_h, fit, end_h, early, late, left, tuple(said))


def _boils_C(pot: Pot, pressure_kPa: float) -> tuple[float, bool]:
    """Boiling temperature of a pot, or what it comes to at least, and which of the two it is."""
    return at_least_C(boiling_of(pot.model, pot.salt_g, pot.others), pot.mass_fraction, pressure_kPa)


def _water_of(
    start: Pot, log: Sequence[LogReading], read_at_C: float, reading_error: float
) -> tuple[Floats, Floats]:
    """Water of each reading, and its standard error, g."""
    water, errors = [], []
    dry = start.salt_g + start.others.total_g
    for one in log:
        if one.mass_g is not None:
            left, error = one.mass_g - dry, BALANCE_ERROR_G
            what = f"{one.mass_g:g} g"
        elif one.volume_mL is not None:
            at = read_at_C if one.temperature_C is None else one.temperature_C
            sd = one.volume_mL * reading_error / np.sqrt(3.0)
            left = float(start.water_for_volume(one.volume_mL, at))
            error = float(start.water_for_volume(one.volume_mL + sd, at)) - left
            what = f"{one.volume_mL:g} mL"
        else:
            raise InputError(
                "the log", f"nothing at {one.hours:g} h", "a volume or a mass", "275 mL at 0.5 h"
            )
        if left < 0:
            raise InputError(
                "the log",
                f"{what} at {one.hours:g} h",
                f"more than the dry matter in the pot ({dry:.4g} g)",
                "275 mL",
            )
        water.append(left)
        errors.append(error)
    return np.array(water), np.array(errors)


def _hot_from_h(log: Sequence[LogReading]) -> float | None:
    """From when the readings' own temperatures tell a hot pot; None where they do not, or leave fewer than two readings."""
    told = [one.temperature_C for one in log if one.temperature_C is not None]
    if not told:
        return None
    cold_C = max(told) - WARMING_BY_K
    cold = [i for i, one in enumerate(log) if one.temperature_C is not None and one.temperature_C < cold_C]
    if not cold or len(log) - cold[-1] - 1 < 2:
        return None
    return log[cold[-1] + 1].hours


def _soon(left_h: float) -> str:
    return f"The end is {max(left_h, 0.0) * 60:.0f} minutes away at this rate: stay with the pot and do not leave it."


def _log_warnings(
    fit: RateFit, end_water_g: float, left_h: float, early_h: float | None, last_h: float
) -> list[str]:
    said = []
    if fit.water_g[-1] <= end_water_g:
        said.append("The last reading is at or past the end point: take the pot off the heat.")
    elif left_h < SOON_H:
        said.append(_soon(left_h))
    elif early_h is not None and early_h - last_h < SOON_H:
        said.append(
            f"The end may be only {max(early_h - last_h, 0.0) * 60:.0f} minutes away: do not leave the pot."
        )
    if fit.rises:
        said.append("A reading lies above the one before: was water added, or was one misread?")
    if fit.departs:
        said.append(
            "The readings do not lie on one straight line: fit and log disagree by more than the readings' error, and the "
            "forecast is worth less than its band says."
        )
    foretold = fit.last_foretold_g()
    if foretold is not None and not foretold[0] <= fit.water_g[-1] <= foretold[1]:
        said.append("The last reading lies outside what the ones before it foretold: the rate has changed.")
    return said


def _against_power(fit: RateFit, expected_g_h: float, efficiency: float) -> list[str]:
    share = fit.rate_g_h / expected_g_h * efficiency
    if share > 1.0:
        return [
            f"The log's {fit.rate_g_h:.0f} g/h is more than the heater's whole power can drive off: check the readings, the "
            "power, and whether crystals or foam were read as liquid."
        ]
    if abs(fit.rate_g_h - expected_g_h) > max(2.0 * fit.rate_error_g_h, 0.25 * expected_g_h):
        return [
            f"The log tells of {fit.rate_g_h:.0f} g/h, the heater's power of {expected_g_h:.0f}: "
            f"{100 * share:.0f} % of it reaches the water. The hours go by the log."
        ]
    return []
