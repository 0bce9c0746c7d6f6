"""Batch files: one batch written down by the person as TOML. They are read here; only observations are ever added."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from crystal.bench.batch import Batch, Seen
from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces import doubts, observations
from crystal.faces.facts import Given
from crystal.faces.preparation import Preparation, Prepared, Step
from crystal.faces.told import Told, filtered_off
from crystal.physics.model import Model

# Key in the file -> key among the facts, and a value that would be accepted.
_KEYS: dict[str, dict[str, tuple[str, str]]] = {
    "start": {
        "volume": ("volume", "500 mL"),
        "mass": ("mass", "500 g"),
        "water": ("water", "350 g"),
        "at": ("at", "20 degC"),
        "holds": ("holds", "200 g of MgSO4.7H2O"),
        "strength": ("strength", "18 % w/w"),
        "density": ("density", "1.18 g/mL at 20 degC"),
        "vessel": ("vessel", "600 mL"),
        "with": ("with", "12 g of HCl"),
    },
    "reduce": {
        "to": ("to", "150 mL"),
        "remove": ("remove", "300 g"),
        "read_at": ("read_at", "20 degC"),
        "boil_at": ("boil_at", "100 degC"),
        "altitude": ("altitude", "800 m"),
        "pressure": ("pressure", "94.5 kPa"),
        "want": ("want", "50 g"),
        "bed": ("bed", "0.55"),
    },
    "cool": {"to": ("cool_to", "5 degC")},
    "doubt": {key: (f"doubt_{key}", example) for key, example in doubts.EXAMPLES.items()}
    | {"risk": ("risk", "5 %")},
    "curve": {"file": ("curve_file", "liquors.toml"), "name": ("curve", "old liquor")},
    "harvest": {
        "method": ("method", "suction"),
        "held": ("held", "0.2"),
        "enclosed": ("enclosed", "0.5 %"),
        "displaced": ("displaced", "50 %"),
        "wash": ("wash", "20 mL"),
        "wash_at": ("wash_at", "5 degC"),
        "wash_with": ("wash_with", "water"),
        "contact": ("contact", "50 %"),
        "spilled": ("spilled", "5 g"),
        "purity": ("purity", "99.5 %"),
    },
    "keep": {
        "at": ("keep_at", "22 degC"),
        "humidity": ("humidity", "60 %"),
        "dew_point": ("dew_point", "12 degC"),
        "solid": ("keep_solid", "MgSO4.7H2O"),
    },
}
_LISTS = ("with", "wash")
_CROP = {"to": "190 mL", "cool_to": "5 degC"}
_MADE = {"volume": "500 mL", "at": "20 degC", "step": "[[made.step]]"}
_STEP = {
    "equation": "Zn + H2SO4 -> ZnSO4 + H2",
    "use": "Zn=32.7 g",
    "converted": "95 %",
    "lost": "2 %",
    "undissolved": "CaSO4",
    "gas": "NH3",
}
_TOP = ("title", "salt", *_KEYS, "made", "seen", "crop")


@dataclass(frozen=True, slots=True)
class BatchFile:
    """A batch as it is written: the facts by key, and the texts of each observation."""

    path: str
    title: str
    facts: Mapping[str, Given]
    seen: tuple[Mapping[str, Given], ...]
    made: Preparation | None = None
    crops: tuple[Mapping[str, Given], ...] = ()

    @classmethod
    def read(cls, path: Path | str) -> BatchFile:
        """Read a batch file.

        Parameters
        ----------
        path : Path or str
            A TOML file with ``title``, ``salt``, ``[start]``, ``[reduce]``, ``[cool]``, ``[doubt]``, ``[curve]``,
            ``[harvest]``, ``[keep]``, ``[[crop]]`` and ``[[seen]]``.

        Raises
        ------
        InputError
            Naming the file and the key, or the line and column where it is no TOML.
        """
        name = str(path)
        try:
            written = Path(path).read_bytes()
        except OSError as error:
            reason = error.strerror or type(error).__name__
            raise InputError(
                "the batch file", repr(name), f"a file that can be read ({reason})", "batch.toml"
            ) from None
        return cls.parse(written, name)

    @classmethod
    def parse(cls, written: bytes, name: str) -> BatchFile:
        """Read a batch file's content; ``name`` is what errors call it by. Raises as ``read`` does."""
        try:
            table = tomllib.loads(written.decode("utf-8"))
        except UnicodeDecodeError as error:
            raise InputError(
                "the batch file", repr(name), f"text in UTF-8 (byte {error.start} is not)"
            ) from None
        except ValueError as error:  # no TOML, or a number of thousands of digits
            raise InputError(
                name, "text that is not TOML", f"mended there: {error}", 'salt = "MgSO4"'
            ) from None
        except RecursionError:
            raise InputError(
                name, "tables nested too deeply", "a plain batch file", 'salt = "MgSO4"'
            ) from None
        return cls._of(name, table)

    @classmethod
    def _of(cls, name: str, table: dict[str, Any]) -> BatchFile:
        _refuse_unknown(table, _TOP, name, "")
        facts = {}
        if "salt" in table:
            facts["salt"] = _text(table["salt"], f"{name}: salt", "MgSO4")
        for section, keys in _KEYS.items():
            part = table.get(section, {})
            if not isinstance(part, dict):
                raise InputError(f"{name}: {section}", _shown(part), f"a table, headed [{section}]")
            _refuse_unknown(part, keys, name, f"{section}.")
            for key, value in part.items():
                fact, example = keys[key]
                what = f"{name}: {section}.{key}"
                if (section, key) == ("curve", "file"):
                    beside = _text(value, what, example)
                    facts[fact] = Given(str(Path(name).parent / beside.text), what)
                elif key in _LISTS:
                    listed = _texts(value, what, example)
                    if listed:
                        facts[fact] = Given("; ".join(given.text for given in listed), what)
                else:
                    facts[fact] = _text(value, what, example, number=key == "bed")
        title = _text(table.get("title", ""), f"{name}: title", "Epsom salt, second try").text
        made = preparation_of(table["made"], name, facts.get("salt")) if "made" in table else None
        seen, crops = (
            tuple(_several(table.get(key, []), key, known, name))
            for key, known in (("seen", observations.KEYS), ("crop", _CROP))
        )
        return cls(name, title, facts, seen, made, crops)

    def seen_of(self, model: Model) -> tuple[Seen, ...]:
        """The observations, in fixed units."""
        return tuple(observations.seen_of(one, model) for one in self.seen)

    def batch(self, catalogue: Catalogue) -> Batch:
        """The batch in numbers.

        Raises
        ------
        InputError
            Where the salt is unknown, a value cannot be read, or too few or too many facts tell the pot.
        """
        return self.told(catalogue).batch(catalogue)

    def told(self, catalogue: Catalogue) -> Told:
        """The facts, with the pot that the reactions make where the file tells any.

        Raises
        ------
        InputError
            Where the salt is not named and none is made, or a reaction cannot be carried out.
        """
        if self.made is None:
            if "salt" not in self.facts:
                raise InputError(
                    f"{self.path}: salt", "nothing", "the salt's formula or name", 'salt = "MgSO4"'
                )
            return Told(self.facts, self.title, seen=self.seen)
        done = self.prepared(catalogue)
        facts = {key: given for key, given in self.facts.items() if key != "salt"}
        if self.made.at is not None:
            facts.setdefault("at", self.made.at)
        return Told(facts, self.title, done.made, (*done.warnings, *filtered_off(done.made)), self.seen)

    def prepared(self, catalogue: Catalogue) -> Prepared:
        """The reactions under [made], carried out.

        Raises
        ------
        InputError
            Where the file tells no reactions, or one cannot be carried out.
        """
        if self.made is None:
            raise InputError(
                f"{self.path}: made", "nothing", "reactions, each headed [[made.step]]",
                'equation = "Zn + H2SO4 -> ZnSO4 + H2"',
            )  # fmt: skip
        steps = self.made.steps
        if (salt := steps[-1].salt) is not None:
            formula = Given(catalogue.find(salt.text).formula, salt.what)
            steps = (*steps[:-1], replace(steps[-1], salt=formula))
        return replace(self.made, steps=steps).carried_out(catalogue)


def preparation_of(made: Any, name: str, salt: Given | None) -> Preparation:
    """The reactions of a table ``[made]``; ``name`` is what errors call the file by."""
    if not isinstance(made, dict):
        raise InputError(f"{name}: made", _shown(made), "a table, headed [made]")
    _refuse_unknown(made, _MADE, name, "made.")
    steps = made.get("step")
    if not isinstance(steps, list) or not steps or not all(isinstance(one, dict) for one in steps):
        raise InputError(
            f"{name}: made.step", _shown(steps), "one or several reactions, each headed [[made.step]]"
        )
    texts = {
        key: _text(made[key], f"{name}: made.{key}", _MADE[key]) for key in ("volume", "at") if key in made
    }
    told = [_step(step, name, f"made.step {number}") for number, step in enumerate(steps, start=1)]
    told[-1] = replace(told[-1], salt=salt)
    return Preparation(tuple(told), texts.get("volume"), texts.get("at"), f"{name}: made.step ")


def _step(step: Mapping[str, Any], name: str, place: str) -> Step:
    _refuse_unknown(step, _STEP, name, f"{place}.")
    if "equation" not in step:
        raise InputError(
            f"{name}: {place}.equation", "nothing", "a reaction", f'equation = "{_STEP["equation"]}"'
        )
    what = {key: f"{name}: {place}.{key}" for key in _STEP}
    one = {
        key: _text(step[key], what[key], _STEP[key])
        for key in ("equation", "converted", "lost")
        if key in step
    }
    several = {key: _texts(step.get(key, []), what[key], _STEP[key]) for key in ("use", "undissolved", "gas")}
    return Step(
        one["equation"],
        several["use"],
        one.get("converted"),
        one.get("lost"),
        several["undissolved"],
        several["gas"],
    )


def _texts(value: Any, what: str, example: str) -> tuple[Given, ...]:
    """One text or a list of them."""
    return tuple(_text(one, what, example) for one in (value if isinstance(value, list) else [value]))


def _several(told: Any, word: str, known: Mapping[str, str], name: str) -> Iterable[Mapping[str, Given]]:
    """Tables that may be repeated: observations, crops."""
    if not isinstance(told, list) or not all(isinstance(one, dict) for one in told):
        words = {"seen": "observations", "crop": "crops"}[word]
        raise InputError(f"{name}: {word}", _shown(told), f"{words}, each headed [[{word}]]")
    for i, one in enumerate(told, start=1):
        place = word if len(told) == 1 else f"{word} {i}"
        _refuse_unknown(one, known, name, f"{place}.")
        yield {key: _text(value, f"{name}: {place}.{key}", known[key]) for key, value in one.items()}


def _text(value: Any, what: str, example: str, *, number: bool = False) -> Given:
    if number and isinstance(value, int | float) and not isinstance(value, bool):
        return Given(repr(value), what)
    if not isinstance(value, str):
        raise InputError(
            what, _shown(value), "a text in quotes, with its unit where it has one", f'"{example}"'
        )
    return Given(value, what)


def _refuse_unknown(table: Mapping[str, Any], known: Iterable[str], name: str, place: str) -> None:
    known = list(known)
    for key in table:
        if key not in known:
            close = difflib.get_close_matches(str(key).lower(), known, 3, 0.5)
            nearest = f"; close matches: {', '.join(close)}" if close else ""
            raise InputError(f"{name}: {place}{key}", "an unknown key", f"one of {', '.join(known)}{nearest}")


def _shown(value: Any) -> str:
    shown = repr(value)
    return shown if len(shown) <= 60 else shown[:57] + "..."
