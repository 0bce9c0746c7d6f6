"""How uncertain each input is, and quasi-random draws of everything that is uncertain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from crystal.bench.pot import Pot
from crystal.bench.shift import curve_doubt_beside
from crystal.errors import InputError
from crystal.physics.curve import leave_one_out_errors
from crystal.physics.model import Model
from crystal.physics.regions import LIQUID

Floats = NDArray[np.float64]

DRAWS = 4096
SEED = 20261125

ASSUMED_CURVE_DOUBT = 0.005
"""Standard uncertainty of a curve (mass fraction) where the data state none."""

THINNEST_BED, THICKEST_BED = 0.1, 0.9
"""Bounds of the settled bed's solids fraction."""

INSTRUMENTS: Mapping[str, tuple[str, float]] = {
    "beaker mark": ("volume", 0.05),
    "measuring cylinder": ("volume", 0.01),
    "volumetric flask": ("volume", 0.001),
    "kitchen balance": ("mass", 0.005),
    "lab balance": ("mass", 0.001),
    "thermometer": ("temperature", 1.0),
    "room": ("temperature", 2.0),
    "overnight outdoors": ("temperature", 3.0),
}
"""Standard uncertainties by instrument: relative for volume and mass, K for temperature; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Standard uncertainty of each input.

    Parameters
    ----------
    volume : float
        Of a volume that is read, relative.
    mass : float
        Of a mass that is weighed, relative.
    temperature : float
        Of the final temperature, K.
    holds : float
        Of the salt in the pot, relative.
    curve : float or None
        Of the saturation curve, mass fraction; None takes it from the data.
    density : float or None
        Of the density model, relative; None takes the model's own, which grows beyond its fit.
    bed : float
        Of the settled bed's solids fraction.
    """

    volume: float = 0.05
    mass: float = 0.005
    temperature: float = 3.0
    holds: float = 0.03
    curve: float | None = None
    density: float | None = None
    bed: float = 0.05

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if value is not None and not 0.0 <= value < (1e3 if field.name == "temperature" else 1.0):
                raise InputError(
                    f"doubt of {field.name}",
                    f"{value:g}",
                    "zero or more, and less than the whole",
                    "volume=5 %",
                )

    def of_content(self, told_by: str) -> Doubt:
        """The doubts of a pot whose content was told with its ``volume`` or its ``mass``: a strength times a size.

        The size's own doubt then joins that of the salt, as if independent of later readings: one vessel's marks may err
        together, which would only help.
        """
        if told_by not in ("volume", "mass"):
            return self
        return replace(self, holds=float(np.hypot(self.holds, getattr(self, told_by))))


UNCERTAIN = ("holds", "volume", "mass", "temperature", "curve", "density", "bed")
"""What is drawn, in the order of the rows of ``Draws.z``."""


@dataclass(frozen=True, eq=False)
class Draws:
    """Possible truths, one per entry, as standard normal numbers and what they mean; arrays of shape (n,).

    Parameters
    ----------
    z : array, shape (7, n)
        Standard normal numbers, one row for each of ``UNCERTAIN``.
    spreads : array, shape (7,)
        Standard uncertainty of each; 1 for the density, whose doubt depends on the state.
    middle_bed : float
        The settled bed's solids fraction as it is thought to be.
    weights : array, shape (n,)
        How much each draw counts; they sum to 1.
    density_doubt : float or None
        Relative doubt of every density; None takes the model's own at each state.
    """

    z: Floats
    spreads: Floats
    middle_bed: float
    weights: Floats
    density_doubt: float | None = None

    @classmethod
    def of(
        cls, start: Pot, cool_to_C: float, doubt: Doubt, *, bed: float, n: int = DRAWS, seed: int = SEED
    ) -> Draws:
        """Draw from independent normal distributions by a scrambled Sobol sequence.

        Parameters
        ----------
        start : Pot
            The pot, for its salt's curve.
        cool_to_C : float
            Final temperature, °C: the branch met there sets the curve's interpolation error.
        doubt : Doubt
            Standard uncertainties.
        bed : float
            The settled bed's solids fraction, held between 0.1 and 0.9.
        n, seed : int
            Number of draws (a power of two is best) and seed; the same give the same draws to the last digit.

        Notes
        -----
        Factors are drawn as exp(relative doubt × normal number), so that they stay positive.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> pot = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 97.7, 402.3)
        >>> draws = Draws.of(pot, 5.0, Doubt(), bed=0.55, n=1024)
        >>> len(draws), round(float(draws.volume.std()), 3)
        (1024, 0.05)
        """
        curve = doubt.curve
        if curve is None:
            curve = float(np.hypot(curve_doubt(start.model, cool_to_C), curve_doubt_beside(start, cool_to_C)))
        spreads = np.array([doubt.holds, doubt.volume, doubt.mass, doubt.temperature, curve, 1.0, doubt.bed])
        return cls(normal_numbers(len(UNCERTAIN), n, seed), spreads, bed, np.full(n, 1.0 / n), doubt.density)

    def __len__(self) -> int:
        return len(self.weights)

    @cached_property
    def salt(self) -> Floats:
        """Factor on the salt in the pot."""
        return np.exp(self.spreads[0] * self.z[0])

    @cached_property
    def volume(self) -> Floats:
        """Factor on a volume that is read: true over read."""
        return np.exp(self.spreads[1] * self.z[1])

    @cached_property
    def mass(self) -> Floats:
        """Factor on a mass that is weighed."""
        return np.exp(self.spreads[2] * self.z[2])

    @cached_property
    def temperature_K(self) -> Floats:
        """Added to the final temperature."""
        return np.asarray(self.spreads[3] * self.z[3])

    @cached_property
    def curve(self) -> Floats:
        """Added to the mass fraction of every saturated liquor."""
        return np.asarray(self.spreads[4] * self.z[4])

    @cached_property
    def bed(self) -> Floats:
        """The settled bed's solids fraction."""
        return np.clip(self.middle_bed + self.spreads[6] * self.z[6], THINNEST_BED, THICKEST_BED)

    def density_error(self, relative_doubt: Floats | float) -> Floats:
        """Relative error of a density at each draw, for the model's relative doubt there."""
        doubt = relative_doubt if self.density_doubt is None else self.density_doubt
        return np.asarray(self.spreads[5] * self.z[5] * doubt)

    def at(self, z: Floats) -> Draws:
        """The same doubts at other standard normal numbers, shape (7, n), all counting alike."""
        return replace(self, z=z, weights=np.full(z.shape[1], 1.0 / z.shape[1]))

    def with_spread(self, name: str, spread: float) -> Draws:
        """The same normal numbers with one input's standard uncertainty replaced."""
        spreads = self.spreads.copy()
        spreads[UNCERTAIN.index(name)] = spread
        return replace(self, spreads=spreads)

    def known(self, name: str, spread: float = 0.0) -> Draws:
        """The same draws with one input known to ``spread``, exactly unless told, where its mean now lies."""
        row = UNCERTAIN.index(name)
        old, z = self.spreads[row], self.z.copy()
        middle = float(z[row] @ self.weights)
        scatter = np.sqrt(max(float((z[row] - middle) ** 2 @ self.weights), 1e-12))
        narrowed = min(spread / (old * scatter), 1.0) if old > 0.0 else 0.0
        z[row] = middle + narrowed * (z[row] - middle)
        return replace(self, z=z)

    def first(self, n: int) -> Draws:
        """The first n draws; a power of two keeps them evenly spread."""
        weights = self.weights[:n]
        return replace(self, z=self.z[:, :n], weights=weights / weights.sum())

    def weighed(self, weights: Floats) -> Draws:
        """The same draws, counted otherwise; the weights are scaled to sum to 1."""
        return replace(self, weights=weights / weights.sum())

    @property
    def effective_size(self) -> float:
        """How many equal draws the weighted ones are worth (Kish): 1 / sum of squares."""
        return float(1.0 / np.sum(self.weights**2))


def normal_numbers(rows: int, n: int, seed: int = SEED) -> Floats:
    """Quasi-random standard normal numbers, shape (rows, n): a scrambled Sobol sequence through the normal quantile."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    sequence = qmc.Sobol(d=rows, scramble=True, rng=np.random.default_rng(seed))
    uniform = sequence.random_base2(max(n - 1, 1).bit_length())[:n]
    return np.ascontiguousarray(ndtri(np.clip(uniform, 1e-12, 1.0 - 1e-12)).T)


def curve_doubt(model: Model, temperature_C: float) -> float:
    """Standard uncertainty of the saturation curve at a temperature, mass fraction.

    The doubt of the whole curve against other tables (``curve_doubt_mass_percent`` of the data) and the root mean square
    leave-one-out error of the branches that cover the temperature. On a calibrated curve the doubt of its factor stands for
    the first of the two.
    """
    salt = model.salt
    whole = ASSUMED_CURVE_DOUBT if salt.curve_doubt_mass_fraction is None else salt.curve_doubt_mass_fraction
    if model.calibration is not None:
        slices = model.map.slices([temperature_C])
        clear = slices.liquidus[1:] & (slices.lean == LIQUID) & (slices.rich == LIQUID)
        liquors = slices.edges[1:][clear]
        w = float(liquors.min()) if len(liquors) else 0.25
        whole = model.calibration.doubt * w * (1.0 - w)  # of ln s; dw = w (1 - w) d ln s
    squares: list[float] = []
    for solid in model.map.solids:
        if solid.is_ice or not any(p.covers(temperature_C) for p in solid.pieces):
            continue
        branch = salt.branch(solid.formula)
        if branch is not None:
            squares += list(leave_one_out_errors(branch, solid.mass_fraction) ** 2)
    return float(np.hypot(whole, np.sqrt(np.mean(squares)) if squares else 0.0))
