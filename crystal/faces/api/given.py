"""What is handed to the Python interface, made into the facts that the other faces work with."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, Protocol, runtime_checkable

from crystal import units
from crystal.bench.doubt import INSTRUMENTS
from crystal.errors import CoverageError, InputError
from crystal.faces.facts import Given
from crystal.faces.words import PLAIN_TOO
from crystal.units.quantity import fault, is_quantity


@runtime_checkable
class Quantity(Protocol):
    """A pint quantity."""

    magnitude: Any
    units: Any


Value = str | float | Quantity
"""A text with its unit, a pint quantity, or a plain number in the unit that the parameter documents."""

_READERS = {"mL": units.volume_mL, "g": units.mass_g, "degC": units.temperature_C}
_CALLED = {"with": "beside", "end": "reduce_to"}
"""Parameters that are called otherwise than their options."""

_OPTION = re.compile(r"--([a-z][a-z-]*)")


def given(value: Value, what: str, unit: str) -> Given:
    """One fact; a plain number is taken in ``unit``.

    Examples
    --------
    >>> given(500, "start", "mL").text, given("0.5 L", "start", "mL").text
    ('500.0 mL', '0.5 L')
    """
    if isinstance(value, str):
        return Given(value, what)
    if is_quantity(value):
        return Given(_of_quantity(value, what, unit), what)
    try:
        if isinstance(value, bool):
            raise TypeError
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise fault(what, value, f"a text, a pint quantity, or a number of {unit}", f"5 {unit}") from None
    return Given(f"{number!r} {unit}".removesuffix(" "), what)


def _of_quantity(value: Any, what: str, unit: str) -> str:
    """The quantity as text in a unit of its own kind, exact to the last digit."""
    if unit in _READERS and unit != "mL":
        return f"{_READERS[unit](value, what=what)!r} {unit}"
    return f"{float(value.magnitude)!r} {value.units}"


def several(values: Value | Sequence[Value], what: str, unit: str) -> Given:
    """A list of facts of one kind as one text."""
    if isinstance(values, str) or not isinstance(values, Sequence):
        return given(values, what, unit)
    return Given("; ".join(given(one, what, unit).text for one in values), what)


def doubts_given(doubt: str | Mapping[str, Value] | None, by: str | Sequence[str] = ()) -> dict[str, Given]:
    """Doubts by the instruments used and one by one, the latter first, as the fact that the other faces read.

    Examples
    --------
    >>> doubts_given({"temperature": 1.0}, ["measuring cylinder"])["doubt"].text
    'volume=measuring cylinder, temperature=1.0'
    """
    parts = []
    for name in [by] if isinstance(by, str) else by:
        if name not in INSTRUMENTS:
            raise InputError("by", repr(name), f"one of {', '.join(INSTRUMENTS)}", '["measuring cylinder"]')
        parts.append(f"{INSTRUMENTS[name][0]}={name}")
    if isinstance(doubt, str):
        parts.append(doubt)
    elif doubt is not None:
        parts += [f"{name}={given(value, 'doubt', '').text}" for name, value in doubt.items()]
    return {"doubt": Given(", ".join(parts), "doubt")} if parts else {}


def parameters_named(text: str) -> str:
    """A sentence that names the command line's options, naming parameters instead.

    Examples
    --------
    >>> parameters_named("Read it hot (--read-at) or weigh it.")
    'Read it hot (read_at) or weigh it.'
    >>> parameters_named("None was told of (--with).")
    'None was told of (beside).'
    """
    for said in (PLAIN_TOO, " (--join)"):  # what has no parameter
        text = text.replace(said, "")
    return _OPTION.sub(lambda option: _CALLED.get(option[1], option[1].replace("-", "_")), text)


@contextmanager
def in_python_words() -> Iterator[None]:
    """Name parameters instead of the command line's options where an error speaks of those."""
    try:
        yield
    except InputError as error:
        texts = [parameters_named(text) for text in (error.what, error.got, error.must_be, error.example)]
        raise InputError(*texts) from None
    except CoverageError as error:
        raise CoverageError(parameters_named(str(error)), error.covered_degC) from None


# Parameter -> fact, and the unit of a plain number; strengths count mass %.
_FACTS = {
    "holds": ("holds", "g"), "strength": ("strength", "% w/w"), "density": ("density", "g/mL"),
    "start": ("volume", "mL"), "mass": ("mass", "g"), "water": ("water", "g"), "start_at": ("at", "degC"),
    "vessel": ("vessel", "mL"), "cool_to": ("cool_to", "degC"), "reduce_to": ("to", "mL"), "remove": ("remove", "g"),
    "read_at": ("read_at", "degC"), "boil_at": ("boil_at", "degC"), "bed": ("bed", ""), "risk": ("risk", ""),
    "altitude": ("altitude", "m"), "pressure": ("pressure", "kPa"), "method": ("method", ""), "held": ("held", ""),
    "enclosed": ("enclosed", ""), "wash_at": ("wash_at", "degC"), "wash_with": ("wash_with", ""), "contact": ("contact", ""),
    "spilled": ("spilled", "g"), "purity": ("purity", ""), "humidity": ("humidity", "%"), "dew_point": ("dew_point", "degC"),
}  # fmt: skip


def facts_of(**values: Value | None) -> dict[str, Given]:
    """Facts by the parameters that they were given in; what is None was not given."""
    return {
        _FACTS[name][0]: given(value, name, _FACTS[name][1])
        for name, value in values.items()
        if value is not None
    }
