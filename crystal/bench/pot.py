"""A pot: how much salt and how much water, told by any sensible pair of facts."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.bench.content import salt_and_water_g
from crystal.bench.set_free import refuse_cyanide
from crystal.errors import InputError
from crystal.physics.model import Model
from crystal.physics.others import NOTHING, Others
from crystal.physics.strength import ROOM_C, Strength

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Amount:
    """A weighed solid: grams, and grams of anhydrous salt per gram of it."""

    solid_g: float
    salt_share: float = 1.0

    @property
    def salt_g(self) -> float:
        return self.solid_g * self.salt_share


@dataclass(frozen=True, eq=False, slots=True)
class Pot:
    """Salt and water in one vessel; masses are the truth, volumes follow.

    Parameters
    ----------
    model : Model
        The salt.
    salt_g, water_g : float
        Anhydrous salt and all water, g.
    read_at_C : float
        The temperature at which its volume is read, °C.
    others : Others
        Further dissolved matter, carried along with the liquor.
    """

    model: Model
    salt_g: float
    water_g: float
    read_at_C: float = ROOM_C
    others: Others = NOTHING

    def __post_init__(self) -> None:
        if self.others:
            refuse_cyanide(self.model.salt.formula, self.others.formulas)

    @classmethod
    def from_facts(
        cls,
        model: Model,
        *,
        holds: Amount | None = None,
        strength: Strength | None = None,
        density: tuple[float, float] | None = None,
        volume_mL: float | None = None,
        mass_g: float | None = None,
        water_g: float | None = None,
        read_at_C: float = ROOM_C,
        others: Others = NOTHING,
    ) -> Pot:
        """Make a pot from one fact on its content and one more fact.

        Parameters
        ----------
        model : Model
            The salt.
        holds : Amount, optional
            The solid that went in.
        strength : Strength, optional
            How strong the solution is.
        density : (float, float), optional
            Hydrometer density, g/mL, and the temperature at which it was read, °C.
        volume_mL, mass_g : float, optional
            Size of the whole solution.
        water_g : float, optional
            Water that the named solid was dissolved in; a hydrate's own water comes on top.
        read_at_C : float
            Temperature at which the volume was read, °C.
        others : Others
            Further dissolved matter: part of the volume, the mass and the density that are given.

        Raises
        ------
        InputError
            Unless exactly two facts are given that fit together.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.formula import Hydrate
        >>> model = Model.of(Catalogue.bundled().find("MgSO4"))
        >>> share = Hydrate.parse("MgSO4.7H2O").salt_mass_fraction
        >>> pot = Pot.from_facts(model, holds=Amount(200.0, share), water_g=300.0)
        >>> round(pot.salt_g, 1), round(pot.water_g, 1)
        (97.7, 402.3)
        """
        named = {
            "--holds": holds, "--strength": strength, "--density": density,
            "--start": volume_mL, "--mass": mass_g, "--water": water_g,
        }  # fmt: skip
        given = [name for name, value in named.items() if value is not None]
        sizes = [name for name in given if name in ("--start", "--mass", "--water")]
        if len(given) != 2 or (holds is None and not sizes) or given == ["--start", "--water"]:
            raise _not_a_pair(given)
        if given == ["--mass", "--water"]:
            raise _not_a_pair(given)
        if holds is not None:
            return cls._holding(
                model, holds, strength, density, volume_mL, mass_g, water_g, read_at_C, others
            )
        if others:
            if density is None and strength is None:
                density = _ratio(mass_g, volume_mL), read_at_C
            salt, water = salt_and_water_g(
                model, others, strength=strength, density_g_mL=density, volume_mL=volume_mL,
                mass_g=None if volume_mL is not None else mass_g, water_g=water_g, read_at_C=read_at_C,
            )  # fmt: skip
            return cls(model, salt, water, read_at_C, others)
        if strength is not None:
            w = strength.mass_fraction(model, read_at_C)
            if water_g is not None and w < strength.salt_share < 1.0:
                # The named hydrate was dissolved in this water; its own comes on top.
                return cls._of_total(model, w, water_g / (1.0 - w / strength.salt_share), read_at_C)
        else:
            rho, at = density if density is not None else (_ratio(mass_g, volume_mL), read_at_C)
            w = mass_fraction_of_density(model, rho, at)
        if water_g is not None:
            return cls(model, water_g * w / (1.0 - w), water_g, read_at_C)
        if mass_g is None:
            mass_g = float(volume_mL or 0.0) * float(model.density.density_g_mL(w, read_at_C))
        return cls._of_total(model, w, mass_g, read_at_C)

    @classmethod
    def _of_total(cls, model: Model, mass_fraction: float, mass_g: float, read_at_C: float) -> Pot:
        return cls(model, mass_g * mass_fraction, mass_g * (1.0 - mass_fraction), read_at_C)

    @classmethod
    def _holding(
        cls,
        model: Model,
        holds: Amount,
        strength: Strength | None,
        density: tuple[float, float] | None,
        volume_mL: float | None,
        mass_g: float | None,
        water_g: float | None,
        read_at_C: float,
        others: Others,
    ) -> Pot:
        salt = holds.salt_g
        if water_g is not None:
            return cls(model, salt, water_g + holds.solid_g - salt, read_at_C, others)
        if volume_mL is not None:
            water = float(others.water_g_for_volume(model.density, salt, volume_mL, read_at_C))
            size, given = "--start", f"{volume_mL:g} mL"
        elif mass_g is not None:
            water, size, given = mass_g - salt - others.total_g, "--mass", f"{mass_g:g} g"
        elif others:
            raise InputError(
                "the pot",
                "--holds with a strength or density beside other solutes",
                "told by its size too",
                '--start "400 mL"',
            )
        else:
            if strength is not None:
                w = strength.mass_fraction(model, read_at_C)
            else:
                assert density is not None
                w = mass_fraction_of_density(model, *density)
            return cls(model, salt, salt * (1.0 - w) / w, read_at_C)
        if water <= 0 or (mass_g is not None and mass_g < holds.solid_g + others.total_g):
            raise InputError(
                size,
                given,
                f"large enough to hold {holds.solid_g:g} g of solid ({salt:.4g} g of {model.salt.formula})",
            )
        return cls(model, salt, water, read_at_C, others)

    @property
    def mass_g(self) -> float:
        return self.salt_g + self.water_g + self.others.total_g

    @property
    def mass_fraction(self) -> float:
        """Salt / (salt + water)."""
        return self.salt_g / (self.salt_g + self.water_g)

    def volume_mL(self, temperature_C: float | None = None) -> float:
        """Volume of the clear liquid of this composition, at its own reading temperature unless told."""
        at = self.read_at_C if temperature_C is None else temperature_C
        return float(self.volume_of(self.water_g, at))

    def volume_of(
        self, water_g: ArrayLike, temperature_C: ArrayLike, salt_g: ArrayLike | None = None
    ) -> Floats:
        """Volumes, mL, of this salt (or of ``salt_g``) and what is with it in other masses of water."""
        salt = self.salt_g if salt_g is None else salt_g
        return self.others.volume_mL(self.model.density, salt, water_g, temperature_C)

    def water_for_volume(
        self, volume_mL: ArrayLike, temperature_C: ArrayLike, salt_g: ArrayLike | None = None
    ) -> Floats:
        """Water, g, that makes this salt (or ``salt_g``) and what is with it up to volumes; negative: does not fit."""
        salt = self.salt_g if salt_g is None else salt_g
        return self.others.water_g_for_volume(self.model.density, salt, volume_mL, temperature_C)

    def water_for_density(self, density_g_mL: float, temperature_C: float) -> float:
        """Water in which this salt and what is with it have a density, g; 0 or infinite where none does."""
        if not self.others:
            w = float(self.model.density.mass_fraction_for_density(density_g_mL, temperature_C))
            return self.salt_g * (1.0 - w) / w if w > 0 else float("inf")
        from scipy.optimize import brentq

        def off(water_g: float) -> float:
            whole = self.salt_g + water_g + self.others.total_g
            return whole / float(self.volume_of(water_g, temperature_C)) - density_g_mL

        most = 1e4 * (self.salt_g + self.others.total_g)
        if off(0.0) <= 0.0:
            return 0.0
        return float("inf") if off(most) >= 0.0 else float(brentq(off, 0.0, most, xtol=1e-9, rtol=1e-14))

    def water_for_strength(self, strength: Strength, temperature_C: float) -> float:
        """Water in which this salt has a strength, g; per mass and per volume what is with it counts in the whole.

        Raises
        ------
        InputError
            Where no solution is that strong.
        """
        w = strength.mass_fraction(self.model, temperature_C)
        if not self.others or strength.kind in ("g_per_g_water", "mol_per_kg_water"):
            return self.salt_g * (1.0 - w) / w
        if strength.is_per_volume:
            volume_mL = self.salt_g / strength.salt_g_per_mL(self.model)
            return float(self.water_for_volume(volume_mL, temperature_C))
        return self.salt_g / w - self.salt_g - self.others.total_g

    def density_g_mL(self, temperature_C: float | None = None) -> float:
        """Density of the clear liquid, g/mL, at its own reading temperature unless told."""
        return self.mass_g / self.volume_mL(temperature_C)

    def with_water(self, water_g: float, read_at_C: float | None = None) -> Pot:
        """The same salt in another mass of water."""
        return replace(self, water_g=water_g, read_at_C=self.read_at_C if read_at_C is None else read_at_C)

    def scaled(self, factor: float) -> Pot:
        """The same solution, more or less of it."""
        return replace(
            self,
            salt_g=self.salt_g * factor,
            water_g=self.water_g * factor,
            others=self.others.scaled(factor),
        )


def _ratio(mass_g: float | None, volume_mL: float | None) -> float:
    assert mass_g is not None
    assert volume_mL is not None
    return mass_g / volume_mL


def mass_fraction_of_density(model: Model, density_g_mL: float, temperature_C: float) -> float:
    """Composition of the salt's solution that has that density; InputError where none has."""
    w = float(model.density.mass_fraction_for_density(density_g_mL, temperature_C))
    lightest = float(model.density.density_g_mL(0.0, temperature_C))
    heaviest = float(model.density.density_g_mL(1.0, temperature_C))
    if not (np.isfinite(w) and lightest < density_g_mL < heaviest):
        raise InputError(
            "density",
            f"{density_g_mL:.4g} g/mL",
            f"above water's ({lightest:.4g} g/mL at {temperature_C:g} degC) and below {heaviest:.4g} g/mL, "
            f"for a solution of {model.salt.formula}",
            "1.18 g/mL at 20 degC",
        )
    return w


def _not_a_pair(given: list[str]) -> InputError:
    return InputError(
        "the pot",
        " and ".join(given) if given else "nothing",
        "told by exactly two facts: its content (--holds, --strength or --density) and its size "
        "(--start, --mass or --water)",
        '--holds "120 g of CuSO4.5H2O" --start "400 mL"',
    )
