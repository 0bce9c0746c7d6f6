"""Advice that bears a stated risk, and what measuring better would buy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.bench.doubt import INSTRUMENTS, UNCERTAIN, Draws
from crystal.bench.odds import DrawnEnds, Odds
from crystal.bench.window import EndPoint, Window

Floats = NDArray[np.float64]

RISK = 0.05
"""Odds of a pot that does not pour which the advice may bear unless told."""

EVEN = 0.5
"""A range of end points reaches up to where a crop is no longer more likely than not."""

_GRID = 160
_FINE = 96
_ABOUT, _CLEAR_OF_RISK = 10, 3


@dataclass(frozen=True, slots=True)
class SafeRange:
    """End volumes, mL, at which a crop is more likely than not and the odds of not pouring stay under the risk."""

    low_mL: float
    high_mL: float


@dataclass(frozen=True, eq=False)
class Bet:
    """The end point with the largest expected crop whose odds of ``thick`` or ``set`` stay under the risk.

    ``end`` is None where no end point stays under it; ``least_risk`` is then the least odds found with a crop, at
    ``least_risk_mL``. ``odds`` holds the advised end point's alone; ``exact_mL`` is where it lay before it was rounded up
    to a mark.
    """

    end: EndPoint | None
    odds: Odds | None
    safe: SafeRange | None
    risk: float
    least_risk: float
    least_risk_mL: float
    exact_mL: float | None = None

    @property
    def expected_g(self) -> float:
        return 0.0 if self.odds is None else float(self.odds.crop_expected_g[0])

    @classmethod
    def of(cls, window: Window, draws: Draws, *, risk: float = RISK, weighed: bool = False) -> Bet:
        """Find it.

        Parameters
        ----------
        window : Window
            The pot, its cooling temperature and the outcomes as planned.
        draws : Draws
            Possible truths.
        risk : float
            Odds of ``thick`` or ``set`` that may be borne.
        weighed : bool
            The end point is met by weighing the pot, not by a mark.

        Notes
        -----
        A grid over the end volumes, then a finer one about its best. The end point is rounded up to a mark that can be
        read: steps of about a fiftieth, which is coarser than what more draws would change.
        """
        start = window.start
        volumes = _grid(window)
        first = _odds(window, draws, volumes, weighed)
        good = _good(first, risk)
        crop = first.odds[1] > 0
        least = int(np.argmin(np.where(crop, first.does_not_pour, np.inf)))
        if not good.any():
            return cls(None, None, None, risk, float(first.does_not_pour[least]), float(volumes[least]))
        best = int(np.argmax(np.where(good, first.crop_expected_g, -1.0)))
        volume = _peak(volumes, first, good, best)
        if volume is None:
            # The risk binds: look closer between the best and its neighbours.
            fine = np.linspace(volumes[min(best + 1, _GRID - 1)], volumes[max(best - 1, 0)], _FINE)
            second = _odds(window, draws, fine, weighed)
            allowed = _good(second, risk)
            better = int(np.argmax(np.where(allowed, second.crop_expected_g, -1.0)))
            volume = float(fine[better]) if allowed[better] else float(volumes[best])
        exact, volume = volume, min(_to_a_mark(volume), float(volumes[0]))
        water = float(start.water_for_volume(volume, window.read_at_C))
        end = EndPoint.of(start, start.salt_g / (start.salt_g + water), window.read_at_C)
        at = _odds(window, draws, np.array([volume]), weighed)
        safe = _range_about(volumes, first, best, risk)
        return cls(end, at, safe, risk, float(first.does_not_pour[least]), float(volumes[least]), exact)


@dataclass(frozen=True, slots=True)
class Gain:
    """What knowing one input better would buy.

    ``name`` is one of ``UNCERTAIN``; ``exact_g`` is how much larger the expected crop would be if it were known
    exactly. ``how`` says what can be done about it, ``with_it_g`` and ``with_it`` what that gives, where there is
    something.
    """

    name: str
    exact_g: float
    how: str | None
    with_it_g: float
    with_it: SafeRange | None


REMEDIES = {
    "volume": ("weigh the pot instead of reading the mark", "kitchen balance"),
    "temperature": ("hold the temperature by a thermometer", "thermometer"),
    "mass": ("use a laboratory balance", "lab balance"),
    "holds": ("check the content by the density or a dried sample", None),
}
"""What can be done about each doubt, and the instrument that stands for it; common practice, no source."""

CHECKED_CONTENT = 0.01
"""Relative doubt of a content that was checked by density or drying; common practice, no source."""


def gains(window: Window, draws: Draws, bet: Bet, *, weighed: bool = False) -> list[Gain]:
    """What each input's doubt costs in expected crop, the costliest first.

    Parameters
    ----------
    window : Window
    draws : Draws
        The draws that the bet was made on.
    bet : Bet
        The advice with all doubts.
    weighed : bool
        The end point is met by weighing the pot already.

    Returns
    -------
    list of Gain
        Reckoned on the first quarter of the draws, which are spread as evenly as all of them.
    """
    few = draws.first(len(draws) // 4)
    base = Bet.of(window, few, risk=bet.risk, weighed=weighed).expected_g
    found = []
    for name in UNCERTAIN:
        if name == ("volume" if weighed else "mass") or draws.spreads[UNCERTAIN.index(name)] == 0.0:
            continue
        exact = Bet.of(window, few.known(name), risk=bet.risk, weighed=weighed)
        how, with_it = None, None
        if name in REMEDIES:
            how, instrument = REMEDIES[name]
            spread = INSTRUMENTS[instrument][1] if instrument else CHECKED_CONTENT
            if name == "volume":
                with_it = Bet.of(window, few.with_spread("mass", spread), risk=bet.risk, weighed=True)
            elif spread < draws.spreads[UNCERTAIN.index(name)]:
                with_it = Bet.of(window, few.known(name, spread), risk=bet.risk, weighed=weighed)
        more = max(exact.expected_g - base, 0.0)
        if with_it is None:
            found.append(Gain(name, more, None, 0.0, None))
        else:
            found.append(Gain(name, more, how, max(with_it.expected_g - base, 0.0), with_it.safe))
    return sorted(found, key=lambda gain: -gain.exact_g)


def _peak(volumes: Floats, odds: Odds, good: NDArray[np.bool_], best: int) -> float | None:
    """Where the expected crop peaks, on a cubic through the points about the best; None where the risk binds there.

    A flat top would else hide in the draws' noise.
    """
    last = best
    while last < min(best + _ABOUT, len(volumes) - 1) and good[last + 1]:
        last += 1
    first = max(best - _ABOUT, 0)
    if last < best + _CLEAR_OF_RISK or first > best - _CLEAR_OF_RISK or not good[first:best].all():
        return None
    near = slice(first, last + 1)
    x = np.linspace(-1.0, 1.0, last + 1 - first)
    cubic = np.polyfit(x, odds.crop_expected_g[near], 3)
    fine = np.linspace(-1.0, 1.0, 2001)
    return float(np.interp(fine[int(np.argmax(np.polyval(cubic, fine)))], x, volumes[near]))


def rounding_mL(volume_mL: float) -> float:
    """The step that an advised volume is rounded to: 1, 2 or 5 times a power of ten, about a fiftieth of it.

    Examples
    --------
    >>> rounding_mL(71.0), rounding_mL(204.0), rounding_mL(950.0)
    (1.0, 2.0, 10.0)
    """
    ten = 10.0 ** np.floor(np.log10(volume_mL / 50.0))
    return float(max(m * ten for m in (1.0, 2.0, 5.0) if m * ten <= volume_mL / 50.0 * (1.0 + 1e-9)))


def _to_a_mark(volume_mL: float) -> float:
    step = rounding_mL(volume_mL)
    return float(np.ceil(volume_mL / step - 1e-9) * step)


def _grid(window: Window) -> Floats:
    """End volumes from the start (or a little before saturation) down to well past setting."""
    start = window.start
    top = start.volume_mL(window.read_at_C)
    if window.saturates is not None:
        top = min(top, 1.35 * window.saturates.end_volume_mL)
    dry = float(start.volume_of(0.0, window.read_at_C))
    low = 0.7 * window.sets_solid_below.end_volume_mL if window.sets_solid_below is not None else 0.05 * top
    low = min(max(low, 1.02 * dry), 0.9 * top)
    return np.linspace(top, low, _GRID)


def _odds(window: Window, draws: Draws, volumes: Floats, weighed: bool) -> Odds:
    ends = DrawnEnds.of(
        window.start, draws, window.cool_to_C, volumes, read_at_C=window.read_at_C, weighed=weighed
    )
    return ends.odds(draws, volumes)


def _good(odds: Odds, risk: float) -> NDArray[np.bool_]:
    return np.asarray((odds.does_not_pour <= risk) & (odds.crop_expected_g > 0))


def _range_about(volumes: Floats, odds: Odds, best: int, risk: float) -> SafeRange | None:
    """The run of end volumes about the best that pours and gives a crop; ends interpolated."""
    inside = (odds.does_not_pour <= risk) & (odds.odds[1] >= EVEN)
    if not inside[best]:
        return None
    first = best
    while first > 0 and inside[first - 1]:
        first -= 1
    last = best
    while last < len(volumes) - 1 and inside[last + 1]:
        last += 1
    high, low = float(volumes[first]), float(volumes[last])
    if first > 0:
        high = _crossing(volumes[first - 1 : first + 1], odds.odds[1][first - 1 : first + 1], EVEN)
    if last < len(volumes) - 1:
        step = slice(last, last + 2)
        if odds.does_not_pour[last + 1] > risk:
            low = _crossing(volumes[step], odds.does_not_pour[step], risk)
        else:
            low = _crossing(volumes[step], odds.odds[1][step], EVEN)
    return SafeRange(low, high)


def _crossing(x: Floats, y: Floats, level: float) -> float:
    """Where a straight line through two points meets a level."""
    if y[0] == y[1]:
        return float(x[0])
    share = np.clip((level - y[0]) / (y[1] - y[0]), 0.0, 1.0)
    return float(x[0] + share * (x[1] - x[0]))
