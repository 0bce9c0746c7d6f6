"""Pots of a salt with others at a temperature: which solids come, how much of each, and what stays dissolved.

Crystals take water with them, the others stay behind: the free water is the one unknown of a pot.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.physics.company_curves import Curves
from crystal.physics.company_table import Reader, least_soluble
from crystal.physics.formula import WATER_G_MOL

Floats = NDArray[np.float64]

_ROUNDS = 80
_ROOT, _CLOSE = 1e-13, 1e-14
_KG = WATER_G_MOL / 1000.0
_BESIDE = 1e-12
"""Just beside a change of solid, as a share of the water left there."""


@dataclass(eq=False)
class Solved:
    """Per kg of the pot's water: mol of two solids of the salt, of one of the other salt; kg of water left and of ice."""

    solid: NDArray[np.intp]
    amount: Floats
    other_solid: NDArray[np.intp]
    other_amount: Floats
    ice: Floats
    salt_left: Floats
    water_left: Floats
    others_left: Floats
    solved: NDArray[np.bool_]
    dry: NDArray[np.bool_]

    @classmethod
    def clear(cls, salt_mol: Floats) -> Solved:
        """All dissolved, nothing solved yet."""
        n = len(salt_mol)
        return cls(
            np.full((2, n), -1), np.zeros((2, n)), np.full(n, -1), np.zeros(n), np.zeros(n), salt_mol.copy(), np.ones(n),
            np.ones(n), np.zeros(n, dtype=bool), np.zeros(n, dtype=bool),
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Pots:
    """Pots of a0 mol of salt and b0 mol of others on 1 kg of water, arrays of shape (n,)."""

    curves: Curves
    reader: Reader
    a0: Floats
    b0: Floats
    wanted: NDArray[np.bool_]

    def solve(self) -> Solved:
        found = Solved.clear(self.a0)
        reader = self.reader
        ln = least_soluble(reader.ln_salt(self.b0))[0]
        with np.errstate(over="ignore"):
            saturated = np.exp(ln)
        has_curve = self.wanted & ~np.isnan(ln)
        frozen = has_curve & (self.a0 < reader.ice(self.b0))
        over = has_curve & ~frozen & (self.a0 > saturated)
        found.solved |= has_curve & ~frozen & ~over
        if frozen.any():
            self._freeze(found, np.flatnonzero(frozen))
        if over.any():
            self._crystallise(found, np.flatnonzero(over))
        if self.curves.other is not None:
            self._with_the_other(found, has_curve & ~frozen)
        return found

    def _freeze(self, found: Solved, at: NDArray[np.intp]) -> None:
        reader = self.reader.at(at)
        a0, b0 = self.a0[at], self.b0[at]
        low, high = np.full(len(at), 1e-6), np.ones(len(at))
        for _ in range(_ROUNDS):
            u = (low + high) / 2
            too_thin = a0 / u < reader.ice(b0 / u)
            low, high = np.where(too_thin, low, u), np.where(too_thin, u, high)
            if (high - low).max() < 1e-14:
                break
        u = (low + high) / 2
        found.ice[at], found.water_left[at], found.solved[at] = 1.0 - u, u, True

    def _crystallise(self, found: Solved, at: NDArray[np.intp]) -> None:
        reader = self.reader.at(at)
        a0, b0 = self.a0[at], self.b0[at]
        h = self.curves.waters * _KG

        def off(u: Floats) -> tuple[Floats, NDArray[np.intp]]:
            """Water gone less the water that the crystals take; the solid."""
            ln, which = least_soluble(reader.ln_salt(b0 / u))
            return (1.0 - u) - h[which] * (a0 - _held(ln, u, a0)), which

        low, high = np.full(len(at), 1e-9), np.ones(len(at))
        for crossing in reader.switches():
            # Where the solid is known to change: on which side of it the root lies, or that it is the change itself.
            with np.errstate(divide="ignore", invalid="ignore"):
                u = b0 / crossing
            inside = (u > low) & (u < high * (1.0 - _BESIDE))
            u = np.where(inside, u, 0.5)
            dry_side, wet_side = (off(u * (1.0 + sign * _BESIDE))[0] > 0 for sign in (-1.0, 1.0))
            low = np.where(inside & dry_side, u * (1.0 + np.where(wet_side, _BESIDE, -_BESIDE)), low)
            high = np.where(inside & ~wet_side, u * (1.0 + np.where(dry_side, _BESIDE, -_BESIDE)), high)
        ends = _Ends.around(off, low, high)
        rooted, u, solid = ends.rooted, ends.nearer, ends.solid
        # Where the solid changes between the two ends, both may stand beside the one liquor that holds both.
        switch = self._switch(reader, b0, ends)
        turns = np.flatnonzero(~np.isnan(switch))
        gone = a0 - _held(least_soluble(reader.ln_salt(b0 / u))[0], u, a0)
        first, second = gone.copy(), np.full(len(at), -1)
        if len(turns):
            some, w = reader.at(turns), switch[turns]
            dry_solid, wet_solid = ends.p_low[turns], ends.p_high[turns]
            ln, _ = least_soluble(some.ln_salt(b0[turns] / w))
            out, water = a0[turns] - _held(ln, w, a0[turns]), 1.0 - w
            one, other = h[dry_solid] * out, h[wet_solid] * out
            jump = (one < water) & (water < other)
            with np.errstate(divide="ignore", invalid="ignore"):
                share = np.where(jump, (water - one) / (other - one), 1.0)
            here = turns[jump]
            u[here], solid[here], second[here] = w[jump], wet_solid[jump], dry_solid[jump]
            gone[here], first[here] = out[jump], (share * out)[jump]
            # Else one solid alone fits, on its own side of the change.
            here, w = turns[~jump], w[~jump]
            if len(here):
                on_dry_side = (one >= water)[~jump]
                u[here], solid[here], gone[here] = self._alone(
                    reader.at(here), a0[here], b0[here],
                    np.where(on_dry_side, dry_solid[~jump], wet_solid[~jump]),
                    np.where(on_dry_side, ends.low[here], w), np.where(on_dry_side, w, ends.high[here]),
                )  # fmt: skip
                first[here] = gone[here]
        found.solid[0, at], found.amount[0, at] = solid, first
        found.solid[1, at], found.amount[1, at] = second, gone - first
        taken = h[solid] * first + np.where(second >= 0, h[second] * (gone - first), 0.0)
        found.salt_left[at], found.water_left[at], found.solved[at] = a0 - gone, 1.0 - taken, rooted

    def _alone(
        self, reader: Reader, a0: Floats, b0: Floats, solid: NDArray[np.intp], low: Floats, high: Floats
    ) -> tuple[Floats, NDArray[np.intp], Floats]:
        """Water left, the solid and its amount, where that solid alone is known to stand."""
        h, place = self.curves.waters[solid] * _KG, np.arange(len(a0))

        def left(u: Floats) -> Floats:
            return _held(reader.ln_salt(b0 / u)[solid, place], u, a0)

        u = _Ends.around(lambda u: ((1.0 - u) - h * (a0 - left(u)), solid), low, high).nearer
        return u, solid, a0 - left(u)

    @staticmethod
    def _switch(reader: Reader, b0: Floats, ends: _Ends) -> Floats:
        """Water left at which the solids of the two ends are as soluble; NaN where both have the same."""
        low, high, p_low, p_high = ends.low, ends.high, ends.p_low, ends.p_high
        found = np.full(len(b0), np.nan)
        at = np.flatnonzero(p_low != p_high)
        if not len(at):
            return found
        for crossing in reader.switches():
            with np.errstate(divide="ignore", invalid="ignore"):
                u = b0 / crossing
            inside = (p_low != p_high) & (crossing > 0) & (u >= low) & (u <= high)
            found = np.where(inside, u, found)
        at = at[np.isnan(found[at])]
        if not len(at):
            return found
        some, b = reader.at(at), b0[at]
        low, high, p, q = low[at], high[at], p_low[at], p_high[at]
        place = np.arange(len(at))

        def off(u: Floats) -> Floats:
            ln = some.ln_salt(b / u)
            with np.errstate(invalid="ignore"):
                return np.asarray(ln[p, place] - ln[q, place])  # below 0 at the low end

        f_low, f_high = off(low), off(high)
        for turn in range(_ROUNDS):
            with np.errstate(invalid="ignore", divide="ignore"):
                u = high - f_high * (high - low) / (f_high - f_low)
            u = np.where(np.isfinite(u) & (u > low) & (u < high) & (turn % 3 != 2), u, (low + high) / 2)
            f = off(u)
            below = f < 0
            low, f_low = np.where(below, u, low), np.where(below, f, f_low)
            high, f_high = np.where(below, high, u), np.where(below, f_high, f)
            if ((high - low < 1e-14) | (np.minimum(np.abs(f_low), np.abs(f_high)) < 1e-13)).all():
                break
        found[at] = np.where(np.abs(f_low) < np.abs(f_high), low, high)
        return found

    def _with_the_other(self, found: Solved, tried: NDArray[np.bool_]) -> None:
        """Where the other salt is beyond its own curve, it comes alone, or both come from the liquor that holds both."""
        other = self.curves.other
        assert other is not None
        joins = self.reader.joins_at()
        with np.errstate(divide="ignore", invalid="ignore"):
            liquor_b = self.b0 * found.others_left / found.water_left
        t = self.reader.table.temperature_C
        temperature = t[self.reader.row]
        if self.reader.along.any():
            temperature = temperature + self.reader.along * (
                t[np.minimum(self.reader.row + 1, len(t) - 1)] - temperature
            )
        theirs = other.reader(temperature)
        ln_theirs, _ = least_soluble(theirs.ln_salt(self.a0))
        salt_alone = found.solved & (found.amount.sum(axis=0) > 0)
        with np.errstate(over="ignore", invalid="ignore"):
            other_over = tried & ~salt_alone & (self.b0 > np.exp(ln_theirs))
        salt_beyond = tried & (found.amount.sum(axis=0) > 0) & ((liquor_b > joins) | ~found.solved)
        # The other alone, in its own mirror.
        at = np.flatnonzero(tried & (other_over | salt_beyond))
        if not len(at):
            return
        alone = Pots(other, theirs.at(at), self.b0[at], self.a0[at], np.ones(len(at), dtype=bool))
        mine = Solved.clear(self.b0[at])
        over = np.flatnonzero(
            self.b0[at] > np.exp(np.minimum(least_soluble(alone.reader.ln_salt(alone.b0))[0], 50.0))
        )
        if len(over):
            alone._crystallise(mine, over)
        with np.errstate(divide="ignore", invalid="ignore"):
            a_then = self.a0[at] / mine.water_left
        ln_mine, _ = least_soluble(
            self.reader.at(at).ln_salt(self.b0[at] * (mine.salt_left / self.b0[at]) / mine.water_left)
        )
        with np.errstate(over="ignore"):
            fits = mine.solved & (mine.amount.sum(axis=0) > 0) & (a_then <= np.exp(ln_mine) * (1 + 1e-12))
        fits &= mine.amount[1] <= 0
        put = at[fits]
        found.solid[:, put], found.amount[:, put] = -1, 0.0
        found.salt_left[put] = self.a0[put]
        found.water_left[put] = mine.water_left[fits]
        found.other_solid[put], found.other_amount[put] = mine.solid[0, fits], mine.amount[0, fits]
        found.others_left[put] = mine.salt_left[fits] / self.b0[put]
        found.solved[put] = True
        # Both.
        both = at[~fits & np.isfinite(joins[at])]
        if not len(both):
            return
        b = joins[both]
        ln, which = least_soluble(self.reader.at(both).ln_salt(b))
        a = np.exp(ln)
        _, their = least_soluble(theirs.at(both).ln_salt(a))
        h, k = self.curves.waters[which] * _KG, other.waters[their] * _KG
        with np.errstate(divide="ignore", invalid="ignore"):
            u = (1.0 - h * self.a0[both] - k * self.b0[both]) / (1.0 - h * a - k * b)
            x, y = self.a0[both] - a * u, self.b0[both] - b * u
        good = (u > 0) & (x >= 0) & (y >= 0)
        # Crystals that take all the water leave the salt's own map to tell its solids, and all of the other solid.
        dry = (u <= 0) & (k == 0)
        put = both[dry]
        found.solved[put], found.dry[put] = False, True
        found.other_solid[put], found.other_amount[put], found.others_left[put] = (
            their[dry],
            self.b0[put],
            0.0,
        )
        put = both[good]
        found.solid[0, put], found.amount[0, put] = which[good], x[good]
        found.solid[1, put], found.amount[1, put] = -1, 0.0
        found.other_solid[put], found.other_amount[put] = their[good], y[good]
        found.salt_left[put], found.others_left[put] = a[good] * u[good], b[good] * u[good] / self.b0[put]
        found.water_left[put] = 1.0 - (h * x + k * y)[good]
        found.solved[put] = True


@dataclass(frozen=True, eq=False)
class _Ends:
    """The two ends between which a root lies: a place, what is off there (above 0 at the low end), the solid there."""

    low: Floats
    high: Floats
    f_low: Floats
    f_high: Floats
    p_low: NDArray[np.intp]
    p_high: NDArray[np.intp]
    rooted: NDArray[np.bool_]

    @classmethod
    def around(
        cls, off: Callable[[Floats], tuple[Floats, NDArray[np.intp]]], low: Floats, high: Floats
    ) -> _Ends:
        """Close in by false position until an end is the root, or little is between two ends of different solids."""
        (f_low, p_low), (f_high, p_high) = off(low), off(high)
        rooted = f_low > 0
        # What the next step is drawn from; lowered where an end stays.
        at_low, at_high = f_low.copy(), f_high.copy()
        for turn in range(_ROUNDS):
            with np.errstate(invalid="ignore", divide="ignore"):
                u = high - at_high * (high - low) / (at_high - at_low)
            good = np.isfinite(u) & (u > low) & (u < high) & (turn % 8 != 7)
            u = np.where(good, u, (low + high) / 2)
            f, p = off(u)
            dry = f > 0
            with np.errstate(invalid="ignore", divide="ignore"):
                slack = 1.0 - f / np.where(dry, at_low, at_high)
            slack = np.where(slack > 0, np.minimum(slack, 1.0), 0.5)
            at_high = np.where(dry, at_high * slack, f)
            at_low = np.where(dry, f, at_low * slack)
            low, f_low, p_low = np.where(dry, u, low), np.where(dry, f, f_low), np.where(dry, p, p_low)
            high, f_high, p_high = np.where(dry, high, u), np.where(dry, f_high, f), np.where(dry, p_high, p)
            is_root = np.minimum(np.abs(f_low), np.abs(f_high)) < _ROOT
            met = is_root | (high - low < _CLOSE)
            if (met | ~rooted | (p_low != p_high) & (high - low < 1e-3)).all():
                break
        # An end that is the root already leaves the other wherever it was: nothing may be read from that one.
        by_low = is_root & (np.abs(f_low) < np.abs(f_high))
        by_high = is_root & ~by_low
        low, f_low, p_low = (
            np.where(by_high, a, b) for a, b in ((high, low), (f_high, f_low), (p_high, p_low))
        )
        high, f_high, p_high = (
            np.where(by_low, a, b) for a, b in ((low, high), (f_low, f_high), (p_low, p_high))
        )
        return cls(low, high, f_low, f_high, p_low, p_high, rooted)

    @property
    def nearer(self) -> Floats:
        """The end with less off."""
        return np.where(np.abs(self.f_low) < np.abs(self.f_high), self.low, self.high)

    @property
    def solid(self) -> NDArray[np.intp]:
        """The solid at that end."""
        return np.where(np.abs(self.f_low) < np.abs(self.f_high), self.p_low, self.p_high)


def _held(ln_molality: Floats, water: Floats, most: Floats) -> Floats:
    """Salt that so much water holds when saturated, and no more than there is."""
    return np.minimum(np.exp(np.minimum(ln_molality, 50.0)) * water, most)
