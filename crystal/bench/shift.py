"""What others in the pot do to the salt's solubility, with its doubt, in numbers and in sentences."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from crystal.bench.cooling import Cooled
from crystal.bench.pot import Pot
from crystal.bench.set_free import gas_cautions
from crystal.data.catalogue import Catalogue
from crystal.data.ion_mixing import MixtureNote, bundled_mixture_notes
from crystal.physics.boiling_beside import TRACE
from crystal.physics.company import Company, MixedEquilibrium, company_of, moles_of, reason_untold
from crystal.physics.company_doubt import NO_DIRECTION
from crystal.physics.ion_parameters import ions_in

NEAR_ROOM_K = 15.0
"""Beyond this distance from 25 °C it is said that the parameters are of 25 °C."""


@dataclass(frozen=True, slots=True)
class Shift:
    """The saturated liquor of a pot against the salt's own at one temperature.

    ``factor`` is mol of salt per kg of water over the same without company, ``doubt`` the relative standard uncertainty
    of the shifted solubility. ``used`` tells how much of the parameters' range the liquor uses (1: up to its end).
    """

    temperature_C: float
    others_mass_percent: float
    factor: float
    doubt: float
    used: float
    solid: str

    @classmethod
    def of(cls, pot: Pot, temperature_C: float, water_g: float | None = None) -> Shift | None:
        """The shift in a pot's liquor; None without others, where none can be told, or where told to be plain.

        Parameters
        ----------
        pot : Pot
            The pot.
        temperature_C : float
            Temperature, °C.
        water_g : float, optional
            Water of the liquor, g; the pot's own unless given.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> from crystal.physics.model import Model
        >>> from crystal.physics.others import Others
        >>> model = Model.of(Catalogue.bundled().find("CuSO4"))
        >>> pot = Pot(model, 60.0, 400.0, others=Others.of({"H2SO4": 20.0}))
        >>> shift = Shift.of(pot, 20.0)
        >>> round(shift.percent), round(shift.doubt_percent)
        (-12, 10)
        """
        company = company_of(pot.model, pot.others)
        low, high = pot.model.map.low_C, pot.model.map.high_C
        if company is None or not low <= temperature_C <= high:
            return None
        water = pot.water_g if water_g is None else water_g
        molality = 1000.0 * sum(moles_of(pot.others.amounts_g).values()) / water
        found = company.shift(temperature_C, molality)
        if found is None:
            return None
        whole = pot.salt_g + water + pot.others.total_g
        return cls(temperature_C, 100.0 * pot.others.total_g / whole, *found)

    @classmethod
    def of_cooled(cls, cooled: Cooled, index: int) -> Shift | None:
        """The shift in the liquor that a cooled pot holds; None likewise, and where no liquor is left."""
        total = float(cooled.salt_g[index] + cooled.water_g[index])
        state = cooled.equilibrium
        solution = total * float(state.liquor_fraction[index])
        water = solution * (1.0 - float(state.liquor_mass_fraction[index]))
        if not cooled.others or water <= 0:
            return None
        left = float(state.others_left[index]) if isinstance(state, MixedEquilibrium) else 1.0
        pot = Pot(cooled.model, solution - water, water, others=cooled.others)
        return cls.of(pot, float(cooled.temperature_C[index]), water / max(left, 1e-12))

    @property
    def percent(self) -> float:
        return 100.0 * (self.factor - 1.0)

    @property
    def doubt_percent(self) -> float:
        """Of the solubility without company."""
        return 100.0 * self.factor * self.doubt

    def sentence(self, pot: Pot, where: str) -> str:
        """The shift in words, told of the liquor there."""
        it = "it" if len(pot.others.formulas) == 1 else "they"
        word = ("lower" if self.percent < 0 else "raise") + ("s" if it == "it" else "")
        return (
            f"As {self.others_mass_percent:.2g} % of the solution {where}, {it} {word} the solubility of "
            f"{pot.model.salt.formula} at {self.temperature_C:g} °C by about {abs(self.percent):.2g} ± "
            f"{self.doubt_percent:.2g} % (salt per water); this is reckoned with, --plain leaves it out."
        )


def curve_doubt_beside(pot: Pot, temperature_C: float) -> float:
    """Standard uncertainty that the shift adds to the saturated liquor, mass fraction, where crystals begin; 0 without one."""
    company = company_of(pot.model, pot.others)
    if company is None or not pot.model.map.low_C <= temperature_C <= pot.model.map.high_C:
        return 0.0
    pure = float(company.curves.table(np.array([float(temperature_C)])).pure_molality[0])
    if not np.isfinite(pure):
        return 0.0
    water = min(pot.water_g, pot.salt_g / pot.model.molar_mass_g_mol / pure * 1000.0)
    shift = Shift.of(pot, temperature_C, water)
    if shift is None:
        return 0.0
    per_water = shift.factor * pure * pot.model.molar_mass_g_mol / 1000.0
    w = per_water / (1.0 + per_water)
    return w * (1.0 - w) * shift.doubt  # of ln s; dw = w (1 - w) d ln s


def company_notes(pot: Pot, temperature_C: float, water_g: float | None = None) -> list[str]:
    """Everything to be said of a pot's others: the shift or why there is none, its limits, known other solids, gases.

    Parameters
    ----------
    pot : Pot
        The pot.
    temperature_C : float
        Temperature that it is cooled to, °C.
    water_g : float, optional
        Water where crystals begin, g; what is said then counts there, else at the pot's own water.
    """
    if not pot.others:
        return []
    salt = pot.model.salt.formula
    shift = Shift.of(pot, temperature_C, water_g)
    where = "that is cooled" if water_g is None else "where crystals begin"
    named = ", ".join(f"{grams:.3g} g of {formula}" for formula, grams in pot.others.amounts_g.items())
    if shift is None and not pot.others.plain and pot.others.total_g < TRACE * pot.salt_g:
        return [f"The pot also holds {named}: a trace, which is left out of solubility and boiling."]
    if shift is None:
        reason = None if pot.others.plain else reason_untold(pot.model, pot.others)
        said = pot.others.warnings(salt, either_way=reason is not None and NO_DIRECTION in reason)
        if reason is not None:
            said.append(
                f"How far they shift it is not told: {reason}. Saturate a little of the liquor at a known temperature "
                "and weigh what it holds: a curve calibrated so counts for this pot."
            )
    else:
        said = [
            f"The pot also holds {named}. {shift.sentence(pot, where)}",
            *_limits(pot, shift),
            *pot.others.volume_notes(),
        ]
    said += _exchanged(salt, pot.others.formulas)
    said += [_told(note) for note in notes_on(salt, pot.others.formulas)]
    return said + gas_cautions(salt, pot.others.formulas)


def _exchanged(salt: str, others: tuple[str, ...]) -> list[str]:
    """The salts that exchanged ions would make, where the catalogue has them."""
    mine = {ion for ion, _ in ions_in(salt) or ()}
    made: dict[str, None] = {}
    for other in others:
        theirs = {ion for ion, _ in ions_in(other) or ()}
        if not mine or not theirs or mine & theirs:
            continue
        for formula in Catalogue.bundled().salts:
            ions = {ion for ion, _ in ions_in(formula) or ()}
            if ions and ions <= mine | theirs and ions not in (mine, theirs):
                made[formula] = None
    if not made:
        return []
    return [
        f"The ions may change partners: {' or '.join(made)} may come when the pot is reduced far, which is not reckoned with "
        "here; 'crystal separate' does."
    ]


def _limits(pot: Pot, shift: Shift) -> list[str]:
    said = []
    company = company_of(pot.model, pot.others)
    assert company is not None
    if shift.used > 1.0:
        said.append(
            f"The liquor lies beyond the range that the ion parameters were fitted over ({shift.used:.3g} times its end): "
            "the shift is a rough guess there."
        )
    if company.beside.mixture.by_analogy:
        pairs = ", ".join(f"{cation} with {anion}" for cation, anion in company.beside.mixture.by_analogy)
        said.append(f"For {pairs} magnesium's parameters stand in: none of its own are in the data.")
    if abs(shift.temperature_C - 25.0) > NEAR_ROOM_K:
        said.append(
            f"The ion parameters are those of 25 °C, {abs(shift.temperature_C - 25.0):.0f} K away; the doubt counts that."
        )
    if pot.model.solid_index(shift.solid) >= 0 and not _is_own(company, shift):
        said.append(
            f"{shift.solid} comes outside its own range here, because of what else is in the pot; its curve is extended "
            "to that temperature."
        )
    return said


def _is_own(company: Company, shift: Shift) -> bool:
    product = next(p for p in company.products.of_solids if p.solid.formula == shift.solid)
    return bool(product.is_own(shift.temperature_C))


def _told(note: MixtureNote) -> str:
    at = f" at {note.temperature} °C" if note.temperature else ""
    recalled = ", recalled" if note.provenance == "memory" else ""
    return f"Known of {note.system}{at}: {note.statement} ({note.source or 'no source'}{recalled})."


def notes_on(salt: str, others: tuple[str, ...]) -> list[MixtureNote]:
    """What the data say in words on this salt beside each of these."""
    pairs = {frozenset((salt, other)) for other in others}
    return [note for note in bundled_mixture_notes() if pairs & set(_pairs_of(note.system))]


def _pairs_of(system: str) -> list[frozenset[str]]:
    """The pairs that a note's heading names; ``K2SO4-MSO4 (Cu Ni Co)`` is three.

    Examples
    --------
    >>> sorted(sorted(pair) for pair in _pairs_of("K2SO4-MSO4 (Cu Ni)"))
    [['CuSO4', 'K2SO4'], ['K2SO4', 'NiSO4']]
    """
    found = re.fullmatch(r"(?P<pair>[^ ]+?)(?: \((?P<metals>[A-Za-z, ]+)\))?", system)
    if found is None:
        return []
    metals = re.findall(r"[A-Z][a-z]?", found["metals"] or "")
    texts = [re.sub(r"\bM(?=SO4)", metal, found["pair"]) for metal in metals] or [found["pair"]]
    return [frozenset(text.split("-")) for text in texts]
