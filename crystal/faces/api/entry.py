"""Where a pot of the Python interface comes from: two facts, or a batch file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from crystal.data.catalogue import Catalogue
from crystal.faces.api.given import Value, facts_of, given, in_python_words
from crystal.faces.api.pots import Pot
from crystal.faces.api.reaction import Reaction
from crystal.faces.api.salts import Salt
from crystal.faces.batchfile import BatchFile, preparation_of
from crystal.faces.facts import Given
from crystal.faces.told import Told


def pot(
    salt: str | Salt,
    *,
    holds: Value | None = None,
    strength: Value | None = None,
    density: Value | None = None,
    start: Value | None = None,
    mass: Value | None = None,
    water: Value | None = None,
    start_at: Value | None = None,
    vessel: Value | None = None,
    beside: str | Sequence[str] | None = None,
    altitude: Value | None = None,
    pressure: Value | None = None,
) -> Pot:
    """A pot by its salt and two facts: one on its content, one on its size.

    Parameters
    ----------
    salt : str or Salt
        Any name of the salt.
    holds : str, quantity or number of g
        Content: what went in, "200 g of MgSO4.7H2O" or "0.5 mol of CuSO4"; without a formula anhydrous salt.
    strength : str, quantity or number of mass %
        Content: "18 % w/w", "35 g/100 g water", "180 g/L", "1.1 mol/L".
    density : str, quantity or number of g/mL
        Content: "1.18 g/mL at 20 degC".
    start : str, quantity or number of mL
        Size: volume of the solution.
    mass, water : str, quantity or number of g
        Size: mass of the solution, or the water that the solid was dissolved in.
    start_at : str, quantity or number of °C, optional
        Temperature at which the start's volume is read, 20 unless told.
    vessel : str, quantity or number of mL, optional
        What the vessel holds.
    beside : str or list of str, optional
        What else is dissolved: "12 g of HCl".
    altitude : str, quantity or number of m, optional
        Where the bench stands, for boiling temperatures; ``pressure`` (kPa) is the barometer's instead.

    Raises
    ------
    crystal.errors.InputError
        Where the salt is unknown, a value cannot be read, or too few or too many facts are given.

    Examples
    --------
    >>> import crystal
    >>> pot = crystal.pot("Epsom salt", holds="200 g of MgSO4.7H2O", start="500 mL")
    >>> round(pot.salt_g, 1), round(pot.mass_percent, 1)
    (97.7, 16.6)
    >>> crystal.pot("KNO3", strength=20, mass=500).salt_g  # mass %, g
    100.0
    """
    facts = facts_of(
        holds=holds, strength=strength, density=density, start=start, mass=mass, water=water, start_at=start_at,
        vessel=vessel, altitude=altitude, pressure=pressure,
    )  # fmt: skip
    facts["salt"] = Given(salt.formula if isinstance(salt, Salt) else salt, "salt")
    if beside is not None:
        facts["with"] = Given(beside if isinstance(beside, str) else "; ".join(beside), "beside")
    return Pot(Told(facts))


def react(
    equation: str | Sequence[Mapping[str, Any]],
    use: str | Sequence[str] = (),
    *,
    volume: Value | None = None,
    at: Value | None = None,
    salt: str | None = None,
) -> Reaction:
    """What a reaction makes: the pot that can be boiled down, gas, heat, what is left over.

    Parameters
    ----------
    equation : str or list of dict
        "Zn + H2SO4 -> ZnSO4 + H2", balanced or not; or several reactions in one pot, each a dict with ``equation``,
        ``use`` and where needed ``converted``, ``lost``, ``undissolved``, ``gas``, as the steps of a batch file.
    use : str or list of str
        What goes in: "Zn=32.7 g", "H2SO4=350 g of 20 % w/w".
    volume : str, quantity or number of mL, optional
        What the pot is made up to with water.
    at : str, quantity or number of °C, optional
        Temperature of all volumes, 20 unless told.
    salt : str, optional
        The pot's salt, where the products leave several.

    Raises
    ------
    crystal.errors.InputError
        Naming the step and the text at fault.

    Examples
    --------
    >>> import crystal
    >>> made = crystal.react("Zn + H2SO4 -> ZnSO4 + H2", ["Zn=32.7 g", "H2SO4=350 g of 20 % w/w"])
    >>> made.data["limiting"], round(made.pot.salt_g, 1)
    ('Zn', 80.7)
    >>> round(made.pot.reduce("5 degC").advice.end_volume_mL)
    142
    """
    used = [use] if isinstance(use, str) else list(use)
    steps = (
        [{"equation": equation, "use": used}]
        if isinstance(equation, str)
        else [dict(one) for one in equation]
    )
    table: dict[str, Any] = {"step": steps}
    for key, value, unit in (("volume", volume, "mL"), ("at", at, "degC")):
        if value is not None:
            table[key] = given(value, key, unit).text
    catalogue = Catalogue.current(None)
    formula = None if salt is None else Given(catalogue.find(salt).formula, "salt")
    with in_python_words():
        return Reaction(preparation_of(table, "react", formula).carried_out(catalogue))


def batch(path: Path | str) -> Pot:
    """The pot of a batch file, with the file's plan and observations.

    Parameters
    ----------
    path : Path or str
        A TOML file; ``crystal explain --help`` shows one.

    Raises
    ------
    crystal.errors.InputError
        Naming the file and the key.
    """
    written = BatchFile.read(path)
    catalogue = Catalogue.current(None)
    told = written.told(catalogue)
    return Pot(told, written.seen_of(told.start(catalogue).model), written.crops)
