"""How figures look, and how they are written: colours, type, one look whatever the person's own settings."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import RLock
from typing import Any

import matplotlib
from matplotlib.figure import Figure

from crystal.errors import InputError

DPI = 100
WIDTH_PX = 800
TITLE_PT, LABEL_PT, SMALL_PT = 12, 10, 9

# Masataka Okabe and Kei Ito, "Color Universal Design" (2008), set of eight colours told apart by colour-blind readers;
# the values are from memory.
BLACK, ORANGE, SKY, GREEN = "#000000", "#e69f00", "#56b4e9", "#009e73"
YELLOW, BLUE, RED, PURPLE = "#f0e442", "#0072b2", "#d55e00", "#cc79a7"
GREY = "#6b6b6b"

_LOOK: dict[Any, Any] = {
    "font.family": ["DejaVu Sans"],  # comes with matplotlib and has the subscripts
    "font.size": LABEL_PT,
    "axes.titlesize": TITLE_PT,
    "axes.labelsize": LABEL_PT,
    "xtick.labelsize": SMALL_PT,
    "ytick.labelsize": SMALL_PT,
    "legend.fontsize": SMALL_PT,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.axisbelow": False,
    "hatch.linewidth": 0.6,
    "svg.hashsalt": "crystal",
    "figure.dpi": DPI,
}
Colour = tuple[float, float, float]
_METADATA: dict[str, dict[str, str | None]] = {
    ".png": {"Software": None},
    ".svg": {"Date": None},
    ".pdf": {"CreationDate": None},
}
_lock = RLock()


@contextmanager
def house_look() -> Iterator[None]:
    """Draw with the package's own settings and put the person's back afterwards.

    The settings belong to the whole process: one figure is drawn at a time.
    """
    with _lock, matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_LOOK)
        yield


def tint(colour: Colour | str, share: float) -> Colour:
    """A colour thinned with white; ``share`` 1 leaves it as it is."""
    from matplotlib.colors import to_rgb

    r, g, b = to_rgb(colour)
    return 1 - share * (1 - r), 1 - share * (1 - g), 1 - share * (1 - b)


@dataclass(frozen=True, slots=True)
class Field:
    """How an outcome is shown: its word, what it means, its fill and its hatching."""

    word: str
    meaning: str
    fill: Colour
    hatch: str
    ink: Colour | str


OUTCOME_FIELDS = {
    "clear": Field("clear", "no crystals", tint(SKY, 0.22), "", tint(SKY, 0.6)),
    "crop": Field("crop", "crystals under liquor that pours off", tint(GREEN, 0.30), "", GREEN),
    "thick": Field("thick", "a wet cake, no free liquor above it", tint(ORANGE, 0.30), "///", ORANGE),
    "set": Field("set", "solid throughout", tint(RED, 0.35), "xxx", RED),
    None: Field("unknown", "not in the data", (1.0, 1.0, 1.0), "...", GREY),
}


def save(figure: Figure, path: Path | str) -> Path:
    """Write a figure; the file's ending (.png, .svg or .pdf) decides the format.

    The same figure gives the same bytes every time.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        A figure of this package.
    path : Path or str
        Where to.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    InputError
        For another ending; nothing is written.
    """
    target = Path(path)
    ending = target.suffix.lower()
    if ending not in _METADATA:
        raise InputError("figure", repr(str(path)), "a file name ending in .png, .svg or .pdf", "window.png")
    with house_look():
        figure.savefig(target, format=ending[1:], dpi=DPI, metadata=_METADATA[ending])
    return target


def solid_inks(formulas: list[str]) -> dict[str, Colour]:
    """One dark colour for each solid, in order; ice is grey. Names stand beside them: colour is never alone."""
    from matplotlib.colors import to_rgb

    wheel = [BLUE, RED, GREEN, PURPLE, ORANGE, SKY, BLACK]
    inks = {}
    count = 0
    for formula in formulas:
        if formula == "ice":
            inks[formula] = to_rgb(GREY)
            continue
        r, g, b = to_rgb(wheel[count % len(wheel)])
        inks[formula] = (0.8 * r, 0.8 * g, 0.8 * b)  # darker, to be read as type on white
        count += 1
    return inks
