"""Saturated liquors of a salt beside others of fixed proportions: one curve for each solid at each temperature."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from crystal.physics.company_table import Reader, Table, others_nodes
from crystal.physics.phasemap import PhaseMap
from crystal.physics.products import Products
from crystal.physics.saturation import Beside

Floats = NDArray[np.float64]

_EXACT_AT_MOST = 24
_STEP_K = 2.0
_ICE_ROUNDS = 36
_ANCHORED, _NO_IDEA = 1e-3, 1.0
_REACH, _UNTOLD_REACH = 1.6, 6.0
"""The others' molality is tabulated up to this many times their parameters' range; the curve is held beyond."""


class Curves:
    """The salt's saturated molalities over temperature and the others' molality, tabulated when asked for.

    Parameters
    ----------
    products : Products
        The salt's.
    beside : Beside
        The salt and the others.
    other : Curves, optional
        The other's curves beside the salt, where it may crystallise too.
    """

    def __init__(self, products: Products, beside: Beside, other: Curves | None = None) -> None:
        self.products, self.beside, self.other = products, beside, other
        self._columns: dict[float, Table] = {}

    @property
    def _map(self) -> PhaseMap:
        return self.products.model.map

    @cached_property
    def waters(self) -> Floats:
        """Waters of each solid."""
        return np.array([p.waters for p in self.products.of_solids])

    @cached_property
    def nodes(self) -> Floats:
        """The others' molalities that are tabulated."""
        reach = self.beside.others_reach
        return others_nodes(_REACH * (reach if np.isfinite(reach) else _UNTOLD_REACH))

    def table(self, temperature_C: Floats) -> Table:
        """Curves at each of some temperatures, exactly."""
        missing = [t for t in dict.fromkeys(temperature_C.tolist()) if t not in self._columns]
        if missing:
            made = self._made(np.array(missing))
            for i, t in enumerate(missing):
                parts = (made.ln_salt, made.ice, made.pure_molality, made.doubt, made.joins_at)
                self._columns[t] = Table(np.array([t]), *(a[i : i + 1] for a in parts))
        each = [self._columns[t] for t in temperature_C.tolist()]
        names = ("temperature_C", "ln_salt", "ice", "pure_molality", "doubt", "joins_at")
        return Table(*(np.concatenate([getattr(c, n) for c in each]) for n in names))

    def _made(self, t: Floats) -> Table:
        b = self.nodes
        solids = self.products.of_solids
        near = np.full((len(t), len(solids)), np.nan)
        ln_k = np.full((len(t), len(solids)), np.nan)
        doubt = np.full((len(t), len(solids)), np.nan)
        near[:] = np.exp(self.own_ln_molality(t)).T
        for i, product in enumerate(solids):
            own = np.isfinite(near[:, i])
            doubt[own, i] = 0.0
            ln_k[own, i] = self.products.ln_product(near[own, i], product.waters)
        stable = np.isfinite(near)
        pure = np.where(stable.any(axis=1), np.min(np.where(stable, near, np.inf), axis=1), np.nan)
        for i, product in enumerate(solids):
            beyond = ~np.isfinite(near[:, i]) & np.isfinite(pure)
            if beyond.any():
                extended, doubt[beyond, i] = product.at(t[beyond])
                # Without company it cannot be more stable than the solid that the data call stable: such an extension
                # contradicts the data, and the solid is left out.
                least = self.products.ln_product(pure[beyond], product.waters)
                ln_k[beyond, i] = np.where(extended >= least, extended, np.nan)
                near[beyond, i] = pure[beyond]
        ln_salt = np.full((len(t), len(solids), len(b)), np.nan)
        for i, product in enumerate(solids):
            have = np.isfinite(ln_k[:, i])
            if have.any():
                found = self.beside.saturated_over(product, ln_k[have, i], near[have, i], b)
                ln_salt[have, i] = np.log(found)
        own = stable
        with np.errstate(invalid="ignore"):
            off = ln_salt[:, :, 0] - np.log(near)
        # Where the parameters, far beyond their range, have the salt's own liquor fall apart, no shift is claimed.
        lost = own & ~(np.abs(off) < _ANCHORED)
        ln_salt = np.where(lost[:, :, None], np.log(near)[:, :, None], ln_salt)
        doubt = np.where(lost, _NO_IDEA * sum(n for _, n in self.products.ions or ()), doubt)
        ln_salt[:, :, 0] = np.where(own, np.log(near), ln_salt[:, :, 0])
        # An extended solid that would be more stable than the stable one without company has met another root.
        ln_salt = np.where((~own & ~(off > -_ANCHORED))[:, :, None], np.nan, ln_salt)
        lifted = np.where(~own & (off < 0), -off, 0.0)
        ln_salt = ln_salt + lifted[:, :, None]
        # A hydrate that meets its product nowhere among much of the others has melted in them; where every solid known
        # there has, the last roots are held.
        melted = np.isnan(ln_salt) & np.isfinite(ln_salt[:, :, :1])
        none = ~np.isfinite(ln_salt).any(axis=1)
        for k in range(1, len(b)):
            held = np.where(none[:, None, k], ln_salt[:, :, k - 1], np.inf)
            ln_salt[:, :, k] = np.where(melted[:, :, k], held, ln_salt[:, :, k])
        return Table(t, ln_salt, self._ice(t), pure, doubt, self._joins(t, ln_salt))

    def _ice(self, t: Floats) -> Floats:
        """Molality of the salt at which ice is in equilibrium; 0 where there is no ice."""
        b = self.nodes
        found = np.zeros((len(t), len(b)))
        for piece in self._map.solids[0].pieces:
            inside = (t >= piece.low_C) & (t <= piece.high_C)
            a = self.products.molality(piece.mass_fraction_at(t[inside]))
            if not len(a):
                continue
            wanted = self.beside.ln_product(a, np.zeros_like(a))[1][:, None]
            low, high = np.zeros((len(a), len(b))), np.broadcast_to(a[:, None], (len(a), len(b))).copy()
            for _ in range(_ICE_ROUNDS):
                middle = (low + high) / 2
                dry = self.beside.ln_product(middle, b)[1] < wanted
                low, high = np.where(dry, low, middle), np.where(dry, middle, high)
            found[inside] = np.where(high < 1e-9 * a[:, None], 0.0, high)
            found[inside, 0] = a
        return found

    def own_ice_molality(self, t: Floats) -> Floats:
        """Molality on the salt's own ice branch; 0 outside it."""
        found = np.zeros(len(t))
        for piece in self._map.solids[0].pieces:
            inside = (t >= piece.low_C) & (t <= piece.high_C)
            found[inside] = self.products.molality(piece.mass_fraction_at(t[inside]))
        return found

    def _joins(self, t: Floats, ln_salt: Floats) -> Floats:
        """Molality of the others at which the other salt joins along the saturated liquors; inf where it does not."""
        found = np.full(len(t), np.inf)
        if self.other is None:
            return found
        b = self.nodes
        mine = np.min(np.where(np.isnan(ln_salt), np.inf, ln_salt), axis=1)
        theirs = self.other.curve(
            t, np.exp(np.minimum(mine, 50.0))
        )  # what they may hold beside so much of the salt
        over = b - theirs
        for i in range(len(t)):
            k = np.flatnonzero((over[i, :-1] < 0) & (over[i, 1:] >= 0) & np.isfinite(over[i, 1:]))
            if len(k):
                j = k[0]
                share = over[i, j] / (over[i, j] - over[i, j + 1])
                found[i] = b[j] + share * (b[j + 1] - b[j])
        return found

    def curve(self, temperature_C: Floats, others_molality: Floats) -> Floats:
        """Saturated molality of the salt at temperatures (n,) over the others' molality (n, k); NaN where unknown."""
        table = self.table(temperature_C)
        rows = np.broadcast_to(np.arange(len(temperature_C))[:, None], others_molality.shape)
        ln = Reader(self.nodes, table, rows.ravel(), np.zeros(rows.size)).ln_salt(others_molality.ravel())
        least = np.min(np.where(np.isnan(ln), np.inf, ln), axis=0)
        return np.where(np.isfinite(least), np.exp(np.minimum(least, 50.0)), np.nan).reshape(rows.shape)

    def reader(self, temperature_C: Floats) -> Reader:
        """The curves for states at these temperatures: exact for a few, interpolated for many."""
        different = np.unique(temperature_C)
        if len(different) <= _EXACT_AT_MOST:
            row = np.searchsorted(different, temperature_C)
            return Reader(self.nodes, self.table(different), row, np.zeros(temperature_C.shape))
        return self.many(temperature_C)

    def many(self, temperature_C: Floats) -> Reader:
        """The curves for states at any temperatures, interpolated between tabulated ones."""
        grid = self._grid
        t = np.clip(temperature_C, grid.temperature_C[0], grid.temperature_C[-1])
        row = np.clip(
            np.searchsorted(grid.temperature_C, t, side="right") - 1, 0, len(grid.temperature_C) - 2
        )
        step = grid.temperature_C[row + 1] - grid.temperature_C[row]
        read = Reader(self.nodes, grid, row, (t - grid.temperature_C[row]) / step)
        return read.anchored(self.own_ln_molality(t), self.own_ice_molality(t))

    def own_ln_molality(self, t: Floats) -> Floats:
        """ln molality of each solid's own branch, shape (solids, n); NaN outside it."""
        found = np.full((len(self.products.of_solids), len(t)), np.nan)
        for i, product in enumerate(self.products.of_solids):
            for piece in product.solid.pieces:
                if piece.side == "lean":
                    inside = (t >= piece.low_C) & (t <= piece.high_C)
                    found[i, inside] = np.log(self.products.molality(piece.mass_fraction_at(t[inside])))
        return found

    @cached_property
    def _grid(self) -> Table:
        low, high = self._map.low_C, self._map.high_C
        steps = max(int(np.ceil((high - low) / _STEP_K)), 2)
        t = np.unique(np.concatenate([np.linspace(low, high, steps + 1), self.branch_ends_C]))
        return self.table(t[(t >= low) & (t <= high)])

    @property
    def branch_ends_C(self) -> list[float]:
        """Where the solids' own branches begin and end."""
        return [t for p in self.products.of_solids for span in p.own_C for t in span]
