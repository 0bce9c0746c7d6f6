"""Temperatures, masses, volumes, times and densities, each read into one fixed unit."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

from crystal.units.quantity import (
    Kind,
    converted,
    fault,
    from_quantity,
    is_quantity,
    measure,
    registry,
    split,
    tidy,
    unknown,
)

TEMPERATURE = Kind("a temperature", "degC", "5 degC", ("degC", "degF", "K"))
MASS = Kind("a mass", "g", "120 g", ("g", "kg", "mg", "t", "oz", "lb"))
VOLUME = Kind(
    "a volume", "mL", "400 mL", ("mL", "L", "cL", "dL", "cm3", "fl oz", "tsp", "tbsp", "cup", "pint", "gal")
)
TIME = Kind("a time", "h", "12 h", ("h", "min", "s", "day", "week"))
DENSITY = Kind("a density", "g/mL", "1.18 g/mL", ("g/mL", "kg/L", "kg/m3", "g/cm3", "lb/gal"))

_DEGREES = r"(?:°|deg(?:rees?)?)?[ _]?"
_SCALES = {
    "degC": re.compile(_DEGREES + "(?:c|celsius|centigrade)", re.IGNORECASE),
    "degF": re.compile(_DEGREES + "(?:f|fahrenheit)", re.IGNORECASE),
    "kelvin": re.compile("°?k|kelvins?", re.IGNORECASE),
}
_ONE_SIGN = str.maketrans({"℃": "°C", "℉": "°F"})
_TIGHT_COMMA = re.compile(r"[0-9],[0-9]")
_AT = re.compile(r" at | ?@ ?")


def temperature_C(text: object, *, what: str) -> float:
    """Read a temperature, in any of the scales Celsius, Fahrenheit and kelvin.

    Parameters
    ----------
    text : str or pint.Quantity
        "5 degC", "5 °C", "41 F", "278 K"; a C, F or K alone is enough, a bare number is refused.
    what : str
        The input's name, for the error.

    Returns
    -------
    float
        Degrees Celsius; below absolute zero is an InputError.

    Examples
    --------
    >>> temperature_C("41 °F", what="--cold")
    5.0
    """
    if is_quantity(text):
        value, _, name = from_quantity(text, what=what)
        return _in_C(value, name, what=what, got=text)
    plain = _tidy_temperature(text, what=what)
    value, name = split(plain, TEMPERATURE, what=what, got=text)
    return _in_C(value, name, what=what, got=text)


def temperatures_C(text: object, *, what: str) -> list[float]:
    """Read a list of temperatures; the unit stands on each, or once at the end.

    Parameters
    ----------
    text : str or pint.Quantity
        "20, 10, 0 degC" or "20 degC; 10 degC"; with semicolons a comma is a decimal comma.
    what : str
        The input's name, for the error.

    Returns
    -------
    list of float
        Degrees Celsius, in the order given.

    Examples
    --------
    >>> temperatures_C("20, 10, 0 degC", what="--cold")
    [20.0, 10.0, 0.0]
    """
    if is_quantity(text):
        quantity: Any = text
        each = quantity if getattr(quantity.magnitude, "ndim", 0) else [quantity]
        return [temperature_C(one, what=what) for one in each]
    items = listed(_tidy_temperature(text, what=what), what=what, got=text, example="20, 10, 0 degC")
    bare = [re.fullmatch(r"[+-]?[0-9.,]+(?:[eE][+-]?[0-9]+)?", item) is not None for item in items]
    if len(items) > 1 and all(bare[:-1]) and not bare[-1]:
        _, unit = split(items[-1], TEMPERATURE, what=what, got=text)
        items = [f"{item} {unit}" for item in items[:-1]] + [items[-1]]
    elif any(bare):
        raise fault(what, text, "temperatures with a unit on each or once at the end", "20, 10, 0 degC")
    return [temperature_C(item, what=what) for item in items]


def _tidy_temperature(text: object, *, what: str) -> str:
    plain = tidy(text, what=what, must_be=TEMPERATURE.must_be, example=TEMPERATURE.example)
    return plain.translate(_ONE_SIGN)


def _in_C(value: Fraction, name: str, *, what: str, got: object) -> float:
    for scale, spelling in _SCALES.items():
        if spelling.fullmatch(name):
            result = converted(value, registry().Unit(scale), "degC", what=what, got=got)
            if result < -273.15:
                raise fault(what, got, "at or above absolute zero, -273.15 degC", TEMPERATURE.example)
            return result
    raise unknown(name, TEMPERATURE, what=what, got=got)


def listed(text: str, *, what: str, got: object, example: str) -> list[str]:
    """The items between semicolons, or else between commas.

    Without semicolons a comma between two digits may part numbers or decimals, so it is refused.
    """
    if ";" in text:
        items = text.split(";")
    elif _TIGHT_COMMA.search(text):
        raise fault(
            what, got, "a list without doubt about the commas: a space after each, or ; between", example
        )
    else:
        items = text.split(",")
    items = [item.strip() for item in items]
    if not all(items):
        raise fault(what, got, "a list with nothing left out between its commas", example)
    return items


def mass_g(text: object, *, what: str) -> float:
    """Read a mass.

    Parameters
    ----------
    text : str or pint.Quantity
        A number and a unit of mass: g, kg, mg, t, oz (avoirdupois), lb.
    what : str
        The input's name, for the error.

    Returns
    -------
    float
        Grams, more than 0.

    Examples
    --------
    >>> mass_g("4 oz", what="--salt")
    113.3980925
    """
    return measure(text, MASS, what=what)


def volume_mL(text: object, *, what: str) -> float:
    """Read a volume; cup, tsp, fl oz, pint and gal are US customary unless "imperial" stands before.

    Parameters
    ----------
    text : str or pint.Quantity
        A number and a unit of volume: mL, L, cm3, "fl oz", gal.
    what : str
        The input's name, for the error.

    Returns
    -------
    float
        Millilitres, more than 0.

    Examples
    --------
    >>> volume_mL("0,5 L", what="--start")
    500.0
    >>> volume_mL("8 fl oz", what="--start")
    236.5882365
    """
    return measure(text, VOLUME, what=what)


def time_h(text: object, *, what: str) -> float:
    """Read a length of time.

    Parameters
    ----------
    text : str or pint.Quantity
        A number and a unit of time: h, min, s, day, week.
    what : str
        The input's name, for the error.

    Returns
    -------
    float
        Hours, more than 0.

    Examples
    --------
    >>> time_h("90 min", what="--cooling")
    1.5
    """
    return measure(text, TIME, what=what)


def density_g_mL(text: object, *, what: str) -> float:
    """Read a density.

    Parameters
    ----------
    text : str or pint.Quantity
        A mass per volume: "1.18 g/mL", "1180 kg/m3", "1.18 kg/L".
    what : str
        The input's name, for the error.

    Returns
    -------
    float
        Grams per millilitre, more than 0.

    Examples
    --------
    >>> density_g_mL("1180 kg/m3", what="--density")
    1.18
    """
    return measure(text, DENSITY, what=what)


def density_at(text: object, *, what: str) -> tuple[float, float | None]:
    """Read a density with the temperature at which it was measured.

    Parameters
    ----------
    text : str or pint.Quantity
        "1.18 g/mL at 20 degC", or the density alone.
    what : str
        The input's name, for the error.

    Returns
    -------
    tuple of (float, float or None)
        Grams per millilitre, and degrees Celsius or None.

    Examples
    --------
    >>> density_at("1.18 g/mL at 20 degC", what="--density")
    (1.18, 20.0)
    """
    if is_quantity(text):
        return density_g_mL(text, what=what), None
    plain = tidy(text, what=what, must_be=DENSITY.must_be, example="1.18 g/mL at 20 degC")
    density, *at = _AT.split(plain, maxsplit=1)
    return density_g_mL(density, what=what), temperature_C(at[0], what=what) if at else None
