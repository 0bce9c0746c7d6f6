"""Doubts and risks as a person writes them: "volume=5 %, temperature=2 K, volume=measuring cylinder"."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, replace

from crystal.bench.doubt import INSTRUMENTS, Doubt
from crystal.bench.risk import RISK
from crystal.errors import InputError
from crystal.faces.facts import Facts, Given

KEYS = tuple(field.name for field in fields(Doubt))
EXAMPLES = {
    "volume": "5 %", "mass": "0.5 %", "temperature": "2 K", "holds": "3 %", "curve": "0.5 %", "density": "1 %", "bed": "0.05",
}  # fmt: skip
_VALUE = re.compile(r"^(?P<number>\d+(?:[.,]\d+)?|[.,]\d+)\s*(?P<unit>%|K|°C|degC|C)?$", re.IGNORECASE)


def doubt_of(facts: Facts) -> Doubt:
    """The doubts of a pot: the usual ones, those told laid over them, and the way its content was told.

    Facts: ``doubt`` (pairs parted by commas) and, from a batch file, ``doubt_volume`` and the like; the first wins.
    """
    told: dict[str, float] = {}
    for key in KEYS:
        given = facts.get(f"doubt_{key}")
        if given is not None:
            told[key] = _value(key, given.text, given)
    whole = facts.get("doubt")
    if whole is not None:
        told |= _pairs(whole)
    doubt = replace(Doubt(), **told)
    if "holds" in facts:
        return doubt
    return doubt.of_content(next((size for size in ("volume", "mass") if size in facts), ""))


def risk_of(facts: Mapping[str, Given]) -> float:
    """Odds of a pot that does not pour which the advice may bear."""
    given = facts.get("risk")
    if given is None:
        return RISK
    found = _VALUE.match(given.text.strip())
    value = -1.0
    if found and (found["unit"] or "%") == "%":
        value = float(found["number"].replace(",", ".")) / (100.0 if found["unit"] else 1.0)
    if not 0.0 < value < 1.0:
        raise InputError(given.what, repr(given.text), "odds above 0 and below 100 %", "5 %")
    return value


def _pairs(given: Given) -> dict[str, float]:
    told = {}
    for part in re.split(r",(?!\d)", given.text):  # not a decimal comma
        key, sign, text = (piece.strip() for piece in part.partition("="))
        if not sign or key.lower() not in KEYS:
            raise InputError(
                given.what, repr(given.text), f"pairs of one of {', '.join(KEYS)} with its standard uncertainty",
                "volume=5 %, temperature=2 K, holds=3 %",
            )  # fmt: skip
        told[key.lower()] = _value(key.lower(), text, given)
    return told


def _value(key: str, text: str, given: Given) -> float:
    """One standard uncertainty: K for the temperature, else a share; or the instrument's."""
    word = " ".join(text.lower().split())
    if word in INSTRUMENTS:
        of, value = INSTRUMENTS[word]
        if of == key:
            return value
    found = _VALUE.match(text.strip())
    unit = (found["unit"] or "") if found else ""
    is_temperature = key == "temperature"
    if found is None or (unit and is_temperature == (unit == "%")):
        instruments = ", ".join(name for name, (of, _) in INSTRUMENTS.items() if of == key)
        must = "a temperature difference" if is_temperature else "a share"
        raise InputError(
            given.what, repr(f"{key}={text}" if given.what == "--doubt" else text),
            f"{must}{f' or an instrument: {instruments}' if instruments else ''}",
            f"{key}={EXAMPLES[key]}" if given.what == "--doubt" else EXAMPLES[key],
        )  # fmt: skip
    value = float(found["number"].replace(",", ".")) / (100.0 if unit == "%" else 1.0)
    top = 100.0 if is_temperature else 1.0
    if not 0.0 <= value < top:
        raise InputError(
            given.what, repr(text), f"0 or more and below {'100 K' if top > 1 else '100 %'}", EXAMPLES[key]
        )
    return value
