"""One end point told in four ways: by volume, by mass, by the hydrometer and by the boiling temperature."""

from __future__ import annotations

import math
from dataclasses import dataclass

from crystal.bench.cooling import UNKNOWN, Cooled
from crystal.bench.pot import Pot
from crystal.data.heat_limits import heat_limits_of
from crystal.physics.boiling import BETWEEN, IONS, NONE, Boiling, at_least_C
from crystal.physics.boiling_beside import VOLATILE, BoilingBeside, boiling_of
from crystal.physics.company import first_beside
from crystal.physics.model import Model
from crystal.physics.scales import BAUME_US
from crystal.physics.vapour import STANDARD_kPa, boiling_temperature_C

CLEAR_BY_K = 5.0
"""A hot reading is advised this far above the first crystals, rounded up to five degrees."""

MAY_RISE_K = 30.0
"""How far above what is known a strong liquor may boil: limits so near are told; common practice, no source."""

POOR_SHARE = 0.15
"""A boiling temperature that leaves more of the volume open than this is no mark to go by alone; a judgement, no source."""

USELESS_SHARE = 0.5
"""One that leaves more open than this is no mark at all; a judgement, no source."""

BASES_BESIDE = {NONE: None, IONS: "ion interaction of all that is dissolved, at 25 °C"}
BASES = {
    NONE: None,
    IONS: "ion interaction at 25 °C",
    BETWEEN: "between ion interaction and the saturated liquor",
}


@dataclass(frozen=True, slots=True)
class Liquid:
    """The clear liquid of an end point as it is read at one temperature.

    ``baume_degrees`` is what a US scale for heavier liquids shows in it, None where it is lighter than water at 60 °F.
    """

    read_at_C: float
    volume_mL: float
    density_g_mL: float
    relative_error: float

    @classmethod
    def of(cls, pot: Pot, read_at_C: float) -> Liquid:
        """Read a pot's liquid at a temperature."""
        return cls(
            read_at_C,
            pot.volume_mL(read_at_C),
            pot.density_g_mL(read_at_C),
            float(pot.model.density.relative_doubt(pot.mass_fraction, read_at_C)),
        )

    @property
    def specific_gravity(self) -> float:
        """What a hydrometer made for 60/60 °F shows in it, the glass's own expansion left out."""
        return BAUME_US.gravity.specific_gravity(self.density_g_mL)

    @property
    def baume_degrees(self) -> float | None:
        gravity = self.specific_gravity
        return BAUME_US.degrees(gravity) if gravity >= 1.0 else None


@dataclass(frozen=True, eq=False, slots=True)
class Marks:
    """The marks of one end point.

    Attributes
    ----------
    end : Pot
        The pot at the end point.
    liquid : Liquid
        Read at the temperature asked for; the convention of all volumes here: the clear liquid of that composition.
    hot : Liquid or None
        Read where the pot is clear, where crystals stand in it at that temperature.
    never_clear : bool
        Solid stands in it there and no temperature is known at which it is clear: neither mark nor hydrometer tell.
    boiling_C, boiling_error_K, boiling_error_share : float or None
        Temperature at which it boils, the stated error, and what part of the volume that error comes to.
    water_boils_C : float
        Pure water at the same pressure.
    warnings : tuple of str
    heat_warnings : tuple of str
        Those of the warnings that tell of heat that the salt does not bear.
    """

    end: Pot
    pressure_kPa: float
    liquid: Liquid
    hot: Liquid | None
    never_clear: bool
    boiling_C: float | None
    boiling_error_K: float | None
    boiling_error_share: float | None
    boiling_basis: str | None
    water_boils_C: float
    warnings: tuple[str, ...]
    heat_warnings: tuple[str, ...]

    @property
    def boiling_mark(self) -> tuple[float, float] | None:
        """Boiling temperature, °C, and its error, K, to boil down to; None where it tells too little of the volume."""
        if self.boiling_C is None or self.boiling_error_K is None:
            return None
        return (
            None
            if (self.boiling_error_share or 0.0) > USELESS_SHARE
            else (self.boiling_C, self.boiling_error_K)
        )

    @property
    def no_boiling_mark(self) -> str:
        """What is said where there is none."""
        known = self.boiling_error_K
        return "no mark is known" if known is None else f"no mark, it is known to {known:.0f} K only"

    @classmethod
    def of(
        cls, start: Pot, water_g: float, *, read_at_C: float = 20.0, pressure_kPa: float = STANDARD_kPa
    ) -> Marks:
        """Mark an end point.

        Parameters
        ----------
        start : Pot
            The pot before reducing.
        water_g : float
            Water left at the end point, g.
        read_at_C : float
            Temperature at which the volume and the hydrometer are read, °C.
        pressure_kPa : float
            The air's pressure, kPa.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> start = Pot(Model.of(Catalogue.bundled().find("NaCl")), 50.0, 450.0)
        >>> marks = Marks.of(start, 200.0)
        >>> round(marks.liquid.volume_mL), round(marks.end.mass_g), round(marks.boiling_C, 1)
        (218, 250, 105.0)
        """
        end = start.with_water(water_g, read_at_C)
        w, model = end.mass_fraction, start.model
        liquid = Liquid.of(end, read_at_C)
        read = Cooled.of(model, end.salt_g, water_g, read_at_C, strict=False, others=end.others)
        hot, said = _hot(end, read)
        said += model.density.warnings(w, read_at_C if hot is None else hot.read_at_C)
        water_C = float(boiling_temperature_C(pressure_kPa))
        boiling = boiling_of(model, end.salt_g, end.others)
        boils, error, share = None, None, None
        basis = int(boiling.basis(w))
        if basis == NONE:
            said.append(_no_boiling(end, boiling))
        else:
            boils = float(boiling.temperature_C(w, pressure_kPa))
            error = float(boiling.error_K(w, pressure_kPa))
            share = _volume_share(end, boiling, boils, error, pressure_kPa)
            said += _boiling_warnings(end, boiling, boils, basis)
            if share is not None and share > POOR_SHARE:
                said.append(
                    f"The boiling temperature is known to {error:.1f} K only, which is {100 * share:.0f} % of the volume: "
                    "go by the balance first."
                )
        too_hot = heat_warnings(model, *at_least_C(boiling, w, pressure_kPa))
        said += too_hot
        stands = float(read.crystals_g + read.ice_g) > 0
        return cls(
            end, pressure_kPa, liquid, hot, stands and hot is None, boils, error, share,
            (BASES_BESIDE if isinstance(boiling, BoilingBeside) else BASES)[basis], water_C, tuple(said),
            tuple(too_hot),
        )  # fmt: skip

    @classmethod
    def at(
        cls, start: Pot, mass_fraction: float, *, read_at_C: float = 20.0, pressure_kPa: float = STANDARD_kPa
    ) -> Marks:
        """The marks of the pot reduced to a composition, salt / (salt + water)."""
        water_g = start.salt_g * (1.0 - mass_fraction) / mass_fraction
        return cls.of(start, water_g, read_at_C=read_at_C, pressure_kPa=pressure_kPa)


def names_of(pot: Pot) -> str:
    """The salt with what is beside it."""
    return " with ".join((pot.model.salt.formula, *pot.others.formulas))


def heat_warnings(model: Model, temperature_C: float, exact: bool = True) -> list[str]:
    """Every heat limit of the salt's solutions that a temperature passes, both kinds; ``exact`` False: it is at least that."""
    name = model.salt.formula
    said = []
    for limit in heat_limits_of(model.salt):
        if temperature_C > limit.temperature_C:
            over = "" if exact else " or more"
            said.append(
                f"The pot gets to {temperature_C:.0f} °C{over}, which is too hot: a solution of {name} {limit.text}."
            )
        elif not exact and limit.temperature_C < temperature_C + MAY_RISE_K:
            said.append(
                f"How hot it boils is not known, only that it is {temperature_C:.0f} °C or more: mind that a solution of {name} "
                f"{limit.text}. Keep a thermometer in it."
            )
    return said


def _hot(end: Pot, read: Cooled) -> tuple[Liquid | None, list[str]]:
    """The liquid where it is clear, if it is not where it is to be read, and what is to be said of that."""
    at = float(read.temperature_C)
    name = end.model.salt.formula
    if int(read.outcome) == UNKNOWN:
        return None, [f"Whether the end point is clear at {at:g} °C is not in the data for {name}."]
    solids = float(read.crystals_g + read.ice_g)
    if solids <= 0:
        return None, []
    first = first_beside(end.model, end.others, end.salt_g, [end.mass_fraction])
    solid = read.solids_g()[0][0]
    said = (
        f"At {at:g} °C {solids:.3g} g of {solid} stands in it: the volume and the density there are those of the clear "
        "liquid, which a mark and a hydrometer do not show."
    )
    if not bool(first.found[0]):
        return None, [f"{said} No temperature is known at which it is clear: weigh it."]
    clear_C = float(first.temperature_C[0])
    rounded_C = 5.0 * math.ceil((clear_C + CLEAR_BY_K) / 5.0 - 1e-9)
    clear = [t for t in (rounded_C, clear_C + CLEAR_BY_K, clear_C + 1.0) if _is_clear(end, t)]
    if not clear:
        return None, [f"{said} It is clear only near {clear_C:.0f} °C, if at all: weigh it."]
    hot = Liquid.of(end, clear[0])
    return hot, [
        f"{said} Read it hot: crystals begin at {clear_C:.0f} °C; at {hot.read_at_C:.0f} °C it measures "
        f"{hot.volume_mL:.0f} mL and {hot.density_g_mL:.3f} g/mL."
    ]


def _is_clear(end: Pot, temperature_C: float) -> bool:
    """Whether nothing solid stands in the pot there, as far as the data tell; past their hot end the liquid stays clear."""
    at = min(temperature_C, end.model.map.high_C)
    state = Cooled.of(end.model, end.salt_g, end.water_g, at, strict=False, others=end.others)
    return int(state.outcome) == 0 and float(state.ice_g) == 0.0


def _no_boiling(end: Pot, boiling: Boiling | BoilingBeside) -> str:
    name = names_of(end)
    if isinstance(boiling, BoilingBeside):
        if boiling.reason:
            return f"No boiling temperature is given: {boiling.reason}; go by mass or density."
    elif boiling.activity is None:
        at = boiling.saturated
        known = (
            ""
            if at is None
            else f" (its saturated liquor boils at {at.temperature_C:g} °C at one atmosphere)"
        )
        return f"No boiling temperature is given: the water activity of {name} solutions is not in the data{known}."
    return (
        f"No boiling temperature is given: what is known of {name} ends at {100 * boiling.highest_mass_fraction:.3g} "
        f"mass %, and the end point has {100 * end.mass_fraction:.3g}."
    )


def _boiling_warnings(end: Pot, boiling: Boiling | BoilingBeside, boils_C: float, basis: int) -> list[str]:
    model, name = end.model, end.model.salt.formula
    said = []
    if isinstance(boiling, Boiling):
        said += _saturated_warnings(boiling, basis)
    volatile = [formula for formula in end.others.formulas if formula in VOLATILE]
    if volatile:
        said.append(
            f"{' and '.join(volatile)} leaves with the steam, the more the further it boils down: then less of it is in the "
            "pot than reckoned, and it boils lower."
        )
    standing = Cooled.of(
        model, end.salt_g, end.water_g, min(boils_C, model.map.high_C), strict=False, others=end.others
    )
    if int(standing.outcome) != UNKNOWN and float(standing.crystals_g) > 0:
        said.append(
            f"{float(standing.crystals_g):.3g} g of {standing.solids_g()[0][0]} already stands in the boiling pot: once "
            f"crystals of {name} stand in it the boiling temperature hardly rises any more and is no mark."
        )
    return said


def _saturated_warnings(boiling: Boiling, basis: int) -> list[str]:
    """What the saturated liquor's tabulated boiling temperature has to do with the mark."""
    said = []
    if basis == BETWEEN:
        assert boiling.saturated is not None
        said.append(
            f"Its boiling temperature lies beyond {100 * boiling.range_mass_fraction:.3g} mass %, where the measured "
            f"water activities end: it is drawn from there to the saturated liquor's {boiling.saturated.temperature_C:g} °C"
            f" ({boiling.saturated.provenance})."
        )
    apart = boiling.disagreement_K()
    if apart is not None and boiling.saturated is not None:
        said.append(
            f"For the saturated liquor a table has {boiling.saturated.temperature_C:g} °C, {abs(apart):.1f} K "
            f"{'below' if apart > 0 else 'above'} what is computed here."
        )
    return said


def _volume_share(
    end: Pot, boiling: Boiling | BoilingBeside, boils_C: float, error_K: float, pressure_kPa: float
) -> float | None:
    """What part of the volume the boiling temperature's error comes to, on the side that is known."""
    low = boiling.mass_fraction(
        max(boils_C - error_K, float(boiling_temperature_C(pressure_kPa))), pressure_kPa
    )
    if not low > 0:
        return None
    larger = end.with_water(end.salt_g * (1.0 - low) / low).volume_mL()
    return larger / end.volume_mL() - 1.0
