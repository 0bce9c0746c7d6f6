"""The bench sheet as a page: HTML for one side of paper, with everything that it needs inside."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape

import crystal
from crystal.bench.harvest import DRAINED, PRESSED, SUCTION
from crystal.bench.marks import Liquid
from crystal.faces.advised import odds_line
from crystal.faces.cli.show import pot_line
from crystal.faces.sheet.charts import path_svg, window_svg
from crystal.faces.sheet.contents import SheetContents
from crystal.faces.titles import term_of
from crystal.faces.words import (
    NO_LIQUID_MARK,
    celsius,
    grams,
    millilitres,
    outcome_phrase,
    percent,
    prose,
    short_cautions,
    three,
    unbroken,
    without_options,
)

PAPERS = {"A4": 297.0, "letter": 279.4}
"""Papers by their height, mm; both are set in a column of 190 mm."""

LOG = ("temperature_degC", "volume_mL", "mass_g", "density_g_mL")
"""What the log has columns for, between the time and what was done."""

_BOX = '<span class="box"></span>'
_MOST_LINES, _FEWEST_LINES = 14, 4
_LETTERS_A_LINE, _LETTERS_A_HALF_LINE, _LETTERS_A_FOOT_LINE, _LETTERS_A_BOX_LINE = 145, 66, 165, 84
_LOG_LINE_MM, _FIXED_MM = 5.5, 160.0  # all but what is counted by its lines: margins, headings, charts

_STYLE = """\
@page { size: %s; margin: 8mm 10mm; }
* { box-sizing: border-box; }
body { font: 8.5pt/1.22 "DejaVu Sans", Verdana, sans-serif; color: #000; background: #fff; }
body { margin: 0 auto; width: calc(190mm / %.3f); zoom: %.3f; }
h1 { font-size: 14pt; margin: 0; }
h2 { font-size: 9.5pt; margin: 1.6mm 0 0.5mm; border-bottom: 0.3mm solid #000; }
p, ul { margin: 0.4mm 0; }
ul { padding-left: 4mm; }
header { display: flex; justify-content: space-between; align-items: baseline; gap: 5mm; border-bottom: 0.8mm solid #000; }
header span { white-space: nowrap; }
.two { display: grid; grid-template-columns: 1fr 1fr; gap: 0 5mm; }
.columns { columns: 2; column-gap: 5mm; } .columns li { break-inside: avoid; }
.stop { font-size: 10.5pt; border: 0.5mm solid #000; padding: 0.8mm 2mm; margin: 1mm 0; }
table { border-collapse: collapse; width: 100%%; }
th, td { text-align: left; padding: 0.25mm 1mm; font-weight: normal; vertical-align: top; }
td.n, th.n { text-align: right; }
.ruled td, .ruled th { border: 0.2mm solid #777; }
.log td { height: 5.4mm; }
.ticked { padding-left: 4.5mm; text-indent: -4.5mm; } .box, .line { text-indent: 0; }
.box { display: inline-block; width: 3mm; height: 3mm; border: 0.3mm solid #000; margin-right: 1.5mm; vertical-align: -0.4mm; }
.line { display: inline-block; border-bottom: 0.2mm solid #000; }
.fine { font-size: 6.9pt; line-height: 1.15; }
.tiny { font-size: 5.8pt; line-height: 1.12; }
svg { width: 100%%; height: auto; display: block; }
@media screen { body { padding: 6mm 0; } }
"""


def page(contents: SheetContents, paper: str = "A4") -> str:
    """The sheet as HTML.

    Parameters
    ----------
    contents : SheetContents
        The batch, worked out.
    paper : {'A4', 'letter'}
        What it is printed on.

    Returns
    -------
    str
        A whole page; it asks for nothing from outside.
    """
    batch, salt = contents.batch, contents.pot.model.salt
    title = batch.title or f"{salt.name}, one batch"
    cautions = short_cautions(salt)
    log_lines, zoom = _room(contents, cautions, paper)
    body = [
        f"<header><h1>{_e(title)}</h1><span>{_e(salt.formula)} &nbsp; date {_line()} by {_line()}</span></header>",
        f"<p>{_e(pot_line(batch.start))}{_vessel(contents)}</p>",
        f'<p class="stop"><b>{_e(_stop(contents))}</b> {_e(_then(contents))}{_alarm(contents)}</p>',
        f'<p class="fine">{_e(_why(contents))}</p>',
        f'<div class="two"><section><h2>End marks: tick the one that was met</h2>{_marks(contents)}</section>',
        f"<section><h2>Cooling</h2>{_cooling(contents)}</section></div>",
        f'<div class="two">{window_svg(contents.forecast.plan.window, contents.end)}{path_svg(contents.path)}</div>',
        *([f'<p class="fine">{_e(contents.path.fields_told)}</p>'] if contents.pot.others else []),
        f'<h2>Harvest</h2><div class="two">{_harvest(contents)}</div><p class="fine">{_e(_keep(contents))}</p>',
        f'<h2>Mind</h2><div class="columns">{_list(contents.warnings)}</div>',
        f"<h2>Cautions</h2>{_list(cautions)}",
        f"<h2>Log</h2>{_log(log_lines)}",
        f'<p class="tiny">{_e(_foot(contents))}</p>',
    ]
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{_e(title)}</title>\n'
        f"<style>{_STYLE % (paper, zoom, zoom)}</style></head>\n<body>\n"
        + "\n".join(body)
        + "\n</body></html>\n"
    )


def _e(text: str) -> str:
    return escape(unbroken(prose(text)))


def _line(width_mm: int = 22) -> str:
    return f'<span class="line" style="width:{width_mm}mm"></span>'


def _tick(text: str) -> str:
    return f"{_BOX}{text}"


def _paragraphs(lines: Iterable[str]) -> str:
    """A paragraph each; what follows a box hangs beside it."""
    kind = ' class="ticked"'
    return "".join(f"<p{kind if line.startswith(_BOX) else ''}>{line}</p>" for line in lines)


def _list(texts: Iterable[str]) -> str:
    items = "".join(f"<li>{_e(without_options(text))}</li>" for text in texts)
    if not items:
        return "<p>Nothing beyond the cautions.</p>"
    return f'<ul class="fine">{items}</ul>'


def _vessel(contents: SheetContents) -> str:
    vessel = contents.batch.vessel_mL
    return "" if vessel is None else _e(f" Vessel: {millilitres(vessel)}.")


def _stop(contents: SheetContents) -> str:
    end, batch = contents.end, contents.batch
    return (
        f"Stop at {millilitres(end.end_volume_mL)} ({percent(end.fraction_of_start)} of the start, {grams(end.end_mass_g)}), "
        f"read at {celsius(batch.read_at_C)}; {grams(batch.start.water_g - contents.pot.water_g)} of water are gone then."
    )


def _then(contents: SheetContents) -> str:
    outcome = contents.cooled.outcome_word()
    cooled = f"Cooled to {celsius(contents.path.cool_to_C)}: {outcome_phrase(outcome)}"
    if float(contents.cooled.crystals_g) > 0:
        cooled += f", {grams(float(contents.cooled.crystals_g))} of crystals"
    if contents.is_advised:
        return f"{cooled}. The advised end point. {odds_line(contents.odds)}"
    advised = contents.forecast.plan.advice.end
    other = "" if advised is None else f"; advised is {millilitres(advised.end_volume_mL)}"
    return f"{cooled}. The batch's own end point{other}. {odds_line(contents.odds)}"


def _why(contents: SheetContents) -> str:
    """Why the advised end point is advised, and which doubt costs most."""
    forecast = contents.forecast
    advised = "" if contents.is_advised else "Of the advised end point: "
    doubt = contents.batch.doubt
    marks, balance, content = (f"{100 * share:.3g} %" for share in (doubt.volume, doubt.mass, doubt.holds))
    reckoned = (
        f"Reckoned with marks to {marks}, the balance to {balance}, the content to {content}, the final temperature to "
        f"{doubt.temperature:g} K."
    )
    return " ".join(
        text for text in (f"{advised}{forecast.plan.reason}", forecast.costs_most, reckoned) if text
    )


def _alarm(contents: SheetContents) -> str:
    if contents.cooled.outcome_word() not in ("thick", "set"):
        return ""
    return " <b>Take care: at this end point the crop does not pour off.</b>"


def _marks(contents: SheetContents) -> str:
    marks = contents.marks
    lines = [_tick(f"balance: vessel {_line(14)} g + <b>{_e(grams(marks.end.mass_g))}</b> = {_line(14)} g")]
    if marks.never_clear:
        lines.append(f"volume and hydrometer: {NO_LIQUID_MARK}")
    for liquid in (marks.hot, marks.liquid):
        if liquid is not None and not marks.never_clear:
            of_clear = contents.stands_at_reading and liquid is marks.liquid
            lines += [_tick(line) for line in _by_liquid(liquid, of_clear=of_clear)]
    boiling = marks.boiling_mark
    if boiling is None:
        lines.append(f"boiling temperature: {marks.no_boiling_mark}")
    else:
        mark = (
            f"boiling at <b>{boiling[0]:.1f} °C</b> ± {boiling[1]:.1f} K, "
            f"{boiling[0] - marks.water_boils_C:.1f} K above water's {_line()} °C here"
        )
        lines.append(_tick(mark))
    return _paragraphs(lines)


def _by_liquid(liquid: Liquid, *, of_clear: bool) -> list[str]:
    at = _e(celsius(liquid.read_at_C)) + (" (if clear)" if of_clear else "")
    baume = "" if liquid.baume_degrees is None else f", {liquid.baume_degrees:.1f} °Bé (US)"
    error = f" ± {100 * liquid.relative_error:.1f} %"
    return [
        f"volume at {at}: <b>{_e(millilitres(liquid.volume_mL))}</b>{error}",
        f"hydrometer at {at}: <b>{liquid.density_g_mL:.3f} g/mL</b>, sg {liquid.specific_gravity:.3f}{unbroken(baume)}",
    ]


def _cooling(contents: SheetContents) -> str:
    cooldown = contents.cooldown
    if cooldown is None:
        return "<p>It is not cooled.</p>"
    lines = []
    zone = cooldown.zone
    if zone is not None and not zone.is_ice and zone.saturated_C > cooldown.to_C:
        lines.append(_tick(f"crystals are due from <b>{zone.saturated_C:.1f} °C</b>; came at {_line()} °C"))
        lines.append(_tick(f"seed at <b>{zone.seed_C:.1f} °C</b>"))
    text = _paragraphs(lines)
    controlled = cooldown.controlled
    if controlled is None:
        return text + _paragraphs([_tick(f"cool to <b>{_e(celsius(cooldown.to_C))}</b> and let it rest")])
    rows = controlled.table(6)
    crystals = cooldown.crystals_at_g([t for _, t in rows])
    temperature = term_of("temperature_degC").inline
    head = [term_of("time_h").inline, *(f"{hours:.3g}" for hours, _ in rows)]
    cells = [
        [temperature, *(f"{t:.1f}" for _, t in rows)],
        [term_of("crystals_g").inline, *("-" if g != g else three(float(g)) for g in crystals)],
        [f"was {temperature}", *("" for _ in rows)],
    ]
    return f"{text}<p>Lead it down slowly at first, in {controlled.hours:g} h:</p>{_table(head, cells)}"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    first = "".join(f'<th scope="col" class="n">{_e(cell)}</th>' for cell in head)
    body = "".join(
        "<tr>" + "".join(f'<td class="n">{_e(cell)}</td>' for cell in row) + "</tr>" for row in rows
    )
    return f'<table class="ruled"><tr>{first}</tr>{body}</table>'


def _harvest(contents: SheetContents) -> str:
    cooled = contents.cooled
    outcome = cooled.outcome_word()
    if outcome is None or outcome == "clear":
        return f"<p>No crystals are due{'' if outcome else ' by the data'}.</p>"
    solids = " + ".join(name for name, _ in cooled.solids_g() if name != "ice")
    lines = [
        f"due: <b>{_e(grams(float(cooled.crystals_g)))}</b> of {_e(solids)}, {_e(percent(float(cooled.yield_fraction)))} of "
        "the salt",
        *_liquor(contents, outcome),
        *_solid(contents),
        _tick(f"liquor labelled and kept as {_line()}"),
    ]
    return _paragraphs(lines)


def _liquor(contents: SheetContents, outcome: str) -> list[str]:
    cooled, harvest = contents.cooled, contents.harvest
    if harvest is None:
        return ["nothing pours: add water, warm until clear and cool again"]
    strong = f"{three(100 * float(cooled.liquor_mass_fraction))} mass %"
    if outcome == "thick":
        held = _e(grams(float(cooled.liquor_g)))
        return [f"no liquor stands above the cake: {held} are in it, {strong}; drain or press it"]
    poured = _e(grams(harvest.liquor.mass_g))
    return [
        _tick(
            f"pour off at {_e(celsius(contents.path.cool_to_C))}: {poured} of liquor, {strong}; was {_line(10)} g"
        )
    ]


_PARTED = {DRAINED: "drained on a sieve", PRESSED: "pressed", SUCTION: "sucked dry on a filter"}


def _solid(contents: SheetContents) -> list[str]:
    harvest, keeping = contents.harvest, contents.keeping
    if harvest is None or keeping is None:
        return []
    cake = harvest.cake
    ready, *washed = harvest.cakes
    return [
        _tick(f"{_PARTED[harvest.how.method]}: about {_e(grams(ready.wet_g))} wet; was {_line(14)} g"),
        *(
            _tick(
                f"wash with {_e(grams(wash.liquid_g))} of {_e(wash.kind)} at {_e(celsius(wash.temperature_C))}: about "
                f"{_e(grams(after.wet_g))} wet; was {_line(10)} g"
            )
            for wash, after in zip(harvest.washes, washed, strict=True)
        ),
        _tick(
            f"dry below {_e(celsius(math.floor(keeping.dry_below_C)))}: {_e(grams(cake.dried.mass_g))} with what clung; "
            f"was {_line(14)} g"
        ),
    ]


def _keep(contents: SheetContents) -> str:
    return "" if contents.keeping is None else f"To keep it: {contents.keeping.keep_in}"


def _room(contents: SheetContents, cautions: Sequence[str], paper: str) -> tuple[int, float]:
    """Lines of the log that the page has room for, and by how much all is made smaller where it has too little.

    Lines of type are counted a little too many.
    """

    def lines(texts: Iterable[str], letters: int) -> int:
        return sum(-(-len(text) // letters) for text in texts)

    marks = 2 + 3 * (1 if contents.marks.hot is None else 2) + (contents.marks.boiling_mark is not None)
    cooling = 1 if contents.cooldown is None or contents.cooldown.controlled is None else 8
    mind = -(-lines(contents.warnings, _LETTERS_A_HALF_LINE) // 2) + 1
    type_mm = (
        4.5 * lines([_stop(contents) + _then(contents) + _alarm(contents)], _LETTERS_A_BOX_LINE)
        + 3.75 * max(marks, cooling)
        + 2.85 * (mind + lines([*cautions, _why(contents), _keep(contents)], _LETTERS_A_LINE))
        + 2.35 * lines([_foot(contents)], _LETTERS_A_FOOT_LINE)
    )
    fixed_mm = _FIXED_MM + type_mm
    lines_left = int((PAPERS[paper] - fixed_mm) / _LOG_LINE_MM)
    zoom = min(1.0, PAPERS[paper] / (fixed_mm + _FEWEST_LINES * _LOG_LINE_MM))
    return max(_FEWEST_LINES, min(_MOST_LINES, lines_left)), zoom


def _log(lines: int) -> str:
    # A time by the clock or counted, as the person likes: without a unit.
    titles = (term_of("time_h").heading, *(term_of(key).inline for key in LOG), "seen, done")
    head = "".join(f'<th scope="col">{_e(title)}</th>' for title in titles)
    row = "<tr>" + "<td></td>" * (len(titles) - 1) + '<td style="width:35%"></td></tr>'
    return f'<table class="ruled log"><tr>{head}</tr>{row * lines}</table>'


def _foot(contents: SheetContents) -> str:
    return (
        f"crystal {crystal.__version__}, data edition {contents.edition}. All at equilibrium, for the pure salt unless told. "
        f"Numbers from: {'; '.join(contents.sources)}."
    )
