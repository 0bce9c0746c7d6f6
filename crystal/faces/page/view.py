"""What the page says: the answer in words, in the person's own units, and faults beside the field that they belong to."""

from __future__ import annotations

import re
from typing import Any

from crystal.bench.forecast import sharpened
from crystal.data.catalogue import Catalogue
from crystal.errors import CoverageError, CrystalError, InputError
from crystal.faces.advised import advice_lines, limits_of, want_line
from crystal.faces.answers import path_answer
from crystal.faces.figures.words import formula_text
from crystal.faces.page import charts
from crystal.faces.page.speech import Speech
from crystal.faces.page.state import BY_KEY, FIELDS, State
from crystal.faces.page.work import Stopped
from crystal.faces.words import (
    NO_LIQUID_MARK,
    OUTCOME_MEANS,
    grams,
    outcome_word,
    per_cent,
    percent,
    prose,
    short_cautions,
    three,
    without_options,
)

_OPTIONS = {
    "--holds": "holds", "--strength": "strength", "--density": "density", "--start": "volume", "--mass": "mass",
    "--water": "water", "--with": "beside", "--read-at": "read_at", "--boil-at": "boil_at", "salt": "salt",
    "[cool] to": "cool", "[reduce] to": "to",
}  # fmt: skip


def answer(stopped: Stopped, state: State) -> dict[str, Any]:
    """Everything that the answer's template shows."""
    say = Speech(state)
    planned, end, cooled = stopped.planned, stopped.end, stopped.ends.cooled
    forecast, odds = planned.forecast, stopped.odds
    window, salt = planned.plan.window, planned.batch.start.model.salt
    word = cooled.outcome_word(0)
    warnings = dict.fromkeys(
        (
            *forecast.warnings, *limits_of(planned.plan), *planned.wanted_warnings, *stopped.explanation.warnings,
            *stopped.marks.warnings, *stopped.path.warnings,
        )
    )  # fmt: skip
    return {
        "salt": salt,
        "word": outcome_word(word),
        "css": word or "unknown",
        "means": OUTCOME_MEANS.get(word or "", "the data do not tell")
        if word != "set"
        else "one lump, no liquor left",
        "crystals": None if word is None else grams(float(cooled.crystals_g[0])),
        "solid": formula_text(cooled.model.solid_name(int(cooled.main_solid[0])) or ""),
        "ice": grams(float(cooled.ice_g[0])) if word is not None and cooled.ice_g[0] > 0 else None,
        "yield": None if word is None else percent(float(cooled.yield_fraction[0])),
        "liquor": None if word is None else say.volume(float(cooled.liquor_mL[0])),
        "size": {
            "volume": say.volume(end.end_volume_mL),
            "share": percent(end.fraction_of_start),
            "mass": grams(end.end_mass_g),
        },
        "cold": say.degrees(window.cool_to_C),
        "odds": [
            (outcome_word(name), name, f"{per_cent(float(odds.odds[code][0]))} %")
            for code, name in enumerate(("clear", "crop", "thick", "set"))
        ],
        "crop": {
            "expected": grams(float(odds.crop_expected_g[0])),
            "low": grams(float(odds.crop_p10_g[0])),
            "high": grams(float(odds.crop_p90_g[0])),
        },
        "advice": [_in_labels(say.sentence(line)) for line in advice_lines(forecast)],
        "learned": []
        if forecast.learned is None
        else [say.sentence(line) for line in sharpened(forecast.learned)],
        "want": None if planned.want is None else say.sentence(want_line(forecast.plan, planned.want)),
        "window": _window(stopped, say),
        "marks": _marks(stopped, say),
        "reasons": [say.sentence(reason.text) for reason in stopped.explanation.reasons],
        "where": say.sentence(stopped.explanation.where),
        "rescue": _rescue(stopped, say),
        "steps": [_step(step, say) for step in path_answer(stopped.path, ())["steps"]],
        "warnings": [_in_labels(say.sentence(text)) for text in warnings],
        "cautions": [say.sentence(text) for text in short_cautions(salt)],
        "window_svg": charts.window_svg(stopped, say),
        "path_svg": charts.path_svg(stopped.path, say),
        "fields": stopped.path.fields_told,
    }


def _size(end: Any, say: Speech) -> str:
    return f"{say.volume(end.end_volume_mL)} ({percent(end.fraction_of_start)} of the start, {grams(end.end_mass_g)})"


def _window(stopped: Stopped, say: Speech) -> list[tuple[str, str]]:
    window = stopped.planned.plan.window
    rows = (
        ("Crystals begin at", window.saturates),
        ("The crop pours off down to", window.pours_off_down_to),
        ("It sets solid below", window.sets_solid_below),
    )
    return [
        (words, "never, as far as the data tell" if end is None else _size(end, say)) for words, end in rows
    ]


def _marks(stopped: Stopped, say: Speech) -> list[tuple[str, str]]:
    marks = stopped.marks
    liquid = marks.hot or marks.liquid
    at = say.degrees(liquid.read_at_C)
    rows = [("Balance", f"{grams(marks.end.mass_g)} of solution, the vessel not counted")]
    if marks.never_clear:
        rows.append(("Volume and hydrometer", NO_LIQUID_MARK))
    else:
        rows += [
            (f"Volume at {at}", say.volume(liquid.volume_mL)),
            (f"Hydrometer at {at}", f"{liquid.density_g_mL:.3f} g/mL"),
        ]
    if marks.boiling_mark is not None:
        boils_C, error_K = marks.boiling_mark
        rise = boils_C - marks.water_boils_C
        error = 1.8 * error_K if say.fahrenheit else error_K
        rows.append(
            (
                "Boils at",
                f"{say.degrees(boils_C)} ± {error:.1f}, "
                f"{1.8 * rise if say.fahrenheit else rise:.1f} {'°F' if say.fahrenheit else 'K'} above water",
            )
        )
    return rows


def _rescue(stopped: Stopped, say: Speech) -> str | None:
    rescue = stopped.explanation.rescue
    if rescue is None:
        return None
    warm = "warm it" if rescue.warm_to_C is None else f"warm it to {say.degrees(rescue.warm_to_C)}"
    return (
        f"Add {grams(rescue.add_water_g)} of water, {warm} until all has dissolved, "
        f"then cool to {say.degrees(rescue.cool_to_C)}: {grams(rescue.crystals_g)} of crystals, {outcome_word(rescue.outcome)}."
    )


def _step(step: dict[str, Any], say: Speech) -> str:
    text = f"{step['step']}: {say.degrees(step['temperature_degC'])}, {three(step['mass_percent'])} mass %"
    if step["crystals_g"] is None:
        return f"{text}; not in the data"
    if step["phase"] is None:
        return f"{text}; clear"
    solid = formula_text(step["phase"])
    if step["crystals_g"] <= 0:
        return f"{text}; {solid}"
    return f"{text}; {grams(step['crystals_g'])} of {solid}"


def fault(error: CrystalError) -> tuple[str, str]:
    """The key of the field at fault ('' for none) and what to say beside it."""
    if isinstance(error, InputError):
        what = error.what
        if what == "the pot":
            return "holds", _in_labels(f"Given is {error.got}: the pot must be {error.must_be}.")
        example = f", for example {error.example}" if error.example else ""
        got = (
            "This is empty"
            if error.got == "nothing"
            else f"Not {error.got}"
            if error.got[:1] in "'\""
            else f"Given was {error.got}"
        )
        return _key(what), _in_labels(f"{got}: it must be {error.must_be}{example}.")
    text = str(error)
    if isinstance(error, CoverageError):
        head, _, rest = text.partition(": ")
        if rest and _key(head):
            return _key(head), _in_labels(rest) + "."
        return "cool", _in_labels(text) + "."
    return "", _in_labels(text)


def _key(what: str) -> str:
    if what in _OPTIONS:
        return _OPTIONS[what]
    found = [
        (what.find(field.label), -len(field.label), field.key) for field in FIELDS if field.label in what
    ]
    found += [
        (what.find(option), -len(option), key)
        for option, key in _OPTIONS.items()
        if option.startswith("-") and option in what
    ]
    return min(found)[2] if found else ""


def _in_labels(text: str) -> str:
    text = prose(text).replace("; 'crystal salts TEXT' searches", "")
    for option, key in _OPTIONS.items():
        if option.startswith("--"):
            text = re.sub(re.escape(option) + r"\b", BY_KEY[key].label, text)
    return without_options(text)


def names_of(catalogue: Catalogue) -> list[tuple[str, str]]:
    """Every name that a salt may be searched by, with its formula."""
    found: dict[str, str] = {}
    for formula, salt in catalogue.salts.items():
        for name in (formula, salt.name, *salt.common_names, *(p.formula for p in salt.phases if p.waters)):
            found.setdefault(name, formula)
    return sorted(found.items(), key=lambda pair: pair[0].casefold())
