"""Harvest, crops and keeping as a person tells them: washes, shares, stop rules, spent liquors in files, humidity."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from crystal import units
from crystal.bench.harvest import SATURATED, WATER, Draining, Wash
from crystal.bench.ledger import Matter
from crystal.bench.pot import Pot
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.facts import Facts, Given
from crystal.physics.humidity import relative_humidity_percent, saturated
from crystal.physics.model import Model
from crystal.physics.others import NOTHING
from crystal.physics.vapour import saturation_pressure_kPa
from crystal.physics.water import density_g_mL

HARVEST_OPTIONS = {
    "method": "--method",
    "held": "--held",
    "enclosed": "--enclosed",
    "displaced": "--displaced",
    "wash_at": "--wash-at",
    "wash_with": "--wash-with",
    "contact": "--contact",
    "spilled": "--spilled",
    "purity": "--purity",
}
"""Options by the key among the facts."""

_LIQUIDS = {"water": WATER, "saturated solution": SATURATED, "saturated": SATURATED, "brine": SATURATED}
_JOIN = "a file that 'crystal harvest ... --json' or 'crystal crops ... --json' writes"


def with_options(args: argparse.Namespace, facts: Facts) -> dict[str, Given]:
    """The facts with the harvest's options laid over them."""
    own = {
        key: Given(getattr(args, key), option)
        for key, option in HARVEST_OPTIONS.items()
        if getattr(args, key, None) is not None
    }
    if args.wash is not None:
        own["wash"] = Given("; ".join(args.wash), "--wash")
    return dict(facts) | own


def draining_of(facts: Facts) -> Draining:
    """How the crystals are parted from the liquor."""
    method = " ".join(facts["method"].text.lower().split()) if "method" in facts else "drained"
    try:
        return Draining.by(
            {"suction-filtered": "suction", "suction filtered": "suction"}.get(method, method),
            held_g_per_g=_ratio(facts, "held", "0.2"),
            enclosed_g_per_g=_ratio(facts, "enclosed", "0.5 %") or 0.0,
            displaced=_share(facts, "displaced", "50 %"),
        )
    except InputError as error:
        given = facts.get(error.what.removeprefix("--"))
        if given is None:
            raise
        raise InputError(given.what, repr(given.text), error.must_be, error.example) from None


def washes_of(model: Model, facts: Facts, cool_to_C: float) -> tuple[Wash, ...]:
    """The washes, parted by semicolons; at the harvest's temperature unless told."""
    given = facts.get("wash")
    if given is None:
        return ()
    at = facts.get("wash_at")
    at_C = cool_to_C if at is None else units.temperature_C(at.text, what=at.what)
    kind = WATER
    if "wash_with" in facts:
        told = facts["wash_with"]
        found = _LIQUIDS.get(" ".join(told.text.lower().split()))
        if found is None:
            raise InputError(told.what, repr(told.text), "water or saturated solution", "water")
        kind = found
    contact = _share(facts, "contact", "100 %")
    return tuple(
        Wash(_liquid_g(model, text.strip(), given.what, at_C, kind), at_C, kind, 1.0 if contact is None else contact)
        for text in given.text.split(";")
    )  # fmt: skip


def _liquid_g(model: Model, text: str, what: str, at_C: float, kind: str) -> float:
    """Mass of a wash that is told by mass or volume."""
    try:
        return units.mass_g(text, what=what)
    except InputError as by_mass:
        try:
            volume = units.volume_mL(text, what=what)
        except InputError:
            raise InputError(what, repr(text), "a mass or a volume of wash liquid", '"20 mL"') from by_mass
    if kind == WATER:
        return volume * float(density_g_mL(at_C))
    over = saturated(model, at_C)
    if over is None:
        raise model.map.not_covered(None, at_C)
    return volume * float(model.density.density_g_mL(over[0], at_C))


def spilled_g(facts: Facts) -> float:
    """Liquor lost, g."""
    given = facts.get("spilled")
    return 0.0 if given is None else units.mass_g(given.text, what=given.what)


def purity_of(facts: Facts) -> float | None:
    """The purity wanted, above 0 and below 1."""
    return _share(facts, "purity", "99.5 %")


def _share(facts: Facts, key: str, example: str) -> float | None:
    given = facts.get(key)
    return None if given is None else units.share(given.text, what=given.what, example=example)


def _ratio(facts: Facts, key: str, example: str) -> float | None:
    """Grams per gram, as "0.2" or "20 %"."""
    given = facts.get(key)
    if given is None:
        return None
    text = given.text.strip().replace(",", ".")
    for tail in ("g/g", "g per g"):
        text = text.removesuffix(tail).strip()
    try:
        value = float(text.removesuffix("%")) / (100.0 if text.endswith("%") else 1.0)
    except ValueError:
        value = -1.0
    if not 0.0 <= value < float("inf"):
        raise InputError(
            given.what, repr(given.text), "grams of liquor per gram of crystals, 0 or more", example
        )
    return value


def whole_number(text: str | None, what: str, otherwise: int, most: int) -> int:
    """A count from 1 to ``most``."""
    if text is None:
        return otherwise
    if not text.strip().isdigit() or not 1 <= int(text) <= most:
        raise InputError(what, repr(text), f"a whole number from 1 to {most}", str(otherwise))
    return int(text)


def joined_liquor(path: str, model: Model, catalogue: Catalogue) -> Pot:
    """The liquor in a file of ``crystal harvest`` or ``crystal crops``.

    Raises
    ------
    InputError
        Where the file holds none of this salt.
    """
    what = "--join"
    try:
        data = json.loads(Path(path).read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise InputError(what, repr(path), f"a file that can be read ({error.strerror}), {_JOIN}") from None
    except (ValueError, RecursionError):
        raise InputError(what, repr(path), f"JSON, {_JOIN}") from None
    liquor = data.get("liquor") if isinstance(data, dict) else None
    if not isinstance(liquor, dict):
        raise InputError(what, repr(path), f"an answer with its liquor, {_JOIN}")
    if data.get("salt") != model.salt.formula:
        raise InputError(what, f"{path} with {data.get('salt')!r}", f"a liquor of {model.salt.formula}")
    others = liquor.get("others_g")
    if not isinstance(others, Mapping):
        raise InputError(
            f"{what}: {path}: liquor.others_g", repr(others)[:60], "an object of grams by formula"
        )
    amounts = {
        name: _grams(grams, f"{what}: {path}: liquor.others_g.{name}") for name, grams in others.items()
    }
    salt, water = (_grams(liquor.get(key), f"{what}: {path}: liquor.{key}") for key in ("salt_g", "water_g"))
    if salt <= 0 or water <= 0:
        raise InputError(what, repr(path), "a liquor that holds salt and water")
    from crystal.physics.others import Others

    known = Others.of(amounts, catalogue) if any(amounts.values()) else NOTHING
    return Matter(salt, water, amounts).pot(Pot(model, salt, water, others=known))


def _grams(value: Any, what: str) -> float:
    if not isinstance(value, int | float) or isinstance(value, bool) or not 0 <= value < 1e12:
        raise InputError(what, repr(value)[:60], "0 g or more", "80.7")
    return float(value)


def humidity_percent(facts: Facts, at_C: float) -> float | None:
    """The room's relative humidity, told as such or by its dew point; None where neither is told.

    Raises
    ------
    InputError
        Where both are told, or the dew point lies above the room's temperature.
    """
    told, dew = facts.get("humidity"), facts.get("dew_point")
    if told is not None and dew is not None:
        raise InputError(f"{told.what} and {dew.what}", "both", "only one of the two", '"60 %"')
    if told is not None:
        return 100.0 * units.share(told.text, what=told.what, example="60 %")
    if dew is None:
        return None
    point = units.temperature_C(dew.text, what=dew.what)
    if not -40.0 <= point <= at_C:
        raise InputError(dew.what, repr(dew.text), f"from -40 degC up to the room's {at_C:g} degC", "12 degC")
    if not float(saturation_pressure_kPa(at_C)) > 0:
        raise InputError("--at", f"{at_C:g} degC", "from -40 to 100 degC", "22 degC")
    return float(relative_humidity_percent(at_C, point))
