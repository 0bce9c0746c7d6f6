"""Altitudes, pressures, powers and lengths, each read into one fixed unit."""

from __future__ import annotations

from crystal.units.measures import temperature_C, time_h
from crystal.units.quantity import Kind, fault, measure, signed, tidy

ALTITUDE = Kind("an altitude above the sea", "m", "800 m", ("m", "km", "ft"))
PRESSURE = Kind("a pressure", "kPa", "94.5 kPa", ("kPa", "hPa", "mbar", "bar", "mmHg", "inHg", "atm", "psi"))
POWER = Kind("a power", "W", "500 W", ("W", "kW"))
LENGTH = Kind("a size", "mm", "2 mm", ("mm", "um", "cm"))


def altitude_m(text: object, *, what: str) -> float:
    """Read an altitude above the sea, m; below it with a minus.

    Examples
    --------
    >>> altitude_m("2 km", what="--altitude")
    2000.0
    >>> altitude_m("-430 m", what="--altitude")
    -430.0
    """
    return signed(text, ALTITUDE, what=what)


def pressure_kPa(text: object, *, what: str) -> float:
    """Read a pressure, kPa: that of the air as it is, not reduced to sea level as in weather reports.

    Examples
    --------
    >>> pressure_kPa("945 hPa", what="--pressure")
    94.5
    """
    return measure(text, PRESSURE, what=what)


def power_W(text: object, *, what: str) -> float:
    """Read a heater's power, W.

    Examples
    --------
    >>> power_W("1.5 kW", what="--power")
    1500.0
    """
    return measure(text, POWER, what=what)


def length_mm(text: object, *, what: str) -> float:
    """Read the size of a grain, mm.

    Examples
    --------
    >>> length_mm("0.2 cm", what="--size")
    2.0
    """
    return measure(text, LENGTH, what=what)


def timed_temperatures(text: object, *, what: str) -> list[tuple[float, float]]:
    """Read temperatures with their times: hours and °C, in the order given; the first may stand at "0 min".

    Examples
    --------
    >>> timed_temperatures("0 min 90 degC; 30 min 70 degC", what="--readings")
    [(0.0, 90.0), (0.5, 70.0)]
    """
    example = "0 min 90 degC; 20 min 75 degC"
    must_be = "times, each with its temperature, parted by semicolons"
    plain = tidy(text, what=what, must_be=must_be, example=example)
    found = []
    for part in plain.split(";"):
        words = part.split()
        if len(words) < 3:
            raise fault(what, text, must_be, example)
        time, temperature = " ".join(words[:2]), " ".join(words[2:])
        zero = words[0].strip("0.,") == ""
        found.append((0.0 if zero else time_h(time, what=what), temperature_C(temperature, what=what)))
    return found
