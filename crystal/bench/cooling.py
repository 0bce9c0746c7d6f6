"""What a pot becomes at a temperature: the masses of each part, and whether it pours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.physics.company import MixedEquilibrium, company_of, look_up_beside
from crystal.physics.model import Model
from crystal.physics.others import NOTHING, Others
from crystal.physics.phasemap import Equilibrium

Floats = NDArray[np.float64]

OUTCOMES = ("clear", "crop", "thick", "set")
"""Words for the outcome codes 0 to 3: no crystals; under liquor that pours off; a wet cake; set solid."""

UNKNOWN = -1
"""Outcome code where the data hold no answer."""

LOOSE_BED = 0.55
"""Solids' share of the volume of loosely settled grains; a convention. Needles and plates: 0.40."""

SET_SHARE = 0.95
"""Crystals' share of the volume from which nothing is left to pour or press."""


DOES_NOT_POUR = 2
"""Class of ``thick`` and ``set`` together."""


def outcome_class(word: str | None) -> int | None:
    """0 clear, 1 crop, 2 does not pour (thick and set are one class); None for unknown.

    Examples
    --------
    >>> outcome_class("thick") == outcome_class("set")
    True
    """
    return None if word is None else min(OUTCOMES.index(word), DOES_NOT_POUR)


@dataclass(frozen=True, eq=False)
class Cooled:
    """A pot at a temperature; arrays of one shape, masses in grams.

    ``outcome`` holds codes into ``OUTCOMES``, ``UNKNOWN`` where the data hold no answer. ``crystals_g`` is all solid but
    ice. ``main_solid`` is the index of the solid with most mass that is not ice, -1 where there is none.
    ``crystal_volume_fraction`` is crystals / (crystals + liquor) by volume. ``others_crystals_g`` is that part of
    ``crystals_g`` that another salt of the pot makes, ``others_solid`` its index in that salt's map (-1: none).
    """

    model: Model
    temperature_C: Floats
    salt_g: Floats
    water_g: Floats
    equilibrium: Equilibrium
    lean_solid_g: Floats
    rich_solid_g: Floats
    ice_g: Floats
    crystals_g: Floats
    salt_in_crystals_g: Floats
    liquor_g: Floats
    liquor_mL: Floats
    crystal_volume_fraction: Floats
    main_solid: NDArray[np.int8]
    outcome: NDArray[np.int8]
    others_crystals_g: Floats
    others_solid: NDArray[np.int8]
    others: Others

    @classmethod
    def of(
        cls,
        model: Model,
        salt_g: ArrayLike,
        water_g: ArrayLike,
        temperature_C: ArrayLike,
        *,
        bed: ArrayLike = LOOSE_BED,
        strict: bool = True,
        others: Others = NOTHING,
    ) -> Cooled:
        """Bring pots to a temperature and wait for equilibrium.

        Parameters
        ----------
        model : Model
            The salt.
        salt_g, water_g : array_like
            Anhydrous salt and all water in the pot, g.
        temperature_C : array_like
            Final temperature, °C. All inputs broadcast.
        bed : array_like
            Solids' share of the volume of the settled crystals, 0 to 1.
        strict : bool
            Raise CoverageError where the data hold no answer; else mark it as UNKNOWN.
        others : Others
            Further dissolved matter in each pot. It shifts the salt's solubility where its parameters are known, stays in
            the liquor, and crystallises itself where it is a lone other salt of the catalogue and too much of it.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> model = Model.of(Catalogue.bundled().find("KNO3"))
        >>> cooled = Cooled.of(model, 100.0, 100.0, 20.0)
        >>> round(float(cooled.crystals_g), 1), OUTCOMES[int(cooled.outcome)]
        (68.1, 'crop')
        """
        salt, water, t = np.broadcast_arrays(
            np.asarray(salt_g, float), np.asarray(water_g, float), np.asarray(temperature_C, float)
        )
        total = salt + water
        w = salt / total
        found = look_up_beside(model, others, salt, w, t)
        if strict and not found.known.all():
            bad = np.flatnonzero(~found.known.ravel())[0]
            raise model.map.not_covered(float(w.ravel()[bad]), float(t.ravel()[bad]))
        x, rho = model.solid_mass_fractions, model.solid_densities_g_mL
        lean, rich = total * found.lean_solid_fraction, total * found.rich_solid_fraction
        # Ice always stands first among the solids and is always the one with more water.
        is_ice = found.lean_solid == 0
        ice = np.where(is_ice, lean, 0.0)
        lean_crystals = np.where(is_ice, 0.0, lean)
        crystals = lean_crystals + rich
        joined_g, joined_mL, joined = (
            np.zeros_like(total),
            np.zeros_like(total),
            np.full(w.shape, -1, np.int8),
        )
        left = others
        company = company_of(model, others)
        if isinstance(found, MixedEquilibrium) and company is not None and company.other is not None:
            joined, joined_g = found.other_solid, total * found.other_solid_fraction
            joined_mL = joined_g / company.other.model.solid_densities_g_mL[joined]
            crystals = crystals + joined_g
            if joined_g.any():
                left = others.scaled(found.others_left)
        solution = total * found.liquor_fraction
        salt_left = solution * found.liquor_mass_fraction
        liquor_mL = left.volume_mL(model.density, salt_left, solution - salt_left, t)
        liquor = solution + left.total_g
        crystals_mL = lean_crystals / rho[found.lean_solid] + rich / rho[found.rich_solid] + joined_mL
        whole = crystals_mL + liquor_mL
        share = np.divide(crystals_mL, whole, out=np.zeros_like(whole), where=whole > 0)
        outcome = np.zeros(w.shape, dtype=np.int8)
        outcome[crystals > 0] = 1
        outcome[(share >= bed) & (crystals > 0)] = 2
        outcome[(share >= SET_SHARE) | (solution <= 0)] = 3
        outcome[~found.known] = UNKNOWN
        main = np.where(rich >= lean_crystals, found.rich_solid, found.lean_solid)
        main = np.where(rich + lean_crystals > 0, main, -1).astype(np.int8)
        in_crystals = x[found.lean_solid] * lean_crystals + x[found.rich_solid] * rich
        return cls(
            model,
            t,
            salt,
            water,
            found,
            lean,
            rich,
            ice,
            crystals,
            in_crystals,
            liquor,
            liquor_mL,
            share,
            main,
            outcome,
            joined_g,
            joined,
            others,
        )

    @property
    def liquor_mass_fraction(self) -> Floats:
        """Salt in the whole liquor, others included; 0 where no liquor is left."""
        salt = self.salt_g - self.salt_in_crystals_g
        out = np.zeros_like(self.liquor_g)
        return np.divide(salt, self.liquor_g, out=out, where=self.equilibrium.liquor_fraction > 0)

    @property
    def yield_fraction(self) -> Floats:
        """Salt in the crystals over the salt in the pot; 0 for a pot without salt."""
        out = np.zeros_like(self.salt_g)
        return np.divide(self.salt_in_crystals_g, self.salt_g, out=out, where=self.salt_g > 0)

    def outcome_word(self, index: int | tuple[int, ...] = ()) -> str | None:
        """The outcome of one pot in words; None where unknown."""
        code = int(self.outcome[index])
        return None if code == UNKNOWN else OUTCOMES[code]

    def solids_g(self, index: int | tuple[int, ...] = ()) -> list[tuple[str, float]]:
        """Every solid of one pot with its mass, the heavier first, ice included."""
        other = self.other_solid(index)
        found = [] if other is None else [(other, float(self.others_crystals_g[index]))]
        for which, grams in (
            (self.equilibrium.lean_solid, self.lean_solid_g),
            (self.equilibrium.rich_solid, self.rich_solid_g),
        ):
            name = self.model.solid_name(int(which[index]))
            if name is not None and float(grams[index]) > 0:
                found.append((name, float(grams[index])))
        return sorted(found, key=lambda item: -item[1])

    def solids_text(self, index: int | tuple[int, ...] = ()) -> str | None:
        """The salt's main solid, with another salt's that comes too, as ``Na2SO4 + NaCl``; None without crystals."""
        names = (self.model.solid_name(int(self.main_solid[index])), self.other_solid(index))
        return " + ".join(name for name in names if name is not None) or None

    def other_solid(self, index: int | tuple[int, ...] = ()) -> str | None:
        """The solid of another salt that comes too; None where none does."""
        company = company_of(self.model, self.others)
        if company is None or company.other is None or not float(self.others_crystals_g[index]) > 0:
            return None
        return company.other.model.solid_name(int(self.others_solid[index]))
