"""Facts on a batch as a person writes them, made into pots and end points.

The command line and the batch file both hand in texts under the same keys; each text carries the name that errors call
it by.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace

from crystal import units
from crystal.bench import pot as bench
from crystal.bench.batch import Batch, Seen
from crystal.bench.cooling import LOOSE_BED, SET_SHARE
from crystal.data.catalogue import Catalogue
from crystal.data.reagents import Reagents
from crystal.errors import CoverageError, InputError
from crystal.physics.formula import Hydrate
from crystal.physics.model import Model
from crystal.physics.others import NOTHING, Others
from crystal.physics.species import Species
from crystal.physics.vapour import STANDARD_kPa, pressure_at_altitude_kPa
from crystal.units import heat

CONTENTS = ("holds", "strength", "density")
SIZES = ("volume", "mass", "water")
REDUCTIONS = ("to", "remove")
AIRS = ("altitude", "pressure")

_EXAMPLES = {"volume": "400 mL", "mass": "500 g", "water": "350 g"}

LOWEST_AIR_kPa, HIGHEST_AIR_kPa = 20.0, 110.0

_CLOSE = 1e-6  # an end point this near to the start, relative, is the start


@dataclass(frozen=True, slots=True)
class Given:
    """One text and the name of the input that it was given in."""

    text: str
    what: str


Facts = Mapping[str, Given]


def overriding(base: Facts, over: Facts) -> dict[str, Given]:
    """Facts with others laid over them; of content, size, reduction and air a new one ousts all old ones of its group."""
    kept = dict(base)
    for group in (CONTENTS, SIZES, REDUCTIONS, AIRS):
        if any(key in over for key in group):
            kept = {key: given for key, given in kept.items() if key not in group}
    return kept | dict(over)


def model_of(facts: Facts, catalogue: Catalogue) -> Model:
    """The model of the salt that the facts name."""
    given = facts.get("salt")
    if given is None:
        raise InputError("SALT", "nothing", "the salt's formula or name", "CuSO4")
    return Model.of(catalogue.find(given.text))


def pot_of(model: Model, facts: Facts, catalogue: Catalogue | None = None) -> bench.Pot:
    """The pot that two of the facts tell; its volume is read at ``at``, 20 °C unless told."""
    at = temperature(facts, "at", bench.ROOM_C)
    got = {key: facts[key] for key in (*CONTENTS, *SIZES) if key in facts}
    holds = amount(model, got["holds"], facts.get("salt")) if "holds" in got else None
    strength = solution_strength(model, got["strength"]) if "strength" in got else None
    density = None
    if "density" in got:
        value, measured_C = units.density_at(got["density"].text, what=got["density"].what)
        density = value, at if measured_C is None else measured_C
    volume = units.volume_mL(got["volume"].text, what=got["volume"].what) if "volume" in got else None
    mass = units.mass_g(got["mass"].text, what=got["mass"].what) if "mass" in got else None
    water = units.mass_g(got["water"].text, what=got["water"].what) if "water" in got else None
    others = others_of(model, facts["with"], catalogue) if "with" in facts else NOTHING
    others = replace(others, plain="plain" in facts)
    try:
        return bench.Pot.from_facts(
            model, holds=holds, strength=strength, density=density,
            volume_mL=volume, mass_g=mass, water_g=water, read_at_C=at, others=others,
        )  # fmt: skip
    except InputError as error:
        raise _renamed(error, got) from None


def others_of(model: Model, given: Given, catalogue: Catalogue | None = None) -> Others:
    """What is dissolved beside the salt: amounts of substances, parted by semicolons."""
    amounts: dict[str, float] = {}
    for text in (part.strip() for part in given.text.split(";")):
        one = Given(text, given.what)
        read = units.taken(text, what=given.what)
        if read.kind == "mL" or not read.of:
            raise InputError(
                one.what,
                repr(text),
                "a mass or moles of a dissolved substance, by its formula",
                "12 g of HCl",
            )
        formula, molar_mass = _substance(model, read.of, one)
        grams = read.value * (molar_mass if read.kind == "mol" else 1.0)
        amounts[formula] = amounts.get(formula, 0.0) + grams
    return Others.of(amounts, catalogue)


def _substance(model: Model, text: str, given: Given) -> tuple[str, float]:
    """Formula and molar mass of a substance beside the salt; reagents go by their names too."""
    reagents = Reagents.bundled()
    formula = reagents.find(text).formula if text in reagents and "." not in text else text
    try:
        species = Species.parse(formula)
    except InputError as error:
        raise InputError(given.what, repr(given.text), error.must_be, "12 g of HCl") from None
    if species.is_water or species.waters:
        raise InputError(
            given.what,
            repr(given.text),
            "a substance without its water, which counts as water of the pot",
            "12 g of HCl",
        )
    if species.is_same(Species.parse(model.salt.formula)):
        raise InputError(
            given.what,
            repr(given.text),
            f"another substance than the pot's salt, {model.salt.formula}",
            "12 g of HCl",
        )
    return species.formula, species.molar_mass_g_mol


def _renamed(error: InputError, got: Facts) -> InputError:
    """The bench's error under the names that the person used."""
    names = {
        "--start": "volume", "--mass": "mass", "--water": "water",
        "--holds": "holds", "--strength": "strength", "--density": "density",
        "strength": "strength", "density": "density",
    }  # fmt: skip
    what = error.what
    if what in names:
        key = names[what]
        if key == "density" and key not in got:  # the density was told by mass and volume
            what = (
                f"{got['mass'].what} over {got['volume'].what}" if "mass" in got and "volume" in got else what
            )
        elif key in got:
            what = got[key].what
    example = error.example or _EXAMPLES.get(names.get(error.what, ""), "")
    text = error.got
    for option, key in names.items():
        if option.startswith("--") and key in got:
            text = text.replace(option, got[key].what)
    return InputError(what, text, error.must_be, example)


def amount(model: Model, given: Given, salt: Given | None = None) -> bench.Amount:
    """An amount of the salt or of any of its hydrates; without a formula it counts the anhydrous salt."""
    read = units.amount_of(given.text, what=given.what)
    if read.formula is None:
        if salt is not None and "h2o" in salt.text.lower():
            raise InputError(
                given.what, repr(given.text), "an amount with the formula that was weighed",
                f"{given.text.strip()} of {salt.text.strip()}",
            )  # fmt: skip
        return bench.Amount(read.grams)
    require_same_salt(model, read.formula, given)
    return bench.Amount(read.grams, read.formula.salt_mass_fraction)


def solution_strength(model: Model, given: Given) -> bench.Strength:
    """A strength of the salt; a hydrate that it names is what it counts."""
    return _bench_strength(model, units.strength(given.text, what=given.what), given)


def strength_mass_fraction(model: Model, given: Given, temperature_C: float) -> float:
    """Salt / (salt + water) of a solution as strong as the text says, read at a temperature."""
    strength = solution_strength(model, given)
    try:
        return strength.mass_fraction(model, temperature_C)
    except InputError as error:
        raise InputError(given.what, repr(given.text), error.must_be, error.example) from None


def _bench_strength(model: Model, read: units.Strength, given: Given) -> bench.Strength:
    if read.formula is None:
        return bench.Strength(read.kind, read.value)
    require_same_salt(model, read.formula, given)
    return bench.Strength(read.kind, read.value, read.formula.salt_mass_fraction)


def require_same_salt(model: Model, formula: Hydrate, given: Given) -> None:
    """Refuse a formula that is not of this salt, naming both."""
    from molmass import Formula

    own = model.salt.formula
    if formula.anhydrous != own and Formula(formula.anhydrous).formula != Formula(own).formula:
        hydrates = [phase.formula for phase in model.salt.phases if phase.waters]
        raise InputError(
            given.what, repr(given.text), f"of {own} or one of its hydrates, not of {formula.anhydrous}",
            (hydrates or [own])[0],
        )  # fmt: skip


@contextmanager
def naming_the_cold(facts: Facts) -> Iterator[None]:
    """Say which input lies outside the data where the final temperature does, with one that lies inside."""
    try:
        yield
    except CoverageError as error:
        given = facts.get("cool_to")
        if given is None or not error.covered_degC:
            raise
        low, high = error.covered_degC[0]
        inside = min(max(20.0, math.ceil(low)), math.floor(high))
        raise CoverageError(
            f"{given.what}: {error}, for example {inside:g} degC", error.covered_degC
        ) from None


def temperature(facts: Facts, key: str, otherwise: float) -> float:
    """A temperature among the facts, °C."""
    given = facts.get(key)
    return otherwise if given is None else units.temperature_C(given.text, what=given.what)


def optional_temperature(facts: Facts, key: str) -> float | None:
    """A temperature among the facts, °C; None where it is not given."""
    given = facts.get(key)
    return None if given is None else units.temperature_C(given.text, what=given.what)


def bed_fraction(facts: Facts) -> float:
    """Solids' share of the settled crystals' volume."""
    given = facts.get("bed")
    if given is None:
        return LOOSE_BED
    text = given.text.strip()
    try:
        value = float(text.removesuffix("%")) / (100.0 if text.endswith("%") else 1.0)
    except ValueError:
        value = -1.0
    if not 0.0 < value < SET_SHARE:
        raise InputError(
            given.what, repr(given.text), f"a share of the volume above 0 and below {SET_SHARE:g}", "0.55"
        )
    return value


def pressure_kPa(facts: Facts) -> float:
    """The air's pressure by the altitude or the barometer, the sea's unless told, kPa."""
    high, air = facts.get("altitude"), facts.get("pressure")
    if high is not None and air is not None:
        raise InputError(f"{high.what} and {air.what}", "both", "only one of the two", '"800 m"')
    if air is not None:
        value = heat.pressure_kPa(air.text, what=air.what)
        if not LOWEST_AIR_kPa <= value <= HIGHEST_AIR_kPa:
            raise InputError(
                air.what,
                repr(air.text),
                f"the open air's, {LOWEST_AIR_kPa:g} to {HIGHEST_AIR_kPa:g} kPa",
                "94.5 kPa",
            )
        return value
    if high is None:
        return STANDARD_kPa
    try:
        return pressure_at_altitude_kPa(heat.altitude_m(high.text, what=high.what))
    except InputError as error:
        raise InputError(high.what, repr(high.text), error.must_be, error.example) from None


def vessel_mL(facts: Facts) -> float | None:
    """Capacity of the vessel; None where it is not given."""
    given = facts.get("vessel")
    return None if given is None else units.volume_mL(given.text, what=given.what)


def end_mass_fractions(
    start: bench.Pot, sizes: Iterable[units.Size], given: Given, read_at_C: float
) -> list[float]:
    """Compositions of a pot reduced to these sizes, their volumes read at ``read_at_C``."""
    return [start.salt_g / (start.salt_g + _water_at(start, size, given, read_at_C)) for size in sizes]


def _water_at(start: bench.Pot, size: units.Size, given: Given, read_at_C: float) -> float:
    """Water left when the pot is reduced to a size, g."""
    if size.kind == "mass_g":
        water = size.value - start.salt_g - start.others.total_g
    elif size.kind in ("volume_mL", "fraction"):
        volume = size.value if size.kind == "volume_mL" else size.value * start.volume_mL()
        water = float(start.water_for_volume(volume, read_at_C))
    elif size.kind == "density_g_mL":
        water = start.water_for_density(size.value, read_at_C)
    else:
        assert size.strength is not None
        strength = _bench_strength(start.model, size.strength, given)
        try:
            water = start.water_for_strength(strength, read_at_C)
        except InputError as error:
            raise InputError(given.what, repr(given.text), error.must_be, error.example) from None
    if water > start.water_g * (1.0 + _CLOSE):
        raise InputError(
            given.what, repr(given.text),
            f"no larger than the start ({start.volume_mL():.4g} mL at {start.read_at_C:g} degC, {start.mass_g:.4g} g, "
            f"{100 * start.mass_fraction:.4g} mass % {start.model.salt.formula}); reducing takes water away",
            _half(start),
        )  # fmt: skip
    if water <= 1e-9 * start.salt_g:
        least, dry_g = float(start.volume_of(0.0, read_at_C)), start.salt_g + start.others.total_g
        raise InputError(
            given.what, repr(given.text),
            f"larger than the dry {'matter' if start.others else 'salt'} alone ({least:.4g} mL, {dry_g:.4g} g of "
            f"{' and '.join([start.model.salt.formula, *start.others.formulas])})", _half(start),
        )  # fmt: skip
    return min(water, start.water_g)


def _half(start: bench.Pot) -> str:
    return f"{start.volume_mL() / 2:.2g} mL" if start.volume_mL() < 100 else f"{start.volume_mL() / 2:.0f} mL"


def end_water_g(start: bench.Pot, facts: Facts, read_at_C: float) -> float | None:
    """Water left at the end of reducing, g; None where the facts tell of no reducing."""
    to, remove = facts.get("to"), facts.get("remove")
    if to is not None and remove is not None:
        raise InputError(f"{to.what} and {remove.what}", "both", "only one of the two", '"150 mL"')
    if to is not None:
        return _water_at(start, units.end_size(to.text, what=to.what), to, read_at_C)
    if remove is None:
        return None
    kind, value = units.removal(remove.text, what=remove.what)
    removed = value * start.water_g if kind == "water_fraction" else value
    if removed >= start.water_g:
        raise InputError(
            remove.what, repr(remove.text), f"less than the water in the pot ({start.water_g:.4g} g)", '"5 %"'
        )
    return start.water_g - removed


def batch_of(start: bench.Pot, facts: Facts, *, title: str = "", seen: tuple[Seen, ...] = ()) -> Batch:
    """The batch that begins with a pot, as far as the facts tell it."""
    read_at = temperature(facts, "read_at", bench.ROOM_C)
    return Batch(
        start,
        title=title,
        end_water_g=end_water_g(start, facts, read_at),
        cool_to_C=optional_temperature(facts, "cool_to"),
        read_at_C=read_at,
        boil_at_C=optional_temperature(facts, "boil_at"),
        bed=bed_fraction(facts),
        vessel_mL=vessel_mL(facts),
        pressure_kPa=pressure_kPa(facts),
        seen=seen,
    )
