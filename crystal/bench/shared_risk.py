"""One risk shared out among the crops of one pot: how much of it each bears, and the odds that any of them does not pour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from crystal.bench.cooling import OUTCOMES, UNKNOWN, Cooled
from crystal.bench.doubt import UNCERTAIN, Draws, normal_numbers
from crystal.bench.odds import DrawnEnds, water_g
from crystal.bench.pot import Pot
from crystal.bench.window import Window

Floats = NDArray[np.float64]

_STEPS = 120
_ENDS = 240
_NIGHTS = 100
_LEAST_LEFT = 1e-9
_LEAST_POURED = 1e-3
_LEAST_CONTENT = 0.05
_TRIES = 24
_DILUTE = 1e4
_TOLD = 0.9


@dataclass(frozen=True, eq=False)
class Stakes:
    """What one crop wins against the risk that it bears, for a pot whose liquor comes back saturated every time.

    Parameters
    ----------
    pot : Pot
        The first pot.
    to_C : float
        Temperature of each crop, °C.
    draws : Draws
        Possible truths.
    held_g_per_g : float
        Liquor held per gram of crystals.
    mass_fraction, risk, left : arrays, shape (m,)
        End compositions, the odds that the first pot does not pour there, and the share of the salt that stays in the
        liquor; only those at which a crop comes.
    """

    pot: Pot
    to_C: float
    draws: Draws
    read_at_C: float
    held_g_per_g: float
    mass_fraction: Floats
    risk: Floats
    left: Floats

    @classmethod
    def of(
        cls,
        pot: Pot,
        to_C: float,
        draws: Draws,
        *,
        read_at_C: float = 20.0,
        held_g_per_g: float = 0.0,
        bed: float,
    ) -> Stakes | None:
        """Look at end compositions from the first crystals on, wherever the pot stands; None where no crop comes."""
        dilute = pot.with_water(max(pot.water_g, _DILUTE * pot.salt_g))
        window = Window.of(dilute, to_C, read_at_C=read_at_C, bed=bed)
        if window.saturates is None:
            return None
        lean = window.saturates.mass_fraction
        rich = 0.98 if window.sets_solid_below is None else window.sets_solid_below.mass_fraction
        w = np.linspace(lean, rich, _ENDS + 1)[1:]
        water = pot.salt_g * (1.0 - w) / w
        cooled = Cooled.of(pot.model, pot.salt_g, water, to_C, bed=bed, strict=False, others=pot.others)
        good = cooled.outcome == OUTCOMES.index("crop")
        if not good.any():
            return None
        w, water = w[good], water[good]
        crystals, liquor = cooled.crystals_g[good], cooled.liquor_g[good]
        salt_left = pot.salt_g - cooled.salt_in_crystals_g[good]
        poured = np.maximum(1.0 - held_g_per_g * crystals / liquor, 0.0)
        left = np.maximum(salt_left * poured / pot.salt_g, _LEAST_LEFT)
        volumes = np.asarray(pot.volume_of(water, read_at_C))
        risk = DrawnEnds.of(pot, draws, to_C, volumes, read_at_C=read_at_C).odds(draws, volumes).does_not_pour
        return cls(pot, to_C, draws, read_at_C, held_g_per_g, w, np.asarray(risk), left)

    def shares(self, crops: int, total_risk: float) -> tuple[float, ...]:
        """The risk that each of so many crops bears so that most salt is won; the riskiest last, when least is at stake.

        Notes
        -----
        The odds of pouring multiply. A crop's gain, -ln of what it leaves, against its cost, -ln of its odds of pouring, on
        a grid of costs; the best sharing by dynamic programming. Even shares are best where the gain is concave in
        the cost; where a colder night lets another hydrate fill the pot it is not.
        """
        budget = -np.log1p(-total_risk)
        cost = -np.log1p(-np.minimum(self.risk, 1.0 - 1e-12))
        gain = -np.log(self.left)
        grid = np.linspace(0.0, budget, _STEPS + 1)
        best = np.array([gain[cost <= c + 1e-15].max(initial=0.0) for c in grid])
        table, chosen = best, []
        for _ in range(crops - 1):
            whole = np.full((_STEPS + 1, _STEPS + 1), -np.inf)
            for j in range(_STEPS + 1):
                whole[j, : j + 1] = table[: j + 1] + best[j::-1]
            chosen.append(np.argmax(whole, axis=1))
            table = whole.max(axis=1)
        costs, at = [], _STEPS
        for back in reversed(chosen):
            costs.append(grid[at - back[at]])
            at = int(back[at])
        costs.append(grid[at])
        return tuple(float(-np.expm1(-c)) for c in sorted(costs))

    def end_for(self, risk: float) -> float | None:
        """End composition that wins most within a risk; None where no crop stays within it."""
        good = self.risk <= risk + 1e-15
        if not good.any():
            return None
        return float(self.mass_fraction[good][np.argmin(self.left[good])])

    def odds_of_any(self, risks: Sequence[float]) -> float | None:
        """Odds that any of the crops does not pour when each is ended at its risk, the liquor weighed each time.

        None where one has no end.
        """
        pots, ends_mL, pot = [], [], self.pot
        for risk in risks:
            w = self.end_for(risk)
            if w is None:
                return None
            end = pot.with_water(pot.salt_g * (1.0 - w) / w)
            pots.append(pot)
            ends_mL.append(float(end.volume_of(end.water_g, self.read_at_C)))
            cooled = Cooled.of(pot.model, end.salt_g, end.water_g, self.to_C, strict=False, others=pot.others)
            salt, whole = end.salt_g - float(cooled.salt_in_crystals_g), float(cooled.liquor_g)
            poured = max(1.0 - self.held_g_per_g * float(cooled.crystals_g) / whole, _LEAST_POURED)
            pot = Pot(pot.model, salt * poured, (whole - salt) * poured, pot.read_at_C)
        return odds_of_any(pots, ends_mL, self.to_C, self.draws, read_at_C=self.read_at_C)

    def borne(self, crops: int, total_risk: float) -> tuple[float, ...] | None:
        """Shares whose joint odds, one truth going through all crops, stay under the risk; None where none do.

        A beaker that deceives deceives every time, as do curve and bed: crops fail together, and each may bear more. But what
        is left after a warm night is stronger than planned, and then each may bear less.
        """
        if crops == 1:
            return (total_risk,) if self.end_for(total_risk) is not None else None
        for total in np.geomspace(min(crops * total_risk, 0.9), 0.1 * total_risk, _TRIES):
            tried = self.shares(crops, float(total))
            odds = self.odds_of_any(tried)
            if odds is not None and odds <= total_risk:
                return tried
        return None


def odds_of_any(
    pots: Sequence[Pot],
    ends_mL: Sequence[float],
    to_C: float,
    draws: Draws,
    *,
    read_at_C: float = 20.0,
    held_g_per_g: float = 0.0,
    weighed: bool = True,
) -> float | None:
    """Odds that at least one of several crops does not pour; None where the data tell it of too few truths.

    Parameters
    ----------
    pots : sequence of Pot
        What each crop begins with, as planned.
    ends_mL : sequence of float
        The end volume of each, as read.
    to_C : float
        Temperature of each crop, °C.
    draws : Draws
        Possible truths. Vessel, curve, density, bed and content stay what they are from crop to crop; every cooling is
        another night.
    read_at_C : float
        Temperature of the readings, °C.
    held_g_per_g : float
        Liquor held per gram of crystals.
    weighed : bool
        Each liquor that is poured off is weighed, and its end point shifted in proportion; else the marks stand as planned
        whatever came before.

    Notes
    -----
    What a truth leaves in the liquor is what its next crop begins with. Without others beside the salt only.

    Examples
    --------
    >>> from crystal.bench.doubt import Doubt
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> pot = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 97.7, 491.3)
    >>> draws = Draws.of(pot, 5.0, Doubt(), bed=0.55)
    >>> round(odds_of_any([pot], [240.0], 5.0, draws), 2)
    0.05
    """
    failed, known = np.zeros(len(draws), dtype=bool), np.ones(len(draws), dtype=bool)
    now = draws
    for k, (pot, mL) in enumerate(zip(pots, ends_mL, strict=True)):
        ends = DrawnEnds.of(pot, now, to_C, [mL], read_at_C=read_at_C)
        failed |= ends.outcome[0] >= OUTCOMES.index("thick")
        known &= ends.outcome[0] != UNKNOWN
        if k + 1 < len(pots):
            left = _left(pot, now, to_C, mL, ends.crystals_g[0], read_at_C)
            content = left.mass_fraction / pots[k + 1].mass_fraction
            if not weighed:
                poured = np.maximum(left.liquor_g - held_g_per_g * ends.crystals_g[0], 0.0)
                content *= poured / (pots[k + 1].salt_g + pots[k + 1].water_g)
            # Truths that have failed count as that whatever comes; a content near nothing would spoil the others' table.
            now = _next(now, np.where(failed, 1.0, np.maximum(content, _LEAST_CONTENT)), k)
    told = failed | known  # what has failed has failed, whatever is not known of the rest
    share = float(draws.weights @ told)
    return float(draws.weights @ failed) / share if share >= _TOLD else None


@dataclass(frozen=True, eq=False, slots=True)
class _Left:
    """The liquor of each truth: its mass, g, and composition."""

    liquor_g: Floats
    mass_fraction: Floats


def _left(pot: Pot, draws: Draws, to_C: float, end_mL: float, crystals_g: Floats, read_at_C: float) -> _Left:
    salt = pot.salt_g * draws.salt
    total = salt + water_g(pot, draws, np.array([end_mL]), read_at_C, False)[0]
    its, w = pot.model.map, salt / total
    t = np.clip(to_C + draws.temperature_K, its.low_C, its.high_C)
    # A richer curve is the given one met by so much leaner a pot.
    state = its.look_up(np.clip(w - draws.curve, 0.0, 1.0), t)
    rich = np.where(state.known & (crystals_g > 0), state.liquor_mass_fraction + draws.curve, w)
    return _Left(np.maximum(total - crystals_g, 0.0), np.clip(rich, 0.0, 1.0))


def _next(draws: Draws, content: Floats, crop: int) -> Draws:
    """The same truths for the next crop: its own content, another night."""
    z = draws.z.copy()
    z[UNCERTAIN.index("holds")] = np.log(content)
    z[UNCERTAIN.index("temperature")] = normal_numbers(1, len(draws), _NIGHTS + crop)[0]
    return replace(draws, z=z).with_spread("holds", 1.0)
