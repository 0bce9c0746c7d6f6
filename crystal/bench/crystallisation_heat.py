"""Heat that crystals give off as they come, and where a pot that keeps its heat ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from crystal.bench.cooling import UNKNOWN, Cooled
from crystal.bench.pot import Pot
from crystal.errors import InputError
from crystal.physics.formula import Hydrate
from crystal.physics.heat import heat_given_off_kJ
from crystal.physics.heat_capacity import solid_J_K, solution_J_K
from crystal.physics.model import Model
from crystal.physics.species import WATER, Species

_SPAN_K = 60.0
_SCAN = 241


def heat_given_off_kJ_mol(solid: str) -> tuple[float | None, tuple[str, ...]]:
    """Heat of crystallising from a dilute solution at 25 °C, from standard enthalpies of formation.

    Parameters
    ----------
    solid : str
        Formula with its crystal water.

    Returns
    -------
    (float or None, tuple of str)
        kJ per mole of the solid, positive where the pot warms; None with the substances that have no value. From strong
        liquors it is often 10 to 30 % off, sometimes more: the heat of dilution is not in it.

    Examples
    --------
    >>> heat, missing = heat_given_off_kJ_mol("MgSO4.7H2O")
    >>> round(heat, 1), missing
    (11.9, ())
    """
    plain = solid.split("-")[0]  # crystal forms of one composition share its value
    hydrate = Hydrate.parse(plain)
    amounts = [
        (-1.0, Species.parse(hydrate.anhydrous), "aq"),
        (1.0, Species.parse(plain), "s"),
    ]
    if hydrate.waters:
        amounts.append((-hydrate.waters, WATER, "l"))
    return heat_given_off_kJ(amounts)


def heat_given_off_kJ_g(solid: str) -> float | None:
    """The same per gram of crystals; None where a value is missing."""
    heat, _ = heat_given_off_kJ_mol(solid)
    return None if heat is None else heat / Hydrate.parse(solid.split("-")[0]).molar_mass_g_mol


@dataclass(frozen=True, slots=True)
class HeatOfCooling:
    """Heat to be carried off while a pot cools, kJ: that of cooling it, and that of its crystals (None: not in the data)."""

    sensible_kJ: float
    crystals_kJ: float | None
    missing: tuple[str, ...]

    @classmethod
    def of(cls, pot: Pot, from_C: float, cooled: Cooled) -> HeatOfCooling:
        """Reckon the heat between a clear hot pot and one cooled state of it."""
        sensible = heat_capacity_J_K(pot, cooled) * (from_C - float(cooled.temperature_C)) / 1000.0
        total, missing = 0.0, []
        for solid, grams in cooled.solids_g():
            if solid == "ice":
                total += 0.334 * grams
                continue
            heat = heat_given_off_kJ_g(solid)
            if heat is None:
                missing.append(solid)
            else:
                total += heat * grams
        return cls(sensible, None if missing else total, tuple(missing))


@dataclass(frozen=True, slots=True)
class InsulatedPot:
    """A pot that keeps its heat: it is left clear at one temperature and warms as its crystals come.

    ``to_C`` is where heat and solubility agree, ``crystals_g`` what stands in it then.
    """

    from_C: float
    to_C: float
    crystals_g: float
    solid: str | None

    @classmethod
    def of(cls, pot: Pot, from_C: float) -> InsulatedPot:
        """Solve for the final temperature.

        Parameters
        ----------
        pot : Pot
            Clear and supersaturated at ``from_C``, as after cooling without crystals.
        from_C : float
            Temperature at which crystals begin, °C.

        Raises
        ------
        InputError
            Where a heat of crystallising is not in the data, or no final temperature lies within 60 K.
        CoverageError
            Where the data do not tell what stands in the pot at ``from_C``.

        Examples
        --------
        >>> from crystal.data.catalogue import Catalogue
        >>> pot = Pot(Model.of(Catalogue.bundled().find("KNO3")), 50.0, 100.0)
        >>> found = InsulatedPot.of(pot, 15.0)
        >>> 15.0 < found.to_C < 32.0
        True
        """
        start = Cooled.of(pot.model, pot.salt_g, pot.water_g, from_C, others=pot.others)
        if float(start.crystals_g) <= 0:
            return cls(from_C, from_C, 0.0, None)
        off = _unbalanced_J(pot, from_C, start)
        grid = np.linspace(from_C, from_C + (_SPAN_K if off < 0 else -_SPAN_K), _SCAN)
        before, last = from_C, off
        for t in grid[1:]:
            state = _state(pot, float(t))
            if state is None:
                break
            here = _unbalanced_J(pot, from_C, state)
            if (here > 0) != (last > 0) or here == 0.0:
                return cls._between(pot, from_C, before, float(t), last)
            before, last = float(t), here
        raise InputError(
            "--insulated-from", f"{from_C:g} degC",
            f"a temperature from which an end within {_SPAN_K:g} K lies inside the data", "20 degC",
        )  # fmt: skip

    @classmethod
    def _between(cls, pot: Pot, from_C: float, a: float, b: float, off_a: float) -> InsulatedPot:
        for _ in range(60):
            middle = (a + b) / 2
            state = _state(pot, middle)
            assert state is not None
            if (_unbalanced_J(pot, from_C, state) > 0) == (off_a > 0):
                a = middle
            else:
                b = middle
        state = _state(pot, (a + b) / 2)
        assert state is not None
        name = pot.model.solid_name(int(state.main_solid))
        return cls(from_C, (a + b) / 2, float(state.crystals_g), name)


def heat_capacity_J_K(pot: Pot, cooled: Cooled) -> float:
    """Heat capacity of a pot with what stands in it, by the rules of `crystal.physics.heat_capacity`."""
    in_crystals = float(cooled.salt_in_crystals_g)
    bound = float(cooled.crystals_g + cooled.ice_g) - in_crystals
    solid = float(solid_J_K(in_crystals, bound))
    dissolved = pot.salt_g - in_crystals + pot.others.total_g
    return solid + float(solution_J_K(dissolved, pot.water_g - bound))


def _state(pot: Pot, temperature_C: float) -> Cooled | None:
    state = Cooled.of(pot.model, pot.salt_g, pot.water_g, temperature_C, strict=False, others=pot.others)
    return None if int(state.outcome) == UNKNOWN else state


def _unbalanced_J(pot: Pot, from_C: float, state: Cooled) -> float:
    """Heat that the warmed pot holds less what its crystals gave: 0 where the energy balance closes."""
    heat = HeatOfCooling.of(pot, from_C, state)
    if heat.crystals_kJ is None:
        raise InputError(
            "heat of crystallising", f"{', '.join(heat.missing)}", "a solid whose standard enthalpy is in the data",
            "MgSO4.7H2O",
        )  # fmt: skip
    return -1000.0 * (heat.sensible_kJ + heat.crystals_kJ)


def heat_of(model: Model) -> dict[str, float]:
    """Heats of crystallising in the data, kJ per gram of each solid of a salt."""
    found = {s.formula: heat_given_off_kJ_g(s.formula) for s in model.map.solids if not s.is_ice}
    return {formula: heat for formula, heat in found.items() if heat is not None}
