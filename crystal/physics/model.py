"""One salt with everything that physics knows of it: phase map, first crystals, densities."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from crystal.data.records import Salt
from crystal.physics.calibration import Calibration, scaled
from crystal.physics.density import SolutionDensity
from crystal.physics.formula import molar_mass_g_mol
from crystal.physics.onset import Onset
from crystal.physics.phasemap import PhaseMap
from crystal.physics.solids import solid_density_g_mL


@dataclass(frozen=True, eq=False)
class Model:
    """A salt's phase map and densities, made once and asked many times.

    Parameters
    ----------
    salt : Salt
        The salt's record.
    map : PhaseMap
        Its phase map.
    density : SolutionDensity
        Density of its solutions.
    calibration : Calibration, optional
        What the curve was scaled by, where it is a calibrated one.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> model = Model.of(Catalogue.bundled().find("Epsom salt"))
    >>> model.salt.formula, model.solid_index("MgSO4.7H2O") >= 0
    ('MgSO4', True)
    """

    salt: Salt
    map: PhaseMap
    density: SolutionDensity
    calibration: Calibration | None = None

    @classmethod
    def of(cls, salt: Salt, *, only: str | None = None) -> Model:
        """Build the model of a salt; ``only`` as in :meth:`PhaseMap.of`."""
        return cls(salt, PhaseMap.of(salt, only=only), SolutionDensity.of(salt))

    def calibrated(self, calibration: Calibration) -> Model:
        """The same salt on a curve fitted to a liquor that is not pure; see :func:`scaled`."""
        return replace(self, map=scaled(self.map, calibration), calibration=calibration)

    @cached_property
    def onset(self) -> Onset:
        return Onset(self.map)

    @cached_property
    def solid_mass_fractions(self) -> NDArray[np.float64]:
        """Salt per mass of each solid of the map; one more entry, 0, for 'no solid' (index -1)."""
        return np.array([s.mass_fraction for s in self.map.solids] + [0.0])

    @cached_property
    def solid_densities_g_mL(self) -> NDArray[np.float64]:
        """Density of each solid of the map; one more entry, 1, for 'no solid' (index -1)."""
        return np.array([solid_density_g_mL(self.salt, s.phase)[0] for s in self.map.solids] + [1.0])

    @property
    def molar_mass_g_mol(self) -> float:
        return molar_mass_g_mol(self.salt.formula)

    def solid_index(self, formula: str) -> int:
        """Index of a solid in the map, -1 where the map has none of that formula."""
        for i, solid in enumerate(self.map.solids):
            if solid.formula == formula:
                return i
        return -1

    def solid_name(self, index: int) -> str | None:
        """Formula of a solid by its index; None for -1."""
        return self.map.solids[index].formula if index >= 0 else None
