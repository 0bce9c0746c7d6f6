"""Solutions as a person writes them, made into concentrations, portions and charges."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from crystal import units
from crystal.bench.dilute import Portion
from crystal.bench.made import Charge
from crystal.bench.pot import Strength
from crystal.data.catalogue import Catalogue
from crystal.data.reagents import Reagents
from crystal.data.records import Salt
from crystal.errors import InputError
from crystal.faces.facts import Given
from crystal.physics.concentration import Concentration
from crystal.physics.formula import Hydrate
from crystal.physics.reagent import Solute
from crystal.physics.scales import BAUME_RATIONAL, BAUME_US
from crystal.physics.species import Species

_EXAMPLE = "31 % w/w HCl"


@contextmanager
def named(given: Given, kept: Given | None = None) -> Iterator[None]:
    """Errors from deeper down under the name and with the text of the input; those of ``kept`` stay its own."""
    try:
        yield
    except InputError as error:
        if error.what == given.what or (kept is not None and error.what == kept.what):
            raise
        raise InputError(given.what, repr(given.text), error.must_be, error.example) from None


def solute_named(text: str, given: Given, catalogue: Catalogue) -> Solute:
    """The reagent, else the salt, of that formula or name."""
    reagents = Reagents.bundled()
    if text in reagents:
        return Solute.of_reagent(reagents.find(text))
    try:
        return Solute.of(catalogue.find(text))
    except InputError:
        names = [
            name for r in reagents.reagents.values() for name in (r.formula, r.name, *r.salt.common_names)
        ]
        close = difflib.get_close_matches(text, names, 3, 0.6)
        nearest = f"; close matches: {', '.join(close)}" if close else ""
        raise InputError(
            given.what,
            repr(given.text),
            f"of a reagent ({', '.join(reagents.reagents)}) or of a salt that 'crystal salts' lists, not of "
            f"{text!r}{nearest}",
            _EXAMPLE,
        ) from None


def concentration(
    given: Given,
    catalogue: Catalogue,
    *,
    temperature_C: float,
    solute: Solute | None = None,
    density: Given | None = None,
) -> Concentration:
    """The solution that a text tells, at a temperature.

    Parameters
    ----------
    given : Given
        A strength on any basis, or water, with its solute unless ``solute`` says which.
    catalogue : Catalogue
        Where salts are looked up.
    temperature_C : float
        Temperature of its volumes, °C.
    solute : Solute, optional
        What is dissolved; a text that names another is refused.
    density : Given, optional
        The solution's density as its label states it.
    """
    read = units.solution(given.text, what=given.what)
    if read.solute:
        own = solute_named(read.solute, given, catalogue)
        if solute is not None and own.formula != solute.formula:
            raise InputError(
                given.what,
                repr(given.text),
                f"of {solute.formula}, not of {own.formula}",
                f"18.5 % w/w {solute.formula}",
            )
        solute = solute or own
    elif solute is None:
        if read.kind == "volumes":
            solute = solute_named("H2O2", given, catalogue)
        elif read.kind == "water":
            raise InputError(given.what, repr(given.text), "a solution with its solute", _EXAMPLE)
        else:
            raise InputError(
                given.what, repr(given.text), "told with what is dissolved", f"{given.text.strip()} HCl"
            )
    with named(given, density):
        return _read(read, solute, temperature_C, density)


def _read(
    read: units.SolutionText, solute: Solute, temperature_C: float, density: Given | None
) -> Concentration:
    stated, at = None, temperature_C
    if density is not None:
        if read.kind not in ("strength", "volumes"):
            raise InputError(
                density.what, repr(density.text), "left out where the text tells the density itself"
            )
        stated, measured_C = units.density_at(density.text, what=density.what)
        at = temperature_C if measured_C is None else measured_C
    if read.kind == "water":
        return Concentration.water(solute, temperature_C)
    if read.kind == "density_g_mL":
        at = temperature_C if read.temperature_C is None else read.temperature_C
        return Concentration.of_density(solute, read.value, temperature_C=at).at(temperature_C)
    if read.kind == "specific_gravity":
        return Concentration.of_specific_gravity(solute, read.value, temperature_C=temperature_C)
    if read.kind == "baume":
        scale = BAUME_RATIONAL if read.scale == "rational" else BAUME_US
        return Concentration.of_baume(solute, read.value, scale=scale, temperature_C=temperature_C)
    if read.kind == "volumes":
        return Concentration.of_peroxide_volumes(
            solute, read.value, temperature_C=at, density_g_mL=stated
        ).at(temperature_C)
    assert read.strength is not None
    strength = strength_of(read.strength)
    with naming_density(density):
        return Concentration.of(solute, strength, temperature_C=at, density_g_mL=stated).at(temperature_C)


@contextmanager
def naming_density(density: Given | None) -> Iterator[None]:
    """A fault of the density under the density's own name."""
    try:
        yield
    except InputError as error:
        if density is not None and error.what == "density":
            raise InputError(density.what, repr(density.text), error.must_be, error.example) from None
        raise


def strength_of(read: units.Strength, counted: Hydrate | None = None) -> Strength:
    """The strength with what it counts: the hydrate that it names, else ``counted``, else the anhydrous solute."""
    formula = read.formula or counted
    share = 1.0 if formula is None or not formula.waters else formula.salt_mass_fraction
    return Strength(read.kind, read.value, share)


def portion(given: Given, catalogue: Catalogue, *, temperature_C: float, solute: Solute | None) -> Portion:
    """So much of a solution, or of water where ``solute`` tells in what it is mixed."""
    read = units.taken(given.text, what=given.what)
    if not read.of or read.kind == "mol":
        raise InputError(
            given.what, repr(given.text), "a volume or a mass of a solution", f"100 mL of {_EXAMPLE}"
        )
    whole = concentration(Given(read.of, given.what), catalogue, temperature_C=temperature_C, solute=solute)
    if read.kind == "mL":
        return Portion.of(whole, volume_mL=read.value)
    return Portion.of(whole, mass_g=read.value)


@dataclass(frozen=True, slots=True)
class Used:
    """A charge, with what the density of its solution rests on."""

    charge: Charge
    warnings: tuple[str, ...] = ()


def used(given: Given, catalogue: Catalogue, *, temperature_C: float) -> Used:
    """The charge that a text such as "HCl = 200 mL of 18.5 % w/w" tells.

    Parameters
    ----------
    given : Given
        Formula or name, equals sign, then grams, moles, or a mass, volume or moles of a strength.
    catalogue : Catalogue
        Where salts are looked up.
    temperature_C : float
        Temperature at which volumes are read, °C.

    Raises
    ------
    InputError
        Naming what cannot be read, or a volume of what has no strength or no known density.
    """
    name, sign, text = given.text.partition("=")
    if not (sign and name.strip() and text.strip()):
        raise InputError(
            given.what, repr(given.text), "a formula, an equals sign and an amount", "H2SO4=500 g of 12 % w/w"
        )
    formula = _formula(name.strip(), given, catalogue)
    species = Species.parse(formula)
    read = units.taken(text, what=given.what)
    grams = read.value * (species.molar_mass_g_mol if read.kind == "mol" else 1.0)
    if species.is_water and (not read.of or _is_water(read.of)):
        water = Concentration.water(solute_named("HCl", given, catalogue), temperature_C)
        return Used(Charge(formula, read.value * water.density_g_mL if read.kind == "mL" else grams))
    if read.of[:1].isdigit() or read.of[:2].lower() in ("sg", "sp"):
        return _used_solution(read, formula, species, given, catalogue, temperature_C)
    if read.of:
        solid = _formula(read.of, given, catalogue)
        weighed = Species.parse(solid)
        if not weighed.without_water().is_same(species.without_water()):
            raise InputError(
                given.what, repr(given.text), f"an amount of {formula} or of a hydrate of it, not of {solid}",
                f"{formula}=32.7 g",
            )  # fmt: skip
        formula = solid
        grams = read.value * (weighed.molar_mass_g_mol if read.kind == "mol" else 1.0)
    if read.kind == "mL":
        raise InputError(
            given.what,
            repr(given.text),
            "a mass, moles, or a volume of a strength",
            f"{formula}=200 mL of 18.5 % w/w",
        )
    return Used(Charge(formula, grams))


def _is_water(text: str) -> bool:
    try:
        return units.solution(text, what="").kind == "water"
    except InputError:
        return False


def _formula(name: str, given: Given, catalogue: Catalogue) -> str:
    """A formula as it is written, or that of a reagent or salt called by its name."""
    try:
        return Species.parse(name).formula
    except InputError as fault:
        if name.lower() == "water":
            return "H2O"
        reagents = Reagents.bundled()
        if name in reagents:
            return reagents.find(name).formula
        try:
            return catalogue.find(name).formula
        except InputError:
            raise InputError(given.what, repr(given.text), fault.must_be, fault.example) from None


def _used_solution(
    read: units.Taken,
    formula: str,
    species: Species,
    given: Given,
    catalogue: Catalogue,
    temperature_C: float,
) -> Used:
    """A charge with its water, told by a strength."""
    solute, is_known = _solute_of(species.without_water(), catalogue)
    text = Given(read.of, given.what)
    strong = units.solution(read.of, what=given.what)
    by_mass = strong.strength is not None and strong.strength.kind in (
        "mass_fraction", "g_per_g_water", "mol_per_kg_water",
    )  # fmt: skip
    if not is_known and (read.kind == "mL" or not by_mass):
        raise InputError(
            given.what,
            repr(given.text),
            f"a mass of a strength by mass: the density of {solute.formula} solutions is not in the data",
            f"{formula}=500 g of 12 % w/w",
        )
    if strong.solute:
        own = Species.parse(_formula(strong.solute, given, catalogue)).without_water()
        if not own.is_same(species.without_water()):
            raise InputError(
                given.what,
                repr(given.text),
                f"a solution of {formula}, not of {own.formula}",
                f"{formula}=500 g of 12 % w/w",
            )
    with named(given):
        if strong.strength is not None:
            counted = Hydrate.parse(formula) if species.waters else None
            whole = Concentration.of(
                solute, strength_of(strong.strength, counted), temperature_C=temperature_C
            )
        elif strong.kind == "water":
            raise InputError(
                given.what, repr(given.text), "a solution with its strength", f"{formula}=500 g of 12 % w/w"
            )
        else:
            whole = concentration(
                Given(text.text, given.what), catalogue, temperature_C=temperature_C, solute=solute
            )
    dry = species.without_water().formula
    if read.kind == "mol":
        grams = read.value * solute.molar_mass_g_mol
        mass_g = grams / whole.mass_fraction
    else:
        mass_g = read.value * (whole.density_g_mL if read.kind == "mL" else 1.0)
        grams = mass_g * whole.mass_fraction
    rests = tuple(whole.warnings) if read.kind == "mL" or not by_mass else ()
    return Used(Charge(dry, grams, water_g=mass_g - grams), rests)


def _solute_of(species: Species, catalogue: Catalogue) -> tuple[Solute, bool]:
    """The substance as a solute, and whether the density of its solutions is known."""
    for reagent in Reagents.bundled().reagents.values():
        if Species.parse(reagent.formula).is_same(species):
            return Solute.of_reagent(reagent), True
    for formula, salt in catalogue.salts.items():
        if Species.parse(formula).is_same(species):
            solute = Solute.of(salt)
            return solute, not getattr(solute.density, "is_estimate", False)
    return Solute.of(Salt(species.formula, species.formula)), False
