"""``crystal boil``: water, heat and hours of boiling down."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rich.console import Console

from crystal import units
from crystal.bench.boildown import EFFICIENCY, READING_ERROR, Boildown, LogReading, Standing
from crystal.bench.pot import Pot
from crystal.errors import InputError
from crystal.faces.answers import start_answer
from crystal.faces.cli import show
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of, told_by
from crystal.faces.facts import end_water_g, optional_temperature, temperature
from crystal.faces.heatfacts import Air, hours_of, read_log, share_of
from crystal.faces.words import celsius, grams, millilitres, three
from crystal.units.heat import power_W

if TYPE_CHECKING:
    from matplotlib.figure import Figure

EVERY_H, PATIENCE_H = 20.0 / 3600.0, 0.5


def answer(args: argparse.Namespace) -> Answer:
    """Work the hours out; with --follow once the log has ended."""
    catalogue = catalogue_of(args)
    told = told_by(args, catalogue)
    start = told.start(catalogue)
    air = Air.told(told.facts)
    water = end_water_g(start, told.facts, temperature(told.facts, "read_at", 20.0))
    if water is None:
        raise InputError("--reduce-to", "nothing", "the end of reducing", '"190 mL", "270 g" or "40 %"')
    if not water < start.water_g:
        end = told.facts.get("to") or told.facts["remove"]
        must = f"an end that holds less water than the {start.water_g:.4g} g at the start"
        raise InputError(end.what, repr(end.text), must, "200 mL")
    if args.follow and args.log is None:
        raise InputError("--follow", "no --log", "told with the file that grows", "--log log.csv --follow")
    power = None if args.power is None else power_W(args.power, what="--power")
    efficiency = _share(args.efficiency, "--efficiency", EFFICIENCY, "50 %")
    how: dict[str, Any] = {
        "boil_at_C": optional_temperature(told.facts, "boil_at"),
        "pressure_kPa": air.pressure_kPa,
        "power_W": power,
        "efficiency": efficiency,
        "log_read_at_C": None if args.log_read_at is None else units.temperature_C(args.log_read_at, what="--log-read-at"),
        "reading_error": _share(args.reading_error, "--reading-error", READING_ERROR, "5 %"),
        "warm_up_h": None if args.warm_up is None else units.time_h(args.warm_up, what="--warm-up"),
    }  # fmt: skip
    if args.follow:
        log, why = follow(
            lambda: read_log(args.log, growing=True),
            lambda readings: Boildown.of(start, water, log=readings, **how),
            every_h=hours_of(args.every, "--every", EVERY_H),
            patience_h=hours_of(args.patience, "--patience", PATIENCE_H),
            say=_say,
        )
        if len(log) < 2:
            raise InputError(
                "--follow", f"{len(log)} readings in {args.log!r}", "at least two; it ended because " + why
            )
    else:
        log, why = ([] if args.log is None else read_log(args.log)), ""
    found = Boildown.of(start, water, log=log, **how)
    read_at_C = temperature(told.facts, "read_at", 20.0)
    standing = standing_of(found, log, air)
    data = boil_answer(found, log, standing, air, read_at_C, power, efficiency)
    data["warnings"] = [*([f"Following ended: {why}."] if why else []), *found.warnings, *told.notes]
    if standing is not None and standing.word != "boiling" and standing.text not in data["warnings"]:
        data["warnings"].append(standing.text)

    def chart() -> Figure:
        from crystal.faces.figures.boil import boil_chart

        return boil_chart(found)

    return Answer(
        data,
        lambda console: _show(console, found, data, told.title),
        None if found.fit is None else chart,
        data["log"],
    )


def follow(
    read: Callable[[], list[LogReading]],
    fit: Callable[[list[LogReading]], Boildown],
    *,
    every_h: float,
    patience_h: float,
    say: Callable[[str], None],
    now_h: Callable[[], float] = lambda: time.monotonic() / 3600.0,
    wait_h: Callable[[float], None] = lambda hours: time.sleep(hours * 3600.0),
) -> tuple[list[LogReading], str]:
    """Read a log as it grows, with a line for every new reading.

    Parameters
    ----------
    read, fit : callable
        The readings so far; what they mean.
    every_h, patience_h : float
        How often it is looked at, and after how long without a new reading it ends, h.
    say : callable
        Takes each progress line.
    now_h, wait_h : callable
        The clock and how to wait, h.

    Returns
    -------
    (list of LogReading, str)
        The readings, and why it ended.
    """
    seen: list[LogReading] = []
    last = now_h()
    while True:
        log = read()
        if len(log) > len(seen):
            seen, last = log, now_h()
            line, at_end = _progress(seen, fit)
            say(line)
            if at_end:
                return seen, "the last reading is at or past the end point"
        if now_h() - last >= patience_h:
            return seen, f"no new reading for {60 * patience_h:.3g} minutes"
        wait_h(min(every_h, patience_h))


def _progress(log: list[LogReading], fit: Callable[[list[LogReading]], Boildown]) -> tuple[str, bool]:
    """One line on the log so far, and whether the end is reached."""
    last = log[-1]
    size = f"{last.volume_mL:g} mL" if last.volume_mL is not None else f"{last.mass_g:g} g"
    head = f"{last.hours:.2f} h  {size}"
    try:
        found = fit(log)
    except InputError as error:
        return f"{head}  no rate yet ({' '.join(str(error).split())})", False
    assert found.fit is not None
    assert found.left_h is not None
    if found.fit.water_g[-1] <= found.end_water_g:
        return f"{head}  END: take it off the heat", True
    warn = "  DO NOT LEAVE IT" if found.left_h < 0.25 else ""
    return (
        f"{head}  {found.fit.rate_g_h:.0f} g/h  about {60 * max(found.left_h, 0.0):.0f} min to go{_band(found)}{warn}",
        False,
    )


def _band(found: Boildown) -> str:
    assert found.fit is not None
    last = float(found.fit.hours[-1])
    if found.early_h is None:
        return ""
    late = "no late bound" if found.late_h is None else f"{60 * max(found.late_h - last, 0.0):.0f}"
    return f" ({60 * max(found.early_h - last, 0.0):.0f} to {late})"


def _say(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def _share(text: str | None, what: str, otherwise: float, example: str) -> float:
    return otherwise if text is None else share_of(text, what, example=example)


def standing_of(found: Boildown, log: list[LogReading], air: Air) -> Standing | None:
    """How the pot stood when its temperature was last read."""
    for i in range(len(log) - 1, -1, -1):
        at_C = log[i].temperature_C
        if at_C is not None and found.fit is not None:
            pot: Pot = found.start.with_water(float(found.fit.water_g[i]))
            return Standing.of(pot, at_C, air.pressure_kPa)
    return None


def boil_answer(
    found: Boildown, log: list[LogReading], standing: Standing | None, air: Air, read_at_C: float,
    power: float | None, efficiency: float,
) -> dict[str, Any]:  # fmt: skip
    """Water, heat and hours of boiling down, with the log's readings."""
    fit, energy, end = found.fit, found.energy, found.end
    return {
        "salt": found.start.model.salt.formula,
        "start": start_answer(found.start),
        "end_volume_mL": end.volume_mL(read_at_C),
        "end_mass_g": end.mass_g,
        "read_at_degC": read_at_C,
        "water_to_drive_off_g": found.start.water_g - found.end_water_g,
        "boil_at_degC": energy.boil_at_C,
        "sensible_heat_kJ": energy.sensible_kJ,
        "latent_heat_kJ": energy.latent_kJ,
        "heat_kJ": energy.total_kJ,
        "efficiency_fraction": efficiency,
        "power_W": power,
        "by_power_h": found.power_h,
        "pressure_kPa": air.pressure_kPa,
        "fit": None
        if fit is None
        else {
            "rate_g_h": fit.rate_g_h,
            "rate_error_g_h": fit.rate_error_g_h,
            "used": int(fit.used.sum()),
            "readings": len(fit.used),
            "warm_up_h": float(fit.hours[fit.used][0]),
            "misfit": fit.misfit,
        },
        "end_h": None if fit is None else found.end_h,
        "early_h": found.early_h,
        "late_h": found.late_h,
        "left_h": None if fit is None else found.left_h,
        "standing": None
        if standing is None
        else {
            "word": standing.word,
            "temperature_degC": standing.temperature_C,
            "boiling_degC": standing.boiling_C,
        },
        "log": [
            {
                "time_h": one.hours,
                "volume_mL": one.volume_mL,
                "mass_g": one.mass_g,
                "temperature_degC": one.temperature_C,
                "water_g": None if fit is None else float(fit.water_g[i]),
                "used": None if fit is None else bool(fit.used[i]),
            }
            for i, one in enumerate(log)
        ],
    }


def _show(console: Console, found: Boildown, data: dict[str, Any], title: str) -> None:
    start = found.start
    console.print(show.salt_line(start.model.salt, title))
    console.print(show.pot_line(start))
    show.heading(console, "Boiling down")
    lines = [
        f"To {millilitres(data['end_volume_mL'])} at {celsius(data['read_at_degC'])} ({grams(data['end_mass_g'])}): "
        f"{grams(data['water_to_drive_off_g'])} of water to drive off.",
        f"Heat: {three(data['sensible_heat_kJ'])} kJ to warm it from {celsius(start.read_at_C)} to "
        f"{celsius(data['boil_at_degC'])}, {three(data['latent_heat_kJ'])} kJ to evaporate the water.",
    ]
    if found.power_h is not None:
        lines.append(
            f"With {three(data['power_W'])} W, of which {100 * data['efficiency_fraction']:.0f} % reaches the pot: "
            f"{hours_text(found.power_h)}."
        )
    fit = found.fit
    if fit is not None:
        assert found.end_h is not None
        assert found.left_h is not None
        skipped = "" if fit.used.all() else f", warm-up before {fit.hours[fit.used][0]:.2f} h left out"
        lines.append(
            f"By the log ({int(fit.used.sum())} of {len(fit.used)} readings{skipped}): {fit.rate_g_h:.0f} g of water an hour, "
            f"give or take {fit.rate_error_g_h:.0f}."
        )
        late = (
            "with no late bound yet" if found.late_h is None else f"{hours_text(found.late_h)} at the latest"
        )
        early = "" if found.early_h is None else f"{hours_text(found.early_h)} at the earliest, "
        lines.append(
            f"At the end mark {hours_text(found.end_h)} after the log's start ({early}{late}; 19 of 20 cases): "
            f"{hours_text(max(found.left_h, 0.0))} after the last reading."
        )
    elif found.power_h is None:
        lines.append("No hours: give the heater's --power, or a --log of the pot.")
    show.bullets(console, lines)
    show.warnings_and_cautions(console, data["warnings"], start.model.salt)


def hours_text(hours: float) -> str:
    """A length of time: '2 h 05 min'."""
    minutes = round(60 * hours)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"
