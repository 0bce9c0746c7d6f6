"""What was seen of a batch: as keys of a batch file, and as a sentence made into such keys."""

from __future__ import annotations

import re
from collections.abc import Mapping

from crystal import units
from crystal.bench.batch import Seen
from crystal.errors import InputError
from crystal.faces.facts import Given, require_same_salt
from crystal.physics.formula import Hydrate
from crystal.physics.model import Model

KEYS = {
    "outcome": "set",
    "crystals": "120 g",
    "weighed": "wet",
    "solid": "MgSO4.7H2O",
    "first_crystals": "31 degC",
    "no_crystals": "33 degC",
    "boils": "103.5 degC",
    "density": "1.24 g/mL at 20 degC",
    "mass": "310 g",
    "volume": "220 mL",
    "at": "7 degC",
}
"""Keys of an observation, each with a value that would be accepted."""

OUTCOMES = {"clear": "clear", "crop": "crop", "thick": "thick", "set": "set", "set solid": "set"}

EXAMPLES = (
    "first crystals at 31 degC, 220 mL",
    "no crystals at 33 degC",
    "boils at 103.5 degC, 180 mL",
    "hydrometer 1.24 g/mL at 20 degC, 250 mL",
    "pot weighs 310 g, 220 mL",
    "crystals 95 g dry",
    "outcome set solid, at 4 degC",
)
"""Sentences that are understood."""

_T = r"(?P<value>[-−]?\d+(?:[.,]\d+)?\s*(?:°\s*[CFK]|deg\s?[CFK]|[CFK]))"
_AT = _T.replace("value", "at")
_SIZE = r"\d+(?:[.,]\d+)?\s*"
_GRAMS = rf"{_SIZE}(?:g|kg|lb|oz)"
_PARTS = re.compile(
    rf"[;\n]|,(?!\d)|\s+(?=(?:at|and)\s+{_SIZE}(?:mL|cL|dL|L|US fl oz|fl oz)\b)", re.IGNORECASE
)
_SENTENCES = tuple(
    (key, re.compile(rf"^(?:{pattern})$", re.IGNORECASE))
    for key, pattern in (
        ("no_crystals", rf"(?:still )?no crystals(?: yet)?(?: at| by)? {_T}"),
        ("first_crystals", rf"(?:the )?(?:first )?crystals (?:show |showed |come |came )?(?:at|from) {_T}"),
        ("boils", rf"(?:it |the pot )?(?:boils|boiled|boiling)(?: at)? {_T}"),
        ("density", rf"(?:hydrometer|density)(?: reads?| shows?| showed)? (?P<value>{_SIZE}\S+(?: at {_AT})?)"),
        ("mass", rf"(?:mass|(?:the )?pot weigh(?:s|ed)|weigh(?:s|ed))(?: of the pot)?(?: is| was)? (?P<value>{_GRAMS})"),
        ("crystals", rf"(?P<value>{_GRAMS}) (?:of )?crystals(?:,? (?P<weighed>wet|dry))?"),
        ("crystals", rf"crystals(?: weigh| weighed)? (?P<value>{_GRAMS})(?: (?P<weighed>wet|dry))?"),
        ("weighed", r"(?P<value>wet|dry)"),
        ("outcome", r"(?:outcome:? |it |the pot )?(?:is |was |stays |stayed )?(?P<value>clear|crop|thick|set solid|set)"
                    rf"(?: at {_AT})?"),
        ("volume", rf"(?:at |and |volume )?(?P<value>{_SIZE}(?:mL|cL|dL|L|US fl oz|fl oz))"),
        ("at", rf"(?:at|when at|looked at at) {_T}"),
        ("solid", r"solid (?P<value>\S*H2O\S*)"),
    )
)  # fmt: skip


def seen_of(texts: Mapping[str, Given], model: Model) -> Seen:
    """One observation in fixed units.

    Raises
    ------
    InputError
        Naming the key that cannot be read.
    """
    outcome = _one_of(texts.get("outcome"), OUTCOMES)
    crystals, solid = texts.get("crystals"), texts.get("solid")
    grams = None
    if crystals is not None:
        amount = units.amount_of(crystals.text, what=crystals.what)
        if amount.formula is not None:
            require_same_salt(model, amount.formula, crystals)
        grams = amount.grams
    density, density_at = None, None
    if "density" in texts:
        density, density_at = units.density_at(texts["density"].text, what=texts["density"].what)
    first, none, at, boils = (texts.get(key) for key in ("first_crystals", "no_crystals", "at", "boils"))
    volume, mass = texts.get("volume"), texts.get("mass")
    return Seen(
        outcome=outcome,
        crystals_g=grams,
        wet=_one_of(texts.get("weighed"), {"wet": "wet", "dry": "dry"}) == "wet",
        solid=None if solid is None else _solid(solid, model),
        first_crystals_C=_temperature(first),
        temperature_C=_temperature(at),
        volume_mL=None if volume is None else units.volume_mL(volume.text, what=volume.what),
        mass_g=None if mass is None else units.mass_g(mass.text, what=mass.what),
        no_crystals_C=_temperature(none),
        density_g_mL=density,
        density_at_C=20.0 if density_at is None else density_at,
        boiling_C=_temperature(boils),
    )


def keys_of(sentence: str, what: str = "SEEN") -> dict[str, str]:
    """A sentence as keys of an observation.

    Parameters
    ----------
    sentence : str
        Parts with commas between them, as ``EXAMPLES`` have them.
    what : str
        What errors call it.

    Raises
    ------
    InputError
        Where a part is not understood, is told twice, or says nothing by itself.

    Examples
    --------
    >>> keys_of("first crystals at 31 degC, 220 mL")
    {'first_crystals': '31 degC', 'volume': '220 mL'}
    >>> keys_of("crystals 95 g dry; at 4 °C")
    {'crystals': '95 g', 'weighed': 'dry', 'at': '4 °C'}
    """
    found: dict[str, str] = {}
    for part in _PARTS.split(sentence):
        part = " ".join(part.split()).rstrip(".")
        if not part:
            continue
        for key, value in _read(part, sentence, what).items():
            if key in found:
                raise InputError(what, repr(sentence), f"one sentence that tells {key} once", EXAMPLES[0])
            found[key] = value
    if not set(found) - {"volume", "at", "weighed"}:
        raise _not_understood(sentence, sentence, what)
    return found


def _read(part: str, sentence: str, what: str) -> dict[str, str]:
    for key, pattern in _SENTENCES:
        match = pattern.match(part)
        if match is None:
            continue
        told = {key: " ".join(match["value"].replace("−", "-").split())}
        more = ("weighed",) if key == "crystals" else ("at",) if key == "outcome" else ()
        for name in more:
            if match.groupdict().get(name):
                told[name] = match[name].lower() if name == "weighed" else match[name]
        return told
    raise _not_understood(part, sentence, what)


def _not_understood(part: str, sentence: str, what: str) -> InputError:
    got = repr(sentence) if part == sentence else f"{part!r} in {sentence!r}"
    return InputError(what, got, "one of these: " + "; ".join(f'"{one}"' for one in EXAMPLES))


def _temperature(given: Given | None) -> float | None:
    return None if given is None else units.temperature_C(given.text, what=given.what)


def _solid(given: Given, model: Model) -> str:
    """The solid as the data write it where they know it, else as it was written."""
    try:
        hydrate = Hydrate.parse(given.text)
    except InputError as error:
        raise InputError(given.what, repr(given.text), error.must_be, "MgSO4.7H2O") from None
    require_same_salt(model, hydrate, given)
    same = [
        phase.formula for phase in model.salt.phases
        if phase.waters is not None and abs(phase.waters - hydrate.waters) < 1e-9
    ]  # fmt: skip
    return given.text.strip() if not same or given.text.strip() in same else same[0]


def _one_of(given: Given | None, words: Mapping[str, str]) -> str | None:
    if given is None:
        return None
    found = words.get(" ".join(given.text.lower().split()))
    if found is None:
        raise InputError(given.what, repr(given.text), f"one of {', '.join(words)}", next(iter(words)))
    return found
