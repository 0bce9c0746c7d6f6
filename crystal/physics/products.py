"""Solubility products of a salt's solids, set by its own curve, so that with nothing else in the pot the curve is met."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.humidity import pair_pressures
from crystal.data.records import Salt
from crystal.physics.curve import Piece, pieces_of
from crystal.physics.formula import molar_mass_g_mol
from crystal.physics.ion_parameters import ions_in, missing_pairs
from crystal.physics.mixture import Mixture
from crystal.physics.model import Model
from crystal.physics.regions import Solid, joined_branch

Floats = NDArray[np.float64]

KELVIN = 273.15

EXTENDED_AT_MOST_K = 40.0
"""How far beyond its own branch a solid's product is extended, and never farther than the branch is long."""

_SLOPE_OVER_K = 15.0
_DOUBT_PER_K = 0.01
"""Doubt of an extended ln K for each kelvin beyond what is known; its slope's own doubt comes on top."""


@dataclass(frozen=True, slots=True)
class Balance:
    """ln K of a solid beyond its own branch, from the humidity at which it and another hydrate stand side by side."""

    temperature_C: float
    ln_k: float
    doubt: float


@dataclass(frozen=True, eq=False)
class Product:
    """One solid's ln K against temperature (ions' molalities and the water of the crystal as activities)."""

    solid: Solid
    index: int
    waters: float
    temperature_C: Floats
    ln_k: Floats
    own_C: tuple[tuple[float, float], ...]
    balance: Balance | None = None

    def at(self, temperature_C: ArrayLike) -> tuple[Floats, Floats]:
        """ln K and its doubt; NaN farther than 40 K (or the branch's own length, or a known balance) beyond the branch.

        Inside the branch the doubt is 0: the curve's own comes elsewhere. Beyond it ln K runs straight in 1/T: to a balance
        with another hydrate that is known there with less doubt, else as the branch's last 15 K do.
        """
        t = np.asarray(temperature_C, float)
        low, high = self.temperature_C[0], self.temperature_C[-1]
        ln_k = np.interp(t, self.temperature_C, self.ln_k)
        doubt = np.zeros(t.shape)
        for end, inward in ((low, 1.0), (high, -1.0)):
            beyond = (t - end) * inward < 0
            if not beyond.any():
                continue
            slope, slope_doubt = self._slope(end, inward)
            over = 1.0 / (t + KELVIN) - 1.0 / (end + KELVIN)
            ln_k = np.where(beyond, ln_k + slope * over, ln_k)
            far = np.abs(t - end)
            if self.balance is not None and (self.balance.temperature_C - end) * inward < 0:
                far = np.maximum(far - abs(self.balance.temperature_C - end), 0.0)
            doubt = np.where(beyond, np.abs(slope_doubt * over) + _DOUBT_PER_K * far, doubt)
        reach = min(EXTENDED_AT_MOST_K, float(high - low))
        known = low if self.balance is None else self.balance.temperature_C
        out = (t < min(low - reach, known)) | (t > max(high + reach, known))
        return np.where(out, np.nan, ln_k), np.where(out, np.nan, doubt)

    def is_own(self, temperature_C: ArrayLike) -> NDArray[np.bool_]:
        """Whether the solid's stable branch reaches these temperatures."""
        t = np.asarray(temperature_C, float)
        return np.any([(t >= low) & (t <= high) for low, high in self.own_C], axis=0)

    def _slope(self, end: float, inward: float) -> tuple[float, float]:
        """d ln K / d(1/T) at one end, over 15 K, and its doubt from the half nearer to the end; or to the balance beyond it."""
        known = self.balance
        if known is not None and (known.temperature_C - end) * inward < 0:
            inverse = 1.0 / (known.temperature_C + KELVIN) - 1.0 / (end + KELVIN)
            ln_end = float(np.interp(end, self.temperature_C, self.ln_k))
            return (known.ln_k - ln_end) / inverse, known.doubt / inverse
        span = self.temperature_C[-1] - self.temperature_C[0]

        def over(kelvins: float) -> float:
            inner = end + inward * min(kelvins, span)
            ln = np.interp([end, inner], self.temperature_C, self.ln_k)
            return float((ln[1] - ln[0]) / (1.0 / (inner + KELVIN) - 1.0 / (end + KELVIN)))

        return over(_SLOPE_OVER_K), over(_SLOPE_OVER_K / 2) - over(_SLOPE_OVER_K)


class Products:
    """A salt's ions and the products of its solids.

    Parameters
    ----------
    model : Model
        The salt.
    mixing : bool
        Whether theta and psi are used.

    Attributes
    ----------
    ions : tuple of (str, int), or None
        What one formula unit gives; None where the formula is no strong electrolyte of known ions.
    missing : list of (str, str)
        Pairs of its own ions without parameters; with any there are no products.
    """

    def __init__(self, model: Model, *, mixing: bool = True) -> None:
        self.model = model
        self.mixing = mixing
        self.ions = ions_in(model.salt.formula)
        self.missing = [] if self.ions is None else missing_pairs([ion for ion, _ in self.ions])
        self.molar_mass_g_mol = molar_mass_g_mol(model.salt.formula)

    @property
    def known(self) -> bool:
        return self.ions is not None and not self.missing

    def molality(self, mass_fraction: ArrayLike) -> Floats:
        """mol per kg of water of a mass fraction."""
        w = np.asarray(mass_fraction, float)
        return 1000.0 / self.molar_mass_g_mol * w / (1.0 - w)

    @cached_property
    def of_solids(self) -> tuple[Product, ...]:
        """Products of the solids that have a branch with less salt than the solid."""
        if not self.known:
            return ()
        found = []
        for index, solid in enumerate(self.model.map.solids):
            own = [p for p in solid.pieces if p.side == "lean"]
            if solid.is_ice or not own:
                continue
            longest = _with_metastable(self.model.salt, solid, own)
            t = np.unique(np.concatenate([p.temperature_C for p in longest]))
            w = np.full(t.shape, np.nan)
            for piece in (*longest, *own):
                inside = (t >= piece.low_C) & (t <= piece.high_C)
                w[inside] = piece.mass_fraction_at(t[inside])
            keep = np.isfinite(w) & (w < 1.0)
            t, w = t[keep], w[keep]
            waters = float(solid.phase.waters or 0.0)
            ln_k = self.ln_product(self.molality(w), waters)
            found.append(Product(solid, index, waters, t, ln_k, tuple((p.low_C, p.high_C) for p in own)))
        return tuple(replace(p, balance=_balance_of(p, found)) for p in found)

    def ln_product(self, molality: ArrayLike, waters: ArrayLike) -> Floats:
        """The product that a solution of the salt alone has."""
        assert self.ions is not None
        m = np.asarray(molality, float)
        mixture = Mixture.of([ion for ion, _ in self.ions], mixing=self.mixing)
        each = np.array([n for _, n in self.ions], dtype=float).reshape(-1, *([1] * m.ndim))
        found = mixture.activities(each * m)
        return np.asarray(
            (each * (np.log(each * m) + found.ln_gamma)).sum(axis=0) + np.asarray(waters) * found.ln_water
        )


def _with_metastable(salt: Salt, solid: Solid, own: list[Piece]) -> list[Piece]:
    """The solid's lean pieces with its metastable points joined on: they carry its product beyond its range."""
    if salt.branch(solid.formula, metastable=True) is None:
        return own
    branch = joined_branch(salt, solid.formula)
    assert branch is not None
    return [p for p in pieces_of(branch, solid.mass_fraction) if p.side == "lean"] or own


def _balance_of(product: Product, others: Sequence[Product]) -> Balance | None:
    """Where a humidity at which two hydrates stand side by side tells a product beyond its branch by that of the other."""
    by_formula = {p.solid.formula: p for p in others}
    for pair in pair_pressures():
        if product.solid.formula not in (pair.hydrate, pair.lower):
            continue
        partner = by_formula.get(pair.lower if product.solid.formula == pair.hydrate else pair.hydrate)
        t = pair.temperature_C
        if (
            partner is None
            or not partner.is_own(t)
            or product.temperature_C[0] <= t <= product.temperature_C[-1]
        ):
            continue
        waters = product.waters - partner.waters
        ln_k, _ = partner.at(t)
        doubt = abs(waters) * pair.doubt_percent / pair.rh_percent
        if float(product.at(t)[1]) <= doubt:  # a doubt that is not known is no less
            continue
        return Balance(t, float(ln_k) + waters * float(np.log(pair.rh_percent / 100.0)), doubt)
    return None
