"""Where a substance goes: into the liquor, to the bottom, or into the air."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache

from crystal.data.fates import Gas, bundled_gases, bundled_insoluble
from crystal.physics.species import Species

DISSOLVED, UNDISSOLVED, GAS, WATER = "dissolved", "undissolved", "gas", "water"


@dataclass(frozen=True, slots=True)
class Fates:
    """What the person says of single substances; the rest follows the equation's states, then the lists.

    ``undissolved`` and ``gases`` name substances that stay solid, or leave, whatever the lists say.
    """

    undissolved: tuple[Species, ...] = ()
    gases: tuple[Species, ...] = ()

    @classmethod
    def of(cls, undissolved: Collection[str], gases: Collection[str]) -> Fates:
        return cls(*(tuple(Species.parse(text) for text in told) for told in (undissolved, gases)))

    def of_species(self, species: Species) -> str:
        """One of ``dissolved``, ``undissolved``, ``gas``, ``water``.

        Examples
        --------
        >>> fates = Fates.of((), ())
        >>> [fates.of_species(Species.parse(f)) for f in ("ZnSO4", "Zn", "BaSO4", "H2", "NH3", "NH3(g)", "H2O")]
        ['dissolved', 'undissolved', 'undissolved', 'gas', 'dissolved', 'gas', 'water']
        """
        if species.is_water:
            return WATER
        if any(species.is_same(told) for told in self.undissolved):
            return UNDISSOLVED
        if any(species.is_same(told) for told in self.gases):
            return GAS
        if species.state:
            return {"s": UNDISSOLVED, "g": GAS}.get(species.state, DISSOLVED)
        gas = gas_of(species)
        if gas is not None and gas.leaves_untold:
            return GAS
        return UNDISSOLVED if species.is_element or species.counts in _insoluble() else DISSOLVED

    def is_assumed(self, species: Species) -> bool:
        """Whether it stays undissolved by the list of well-known cases only."""
        told = any(species.is_same(one) for one in self.undissolved)
        return not told and not species.state and species.counts in _insoluble()


@cache
def _insoluble() -> frozenset[object]:
    return frozenset(Species.parse(formula).counts for formula in bundled_insoluble())


@cache
def _gases() -> dict[object, Gas]:
    return {Species.parse(gas.formula).counts: gas for gas in bundled_gases()}


def gas_of(species: Species) -> Gas | None:
    """What is known of it as a gas; None where the data do not know it as one."""
    return _gases().get(species.counts)
