"""Salt and water of a pot that holds other dissolved matter too, from how strong or how dense the whole is."""

from __future__ import annotations

from collections.abc import Callable

from crystal.errors import InputError
from crystal.physics.model import Model
from crystal.physics.others import Others
from crystal.physics.strength import Strength

_TOP = 1.0 - 1e-9


def salt_and_water_g(
    model: Model,
    others: Others,
    *,
    strength: Strength | None,
    density_g_mL: tuple[float, float] | None,
    volume_mL: float | None,
    mass_g: float | None,
    water_g: float | None,
    read_at_C: float,
) -> tuple[float, float]:
    """Solve for the masses of salt and water.

    A strength per mass or per volume counts the whole solution, the others included; one per water counts water
    alone. A density is the whole solution's. One of the sizes is given, that of the whole pot or its water.

    Parameters
    ----------
    model : Model
    others : Others
        What is dissolved beside the salt, g.
    strength, density_g_mL : Strength, (float, float), optional
        Content: a strength, or g/mL and the temperature of the reading in °C.
    volume_mL, mass_g, water_g : float, optional
        Size.
    read_at_C : float
        Temperature at which the volume is read, °C.

    Returns
    -------
    (salt_g, water_g) : floats

    Raises
    ------
    InputError
        Where the others alone are more than that, or no salt content fits.
    """
    from scipy.optimize import brentq

    if mass_g is not None and mass_g <= others.total_g:
        raise InputError(
            "--mass",
            f"{mass_g:g} g",
            f"more than the {others.total_g:g} g of {', '.join(others.formulas)} in it",
        )

    def masses(w: float) -> tuple[float, float]:
        """Salt and water of a pot of that size whose salt / (salt + water) is w."""
        if water_g is not None:
            return water_g * w / (1.0 - w), water_g
        if mass_g is not None:
            both = mass_g - others.total_g
        else:
            assert volume_mL is not None
            both = _filling(model, others, w, volume_mL, read_at_C)
        return both * w, both * (1.0 - w)

    off = _off(model, others, strength, density_g_mL, read_at_C)
    low, high = off(*masses(0.0)), off(*masses(_TOP))
    if not low <= 0.0 <= high:
        raise InputError(
            "the pot's content",
            "a strength or density that no mixture with its other solutes has",
            "between that of the others in water and that of the dry salt",
        )
    return masses(float(brentq(lambda w: off(*masses(w)), 0.0, _TOP, xtol=1e-14, rtol=1e-14)))


def _filling(model: Model, others: Others, w: float, volume_mL: float, temperature_C: float) -> float:
    """Mass of salt and water together, of composition w, that fill a volume with the others."""
    from scipy.optimize import brentq

    def off(mass: float) -> float:
        return float(others.volume_mL(model.density, mass * w, mass * (1.0 - w), temperature_C)) - volume_mL

    if off(0.0) >= 0.0:
        raise InputError(
            "--start", f"{volume_mL:g} mL", f"large enough to hold {others.total_g:g} g of other solutes"
        )
    return float(brentq(off, 0.0, 10.0 * volume_mL, xtol=1e-12 * volume_mL, rtol=1e-14))


def _off(
    model: Model,
    others: Others,
    strength: Strength | None,
    density_g_mL: tuple[float, float] | None,
    read_at_C: float,
) -> Callable[[float, float], float]:
    """How far salt and water miss the content: rises with the salt, 0 where it fits."""
    if strength is None:
        assert density_g_mL is not None
        wanted, at = density_g_mL

        def by_density(salt: float, water: float) -> float:
            whole = salt + water + others.total_g
            return whole / float(others.volume_mL(model.density, salt, water, at)) - wanted

        return by_density
    if strength.kind == "mass_fraction":
        part = strength.value * strength.salt_share
        return lambda salt, water: salt / (salt + water + others.total_g) - part
    if strength.kind in ("g_per_mL", "mol_per_L"):
        per_mL = (
            strength.value * strength.salt_share
            if strength.kind == "g_per_mL"
            else strength.value * model.molar_mass_g_mol / 1000.0
        )
        return lambda salt, water: (
            salt / float(others.volume_mL(model.density, salt, water, read_at_C)) - per_mL
        )
    per_water = strength.mass_fraction(model, read_at_C)
    return lambda salt, water: salt / (salt + water) - per_water
