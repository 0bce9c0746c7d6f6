"""``crystal marks``: one end point in four ways, and what a reading means."""

from __future__ import annotations

import argparse
import re
from typing import Any

from rich.console import Console

from crystal import units
from crystal.bench.marks import Liquid, Marks
from crystal.bench.pot import Pot
from crystal.bench.read_back import Reading
from crystal.errors import InputError
from crystal.faces.answers import start_answer
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of, told_by
from crystal.faces.facts import CONTENTS, SIZES, end_water_g, model_of, temperature
from crystal.faces.heatfacts import Air
from crystal.faces.words import NO_LIQUID_MARK, celsius, grams, millilitres, percent, three
from crystal.physics.model import Model
from crystal.physics.vapour import boiling_temperature_C

_TEMPERATURE = re.compile(r"[-+0-9.,\s]+(?:°|deg)?\s*_?[CFK]", re.IGNORECASE)


def answer(args: argparse.Namespace) -> Answer:
    """Mark an end point, or read a reading."""
    catalogue = catalogue_of(args)
    told = told_by(args, catalogue)
    air = Air.told(told.facts)
    has_pot = told.made is not None or any(key in told.facts for key in (*CONTENTS, *SIZES))
    if args.reading is not None and args.reduce_to is not None:
        raise InputError(
            f"--reading and {args.reduce_to_named}", "both", "only one of the two", '--reduce-to "190 mL"'
        )
    start = told.start(catalogue) if has_pot or args.reading is None else None
    model = model_of(told.facts, catalogue) if start is None else start.model
    reading = None if args.reading is None else _reading(model, start, args.reading, air)
    if start is None:
        assert reading is not None
        data: dict[str, Any] = {
            "salt": model.salt.formula,
            "reading": _reading_answer(reading),
            "warnings": _air_warnings(air),
        }
        return Answer(data, lambda console: _show_reading(console, model, None, reading, air, data))
    read_at_C = temperature(told.facts, "read_at", 20.0)
    if reading is not None:
        water: float | None = start.salt_g * (1.0 - reading.mass_fraction) / reading.mass_fraction
    else:
        water = end_water_g(start, told.facts, read_at_C)
    if water is None:
        raise InputError(
            "--reduce-to", "nothing", "the end of reducing, or --reading", '"190 mL", "270 g" or "40 %"'
        )
    marks = Marks.of(start, water, read_at_C=read_at_C, pressure_kPa=air.pressure_kPa)
    tare = None if args.tare is None else units.mass_g(args.tare, what="--tare")
    data = {
        "salt": model.salt.formula,
        "start": start_answer(start),
        **marks_answer(marks),
        "fraction_of_start": marks.liquid.volume_mL / start.volume_mL(),
        "water_removed_g": start.water_g - water,
        "gross_mass_g": None if tare is None else marks.end.mass_g + tare,
        "reading": None if reading is None else _reading_answer(reading),
    }
    data["warnings"] = [*data["warnings"], *_air_warnings(air), *told.notes]

    def shown(console: Console) -> None:
        if reading is not None:
            _show_reading(console, model, start, reading, air, None)
        _show(console, start, marks, data, air, told.title)

    return Answer(data, shown)


def marks_answer(marks: Marks) -> dict[str, Any]:
    """The marks as JSON."""
    liquid = marks.liquid
    return {
        "mass_percent": 100.0 * marks.end.mass_fraction,
        "volume_mL": liquid.volume_mL,
        "volume_error_mL": liquid.volume_mL * liquid.relative_error,
        "read_at_degC": liquid.read_at_C,
        "mass_g": marks.end.mass_g,
        "density_g_mL": liquid.density_g_mL,
        "density_error_g_mL": liquid.density_g_mL * liquid.relative_error,
        "specific_gravity_60_60_degF": liquid.specific_gravity,
        "baume_degrees": liquid.baume_degrees,
        "boiling_degC": marks.boiling_C,
        "boiling_error_K": marks.boiling_error_K,
        "boiling_basis": marks.boiling_basis,
        "boiling_error_volume_percent": None
        if marks.boiling_error_share is None
        else 100.0 * marks.boiling_error_share,
        "water_boils_degC": marks.water_boils_C,
        "pressure_kPa": marks.pressure_kPa,
        "hot": None if marks.hot is None else _liquid_answer(marks.hot),
        "warnings": list(marks.warnings),
    }


def _liquid_answer(liquid: Liquid) -> dict[str, Any]:
    return {
        "read_at_degC": liquid.read_at_C,
        "volume_mL": liquid.volume_mL,
        "density_g_mL": liquid.density_g_mL,
        "specific_gravity_60_60_degF": liquid.specific_gravity,
        "baume_degrees": liquid.baume_degrees,
    }


def _reading(model: Model, start: Pot | None, text: str, air: Air) -> Reading:
    if _TEMPERATURE.fullmatch(text.strip()):
        boils_C = units.temperature_C(text, what="--reading")
        try:
            if start is not None:
                return Reading.of_pot_boiling(start, boils_C, air.pressure_kPa)
            return Reading.of_boiling(model, boils_C, air.pressure_kPa)
        except InputError as error:
            raise InputError("--reading", repr(text), error.must_be, error.example) from None
    density, at_C = units.density_at(text, what="--reading")
    at_C = 20.0 if at_C is None else at_C
    try:
        if start is not None and start.others:
            return Reading.of_pot_density(start, density, at_C)
        return Reading.of_density(model, density, at_C)
    except InputError as error:
        raise InputError("--reading", repr(text), error.must_be, error.example) from None


def _reading_answer(reading: Reading) -> dict[str, Any]:
    return {
        "mass_percent": 100.0 * reading.mass_fraction,
        "low_mass_percent": 100.0 * reading.low_mass_fraction,
        "high_mass_percent": 100.0 * reading.high_mass_fraction,
    }


def _air_warnings(air: Air) -> list[str]:
    return [
        f"Boiling temperatures are for {air.said}; the weather moves them by up to 1 K. Hold the thermometer in boiling water "
        "first and count from there."
    ]


def _show_reading(
    console: Console, model: Model, start: Pot | None, reading: Reading, air: Air, data: dict[str, Any] | None
) -> None:
    if start is None:
        console.print(show.salt_line(model.salt))
    show.heading(console, "What the reading means")
    show.indented(
        console,
        f"{three(100 * reading.mass_fraction)} mass % of {model.salt.formula} "
        f"({three(100 * reading.low_mass_fraction)} to {three(100 * reading.high_mass_fraction)} by its error).",
    )
    if data is not None:
        show.indented(
            console, f"Pure water boils at {celsius(float(boiling_temperature_C(air.pressure_kPa)))} here."
        )
        show.warnings_and_cautions(console, data["warnings"], model.salt)


def show_marks(console: Console, marks: Marks, *, tare_g: float | None = None) -> None:
    """The four marks as lines."""
    liquid, hot = marks.liquid, marks.hot
    lines = [
        f"By the balance: {grams(marks.end.mass_g)}, the vessel tared"
        + ("" if tare_g is None else f" ({grams(marks.end.mass_g + tare_g)} with the vessel)")
        + "."
    ]
    if marks.never_clear:
        lines.append(f"By volume and hydrometer: {NO_LIQUID_MARK}.")
    elif hot is None:
        lines.append(_by_liquid(liquid))
    else:
        lines.append(_by_liquid(hot) + f" Cold it is {millilitres(liquid.volume_mL)} if it stays clear.")
    boiling = marks.boiling_mark
    if boiling is None:
        lines.append(f"By boiling: {marks.no_boiling_mark}.")
    else:
        lines.append(
            f"By boiling: {boiling[0]:.1f} °C, give or take {boiling[1]:.1f} K; "
            f"{boiling[0] - marks.water_boils_C:.1f} K above pure water ({marks.boiling_basis})."
        )
    show.bullets(console, lines)


def _by_liquid(liquid: Liquid) -> str:
    baume = "" if liquid.baume_degrees is None else f", {liquid.baume_degrees:.1f} °Bé (US)"
    error = 100 * liquid.relative_error
    return (
        f"By volume and hydrometer at {celsius(liquid.read_at_C)}: {millilitres(liquid.volume_mL)}, "
        f"{liquid.density_g_mL:.3f} g/mL, sg {liquid.specific_gravity:.3f} (60/60 °F){baume}, to {error:.1f} %."
    )


def _show(console: Console, start: Pot, marks: Marks, data: dict[str, Any], air: Air, title: str) -> None:
    console.print(show.salt_line(start.model.salt, title))
    console.print(show.pot_line(start))
    show.heading(console, "End marks")
    show.indented(
        console,
        f"{three(100 * marks.end.mass_fraction)} mass %, {percent(data['fraction_of_start'])} of the start, "
        f"{grams(data['water_removed_g'])} of water gone; at {air.said}.",
    )
    gross = data["gross_mass_g"]
    show_marks(console, marks, tare_g=None if gross is None else gross - marks.end.mass_g)
    show.warnings_and_cautions(console, data["warnings"], start.model.salt)
