"""``crystal keep``: does it melt in the room, crumble or keep; drying and jars."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from rich.console import Console

from crystal.bench.keeping import WINDOW_UNKNOWN, Keeping
from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of
from crystal.faces.facts import Given, model_of, require_same_salt, temperature
from crystal.faces.harvestanswers import keep_answer
from crystal.faces.harvestfacts import humidity_percent
from crystal.faces.titles import columns
from crystal.faces.words import celsius, three
from crystal.physics.formula import Hydrate
from crystal.physics.humidity import TABLE, Humidity
from crystal.physics.model import Model

if TYPE_CHECKING:
    from matplotlib.figure import Figure

ROOM_C = 20.0

_STATES = {
    "deliquesces": "takes up water from the air until it is a solution",
    "stable": "keeps as it is",
    "effloresces": "loses its water and crumbles",
    None: "the data do not tell",
}


def answer(args: argparse.Namespace) -> Answer:
    """Tell how it keeps."""
    catalogue = catalogue_of(args)
    options = {"salt": "SALT", "at": "--at", "humidity": "--humidity", "dew_point": "--dew-point"}
    own = {
        key: Given(getattr(args, key), what)
        for key, what in options.items()
        if getattr(args, key) is not None
    }
    facts: dict[str, Given] = {}
    title = ""
    file = args.batch
    if file is None and (args.salt or "").lower().endswith(".toml"):  # a batch file in the salt's place
        file = args.salt
        del own["salt"]
    if file is not None:
        if "salt" in own:
            raise InputError("SALT and --batch", "both", "only one of the two", "--batch batch.toml")
        told = BatchFile.read(file).told(catalogue)
        title = told.title
        names = {
            "keep_at": "at",
            "humidity": "humidity",
            "dew_point": "dew_point",
            "keep_solid": "solid",
            "salt": "salt",
        }
        facts = {to: told.facts[key] for key, to in names.items() if key in told.facts}
        if told.made is not None:
            if told.made.salt is None:
                raise InputError(f"{file}: made", "no dissolved salt", "reactions that leave one", "ZnSO4")
            facts["salt"] = Given(told.made.salt, f"{file}: made")
        if {"humidity", "dew_point"} & set(own):
            facts = {key: given for key, given in facts.items() if key not in ("humidity", "dew_point")}
    facts |= own
    if "salt" in facts and facts["salt"].text.lower().startswith("anhydrous "):
        dry = facts["salt"]
        facts["salt"] = Given(dry.text[len("anhydrous ") :], dry.what)
        facts.setdefault("solid", Given(catalogue.find(facts["salt"].text).formula, dry.what))
    model = model_of(facts, catalogue)
    named = facts.get("solid") or facts["salt"]
    at_C = temperature(facts, "at", ROOM_C)
    found = Keeping.of(
        model, at_C, humidity_percent(facts, at_C), solid=named_solid(named, model, told="solid" in facts)
    )
    data = keep_answer(found)

    def chart() -> Figure:
        from crystal.faces.figures.keeping import keeping_chart

        return keeping_chart(found)

    return Answer(data, lambda console: _show(console, found, data, title), chart, data["window"])


def named_solid(given: Given, model: Model, *, told: bool) -> str | None:
    """The solid where it is named by its formula; None for a salt by its name, whose solid follows from the temperature."""
    text = given.text.strip()
    if not told and "h2o" not in text.lower():
        return None
    try:
        hydrate = Hydrate.parse(text)
    except InputError as error:
        raise InputError(given.what, repr(text), error.must_be, "MgSO4.7H2O") from None
    require_same_salt(model, hydrate, given)
    return text


def _show(console: Console, found: Keeping, data: dict[str, Any], title: str) -> None:
    salt = found.model.salt
    console.print(show.salt_line(salt, title))
    air = ""
    if found.humidity_percent is not None:
        dew = found.dew_point_C
        point = "dew point below 0 °C" if dew is None else f"dew point {celsius(dew)}"
        air = f" in air of {three(found.humidity_percent)} % ({point})"
    show.heading(console, f"{found.solid} at {celsius(found.temperature_C)}{air}")
    lines = []
    if found.humidity_percent is not None:
        if found.turns_to is not None:
            lines.append(f"It takes up water and cakes to {found.turns_to}.")
        else:
            word = "not known" if found.state is None else found.state
            lines.append(f"{word}: {_STATES[found.state]}.")
    lines.append(_window_line(found))
    show.bullets(console, lines)
    show.heading(console, "Drying and keeping")
    lines = [f"Dry it below {celsius(found.dry_below_C)}."]
    if data["room_air_too_dry_from_degC"] is not None:
        at = data["room_air_too_dry_from_degC"]
        lines.append(
            f"This room's air, warmed to {celsius(at)} or more, is too dry for it: it slowly turns to powder there."
            if at > found.temperature_C
            else "This room's air is too dry for it as it is: bottle it as soon as it is dry to the touch."
        )
    lines.append(found.keep_in)
    show.bullets(console, lines)
    if any(row["low_percent"] is not None or row["high_percent"] is not None for row in data["window"]):
        show.heading(console, "Its humidity window against temperature")
        rows = [
            (f"{row['temperature_degC']:g}", *(_edge(row[key]) for key in ("low_percent", "high_percent")))
            for row in data["window"]
            if row["low_percent"] is not None or row["high_percent"] is not None
        ]
        show.table(console, columns("temperature_degC", "low_percent", "high_percent"), rows)
    show.warnings_and_cautions(console, data["warnings"], salt)


def _edge(value: float | None) -> str:
    return "not known" if value is None else three(value)


def _window_line(found: Keeping) -> str:
    def said(edge: Humidity) -> str:
        how = {"memory": ", from memory", "derived": ", derived"}.get(edge.provenance, "")
        basis = "" if edge.basis == TABLE else f", {edge.basis.replace('degC', '°C')}"
        return f"{edge.rh_percent:.3g} ± {edge.doubt_percent:.2g} % ({edge.source}{how}{basis})"

    high = (
        "its upper edge is not known" if found.upper is None else f"takes up water above {said(found.upper)}"
    )
    if found.lower is None:
        low = f"where it begins to crumble is not known ({WINDOW_UNKNOWN})"
    elif not found.lower.source:
        low = "it has no water to lose"
    else:
        low = f"crumbles below {said(found.lower)}"
    return f"Humidity window: {low}; {high}."
