"""How fast a pot boils down, from its own log: a straight line through the water left, warm-up left out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.errors import InputError

Floats = NDArray[np.float64]

SURE_SIGMAS = 1.96
"""Half-width of a band in standard errors: 19 of 20 cases."""

DRIFT = 0.10
"""A hotplate's rate is taken to wander by this much (standard), relative: common practice, no source."""

WARM_UP_SHARE = 0.75
"""A first stretch slower than this share of the later rate is taken for heating up."""

WARM_UP_AT_MOST_H = 1.0
"""A pot is taken to be hot so long after its log's start, whatever its readings: common practice, no source."""

_GRID = 4001
_LATEST = 20.0  # how many times the expected wait is searched for the late end of a band


@dataclass(frozen=True, eq=False, slots=True)
class RateFit:
    """A rate of evaporation with its uncertainty.

    Attributes
    ----------
    hours, water_g, error_g : arrays, shape (n,)
        All readings as water left, with the standard error of each.
    used : array of bool, shape (n,)
        Those that the line goes through: after the warm-up.
    rate_g_h, rate_error_g_h : float
        Grams of water an hour, always above 0, and its standard error.
    misfit : float
        Root mean square distance of the readings from the line in their own standard errors; 0 for two readings.
    """

    hours: Floats
    water_g: Floats
    error_g: Floats
    used: NDArray[np.bool_]
    rate_g_h: float
    rate_error_g_h: float
    misfit: float
    _centre_h: float
    _centre_g: float
    _centre_error_g: float

    @classmethod
    def of(
        cls, hours: ArrayLike, water_g: ArrayLike, error_g: ArrayLike, *, warm_up_h: float | None = None
    ) -> RateFit:
        """Fit a log.

        Parameters
        ----------
        hours, water_g : array_like, shape (n,)
            When each reading was taken, hours, rising, and the water in the pot then, g.
        error_g : array_like
            Standard error of each reading, g.
        warm_up_h : float, optional
            Readings before this time are left out; unless told, first stretches clearly slower than the rest are.

        Raises
        ------
        InputError
            With fewer than two readings after the warm-up, times that do not rise, or water that does not fall.

        Examples
        --------
        >>> fit = RateFit.of([0.0, 0.5, 1.5, 2.5], [300.0, 275.0, 200.0, 125.0], 5.0)
        >>> fit.used.tolist(), round(fit.rate_g_h)
        ([False, True, True, True], 75)
        """
        t, w = np.asarray(hours, float), np.asarray(water_g, float)
        error = np.broadcast_to(np.asarray(error_g, float), t.shape)
        if len(t) < 2:
            raise InputError(
                "the log", f"{len(t)} readings", "at least two readings", "0 h 300 mL, 1 h 230 mL"
            )
        if not (np.diff(t) > 0).all():
            bad = int(np.flatnonzero(np.diff(t) <= 0)[0])
            raise InputError(
                "the log",
                f"{t[bad + 1]:g} h after {t[bad]:g} h",
                "readings whose times rise",
                "0.5 h, 1 h, 1.5 h",
            )
        first = _warm_up(t, w, error) if warm_up_h is None else int(np.searchsorted(t, warm_up_h - 1e-9))
        used = np.arange(len(t)) >= first
        if used.sum() < 2:
            raise InputError(
                "the log", f"{int(used.sum())} readings after the warm-up", "at least two readings after it",
                "readings at 0.5 h and 1.5 h",
            )  # fmt: skip
        weight = 1.0 / error[used] ** 2
        total = float(weight.sum())
        t0, w0 = float(weight @ t[used]) / total, float(weight @ w[used]) / total
        spread = float(weight @ (t[used] - t0) ** 2)
        slope = float(weight @ ((t[used] - t0) * (w[used] - w0))) / spread
        if not slope < 0:
            raise InputError(
                "the log", f"water that rises by {slope:.3g} g an hour" if slope else "water that stays the same",
                "readings that fall: was water added, or read cold first and hot later?", "275 mL at 0.5 h, 200 mL at 1.5 h",
            )  # fmt: skip
        free = int(used.sum()) - 2
        off = w[used] - w0 - slope * (t[used] - t0)
        chi2 = float(weight @ off**2)
        misfit = math.sqrt(chi2 / free) if free else 0.0
        # Readings that scatter more than their error widen the band; those that scatter less do not narrow it.
        scale = max(1.0, misfit)
        return cls(
            t, w, error, used, -slope, scale / math.sqrt(spread), misfit,
            t0, w0, scale / math.sqrt(total),
        )  # fmt: skip

    def water_at_g(self, hours: ArrayLike) -> Floats:
        """Water left by the line, g; negative where the pot would be dry."""
        return self._centre_g - self.rate_g_h * (np.asarray(hours, float) - self._centre_h)

    def band_g(self, hours: ArrayLike, *, reading_error_g: float = 0.0) -> tuple[Floats, Floats]:
        """Least and most water left at a time, g: 19 of 20 cases.

        Parameters
        ----------
        hours : array_like
            Hours on the log's clock.
        reading_error_g : float
            Standard error of the reading that is to fall inside, g; 0 for the water itself.

        Notes
        -----
        The line's own error, the rate's wandering after the last reading and the reading's error, added as squares.
        """
        t = np.asarray(hours, float)
        wander = DRIFT * self.rate_g_h * np.maximum(t - self.hours[-1], 0.0)
        sd = np.sqrt(
            self._centre_error_g**2
            + (self.rate_error_g_h * (t - self._centre_h)) ** 2
            + wander**2
            + reading_error_g**2
        )
        middle = self.water_at_g(t)
        return middle - SURE_SIGMAS * sd, middle + SURE_SIGMAS * sd

    def reaches_h(self, water_g: float) -> tuple[float, float | None, float | None]:
        """When so much water is left: expected, earliest, latest, hours on the log's clock.

        The band's ends are None where the line's error never lets the bound come down (or it lies before the log).
        """
        expected = self._centre_h + (self._centre_g - water_g) / self.rate_g_h
        start = float(self.hours[self.used][0])
        wait = max(expected - start, 1e-6)
        grid = start + np.linspace(0.0, _LATEST * wait, _GRID)
        low, high = self.band_g(grid)
        return expected, _crossing(grid, low, water_g), _crossing(grid, high, water_g)

    def last_foretold_g(self) -> tuple[float, float] | None:
        """Band that the readings before the last foretold for it, g; None where they make no falling line."""
        if int(self.used.sum()) < 3:
            return None
        try:
            before = RateFit.of(
                self.hours[:-1], self.water_g[:-1], self.error_g[:-1],
                warm_up_h=float(self.hours[self.used][0]),
            )  # fmt: skip
        except InputError:
            return None
        low, high = before.band_g(self.hours[-1], reading_error_g=float(self.error_g[-1]))
        return float(low), float(high)

    @property
    def departs(self) -> bool:
        """Whether the readings lie off the line by clearly more than their errors."""
        free = int(self.used.sum()) - 2
        if free < 1:
            return False
        from scipy.stats import chi2

        return bool(chi2.sf(self.misfit**2 * free, free) < 0.01)

    @property
    def rises(self) -> bool:
        """Whether a reading lies above the one before by more than both errors allow."""
        step, error = np.diff(self.water_g), np.hypot(self.error_g[1:], self.error_g[:-1])
        return bool((step > 2.0 * error).any())


def _crossing(t: Floats, values: Floats, level: float) -> float | None:
    """Where values first come down to a level, straight between points; None where they never do."""
    below = np.flatnonzero(values <= level)
    if not len(below):
        return None
    i = int(below[0])
    if i == 0:
        return float(t[0])
    share = (values[i - 1] - level) / (values[i - 1] - values[i])
    return float(t[i - 1] + share * (t[i] - t[i - 1]))


def _warm_up(t: Floats, w: Floats, error: Floats) -> int:
    """Index of the first reading after heating up: slow first stretches are passed while two readings remain."""
    first = 0
    while len(t) - first > 2 and t[first + 1] - t[0] <= WARM_UP_AT_MOST_H:
        later = slice(first + 1, None)
        weight = 1.0 / error[later] ** 2
        t0, w0 = np.average(t[later], weights=weight), np.average(w[later], weights=weight)
        rate = -float(weight @ ((t[later] - t0) * (w[later] - w0))) / float(weight @ (t[later] - t0) ** 2)
        here = (w[first] - w[first + 1]) / (t[first + 1] - t[first])
        if not (rate > 0 and here < WARM_UP_SHARE * rate):
            break
        first += 1
    return first
