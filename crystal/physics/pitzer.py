"""Activities of ions in mixtures by the Pitzer equations, for many states at once.

Equations as in Pitzer, J. Phys. Chem. 77 (1973) 268, doi 10.1021/j100621a026; J. Solution Chem. 4 (1975) 249,
doi 10.1007/bf00646562 (unsymmetrical mixing and its fitted integral J); Harvie, Møller, Weare, Geochim. Cosmochim. Acta
48 (1984) 723, doi 10.1016/0016-7037(84)90098-X (any number of ions).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.data.ion_interaction import charge_of
from crystal.physics.activity import A_PHI, B
from crystal.physics.formula import WATER_G_MOL
from crystal.physics.ion_parameters import PairTerms, mixing_terms, pair_terms

Floats = NDArray[np.float64]

WATER_KG_MOL = WATER_G_MOL / 1000.0

_LEAST_I = 1e-14


@dataclass(frozen=True, eq=False)
class Activities:
    """Natural logarithms, each of the states' shape; ``ln_gamma`` has the ions on its first axis (molal basis)."""

    ln_gamma: Floats
    osmotic: Floats
    ln_water: Floats


class Pitzer:
    """The equations for a fixed list of ions at 25 °C.

    Parameters
    ----------
    ions : sequence of str
        Formulas with charges, as ``Na+``, ``SO4-2``.
    pairs : sequence of PairTerms
        A term for a cation and an anion; a pair without one interacts by charge alone.
    theta, psi : mapping
        Mixing terms by (ion, ion) and (ion, ion, ion); what is not there is zero. Unsymmetrical mixing needs none.

    Notes
    -----
    Range: each pair's parameters were fitted up to its ``max_molality``; see :mod:`crystal.physics.company`. Nothing
    changes with temperature here.

    Examples
    --------
    >>> salt = Pitzer.of(("Na+", "Cl-"))
    >>> round(float(np.exp(salt.activities([1.0, 1.0]).ln_gamma.mean(axis=0))), 2)  # Robinson & Stokes: 0.657
    0.66
    """

    def __init__(
        self,
        ions: Sequence[str],
        pairs: Sequence[PairTerms],
        theta: dict[frozenset[str], float],
        psi: dict[frozenset[str], float],
    ) -> None:
        self.ions = tuple(ions)
        z = np.array([charge_of(ion) for ion in self.ions], dtype=float)
        self.charges = z
        self._cations, self._anions = np.flatnonzero(z > 0), np.flatnonzero(z < 0)
        places = {ion: i for i, ion in enumerate(self.ions)}
        self._pairs = [(places[p.cation], places[p.anion], p) for p in pairs]
        n = len(self.ions)
        # One matrix of C (zero but for cation-anion) and one of theta (zero but for like signs).
        self._c = np.zeros((n, n))
        for i, j, p in self._pairs:
            self._c[i, j] = self._c[j, i] = p.c_phi / (2.0 * np.sqrt(abs(z[i] * z[j])))
        self._theta = np.zeros((n, n))
        self._unlike: list[tuple[int, int]] = []
        for group in (self._cations, self._anions):
            for a, i in enumerate(group.tolist()):
                for j in group.tolist()[a + 1 :]:
                    self._theta[i, j] = self._theta[j, i] = theta.get(
                        frozenset((self.ions[i], self.ions[j])), 0.0
                    )
                    if z[i] != z[j]:
                        self._unlike.append((int(i), int(j)))
        self._psi: list[tuple[int, int, int, float]] = []
        for key, value in psi.items():
            if value and all(ion in places for ion in key):
                first, second, third = sorted(places[ion] for ion in key)
                self._psi.append((first, second, third, value))

    @classmethod
    def of(cls, ions: Sequence[str], *, mixing: bool = True) -> Pitzer:
        """Take the parameters from the data; ``mixing`` False leaves theta and psi out."""
        theta, psi = mixing_terms() if mixing else ({}, {})
        return cls(ions, pair_terms(ions), theta, psi)

    def activities(self, molality: ArrayLike) -> Activities:
        """Activity coefficients, osmotic coefficient and water activity.

        Parameters
        ----------
        molality : array_like, shape (k, ...)
            mol per kg of water of each ion, in the order of ``ions``; electroneutral.

        Returns
        -------
        Activities
        """
        m = np.asarray(molality, float)
        shape = m.shape[1:]
        m = m.reshape(len(self.ions), -1)
        z = self.charges
        strength = np.maximum(0.5 * (z**2) @ m, _LEAST_I)
        root = np.sqrt(strength)
        big_z = np.abs(z) @ m
        total = m.sum(axis=0)

        debye = root / (1.0 + B * root)
        f = -A_PHI * (debye + (2.0 / B) * np.log1p(B * root))
        # Half the osmotic sum, without its Debye-Hückel term.
        osmotic = np.zeros_like(strength)
        ln_gamma = np.zeros_like(m)
        g_cache: dict[float, tuple[Floats, Floats, Floats]] = {}

        def g_of(alpha: float) -> tuple[Floats, Floats, Floats]:
            """g, g' (per ionic strength) and exp(-alpha sqrt(I))."""
            if alpha not in g_cache:
                x = alpha * root
                decay = np.exp(-x)
                near = x < 1e-3
                safe = np.where(near, 1.0, x)
                g = np.where(near, 1.0 - 2.0 * x / 3.0, 2.0 * (1.0 - (1.0 + safe) * decay) / safe**2)
                slope = -2.0 * (1.0 - (1.0 + safe + 0.5 * safe**2) * decay) / safe**2
                slope = np.where(near, -x / 3.0, slope)
                g_cache[alpha] = g, slope / strength, decay
            return g_cache[alpha]

        for i, j, p in self._pairs:
            g, slope, decay = g_of(p.alpha1)
            b = p.beta0 + p.beta1 * g
            b_slope = p.beta1 * slope
            b_phi = p.beta0 + p.beta1 * decay
            if p.beta2:
                g, slope, decay = g_of(p.alpha2)
                b, b_slope, b_phi = b + p.beta2 * g, b_slope + p.beta2 * slope, b_phi + p.beta2 * decay
            both = m[i] * m[j]
            f += both * b_slope
            osmotic += both * b_phi
            ln_gamma[i] += 2.0 * m[j] * b
            ln_gamma[j] += 2.0 * m[i] * b
        cubic = self._c @ m
        triple = 0.5 * (m * cubic).sum(axis=0)  # sum over pairs of m m' C
        ln_gamma += big_z * cubic + np.abs(z)[:, None] * triple
        osmotic += big_z * triple

        like = self._theta @ m
        ln_gamma += 2.0 * like
        osmotic += 0.5 * (m * like).sum(axis=0)
        if self._unlike:
            j_cache: dict[int, tuple[Floats, Floats]] = {}

            def j_of(product: int) -> tuple[Floats, Floats]:
                """J and x J' for the product of two charges."""
                if product not in j_cache:
                    j_cache[product] = _integral(6.0 * product * A_PHI * root)
                return j_cache[product]

            for i, j in self._unlike:
                zz = round(z[i] * z[j])
                mixed, one, two = j_of(zz), j_of(round(z[i] ** 2)), j_of(round(z[j] ** 2))
                e = zz / (4.0 * strength) * (mixed[0] - 0.5 * (one[0] + two[0]))
                e_slope = -e / strength + zz / (8.0 * strength**2) * (mixed[1] - 0.5 * (one[1] + two[1]))
                both = m[i] * m[j]
                f += both * e_slope
                osmotic += both * (e + strength * e_slope)
                ln_gamma[i] += 2.0 * m[j] * e
                ln_gamma[j] += 2.0 * m[i] * e
        for i, j, k, value in self._psi:
            ln_gamma[i] += m[j] * m[k] * value
            ln_gamma[j] += m[i] * m[k] * value
            ln_gamma[k] += m[i] * m[j] * value
            osmotic += m[i] * m[j] * m[k] * value
        ln_gamma += (z**2)[:, None] * f
        total_safe = np.maximum(total, 1e-300)
        phi = 1.0 + 2.0 / total_safe * (osmotic - A_PHI * strength * debye)
        phi = np.where(total > 0, phi, 1.0)
        ln_water = -WATER_KG_MOL * total * phi
        return Activities(ln_gamma.reshape(m.shape[:1] + shape), phi.reshape(shape), ln_water.reshape(shape))


def _integral(x: Floats) -> tuple[Floats, Floats]:
    """J(x) as fitted by Pitzer (1975), and x times its derivative."""
    power = 4.581 * x**-0.7237
    inner = 0.0120 * x**0.528
    term = power * np.exp(-inner)
    below = 4.0 + term
    slope = -term * (0.7237 + 0.528 * inner)  # x times the derivative of the term
    return x / below, x / below - x * slope / below**2
