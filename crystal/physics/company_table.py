"""The curves of a salt beside others as they are tabulated, and read back for states."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NODES = 49
"""Molalities of the others in a table, closer together where there is little of them."""


def others_nodes(most: float) -> Floats:
    """The molalities of the others that a table up to ``most`` has."""
    return np.asarray(most * np.linspace(0.0, 1.0, NODES) ** 2)


@dataclass(frozen=True, eq=False)
class Table:
    """Curves at temperatures (t), of solids (p), over the others' molality (k): ln molality; NaN where a solid is none.

    ``ice`` is the salt's molality beside ice, 0 where there is none; ``doubt`` that of an extended ln K; ``joins_at`` the
    others' molality at which the other salt joins, inf where it does not.
    """

    temperature_C: Floats
    ln_salt: Floats
    ice: Floats
    pure_molality: Floats
    doubt: Floats
    joins_at: Floats


@dataclass(frozen=True, eq=False)
class Reader:
    """Curves read for states: the row of the table of each, and how far along to the next row."""

    nodes: Floats
    table: Table
    row: NDArray[np.intp]
    along: Floats
    raised: Floats | None = None
    ice_raised: Floats | None = None

    def anchored(self, own: Floats, own_ice: Floats) -> Reader:
        """Between the rows only the shift is interpolated: without company the salt's own curves are met exactly.

        ``own`` is ln molality on each solid's own branch, shape (solids, states), NaN outside it; ``own_ice`` the molality
        on the ice branch, 0 outside it.
        """
        none = np.zeros(own.shape[1])
        read = self.ln_salt(none)
        ice = own_ice - self.ice(none)
        with np.errstate(invalid="ignore"):
            raised = own - read
            raised = np.where(np.isfinite(raised), raised, 0.0)
            least = np.min(np.where(np.isfinite(own), own, np.inf), axis=0)
            # Nor may a solid outside its own range come before the stable one without company.
            short = np.where(~np.isfinite(own) & np.isfinite(least), least - (read + raised), 0.0)
        raised = raised + np.where(short > 0, short, 0.0)
        return replace(self, raised=raised, ice_raised=ice)

    def _place(self, others: Floats) -> tuple[NDArray[np.intp], Floats]:
        nodes = self.nodes
        inside = np.minimum(np.maximum(others, 0.0), nodes[-1])
        k = np.minimum((np.sqrt(inside / nodes[-1]) * (len(nodes) - 1)).astype(np.intp), len(nodes) - 2)
        low = nodes[k]
        return k, np.minimum(np.maximum((inside - low) / (nodes[k + 1] - low), 0.0), 1.0)

    def _read(self, values: Floats, k: NDArray[np.intp], share: Floats) -> Floats:
        """values (..., t, nodes) at the states."""

        def between(row: NDArray[np.intp]) -> Floats:
            return _between(values[..., row, k], values[..., row, k + 1], share)

        with np.errstate(invalid="ignore"):
            found = between(self.row)
            if self.along.any():
                hotter = between(np.minimum(self.row + 1, values.shape[-2] - 1))
                here = np.where(np.isposinf(found), hotter, found)  # not melted at both: as where it is not
                found = _between(here, np.where(np.isposinf(hotter), found, hotter), self.along)
        return np.asarray(found)

    def ln_salt(self, others: Floats) -> Floats:
        """ln of each solid's saturated molality, shape (solids, states)."""
        k, share = self._place(others)
        found = self._read(self.table.ln_salt.swapaxes(0, 1), k, share)
        return found if self.raised is None else found + self.raised

    def ice(self, others: Floats) -> Floats:
        """Molality of the salt below which ice stands; 0 where none does."""
        k, share = self._place(others)
        found = self._read(self.table.ice, k, share)
        return (
            found
            if self.ice_raised is None
            else np.where(found > 0, np.maximum(found + self.ice_raised, 0.0), 0.0)
        )

    def switches(self) -> Floats:
        """The others' molalities at which the solid changes along an exact isotherm, (changes, states); NaN for no more."""
        if self.along.any():
            return np.empty((0, len(self.row)))
        each = [self._switches_of(row) for row in range(len(self.table.temperature_C))]
        found = np.full((max(map(len, each)), len(each)), np.nan)
        for row, crossings in enumerate(each):
            found[: len(crossings), row] = crossings
        return found[:, self.row]

    def _switches_of(self, row: int) -> list[float]:
        ln = np.where(np.isnan(self.table.ln_salt[row]), np.inf, self.table.ln_salt[row])
        which = np.argmin(ln, axis=0)
        found = []
        for j in np.flatnonzero(which[1:] != which[:-1]):
            here, then = ln[which[j], j : j + 2] - ln[which[j + 1], j : j + 2]
            if np.isfinite([here, then]).all() and here < then:
                share = here / (here - then)
                found.append(float(self.nodes[j] + share * (self.nodes[j + 1] - self.nodes[j])))
        return found

    def joins_at(self) -> Floats:
        with np.errstate(invalid="ignore"):
            here = self.table.joins_at[self.row]
            if self.along.any():
                ahead = self.table.joins_at[np.minimum(self.row + 1, len(self.table.joins_at) - 1)]
                here = _between(here, ahead, self.along)
        return np.where(np.isnan(here), np.inf, here)

    def at(self, chosen: NDArray[np.intp]) -> Reader:
        """The same for some of the states."""
        raised = None if self.raised is None else self.raised[:, chosen]
        ice = None if self.ice_raised is None else self.ice_raised[chosen]
        return replace(self, row=self.row[chosen], along=self.along[chosen], raised=raised, ice_raised=ice)


def _between(here: Floats, ahead: Floats, share: Floats) -> Floats:
    """So far from one to the other; at either end that one alone, for the other may be infinite or unknown."""
    found = here * (1.0 - share) + ahead * share
    return np.where(share <= 0.0, here, np.where(share >= 1.0, ahead, found))


def least_soluble(ln: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """The least soluble solid of each state; NaN where none is known."""
    if len(ln) == 1:
        return ln[0], np.zeros(ln.shape[1], dtype=np.intp)
    known = np.where(np.isnan(ln), np.inf, ln)
    which = np.argmin(known, axis=0)
    least = known[which, np.arange(ln.shape[1])]
    lost = np.isinf(least)
    if lost.any():
        least = np.where(lost & np.isnan(ln).all(axis=0), np.nan, least)
    return least, which
