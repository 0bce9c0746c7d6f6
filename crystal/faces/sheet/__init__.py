"""The bench sheet: one printed page to stand beside the hotplate."""

from __future__ import annotations

from typing import TYPE_CHECKING

from crystal.bench.risk import RISK

if TYPE_CHECKING:
    from crystal.bench.batch import Batch
    from crystal.data.catalogue import Catalogue
    from crystal.faces.facts import Facts

__all__ = ["sheet_html"]


def sheet_html(
    batch: Batch,
    catalogue: Catalogue,
    *,
    paper: str = "A4",
    notes: tuple[str, ...] = (),
    risk: float = RISK,
    facts: Facts | None = None,
) -> str:
    """A batch's sheet as one page of HTML with its charts inside.

    Parameters
    ----------
    batch : Batch
        With its cooling temperature; its own end point is the sheet's, else the advised one.
    catalogue : Catalogue
        For the sources and the edition of the data.
    paper : {'A4', 'letter'}
    notes : tuple of str
        What else to mind.
    risk : float
        Odds of a pot that does not pour which the advice may bear.
    facts : dict of str to Given, optional
        What the batch tells of harvest and keeping.

    Raises
    ------
    InputError
        Where there is no end point.
    CoverageError
        Where the cooling temperature lies outside the data.
    """
    from crystal.faces.sheet.contents import SheetContents
    from crystal.faces.sheet.page import page

    return page(SheetContents.of(batch, catalogue, notes, risk, facts or {}), paper)
