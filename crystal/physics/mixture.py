"""Dissolved ions as a pot holds them: totals in, activities out, hydrogen sulfate formed where acid meets sulfate."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.physics.ion_parameters import ln_dissociation_of_hydrogen_sulfate, missing_pairs, pair_terms
from crystal.physics.pitzer import Activities, Pitzer

Floats = NDArray[np.float64]

_ROUNDS, _CLOSE = 60, 1e-11


class Mixture:
    """Activities against the total molality of each ion; sulfate counts all sulfate, acid all acid.

    Parameters
    ----------
    ions : sequence of str
        The ions that things dissolve into, without hydrogen sulfate.
    mixing : bool
        Whether theta and psi are used.

    Examples
    --------
    >>> acid = Mixture(("H+", "SO4-2"))
    >>> round(float(acid.activities([2.0, 1.0]).osmotic), 2)  # Robinson & Stokes: 0.721
    0.72
    """

    def __init__(self, ions: Sequence[str], *, mixing: bool = True) -> None:
        self.ions = tuple(ions)
        self.associates = "H+" in self.ions and "SO4-2" in self.ions
        self._pitzer = Pitzer.of((*self.ions, "HSO4-") if self.associates else self.ions, mixing=mixing)
        if self.associates:
            self._h, self._s = self.ions.index("H+"), self.ions.index("SO4-2")

    @classmethod
    def of(cls, ions: Sequence[str], *, mixing: bool = True) -> Mixture:
        """The same mixture, made once for a list of ions."""
        return _made(tuple(ions), mixing)

    @property
    def missing(self) -> list[tuple[str, str]]:
        """Pairs of a cation and an anion without parameters."""
        return missing_pairs(self._pitzer.ions)

    @property
    def by_analogy(self) -> list[tuple[str, str]]:
        """Pairs whose parameters are another ion's."""
        return [(p.cation, p.anion) for p in pair_terms(self._pitzer.ions) if p.provenance == "analogy"]

    def activities(self, molality: ArrayLike) -> Activities:
        """Activities of total molalities.

        Parameters
        ----------
        molality : array_like, shape (k, ...)
            mol per kg of water, in the order of ``ions``.

        Returns
        -------
        Activities
            ``ln_gamma`` on the basis of the totals: ln of activity minus ln of total molality. The osmotic coefficient
            is that of the totals too.
        """
        m = np.asarray(molality, float)
        if not self.associates:
            return self._pitzer.activities(m)
        shape = m.shape[1:]
        m = m.reshape(len(self.ions), -1)
        h, s = m[self._h], m[self._s]
        least = np.minimum(h, s)
        some = least > 0.0
        wanted = ln_dissociation_of_hydrogen_sulfate()

        def off(logit: Floats) -> tuple[Floats, Activities, Floats]:
            bound = least / (1.0 + np.exp(-logit))
            free = np.concatenate([m, bound[None]])
            free[self._h], free[self._s] = _left(h, least, logit), _left(s, least, logit)
            found = self._pitzer.activities(free)
            ln = found.ln_gamma
            with np.errstate(divide="ignore", invalid="ignore"):
                product = np.log(free[self._h]) + np.log(free[self._s]) - np.log(bound)
            product = product + ln[self._h] + ln[self._s] - ln[-1] - wanted
            return np.where(some, product, 0.0), found, free

        # The product falls as acid is bound: a bracket closed by secants, by halving where they crawl.
        low, high = np.full(least.shape, -30.0), np.full(least.shape, 30.0)
        f_low, f_high = np.full(least.shape, np.inf), np.full(least.shape, -np.inf)
        x = np.zeros(least.shape)
        for turn in range(_ROUNDS):
            f, found, free = off(x)
            up = f > 0
            low, f_low = np.where(up, x, low), np.where(up, f, f_low)
            high, f_high = np.where(up, high, x), np.where(up, f_high, f)
            if np.abs(f).max(initial=0.0) < _CLOSE:
                break
            bounded = np.isfinite(f_low) & np.isfinite(f_high)
            with np.errstate(invalid="ignore"):
                secant = np.where(bounded, (low * f_high - high * f_low) / (f_high - f_low), x + f)
            halved = (low + high) / 2
            inside = (secant > low) & (secant < high) & (turn % 4 != 3)
            step = np.where(
                inside, secant, np.where(bounded, halved, np.clip(x + 3.0 * np.sign(f), low, high))
            )
            x = np.where(np.abs(f) < _CLOSE, x, step)
        ln_gamma = found.ln_gamma[:-1].copy()
        for i, total in ((self._h, h), (self._s, s)):
            ratio = np.divide(free[i], total, out=np.ones_like(total), where=total > 0)
            ln_gamma[i] += np.log(ratio)
        total = m.sum(axis=0)
        phi = np.divide(found.osmotic * free.sum(axis=0), total, out=np.ones_like(total), where=total > 0)
        return Activities(
            ln_gamma.reshape(m.shape[:1] + shape), phi.reshape(shape), found.ln_water.reshape(shape)
        )


def _left(total: Floats, least: Floats, logit: Floats) -> Floats:
    """What is left of a total when the share of ``least`` that the logit names is bound, without cancellation."""
    return np.asarray((total - least) + least / (1.0 + np.exp(logit)))


@lru_cache(maxsize=256)
def _made(ions: tuple[str, ...], mixing: bool) -> Mixture:
    return Mixture(ions, mixing=mixing)
