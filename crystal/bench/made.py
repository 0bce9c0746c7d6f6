"""What goes into a reaction and what comes of it: records of charges, products, gases and the pot made."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from crystal.errors import InputError


@dataclass(frozen=True, slots=True)
class Charge:
    """One thing put into the pot.

    Parameters
    ----------
    formula : str
        The substance; a hydrate brings its own water.
    grams : float
        Of that substance alone, more than 0, g.
    water_g : float
        Water that comes with it, as in a solution, g.
    others_g : mapping of str to float
        Further dissolved matter that comes with it, by name, g.

    Examples
    --------
    >>> Charge("H2SO4", 60.0, water_g=440.0).mass_g
    500.0
    """

    formula: str
    grams: float
    water_g: float = 0.0
    others_g: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        what = f"amount of {self.formula}"
        if not (math.isfinite(self.grams) and self.grams > 0):
            raise InputError(what, f"{self.grams:g} g", "more than 0 g", "32.7 g")
        for name, grams in (("water", self.water_g), *self.others_g.items()):
            if not (math.isfinite(grams) and grams >= 0):
                raise InputError(f"{name} with {self.formula}", f"{grams:g} g", "0 g or more", "440 g")

    @property
    def mass_g(self) -> float:
        return self.grams + self.water_g + sum(self.others_g.values())


@dataclass(frozen=True, slots=True)
class MadePot:
    """The pot after a reaction: masses in g, hydrates dissolved counted as salt and water.

    ``salt`` is None where nothing dissolved was made or told. ``others_g`` is all other dissolved matter,
    ``undissolved_g`` the solids that lie in the pot.
    """

    salt: str | None
    salt_g: float
    water_g: float
    others_g: Mapping[str, float] = field(default_factory=dict)
    undissolved_g: Mapping[str, float] = field(default_factory=dict)

    @property
    def dissolved_g(self) -> dict[str, float]:
        """Everything dissolved, by formula or name."""
        salt = {self.salt: self.salt_g} if self.salt is not None else {}
        return {**salt, **self.others_g}

    @property
    def liquor_g(self) -> float:
        return self.water_g + sum(self.dissolved_g.values())

    @property
    def mass_g(self) -> float:
        return self.liquor_g + sum(self.undissolved_g.values())

    def filtered(self) -> MadePot:
        """The same without its undissolved solids."""
        return replace(self, undissolved_g={})


@dataclass(frozen=True, slots=True)
class Product:
    """A substance made: moles, grams as its formula is written, and grams of the hydrate asked for.

    ``anhydrous_g`` leaves crystal water out. ``where`` is ``dissolved``, ``undissolved``, ``gas`` or ``water``.
    Losses are not taken off here: they are taken off the pot.
    """

    formula: str
    mol: float
    g: float
    anhydrous_g: float
    where: str
    hydrate: str | None = None
    hydrate_g: float | None = None


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What remains of a reagent; ``excess_mol`` and ``excess_g`` are what was put in beyond the need.

    The need is that of the limiting reagent used up to the end, so a limiting one that is left over for want of
    conversion has no excess. ``excess_percent`` is of that need.
    """

    formula: str
    mol: float
    g: float
    where: str
    excess_mol: float
    excess_g: float
    excess_percent: float


@dataclass(frozen=True, slots=True)
class GasMade:
    """Gas that leaves the pot: made, or led in and not used; litres at room conditions."""

    formula: str
    mol: float
    g: float
    L: float
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Reacted:
    """A reaction carried out.

    Parameters
    ----------
    equation : str
        Balanced.
    limiting : str
        The reagent that is used up first.
    extent_mol : float
        Moles of the equation as written.
    products, left_over, gas
        In the order of the equation.
    heat_kJ : float or None
        Given off; negative where the pot cools. None where a value is missing from the data: ``heat_missing`` says
        which.
    temperature_rise_K : float or None
        Highest rise to be feared: all heat kept, in the pot's water alone.
    lost_g : float
        Liquor lost.
    pot : MadePot
        After the losses.
    warnings : tuple of str
        Cautions and what to mind.
    notes : tuple of str
        Assumptions made.
    """

    equation: str
    limiting: str
    extent_mol: float
    products: tuple[Product, ...]
    left_over: tuple[LeftOver, ...]
    gas: tuple[GasMade, ...]
    heat_kJ: float | None
    heat_missing: tuple[str, ...]
    temperature_rise_K: float | None
    lost_g: float
    pot: MadePot
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
