"""The solubility curve: every branch with the points behind it, where they come from, and how far they are doubted."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from crystal.data.records import Branch, Salt
from crystal.faces.figures.layout import Key, Room, Sheet, set_labels
from crystal.faces.figures.style import BLACK, GREY, LABEL_PT, house_look, solid_inks, tint
from crystal.faces.figures.words import formula_text
from crystal.faces.titles import axis
from crystal.physics.curve import Piece, leave_one_out_errors, pieces_of
from crystal.physics.formula import composition_mass_fraction
from crystal.physics.model import Model

MARKERS = {
    "read": ("o", "read in the source"),
    "memory": ("s", "from memory"),
    "derived": ("^", "derived"),
    "own": ("D", "own data"),
}
_BESIDE_PX, _FAR_PX = 12.0, 90.0
_OTHER = ("v", "no provenance given")


def curve_chart(model: Model) -> Figure:
    """Saturated liquids against temperature, with the data points of every branch.

    Parameters
    ----------
    model : Model
        The salt.

    Returns
    -------
    matplotlib.figure.Figure
        800 px wide at 100 dpi. Metastable branches are dashed; the light band is the doubt of the curve, or where
        the data state none the root mean square error of each point left out of the interpolation.

    Examples
    --------
    >>> from crystal.data.catalogue import Catalogue
    >>> figure = curve_chart(Model.of(Catalogue.bundled().find("KNO3")))
    >>> figure.axes[0].get_ylabel()
    'Anhydrous salt (mass % of salt + water)'
    """
    with house_look():
        return _chart(model)


def curve_doubt_percent(salt: Salt) -> tuple[float, str] | None:
    """Half-width of the doubt band in mass %, and what it is; None where nothing tells."""
    if salt.curve_doubt_mass_fraction is not None:
        return 100 * salt.curve_doubt_mass_fraction, "doubt of the curve"
    errors = [
        leave_one_out_errors(branch, _solid_w(salt, branch))
        for branch in salt.branches
        if branch.phase != "ice" and not branch.metastable
    ]
    found = np.concatenate([np.zeros(0), *errors])
    if not len(found):
        return None
    return 100 * float(np.sqrt(np.mean(found**2))), "error of a point left out"


def _solid_w(salt: Salt, branch: Branch) -> float:
    return composition_mass_fraction(salt.formula, salt.phase(branch.phase).waters)


def _chart(model: Model) -> Figure:
    salt = model.salt
    inks = solid_inks([phase.formula for phase in salt.phases])
    points = [point for branch in salt.branches for point in branch.points]
    doubt = curve_doubt_percent(salt)
    keys = []
    for provenance in dict.fromkeys(p.provenance for p in points):
        marker, meaning = MARKERS.get(provenance, _OTHER)
        face = "white" if provenance == "memory" else BLACK
        look: dict[str, Any] = {
            "marker": marker,
            "linestyle": "none",
            "color": BLACK,
            "markersize": 5,
            "markerfacecolor": face,
        }
        keys.append(Key(meaning, line=look))
    if any(p.is_invariant for p in points):
        ring = {
            "marker": "o",
            "linestyle": "none",
            "markersize": 11,
            "markerfacecolor": "none",
            "color": BLACK,
        }
        keys.append(Key("invariant point: two solids meet, or one melts", line=ring))
    if any(branch.metastable for branch in salt.branches):
        keys.append(Key("metastable", line={"linestyle": "--", "color": BLACK, "linewidth": 1.4}))
    if doubt is not None:
        keys.append(
            Key(f"{doubt[1]}: ±{doubt[0]:.2g} mass %", patch={"facecolor": tint(GREY, 0.3), "linewidth": 0})
        )
    sources = ", ".join(sorted({p.source for p in points if p.source}))
    sheet = Sheet(
        f"{formula_text(salt.formula)} ({salt.name}) in water: saturated solutions",
        "Each line is the liquid that can stand over the solid named beside it.",
        keys=keys,
        notes=[f"Sources of the points: {sources}"] if sources else [],
    )
    (plot,) = sheet.lay_out([400], axis_px=54)
    t = np.array([p.temperature_C for p in points])
    w = 100 * np.array([p.mass_fraction for p in points])
    plot.set_xlim(t.min() - 0.04 * np.ptp(t), t.max() + 0.04 * np.ptp(t))
    plot.set_ylim(min(0.0, w.min()) - 1, min(104.0, w.max() + 0.08 * np.ptp(w) + 1))
    set_labels(plot, axis("temperature_degC"), axis("mass_percent"))
    plot.grid(color="#e4e4e4", linewidth=0.6, zorder=0)
    room = Room(sheet, plot)
    for branch in salt.branches:
        ink = inks[branch.phase]
        pieces = pieces_of(branch, _solid_w(salt, branch))
        for piece in pieces:
            line = 100 * piece.mass_fraction
            plot.plot(
                piece.temperature_C, line, color=ink, linewidth=1.3 if branch.metastable else 2.0, label=_name(branch),
                linestyle="--" if branch.metastable else "-", zorder=3,
            )  # fmt: skip
            room.keep_off_line(piece.temperature_C, line)
            if doubt is not None and branch.phase != "ice" and not branch.metastable:
                low, high = line - doubt[0], line + doubt[0]
                plot.fill_between(
                    piece.temperature_C, low, high, color=tint(ink, 0.25), linewidth=0, zorder=1
                )
        for point in branch.points:
            at = (point.temperature_C, 100 * point.mass_fraction)
            shape, _ = MARKERS.get(point.provenance, _OTHER)
            fill: Any = "white" if point.provenance == "memory" else ink
            plot.plot(
                *at, marker=shape, markersize=4.5, color=ink, markerfacecolor=fill, linestyle="none", zorder=4
            )
            room.keep_off_point(*at, pad_px=5)
            if point.is_invariant:
                plot.plot(
                    *at,
                    marker="o",
                    markersize=11,
                    markerfacecolor="none",
                    color=BLACK,
                    linestyle="none",
                    zorder=5,
                )
                room.keep_off_point(*at, pad_px=8)
    tracks = [_track(branch, pieces_of(branch, _solid_w(salt, branch))) for branch in salt.branches]
    owner = room.nearest_line(tracks)
    named: set[str] = set()
    for i, branch in sorted(enumerate(salt.branches), key=lambda item: item[1].metastable):
        name = _name(branch)
        along = _places(branch, pieces_of(branch, _solid_w(salt, branch)))
        # A metastable continuation has its stable branch's colour: it is named again only where that is easily done.
        # Wholly nearer to its own line than to another, if there is such a place.
        own = owner == i
        tries = [(near, _BESIDE_PX, own) for near in along]
        if branch.phase not in named:
            anywhere = np.ones_like(own)
            tries += [(near, _BESIDE_PX, anywhere) for near in along]
            tries += [(along[0], _FAR_PX, own), (along[0], _FAR_PX, anywhere)]
        for near, reach, within in tries:
            look = {"color": inks[branch.phase], "pt": LABEL_PT}
            if room.put(
                [name, name.replace(" (", "\n(")], near, within=within, reach_px=reach, beside=True, **look
            ):
                named.add(branch.phase)
                break
    return sheet.figure


def _name(branch: Branch) -> str:
    return formula_text(branch.phase) + (" (metastable)" if branch.metastable else "")


def _track(branch: Branch, pieces: tuple[Piece, ...]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The whole branch as drawn, or its points where it has no line."""
    if not pieces:
        points = [(p.temperature_C, p.mass_fraction) for p in branch.points]
    else:
        points = [(t, w) for p in pieces for t, w in zip(p.temperature_C, p.mass_fraction, strict=True)]
    t, w = np.array(points).T
    return t, 100 * w


def _places(branch: Branch, pieces: tuple[Piece, ...]) -> list[tuple[float, float]]:
    """Points along the branch where its name may stand, the best first."""
    if not pieces:
        point = branch.points[0]
        return [(point.temperature_C, 100 * point.mass_fraction)]
    piece = max(pieces, key=lambda p: len(p.temperature_C))
    last = len(piece.temperature_C) - 1
    at = [round(share * last) for share in (0.5, 0.35, 0.65, 0.2, 0.8)]
    return [(float(piece.temperature_C[i]), 100 * float(piece.mass_fraction[i])) for i in at]
