"""``crystal crops``: crop after crop from one pot."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rich.console import Console

from crystal import units
from crystal.bench.cooling import Cooled
from crystal.bench.crop_ends import RESCUE, Told
from crystal.bench.crops import MOST_CROPS, Crops, Stops
from crystal.bench.ends import BOILING_C
from crystal.bench.pot import Pot
from crystal.bench.purity import joined
from crystal.bench.shift import Shift, company_notes
from crystal.bench.splits import Split, best_splits, splits_of
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile
from crystal.faces.cli import show, streams
from crystal.faces.cli.harvest import purity_text, solute_line
from crystal.faces.cli.output import Answer
from crystal.faces.cli.request import catalogue_of, told_by
from crystal.faces.facts import (
    CONTENTS,
    SIZES,
    Facts,
    Given,
    bed_fraction,
    model_of,
    naming_the_cold,
    optional_temperature,
    temperature,
)
from crystal.faces.harvestanswers import crops_answer
from crystal.faces.harvestfacts import (
    draining_of,
    joined_liquor,
    purity_of,
    spilled_g,
    washes_of,
    whole_number,
    with_options,
)
from crystal.faces.titles import columns
from crystal.faces.told import Told as ToldBatch
from crystal.faces.words import celsius, grams, listed, outcome_word, percent, three

if TYPE_CHECKING:
    from matplotlib.figure import Figure


SMALL_mL = 20.0


def answer(args: argparse.Namespace) -> Answer:
    """Plan the crops."""
    catalogue = catalogue_of(args)
    batch = told_by(args, catalogue)
    facts = with_options(args, batch.facts)
    start = _start(args, batch, catalogue)
    told = [] if args.batch is None else told_crops(BatchFile.read(args.batch).crops)
    least = None if args.least is None else units.mass_g(args.least, what="--least")
    stops = Stops(
        most=max(whole_number(args.most, "--most", MOST_CROPS, 50), len(told)),
        least_g=least,
        purity=purity_of(facts),
        liquor_others=None if args.ceiling is None else _ceiling(args.ceiling),
    )
    risk = None if args.risk is None else crops_risk(args.risk)
    found, splits = planned_crops(start, facts, stops, risk=risk, told=told, washings_back=args.washings_back)
    boil_at = optional_temperature(facts, "boil_at")
    warnings = [*crops_warnings(found, boil_at), *batch.notes]
    data = crops_answer(found, splits, catalogue, warnings)

    def chart() -> Figure:
        from crystal.faces.figures.crops import crops_chart

        return crops_chart(found)

    return Answer(
        data, lambda console: _show(console, found, data, batch.title, catalogue), chart if found.crops else None,
        data["crops"],
    )  # fmt: skip


def planned_crops(
    start: Pot,
    facts: Facts,
    stops: Stops,
    *,
    risk: float | None = None,
    told: Sequence[Told] = (),
    washings_back: bool = False,
) -> tuple[Crops, tuple[Split, ...]]:
    """The crops of a pot as the facts tell how they are harvested, and its best splits; ``risk`` is that of all together."""
    cool_to = optional_temperature(facts, "cool_to")
    if cool_to is None:
        raise InputError("--cool-to", "nothing", "the temperature of each crop", '"5 degC"')
    read_at, bed = temperature(facts, "read_at", 20.0), bed_fraction(facts)
    how, washes = draining_of(facts), washes_of(start.model, facts, cool_to)
    splits: tuple[Split, ...] = ()
    with naming_the_cold(facts):
        if risk is not None and not told:
            splits = best_splits(
                start, cool_to, risk, stops=stops, how=how, washes=washes,
                washings_back=washings_back, spilled_g=spilled_g(facts), read_at_C=read_at, bed=bed,
            )  # fmt: skip
        if splits:
            return splits[-1].plan, splits
        found = Crops.of(
            start, cool_to, how=how, washes=washes, stops=stops, told=told, risk=risk,
            washings_back=washings_back, spilled_g=spilled_g(facts), read_at_C=read_at, bed=bed,
        )  # fmt: skip
    return found, splits_of(found)


def _start(args: argparse.Namespace, batch: ToldBatch, catalogue: Catalogue) -> Pot:
    """The pot, with what is joined to it."""
    facts = batch.facts
    if args.join is None:
        return batch.start(catalogue)
    told = batch.made is not None or any(key in facts for key in (*CONTENTS, *SIZES, "with"))
    own = (batch.start(catalogue),) if told else ()
    model = own[0].model if own else model_of(facts, catalogue)
    return joined((*own, *(joined_liquor(path, model, catalogue) for path in args.join)))


def told_crops(crops: Iterable[Mapping[str, Given]]) -> list[Told]:
    """The first crops as the batch file tells them."""
    found = []
    for texts in crops:
        to, cool = texts.get("to"), texts.get("cool_to")
        at = None if cool is None else units.temperature_C(cool.text, what=cool.what)
        if to is None:
            found.append(Told(cool_to_C=at))
            continue
        size = units.end_size(to.text, what=to.what)
        if size.kind not in ("volume_mL", "mass_g"):
            raise InputError(to.what, repr(to.text), "a volume or a mass of the pot by then", '"190 mL"')
        volume, mass = (size.value, None) if size.kind == "volume_mL" else (None, size.value)
        found.append(Told(volume, mass, at, to.what))
    return found


def _ceiling(text: str) -> float:
    try:
        value = float(text.strip().replace(",", ".").removesuffix("%")) / (
            100.0 if text.strip().endswith("%") else 1.0
        )
    except ValueError:
        value = -1.0
    if not 0.0 < value < float("inf"):
        raise InputError("--ceiling", repr(text), "grams of other solutes per gram of salt, above 0", "0.3")
    return value


def crops_risk(text: str) -> float:
    """Odds that the crops together may bear of a pot that does not pour."""
    value = units.share(text, what="--risk", example="5 %")
    if not 0.0 < value < 0.5:
        raise InputError("--risk", repr(text), "above 0 and below 50 %", "5 %")
    return value


def crops_warnings(found: Crops, boil_at_C: float | None) -> list[str]:
    """What to mind of the crops, and what the other solutes do to the first and the last."""
    said: list[str] = []
    if any(crop.kind == RESCUE for crop in found.crops):
        said.append(
            "A pot that had set is thinned: warm it until all has dissolved before it is left to cool."
        )
    if found.start.others and any(crop.odds_of_setting is not None for crop in found.crops):
        said.append(
            "Beside other solutes the risk is shared evenly, as if one crop's failing said nothing of the next: where the night is "
            "uncertain and the solubility steep the joint odds may be twice that. Weigh each liquor."
        )
    model = found.start.model
    hot_C = min(BOILING_C, model.map.high_C) if boil_at_C is None else boil_at_C
    hot_g: list[str] = []
    for number, crop in enumerate(found.crops, 1):
        end = crop.end
        hot = Cooled.of(model, end.salt_g, end.water_g, hot_C, strict=False, others=end.others)
        if float(hot.crystals_g) > 0 and int(hot.main_solid) >= 0:
            hot_g.append(f"{grams(float(hot.crystals_g))} (crop {number})")
            solid = model.solid_name(int(hot.main_solid))
    if hot_g:
        said.append(
            f"Before the end point {listed(hot_g)} of {solid} already stands in the pot at {hot_C:g} degC: it crusts and "
            "bumps, and what is not stable in the cold is slow to change."
        )
    mixed = [
        str(n) for n, crop in enumerate(found.crops, 1) if float(crop.harvest.cooled.others_crystals_g) > 0
    ]
    if mixed:
        said.append(f"Crop {listed(mixed)} holds crystals of another solute beside the salt's.")
    small = [crop for crop in found.crops if crop.end_point.end_volume_mL < SMALL_mL]
    if small:
        said.append(
            f"The last end points are small ({small[-1].end_point.end_volume_mL:.3g} mL): too little to read off a beaker. Weigh "
            "the pot, or join the liquor to another batch's (--join)."
        )
    for crop in found.crops[:1]:
        said += company_notes(crop.end, float(crop.harvest.cooled.temperature_C))
    for crop in found.crops[1:][-1:]:
        at = float(crop.harvest.cooled.temperature_C)
        # Only a shift that is told differs from crop to crop.
        notes = [] if Shift.of(crop.end, at) is None else company_notes(crop.end, at)
        said += [note for note in notes if note not in said]
    return said


def _show(console: Console, found: Crops, data: dict[str, Any], title: str, catalogue: Catalogue) -> None:
    start = found.start
    salt = start.model.salt
    console.print(show.salt_line(salt, title))
    console.print(show.pot_line(start))
    show.heading(console, f"Crops at {celsius(found.cool_to_C)}")
    titles = columns(
        "crop", "end_volume_mL", "end_mass_g", "water_removed_g", "outcome", "crystals_g", "crystals_dry_g",
        "purity_percent", "cumulative_yield_percent", "liquor_g",
    )  # fmt: skip
    rows = [
        (
            str(row["crop"]), three(row["end_volume_mL"]), three(row["end_mass_g"]), three(row["water_removed_g"]),
            outcome_word(row["outcome"]), three(row["crystals_g"]), three(row["crystals_dry_g"]),
            purity_text(row["purity_percent"]), three(row["cumulative_yield_percent"]), three(row["liquor_g"]),
        )
        for row in data["crops"]
    ]  # fmt: skip
    if rows:
        show.table(console, titles, rows, left=(4,), spare=(9, 2))
    lines = []
    for row in data["crops"]:
        if row["kind"] == RESCUE:
            warm = "" if row["warm_to_degC"] is None else f", warm it to {celsius(row['warm_to_degC'])}"
            lines.append(
                f"Crop {row['crop']}: first thin the pot with {grams(-row['water_removed_g'])} of water{warm}."
            )
    later = [row for row in data["crops"][1:] if row["kind"] != RESCUE]
    if later:
        told = listed([f"crop {row['crop']} to {row['end_mass_share_percent']:.1f} %" for row in later])
        lines.append(
            f"What is poured off is never quite what was planned. Weigh it, and boil {told} of its mass; that goes before "
            "the volumes and masses above."
        )
    lines.append(f"Stopped: {data['stopped_because']}")
    if data["splits"] and data["splits"][0]["crop_risks_percent"] is None:
        lines.append(
            "Each crop keeps a fixed margin. With --risk they are planned by odds, as 'crystal reduce' plans one, and may end "
            "elsewhere."
        )
    show.bullets(console, lines)
    if data["splits"]:
        show.heading(console, "Into how many crops")
        show.bullets(console, [_split_line(one) for one in data["splits"]])
    if data["crops"] and data["crops"][-1]["liquor_solutes"]:
        show.heading(console, "Other solutes in the last liquor")
        show.bullets(console, [solute_line(one) for one in data["crops"][-1]["liquor_solutes"]])
    streams.ledger(console, data["ledger"], salt.formula)
    streams.spent(console, [("Liquor left", data["liquor"]), ("Washings", data["washings"])], salt, catalogue)
    show.warnings_and_cautions(console, data["warnings"], salt)


def _split_line(one: dict[str, Any]) -> str:
    ends = ", ".join(f"{three(v)} mL" for v in one["end_volumes_mL"])
    word = "crop" if one["crops"] == 1 else "crops"
    return f"{one['crops']} {word}: {percent(one['yield_percent'] / 100)} of the salt, ending at {ends}{_split_odds(one)}."


def _split_odds(one: dict[str, Any]) -> str:
    risks, odds, by_marks = (
        one["crop_risks_percent"],
        one["odds_any_percent"],
        one["odds_any_by_marks_percent"],
    )
    if risks is None:
        return ""
    if odds is None:
        return f", the riskiest with odds of {three(max(risks))} %"
    if one["crops"] == 1:
        return f"; odds that it does not pour {odds:.2g} %"
    alone = "not known" if by_marks is None else f"{by_marks:.2g} %"
    return f"; odds that any does not pour {odds:.2g} % with the liquor weighed, {alone} by these marks alone"
