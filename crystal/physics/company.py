"""The phase map of a salt with others in the pot: where its crystals come then, and when another salt joins them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.catalogue import Catalogue
from crystal.errors import DataError
from crystal.physics.company_curves import Curves
from crystal.physics.company_doubt import reason_against, shift_doubt
from crystal.physics.company_pots import Pots
from crystal.physics.company_table import Reader, least_soluble
from crystal.physics.formula import WATER_G_MOL, molar_mass_g_mol
from crystal.physics.ion_parameters import ions_in
from crystal.physics.model import Model
from crystal.physics.onset import FirstSolid
from crystal.physics.others import Others
from crystal.physics.phasemap import Equilibrium
from crystal.physics.products import Products
from crystal.physics.saturation import Beside

Floats = NDArray[np.float64]

_ROUNDS = 80
_SCAN, _TOGETHER = 401, 64
"""Temperatures that every pot is looked at first; states that are then looked at together, where there are few pots."""

_CLEAR, _UNTOLD = -1, -2
_LEAST_MOL = 1e-30
"""Less than this in a pot is no company: far below what any number here could show."""


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
        self.other: Company | None = None
        if mirror and self.known and len(shares_mol) == 1:
            (formula,) = shares_mol
            self.other = _of_the_other(formula, model.salt.formula)
        theirs: Curves | None = None if self.other is None else self.other.curves
        self.curves: Curves = Curves(self.products, self.beside, theirs)

    @classmethod
    def of(cls, model: Model, shares_mol: Mapping[str, float]) -> Company:
        """The company of these others, made once for a model; one that is no more than a trace of them is left out."""
        total = sum(shares_mol.values())
        shares = {f: round(n / total, 12) for f, n in shares_mol.items()}
        key = tuple(sorted((f, share) for f, share in shares.items() if share > 0))
        made = _MADE.setdefault(model, {})
        if key not in made:
            made[key] = cls(model, dict(key))
        return made[key]

    @property
    def known(self) -> bool:
        """Whether the shift can be told; ``reason`` says why not."""
        return self.reason is None

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
        state = Pots(self.curves, self.curves.reader(t), a0, a0 * r, inside)
        found = state.solve()
        use = found.solved
        water = 1.0 - w
        m = self.products.molar_mass_g_mol
        to_mass = water / 1000.0  # from mol per kg of the pot's water to mol per g of salt and water
        fractions = np.zeros((2, len(w)))
        index = np.full((2, len(w)), -1, dtype=np.int8)
        solids = np.array([p.index for p in self.products.of_solids], dtype=np.int8)
        hydrate_g = m + WATER_G_MOL * self.curves.waters
        for slot in (0, 1):  # the second solid, where there are two, and the first
            which, amount = found.solid[slot], found.amount[slot]
            some = (which >= 0) & (amount > 0)
            index[slot] = np.where(some, solids[which], -1)
            fractions[slot] = np.where(some, amount * to_mass * hydrate_g[which], 0.0)
        waters = np.where(index >= 0, self.curves.waters[found.solid], np.inf)
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
            heavy = self.other.products.molar_mass_g_mol + WATER_G_MOL * self.other.curves.waters
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
        t = np.unique(np.concatenate([np.linspace(low, high, _SCAN), self.curves.branch_ends_C]))
        stands = self._stands(a, b, t).reshape(len(t), -1)
        appears = (stands[:-1] >= 0) & (stands[1:] == _CLEAR)
        some = appears.any(axis=0) & held
        k = np.where(some, len(t) - 2 - np.argmax(appears[::-1], axis=0), 0)
        cold, hot = t[k], t[k + 1]
        parts = max(_TOGETHER // max(len(w), 1), 1)
        shares = np.arange(1, parts + 1)[:, None] / (parts + 1)
        for _ in range(_ROUNDS):
            if (hot - cold).max(initial=0.0) < 1e-9:
                break
            inner = cold + (hot - cold) * shares
            states = self._stands(np.tile(a, parts), np.tile(b, parts), inner.ravel(), each=True)
            run = np.cumprod(states.reshape(inner.shape) >= 0, axis=0).sum(axis=0)
            edges, pot = np.vstack([cold, inner, hot]), np.arange(len(w))
            cold, hot = edges[run, pot], edges[run + 1, pot]
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
        reader = self.curves.many(t)
        least, which = least_soluble(reader.ln_salt(b))
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
        table = self.curves.table(t)
        ln = Reader(self.curves.nodes, table, np.zeros(1, dtype=int), np.zeros(1)).ln_salt(
            np.array([others_molality])
        )[:, 0]
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
    if others.plain:
        return None
    found = _told_or_not(model, others)
    return found if found is not None and found.known else None


def reason_untold(model: Model, others: Others) -> str | None:
    """Why no shift is told for a pot's others, in half a sentence; None where one is told or there is nothing to tell of."""
    found = _told_or_not(model, others)
    return None if found is None else found.reason


def _told_or_not(model: Model, others: Others) -> Company | None:
    moles = moles_of(others.amounts_g)
    return Company.of(model, moles) if sum(moles.values()) > _LEAST_MOL else None


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
