"""Column titles and axis labels, drawn from the glossary."""

from __future__ import annotations

from dataclasses import replace

from crystal.data.glossary import Glossary, Term


def term_of(key: str, of: str = "", *, percent: bool = False, unit: str = "") -> Term:
    """The glossary's term of a key.

    Parameters
    ----------
    key : str
        As in the answers; ``group.key`` where the group gives it another meaning.
    of : str
        Formula of the one substance that it is told of.
    percent : bool
        A share is told in per cent.
    unit : str
        The person's own unit, where it is told in another than its own: "fl oz", "°F".
    """
    term = Glossary.bundled().term(key)
    if of:
        term = term.named(of)
    if unit:
        return replace(term, unit=unit)
    return term.as_percent() if percent else term


def column(key: str, note: str = "", *, of: str = "", percent: bool = False, bare: bool = False) -> str:
    """Title of a table's column, in narrow lines.

    Examples
    --------
    >>> column("odds.crop", percent=True).splitlines(), column("solute_g", of="HCl").splitlines()
    (['crop', '%'], ['HCl', 'g'])
    """
    return term_of(key, of, percent=percent).column(note, bare=bare)


def columns(*keys: str) -> list[str]:
    """Titles of several columns; a blank key leaves its column without one."""
    return [column(key) if key else "" for key in keys]


def axis(key: str, note: str = "", *, of: str = "", percent: bool = False, unit: str = "") -> str:
    """Label of an axis.

    Examples
    --------
    >>> axis("fraction_of_start", percent=True), axis("end_volume_mL", unit="fl oz")
    ("Share of the start's volume (%)", 'End volume (fl oz)')
    """
    return term_of(key, of, percent=percent, unit=unit).title(note)
