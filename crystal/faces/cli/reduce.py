"""``crystal reduce``: the window, the end points, and the one to stop at."""

from __future__ import annotations

import argparse
from itertools import groupby
from typing import TYPE_CHECKING

from rich.console import Console

from crystal import units
from crystal.bench.cooling import OUTCOMES
from crystal.bench.forecast import Forecast, sharpened
from crystal.bench.marks import Marks
from crystal.bench.plan import Plan
from crystal.bench.want import Want
from crystal.faces.advised import advice_lines, marks_of, plan_of, size_text, want_line, want_of
from crystal.faces.answers import reduce_answer
from crystal.faces.cli import show
from crystal.faces.cli.marks import marks_answer, show_marks
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import batch_from, catalogue_of, told_by
from crystal.faces.doubts import risk_of
from crystal.faces.facts import Given, end_mass_fractions, naming_the_cold
from crystal.faces.titles import column, columns
from crystal.faces.words import celsius, grams, outcome_word, per_cent, three

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def answer(args: argparse.Namespace) -> Answer:
    """Work the plan out."""
    catalogue = catalogue_of(args)
    told = told_by(args, catalogue)
    batch = batch_from(told, catalogue)
    ends: list[float] | None = None
    if args.ends is not None:
        given = Given(args.ends, "--ends")
        sizes = units.end_sizes(args.ends, what=given.what)
        ends = end_mass_fractions(batch.start, sizes, given, batch.read_at_C)
    with naming_the_cold(told.facts):
        plan = plan_of(batch, ends)
        if ends is None and batch.end_water_g is not None:  # a batch file's own end point joins the spread
            plan = plan_of(batch, sorted({*plan.ends.mass_fraction.tolist(), batch.end.mass_fraction}))
    forecast = Forecast.of(batch, plan, risk=risk_of(told.facts))
    plan = forecast.plan
    warnings = [*forecast.warnings, *plan.warnings, *told.notes]
    wanted = told.facts.get("want")
    want = None if wanted is None else want_of(plan, wanted, warnings)
    marks = marks_of(batch, plan)
    if marks is not None:
        warnings += marks.heat_warnings
    data = reduce_answer(plan, want, warnings, forecast) | {
        "marks": None if marks is None else marks_answer(marks)
    }

    def chart() -> Figure:
        from crystal.faces.figures import window_chart

        return window_chart(plan, forecast)

    return Answer(
        data, lambda console: _show(console, forecast, want, marks, warnings, told.title), chart, data["ends"]
    )


def _show(
    console: Console,
    forecast: Forecast,
    want: Want | None,
    marks: Marks | None,
    warnings: list[str],
    title: str,
) -> None:
    plan = forecast.plan
    window = plan.window
    start = window.start
    console.print(show.salt_line(start.model.salt, title))
    console.print(show.pot_line(start))
    if forecast.learned is not None:
        show.heading(console, "What was seen says")
        show.bullets(console, sharpened(forecast.learned))
    show.heading(console, "Advice")
    for line in advice_lines(forecast):
        show.indented(console, line)
    if marks is not None:
        show.heading(console, "Its marks")
        show_marks(console, marks)
    if want is not None:
        show.heading(console, f"For {grams(want.crystals_g)} of crystals")
        show.indented(console, want_line(plan, want))
    show.heading(console, f"Window for cooling to {celsius(window.cool_to_C)}")
    show.bullets(console, _window_lines(plan))
    if window.bands:
        show.indented(console, f"Bands in mL, from the start to the dry salt: {_bands(plan)}.")
    show.heading(console, f"End points, volumes read at {celsius(window.read_at_C)}")
    _table(console, plan)
    show.heading(console, "Odds, with the doubts that were told or are usual")
    _odds_table(console, forecast)
    show.warnings_and_cautions(console, warnings, start.model.salt)


def _window_lines(plan: Plan) -> list[str]:
    window = plan.window
    lines = []
    if window.saturates is None:
        lines.append("No crystals at any end point that the data cover.")
    elif window.saturates.fraction_of_start >= 1.0:
        lines.append(
            f"Crystals come without any reducing: the pot would have to be made up to {size_text(window.saturates)} "
            "to stay clear."
        )
    else:
        lines.append(
            f"Crystals begin at {size_text(window.saturates)}; the liquor then holds "
            f"{three(100 * window.saturates.mass_fraction)} mass %"
            f"{' of salt in salt and water' if window.start.others else ''}."
        )
    for end, begins, never in (
        (
            window.pours_off_down_to,
            "The crop pours off down to",
            "It pours off at every end point that the data cover.",
        ),
        (window.sets_solid_below, "It sets solid below", "It sets solid at none that the data cover."),
    ):
        if end is None:
            lines.append(never)
        else:
            past = ": the start is already past it" if end.fraction_of_start >= 1.0 else ""
            lines.append(f"{begins} {size_text(end)}{past}.")
    return lines


def _bands(plan: Plan) -> str:
    """The bands in one line; what only changes its solid is one band here."""
    parts = []
    for outcome, run in groupby(plan.window.bands, key=lambda band: band.outcome):
        band, *more = run
        last = more[-1] if more else band
        parts.append(
            f"{outcome_word(outcome)} {three(band.start.end_volume_mL)} to {three(last.end.end_volume_mL)}"
        )
    return ", ".join(parts)


def _table(console: Console, plan: Plan) -> None:
    ends = plan.ends
    titles = (
        column("end_volume_mL"), column("fraction_of_start", percent=True),
        *columns("end_mass_g", "water_removed_g", "first_crystals_degC", "outcome", "phase", "crystals_g", "yield_percent"),
        *columns("liquor_mL", "hot_crystals_g"),
    )  # fmt: skip
    rows = []
    for i in range(len(ends.mass_fraction)):
        cooled, first = ends.cooled, ends.first_crystals_C(i)
        hot = "?" if ends.hot.outcome[i] < 0 else three(float(ends.hot.crystals_g[i]))
        ice = float(cooled.ice_g[i])
        rows.append(
            (
                three(float(ends.end_volume_mL[i])),
                three(100 * float(ends.fraction_of_start[i])),
                three(float(ends.end_mass_g[i])),
                three(float(ends.water_removed_g[i])),
                "-" if first is None else f"{first:.1f}",
                outcome_word(cooled.outcome_word(i)) + (f", ice {grams(ice)}" if ice > 0 else ""),
                cooled.solids_text(i) or "-",
                three(float(cooled.crystals_g[i])),
                three(100 * float(cooled.yield_fraction[i])),
                three(float(cooled.liquor_mL[i])),
                hot,
            )
        )
    show.table(console, titles, rows, left=(5, 6), spare=(9, 8, 3, 2))


def _odds_table(console: Console, forecast: Forecast) -> None:
    odds = forecast.ends
    titles = (
        column("end_volume_mL"),
        *(column(f"odds.{word}", percent=True) for word in OUTCOMES),
        *columns("crop_g.expected", "crop_g"),
    )
    rows = [
        (
            three(float(odds.end_volume_mL[i])),
            *(per_cent(float(odds.odds[code, i])) for code in range(4)),
            three(float(odds.crop_expected_g[i])),
            f"{three(float(odds.crop_p10_g[i]))} to {three(float(odds.crop_p90_g[i]))}",
        )
        for i in range(len(odds.end_volume_mL))
    ]
    show.table(console, titles, rows)
