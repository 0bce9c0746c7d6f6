"""The catalogue: every salt known, bundled or a person's own, and how to find one by any of its names."""

from __future__ import annotations

import difflib
import os
import re
from functools import cache
from pathlib import Path

import crystal
from crystal.data.assemble import salts_from
from crystal.data.folder import Folder
from crystal.data.formulas import split_crystal_water
from crystal.data.records import Salt
from crystal.errors import DataError, InputError

_SPELLINGS = (("sulph", "sulf"), ("aluminum", "aluminium"), ("cesium", "caesium"))
_LOOKALIKES = str.maketrans("·•*₀₁₂₃₄₅₆₇₈₉", "...0123456789", " -\t_")
_OXIDATION_STATE = re.compile(r"\([IVX]+\)")
_REMARK = re.compile(r"^(?P<name>.+?)\s+\((?P<remark>[^()]*)\)$")


class Catalogue:
    """The salts known, in file order, with the edition of the data and the citations behind them.

    Examples
    --------
    >>> catalogue = Catalogue.bundled()
    >>> catalogue.find("blue vitriol").formula
    'CuSO4'
    >>> catalogue.find("FeSO4·7H2O").name
    'iron(II) sulfate'
    """

    def __init__(self, salts: dict[str, Salt], edition: str, citations: dict[str, str]) -> None:
        self.salts = salts
        self.edition = edition
        self._citations = citations
        self._names: dict[str, list[str]] = {}
        self._folded: dict[str, list[str]] = {}
        self._labels: dict[str, list[str]] = {}

    @classmethod
    @cache
    def bundled(cls) -> Catalogue:
        """The catalogue that comes with the package, read once."""
        folder = Folder.read(bundled_folder(), own=False)
        return cls(salts_from(folder), folder.edition, folder.citations)

    @classmethod
    def with_own(cls, path: Path | str) -> Catalogue:
        """The bundled catalogue with a person's own salts laid over it.

        Parameters
        ----------
        path : Path or str
            A folder with any of the tables of ``datasets``, or one CSV file with the columns ``system``,
            ``phase``, ``temperature_C``, ``mass_percent`` and, if wanted, ``waters``, ``point``,
            ``stability``, ``source``, ``provenance``, ``note``. A salt whose liquids are given replaces the
            bundled curve of that salt wholly; its names, hazard codes and heat limit stay unless the
            folder's ``systems.csv`` gives others.

        Raises
        ------
        DataError
            Naming file, line and column.
        """
        own = Folder.read(Path(path), own=True)
        bundled = Folder.read(bundled_folder(), own=False)
        edition = f"{bundled.edition} with {own.edition or own.place}"
        return cls(salts_from(bundled, own), edition, bundled.citations | own.citations)

    @classmethod
    def current(cls, own: str | None = None) -> Catalogue:
        """The catalogue in use: with own data from the path, else from CRYSTAL_DATA, else as bundled."""
        path = own or os.environ.get("CRYSTAL_DATA")
        return cls.with_own(path) if path else cls.bundled()

    def find(self, text: str) -> Salt:
        """The salt of that formula, hydrate, name or common name.

        Case counts only where it decides; spaces and hyphens do not count.

        Parameters
        ----------
        text : str
            ``"CuSO4"``, ``"CuSO4·5H2O"``, ``"copper sulfate"``, ``"blue vitriol"``.

        Raises
        ------
        InputError
            Where nothing or more than one salt bears that name; it names the nearest.
        """
        self._index()
        exact = _plain(text)
        formulas = self._names.get(exact) or self._folded.get(exact.casefold())
        if formulas is None:
            salt = split_crystal_water(exact)[0]
            formulas = self._names.get(salt) or self._folded.get(salt.casefold())
        if formulas is not None and len(formulas) == 1:
            return self.salts[formulas[0]]
        if formulas:
            choices = ", ".join(f"{formula} ({self.salts[formula].name})" for formula in formulas)
            raise InputError("salt", repr(text), f"one salt, but it fits {choices}", formulas[0])
        close = difflib.get_close_matches(exact.casefold(), self._folded, 5, 0.6)
        labels = dict.fromkeys(self._labels[name][0] for name in close)
        nearest = f"close matches: {', '.join(labels)}" if labels else "nothing comes close"
        raise InputError(
            "salt", repr(text), f"a salt in the data ({nearest}; 'crystal salts TEXT' searches)", "CuSO4"
        )

    def search(self, text: str) -> list[Salt]:
        """The salts of which every word of the text occurs in a formula or name, in file order."""
        self._index()
        words = [_plain(word).casefold() for word in text.split()]
        held: dict[str, list[str]] = {}
        for name, formulas in self._folded.items():
            for formula in formulas:
                held.setdefault(formula, []).append(name)
        return [
            salt
            for formula, salt in self.salts.items()
            if all(any(word in name for name in held[formula]) for word in words)
        ]

    def citation(self, key: str) -> str:
        """The citation of a source's key; a source without one, as own data may give, is its own citation."""
        return self._citations.get(key, key)

    def _index(self) -> None:
        if self._names:
            return
        for formula, salt in self.salts.items():
            for label in _labels(salt):
                name = _plain(label)
                for table, key in ((self._names, name), (self._folded, name.casefold())):
                    if formula not in table.setdefault(key, []):
                        table[key].append(formula)
                self._labels.setdefault(name.casefold(), []).append(label)


def _labels(salt: Salt) -> list[str]:
    """All that a salt may be called, as a person would read it."""
    solids = [phase for phase in salt.phases if not phase.is_ice]
    labels = [salt.formula, *(phase.formula for phase in solids)]
    for name in (salt.name, *salt.common_names):
        labels += [name, _without_remark(name)]
    for phase in solids:
        labels += [phase.name, _without_remark(phase.name)]
        remarked = _REMARK.match(phase.name)
        if remarked:  # the mineral's name
            labels.append(remarked["remark"])
    labels += [_OXIDATION_STATE.sub("", label) for label in labels]
    return [label for label in dict.fromkeys(labels) if label]


def _without_remark(name: str) -> str:
    remarked = _REMARK.match(name)
    return remarked["name"] if remarked else name


def _plain(text: str) -> str:
    """A name without spaces and hyphens, in one spelling."""
    plain = text.translate(_LOOKALIKES)
    for other, ours in _SPELLINGS:
        plain = re.sub(other, ours, plain, flags=re.IGNORECASE) if other in plain.lower() else plain
    return plain


def bundled_folder() -> Path:
    """The folder of the tables that come with the package."""
    package = Path(crystal.__file__).parent
    for folder in (package / "datasets", package.parent / "datasets"):
        if (folder / "solubility.csv").is_file():
            return folder
    raise DataError("datasets", None, None, "the bundled data are missing; install the package again")
