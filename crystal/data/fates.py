"""What is known to leave a pot as gas, or to lie in it undissolved."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from crystal.data.catalogue import bundled_folder
from crystal.data.tables import Table


@dataclass(frozen=True, slots=True)
class Gas:
    """A gas with its caution; ``leaves_untold`` is False for one that stays in water unless told to leave."""

    formula: str
    name: str
    leaves_untold: bool
    caution: str


@cache
def bundled_gases() -> tuple[Gas, ...]:
    """The gases that come with the package, read once."""
    columns = ("formula", "name", "leaves", "caution", "source", "provenance")
    return tuple(
        Gas(
            row.required("formula"),
            row.required("name"),
            row.word("leaves", ("yes", "if_told"), "") == "yes",
            row.required("caution"),
        )
        for row in Table.read(bundled_folder() / "gases.csv", columns)
    )


@cache
def bundled_insoluble() -> dict[str, str]:
    """Names of the substances taken to stay undissolved, by formula; a list of well-known cases, without source."""
    table = Table.read(bundled_folder() / "insoluble.csv", ("formula", "name", "source", "provenance"))
    return {row.required("formula"): row.required("name") for row in table}
