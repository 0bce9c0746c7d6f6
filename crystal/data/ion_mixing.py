"""What ions do to each other in mixtures, as tabulated: mixing terms, hydrogen sulfate, and what is known of salt pairs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from crystal.data.catalogue import bundled_folder
from crystal.data.tables import Table

KINDS = ("theta", "psi", "beta0", "beta1", "c_phi", "log10_k")

_COLUMNS = ("kind", "ion_1", "ion_2", "ion_3", "value", "source", "provenance", "note")


@dataclass(frozen=True, slots=True)
class MixingTerm:
    """One parameter at 25 °C: ``theta`` of two ions of one sign, ``psi`` of two with a third of the other sign.

    ``beta0``, ``beta1`` and ``c_phi`` are those of a cation with an anion that is no salt's alone; ``log10_k`` is an
    acid ion's dissociation constant. ``provenance`` is ``memory``, ``read``, or ``analogy``: another ion's value.
    """

    kind: str
    ions: tuple[str, ...]
    value: float
    source: str
    provenance: str
    note: str = ""


@cache
def bundled_mixing() -> tuple[MixingTerm, ...]:
    """The terms that come with the package, read once, in file order."""
    return tuple(
        MixingTerm(
            row.word("kind", KINDS, ""),
            tuple(ion for name in ("ion_1", "ion_2", "ion_3") if (ion := row.text(name))),
            row.number("value"),
            row.required("source"),
            row.word("provenance", ("memory", "read", "analogy"), ""),
            row.text("note"),
        )
        for row in Table.read(bundled_folder() / "ion_mixing.csv", _COLUMNS)
    )


@dataclass(frozen=True, slots=True)
class MixtureNote:
    """What is known of the solids of one pair of solutes, in words."""

    system: str
    temperature: str
    statement: str
    source: str
    provenance: str


@cache
def bundled_mixture_notes() -> tuple[MixtureNote, ...]:
    """Notes on pairs of solutes, read once; the pair's name joins its two formulas by a hyphen."""
    columns = ("system", "temperature_C", "statement", "source", "provenance")
    return tuple(
        MixtureNote(
            row.required("system"), row.text("temperature_C"), row.required("statement"), row.text("source"),
            row.required("provenance"),
        )
        for row in Table.read(bundled_folder() / "mixture_notes.csv", columns)
    )  # fmt: skip
