"""Where a pot of the Python interface comes from: two facts, or a batch file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from crystal.data.catalogue import Catalogue
from crystal.faces.api.given import Value, facts_of
from crystal.faces.api.pots import Pot
from crystal.faces.api.salts import Salt
from crystal.faces.batchfile import BatchFile
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
        vessel=vessel,
    )  # fmt: skip
    facts["salt"] = Given(salt.formula if isinstance(salt, Salt) else salt, "salt")
    if beside is not None:
        facts["with"] = Given(beside if isinstance(beside, str) else "; ".join(beside), "beside")
    return Pot(Told(facts))


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
    return Pot(told, written.seen_of(told.start(catalogue).model))
