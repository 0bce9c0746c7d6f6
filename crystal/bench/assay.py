"""What is really there: salt in a solution told by a measurement, with its doubt."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from crystal.bench.pot import mass_fraction_of_density
from crystal.bench.readings import (
    THERMOMETER_K,
    TITRANT_SHARE,
    VOLUME_SHARE,
    BALANCE_g,
    BURETTE_mL,
    HYDROMETER_g_mL,
    Size,
    part_and_whole,
    positive,
)
from crystal.errors import InputError
from crystal.physics.curve import leave_one_out_errors
from crystal.physics.formula import Hydrate
from crystal.physics.model import Model
from crystal.physics.strength import ROOM_C

# Where own data state no doubt of their curve, mass fraction; three in four of the bundled curves are better.
_CURVE_DOUBT = 0.008
_SAME_K = 0.05

METHODS = ("density", "drying", "titration", "first crystals")


@dataclass(frozen=True, slots=True)
class Assay:
    """Anhydrous salt in the whole solution, by one method.

    Parameters
    ----------
    method : str
        One of ``METHODS``.
    formula : str
        The anhydrous salt.
    salt_g, doubt_g : float
        g, and its standard uncertainty.
    assumption : str
        What has to be true for it to be right.
    warnings : tuple of str
        What the figures rest on.
    """

    method: str
    formula: str
    salt_g: float
    doubt_g: float
    assumption: str
    warnings: tuple[str, ...] = ()

    @classmethod
    def by_density(
        cls,
        model: Model,
        density_g_mL: float,
        *,
        read_at_C: float = ROOM_C,
        volume_mL: float | None = None,
        mass_g: float | None = None,
        reading_doubt_g_mL: float = HYDROMETER_g_mL,
        size_doubt_share: float | None = None,
    ) -> Assay:
        """Salt from a hydrometer reading and the size of the solution.

        Parameters
        ----------
        model : Model
            The salt.
        density_g_mL : float
            Density, g/mL.
        read_at_C : float
            Temperature of the reading and of the volume, °C.
        volume_mL, mass_g : float
            The whole solution; exactly one.
        reading_doubt_g_mL, size_doubt_share : float
            Standard uncertainties, g/mL and a share; 0.002 and 0.01 unless told.

        Raises
        ------
        InputError
            Where no solution of the salt has that density.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> model = Model.of(Catalogue.bundled().find("CuSO4"))
        >>> found = Assay.by_density(model, 1.2059, volume_mL=500.0)
        >>> round(found.salt_g, 1), round(found.doubt_g, 1)
        (108.0, 1.9)
        """
        size = Size.of(
            "size of the solution", mL=volume_mL, g=mass_g, share=size_doubt_share, usual=VOLUME_SHARE
        )
        reading = positive("doubt of the density", reading_doubt_g_mL, "g/mL")
        w = mass_fraction_of_density(model, density_g_mL, read_at_C)
        of_model = density_g_mL * float(model.density.relative_doubt(w, read_at_C))
        # Per mass fraction: a density that hardly moves tells little.
        rise = _slope(lambda x: float(model.density.density_g_mL(x, read_at_C)), w)
        salt = w * size.value * (density_g_mL if size.unit == "mL" else 1.0)
        # The reading moves the strength and, where a volume was given, the mass too; the model only the strength.
        through_mass = salt / density_g_mL if size.unit == "mL" else 0.0
        doubt = math.hypot(
            (salt / w / rise + through_mass) * reading, salt / w / rise * of_model, salt * size.share
        )
        return cls(
            "density",
            model.salt.formula,
            salt,
            doubt,
            f"nothing but {model.salt.formula} and water is in the solution: acid or another salt counts as {model.salt.formula}",
            tuple(model.density.warnings(w, read_at_C)),
        )

    @classmethod
    def by_drying(
        cls,
        model: Model,
        dry_g: float,
        solid: Hydrate,
        *,
        aliquot_mL: float | None = None,
        aliquot_g: float | None = None,
        total_mL: float | None = None,
        total_g: float | None = None,
        balance_doubt_g: float = BALANCE_g,
        aliquot_doubt_share: float | None = None,
        total_doubt_share: float | None = None,
    ) -> Assay:
        """Salt from a part of the solution that was dried to a known solid and weighed.

        Parameters
        ----------
        model : Model
            The salt.
        dry_g : float
            Mass of the dry solid, g.
        solid : Hydrate
            What it was dried to, the anhydrous salt or one of its hydrates.
        aliquot_mL, aliquot_g, total_mL, total_g : float
            The part that was dried and the whole solution, both as volumes or both as masses.
        balance_doubt_g, aliquot_doubt_share, total_doubt_share : float
            Standard uncertainties: 0.02 g, 0.005 and 0.01 unless told.

        Raises
        ------
        InputError
            Where the solid is of another salt, the part exceeds the whole or the dry solid the part, or one is a
            volume and the other a mass.
        """
        _require_own(model, solid)
        dry = positive("dry solid", dry_g, "g")
        part, whole = part_and_whole(
            aliquot_mL, aliquot_g, total_mL, total_g, aliquot_doubt_share, total_doubt_share
        )
        if part.unit == "g" and dry > part.value:
            raise InputError(
                "dry solid", f"{dry:g} g", f"less than the part that was dried, {part.value:g} g", "5 g"
            )
        weighing = positive("doubt of the balance", balance_doubt_g, "g")
        salt = dry * solid.salt_mass_fraction * whole.value / part.value
        _require_room(model, "drying", salt, whole)
        relative = math.hypot(weighing / dry, part.share, whole.share)
        name = _written(solid)
        return cls(
            "drying",
            model.salt.formula,
            salt,
            salt * relative,
            f"the dry solid was {name} through and through: neither damp nor short of water, and nothing else beside it",
        )

    @classmethod
    def by_titration(
        cls,
        model: Model,
        *,
        titrant_mL: float,
        titrant_mol_L: float,
        titrant_per_salt: float,
        aliquot_mL: float | None = None,
        aliquot_g: float | None = None,
        total_mL: float | None = None,
        total_g: float | None = None,
        burette_doubt_mL: float = BURETTE_mL,
        titrant_doubt_share: float = TITRANT_SHARE,
        aliquot_doubt_share: float | None = None,
        total_doubt_share: float | None = None,
    ) -> Assay:
        """Salt from the titrant that a part of the solution took up.

        Parameters
        ----------
        model : Model
            The salt.
        titrant_mL, titrant_mol_L : float
            Titrant used, mL, and its strength, mol/L.
        titrant_per_salt : float
            Moles of titrant per mole of anhydrous salt.
        aliquot_mL, aliquot_g, total_mL, total_g : float
            The part that was titrated, undiluted, and the whole solution, both as volumes or both as masses.
        burette_doubt_mL, titrant_doubt_share, aliquot_doubt_share, total_doubt_share : float
            Standard uncertainties: 0.05 mL, 0.005, 0.005 and 0.01 unless told.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> model = Model.of(Catalogue.bundled().find("CuSO4"))
        >>> found = Assay.by_titration(
        ...     model, titrant_mL=20.0, titrant_mol_L=0.1, titrant_per_salt=1.0, aliquot_mL=2.0, total_mL=500.0
        ... )
        >>> round(found.salt_g, 1)
        79.8
        """
        used = positive("titrant", titrant_mL, "mL")
        strength = positive("strength of the titrant", titrant_mol_L, "mol/L")
        ratio = positive("titrant per salt", titrant_per_salt, "mol/mol")
        reading = positive("doubt of the burette", burette_doubt_mL, "mL")
        part, whole = part_and_whole(
            aliquot_mL, aliquot_g, total_mL, total_g, aliquot_doubt_share, total_doubt_share
        )
        salt = used / 1000.0 * strength / ratio * model.molar_mass_g_mol * whole.value / part.value
        _require_room(model, "titration", salt, whole)
        relative = math.hypot(reading / used, titrant_doubt_share, part.share, whole.share)
        return cls(
            "titration",
            model.salt.formula,
            salt,
            salt * relative,
            f"only {model.salt.formula} took up titrant, {ratio:g} mol for each mol, and the part was titrated undiluted",
        )

    @classmethod
    def by_first_crystals(
        cls,
        model: Model,
        seen_at_C: float,
        *,
        volume_mL: float | None = None,
        mass_g: float | None = None,
        read_at_C: float | None = None,
        thermometer_doubt_K: float = THERMOMETER_K,
        size_doubt_share: float | None = None,
    ) -> Assay:
        """Salt from the temperature at which the first crystals showed on slow cooling.

        Parameters
        ----------
        model : Model
            The salt.
        seen_at_C : float
            Temperature of the first crystals, °C.
        volume_mL, mass_g : float
            The whole solution; exactly one.
        read_at_C : float, optional
            Temperature at which the volume was read, °C; that of the first crystals unless told.
        thermometer_doubt_K, size_doubt_share : float
            Standard uncertainties: 1 K and 0.01 unless told. The curve's own comes on top.

        Raises
        ------
        InputError
            Where no clear solution gives its first crystals there, or two do: a melting hydrate has a leaner and a
            richer liquor at one temperature.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> model = Model.of(Catalogue.bundled().find("KNO3"))
        >>> found = Assay.by_first_crystals(model, 40.0, mass_g=300.0)
        >>> round(found.salt_g, 0), round(found.doubt_g, 0)
        (116.0, 3.0)
        """
        size = Size.of(
            "size of the solution", mL=volume_mL, g=mass_g, share=size_doubt_share, usual=VOLUME_SHARE
        )
        thermometer = positive("doubt of the thermometer", thermometer_doubt_K, "K")
        w, solid, per_K = _saturated_on_cooling(model, seen_at_C)
        at = seen_at_C if read_at_C is None else read_at_C
        in_w = math.hypot(_curve_doubt(model, solid), per_K * thermometer)

        def salt_at(x: float) -> float:
            return x * size.value * (float(model.density.density_g_mL(x, at)) if size.unit == "mL" else 1.0)

        salt = salt_at(w)
        of_density = float(model.density.relative_doubt(w, at)) if size.unit == "mL" else 0.0
        doubt = math.hypot(_slope(salt_at, w) * in_w, salt * of_density, salt * size.share)
        late = (
            "a clear liquor often stays clear some kelvin too long, and then there is more salt than this "
            "(seeding or scratching guards against it)"
        )
        warned = list(model.density.warnings(w, at)) if size.unit == "mL" else []
        return cls(
            "first crystals",
            model.salt.formula,
            salt,
            doubt,
            f"crystals of {solid} showed as soon as the liquor was saturated, and nothing else was in it: {late}",
            tuple(warned),
        )

    def to_json(self) -> dict[str, object]:
        """The figures for a program."""
        return {
            "method": self.method,
            "formula": self.formula,
            "salt_g": self.salt_g,
            "doubt_g": self.doubt_g,
            "assumption": self.assumption,
            "warnings": list(self.warnings),
        }


def _saturated_on_cooling(model: Model, temperature_C: float) -> tuple[float, str, float]:
    """The composition whose first crystals show at a temperature: mass fraction, solid, its change per kelvin."""
    found: list[tuple[float, str, float]] = []
    for index, solid in enumerate(model.map.solids):
        for piece in solid.pieces:
            if solid.phase.is_ice or not piece.covers(temperature_C):
                continue
            w = float(piece.mass_fraction_at(temperature_C))
            first = model.onset.first(w)
            # Elsewhere another solid comes first, or the liquor clears on cooling.
            if not bool(first.found) or int(first.solid) != index:
                continue
            if abs(float(first.temperature_C) - temperature_C) > _SAME_K:
                continue
            ends = np.clip([temperature_C - 0.5, temperature_C + 0.5], piece.low_C, piece.high_C)
            low, high = piece.mass_fraction_at(ends)
            found.append((w, solid.formula, abs(float(high - low) / float(ends[1] - ends[0]))))
    strengths = sorted(found)
    if len(strengths) > 1 and strengths[-1][0] - strengths[0][0] > 1e-4:
        both = " or ".join(f"{100 * w:.4g} mass % (under {solid})" for w, solid, _ in strengths)
        raise InputError(
            "first crystals",
            f"{temperature_C:g} degC",
            f"a temperature that only one liquor has, not {both}",
            "20 degC",
        )
    if not strengths:
        covered = "; ".join(f"{low:g} to {high:g} degC" for low, high in model.map.covers_degC)
        raise InputError(
            "first crystals",
            f"{temperature_C:g} degC",
            f"one at which a cooling {model.salt.formula} liquor begins to crystallise (the data cover {covered})",
            "20 degC",
        )
    return strengths[0]


def _slope(of: Callable[[float], float], w: float) -> float:
    step = min(1e-4, 0.1 * w, 0.1 * (1.0 - w))
    return (of(w + step) - of(w - step)) / (2.0 * step)


def _curve_doubt(model: Model, solid: str) -> float:
    """Standard uncertainty of a solid's saturated liquors: other tables and interpolation, mass fraction."""
    salt, stated = model.salt, model.salt.curve_doubt_mass_fraction
    branch = salt.branch(solid)
    share = float(model.solid_mass_fractions[model.solid_index(solid)])
    errors = np.zeros(0) if branch is None else leave_one_out_errors(branch, share)
    between = float(np.sqrt(np.mean(errors**2))) if len(errors) else 0.0
    return math.hypot(_CURVE_DOUBT if stated is None else stated, between)


def _require_room(model: Model, what: str, salt_g: float, whole: Size) -> None:
    """Refuse more salt than the whole solution can hold."""
    water_g = whole.value - salt_g
    if whole.unit == "mL":
        water_g = float(model.density.water_g_for_volume(salt_g, whole.value, ROOM_C))
    if water_g <= 0.0:
        raise InputError(
            what,
            f"{salt_g:.4g} g of salt in {whole.value:g} {whole.unit} of solution",
            "less than the solution can hold; check the readings, their units and whether the part was diluted",
            "60 g in 400 mL",
        )


def _require_own(model: Model, solid: Hydrate) -> None:
    from molmass import Formula

    own = model.salt.formula
    if solid.anhydrous != own and Formula(solid.anhydrous).formula != Formula(own).formula:
        known = [phase.formula for phase in model.salt.phases if not phase.is_ice]
        raise InputError("dry solid", _written(solid), f"{own} or one of its hydrates", (known or [own])[0])


def _written(solid: Hydrate) -> str:
    return solid.anhydrous if not solid.waters else f"{solid.anhydrous}.{solid.waters:g}H2O{solid.form}"
