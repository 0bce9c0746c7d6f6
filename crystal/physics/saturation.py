"""Where a solid's product is met beside other dissolved matter: the shifted solubility."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.physics.ion_parameters import ions_in, pair_terms
from crystal.physics.mixture import Mixture
from crystal.physics.products import Product, Products

Floats = NDArray[np.float64]

_SCAN = np.exp(np.linspace(np.log(1e-5), np.log(30.0), 61))
_LATTICE = np.exp(np.linspace(np.log(1e-5), np.log(60.0), 217))
"""Molalities of the salt at which a root is looked for."""

_ROUNDS, _HALVINGS = 40, 44


class Beside:
    """A salt beside others whose proportions do not change.

    Parameters
    ----------
    products : Products
        The salt's.
    others_mol : mapping of str to float
        Moles of each other substance, by formula; only their proportions count.

    Attributes
    ----------
    ions : tuple of str
    of_salt, of_others : array, shape (k,)
        Moles of each ion from one mole of the salt, and from one mole of the others together.
    missing : list of (str, str)
        Pairs of ions without parameters.
    unread : list of str
        Others that are no strong electrolytes of known ions.
    """

    def __init__(self, products: Products, others_mol: Mapping[str, float]) -> None:
        self.products = products
        total = sum(others_mol.values())
        self.shares = {f: n / total for f, n in others_mol.items()} if total > 0 else {}
        self.unread = [f for f in self.shares if ions_in(f) is None]
        counts: dict[str, list[float]] = {}
        for ion, n in products.ions or ():
            counts.setdefault(ion, [0.0, 0.0])[0] += n
        for formula, share in self.shares.items():
            for ion, n in ions_in(formula) or ():
                counts.setdefault(ion, [0.0, 0.0])[1] += n * share
        self.ions = tuple(sorted(counts))
        both = np.array([counts[ion] for ion in self.ions]).reshape(-1, 2)
        self.of_salt, self.of_others = both[:, 0], both[:, 1]
        self.mixture = Mixture.of(self.ions, mixing=products.mixing)
        self.missing = self.mixture.missing
        self._kept: tuple[Floats, Floats, Floats] | None = None

    @property
    def known(self) -> bool:
        """Whether every pair of ions has parameters."""
        return self.products.known and not self.missing and not self.unread

    @cached_property
    def _reach(self) -> tuple[float, float]:
        """The molality to which the salt's own and the others' parameters reach, each by itself."""
        salt = _reach_of([ion for ion, _ in self.products.ions or ()])
        others = [
            (_reach_of([ion for ion, _ in ions_in(f) or ()]), share) for f, share in self.shares.items()
        ]
        return salt, 1.0 / sum(share / reach for reach, share in others) if others else np.inf

    @property
    def others_reach(self) -> float:
        """Molality of the others to which their parameters were fitted."""
        return self._reach[1]

    def reach_used(self, salt_molality: ArrayLike, others_molality: ArrayLike) -> Floats:
        """How much of the parameters' range a solution uses: 1 at its end, 2 at twice its end."""
        salt, others = self._reach
        return np.asarray(np.asarray(salt_molality) / salt + np.asarray(others_molality) / others)

    def ln_product(self, salt: ArrayLike, others: ArrayLike) -> tuple[Floats, Floats]:
        """ln of the product of the salt's ions' activities, and ln of water's, at molalities of the salt and the others."""
        a, b = np.broadcast_arrays(np.asarray(salt, float), np.asarray(others, float))
        grow = (-1, *([1] * a.ndim))
        m = self.of_salt.reshape(grow) * a + self.of_others.reshape(grow) * b
        found = self.mixture.activities(m)
        mine = self.of_salt > 0
        n = self.of_salt[mine].reshape(grow)
        with np.errstate(divide="ignore"):
            ln_m = np.log(m[mine])
        return np.asarray((n * (ln_m + found.ln_gamma[mine])).sum(axis=0)), found.ln_water

    def excess(self, product: Product, ln_k: ArrayLike, salt: ArrayLike, others: ArrayLike) -> Floats:
        """ln of the ion product over K (supersaturated above 0) at molalities of the salt and of the others."""
        ln, ln_water = self.ln_product(salt, others)
        return np.asarray(ln + product.waters * ln_water - np.asarray(ln_k))

    def saturated(self, product: Product, ln_k: ArrayLike, near: ArrayLike, others: ArrayLike) -> Floats:
        """Molality of the salt at which a solid's product is met.

        Parameters
        ----------
        product : Product
            The solid.
        ln_k : array_like
            Its ln K.
        near : array_like
            The molality that has this product without company; the root nearest to it is taken.
        others : array_like
            Molality of the others together. The three broadcast.

        Returns
        -------
        array
            mol per kg of water; NaN where the product is met nowhere between 1e-5 and 30 times ``near``.
        """
        ln_k, near, b = np.broadcast_arrays(*(np.asarray(x, float) for x in (ln_k, near, others)))
        shape = b.shape
        ln_k, near, b = ln_k.ravel(), near.ravel(), b.ravel()
        tried = _SCAN[:, None] * near
        e = self.excess(product, ln_k, tried, b)
        return self._closed(product, ln_k, near, b, tried, e).reshape(shape)

    def saturated_over(self, product: Product, ln_k: Floats, near: Floats, nodes: Floats) -> Floats:
        """The same for n products (temperatures) over the same k molalities of the others, shape (n, k).

        Read from a lattice of activities by a cubic through four points: within 1e-6 of the root itself.
        """
        ln, ln_water = self._lattice(nodes)
        e = (ln + product.waters * ln_water)[:, None, :] - ln_k[:, None]
        with np.errstate(invalid="ignore"):
            rising = (e[:-1] <= 0) & (e[1:] > 0)
        steps = np.log(_LATTICE)
        away = np.where(rising, np.abs(steps[:-1, None, None] - np.log(near)[:, None]), np.inf)
        k = np.clip(np.argmin(away, axis=0), 1, len(_LATTICE) - 3)
        four = [np.take_along_axis(e, (k + offset)[None], axis=0)[0] for offset in (-1, 0, 1, 2)]
        low, high = np.zeros(k.shape), np.ones(k.shape)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            over = _cubic(four, middle) > 0
            low, high = np.where(over, low, middle), np.where(over, middle, high)
        root = np.exp(steps[k] + (low + high) / 2 * (steps[1] - steps[0]))
        return np.where(rising.any(axis=0), root, np.nan)

    def _lattice(self, nodes: Floats) -> tuple[Floats, Floats]:
        """Products and water's activity where roots are looked for: the same at every temperature, worked out once."""
        if self._kept is None or not np.array_equal(self._kept[0], nodes):
            self._kept = nodes, *self.ln_product(_LATTICE[:, None], nodes)
        return self._kept[1], self._kept[2]

    def _closed(
        self, product: Product, ln_k: Floats, near: Floats, b: Floats, tried: Floats, e: Floats
    ) -> Floats:
        """The root between two tried molalities, of several the nearest to the pure solubility; NaN where none is."""
        with np.errstate(invalid="ignore"):
            rising = (e[:-1] <= 0) & (e[1:] > 0)
        away = np.where(rising, np.abs(np.log(tried[:-1] / near)), np.inf)
        k = np.argmin(away, axis=0)
        place = np.arange(len(b))
        found = rising.any(axis=0)
        low, high = np.log(tried[k, place]), np.log(tried[k + 1, place])
        f_low, f_high = e[k, place], e[k + 1, place]
        x = (low + high) / 2
        for turn in range(_ROUNDS):
            with np.errstate(invalid="ignore", divide="ignore"):
                secant = (low * f_high - high * f_low) / (f_high - f_low)
            good = np.isfinite(secant) & (secant > low) & (secant < high) & (turn % 3 != 2)
            x = np.where(good, secant, (low + high) / 2)
            f = self.excess(product, ln_k, np.exp(x), b)
            if np.abs(f[found]).max(initial=0.0) < 1e-9:
                break
            up = f > 0
            low, f_low = np.where(up, low, x), np.where(up, f_low, f)
            high, f_high = np.where(up, x, high), np.where(up, f, f_high)
        return np.where(found, np.exp(x), np.nan)


def _cubic(four: Sequence[Floats], s: Floats) -> Floats:
    """The cubic through four evenly spaced values at a share of the way from the second to the third."""
    a, b, c, d = four
    return (
        -a * s * (s - 1) * (s - 2) / 6
        + b * (s + 1) * (s - 1) * (s - 2) / 2
        - c * (s + 1) * s * (s - 2) / 2
        + d * (s + 1) * s * (s - 1) / 6
    )


def _reach_of(ions: Sequence[str]) -> float:
    """The smallest fitted molality of the pairs among a substance's own ions; no range is told for pairs of acids."""
    return min((p.max_molality for p in pair_terms(ions)), default=np.inf)
