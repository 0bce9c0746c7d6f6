"""Are the odds right? `python tests/bench/calibration.py` simulates batches whose truth is known and prints the tables.

What it printed last stands beside it in `calibration.txt`, which the tests and the README are held to.

The truth of each batch is drawn here with numpy's normal generator and carried out by the plain engine, one pot at a time:
of the code that draws, counts, weighs or advises nothing is used for it but the sizes of the doubts that a person tells.
A curve that is off is made by scaling the salt's branches, a density that is off by solving for the water anew.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch, Seen
from crystal.bench.cooling import LOOSE_BED, OUTCOMES, Cooled
from crystal.bench.doubt import Doubt, Draws
from crystal.bench.evidence import learn
from crystal.bench.odds import DrawnEnds, Odds
from crystal.bench.pot import Pot
from crystal.bench.risk import Bet
from crystal.bench.suspects import SOME, suspects, telling_test, tied
from crystal.bench.window import Window
from crystal.data.catalogue import Catalogue
from crystal.physics.calibration import Calibration
from crystal.physics.curve import leave_one_out_errors
from crystal.physics.model import Model

# Salt and the range of cooling temperatures, °C.
SALTS = {
    "MgSO4": (0.0, 30.0), "CuSO4": (5.0, 40.0), "KNO3": (5.0, 45.0), "Na2SO4": (5.0, 25.0), "Na2CO3": (5.0, 25.0),
    "ZnSO4": (5.0, 30.0), "FeCl3": (10.0, 28.0), "NiSO4": (5.0, 25.0), "KAl(SO4)2": (5.0, 40.0), "NaCl": (5.0, 40.0),
    "NH4H2PO4": (5.0, 40.0), "CaCl2": (0.0, 22.0), "Na2S2O3": (5.0, 30.0), "FeSO4": (5.0, 40.0),
}  # fmt: skip
DOES_NOT_POUR = (2, 3)
DRAWS = 2048
QUIET = 0.2  # of all pots come later than usual


@dataclass(frozen=True)
class Truth:
    """What one batch really is: factors on salt and read volume, the night, the curve, densities' error, the bed."""

    model: Model
    salt_g: float
    mark: float
    mass: float
    cold_C: float
    density_z: float
    bed: float
    undercooling_K: float

    @classmethod
    def drawn(cls, rng: np.random.Generator, start: Pot, cool_to_C: float, doubt: Doubt) -> Truth:
        window = Window.of(start, cool_to_C)
        assert window.saturates is not None
        w = window.saturates.mass_fraction
        off = rng.normal() * curve_spread(start.model, cool_to_C)
        moved = min(max(w + off, 0.2 * w), 0.5 * (1 + w))
        factor = (moved / (1 - moved)) / (w / (1 - w))
        return cls(
            start.model.calibrated(Calibration("truth", float(np.clip(factor, 0.55, 1.8)), 0.0)),
            start.salt_g * (1.0 + doubt.holds * rng.normal()),
            1.0 + doubt.volume * rng.normal(),
            1.0 + doubt.mass * rng.normal(),
            cool_to_C + doubt.temperature * rng.normal(),
            rng.normal(),
            float(np.clip(LOOSE_BED + doubt.bed * rng.normal(), 0.1, 0.9)),
            rng.exponential(usual_K(start.model) + (5.0 if rng.random() < QUIET else 0.0)),
        )

    def error(self, mass_fraction: float, temperature_C: float) -> float:
        return self.density_z * float(self.model.density.relative_doubt(mass_fraction, temperature_C))

    def water_g(self, read_mL: float) -> float:
        """Water really in the pot when the mark reads so many mL at 20 °C; the density's own error is found by repeating."""
        water, last = self.salt_g, 0.0
        while abs(water - last) > 1e-7 * self.salt_g:
            last, e = water, self.error(self.salt_g / (self.salt_g + water), 20.0)
            volume = read_mL * self.mark * (1 + e)
            water = max(float(self.model.density.water_g_for_volume(self.salt_g, volume, 20.0)), 1e-6)
        return water

    def outcome(self, water_g: float) -> tuple[int, float] | None:
        """Code of the outcome and crystals, g; None where the data do not tell."""
        low, high = self.model.map.low_C, self.model.map.high_C
        if self.cold_C < low and self.model.map.stretches[0].ends_in_eutectic:
            return 3, 0.0
        at = Cooled.of(
            self.model, self.salt_g, water_g, min(max(self.cold_C, low), high), bed=self.bed, strict=False
        )
        if int(at.outcome) < 0:
            return None
        if int(at.outcome) == 0:
            return 0, 0.0
        crystals_mL = 1.0 / max(1.0 - float(at.crystal_volume_fraction), 1e-12) - 1.0
        liquor = 1.0 / (1.0 + self.error(float(at.liquor_mass_fraction), self.cold_C))
        filled = crystals_mL / (crystals_mL + liquor)
        code = 3 if filled >= 0.95 or float(at.liquor_g) <= 0 else 2 if filled >= self.bed else 1
        return code, float(at.crystals_g)

    def seen_of(self, rng: np.random.Generator, read_mL: float, *, weighed: bool) -> Seen:
        """First crystals as they really show, read by a thermometer; the pot weighed where it is."""
        water = self.water_g(read_mL)
        first = self.model.onset.first(self.salt_g / (self.salt_g + water))
        seen = Seen(volume_mL=read_mL)
        if bool(first.found) and not self.model.map.solids[int(first.solid)].is_ice:
            seen = replace(
                seen, first_crystals_C=float(first.temperature_C) - self.undercooling_K + rng.normal()
            )
        if weighed:
            seen = replace(seen, mass_g=(self.salt_g + water) / self.mass)
        return seen


_MODELS: dict[str, Model] = {}


def usual_K(its: Model) -> float:
    """Mean of how late first crystals come, but in quiet pots."""
    return max(2.0, float(its.salt.extra.get("mszw_K") or 0.0))


def curve_spread(its: Model, temperature_C: float) -> float:
    """The curve's standard uncertainty: what the data state, and each point left out of the branches that cover this."""
    stated = its.salt.curve_doubt_mass_fraction
    left_out: list[float] = []
    for solid in its.map.solids:
        branch = None if solid.is_ice else its.salt.branch(solid.formula)
        if branch is not None and any(p.covers(temperature_C) for p in solid.pieces):
            left_out += _interpolation_errors(its.salt.formula, solid.formula)
    between = np.mean(np.square(left_out)) if left_out else 0.0
    return float(np.sqrt((0.005 if stated is None else stated) ** 2 + between))


@lru_cache
def _interpolation_errors(salt: str, solid: str) -> list[float]:
    its = model(salt)
    found = next(s for s in its.map.solids if s.formula == solid)
    branch = its.salt.branch(solid)
    assert branch is not None
    return [float(error) for error in leave_one_out_errors(branch, found.mass_fraction)]


def model(formula: str) -> Model:
    if formula not in _MODELS:
        _MODELS[formula] = Model.of(Catalogue.bundled().find(formula))
    return _MODELS[formula]


def plan_of(rng: np.random.Generator) -> tuple[Pot, float, Doubt]:
    """A pot of a salt at random, half as strong as saturated, its cooling temperature and its doubts."""
    formula = list(SALTS)[rng.integers(len(SALTS))]
    low, high = SALTS[formula]
    cold = float(rng.uniform(low, high))
    salt = float(rng.uniform(20.0, 300.0))
    probe = Window.of(Pot(model(formula), salt, 1e3 * salt), cold)
    assert probe.saturates is not None
    s = probe.saturates.mass_fraction / (1 - probe.saturates.mass_fraction)
    doubt = Doubt(
        volume=float(rng.choice([0.01, 0.05])), temperature=float(rng.choice([1.0, 2.0, 3.0])),
        holds=float(rng.choice([0.01, 0.03])),
    )  # fmt: skip
    return Pot(model(formula), salt, salt / (0.5 * s)), cold, doubt


@dataclass
class Tally:
    """Predictions and what came, gathered over batches."""

    not_pouring: list[tuple[float, bool]]
    crop: list[tuple[float, bool]]
    bound: list[bool]
    held: list[bool]
    ranks: list[float]

    @classmethod
    def empty(cls) -> Tally:
        return cls([], [], [], [], [])

    def count(
        self, odds: Odds, crops: NDArray[np.float64], weights: NDArray[np.float64], came: tuple[int, float]
    ) -> None:
        """One end point: odds and bands as told, and the outcome that came."""
        code, crystals = came
        drained = crystals if code == 1 else 0.0
        self.not_pouring.append((float(odds.does_not_pour[0]), code in DOES_NOT_POUR))
        self.crop.append((float(odds.odds[1, 0]), code == 1))
        if odds.odds[1, 0] >= 0.95:
            self.held.append(bool(odds.crop_p10_g[0] <= drained <= odds.crop_p90_g[0]))
        # The share of draws below what came, ties split at random by the caller's seed: even if the odds are right.
        below, tie = (
            float(weights @ (crops < drained - 1e-9)),
            float(weights @ (np.abs(crops - drained) <= 1e-9)),
        )
        self.ranks.append(below + tie * ((len(self.ranks) * 0.6180339887) % 1.0))


def simulate(n: int, seed: int = 1, *, evidence: bool = False) -> Tally:
    """Simulate n batches: the advised end point and one at random of each."""
    tally = Tally.empty()
    for number in range(n):
        rng = np.random.default_rng((seed, number))
        start, cold, doubt = plan_of(rng)
        window = Window.of(start, cold)
        draws = Draws.of(start, cold, doubt, bed=LOOSE_BED, n=DRAWS)
        truth = Truth.drawn(rng, start, cold, doubt)
        assert window.saturates is not None
        top = window.saturates.end_volume_mL
        low = window.sets_solid_below.end_volume_mL if window.sets_solid_below else 0.3 * top
        if evidence:
            seen = truth.seen_of(rng, float(0.95 * top), weighed=bool(rng.integers(2)))
            draws = learn(Batch(start, cool_to_C=cold, seen=(seen,)), draws).draws
        bet = Bet.of(window, draws)
        for advised, volume in (
            (True, bet.exact_mL),
            (False, float(rng.uniform(0.9 * low, 1.05 * top))),
        ):
            if volume is None:
                continue
            came = truth.outcome(truth.water_g(volume))
            if came is None:
                continue
            ends = DrawnEnds.of(start, draws, cold, [volume])
            odds = ends.odds(draws, [volume])
            crops = np.where(ends.outcome[0] == 1, ends.crystals_g[0], 0.0)
            tally.count(odds, crops, draws.weights, came)
            if advised and odds.does_not_pour[0] > 0.045:
                tally.bound.append(came[0] in DOES_NOT_POUR)
    return tally


FAULTS = (
    "holds +10 %",
    "holds -10 %",
    "mark +12 %",
    "mark -12 %",
    "night -9 K",
    "late by 10 K",
    "solutes -20 %",
    "half lost",
    "bed -0.15",
)
NAMES = {
    "holds +10 %": "more_salt", "holds -10 %": "less_salt", "mark +12 %": "not_far_enough", "mark -12 %": "too_far_reduced",
    "night -9 K": "too_cold", "late by 10 K": "supersaturated", "solutes -20 %": "other_solutes", "half lost": "losses",
    "bed -0.15": "loose_bed",
}  # fmt: skip


def fault_seen(rng: np.random.Generator, fault: str, *, weighed: bool) -> tuple[Batch, Doubt]:
    """A batch with one thing wrong and the usual doubts beside it at half their size, with what was seen of it."""
    start, cold, doubt = plan_of(rng)
    doubt = Doubt()
    truth = Truth.drawn(rng, start, cold, Doubt(0.025, 0.0025, 1.0, 0.01))
    amount = float(fault.split()[1]) if fault.split()[1][-1].isdigit() else 0.0
    if fault.startswith("holds"):
        truth = replace(truth, salt_g=start.salt_g * (1 + amount / 100))
    elif fault.startswith("mark"):
        truth = replace(truth, mark=1 + amount / 100)
    elif fault.startswith("night"):
        truth = replace(truth, cold_C=cold + amount)
    elif fault.startswith("bed"):
        truth = replace(truth, bed=LOOSE_BED + amount)
    elif fault.startswith("late"):
        truth = replace(truth, undercooling_K=usual_K(start.model) + 10.0)
    elif fault.startswith("solutes"):
        assert truth.model.calibration is not None
        truth = replace(
            truth,
            model=start.model.calibrated(
                Calibration("truth", max(0.55, 0.8 * truth.model.calibration.factor), 0.0)
            ),
        )
    window = Window.of(start, cold)
    assert window.saturates is not None
    low = (
        window.pours_off_down_to.end_volume_mL
        if window.pours_off_down_to
        else 0.4 * window.saturates.end_volume_mL
    )
    volume = 0.6 * low + 0.4 * window.saturates.end_volume_mL
    seen = truth.seen_of(rng, volume, weighed=weighed)
    came = truth.outcome(truth.water_g(volume))
    if came is not None:
        seen = replace(seen, outcome=OUTCOMES[came[0]])
        if came[0] == 1:
            kept = 0.5 if fault == "half lost" else float(np.exp(-0.05 + 0.05 * rng.normal()))
            seen = replace(seen, crystals_g=came[1] * kept)
    water = float(start.water_for_volume(volume, 20.0))
    return Batch(start, end_water_g=water, cool_to_C=cold, seen=(seen,)), doubt


@dataclass
class Named:
    """How often each cause was named first for one true cause; ties and tests that were stated with it."""

    first: Counter[str]
    tied_with_true: int
    in_tie: int
    tests: Counter[str]
    n: int


def confusion(n: int, *, weighed: bool, seed: int = 2, faults: tuple[str, ...] = FAULTS) -> dict[str, Named]:
    """For each fault, n batches: the cause named first, and whether the true one is at least tied with it."""
    found = {}
    for fault in faults:
        named = Named(Counter(), 0, 0, Counter(), 0)
        for number in range(n):
            rng = np.random.default_rng((seed, number))
            batch, doubt = fault_seen(rng, fault, weighed=weighed)
            assert batch.cool_to_C is not None
            draws = Draws.of(batch.start, batch.cool_to_C, doubt, bed=LOOSE_BED, n=256)
            ranked = suspects(batch, Window.of(batch.start, batch.cool_to_C), draws)
            named.n += 1
            named.first[ranked[0].cause if ranked[0].support > SOME else "none"] += 1
            ties = tied(ranked)
            group = {ranked[0].cause, *(s.cause for s in ties)}
            named.in_tie += NAMES[fault] in group
            named.tied_with_true += NAMES[fault] in group and len(group) > 1
            for test in {telling_test(ranked[0].cause, other.cause).split(":")[0] for other in ties}:
                named.tests[test] += 1
        found[fault] = named
    return found


def tally_lines(title: str, tally: Tally) -> list[str]:
    """The reliability tables, as lines to print."""
    ranks = np.array(tally.ranks)
    inside = float(np.mean((ranks >= 0.1) & (ranks <= 0.9)))
    lines = [
        f"{title}: {len(tally.not_pouring)} end points",
        f"  80 % bands of the crop hold: {100 * inside:.1f} % (all end points, ties split)",
        f"  where a crop is 95 % sure or more: {100 * np.mean(tally.held):.1f} % of {len(tally.held)}",
        f"  risk realised where the 5 % limit binds: {100 * np.mean(tally.bound):.1f} % of {len(tally.bound)}",
    ]
    for name, pairs in (("does not pour", tally.not_pouring), ("crop", tally.crop)):
        told, came = np.array([p for p, _ in pairs]), np.array([c for _, c in pairs], float)
        lines.append(f"  {name:>14}  told %  came %     n")
        edges = (0.0, 0.02, 0.06, 0.2, 0.4, 0.6, 0.8, 0.94, 0.98, 1.0001)
        for a, b in pairwise(edges):
            here = (told >= a) & (told < b)
            if here.any():
                means = f"{100 * told[here].mean():7.1f} {100 * came[here].mean():7.1f}"
                lines.append(f"  {100 * a:5.0f} to {100 * b:3.0f} %  {means} {int(here.sum()):5d}")
    return lines


COLUMNS = {
    "more_salt": "salt+", "less_salt": "salt-", "not_far_enough": "mark+", "too_far_reduced": "mark-", "too_cold": "cold",
    "not_cold_enough": "warm", "supersaturated": "late", "other_solutes": "other", "losses": "lost", "loose_bed": "loose",
    "dense_bed": "dense", "none": "none",
}  # fmt: skip


def confusion_lines(title: str, found: dict[str, Named]) -> list[str]:
    """The table of true against named causes, as lines to print."""
    lines = [
        f"{title}: cause named first, % of {next(iter(found.values())).n} batches each",
        "  true \\ named  "
        + " ".join(f"{name:>5}" for name in COLUMNS.values())
        + "  in tie  test told most often",
    ]
    for fault, named in found.items():
        row = " ".join(f"{100 * named.first[cause] / named.n:5.0f}" for cause in COLUMNS)
        told = [f"{test} ({100 * count / named.n:.0f} %)" for test, count in named.tests.most_common(1)]
        lines.append(f"  {fault:14} {row} {100 * named.in_tie / named.n:7.0f}  {''.join(told)}".rstrip())
    return [*lines, "  in tie: the true cause is the first or not told from the first"]


def main(words: Sequence[str]) -> None:
    """Print all tables: number of batches, then the number for each fault of the confusion."""
    size = int(words[0]) if words else 2400
    each = int(words[1]) if len(words) > 1 else 80
    for lines in (
        lambda: tally_lines("Before any evidence", simulate(size)),
        lambda: tally_lines(
            "After first crystals (half of the pots weighed too)", simulate(size, seed=3, evidence=True)
        ),
        lambda: confusion_lines("Pot weighed", confusion(each, weighed=True)),
        lambda: confusion_lines("Marks only", confusion(each, weighed=False)),
    ):
        print("\n".join(lines()), end="\n\n", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
