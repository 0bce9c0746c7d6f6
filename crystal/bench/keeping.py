"""Drying and keeping: whether a crystal melts, keeps or crumbles in an air, how warm it may be dried, what to keep it in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.data.heat_limits import heat_limits_of
from crystal.data.humidity import Practice, humidity_tables, practices
from crystal.errors import InputError
from crystal.physics.formula import Hydrate
from crystal.physics.humidity import (
    ESTIMATE,
    ROOM,
    Deliquescence,
    Humidity,
    Pair,
    deliquescence,
    dew_point_C,
    saturated,
    vapour_pressure_kPa,
)
from crystal.physics.model import Model
from crystal.physics.regions import Solid
from crystal.physics.vapour import saturation_pressure_kPa

Floats = NDArray[np.float64]

DELIQUESCES, STABLE, EFFLORESCES = "deliquesces", "stable", "effloresces"

DRYING_MARGIN_K = 10.0
"""How far below melting, transition or a heat limit a solid is dried, K; common practice, no source."""

WARMEST_DRYING_C = 100.0
"""A solid without water of its own is dried no warmer than this unless more is known."""

ORDINARY_ROOM = (40.0, 65.0)
"""Humidities of an ordinary room, %; common practice, no source."""

SILICA_GEL_PERCENT = 10.0
"""Humidity in a jar with fresh silica gel, %, at most; common practice, no source."""

_HOLDERS = (
    "MgCl2.6H2O", "K2CO3.1.5H2O", "Mg(NO3)2.6H2O", "NaBr.2H2O", "KI", "NaCl", "(NH4)2SO4", "KCl", "KNO3", "K2SO4",
)  # fmt: skip
_APART = 2.0  # percent of humidity that a holder keeps from the window's edges beyond their doubts

WINDOW_UNKNOWN = "window unknown"


@dataclass(frozen=True, eq=False, slots=True)
class Keeping:
    """One solid in one air.

    Attributes
    ----------
    solid : str
        Formula.
    state : {'deliquesces', 'stable', 'effloresces'} or None
        None where the data do not tell.
    lower, upper : Humidity or None
        Edges of the humidity window; below ``lower`` the hydrate crumbles, above ``upper`` it takes up water.
    upper_is_hydrate : bool
        At ``upper`` it turns to a higher hydrate instead of melting.
    melts_C : float or None
        Where the solid melts or changes to a drier one, °C; None where the data show no end.
    dry_below_C : float
        Warmest safe drying, °C.
    keep_in : str
        What to keep it in.
    """

    model: Model
    solid: str
    temperature_C: float
    humidity_percent: float | None
    state: str | None
    lower: Humidity | None
    upper: Humidity | None
    upper_is_hydrate: bool
    melts_C: float | None
    dry_below_C: float
    keep_in: str
    desiccant_refused: bool
    practice: Practice | None
    warnings: tuple[str, ...]

    @classmethod
    def of(
        cls,
        model: Model,
        temperature_C: float,
        humidity_percent: float | None = None,
        *,
        solid: str | None = None,
    ) -> Keeping:
        """Tell how a solid keeps.

        Parameters
        ----------
        model : Model
            The salt.
        temperature_C : float
            Of the room, °C.
        humidity_percent : float, optional
            Relative humidity of its air, %.
        solid : str, optional
            The solid; unless told the one that crystallises at that temperature.

        Raises
        ------
        InputError
            For an unknown solid or a humidity beyond 0 to 100 %.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> model = Model.of(Catalogue.bundled().find("MgSO4"))
        >>> [Keeping.of(model, 25.0, rh).state for rh in (30.0, 70.0, 95.0)]
        ['effloresces', 'stable', 'deliquesces']
        """
        if humidity_percent is not None and not 0.0 <= humidity_percent <= 100.0:
            raise InputError("--humidity", f"{humidity_percent:g} %", "from 0 to 100 %", '"60 %"')
        it = _solid(model, solid, temperature_C)
        edges = Edges.of(model, it, temperature_C)
        melts = float(it.top_C) if np.isfinite(it.top_C) else None
        practice = practices().get(it.formula)
        state = edges.state(humidity_percent)
        by_practice = _by_practice(practice, edges, humidity_percent)
        state = by_practice or state
        dry_below, why_dry = _dry_below(model, it, melts, edges)
        keep_in, refused = _keep_in(it, edges, temperature_C, practice)
        warnings = _warnings(model, it, edges, temperature_C, humidity_percent, melts, by_practice)
        warnings.append(why_dry)
        return cls(
            model, it.formula, temperature_C, humidity_percent, state, edges.lower, edges.upper,
            edges.upper_is_hydrate, melts, dry_below, keep_in, refused, practice, tuple(warnings),
        )  # fmt: skip

    @property
    def turns_to(self) -> str | None:
        """The higher hydrate that it turns to in the room's air; None where it does not or that is not known."""
        above = Pair.above(self.solid)
        if above is None or not self.upper_is_hydrate or self.upper is None or self.humidity_percent is None:
            return None
        return above.pressure.hydrate if self.humidity_percent > self.upper.rh_percent else None

    @property
    def dew_point_C(self) -> float | None:
        """Dew point of the room's air; None without a humidity or where frost comes instead."""
        if self.humidity_percent is None:
            return None
        found = float(dew_point_C(self.temperature_C, self.humidity_percent))
        return found if np.isfinite(found) else None

    def crumbles_warmer_than_C(self) -> float | None:
        """Temperature to which the room's air may be warmed before it is too dry for the solid; None where unknown."""
        if self.humidity_percent is None or self.lower is None or self.lower.rh_percent <= 0:
            return None
        pair = Pair.below(self.solid)
        if pair is None:
            return None
        pressure = float(vapour_pressure_kPa(self.temperature_C, self.humidity_percent))
        for t in np.arange(self.temperature_C, self.dry_below_C + 0.25, 0.5):
            edge = pair.at(float(t))
            if edge is None:
                return None
            if 100.0 * pressure / float(saturation_pressure_kPa(t)) < edge.rh_percent:
                return float(t)
        return None


@dataclass(frozen=True, slots=True)
class Edges:
    """The humidity window of one solid at one temperature."""

    lower: Humidity | None
    upper: Humidity | None
    upper_is_hydrate: bool

    @classmethod
    def of(cls, model: Model, solid: Solid, temperature_C: float) -> Edges:
        """Work them out; an edge that the data do not tell is None. A solid without water has 0 below."""
        lower: Humidity | None
        if solid.phase.waters:
            pair = Pair.below(solid.formula)
            lower = None if pair is None else pair.at(temperature_C)
        else:
            lower = Humidity(0.0, 0.0, "", "")
        upper, is_hydrate = deliquescence(model, solid.formula, temperature_C), False
        above = Pair.above(solid.formula)
        taken_up = None if above is None else above.at(temperature_C)
        if taken_up is not None and (upper is None or taken_up.rh_percent < upper.rh_percent):
            over = saturated(model, temperature_C)
            # Above the two hydrates' meeting point the balance lies beyond the solution and does not occur.
            if over is not None and over[1] != solid.formula:
                upper, is_hydrate = taken_up, True
        if lower is not None and upper is not None and lower.rh_percent > upper.rh_percent:
            lower = None
        return cls(lower, upper, is_hydrate)

    def state(self, humidity_percent: float | None) -> str | None:
        """The state in that humidity; None where the edges do not tell, or where it turns to a higher hydrate."""
        if humidity_percent is None:
            return None
        if self.upper is not None and humidity_percent > self.upper.rh_percent:
            held = self.upper.basis == ESTIMATE
            return None if self.upper_is_hydrate or (held and humidity_percent > 100.0) else DELIQUESCES
        if self.lower is not None and humidity_percent < self.lower.rh_percent:
            return EFFLORESCES
        return STABLE if self.lower is not None and self.upper is not None else None

    @property
    def doubt(self) -> float:
        """The larger doubt of the two edges, percent of humidity."""
        return max((edge.doubt_percent for edge in (self.lower, self.upper) if edge is not None), default=0.0)


def window_against_temperature(
    model: Model, solid: str, temperatures_C: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Lower and upper edge of the humidity window, %, and their doubts, over temperatures; NaN where not known."""
    it = _solid(model, solid, float(temperatures_C[0]))
    rows = []
    for t in temperatures_C:
        edges = Edges.of(model, it, float(t)) if t <= it.top_C else Edges(None, None, False)
        rows.append(
            [np.nan if edge is None else edge.rh_percent for edge in (edges.lower, edges.upper)]
            + [np.nan if edge is None else edge.doubt_percent for edge in (edges.lower, edges.upper)]
        )
    lower, upper, lower_doubt, upper_doubt = np.array(rows).T
    return lower, upper, lower_doubt, upper_doubt


def _solid(model: Model, formula: str | None, temperature_C: float) -> Solid:
    solids = [s for s in model.map.solids if not s.is_ice]
    if formula is None:
        over = saturated(model, temperature_C)
        if over is None:
            raise model.map.not_covered(None, temperature_C)
        formula = over[1]
    wanted = Hydrate.parse(formula)
    for solid in solids:
        if solid.formula == formula:
            return solid
    for solid in solids:
        if solid.phase.waters is not None and abs(solid.phase.waters - wanted.waters) < 1e-9:
            return solid
    names = ", ".join(s.formula for s in solids)
    raise InputError("SALT", repr(formula), f"one of its solids: {names}", solids[0].formula)


def _by_practice(practice: Practice | None, edges: Edges, humidity_percent: float | None) -> str | None:
    """The state that the trade knows, where no published humidity tells and the room is an ordinary one or damper."""
    if practice is None or humidity_percent is None:
        return None
    published = edges.upper is not None and edges.upper.basis != ESTIMATE
    if practice.behaviour == "takes_up_water" and not published and humidity_percent >= ORDINARY_ROOM[0]:
        return DELIQUESCES
    ordinary = ORDINARY_ROOM[0] <= humidity_percent <= ORDINARY_ROOM[1]
    if practice.behaviour == "keeps" and edges.state(humidity_percent) is None and ordinary:
        return STABLE
    return None


def _dry_below(model: Model, solid: Solid, melts_C: float | None, edges: Edges) -> tuple[float, str]:
    """The warmest safe drying and the sentence that says why."""
    limits = [(limit.temperature_C, limit.reason) for limit in heat_limits_of(model.salt)]
    if melts_C is not None:
        word = "melts in its own water" if solid.melts_congruently else "changes or melts"
        limits.append((melts_C, f"{solid.formula} {word} at {melts_C:.4g} degC"))
    if not limits:
        if not solid.phase.waters:
            return (
                WARMEST_DRYING_C,
                f"No end of {solid.formula} is in the data: dried up to {WARMEST_DRYING_C:g} degC.",
            )
        return 30.0, f"Where {solid.formula} melts or changes is not in the data: dry it at room temperature."
    at, reason = min(limits)
    safe = min(at - DRYING_MARGIN_K, WARMEST_DRYING_C)
    text = f"Dry below {safe:.3g} degC, {at - safe:.3g} K under the limit: {reason}."
    if solid.phase.waters and edges.lower is None:
        text += (
            " Warm air is dry air: where its lower edge is not known, dry it at room temperature in the open."
        )
    return safe, text


def _keep_in(solid: Solid, edges: Edges, temperature_C: float, practice: Practice | None) -> tuple[str, bool]:
    """What to keep it in, and whether a strong desiccant is refused."""
    lower, upper = edges.lower, edges.upper
    takes_up = practice is not None and practice.behaviour == "takes_up_water"
    if solid.phase.waters and lower is None:
        if takes_up:
            assert practice is not None
            return (
                f"{solid.formula} {practice.text} ({practice.source}). How dry an air it bears is not in the data "
                f"({WINDOW_UNKNOWN}): take the desiccant out again if the crystals dull.",
                False,
            )
        at_once = upper is not None and upper.rh_percent - upper.doubt_percent < ORDINARY_ROOM[1]
        hurry = " Close it at once: an ordinary room can be damp enough to melt it." if at_once else ""
        return (
            "A small jar, filled well and closed tightly, without a desiccant: how dry an air it bears is not in the data "
            f"({WINDOW_UNKNOWN}), and silica gel may turn it to powder.{hurry}",
            True,
        )
    assert lower is not None
    if lower.rh_percent - lower.doubt_percent > SILICA_GEL_PERCENT:
        text = (
            f"A small jar, filled well and closed tightly. No silica gel or other strong desiccant: below "
            f"{lower.rh_percent:.0f} % it loses water and crumbles."
        )
        holder = _holder(edges, temperature_C)
        if holder is not None:
            text += f" A dish of saturated {holder[0]} with solid in it, beside it in the jar, holds {holder[1]:.0f} %."
        return text, True
    if upper is not None and upper.rh_percent > 85.0:
        return "A closed jar keeps it; a desiccant does no harm and is not needed.", False
    return "A tight jar with silica gel, closed at once after drying.", False


def _holder(edges: Edges, temperature_C: float) -> tuple[str, float] | None:
    """The saturated solution that holds a humidity nearest to the middle of the window."""
    if edges.lower is None:
        return None
    low = edges.lower.rh_percent + edges.lower.doubt_percent + _APART
    top = 100.0 if edges.upper is None else edges.upper.rh_percent - edges.upper.doubt_percent
    high = top - _APART
    found = []
    for name in _HOLDERS:
        at = Deliquescence(humidity_tables()[name]).at(temperature_C)
        if at is not None and low < at.rh_percent < high:
            found.append((abs(at.rh_percent - (low + high) / 2), name, at.rh_percent))
    return min(found)[1:] if found else None


def _warnings(
    model: Model,
    solid: Solid,
    edges: Edges,
    temperature_C: float,
    humidity_percent: float | None,
    melts_C: float | None,
    by_practice: str | None,
) -> list[str]:
    name = solid.formula
    found = []
    if melts_C is not None and temperature_C >= melts_C:
        found.append(f"At {temperature_C:g} degC {name} is past its end at {melts_C:.4g} degC.")
    over = saturated(model, temperature_C)
    if over is not None and over[1] != name:
        found.append(
            f"At {temperature_C:g} degC it is {over[1]} that crystallises: {name} is kept there as it is, not stable beside "
            "its own solution."
        )
    if solid.phase.waters and edges.lower is None:
        found.append(
            f"{WINDOW_UNKNOWN}: in how dry an air {name} begins to lose its water at {temperature_C:g} degC is not in the "
            "data."
        )
    if edges.upper is None:
        found.append(
            f"In how damp an air {name} takes up water at {temperature_C:g} degC is not in the data."
        )
    elif edges.upper.basis == ESTIMATE:
        found.append(
            f"The upper edge is an estimate from the activity of water in the saturated solution, {edges.upper.doubt_percent:g} "
            "either way."
        )
    elif edges.upper.basis == ROOM:
        found.append("The upper edge is published for 25 degC only.")
    if by_practice is not None:
        found.append(
            f"The state of {name} in a room is common practice, no source; no humidity of it is published here."
        )
    if humidity_percent is None:
        return found
    for edge in (edges.lower, edges.upper):
        if (
            edge is not None
            and edge.rh_percent > 0
            and abs(edge.rh_percent - humidity_percent) <= edge.doubt_percent
        ):
            found.append(
                f"{humidity_percent:g} % lies within the doubt of an edge ({edge.rh_percent:.3g} ± {edge.doubt_percent:.2g} %)."
            )
    if edges.upper_is_hydrate and edges.upper is not None and humidity_percent > edges.upper.rh_percent:
        above = Pair.above(name)
        assert above is not None
        found.append(
            f"Above {edges.upper.rh_percent:.0f} % {name} takes up water and cakes to {above.pressure.hydrate}; it does not "
            "melt there."
        )
    return found
