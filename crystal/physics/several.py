"""Several salts in one pot: which solids stand at a temperature, how much of each, and what the liquor holds.

The state of least free energy: every solid that stands is saturated, no other is oversaturated. Found by an active set with
Newton steps on the amounts of its solids, for many pots at once; ions and water are counted exactly.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.catalogue import Catalogue
from crystal.data.ion_interaction import charge_of
from crystal.errors import DataError, InputError
from crystal.physics.company_doubt import COMPLEXING
from crystal.physics.formula import WATER_G_MOL
from crystal.physics.ion_parameters import ions_in, pair_terms
from crystal.physics.mixture import Mixture
from crystal.physics.model import Model
from crystal.physics.products import Product, Products

Floats = NDArray[np.float64]

_KG = WATER_G_MOL / 1000.0
_TURNS, _STEPS = 24, 60
_CLOSE = 1e-10
_KEEP = 0.9
"""A Newton step goes at most this far towards using up an ion or the water."""

_BELOW = 0.02
_THIN, _PARTS, _STEP, _STUCK = 2.0, 400, 1.0 / 40, 1e-5
_REACH = 3.0
"""Times an ion's highest fitted molality beyond which the equations mean nothing and a pot counts as dry."""

_DRY = 1e-5
"""Water left, of what there was, below which no liquor is spoken of."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """A solid that the ions of the pot can make: its salt's products, and moles of each ion in it."""

    products: Products
    product: Product
    ions: Floats

    @property
    def formula(self) -> str:
        return self.product.solid.formula

    @property
    def salt(self) -> str:
        return self.products.model.salt.formula

    @property
    def waters(self) -> float:
        return self.product.waters

    @property
    def molar_mass_g_mol(self) -> float:
        return self.products.molar_mass_g_mol + self.waters * WATER_G_MOL


@dataclass(frozen=True, eq=False)
class Standing:
    """What stands in pots at a temperature.

    ``solids_mol`` has shape (solids, ...), ``liquor_mol`` (ions, ...). ``dry`` marks pots without liquor left, whose
    amounts mean nothing.
    """

    solids_mol: Floats
    liquor_mol: Floats
    water_kg: Floats
    dry: NDArray[np.bool_]


class Several:
    """Salts together in water.

    Parameters
    ----------
    salts : sequence of str
        Formulas of the catalogue; those that exchanged ions would make are counted in.
    catalogue : Catalogue, optional
        The bundled one unless given.

    Raises
    ------
    InputError
        Where a salt is no plain salt of known ions, or a pair of ions has no parameters.

    Examples
    --------
    >>> pots = Several(["KNO3", "NaCl"])
    >>> [one.formula for one in pots.candidates]
    ['KNO3', 'NaCl.2H2O', 'NaCl', 'KCl', 'NaNO3']
    """

    def __init__(self, salts: Sequence[str], catalogue: Catalogue | None = None) -> None:
        catalogue = Catalogue.bundled() if catalogue is None else catalogue
        self.salts = tuple(salts)
        ions: dict[str, None] = {}
        for salt in salts:
            found = ions_in(salt)
            if found is None:
                raise InputError("SALT", salt, "a plain salt of known ions", "KNO3")
            ions |= dict.fromkeys(ion for ion, _ in found)
        metal = next((ion for ion in COMPLEXING if ion in ions), None)
        if metal is not None and "Cl-" in ions:
            raise InputError(
                "the salts", " and ".join(salts),
                f"salts whose ions do not bind each other: {metal} binds chloride, so that even the direction of the shift "
                "is unknown", "KNO3 and NaCl",
            )  # fmt: skip
        self.ions = tuple(sorted(ions, key=lambda ion: -charge_of(ion)))
        self.mixture = Mixture.of(self.ions)
        if self.mixture.missing:
            pairs = ", ".join(f"{a} with {b}" for a, b in self.mixture.missing)
            raise InputError(
                "the salts", " and ".join(salts), f"salts whose ions have parameters in the data; none are for {pairs}",
                "KNO3 and NaCl",
            )  # fmt: skip
        self.candidates = tuple(self._candidates(catalogue))

    def _candidates(self, catalogue: Catalogue) -> Iterable[Candidate]:
        own = set(self.ions)
        made = [
            s for s in catalogue.salts.values() if (i := ions_in(s.formula)) and {ion for ion, _ in i} <= own
        ]
        for salt in sorted(made, key=lambda s: s.formula not in self.salts[:1]):
            try:
                products = Products(Model.of(salt))
            except DataError:
                continue
            counts = dict(products.ions or ())
            for product in products.of_solids:
                yield Candidate(products, product, np.array([float(counts.get(ion, 0)) for ion in self.ions]))

    @cached_property
    def _made_of(self) -> Floats:
        """Moles of each ion (rows) in each solid (columns)."""
        return np.stack([c.ions for c in self.candidates], axis=1)

    @cached_property
    def _waters(self) -> Floats:
        return np.array([c.waters for c in self.candidates])

    @cached_property
    def _most_mol_kg(self) -> Floats:
        """The molality of each ion beyond which no liquor is spoken of."""
        most = dict.fromkeys(self.ions, 0.0)
        for pair in pair_terms(self.ions):
            z = charge_of(pair.cation), -charge_of(pair.anion)
            for ion, n in ((pair.cation, z[1]), (pair.anion, z[0])):
                most[ion] = max(most[ion], _REACH * pair.max_molality * n / math.gcd(*z))
        return np.array([most[ion] for ion in self.ions])

    @property
    def covers_degC(self) -> tuple[float, float]:
        """The temperatures at which every salt named has a liquor in the data."""
        spans = [c.products.model.map.covers_degC for c in self.candidates if c.salt in self.salts]
        return max(s[0][0] for s in spans), min(s[-1][1] for s in spans)

    def ions_of(self, salts_mol: Mapping[str, ArrayLike]) -> Floats:
        """Moles of each ion in moles of salts, shape (ions, ...)."""
        parts = []
        for salt, mol in salts_mol.items():
            counts = dict(ions_in(salt) or ())
            n = np.array([float(counts.get(ion, 0)) for ion in self.ions])
            parts.append(n.reshape(-1, *([1] * np.ndim(mol))) * np.asarray(mol, float))
        return np.asarray(sum(np.broadcast_arrays(*parts)[1:], np.broadcast_arrays(*parts)[0]))

    def ln_k(self, temperature_C: float) -> Floats:
        """ln K of every candidate; infinite where it is none at that temperature.

        Raises
        ------
        CoverageError
            Where a salt named has no liquor in the data at that temperature.
        """
        found = np.full(len(self.candidates), np.inf)
        for salt in dict.fromkeys(c.salt for c in self.candidates):
            mine = [i for i, c in enumerate(self.candidates) if c.salt == salt]
            products = self.candidates[mine[0]].products
            own = [i for i in mine if self.candidates[i].product.is_own(temperature_C)]
            if not own:
                if salt in self.salts:
                    raise products.model.map.not_covered(None, temperature_C)
                continue
            pure = []
            for i in own:
                product = self.candidates[i].product
                pieces = [p for p in product.solid.pieces if p.side == "lean" and p.covers(temperature_C)]
                pure.append(float(products.molality(pieces[0].mass_fraction_at(temperature_C))))
                found[i] = float(products.ln_product(pure[-1], product.waters))
            for i in set(mine) - set(own):
                product = self.candidates[i].product
                extended = float(product.at(temperature_C)[0])
                # Without company no solid can be more stable than the one that the data call stable: an extension that
                # would have it so contradicts the data.
                if extended >= float(products.ln_product(min(pure), product.waters)):
                    found[i] = extended
        return found

    def excess(self, liquor_mol: Floats, water_kg: Floats, ln_k: Floats) -> Floats:
        """ln of each solid's ion product over K in liquors (ions, n); above 0 oversaturated."""
        m = liquor_mol / water_kg
        found = self.mixture.activities(np.maximum(m, 1e-300))
        with np.errstate(divide="ignore"):
            ln_a = np.where(m > 0, np.log(np.maximum(m, 1e-300)) + found.ln_gamma, -700.0)
        products = self._made_of.T @ ln_a + self._waters[:, None] * found.ln_water
        return np.where(
            np.isfinite(ln_k)[:, None], products - np.where(np.isfinite(ln_k), ln_k, 0.0)[:, None], -np.inf
        )

    def standing(self, ions_mol: ArrayLike, water_kg: ArrayLike, temperature_C: float) -> Standing:
        """What stands in pots of ions and water at a temperature.

        Parameters
        ----------
        ions_mol : array_like, shape (ions, ...)
            Moles of each ion, electroneutral.
        water_kg : array_like
            All water, a hydrate's own too. Broadcasts with the ions' further axes.
        temperature_C : float
            Temperature, °C.

        Returns
        -------
        Standing
        """
        ions = np.asarray(ions_mol, float)
        water = np.broadcast_to(np.asarray(water_kg, float), ions.shape[1:]).ravel()
        shape = ions.shape[1:]
        ions = ions.reshape(len(self.ions), -1)
        ln_k = self.ln_k(temperature_C)
        amounts = np.zeros((len(self.candidates), ions.shape[1]))
        amounts, dry = self._found(ions, water, amounts, ln_k)
        at = np.flatnonzero(dry)
        if len(at):
            amounts[:, at], dry[at] = self._boiled_down(ions[:, at], water[at], ln_k)
        amounts = np.where(dry, 0.0, amounts)
        left, water_left = self._liquor(ions, water, amounts)
        return Standing(
            amounts.reshape(-1, *shape),
            left.reshape(-1, *shape),
            water_left.reshape(shape),
            dry.reshape(shape),
        )

    def _boiled_down(self, ions: Floats, water: Floats, ln_k: Floats) -> tuple[Floats, NDArray[np.bool_]]:
        """Pots that are not found at one go: from a thin pot down to their water, in steps that suit each."""
        thin = np.maximum(water, ions.sum(axis=0) / _THIN)
        held = np.zeros((len(self.candidates), ions.shape[1]))
        done, step = np.full(len(water), -_STEP), np.full(len(water), _STEP)
        for _ in range(_PARTS):
            at = np.flatnonzero((done < 1.0) & (step > _STUCK))
            if not len(at):
                break
            then = np.minimum(done[at] + step[at], 1.0)
            now = thin[at] * (water[at] / thin[at]) ** np.maximum(then, 0.0)
            tried, lost = self._found(ions[:, at], now, held[:, at], ln_k)
            went = at[~lost]
            held[:, went], done[went] = tried[:, ~lost], then[~lost]
            step[went] = np.minimum(1.5 * step[went], _STEP)
            step[at[lost]] /= 3.0
        return held, done < 1.0

    def _found(
        self, ions: Floats, water: Floats, amounts: Floats, ln_k: Floats
    ) -> tuple[Floats, NDArray[np.bool_]]:
        """The solids that stand, from a guess of their amounts, and which pots were not solved."""
        amounts = amounts.copy()
        n = ions.shape[1]
        active = amounts > 0
        open_, dry, lost = np.ones(n, dtype=bool), np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
        for _ in range(_TURNS):
            at = np.flatnonzero(open_)
            if not len(at):
                break
            sets, group = np.unique(active[:, at], axis=1, return_inverse=True)
            for g in range(sets.shape[1]):
                mine = at[group.ravel() == g]
                solids = np.flatnonzero(sets[:, g])
                amounts[:, mine], lost[mine] = self._saturate(
                    ions[:, mine], water[mine], amounts[:, mine], solids, ln_k
                )
            left, water_left = self._liquor(ions[:, at], water[at], amounts[:, at])
            over = np.where(active[:, at] | lost[at], -np.inf, self.excess(left, water_left, ln_k))
            negative = np.where(active[:, at], amounts[:, at], np.inf)
            place = np.arange(len(at))
            drop, add = np.argmin(negative, axis=0), np.argmax(over, axis=0)
            gone = ~lost[at] & (negative[drop, place] < -1e-14 * water[at])
            new = ~gone & (over[add, place] > 1e-9)
            active[drop[gone], at[gone]] = False
            amounts[drop[gone], at[gone]] = 0.0
            active[add[new], at[new]] = True
            dry[at[lost[at]]] = True
            open_[at[~gone & ~new]] = False
        return amounts, dry | open_

    def _liquor(self, ions: Floats, water: Floats, amounts: Floats) -> tuple[Floats, Floats]:
        return ions - self._made_of @ amounts, water - _KG * self._waters @ amounts

    def _saturate(
        self, ions: Floats, water: Floats, amounts: Floats, solids: NDArray[np.intp], ln_k: Floats
    ) -> tuple[Floats, NDArray[np.bool_]]:
        """Amounts at which just these solids are saturated, and which pots run dry on the way."""
        amounts = amounts.copy()
        k, n = len(solids), ions.shape[1]
        lost = np.zeros(n, dtype=bool)
        if not k:
            return np.zeros_like(amounts), lost
        # A solid that would have to be taken from nothing is dropped by the caller: how far below does not matter.
        least = np.stack([-_BELOW * self._room(ions, water, solid) for solid in solids])
        for _ in range(_STEPS):
            left, water_left = self._liquor(ions, water, amounts)
            f = self.excess(left, water_left, ln_k)[solids]
            lost |= (water_left < _DRY * water) | (left > self._most_mol_kg[:, None] * water_left).any(axis=0)
            go = (np.abs(f).max(axis=0) > _CLOSE) & ~lost
            if not go.any():
                return amounts, lost
            slope = np.empty((n, k, k))
            for j, solid in enumerate(solids):
                h = 1e-7 * np.minimum(water_left, self._room(left, water_left, solid))
                moved = amounts.copy()
                moved[solid] += h
                slope[:, :, j] = ((self.excess(*self._liquor(ions, water, moved), ln_k)[solids] - f) / h).T
            with np.errstate(all="ignore"):
                try:
                    step = -np.linalg.solve(slope, f.T[:, :, None])[:, :, 0].T
                except np.linalg.LinAlgError:
                    step = np.full((k, n), np.nan)
            bad = ~np.isfinite(step).all(axis=0)
            lost |= bad & go
            go &= ~bad
            whole = np.zeros_like(amounts)
            whole[solids] = np.where(go, step, 0.0)
            # No ion and no water may be used up by a step.
            use, use_water = self._made_of @ whole, _KG * self._waters @ whole
            with np.errstate(divide="ignore", invalid="ignore"):
                most = np.where(use > 0, _KEEP * left / use, np.inf).min(axis=0)
                most = np.minimum(most, np.where(use_water > 0, _KEEP * water_left / use_water, np.inf))
            amounts += whole * np.minimum(1.0, most)
            amounts[solids] = np.maximum(amounts[solids], least)
        # At its floor a solid is not saturated and need not be; others that were not met in time are not solved.
        return amounts, lost | (go & (amounts[solids] > least).all(axis=0))

    def _room(self, left: Floats, water_left: Floats, solid: int) -> Floats:
        """How much of a solid the liquor could give at all."""
        need = self._made_of[:, solid]
        room = np.min(left[need > 0] / need[need > 0][:, None], axis=0)
        if self._waters[solid] > 0:
            room = np.minimum(room, water_left / (_KG * self._waters[solid]))
        return np.maximum(room, 1e-30)
