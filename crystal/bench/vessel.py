"""Whether the vessel suits the plan: room to boil at the start, something to read and stir at the end.

The limits are common practice, no source.
"""

from __future__ import annotations

FULLEST = 2 / 3
"""Share of a vessel's capacity that a boiling solution may fill before it spits over."""

LEAST_READABLE = 0.1
"""Share of a beaker's capacity below which its marks cannot be trusted and the heat reaches a thin layer."""


def vessel_notes(capacity_mL: float, start_mL: float, end_mL: float | None) -> list[str]:
    """Say where a vessel is too full to boil or too large to read.

    Parameters
    ----------
    capacity_mL, start_mL, end_mL : float
        The vessel's capacity, the volume at the start and at the end point (None where there is none), mL.

    Returns
    -------
    list of str
        Sentences; empty where the vessel suits.

    Examples
    --------
    >>> vessel_notes(600, 300, 100)
    []
    >>> len(vessel_notes(400, 390, 20))
    2
    """
    notes = []
    if start_mL > FULLEST * capacity_mL:
        notes.append(
            f"The start fills {100 * start_mL / capacity_mL:.0f} % of the {capacity_mL:g} mL vessel: a boiling solution "
            f"needs about a third of it empty, against boiling over and bumping; take one of at least "
            f"{_rounded_up(start_mL / FULLEST):g} mL or feed it in portions."
        )
    if end_mL is not None and end_mL < LEAST_READABLE * capacity_mL:
        notes.append(
            f"The end point is {100 * end_mL / capacity_mL:.0f} % of the {capacity_mL:g} mL vessel: too little to read "
            f"off its marks or to stir; weigh the pot, or move to a vessel of at most {end_mL / LEAST_READABLE:.0f} mL "
            "near the end."
        )
    return notes


def _rounded_up(volume_mL: float) -> float:
    return 50.0 * -(-volume_mL // 50.0)
