"""How a pot's temperature runs: left to itself, or led down along a curve, and what that does to the crop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.errors import InputError

Floats = NDArray[np.float64]

SEEDED, UNSEEDED, LINEAR = 3.0, 4.0, 1.0
"""Exponents of the controlled curve: seeded, not seeded (Mullin and Nývlt), and a straight line."""

_LEAST_FALL_K = 0.5  # between readings; less tells nothing of the rate


@dataclass(frozen=True, slots=True)
class ControlledCooling:
    """A cooling curve T = T0 - (T0 - Tf)(t/tau)^n: slow while there is little crystal surface, faster at the end.

    Parameters
    ----------
    from_C, to_C : float
        T0 and Tf, °C: it begins at the first crystals or where the seed goes in.
    hours : float
        tau, h.
    exponent : float
        n: 3 for a seeded pot, 4 for one that is not, 1 a straight line.

    References
    ----------
    J. W. Mullin, J. Nývlt, Chem. Eng. Sci. 26 (1971) 369; J. W. Mullin, Crystallization, 4th ed. (2001), ch. 9 (exponents
    from memory).

    Examples
    --------
    >>> round(float(ControlledCooling(60.0, 20.0, 1.0).temperature_C(0.5)), 2)
    55.0
    """

    from_C: float
    to_C: float
    hours: float
    exponent: float = SEEDED

    @classmethod
    def between(cls, from_C: float, to_C: float, hours: float, exponent: float = SEEDED) -> ControlledCooling:
        """Make a curve; InputError where it would not fall or take no time."""
        if not to_C < from_C:
            raise InputError(
                "--cool-to", f"{to_C:g} degC", f"below {from_C:.1f} degC, where the curve begins", "5 degC"
            )
        if not (hours > 0 and exponent > 0):
            raise InputError(
                "--hours or --exponent", f"{hours:g} h, {exponent:g}", "both more than 0", "8 h and 3"
            )
        return cls(from_C, to_C, hours, exponent)

    def temperature_C(self, hours: ArrayLike) -> Floats:
        """Temperature at times from 0 to ``hours``; before and after it stands at the ends."""
        share = np.clip(np.asarray(hours, float) / self.hours, 0.0, 1.0)
        return np.asarray(self.from_C - (self.from_C - self.to_C) * share**self.exponent)

    def table(self, rows: int = 9) -> list[tuple[float, float]]:
        """Hours and temperatures at even times."""
        t = np.linspace(0.0, self.hours, rows)
        return list(zip(t.tolist(), self.temperature_C(t).tolist(), strict=True))


@dataclass(frozen=True, slots=True)
class NaturalCooling:
    """A pot left to itself: it nears its surroundings by the same share in equal times (Newton).

    Good while the pot stands still, without a change of wind or lid; the heat of crystallising holds it up for a while and
    evaporation from an open hot pot hurries it, neither of which is in it.

    Parameters
    ----------
    from_C : float
        Temperature at time 0, °C.
    surroundings_C : float
        What it cools towards, °C.
    per_h : float
        The rate constant, 1/h.
    """

    from_C: float
    surroundings_C: float
    per_h: float

    @classmethod
    def of_two(
        cls, first: tuple[float, float], second: tuple[float, float], surroundings_C: float
    ) -> NaturalCooling:
        """From two readings (hours, °C) and known surroundings.

        Raises
        ------
        InputError
            Where the readings do not fall towards the surroundings.

        Examples
        --------
        >>> cooling = NaturalCooling.of_two((0.0, 90.0), (1.0, 54.0), 18.0)
        >>> round(float(cooling.temperature_C(2.0)), 6)
        36.0
        """
        (t1, a), (t2, b) = first, second
        if not (t2 > t1 and a - b >= _LEAST_FALL_K and b > surroundings_C):
            raise InputError(
                "--readings", f"{a:g} degC at {t1:g} h, then {b:g} degC at {t2:g} h",
                f"readings in order of time that fall by {_LEAST_FALL_K:g} K or more and stay above the surroundings "
                f"({surroundings_C:g} degC)", '"0 min 90 degC; 20 min 75 degC"',
            )  # fmt: skip
        per_h = float(np.log((a - surroundings_C) / (b - surroundings_C)) / (t2 - t1))
        return cls(surroundings_C + (a - surroundings_C) * float(np.exp(per_h * t1)), surroundings_C, per_h)

    @classmethod
    def of_three(
        cls, first: tuple[float, float], second: tuple[float, float], third: tuple[float, float]
    ) -> NaturalCooling:
        """From three readings (hours, °C), the surroundings found with the rate.

        Raises
        ------
        InputError
            Where the fall does not slow down, so that no surroundings fit.
        """
        (t1, a), (t2, b), (t3, c) = first, second, third
        falls = t1 < t2 < t3 and a - b >= _LEAST_FALL_K and b - c >= _LEAST_FALL_K
        if not (falls and (a - b) / (t2 - t1) > (b - c) / (t3 - t2)):
            raise InputError(
                "--readings", f"{a:g}, {b:g} and {c:g} degC at {t1:g}, {t2:g} and {t3:g} h",
                "three readings in order of time that fall, and ever more slowly",
                '"0 min 90 degC; 20 min 75 degC; 40 min 63 degC"',
            )  # fmt: skip
        from scipy.optimize import brentq

        def off(log_per_h: float) -> float:
            k = np.exp(log_per_h)
            return float((1 - np.exp(-k * (t2 - t1))) / (1 - np.exp(-k * (t3 - t1))) - (a - b) / (a - c))

        per_h = float(np.exp(brentq(off, np.log(1e-9 / (t3 - t1)), np.log(500.0 / (t3 - t1)))))
        surroundings = a - (a - b) / (1 - float(np.exp(-per_h * (t2 - t1))))
        if surroundings < -273.15:
            raise InputError(
                "--readings", "a fall that hardly slows down", "readings further apart, or the surroundings told",
                '--surroundings "18 degC"',
            )  # fmt: skip
        return cls(surroundings + (a - surroundings) * float(np.exp(per_h * t1)), surroundings, per_h)

    def temperature_C(self, hours: ArrayLike) -> Floats:
        """Temperature at times from 0 on."""
        return np.asarray(
            self.surroundings_C
            + (self.from_C - self.surroundings_C) * np.exp(-self.per_h * np.asarray(hours, float))
        )

    def hours_to(self, temperature_C: float) -> float | None:
        """When it comes down to a temperature, h; None where it never does or has begun below."""
        if not self.surroundings_C < temperature_C <= self.from_C:
            return None
        return float(
            np.log((self.from_C - self.surroundings_C) / (temperature_C - self.surroundings_C)) / self.per_h
        )
