"""The phase map of a salt with others in the pot: where its crystals come then, and when another salt joins them.

At one temperature the saturated molality of each solid is a curve over the others' molality. The curves are tabulated
once; what a pot becomes then follows from its water: crystals take water with them, the others stay behind, and the free
water is the one unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.catalogue import Catalogue
from crystal.errors import DataError
from crystal.physics.company_doubt import reason_against, shift_doubt
from crystal.physics.formula import WATER_G_MOL, molar_mass_g_mol
from crystal.physics.ion_parameters import ions_in
from crystal.physics.model import Model
from crystal.physics.onset import FirstSolid
from crystal.physics.others import Others
from crystal.physics.phasemap import Equilibrium
from crystal.physics.products import Products
from crystal.physics.saturation import Beside

Floats = NDArray[np.float64]

_NODES = 49
_EXACT_AT_MOST = 24
_STEP_K = 2.0
_ROUNDS = 80
_ICE_ROUNDS = 36
_SCAN = 401
_CLEAR, _UNTOLD = -1, -2
_ANCHORED, _NO_IDEA = 1e-3, 1.0
_KG = WATER_G_MOL / 1000.0
_REACH = 1.6
"""The others' molality is tabulated up to this many times their parameters' range; the curve is held beyond."""


@dataclass(frozen=True, eq=False)
class MixedEquilibrium(Equilibrium):
    """As :class:`Equilibrium`; where another salt joins, its solid takes water too.

    ``other_solid`` counts in the solids of the other salt's map, -1 where there is none; ``other_solid_fraction`` is its
    mass, and ``others_left`` the share of the others that stays dissolved. ``liquor_fraction`` and
    ``liquor_mass_fraction`` are of salt and water alone.
    """

    other_solid: NDArray[np.int8]
    other_solid_fraction: Floats
    others_left: Floats


@dataclass(frozen=True, eq=False)
class _Table:
    """Curves at temperatures (t), of solids (p), over the others' molality (k): ln molality; NaN where a solid is none."""

    temperature_C: Floats
    ln_salt: Floats
    ice: Floats
    pure_molality: Floats
    doubt: Floats
    joins_at: Floats


class Company:
    """A salt beside others of fixed proportions to each other.

    Parameters
    ----------
    model : Model
        The salt.
    shares_mol : mapping of str to float
        Mole shares of the others.

    Notes
    -----
    Parameters at 25 °C serve at every temperature; ln K of each solid comes from the salt's own curve at the temperature,
    so that without company the curve is met exactly. Known error: see ``tests/bench/mixtures.py``.
    """

    def __init__(self, model: Model, shares_mol: Mapping[str, float], *, mirror: bool = True) -> None:
        self.model = model
        self.products = Products(model)
        self.beside = Beside(self.products, shares_mol)
        self.reason = reason_against(model.salt.formula, self.beside)
        self._columns: dict[float, _Table] = {}
        self._grid: _Table | None = None
        self.other: Company | None = None
        if mirror and self.known and len(shares_mol) == 1:
            (formula,) = shares_mol
            self.other = _of_the_other(formula, model.salt.formula)

    @classmethod
    def of(cls, model: Model, shares_mol: Mapping[str, float]) -> Company:
        """The company of these others, made once for a model."""
        total = sum(shares_mol.values())
        key = tuple(sorted((f, round(n / total, 12)) for f, n in shares_mol.items()))
        made = _MADE.setdefault(model, {})
        if key not in made:
            made[key] = cls(model, dict(key))
        return made[key]

    @property
    def known(self) -> bool:
        """Whether the shift can be told; ``reason`` says why not."""
        return self.reason is None

    @cached_property
    def _waters(self) -> Floats:
        return np.array([p.waters for p in self.products.of_solids])

    @cached_property
    def _most_others(self) -> float:
        reach = self.beside.others_reach
        return _REACH * (reach if np.isfinite(reach) else 6.0)

    @cached_property
    def _others_nodes(self) -> Floats:
        return np.asarray(self._most_others * np.linspace(0.0, 1.0, _NODES) ** 2)

    def table(self, temperature_C: Floats) -> _Table:
        """Curves at each of some temperatures, exactly."""
        missing = [t for t in dict.fromkeys(temperature_C.tolist()) if t not in self._columns]
        if missing:
            made = self._made(np.array(missing))
            for i, t in enumerate(missing):
                parts = (made.ln_salt, made.ice, made.pure_molality, made.doubt, made.joins_at)
                self._columns[t] = _Table(np.array([t]), *(a[i : i + 1] for a in parts))
        each = [self._columns[t] for t in temperature_C.tolist()]
        names = ("temperature_C", "ln_salt", "ice", "pure_molality", "doubt", "joins_at")
        return _Table(*(np.concatenate([getattr(c, n) for c in each]) for n in names))

    def _made(self, t: Floats) -> _Table:
        b = self._others_nodes
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
        # A hydrate that meets its product nowhere among much of the others has melted in them; if it is the only solid
        # known there, its last root is held.
        melted = np.isnan(ln_salt) & np.isfinite(ln_salt[:, :, :1])
        alone = ~np.isfinite(ln_salt).any(axis=1, keepdims=True)
        for k in range(1, len(b)):
            held = np.where(own & alone[:, :, k], ln_salt[:, :, k - 1], np.inf)
            ln_salt[:, :, k] = np.where(melted[:, :, k], held, ln_salt[:, :, k])
        return _Table(t, ln_salt, self._ice(t), pure, doubt, self._joins(t, ln_salt))

    def _ice(self, t: Floats) -> Floats:
        """Molality of the salt at which ice is in equilibrium; 0 where there is no ice."""
        b = self._others_nodes
        found = np.zeros((len(t), len(b)))
        for piece in self.model.map.solids[0].pieces:
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
        for piece in self.model.map.solids[0].pieces:
            inside = (t >= piece.low_C) & (t <= piece.high_C)
            found[inside] = self.products.molality(piece.mass_fraction_at(t[inside]))
        return found

    def _joins(self, t: Floats, ln_salt: Floats) -> Floats:
        """Molality of the others at which the other salt joins along the saturated liquors; inf where it does not."""
        found = np.full(len(t), np.inf)
        if self.other is None:
            return found
        b = self._others_nodes
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
        ln = _Reader(self, table, rows.ravel(), np.zeros(rows.size)).ln_salt(others_molality.ravel())
        least = np.min(np.where(np.isnan(ln), np.inf, ln), axis=0)
        return np.where(np.isfinite(least), np.exp(np.minimum(least, 50.0)), np.nan).reshape(rows.shape)

    def reader(self, temperature_C: Floats) -> _Reader:
        """The curves for states at these temperatures: exact for a few, interpolated for many."""
        different = np.unique(temperature_C)
        if len(different) <= _EXACT_AT_MOST:
            row = np.searchsorted(different, temperature_C)
            return _Reader(self, self.table(different), row, np.zeros(temperature_C.shape))
        return self._many(temperature_C)

    def _many(self, temperature_C: Floats) -> _Reader:
        grid = self._whole_grid()
        t = np.clip(temperature_C, grid.temperature_C[0], grid.temperature_C[-1])
        row = np.clip(
            np.searchsorted(grid.temperature_C, t, side="right") - 1, 0, len(grid.temperature_C) - 2
        )
        step = grid.temperature_C[row + 1] - grid.temperature_C[row]
        return _Reader(self, grid, row, (t - grid.temperature_C[row]) / step).anchored(t)

    def own_ln_molality(self, t: Floats) -> Floats:
        """ln molality of each solid's own branch, shape (solids, n); NaN outside it."""
        found = np.full((len(self.products.of_solids), len(t)), np.nan)
        for i, product in enumerate(self.products.of_solids):
            for piece in product.solid.pieces:
                if piece.side == "lean":
                    inside = (t >= piece.low_C) & (t <= piece.high_C)
                    found[i, inside] = np.log(self.products.molality(piece.mass_fraction_at(t[inside])))
        return found

    def _whole_grid(self) -> _Table:
        if self._grid is None:
            phase_map = self.model.map
            low, high = phase_map.low_C, phase_map.high_C
            steps = max(int(np.ceil((high - low) / _STEP_K)), 2)
            ends = [t for p in self.products.of_solids for span in p.own_C for t in span]
            t = np.unique(np.concatenate([np.linspace(low, high, steps + 1), ends]))
            self._grid = self.table(t[(t >= low) & (t <= high)])
        return self._grid

    def look_up(
        self, mass_fraction: ArrayLike, temperature_C: ArrayLike, others_mol_per_mol: ArrayLike
    ) -> MixedEquilibrium:
        """Equilibrium as :meth:`PhaseMap.look_up`, with so many moles of others beside each mole of the salt.

        Where the curves do not tell (a gap in the data, or no liquor left), the salt's own map answers.
        """
        w, t, r = np.broadcast_arrays(
            np.asarray(mass_fraction, float),
            np.asarray(temperature_C, float),
            np.asarray(others_mol_per_mol, float),
        )
        shape = w.shape
        w, t, r = w.ravel(), t.ravel(), r.ravel()
        plain = self.model.map.look_up(w, t)
        inside = (w > 0) & (w < 1) & (t >= self.model.map.low_C) & (t <= self.model.map.high_C)
        a0 = self.products.molality(np.where(inside, w, 0.5))
        state = _States(self, self.reader(t), a0, a0 * r, inside)
        found = state.solve()
        use = found.solved
        water = 1.0 - w
        m = self.products.molar_mass_g_mol
        to_mass = water / 1000.0  # from mol per kg of the pot's water to mol per g of salt and water
        fractions = np.zeros((2, len(w)))
        index = np.full((2, len(w)), -1, dtype=np.int8)
        solids = np.array([p.index for p in self.products.of_solids], dtype=np.int8)
        hydrate_g = m + WATER_G_MOL * self._waters
        for slot in (0, 1):  # the second solid, where there are two, and the first
            which, amount = found.solid[slot], found.amount[slot]
            some = (which >= 0) & (amount > 0)
            index[slot] = np.where(some, solids[which], -1)
            fractions[slot] = np.where(some, amount * to_mass * hydrate_g[which], 0.0)
        waters = np.where(index >= 0, self._waters[found.solid], np.inf)
        # The lean solid is the one with more water; a single solid of the salt is the rich one, as in the plain map.
        both = (index >= 0).all(axis=0)
        swap = both & (waters[0] < waters[1]) | ~both & (index[0] >= 0)
        lean = np.where(swap, index[1], index[0])
        rich = np.where(swap, index[0], index[1])
        lean_fraction = np.where(swap, fractions[1], fractions[0])
        rich_fraction = np.where(swap, fractions[0], fractions[1])
        is_ice = found.ice > 0
        lean = np.where(is_ice, 0, lean)
        lean_fraction = np.where(is_ice, found.ice * water, lean_fraction)
        liquor_salt = found.salt_left * to_mass * m
        liquor = liquor_salt + found.water_left * water
        liquor_w = np.divide(liquor_salt, liquor, out=np.zeros_like(liquor), where=liquor > 0)
        other_fraction = np.zeros(len(w))
        other_index = np.full(len(w), -1, dtype=np.int8)
        if self.other is not None:
            joined = found.other_amount > 0
            theirs = np.array([p.index for p in self.other.products.of_solids], dtype=np.int8)
            heavy = self.other.products.molar_mass_g_mol + WATER_G_MOL * self.other._waters
            other_index = np.where(joined, theirs[found.other_solid], -1).astype(np.int8)
            other_fraction = np.where(joined, found.other_amount * to_mass * heavy[found.other_solid], 0.0)
        arrays = {
            "liquor_fraction": np.where(use, liquor, plain.liquor_fraction),
            "liquor_mass_fraction": np.where(use, liquor_w, plain.liquor_mass_fraction),
            "lean_solid": np.where(use, lean, plain.lean_solid).astype(np.int8),
            "lean_solid_fraction": np.where(use, lean_fraction, plain.lean_solid_fraction),
            "rich_solid": np.where(use, rich, plain.rich_solid).astype(np.int8),
            "rich_solid_fraction": np.where(use, rich_fraction, plain.rich_solid_fraction),
            "known": np.where(use, True, plain.known),
            "other_solid": np.where(use | found.dry, other_index, -1).astype(np.int8),
            "other_solid_fraction": np.where(use | found.dry, other_fraction, 0.0),
            "others_left": np.where(use | found.dry, found.others_left, 1.0),
        }
        return MixedEquilibrium(**{name: a.reshape(shape) for name, a in arrays.items()})

    def first(self, mass_fraction: ArrayLike, others_mol_per_mol: ArrayLike) -> FirstSolid:
        """First solid of the salt (or ice) on cooling for each composition, as :meth:`Onset.first`."""
        w, r = np.broadcast_arrays(np.asarray(mass_fraction, float), np.asarray(others_mol_per_mol, float))
        shape = w.shape
        w, r = w.ravel(), r.ravel()
        held = (w > 0) & (w < 1)
        a = self.products.molality(np.where(held, w, 0.5))
        b = a * r
        low, high = self.model.map.low_C, self.model.map.high_C
        ends = [t for p in self.products.of_solids for span in p.own_C for t in span]
        t = np.unique(np.concatenate([np.linspace(low, high, _SCAN), ends]))
        stands = self._stands(a, b, t).reshape(len(t), -1)
        appears = (stands[:-1] >= 0) & (stands[1:] == _CLEAR)
        some = appears.any(axis=0) & held
        k = np.where(some, len(t) - 2 - np.argmax(appears[::-1], axis=0), 0)
        cold, hot = t[k], t[k + 1]
        for _ in range(_ROUNDS):
            if (hot - cold).max(initial=0.0) < 1e-9:
                break
            middle = (cold + hot) / 2
            solid = self._stands(a, b, middle, each=True) >= 0
            cold, hot = np.where(solid, middle, cold), np.where(solid, hot, middle)
        which = self._stands(a, b, cold, each=True)
        index = np.array([0, *(p.index for p in self.products.of_solids)], dtype=np.int8)
        solid_index = np.where(some, index[np.maximum(which, 0)], -1).astype(np.int8)
        return FirstSolid(
            np.where(some, cold, 0.0).reshape(shape), solid_index.reshape(shape), some.reshape(shape)
        )

    def _stands(self, a: Floats, b: Floats, t: Floats, *, each: bool = False) -> NDArray[np.intp]:
        """0 for ice, 1 + solid of the salt, -1 clear, -2 unknown; every pot at every temperature unless ``each``."""
        if not each:
            a, b, t = np.tile(a, len(t)), np.tile(b, len(t)), np.repeat(t, len(a))
        reader = self._many(t)
        least, which = _least(reader.ln_salt(b))
        ln_a = np.log(a)
        found = np.where(ln_a > least, which + 1, _CLEAR)
        found = np.where(a < reader.ice(b), 0, found)
        return np.where(np.isnan(least), _UNTOLD, found)

    def shift(self, temperature_C: float, others_molality: float) -> tuple[float, float, float, str] | None:
        """Saturated molality over the pure one, its relative doubt, share of the range used, and the solid.

        None where no saturated liquor is known.

        Parameters
        ----------
        temperature_C : float
            Temperature, °C.
        others_molality : float
            mol of the others together per kg of the liquor's water.
        """
        t = np.array([float(temperature_C)])
        table = self.table(t)
        ln = _Reader(self, table, np.zeros(1, dtype=int), np.zeros(1)).ln_salt(np.array([others_molality]))[
            :, 0
        ]
        which = int(np.argmin(np.where(np.isnan(ln), np.inf, ln)))
        if not np.isfinite(ln[which]):
            return None
        factor = float(np.exp(ln[which]) / table.pure_molality[0])
        used = float(self.beside.reach_used(np.exp(ln[which]), others_molality))
        ions = sum(n for _, n in self.products.ions or ())
        doubt = shift_doubt(
            self.beside,
            np.log(factor),
            temperature_C,
            others_molality,
            used,
            float(table.doubt[0, which]) / ions,
        )
        return factor, doubt, used, self.products.of_solids[which].solid.formula


@dataclass(frozen=True, eq=False)
class _Reader:
    """Curves read for states: the row of the table of each, and how far along to the next row."""

    company: Company
    table: _Table
    row: NDArray[np.intp]
    along: Floats
    raised: Floats | None = None
    ice_raised: Floats | None = None

    def anchored(self, temperature_C: Floats) -> _Reader:
        """Between the rows only the shift is interpolated: without company the own curve is met exactly."""
        own = self.company.own_ln_molality(temperature_C)
        read = self.ln_salt(np.zeros(len(temperature_C)))
        ice = self.company.own_ice_molality(temperature_C) - self.ice(np.zeros(len(temperature_C)))
        with np.errstate(invalid="ignore"):
            raised = own - read
            raised = np.where(np.isfinite(raised), raised, 0.0)
            least = np.min(np.where(np.isfinite(own), own, np.inf), axis=0)
            # Nor may a solid outside its own range come before the stable one without company.
            short = np.where(~np.isfinite(own) & np.isfinite(least), least - (read + raised), 0.0)
        raised = raised + np.where(short > 0, short, 0.0)
        return replace(self, raised=raised, ice_raised=ice)

    def _place(self, others: Floats) -> tuple[NDArray[np.intp], Floats]:
        x = np.sqrt(np.clip(others / self.company._most_others, 0.0, 1.0)) * (_NODES - 1)
        k = np.minimum(x.astype(np.intp), _NODES - 2)
        nodes = self.company._others_nodes
        low = nodes[k]
        share = np.clip((others - low) / (nodes[k + 1] - low), 0.0, 1.0)
        return k, share

    def _read(self, values: Floats, k: NDArray[np.intp], share: Floats) -> Floats:
        """values (t, nodes) at the states."""

        def between(row: NDArray[np.intp]) -> Floats:
            here = values[row, k]
            return np.where(share > 0, here * (1.0 - share) + values[row, k + 1] * share, here)

        with np.errstate(invalid="ignore"):
            found = between(self.row)
            if self.along.any():
                hotter = between(np.minimum(self.row + 1, len(values) - 1))
                found = np.where(self.along > 0, found * (1.0 - self.along) + hotter * self.along, found)
        return np.asarray(found)

    def ln_salt(self, others: Floats) -> Floats:
        """ln of each solid's saturated molality, shape (solids, states)."""
        k, share = self._place(others)
        found = [self._read(self.table.ln_salt[:, i], k, share) for i in range(self.table.ln_salt.shape[1])]
        return np.stack(found) + (0.0 if self.raised is None else self.raised)

    def ice(self, others: Floats) -> Floats:
        """Molality of the salt below which ice stands; 0 where none does."""
        k, share = self._place(others)
        found = self._read(self.table.ice, k, share)
        return (
            found
            if self.ice_raised is None
            else np.where(found > 0, np.maximum(found + self.ice_raised, 0.0), 0.0)
        )

    def switches(self, at: NDArray[np.intp]) -> list[tuple[NDArray[np.bool_], float]]:
        """Where along an exact isotherm the solid changes: which of the states ``at`` it holds for, others' molality."""
        if self.along.any():
            return []
        nodes, found = self.company._others_nodes, []
        for row in np.unique(self.row[at]):
            ln = np.where(np.isnan(self.table.ln_salt[row]), np.inf, self.table.ln_salt[row])
            which = np.argmin(ln, axis=0)
            for j in np.flatnonzero(which[1:] != which[:-1]):
                p, q = which[j], which[j + 1]
                four = ln[p, j], ln[q, j], ln[p, j + 1], ln[q, j + 1]
                if np.isfinite(four).all() and four[0] - four[1] < four[2] - four[3]:
                    here, then = four[0] - four[1], four[2] - four[3]
                    share = here / (here - then)
                    found.append((self.row[at] == row, float(nodes[j] + share * (nodes[j + 1] - nodes[j]))))
        return found

    def joins_at(self) -> Floats:
        with np.errstate(invalid="ignore"):
            here = self.table.joins_at[self.row]
            if self.along.any():
                ahead = self.table.joins_at[np.minimum(self.row + 1, len(self.table.joins_at) - 1)]
                here = np.where(self.along > 0, here * (1.0 - self.along) + ahead * self.along, here)
        return np.where(np.isnan(here), np.inf, here)

    def at(self, chosen: NDArray[np.intp]) -> _Reader:
        """The same for some of the states."""
        raised = None if self.raised is None else self.raised[:, chosen]
        ice = None if self.ice_raised is None else self.ice_raised[chosen]
        return replace(self, row=self.row[chosen], along=self.along[chosen], raised=raised, ice_raised=ice)


@dataclass(eq=False)
class _Solved:
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
    def clear(cls, salt_mol: Floats) -> _Solved:
        """All dissolved, nothing solved yet."""
        n = len(salt_mol)
        return cls(
            np.full((2, n), -1), np.zeros((2, n)), np.full(n, -1), np.zeros(n), np.zeros(n), salt_mol.copy(), np.ones(n),
            np.ones(n), np.zeros(n, dtype=bool), np.zeros(n, dtype=bool),
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class _States:
    """Pots of a0 mol of salt and b0 mol of others on 1 kg of water, arrays of shape (n,)."""

    company: Company
    reader: _Reader
    a0: Floats
    b0: Floats
    wanted: NDArray[np.bool_]

    def solve(self) -> _Solved:
        found = _Solved.clear(self.a0)
        reader = self.reader
        ln = _least(reader.ln_salt(self.b0))[0]
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
        if self.company.other is not None:
            self._with_the_other(found, has_curve & ~frozen)
        return found

    def _freeze(self, found: _Solved, at: NDArray[np.intp]) -> None:
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

    def _crystallise(self, found: _Solved, at: NDArray[np.intp]) -> None:
        reader = self.reader.at(at)
        a0, b0 = self.a0[at], self.b0[at]
        h = self.company._waters * _KG

        def off(u: Floats) -> tuple[Floats, Floats, NDArray[np.intp]]:
            """Water gone less the water that the crystals take; the liquor's salt; the solid."""
            ln, which = _least(reader.ln_salt(b0 / u))
            left = np.minimum(np.exp(np.minimum(ln, 50.0)) * u, a0)
            return (1.0 - u) - h[which] * (a0 - left), left, which

        low, high = np.full(len(at), 1e-9), np.ones(len(at))
        (f_low, _, p_low), (f_high, _, p_high) = off(low), off(high)
        rooted = f_low > 0
        at_low, at_high = (
            f_low.copy(),
            f_high.copy(),
        )  # what the next step is drawn from; lowered where an end stays
        for turn in range(_ROUNDS):
            with np.errstate(invalid="ignore", divide="ignore"):
                u = high - at_high * (high - low) / (at_high - at_low)
            good = np.isfinite(u) & (u > low) & (u < high) & (turn % 8 != 7)
            u = np.where(good, u, (low + high) / 2)
            f, _, p = off(u)
            dry = f > 0
            with np.errstate(invalid="ignore", divide="ignore"):
                slack = 1.0 - f / np.where(dry, at_low, at_high)
            slack = np.where(slack > 0, np.minimum(slack, 1.0), 0.5)
            at_high = np.where(dry, at_high * slack, f)
            at_low = np.where(dry, f, at_low * slack)
            low, f_low, p_low = np.where(dry, u, low), np.where(dry, f, f_low), np.where(dry, p, p_low)
            high, f_high, p_high = np.where(dry, high, u), np.where(dry, f_high, f), np.where(dry, p_high, p)
            met = (np.minimum(np.abs(f_low), np.abs(f_high)) < 1e-13) | (high - low < 1e-14)
            if (met | ~rooted | (p_low != p_high) & (high - low < 1e-3)).all():
                break
        u = self._narrowed(reader, b0, low, high, p_low, p_high)
        low, high = np.where(np.isnan(u), low, u), np.where(np.isnan(u), high, u)
        # Where the solid changes between the two ends, both stand beside the one liquor that holds both.
        jump = ~np.isnan(u) & (h[p_low] != h[p_high])
        u = np.where(np.abs(f_low) < np.abs(f_high), low, high)
        _, left, which = off(np.where(jump, high, u))
        gone, water = a0 - left, 1.0 - high
        with np.errstate(divide="ignore", invalid="ignore"):
            first = (water - h[p_low] * gone) / (h[p_high] - h[p_low])
        first = np.where(jump, np.clip(first, 0.0, gone), gone)
        found.solid[0, at] = np.where(jump, p_high, which)
        found.amount[0, at] = first
        found.solid[1, at] = np.where(jump, p_low, -1)
        found.amount[1, at] = np.where(jump, gone - first, 0.0)
        taken = h[found.solid[0, at]] * first + np.where(jump, h[p_low] * (gone - first), 0.0)
        found.salt_left[at], found.water_left[at], found.solved[at] = left, 1.0 - taken, rooted

    @staticmethod
    def _narrowed(
        reader: _Reader,
        b0: Floats,
        low: Floats,
        high: Floats,
        p_low: NDArray[np.intp],
        p_high: NDArray[np.intp],
    ) -> Floats:
        """Where between the two ends both solids are as soluble; NaN where it is one solid."""
        found = np.full(len(b0), np.nan)
        at = np.flatnonzero(p_low != p_high)
        if not len(at):
            return found
        for share, crossing in reader.switches(at):
            here = at[share]
            if not crossing > 0:
                continue
            inside = (b0[here] / crossing >= low[here]) & (b0[here] / crossing <= high[here])
            found[here[inside]] = b0[here[inside]] / crossing
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

    def _with_the_other(self, found: _Solved, tried: NDArray[np.bool_]) -> None:
        """Where the other salt is beyond its own curve, it comes alone, or both come from the liquor that holds both."""
        other = self.company.other
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
        ln_theirs, _ = _least(theirs.ln_salt(self.a0))
        salt_alone = found.solved & (found.amount.sum(axis=0) > 0)
        with np.errstate(over="ignore", invalid="ignore"):
            other_over = tried & ~salt_alone & (self.b0 > np.exp(ln_theirs))
        salt_beyond = tried & (found.amount.sum(axis=0) > 0) & ((liquor_b > joins) | ~found.solved)
        # The other alone, in its own mirror.
        at = np.flatnonzero(tried & (other_over | salt_beyond))
        if not len(at):
            return
        alone = _States(other, theirs.at(at), self.b0[at], self.a0[at], np.ones(len(at), dtype=bool))
        mine = _Solved.clear(self.b0[at])
        over = np.flatnonzero(
            self.b0[at] > np.exp(np.minimum(_least(alone.reader.ln_salt(alone.b0))[0], 50.0))
        )
        if len(over):
            alone._crystallise(mine, over)
        with np.errstate(divide="ignore", invalid="ignore"):
            a_then = self.a0[at] / mine.water_left
        ln_mine, _ = _least(
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
        ln, which = _least(self.reader.at(both).ln_salt(b))
        a = np.exp(ln)
        _, their = _least(theirs.at(both).ln_salt(a))
        h, k = self.company._waters[which] * _KG, other._waters[their] * _KG
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
        found.salt_left[put], found.others_left[put] = (a * u)[good], (b * u)[good] / self.b0[put]
        found.water_left[put] = 1.0 - (h * x + k * y)[good]
        found.solved[put] = True


def _least(ln: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """The least soluble solid of each state; NaN where none is known."""
    known = np.where(np.isnan(ln), np.inf, ln)
    which = np.argmin(known, axis=0)
    least = known[which, np.arange(ln.shape[1])]
    return np.where(np.isnan(ln).all(axis=0), np.nan, least), which


def _of_the_other(formula: str, salt: str) -> Company | None:
    """The mirror: the other as a salt that may crystallise, where the catalogue has it."""
    catalogue = Catalogue.bundled()
    if formula not in catalogue.salts or ions_in(formula) is None:
        return None
    try:
        found = Company(Model.of(catalogue.salts[formula]), {salt: 1.0}, mirror=False)
    except DataError:
        return None
    return found if found.known else None


def company_of(model: Model, others: Others) -> Company | None:
    """The company that a pot's others are to the salt; None without any, where no shift can be told, or if told to be plain.

    Examples
    --------
    >>> model = Model.of(Catalogue.bundled().find("NaCl"))
    >>> factor, doubt, *_ = company_of(model, Others.of({"HCl": 12.0})).shift(20.0, 1.0)
    >>> round(factor, 2), round(doubt, 2)
    (0.83, 0.05)
    """
    if not others or others.plain:
        return None
    found = Company.of(model, moles_of(others.amounts_g))
    return found if found.known else None


def look_up_beside(
    model: Model, others: Others, salt_g: ArrayLike, mass_fraction: ArrayLike, temperature_C: ArrayLike
) -> Equilibrium:
    """Equilibrium of pots of so much salt with these others: shifted where the shift is known, else the salt's own map."""
    company = company_of(model, others)
    if company is None:
        return model.map.look_up(mass_fraction, temperature_C)
    return company.look_up(mass_fraction, temperature_C, others_per_salt(model, others, salt_g))


def first_beside(model: Model, others: Others, salt_g: ArrayLike, mass_fraction: ArrayLike) -> FirstSolid:
    """First solid on cooling, likewise."""
    company = company_of(model, others)
    if company is None:
        return model.onset.first(mass_fraction)
    return company.first(mass_fraction, others_per_salt(model, others, salt_g))


def others_per_salt(model: Model, others: Others, salt_g: ArrayLike) -> Floats:
    """Moles of the others together for each mole of the salt; 0 for a pot without salt."""
    salt = np.asarray(salt_g, float) / model.molar_mass_g_mol
    total = sum(moles_of(others.amounts_g).values())
    return np.divide(total, salt, out=np.zeros_like(salt), where=salt > 0)


def moles_of(amounts_g: Mapping[str, float]) -> dict[str, float]:
    """Moles of each of some substances given in grams."""
    return {formula: grams / molar_mass_g_mol(formula) for formula, grams in amounts_g.items()}


_MADE: WeakKeyDictionary[Model, dict[tuple[tuple[str, float], ...], Company]] = WeakKeyDictionary()
