"""The pot while it reacts: reagents in moles, all else in grams, each substance put where it goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from crystal.bench.fates import DISSOLVED, GAS, UNDISSOLVED, WATER, Fates
from crystal.bench.made import Charge, MadePot
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.physics.equation import Equation
from crystal.physics.species import WATER as WATER_SPECIES
from crystal.physics.species import Species


@dataclass(slots=True)
class ReactionPot:
    """What is in the pot while it reacts: reagents in moles by place in the equation, the rest in grams."""

    mol: list[float]
    states: list[str]
    catalogue: Catalogue
    fates: Fates
    water_g: float = 0.0
    dissolved_g: dict[str, float] = field(default_factory=dict)
    undissolved_g: dict[str, float] = field(default_factory=dict)
    gas: list[tuple[Species, float]] = field(default_factory=list)
    opened: list[tuple[int, float, Species]] = field(default_factory=list)

    @classmethod
    def holding(
        cls,
        equation: Equation,
        charges: Sequence[Charge],
        after: MadePot | None,
        catalogue: Catalogue,
        fates: Fates,
    ) -> ReactionPot:
        """Fill the vessel; reagents' moles are taken out of the grams."""
        reagents = [term.species for term in equation.reactants]
        found = cls([0.0] * len(reagents), ["neat"] * len(reagents), catalogue, fates)
        for place, species in enumerate(reagents):
            fate = fates.of_species(species)
            found.states[place] = "neat" if fate == DISSOLVED else state_of(fate)
        if after is not None:
            found.water_g += after.water_g
            for grams, store in (
                (after.dissolved_g, found.dissolved_g),
                (after.undissolved_g, found.undissolved_g),
            ):
                for name, g in grams.items():
                    at = _place(name, reagents)
                    if at is None:
                        store[name] = store.get(name, 0.0) + g
                    else:
                        found._take(at, reagents[at], g, dissolved=store is found.dissolved_g)
        for charge in charges:
            found._charge(charge, reagents)
        for place, species in enumerate(reagents):
            if species.is_water:
                found.mol[place] += found.water_g / species.molar_mass_g_mol
                found.water_g = 0.0
            if found.mol[place] <= 0:
                raise InputError(
                    f"amount of {species.formula}",
                    "none",
                    f"given, as {species.formula} stands on the left of {equation}",
                    f"{species.formula} = 20 g",
                )
        return found

    def _charge(self, charge: Charge, reagents: list[Species]) -> None:
        species = Species.parse(charge.formula)
        self.water_g += charge.water_g
        for name, g in charge.others_g.items():
            place = _place(name, reagents)
            if place is None:
                self.dissolved_g[name] = self.dissolved_g.get(name, 0.0) + g
            elif g > 0:
                self._take(place, reagents[place], g, dissolved=True)
        if species.is_water:
            self.water_g += charge.grams
            return
        mol = charge.grams / species.molar_mass_g_mol
        place = _same(species, reagents)
        if place is None and species.waters:
            place = _same(species.without_water(), reagents)
            if place is not None:
                self.water_g += mol * float(species.waters) * WATER_SPECIES.molar_mass_g_mol
                if charge.water_g == 0:
                    self.opened.append((place, mol, species))
        if place is None:
            names = ", ".join(one.formula for one in reagents)
            raise InputError("charge", charge.formula, f"a reagent of the equation ({names}) or water", names)
        self._take(
            place, reagents[place], mol * reagents[place].molar_mass_g_mol, dissolved=charge.water_g > 0
        )

    def _take(self, place: int, species: Species, grams: float, *, dissolved: bool) -> None:
        self.mol[place] += grams / species.molar_mass_g_mol
        if dissolved and self.states[place] == "neat":
            self.states[place] = "aq"

    def add(self, species: Species, mol: float) -> None:
        """Put so much of a substance where it goes."""
        if mol <= 0:
            return
        fate = self.fates.of_species(species)
        if fate == GAS:
            self.gas.append((species, mol))
        elif fate == WATER:
            self.water_g += mol * species.molar_mass_g_mol
        elif fate == UNDISSOLVED:
            grams = mol * species.molar_mass_g_mol
            self.undissolved_g[species.formula] = self.undissolved_g.get(species.formula, 0.0) + grams
        else:
            dry = species.without_water()
            name = spelled(dry, self.catalogue)
            self.dissolved_g[name] = self.dissolved_g.get(name, 0.0) + mol * dry.molar_mass_g_mol
            self.water_g += mol * float(species.waters) * WATER_SPECIES.molar_mass_g_mol

    def hydrates_opened(self, extents: Sequence[float], extent: float) -> list[tuple[float, Species, str]]:
        """Correction of the heat where a hydrate was charged for its dry reagent: it is a solid hydrate that is used up."""
        found: list[tuple[float, Species, str]] = []
        for place, mol, species in self.opened:
            used = mol * extent / extents[place]
            dry = species.without_water()
            found.append((-used, species, "s"))
            found.append((used, dry, self.states[place]))
            found.append((used * float(species.waters), WATER_SPECIES, "l"))
        return found

    def pot(self, salt: str | None, lost_fraction: float) -> tuple[MadePot, float]:
        """The pot after a loss of liquor, and the loss in g."""
        kept = 1.0 - lost_fraction
        dissolved = {name: kept * g for name, g in self.dissolved_g.items() if g > 0}
        salt_g = dissolved.pop(salt, 0.0) if salt is not None else 0.0
        lost_g = lost_fraction * (self.water_g + sum(self.dissolved_g.values()))
        return MadePot(salt, salt_g, kept * self.water_g, dissolved, dict(self.undissolved_g)), lost_g


def species_named(name: str) -> Species | None:
    """The substance of that formula; None for matter known by a mere name."""
    try:
        return Species.parse(name)
    except InputError:
        return None


def _place(name: str, reagents: Sequence[Species]) -> int | None:
    """The reagent that a name in the pot stands for."""
    species = species_named(name)
    return None if species is None else _same(species, reagents)


def _same(species: Species, reagents: Sequence[Species]) -> int | None:
    return next((i for i, one in enumerate(reagents) if one.is_same(species)), None)


def state_of(fate: str) -> str:
    return {DISSOLVED: "aq", UNDISSOLVED: "s", GAS: "g", WATER: "l"}[fate]


@lru_cache(maxsize=4)
def _known_salts(catalogue: Catalogue) -> dict[object, str]:
    return {Species.parse(formula).counts: formula for formula in catalogue.salts}


def spelled(species: Species, catalogue: Catalogue) -> str:
    """The catalogue's formula of a dissolved substance, its own where the catalogue has none such."""
    return _known_salts(catalogue).get(species.counts, species.formula)
