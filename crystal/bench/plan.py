"""A plan for one pot: the window, the end points, the advice with its reason, and everything to be warned of."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from crystal.bench.advice import BED_SHARE, COLD_MARGIN_K, VOLUME_MARGIN, Advice
from crystal.bench.cooling import LOOSE_BED, OUTCOMES, UNKNOWN, Cooled
from crystal.bench.ends import BOILING_C, Ends
from crystal.bench.joined import joined_notes
from crystal.bench.pot import Pot
from crystal.bench.shift import Shift, company_notes
from crystal.bench.vessel import vessel_notes
from crystal.bench.window import EndPoint, Window, runs_at
from crystal.physics.company import look_up_beside

ROWS = 8
"""End points shown unless asked for."""

MOSTLY_HOT = 0.8
"""Share of the cold crop that, standing already in the hot pot, makes it a crop of boiling down, not of cooling."""

_TEMPERATURES = 33
"""At so many it is looked whether a composition that gives no first crystals is clear somewhere."""


@dataclass(frozen=True, eq=False)
class Plan:
    """What to do with a pot, for one cooling temperature.

    Attributes
    ----------
    window : Window
    ends : Ends
        The end points asked for, or a spread of them over the window.
    advice : Advice
    advised : Ends or None
        The advised end point in detail, shape (1,).
    reason : str
        Why that end point, or why none.
    warnings : tuple of str
        Sentences.
    """

    window: Window
    ends: Ends
    advice: Advice
    advised: Ends | None
    reason: str
    warnings: tuple[str, ...]
    boil_is_assumed: bool = True
    vessel_mL: float | None = None

    def stopping_at(self, end: EndPoint, why: str) -> Plan:
        """The same plan with another end point advised, for the reason given; warnings follow."""
        window, start = self.window, self.window.start
        advised = _worked_out(window, end.mass_fraction, self.ends.boil_at_C)
        cooled = advised.cooled
        advice = replace(
            self.advice,
            end=end,
            crystals_g=float(cooled.crystals_g[0]),
            solid=int(cooled.main_solid[0]),
            margin_kept=True,
        )
        warnings = _warnings(window, advice, advised, self.ends, self.boil_is_assumed, with_odds=True)
        if self.vessel_mL is not None:
            warnings += vessel_notes(self.vessel_mL, start.volume_mL(), end.end_volume_mL)
        return replace(
            self,
            advice=advice,
            advised=advised,
            reason=_reason(window, advice, advised, why),
            warnings=tuple(warnings),
        )

    def ending_at(self, mass_fraction: ArrayLike) -> Plan:
        """The same plan, with other end points worked out: compositions (salt / (salt + water))."""
        return replace(self, ends=_worked_out(self.window, mass_fraction, self.ends.boil_at_C))

    @property
    def shift(self) -> Shift | None:
        """What others in the pot do to the solubility where crystals begin."""
        return Shift.of(self.window.start, self.window.cool_to_C, _water_where_crystals_begin(self.window))

    @classmethod
    def of(
        cls,
        start: Pot,
        cool_to_C: float,
        *,
        read_at_C: float = 20.0,
        boil_at_C: float | None = None,
        bed: float = LOOSE_BED,
        ends: ArrayLike | None = None,
        vessel_mL: float | None = None,
    ) -> Plan:
        """Plan a batch.

        Parameters
        ----------
        start : Pot
            The pot before reducing.
        cool_to_C : float
            Temperature that it is cooled to, °C.
        read_at_C : float
            Temperature at which the end volume is read, °C.
        boil_at_C : float, optional
            Temperature at which the water is driven off, °C; 100, or where the data end below that.
        bed : float
            Solids' share of the volume of the settled crystals.
        ends : array_like, optional
            Compositions (salt / (salt + water)) of the end points to be worked out.
        vessel_mL : float, optional
            Capacity of the vessel.

        Raises
        ------
        CoverageError
            Where the cooling temperature lies outside the data.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> plan = Plan.of(Pot(Model.of(Catalogue.bundled().find("MgSO4")), 97.7, 402.3), 5.0)
        >>> plan.advice.margin_kept, plan.advised.cooled.outcome_word(0)
        (True, 'crop')
        """
        top = start.model.map.high_C
        hot = min(BOILING_C, top) if boil_at_C is None else boil_at_C
        window = Window.of(start, cool_to_C, read_at_C=read_at_C, bed=bed)
        advice = Advice.of(window)
        wanted = _spread(window) if ends is None else np.atleast_1d(np.asarray(ends, float))
        advised = None if advice.end is None else _worked_out(window, advice.end.mass_fraction, hot)
        plan_ends = _worked_out(window, wanted, hot)
        warnings = _warnings(window, advice, advised, plan_ends, boil_at_C is None)
        if vessel_mL is not None:
            end_mL = None if advice.end is None else advice.end.end_volume_mL
            warnings += vessel_notes(vessel_mL, start.volume_mL(), end_mL)
        return cls(
            window, plan_ends, advice, advised, _reason(window, advice, advised), tuple(warnings), boil_at_C is None, vessel_mL
        )  # fmt: skip


def _worked_out(window: Window, mass_fraction: ArrayLike, boil_at_C: float) -> Ends:
    """End points of a window's pot in detail."""
    return Ends.of(
        window.start, mass_fraction, window.cool_to_C, read_at_C=window.read_at_C, boil_at_C=boil_at_C, bed=window.bed
    )  # fmt: skip


def _spread(window: Window) -> np.ndarray:
    """A few round end volumes from a little before saturation to a little past setting, as compositions."""
    start = window.start
    top = start.volume_mL(window.read_at_C)
    driest = window.bands[-1].end.end_volume_mL if window.bands else 0.0
    first = window.saturates.end_volume_mL * 1.05 if window.saturates else top
    last = window.sets_solid_below.end_volume_mL * 0.92 if window.sets_solid_below else 0.1 * top
    last = max(last, driest * 1.01)
    rough = np.linspace(min(first, 0.95 * top), min(last, 0.5 * top), ROWS)
    step = 10.0 ** np.floor(np.log10(max(float(rough[0] - rough[-1]), 1e-9) / ROWS))
    volumes = np.unique(np.round(rough / step) * step)[::-1]
    volumes = volumes[(volumes > driest) & (volumes < top)]
    if not len(volumes):
        return np.array([start.mass_fraction])
    water = start.water_for_volume(volumes, window.read_at_C)
    return np.asarray(start.salt_g / (start.salt_g + water))


def _reason(window: Window, advice: Advice, advised: Ends | None, why: str | None = None) -> str:
    start, t = window.start, window.cool_to_C
    name = start.model.salt.formula
    if advice.end is None or advised is None:
        if any(run.outcome == "crop" for run in window.runs):
            return (
                f"The pot already holds more {name} than any end point with a crop at {t:g} °C: "
                "it does not pour as it stands; add water before cooling."
            )
        return f"No end point gives a crop that pours off at {t:g} °C."
    solid = start.model.solid_name(advice.solid)
    fill = 100 * float(advised.cooled.crystal_volume_fraction[0])
    parts = []
    already = window.saturates is not None and window.saturates.fraction_of_start >= 1.0
    if already:
        parts.append(
            f"The pot already crystallises at {t:g} °C without any reducing; reducing only adds to the crop."
        )
    if why is not None:
        parts.append(why)
    elif advice.margin_kept:
        cold = t - advice.colder_C
        parts.append(
            f"Largest crop of {solid} that keeps a margin: its crystals fill {fill:.0f} % of the volume, at most "
            f"{100 * BED_SHARE:.0f} % of the settled bed's {100 * window.bed:.0f} %, and it still pours off with the mark "
            f"read {100 * VOLUME_MARGIN:.0f} % too low and the pot {cold:.2g} K colder."
        )
    else:
        parts.append(
            f"No end point keeps the full margin ({100 * VOLUME_MARGIN:.0f} % in volume and {COLD_MARGIN_K:g} K): this "
            "is the middle of the widest band with a crop. Weigh the pot and hold the temperature."
        )
    hot = advised.hot
    if hot.outcome[0] != UNKNOWN and hot.crystals_g[0] > 0:
        parts.append(_hot_sentence(start, advised))
    return " ".join(parts)


def _hot_sentence(start: Pot, advised: Ends) -> str:
    solid = advised.hot.solids_text(0)
    hot_g, cold_g = float(advised.hot.crystals_g[0]), float(advised.cooled.crystals_g[0])
    text = (
        f"At {advised.boil_at_C:g} °C {hot_g:.3g} g of {solid} already drops out of the hot pot before this end point: "
        "it crusts and bumps"
    )
    text += (
        "."
        if solid == advised.cooled.solids_text(0)
        else (", and what is not stable in the cold is slow to change.")
    )
    if hot_g > cold_g and solid == advised.cooled.solids_text(0):
        text += f" It is less soluble hot: on cooling {hot_g - cold_g:.3g} g of it dissolve again, poured off hot it is all kept."
    elif hot_g >= MOSTLY_HOT * cold_g:
        text += " Most of this crop comes from driving off water, little from cooling."
    clear = _hottest_clear(start, float(advised.mass_fraction[0]), advised.boil_at_C)
    if clear is not None:
        text += f" Drive the last water off no hotter than about {clear:.0f} °C, where it is still clear."
    else:
        text += _least_clear_hot(start, advised)
    return text


def _least_clear_hot(start: Pot, advised: Ends) -> str:
    """The smallest volume at which the hot pot is still clear, and the crop from there."""
    runs = runs_at(start.model, advised.boil_at_C, salt_g=start.salt_g, others=start.others)
    if not runs or runs[0].outcome != "clear" or runs[0].to_w <= start.mass_fraction:
        return ""
    end = EndPoint.of(start, runs[0].to_w, advised.read_at_C)
    water = start.salt_g * (1.0 - end.mass_fraction) / end.mass_fraction
    then = Cooled.of(
        start.model, start.salt_g, water, advised.cooled.temperature_C[0], strict=False, others=start.others
    )
    if int(then.outcome) != OUTCOMES.index("crop"):
        return ""
    return (
        f" To keep the hot pot clear stop at {end.end_volume_mL:.3g} mL ({100 * end.fraction_of_start:.3g} % of the start): "
        f"{float(then.crystals_g):.3g} g come on cooling."
    )


def _hottest_clear(start: Pot, w: float, below_C: float) -> float | None:
    """Hottest temperature under ``below_C`` at which the composition is a clear liquid."""
    low = start.model.map.low_C
    t = np.linspace(low, below_C, 801)
    state = look_up_beside(start.model, start.others, start.salt_g, w, t)
    clear = np.flatnonzero(state.known & (state.liquor_fraction >= 1.0))
    return float(np.floor(t[clear[-1]])) if len(clear) else None


def _water_where_crystals_begin(window: Window) -> float:
    if window.saturates is None:
        return window.start.water_g
    w = window.saturates.mass_fraction
    return window.start.salt_g * (1.0 - w) / w


def _warnings(
    window: Window,
    advice: Advice,
    advised: Ends | None,
    ends: Ends,
    boil_is_assumed: bool,
    *,
    with_odds: bool = False,
) -> list[str]:
    start, model = window.start, window.start.model
    salt, t = model.salt, window.cool_to_C
    found: list[str] = []
    limit = salt.heat_limit_C
    if limit is not None and ends.boil_at_C > limit:
        found.append(
            f"{salt.formula} solutions are worked below about {limit:g} °C ({salt.heat_limit_reason}); the hot check "
            f"was made at {ends.boil_at_C:g} °C."
        )
    if boil_is_assumed and ends.boil_at_C < BOILING_C:
        found.append(
            f"The data for {salt.formula} end at {ends.boil_at_C:g} °C: the hot check was made there."
        )
    elif bool((ends.hot.outcome == UNKNOWN).any()):
        found.append(
            f"Whether the hot pot stays clear at {ends.boil_at_C:g} °C is not in the data for {salt.formula}."
        )
    dissolved = Cooled.of(
        model, start.salt_g, start.water_g, start.read_at_C, strict=False, others=start.others
    )
    if dissolved.outcome[()] > 0:
        found.append(
            f"At {start.read_at_C:g} °C the start itself is not a clear solution: {float(dissolved.crystals_g):.3g} g of "
            f"{dissolved.solids_text()} would stand in it; its volume is taken as that of the clear "
            "liquid."
        )
    if window.saturates is not None and window.saturates.fraction_of_start >= 1.0:
        found.append(f"The pot already crystallises at {t:g} °C before any reducing.")
    if any(band.outcome is None for band in window.bands):
        found.append(f"Part of the window at {t:g} °C is not covered by the data (outcome unknown).")
    if advice.end is not None and advised is not None:
        slurry = advised.slurry_mL(0)
        if slurry is not None:
            both, clear = f"{slurry:.3g}", f"{advice.end.end_volume_mL:.3g}"
            measures = (
                "" if both == clear else f": both then measure {both} mL, not {clear} mL of clear liquid"
            )
            found.append(
                f"At {window.read_at_C:g} °C crystals already stand in the liquor at the advised end point{measures}. Read it "
                "hot (--read-at) or weigh it."
            )
        if not with_odds and t - advice.colder_C < COLD_MARGIN_K - 1e-9:
            found.append(
                f"The data end at {advice.colder_C:g} °C: a night colder than that was not tried"
                + (
                    ", and the whole pot freezes below it."
                    if model.map.stretches[0].ends_in_eutectic
                    else "."
                )
            )
    if t < 0:
        found.append(f"At {t:g} °C a dilute pot freezes; ice is shown apart and is no crop.")
    found += _without_first_crystals(ends)
    richest = float(ends.mass_fraction.max()) if advice.end is None else advice.end.mass_fraction
    found += company_notes(start, t, _water_where_crystals_begin(window))
    found += joined_notes(window, advised, _water_where_crystals_begin(window))
    for sentence in (
        *model.density.warnings(start.mass_fraction, start.read_at_C),
        *model.density.warnings(richest, window.read_at_C),
    ):
        if sentence not in found:
            found.append(sentence)
    return found


def _without_first_crystals(ends: Ends) -> list[str]:
    """Why cooling gives some end points no first crystals: ice, data that end before, or no clear liquid at all."""
    model, w = ends.start.model, ends.mass_fraction
    first, is_ice = ends.first_solid, np.array([solid.is_ice for solid in model.map.solids])
    missing = np.flatnonzero(~first.found | is_ice[first.solid])
    if not missing.size:
        return []
    ice = first.found[missing]
    cold, solid_hotter = np.zeros((2, len(missing)), dtype=bool)
    if not ice.all():
        # What is clear without crystals coming from it on cooling is clear where the data begin.
        grid = np.linspace(model.map.low_C, model.map.high_C, _TEMPERATURES)
        state = look_up_beside(model, ends.start.others, ends.start.salt_g, w[missing[~ice], None], grid)
        clear = state.known & (state.liquor_fraction >= 1.0)
        cold[~ice] = clear.any(axis=1)
        solid_hotter[~ice] = (state.known & ~clear & (np.cumsum(clear, axis=1) > 0)).any(axis=1)
    none = "no temperature of first crystals:"
    why = (
        (ice, "ice before any crystals."),
        (cold & ~solid_hotter, f"{none} clear as far down as the data go."),
        (cold & solid_hotter, f"{none} clear as far down as the data go, crystals come on heating."),
        (~(ice | cold), f"{none} in the data that composition is never clear."),
    )
    return [f"{_so_many(int(those.sum()), len(w))} {said}" for those, said in why if those.any()]


def _so_many(some: int, of: int) -> str:
    if of == 1:
        return "The end point gives"
    if some == 1:
        return f"1 of the {of} end points gives"
    return f"{'All' if some == of else some} of the {of} end points give"
