"""Making up a solution: a stock and water, or two stocks, to a wanted strength; and what a mixture comes to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from crystal.errors import InputError
from crystal.physics.concentration import Concentration

# Below this mass fraction no warning of heat is given; common practice, no source.
_WEAK = 0.10

_POUR = {
    "acid": "Pour the acid slowly into the {into}, stirring; never the {into} into the acid. Goggles and gloves.",
    "alkali": "Pour the lye slowly into the cold {into}, stirring; never the {into} onto strong lye or onto the solid. "
    "Goggles and gloves.",
    "ammonia": "Work cold, in a fume hood or outdoors: pour the ammonia into cold {into}, and cool the bottle before it is "
    "opened. Goggles and gloves.",
    "peroxide": "Work cold with clean vessels: pour the peroxide into the {into}, pour nothing back into the bottle, and "
    "leave the cap loose. Goggles and gloves.",
}
_PLAIN = "Pour the stronger solution into the {into}, stirring."
_STRONG_HEAT = (
    "This gets very hot and can boil and spit: add it in small portions with the vessel in cold water, in glass that bears "
    "heat or in polypropylene, and let it cool to {at:g} °C before the volume is made up."
)
_MILD_HEAT = "It warms up: let it come back to {at:g} °C before the volume is made up."


@dataclass(frozen=True, slots=True, eq=False)
class Portion:
    """So much of a solution; its volume is at the solution's own temperature."""

    concentration: Concentration
    mass_g: float

    @classmethod
    def of(
        cls, concentration: Concentration, *, mass_g: float | None = None, volume_mL: float | None = None
    ) -> Portion:
        """Take a mass or a volume of a solution.

        Raises
        ------
        InputError
            Unless exactly one of the two is given and is more than 0.
        """
        if (mass_g is None) == (volume_mL is None):
            got = "neither" if mass_g is None else "a mass and a volume"
            raise InputError("amount of solution", got, "one of the two, a mass or a volume", "200 mL")
        amount, unit = (mass_g, "g") if mass_g is not None else (volume_mL, "mL")
        if amount is None or not 0.0 < amount < float("inf"):
            raise InputError("amount of solution", f"{amount:g} {unit}", "more than 0", f"200 {unit}")
        return cls(concentration, amount if mass_g is not None else amount * concentration.density_g_mL)

    @property
    def volume_mL(self) -> float:
        return self.mass_g / self.concentration.density_g_mL

    @property
    def solute_g(self) -> float:
        return self.mass_g * self.concentration.mass_fraction


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """Portions of one solute's solutions, poured together and brought to one temperature.

    ``contraction_mL`` is the portions' volumes less the mixture's, all at that temperature; negative where the
    mixture takes more room.

    Examples
    --------
    >>> from crystal.data.reagents import Reagents
    >>> from crystal.physics.reagent import Solute
    >>> from crystal.physics.strength import Strength
    >>> acid = Solute.of_reagent(Reagents.bundled().find("H2SO4"))
    >>> half = Concentration.of(acid, Strength("mass_fraction", 0.50))
    >>> mixed = Mixture.of([Portion.of(half, volume_mL=100.0), Portion.of(Concentration.water(acid), volume_mL=100.0)])
    >>> round(mixed.whole.concentration.mass_percent, 1), round(mixed.contraction_mL, 1)
    (29.2, 2.5)
    """

    portions: tuple[Portion, ...]
    whole: Portion
    contraction_mL: float

    @classmethod
    def of(cls, portions: Sequence[Portion], *, temperature_C: float | None = None) -> Mixture:
        """Pour portions together.

        Parameters
        ----------
        portions : sequence of Portion
            Solutions of one solute, water among them as :meth:`Concentration.water`.
        temperature_C : float, optional
            Temperature of the mixture, °C; the first portion's unless told.

        Raises
        ------
        InputError
            Where there is nothing to mix, or they are of different solutes.
        """
        if not portions:
            raise InputError("mixture", "nothing", "at least one solution", "100 mL of 31 % w/w HCl")
        formulas = dict.fromkeys(portion.concentration.solute.formula for portion in portions)
        if len(formulas) > 1:
            raise InputError(
                "mixture", " and ".join(formulas), "solutions of one solute; two may react", "HCl and water"
            )
        at = portions[0].concentration.temperature_C if temperature_C is None else temperature_C
        mass = sum(portion.mass_g for portion in portions)
        solute = sum(portion.solute_g for portion in portions)
        whole = Portion(Concentration(portions[0].concentration.solute, solute / mass, at), mass)
        apart = sum(portion.mass_g / portion.concentration.at(at).density_g_mL for portion in portions)
        return cls(tuple(portions), whole, apart - whole.volume_mL)

    @property
    def warnings(self) -> list[str]:
        return _once([portion.concentration for portion in (*self.portions, self.whole)])

    def to_json(self) -> dict[str, object]:
        """What the mixture comes to, for a program."""
        return {
            "mass_g": self.whole.mass_g,
            "volume_mL": self.whole.volume_mL,
            "solute_g": self.whole.solute_g,
            "mass_percent": self.whole.concentration.mass_percent,
            "density_g_mL": self.whole.concentration.density_g_mL,
            "temperature_degC": self.whole.concentration.temperature_C,
            "contraction_mL": self.contraction_mL,
            "warnings": self.warnings,
        }


@dataclass(frozen=True, slots=True, eq=False)
class Dilution:
    """A stock brought to a wanted strength with water or with a weaker stock; volumes at one temperature.

    ``by_volume_shortcut_mL`` is what C1·V1 = C2·V2 with mass percent would take of the stock: wrong, as the two
    differ in density. ``shortcut_mass_percent`` is the strength that it gives when the volume is made up with the
    weaker liquid.

    Examples
    --------
    >>> from crystal.data.reagents import Reagents
    >>> from crystal.physics.reagent import Solute
    >>> from crystal.physics.strength import Strength
    >>> acid = Solute.of_reagent(Reagents.bundled().find("HCl"))
    >>> stock, target = (Concentration.of(acid, Strength("mass_fraction", w)) for w in (0.31, 0.185))
    >>> made = Dilution.of(stock, target, make_mL=200.0)
    >>> round(made.stock.volume_mL, 1), round(made.by_volume_shortcut_mL, 1)
    (112.8, 119.4)
    """

    stock: Portion
    weaker: Portion
    final: Portion
    by_volume_shortcut_mL: float
    shortcut_mass_percent: float

    @classmethod
    def of(
        cls,
        stock: Concentration,
        target: Concentration,
        *,
        make_mL: float | None = None,
        make_g: float | None = None,
        weaker: Concentration | None = None,
        temperature_C: float | None = None,
    ) -> Dilution:
        """Find how much of each to take.

        Parameters
        ----------
        stock : Concentration
            The stronger solution.
        target : Concentration
            The wanted strength, of the same solute.
        make_mL, make_g : float, optional
            How much is wanted; exactly one of them.
        weaker : Concentration, optional
            A second stock; water unless told. The stronger of the two counts as the stock.
        temperature_C : float, optional
            Temperature at which all volumes are measured, °C; the target's unless told.

        Raises
        ------
        InputError
            Where the target does not lie between the two, naming the reachable range; where the solutes differ or
            the amount is none.
        """
        at = target.temperature_C if temperature_C is None else temperature_C
        solute = stock.solute
        others = [target, *([weaker] if weaker is not None else [])]
        for other in others:
            if other.solute.formula != solute.formula:
                got = f"{other.solute.formula} from {solute.formula}"
                raise InputError(
                    "target", got, f"of the stock's own solute, {solute.formula}", "18.5 % w/w HCl"
                )
        stock, target = stock.at(at), target.at(at)
        second = Concentration.water(solute, at) if weaker is None else weaker.at(at)
        if second.mass_fraction > stock.mass_fraction:
            stock, second = second, stock
        strong, weak, wanted = (c.mass_fraction for c in (stock, second, target))
        if not weak < wanted < strong:
            low = "0 (water)" if weaker is None else f"{100 * weak:.4g} mass %"
            raise InputError(
                "target",
                f"{100 * wanted:.4g} mass % {solute.formula}",
                f"within reach of what is mixed: above {low} and below {100 * strong:.4g} mass %, the stock's own strength",
                f'"{50 * (weak + strong):.3g} % w/w"',
            )
        final = Portion.of(target, mass_g=make_g, volume_mL=make_mL)
        share = (wanted - weak) / (strong - weak)
        made = Portion(stock, share * final.mass_g), Portion(second, (1.0 - share) * final.mass_g)
        shortcut = share * final.volume_mL
        rest = final.volume_mL - shortcut
        by_shortcut = Mixture.of([Portion.of(stock, volume_mL=shortcut), Portion.of(second, volume_mL=rest)])
        return cls(*made, final, shortcut, by_shortcut.whole.concentration.mass_percent)

    @property
    def shortcut_off_percent(self) -> float:
        """How far the shortcut's volume of stock is above the right one."""
        return 100.0 * (self.by_volume_shortcut_mL / self.stock.volume_mL - 1.0)

    @property
    def contraction_mL(self) -> float:
        """The two volumes less the final one."""
        return self.stock.volume_mL + self.weaker.volume_mL - self.final.volume_mL

    @property
    def pouring(self) -> list[str]:
        """In which order to pour, and whether it gets hot; common practice, no source."""
        solute, at = self.stock.concentration.solute, self.final.concentration.temperature_C
        into = "water" if self.weaker.concentration.mass_fraction == 0.0 else "weaker solution"
        said = [_POUR.get(solute.kind, _PLAIN).format(into=into)]
        if self.stock.concentration.mass_fraction >= _WEAK:
            if solute.dilution_heat == "strong":
                said.append(_STRONG_HEAT.format(at=at))
            elif solute.dilution_heat == "mild":
                said.append(_MILD_HEAT.format(at=at))
        return said

    @property
    def warnings(self) -> list[str]:
        """Pouring and heat first, then what the densities rest on."""
        portions = (self.stock, self.weaker, self.final)
        return self.pouring + _once([portion.concentration for portion in portions])

    def to_json(self) -> dict[str, object]:
        """The answer for a program; ``water_`` is the weaker liquid, water unless ``weaker_mass_percent`` is above 0."""
        return {
            "solute": self.stock.concentration.solute.formula,
            "stock_mass_percent": self.stock.concentration.mass_percent,
            "target_mass_percent": self.final.concentration.mass_percent,
            "weaker_mass_percent": self.weaker.concentration.mass_percent,
            "temperature_degC": self.final.concentration.temperature_C,
            "stock_mL": self.stock.volume_mL,
            "stock_g": self.stock.mass_g,
            "stock_density_g_mL": self.stock.concentration.density_g_mL,
            "water_mL": self.weaker.volume_mL,
            "water_g": self.weaker.mass_g,
            "final_mL": self.final.volume_mL,
            "final_g": self.final.mass_g,
            "final_density_g_mL": self.final.concentration.density_g_mL,
            "contraction_mL": self.contraction_mL,
            "by_volume_shortcut_mL": self.by_volume_shortcut_mL,
            "shortcut_off_percent": self.shortcut_off_percent,
            "shortcut_mass_percent": self.shortcut_mass_percent,
            "warnings": self.warnings,
        }


def _once(concentrations: Sequence[Concentration]) -> list[str]:
    """The warnings of several solutions, each said once."""
    return list(dict.fromkeys(said for concentration in concentrations for said in concentration.warnings))
