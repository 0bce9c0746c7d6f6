"""A curve fitted to a liquor that is not the pure salt: a factor on g per 100 g of water, from its own first crystals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, hypot, log, sqrt
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.errors import DataError, InputError
from crystal.physics.curve import Piece
from crystal.physics.phasemap import PhaseMap
from crystal.physics.regions import LIQUID, Solid, stretches_of

if TYPE_CHECKING:
    from crystal.physics.model import Model

Floats = NDArray[np.float64]

LEAST, MOST = 0.5, 2.0
"""Factors beyond these are no calibration of this salt's curve but another liquor."""

MELT_REACH = 0.3
"""Within this share of a melting hydrate's own composition the factor fades: the melt itself is not shifted."""

THERMOMETER_K = 1.0
COMPOSITION = 0.02
"""Usual standard uncertainties of one point: its temperature, and its strength, relative; common practice, no source."""

_BELOW = 1.0 - 1e-9


@dataclass(frozen=True, slots=True)
class Calibration:
    """A factor on the salt that 100 g of water hold when saturated, and its relative standard uncertainty.

    Parameters
    ----------
    name : str
        What the person calls the liquor.
    factor : float
        0.5 to 2; 1 is the pure salt.
    doubt : float
        Standard uncertainty of its logarithm.
    points : int
        How many points it was fitted to.
    """

    name: str
    factor: float
    doubt: float
    points: int = 0

    def __post_init__(self) -> None:
        if not LEAST <= self.factor <= MOST:
            raise InputError(
                f"calibrated curve {self.name!r}", f"a factor of {self.factor:.3g}",
                f"between {LEAST:g} and {MOST:g}: further off it is not this salt's liquor", "0.92",
            )  # fmt: skip
        if not 0.0 <= self.doubt < 1.0:
            raise InputError(
                f"calibrated curve {self.name!r}", f"a doubt of {self.doubt:.3g}", "0 to below 1", "0.02"
            )

    @property
    def label(self) -> str:
        """What every answer on this curve says of it."""
        by = f", fitted to {self.points} point{'s' if self.points != 1 else ''}" if self.points else ""
        return (
            f"Calibrated curve '{self.name}': {self.factor:.3f} (± {100 * self.doubt:.2g} %) times the pure salt's g per "
            f"100 g of water{by}; not the pure salt."
        )

    def mass_fraction(self, pure: ArrayLike, melts: Sequence[float] = ()) -> Floats:
        """The shifted composition of saturated liquids: s' = k s, in mass fraction w' = k s / (1 + k s).

        Parameters
        ----------
        pure : array_like
            Mass fractions on the pure salt's curve.
        melts : sequence of float
            Compositions of hydrates that melt to their own: the factor's logarithm fades to nothing towards them.
        """
        w = np.asarray(pure, float)
        k = np.exp(log(self.factor) * _reach(w, melts))
        return np.asarray(k * w / (1.0 - w + k * w))


def scaled(phase_map: PhaseMap, calibration: Calibration) -> PhaseMap:
    """The phase map with every saturated liquid shifted; solids keep their own composition.

    All branches, ice included, go by one rule, so that those that met in an invariant point still meet; its temperature
    stays. A liquid on the lean side of a solid is held below that solid's composition, on the rich side above it.

    Raises
    ------
    InputError
        Where so shifted branches would cross.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> pure = PhaseMap.of(Catalogue.bundled().find("KNO3"))
    >>> liquor = [m.at(0.5, 20.0).liquor_mass_fraction for m in (pure, scaled(pure, Calibration("mine", 0.9, 0.02)))]
    >>> a, b = (float(w / (1 - w)) for w in liquor)
    >>> round(b / a, 6)
    0.9
    """
    melts = melting_compositions(phase_map)
    solids = tuple(
        replace(s, pieces=tuple(_moved(p, s, calibration, melts) for p in s.pieces)) for s in phase_map.solids
    )
    try:
        return PhaseMap(phase_map.salt, solids, stretches_of(phase_map.salt, solids))
    except DataError:
        raise InputError(
            f"calibrated curve {calibration.name!r}", f"a factor of {calibration.factor:.3g}",
            f"nearer to 1: the branches of {phase_map.salt.formula} would cross", "0.92",
        ) from None  # fmt: skip


def melting_compositions(phase_map: PhaseMap) -> tuple[float, ...]:
    """Compositions of the hydrates that melt to their own."""
    return tuple(s.mass_fraction for s in phase_map.solids if s.melts_congruently)


def fit(model: Model, name: str, points: Sequence[tuple[float, float]]) -> Calibration:
    """Fit the factor to observed saturated liquors.

    Parameters
    ----------
    model : Model
        The pure salt.
    name : str
        What the liquor is called.
    points : sequence of (float, float)
        Temperature of first crystals, °C, and salt / (salt + water) of the liquor that showed them.

    Returns
    -------
    Calibration
        The weighted mean of the points' logarithms of the factor. One point is taken to be known to 1 K and 2 %; where
        several scatter more than that, the uncertainty grows with their scatter (R. T. Birge, Phys. Rev. 40 (1932) 207,
        doi 10.1103/PhysRev.40.207).

    Raises
    ------
    InputError
        Where a point lies at no saturated liquor of the data, or at a melting hydrate's own composition.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> from crystal.physics.model import Model
    >>> calibration = fit(Model.of(Catalogue.bundled().find("KNO3")), "old liquor", [(31.0, 0.29), (42.0, 0.38)])
    >>> round(calibration.factor, 3), round(calibration.doubt, 3)
    (0.894, 0.028)
    """
    if not points:
        raise InputError("--point", "nothing", "one point or more of first crystals", '"31 degC = 26 % w/w"')
    logs, doubts = [], []
    for temperature_C, w in points:
        one, doubt = _log_factor(model, temperature_C, w)
        logs.append(one)
        doubts.append(doubt)
    weights = 1.0 / np.square(doubts)
    mean = float(np.average(logs, weights=weights))
    doubt = 1.0 / sqrt(float(weights.sum()))
    if len(logs) > 1:
        chi2 = float(np.sum(weights * (np.array(logs) - mean) ** 2)) / (len(logs) - 1)
        doubt *= max(1.0, sqrt(chi2))
    return Calibration(name, exp(mean), doubt, len(logs))


def _log_factor(model: Model, temperature_C: float, w: float) -> tuple[float, float]:
    """Logarithm of the factor that one point tells, and its standard uncertainty."""
    told = f"{100 * w:.4g} mass % at {temperature_C:g} degC"
    if not 0.0 < w < 1.0:
        raise InputError("--point", told, "a strength above 0 and below 100 mass %", '"31 degC = 26 % w/w"')
    pure = saturated(model.map, temperature_C, w)
    reach = float(_reach(np.array(pure), melting_compositions(model.map)))
    if reach < 0.2:
        raise InputError(
            "--point", told, "further from a melting hydrate's own composition: there the curve hardly shifts",
            '"31 degC = 26 % w/w"',
        )  # fmt: skip
    found = (log(w / (1.0 - w)) - log(pure / (1.0 - pure))) / reach
    if not log(LEAST) <= found <= log(MOST):
        raise InputError(
            "--point", told,
            f"within a factor of {MOST:g} of the pure salt's {100 * pure:.4g} mass % there (per 100 g of water)",
        )  # fmt: skip
    step = 0.5
    low, high = max(temperature_C - step, model.map.low_C), min(temperature_C + step, model.map.high_C)
    ends = [saturated(model.map, t, pure) for t in (low, high)]
    slope = abs(log(ends[1] / (1 - ends[1])) - log(ends[0] / (1 - ends[0]))) / max(high - low, 1e-9)
    return found, hypot(THERMOMETER_K * slope, COMPOSITION) / reach


def saturated(phase_map: PhaseMap, temperature_C: float, near: float) -> float:
    """The saturated liquor over crystals at a temperature, on the lean side, nearest to a composition."""
    liquors = [
        at.left_w
        for at in phase_map.regions(temperature_C)
        if at.known and at.region.left == LIQUID and at.region.right > 0 and 0.0 < at.left_w < 1.0
    ]
    if not liquors:
        raise phase_map.not_covered(None, temperature_C)
    return min(liquors, key=lambda liquor: abs(log(liquor / (1 - liquor)) - log(near / (1 - near))))


def _reach(w: Floats, melts: Sequence[float]) -> Floats:
    reach = np.ones_like(w)
    for x in melts:
        reach = np.minimum(reach, np.abs(w - x) / (MELT_REACH * x))
    return reach


def _moved(piece: Piece, solid: Solid, calibration: Calibration, melts: Sequence[float]) -> Piece:
    w = calibration.mass_fraction(piece.mass_fraction, melts)
    x = solid.mass_fraction
    if piece.side == "lean":
        at_solid = piece.mass_fraction >= x
        w = np.where(at_solid, x, np.minimum(w, x * _BELOW))
    else:
        w = np.maximum(w, x)
    return replace(piece, mass_fraction=w)
