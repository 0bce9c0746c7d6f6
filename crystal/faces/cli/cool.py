"""``crystal cool``: first crystals, seed, a cooling curve, a night outside."""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.console import Console

from crystal import units
from crystal.bench.cooldown import Cooldown
from crystal.bench.cooling_curve import NaturalCooling
from crystal.bench.crystallisation_heat import heat_given_off_kJ_g
from crystal.bench.pot import Pot
from crystal.bench.seeding import USUAL_SEED_MM
from crystal.bench.supersaturation import BASIS
from crystal.errors import InputError
from crystal.faces.answers import start_answer
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of, told_by
from crystal.faces.facts import bed_fraction, end_water_g, naming_the_cold, temperature
from crystal.faces.heatfacts import hours_of
from crystal.faces.titles import columns
from crystal.faces.words import celsius, grams, outcome_phrase, percent, three
from crystal.physics.heat_capacity import ASSUMPTION
from crystal.units.heat import length_mm, timed_temperatures

if TYPE_CHECKING:
    from matplotlib.figure import Figure

CURVE_H = 8.0


def answer(args: argparse.Namespace) -> Answer:
    """Work the cooling out."""
    catalogue = catalogue_of(args)
    told = told_by(args, catalogue)
    start = told.start(catalogue)
    read_at_C = temperature(told.facts, "read_at", 20.0)
    if "cool_to" not in told.facts:
        raise InputError("--cool-to", "nothing", "the temperature that the pot is cooled to", '"5 degC"')
    to_C = temperature(told.facts, "cool_to", 20.0)
    water = end_water_g(start, told.facts, read_at_C)
    pot = start if water is None else start.with_water(water, read_at_C)
    with naming_the_cold(told.facts):
        found = Cooldown.of(
            pot,
            to_C,
            from_C=_degrees(args.cool_from, "--cool-from"),
            hours=hours_of(args.hours, "--hours", CURVE_H),
            exponent=None if args.exponent is None else exponent_of(args.exponent),
            size_mm=None if args.size is None else length_mm(args.size, what="--size"),
            seed_mm=USUAL_SEED_MM
            if args.seed_size is None
            else length_mm(args.seed_size, what="--seed-size"),
            natural=natural_of(args.readings, args.surroundings),
            nights_C=[] if args.night is None else units.temperatures_C(args.night, what="--night"),
            insulated_from_C=_degrees(args.insulated_from, "--insulated-from"),
            bed=bed_fraction(told.facts),
        )
    data = cool_answer(found, start, [*found.warnings, *told.notes])

    def chart() -> Figure:
        from crystal.faces.figures.cool import cool_chart

        return cool_chart(found)

    rows = None if data["controlled"] is None else data["controlled"]["rows"]
    return Answer(data, lambda console: _show(console, found, data, told.title), chart, rows)


def _degrees(text: str | None, what: str) -> float | None:
    return None if text is None else units.temperature_C(text, what=what)


def exponent_of(text: str) -> float:
    """How the cooling curve bends: 1 straight, 3 slow at first."""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not 0.1 <= value <= 10.0:
        raise InputError("--exponent", repr(text), "a number from 0.1 to 10", "3")
    return value


def natural_of(readings: str | None, surroundings: str | None) -> NaturalCooling | None:
    """A pot left to itself, by its own readings as "0 min 90 degC; 20 min 75 degC"; None where there are none."""
    if readings is None:
        if surroundings is not None:
            raise InputError(
                "--surroundings", repr(surroundings), "told with the pot's own readings",
                '--readings "0 min 90 degC; 20 min 75 degC"',
            )  # fmt: skip
        return None
    read = timed_temperatures(readings, what="--readings")
    if len(read) == 2 and surroundings is not None:
        return NaturalCooling.of_two(
            read[0], read[1], units.temperature_C(surroundings, what="--surroundings")
        )
    if len(read) == 3 and surroundings is None:
        return NaturalCooling.of_three(read[0], read[1], read[2])
    raise InputError(
        "--readings", repr(readings), "two readings with --surroundings, or three without",
        '"0 min 90 degC; 20 min 75 degC" and --surroundings "18 degC"',
    )  # fmt: skip


def cool_answer(found: Cooldown, start: Pot, warnings: Iterable[str]) -> dict[str, Any]:
    """A pot on its way down; ``start`` is the pot before it was boiled down."""
    pot, zone, controlled, seeding = found.pot, found.zone, found.controlled, found.seeding
    due = zone is not None and not zone.is_ice and zone.saturated_C > found.to_C
    path = found.path
    return {
        "salt": pot.model.salt.formula,
        "start": start_answer(start),
        "end_volume_mL": pot.volume_mL(),
        "end_mass_g": pot.mass_g,
        "mass_percent": 100.0 * pot.mass_fraction,
        "cool_from_degC": found.from_C,
        "cool_to_degC": found.to_C,
        "first_crystals_degC": None if zone is None or zone.is_ice else zone.saturated_C,
        "first_solid": None if zone is None else zone.solid,
        "metastable_width_K": None if zone is None else zone.width_K,
        "metastable_limit_degC": None if zone is None else zone.limit_C,
        "metastable_source": None if zone is None or zone.width_K is None else f"{zone.source}, recalled",
        "seed_at_degC": zone.seed_C if due and zone is not None else None,
        "basis": BASIS,
        "path": [
            {
                "temperature_degC": float(t),
                "saturated_g_per_100g_water": _number(saturated),
                "pot_g_per_100g_water": path.pot_g,
                "ratio": _number(ratio),
                "difference_g_per_100g_water": _number(difference),
                "zone": None if zone is None or zone.is_ice else zone.word(float(t)),
            }
            for t, saturated, ratio, difference in zip(
                path.temperature_C, path.saturated_g, path.ratio, path.difference_g, strict=True
            )
        ],
        "crystals_g": found.crop_g,
        "phase": found.solid,
        "outcome": found.cooled.outcome_word(),
        "ice_g": float(found.cooled.ice_g),
        "seed": None
        if seeding is None
        else {
            "temperature_degC": seeding.at_C,
            "seed_mm": seeding.seed_mm,
            "seed_g": seeding.seed_g,
            "critical_seed_g": seeding.critical_g,
            "size_mm": seeding.product_mm,
        },
        "controlled": None
        if controlled is None
        else {
            "from_degC": controlled.from_C,
            "to_degC": controlled.to_C,
            "time_h": controlled.hours,
            "exponent": controlled.exponent,
            "rows": [
                {
                    "time_h": t,
                    "temperature_degC": at_C,
                    "crystals_g": _number(found.crystals_at_g(np.array(at_C))),
                }
                for t, at_C in controlled.table()
            ],
        },
        "natural": _natural_data(found),
        "night": [
            {
                "temperature_degC": night.temperature_C,
                "outcome": night.outcome,
                "crystals_g": night.crystals_g,
                "ice_g": night.ice_g,
                "yield_percent": None if night.yield_fraction is None else 100.0 * night.yield_fraction,
            }
            for night in found.nights
        ],
        "heat": {
            "sensible_heat_kJ": found.heat.sensible_kJ,
            "crystals_kJ": found.heat.crystals_kJ,
            "crystals_kJ_g": None if found.solid is None else heat_given_off_kJ_g(found.solid),
        },
        "insulated": None
        if found.insulated is None
        else {
            "from_degC": found.insulated.from_C,
            "to_degC": found.insulated.to_C,
            "crystals_g": found.insulated.crystals_g,
            "phase": found.insulated.solid,
        },
        "warnings": list(warnings),
    }


def _natural_data(found: Cooldown) -> dict[str, Any] | None:
    natural, zone = found.natural, found.zone
    if natural is None:
        return None
    share = found.first_hour_share
    return {
        "surroundings_degC": natural.surroundings_C,
        "per_h": natural.per_h,
        "first_crystals_h": None if zone is None or zone.is_ice else natural.hours_to(zone.saturated_C),
        "end_h": natural.hours_to(found.to_C),
        "first_hour_percent": None if share is None else 100.0 * share,
    }


def _number(value: Any) -> float | None:
    number = float(value)
    return number if math.isfinite(number) else None


def _show(console: Console, found: Cooldown, data: dict[str, Any], title: str) -> None:
    pot, zone = found.pot, found.zone
    console.print(show.salt_line(pot.model.salt, title))
    console.print(show.pot_line(pot).replace("Start:", "Pot:", 1))
    show.heading(console, f"From {celsius(found.from_C)} to {celsius(found.to_C)}")
    lines = []
    if zone is not None and not zone.is_ice:
        lines.append(f"First crystals, {zone.solid}, are due at {zone.saturated_C:.1f} °C.")
        if data["seed_at_degC"] is not None:
            lines.append(_zone_line(found))
    lines.append(
        f"At the end: {grams(found.crop_g)} of {found.solid}, {outcome_phrase(data['outcome'])}."
        if found.solid is not None
        else "At the end: no crystals."
    )
    seeding = found.seeding
    if seeding is not None:
        lines.append(
            f"Seed for {seeding.product_mm:g} mm: {grams(seeding.seed_g)} of grains of {seeding.seed_mm:g} mm "
            f"({percent(seeding.seed_g / seeding.crop_g)} of the crop)."
        )
    show.bullets(console, lines)
    _show_path(console, data)
    _show_curves(console, found, data)
    _show_nights(console, data)
    _show_heat(console, found, data)
    show.warnings_and_cautions(console, data["warnings"], pot.model.salt)


def _zone_line(found: Cooldown) -> str:
    zone = found.zone
    assert zone is not None
    if zone.limit_C is None:
        return f"Seed at {zone.seed_C:.1f} °C, a kelvin below (its width of undercooling is not in the data)."
    return (
        f"Undisturbed it stays clear to about {zone.limit_C:.1f} °C ({zone.width_K:g} K, {zone.source}, recalled: slow "
        f"cooling, crystals present); quiet and clean it may go further. Seed at {zone.seed_C:.1f} °C."
    )


def _show_path(console: Console, data: dict[str, Any]) -> None:
    show.heading(console, "Supersaturation, were it to stay clear")
    rows = [
        (
            f"{row['temperature_degC']:.1f}",
            _cell(row["saturated_g_per_100g_water"]),
            _cell(row["pot_g_per_100g_water"]),
            "-" if row["ratio"] is None else f"{row['ratio']:.3f}",
            _cell(row["difference_g_per_100g_water"]),
            row["zone"] or "-",
        )
        for row in data["path"]
    ]
    titles = columns(
        "temperature_degC", "saturated_g_per_100g_water", "pot_g_per_100g_water", "ratio", "difference_g_per_100g_water",
        "zone",
    )  # fmt: skip
    show.table(console, titles, rows, left=(5,))


def _cell(value: float | None) -> str:
    return "-" if value is None else three(value)


def _show_curves(console: Console, found: Cooldown, data: dict[str, Any]) -> None:
    controlled = found.controlled
    if controlled is not None:
        show.heading(
            console,
            f"Curve to lead it along: {controlled.from_C:.1f} °C to {celsius(controlled.to_C)} in {controlled.hours:g} h, "
            f"exponent {controlled.exponent:g}",
        )
        rows = [
            (f"{row['time_h']:.2f}", f"{row['temperature_degC']:.1f}", _cell(row["crystals_g"]))
            for row in data["controlled"]["rows"]
        ]
        show.table(console, columns("time_h", "temperature_degC", "crystals_g"), rows)
    natural = data["natural"]
    if natural is not None:
        show.heading(console, "Left to itself")
        lines = [
            f"It nears {celsius(natural['surroundings_degC'])}, half of the way in "
            f"{60 * math.log(2) / natural['per_h']:.0f} minutes."
        ]
        if natural["first_crystals_h"] is not None:
            lines.append(
                f"First crystals are due {natural['first_crystals_h']:.2f} h after the first reading."
            )
        if natural["end_h"] is not None:
            lines.append(f"At {celsius(found.to_C)} after {natural['end_h']:.1f} h.")
        if natural["first_hour_percent"] is not None:
            lines.append(
                f"{natural['first_hour_percent']:.0f} % of the crop falls in the first hour with crystals: the faster, the "
                "finer."
            )
        show.bullets(console, lines)


def _show_nights(console: Console, data: dict[str, Any]) -> None:
    if not data["night"]:
        return
    show.heading(console, "A night outside, the pot taking on the forecast's temperatures")
    rows = [
        (
            f"{row['temperature_degC']:.4g}",
            row["outcome"] or "not in the data",
            _cell(row["crystals_g"]),
            _cell(row["ice_g"]),
            _cell(row["yield_percent"]),
        )
        for row in data["night"]
    ]
    titles = columns("temperature_degC", "outcome", "crystals_g", "ice_g", "yield_percent")
    show.table(console, titles, rows, left=(1,))


def _show_heat(console: Console, found: Cooldown, data: dict[str, Any]) -> None:
    show.heading(console, "Heat")
    crystals = data["heat"]["crystals_kJ"]
    lines = [f"{three(data['heat']['sensible_heat_kJ'])} kJ to carry off for cooling it."]
    if found.crop_g > 0:
        if crystals is None:
            lines.append(f"The heat of crystallising of {', '.join(found.heat.missing)} is not in the data.")
        else:
            word = "give off" if crystals >= 0 else "take up"
            lines.append(
                f"Its crystals {word} about {three(abs(crystals))} kJ (standard enthalpies at 25 °C, infinite dilution; strong "
                "liquors differ)."
            )
    if found.insulated is not None:
        one = found.insulated
        lines.append(
            f"A pot that keeps its heat, crystallising from {celsius(one.from_C)}, ends at {one.to_C:.1f} °C with "
            f"{grams(one.crystals_g)} of crystals."
        )
    lines.append(ASSUMPTION)
    show.bullets(console, lines)
