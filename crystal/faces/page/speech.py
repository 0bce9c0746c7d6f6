"""Volumes and temperatures in the units that the person in front of the page reads."""

from __future__ import annotations

import re

from crystal.faces.page.state import State
from crystal.faces.words import celsius, millilitres, prose, three

OUNCE_mL = 29.5735295625
_VOLUME = re.compile(r"(?<![\w.])(?:(\d[\d.]*)(-| to ))?(\d[\d.]*) mL\b")
_DEGREES = re.compile(r"(?<![\w.])(?:(-?\d[\d.]*) to )?(-?\d[\d.]*) °C")


class Speech:
    """Volumes and temperatures as this person reads them."""

    def __init__(self, state: State) -> None:
        self.fahrenheit, self.ounces = state.fahrenheit, state.ounces
        self.volume_unit = "fl oz" if state.ounces else "mL"
        self.degree_unit = "°F" if state.fahrenheit else "°C"

    def volume(self, value_mL: float) -> str:
        return f"{three(value_mL / OUNCE_mL)} fl oz" if self.ounces else millilitres(value_mL)

    def degrees(self, temperature_C: float) -> str:
        text = celsius(temperature_C)
        return f"{round(1.8 * temperature_C + 32.0, 1):g} °F" if self.fahrenheit else text

    def sentence(self, text: str) -> str:
        """A sentence of the engine, its volumes and temperatures turned where they must be."""
        text = prose(text)
        if self.ounces:
            text = _VOLUME.sub(self._poured, text)
        if self.fahrenheit:
            text = _DEGREES.sub(self._turned, text)
        return text

    def _poured(self, found: re.Match[str]) -> str:
        low = "" if found[1] is None else self.volume(float(found[1])).removesuffix(" fl oz") + found[2]
        return low + self.volume(float(found[3].rstrip(".")))

    def _turned(self, found: re.Match[str]) -> str:
        low = "" if found[1] is None else self.degrees(float(found[1])).removesuffix(" °F") + " to "
        return low + self.degrees(float(found[2]))
