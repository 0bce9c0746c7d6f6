"""Carrying out a reaction: what limits it, what is made, what leaves, and the pot that remains."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from crystal.bench.fates import DISSOLVED, WATER, Fates, gas_of
from crystal.bench.made import Charge, GasMade, LeftOver, MadePot, Product, Reacted
from crystal.bench.reaction_pot import ReactionPot, species_named, spelled, state_of
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.physics.equation import Equation
from crystal.physics.formula import Hydrate
from crystal.physics.heat import ASSUMPTIONS, heat_given_off_kJ
from crystal.physics.species import Species

GAS_CONSTANT_J_MOL_K = 8.314462618  # CODATA 2018, exact
WATER_HEAT_J_G_K = 4.18  # of liquid water near 25 °C; handbook value, from memory
HOT_RISE_K = 30.0
BOILING_RISE_K = 80.0  # from a room at 20 °C
ROOM_C, ROOM_kPa = 20.0, 101.325

_SAME = 1e-12  # relative; two reagents closer than this are in exact proportion


def react(
    equation: Equation | str,
    charges: Sequence[Charge],
    *,
    catalogue: Catalogue | None = None,
    after: MadePot | None = None,
    conversion: float = 1.0,
    lost_fraction: float = 0.0,
    hydrates: Collection[str] = (),
    undissolved: Collection[str] = (),
    gases: Collection[str] = (),
    pot_salt: str | None = None,
    room_C: float = ROOM_C,
    pressure_kPa: float = ROOM_kPa,
) -> Reacted:
    """Let a reaction run and say what is in the pot.

    Parameters
    ----------
    equation : Equation or str
        Balanced here where it is a text.
    charges : sequence of Charge
        An amount of every reagent, unless the pot before holds it; plain water may be among them.
    catalogue : Catalogue, optional
        The salts known; the bundled ones unless given.
    after : MadePot, optional
        The pot of the step before: all that is in it takes part.
    conversion : float
        Part of the limiting reagent that reacts, more than 0 and at most 1.
    lost_fraction : float
        Part of the liquor, and so of the dissolved product, lost in spills and filters; 0 to less than 1. What is lost
        has the liquor's strength.
    hydrates : collection of str
        Hydrates in whose grams a product is wanted too, such as ``"ZnSO4.7H2O"``.
    undissolved, gases : collection of str
        Substances that stay solid, or leave as gas, whatever the lists say.
    pot_salt : str, optional
        The salt that the pot is named after; else the dissolved product with most moles that the catalogue knows.
    room_C, pressure_kPa : float
        Where the gas is measured, as an ideal gas.

    Raises
    ------
    InputError
        Naming the reagent without an amount, the charge that is no reagent, or the number out of range.

    Examples
    --------
    >>> made = react("Zn + H2SO4 -> ZnSO4 + H2", [Charge("Zn", 32.7), Charge("H2SO4", 60.0, water_g=440.0)])
    >>> made.limiting, round(made.pot.salt_g, 2), {f: round(g, 2) for f, g in made.pot.others_g.items()}
    ('Zn', 80.75, {'H2SO4': 10.95})
    >>> [(gas.formula, round(gas.L, 1)) for gas in made.gas]
    [('H2', 12.0)]
    """
    _check_part("conversion", conversion, 0.0 < conversion <= 1.0, "more than 0 and at most 1", "0.95")
    _check_part("loss", lost_fraction, 0.0 <= lost_fraction < 1.0, "from 0 to less than 1", "0.02")
    _check_part("room temperature", room_C, -50 <= room_C <= 100, "a temperature of the air in degC", "20")
    _check_part(
        "pressure", pressure_kPa, 1 <= pressure_kPa <= 1000, "a pressure of the air in kPa", "101.325"
    )
    balanced = Equation.parse(equation) if isinstance(equation, str) else equation
    catalogue = catalogue or Catalogue.bundled()
    fates = Fates.of(undissolved, gases)
    vessel = ReactionPot.holding(balanced, charges, after, catalogue, fates)
    extents = [mol / float(t.coefficient) for t, mol in zip(balanced.reactants, vessel.mol, strict=True)]
    possible = min(extents)
    first = extents.index(possible)
    extent = conversion * possible
    left = [
        _left(
            t.species,
            mol,
            float(t.coefficient),
            extent,
            possible,
            fates,
            is_limiting=extents[i] <= possible * (1 + _SAME),
        )
        for i, (t, mol) in enumerate(zip(balanced.reactants, vessel.mol, strict=True))
    ]
    made = [(term.species, float(term.coefficient) * extent) for term in balanced.products]
    for species, mol in (
        *made,
        *((t.species, one.mol) for t, one in zip(balanced.reactants, left, strict=True)),
    ):
        vessel.add(species, mol)
    products = _products(made, fates, hydrates)
    pot, lost_g = vessel.pot(_main_salt(made, vessel, catalogue, fates, pot_salt), lost_fraction)
    gas = tuple(_gas(species, mol, room_C, pressure_kPa) for species, mol in vessel.gas if mol > 0)
    changes = [
        (-float(t.coefficient) * extent, t.species, state)
        for t, state in zip(balanced.reactants, vessel.states, strict=True)
    ] + [(mol, species, state_of(fates.of_species(species))) for species, mol in made]
    changes += vessel.hydrates_opened(extents, extent)
    heat_kJ, missing = heat_given_off_kJ(changes)
    rise_K = None
    if heat_kJ is not None and vessel.water_g > 0:
        rise_K = 1000 * heat_kJ / (WATER_HEAT_J_G_K * vessel.water_g)
    ties = [
        t.species.formula
        for t, one in zip(balanced.reactants, extents, strict=True)
        if one <= possible * (1 + _SAME)
    ]
    return Reacted(
        str(balanced),
        balanced.reactants[first].species.formula,
        extent,
        products,
        tuple(one for one in left if one.where != WATER),
        gas,
        heat_kJ,
        missing,
        rise_K,
        lost_g,
        pot,
        tuple(_warnings(balanced, gas, rise_K, pot, catalogue)),
        tuple(_notes(balanced, ties, pot, fates, gas, heat_kJ, missing, lost_g)),
    )


def _check_part(what: str, value: float, is_good: bool, must_be: str, example: str) -> None:
    if not (math.isfinite(value) and is_good):
        raise InputError(what, f"{value:g}", must_be, example)


def _left(
    species: Species,
    mol: float,
    coefficient: float,
    extent: float,
    possible: float,
    fates: Fates,
    *,
    is_limiting: bool,
) -> LeftOver:
    left_mol = max(mol - coefficient * extent, 0.0)
    need = coefficient * possible
    excess = 0.0 if is_limiting else max(mol - need, 0.0)
    if is_limiting and extent == possible:
        left_mol = 0.0
    mass = species.molar_mass_g_mol
    return LeftOver(
        species.formula,
        left_mol,
        left_mol * mass,
        fates.of_species(species),
        excess,
        excess * mass,
        100 * excess / need,
    )


def _products(
    made: Sequence[tuple[Species, float]], fates: Fates, hydrates: Collection[str]
) -> tuple[Product, ...]:
    wanted = [Hydrate.parse(text) for text in hydrates]
    dry = [species.without_water() for species, _ in made]
    named: dict[int, tuple[str, float]] = {}
    for text, hydrate in zip(hydrates, wanted, strict=True):
        of = Species.parse(hydrate.anhydrous)
        place = next((i for i, one in enumerate(dry) if one.is_same(of)), None)
        if place is None:
            names = ", ".join(species.formula for species, _ in made)
            raise InputError("hydrate", text, f"a hydrate of a product ({names})")
        named[place] = text, made[place][1] * hydrate.molar_mass_g_mol
    return tuple(
        Product(
            species.formula,
            mol,
            mol * species.molar_mass_g_mol,
            mol * dry[place].molar_mass_g_mol,
            fates.of_species(species),
            *named.get(place, (None, None)),
        )
        for place, (species, mol) in enumerate(made)
    )


def _gas(species: Species, mol: float, room_C: float, pressure_kPa: float) -> GasMade:
    known = gas_of(species)
    litres = mol * GAS_CONSTANT_J_MOL_K * (room_C + 273.15) / pressure_kPa
    caution = known.caution if known else "What is known of this gas is not in the data: work in a fume hood."
    return GasMade(species.formula, mol, mol * species.molar_mass_g_mol, litres, caution)


def _main_salt(
    made: Sequence[tuple[Species, float]],
    vessel: ReactionPot,
    catalogue: Catalogue,
    fates: Fates,
    told: str | None,
) -> str | None:
    if told is not None:
        name = spelled(Species.parse(told).without_water(), catalogue)
        if name not in vessel.dissolved_g:
            held = ", ".join(vessel.dissolved_g) or "nothing"
            raise InputError("salt of the pot", told, f"dissolved in it; what is dissolved there: {held}")
        return name
    dissolved = [
        (mol, spelled(species.without_water(), catalogue))
        for species, mol in made
        if fates.of_species(species) == DISSOLVED
    ]
    known = [one for one in dissolved if one[1] in catalogue.salts]
    return max(known or dissolved, key=lambda one: one[0], default=(0.0, None))[1]


def _warnings(
    equation: Equation, gas: Sequence[GasMade], rise_K: float | None, pot: MadePot, catalogue: Catalogue
) -> list[str]:
    found = [f"{one.formula}, {one.L:.3g} L: {one.caution}" for one in gas]
    if rise_K is not None and rise_K > HOT_RISE_K:
        boils = ", enough to boil it over" if rise_K > BOILING_RISE_K else ""
        found.append(
            f"The heat could raise the pot by up to {rise_K:.0f} K if all of it stayed in the water{boils}: add slowly, stir, "
            "stand the vessel in cold water and let it cool between lots."
        )
    if any(term.species.formula == "H2O2" for term in equation.reactants):
        found.append(
            "Add peroxide in small lots, below 60 °C: it breaks down when warm, foams and is lost (common practice, no "
            "source)."
        )
    if pot.dissolved_g.get("H2O2", 0.0) > 0:
        found.append(
            "Peroxide is left over: it foams off as oxygen when the pot is heated, so heat gently at first."
        )
    if pot.salt is None:
        found.append("No dissolved salt was made: the pot has none to grow crystals from.")
    elif pot.salt not in catalogue.salts:
        found.append(
            f"The data hold no saturation curve of {pot.salt}: what the pot does on cooling is not known."
        )
    return found


def _notes(
    equation: Equation,
    ties: Sequence[str],
    pot: MadePot,
    fates: Fates,
    gas: Sequence[GasMade],
    heat_kJ: float | None,
    missing: Sequence[str],
    lost_g: float,
) -> list[str]:
    found = [equation.note] if equation.note else []
    if len(ties) > 1:
        found.append(f"{' and '.join(ties)} are in exact proportion.")
    for name, grams in pot.undissolved_g.items():
        species = species_named(name)
        basis = " (well known, no source)" if species and fates.is_assumed(species) else ""
        found.append(
            f"{grams:.3g} g of {name} lies undissolved in the pot{basis}; it is not in the solution."
        )
    if lost_g > 0:
        found.append(
            f"{lost_g:.3g} g of liquor is lost from the pot; the products are counted before the loss."
        )
    if gas:
        found.append("Gas is taken to leave whole, as an ideal gas; some stays dissolved in a cold pot.")
    if heat_kJ is not None:
        found.append(ASSUMPTIONS)
    else:
        found.append(f"No heat is given: the data hold no enthalpy of formation of {', '.join(missing)}.")
    return found
