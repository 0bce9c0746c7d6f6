"""The vapour of pure water: its pressure, its boiling temperature, its latent heat, and the air's pressure with height."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from crystal.errors import InputError

Floats = NDArray[np.float64]

STANDARD_kPa = 101.325
"""Pressure of one standard atmosphere, kPa."""

CRITICAL_C = 647.096 - 273.15
_COLDEST_C = -40.0
_ZERO_K = 273.15

# IAPWS-IF97, equation 29 (region 4): n1 to n10.
_N = (
    1.1670521452767e3, -7.2421316703206e5, -1.7073846940092e1, 1.2020824702470e4, -3.2325550322333e6,
    1.4915108613530e1, -4.8232657361591e3, 4.0511340542057e5, -2.3855557567849e-1, 6.5017534844798e2,
)  # fmt: skip

# IAPWS SR1-86(1992), equations 2 and 3: saturated densities over the critical one, in powers of 1 - T/T_c.
_CRITICAL_K, _CRITICAL_KG_M3 = 647.096, 322.0
_LIQUID = ((1.99274064, 1 / 3), (1.09965342, 2 / 3), (-0.510839303, 5 / 3), (-1.75493479, 16 / 3),
           (-45.5170352, 43 / 3), (-6.74694450e5, 110 / 3))  # fmt: skip
_VAPOUR = ((-2.03150240, 2 / 6), (-2.68302940, 4 / 6), (-5.38626492, 8 / 6), (-17.2991605, 18 / 6),
           (-44.7586581, 37 / 6), (-63.9201063, 71 / 6))  # fmt: skip

_STEAM_KJ_KG_K = 0.46151805
"""Gas constant of water, as IAPWS states it."""

_ROUNDS = 12

HIGHEST_M, LOWEST_M = 11000.0, -2000.0
"""Altitudes, m, between which the lowest layer of the standard atmosphere holds."""


def saturation_pressure_kPa(temperature_C: ArrayLike) -> Floats:
    """Pressure of water vapour over liquid water.

    Parameters
    ----------
    temperature_C : array_like
        Temperature, °C.

    Returns
    -------
    numpy.ndarray
        kPa, in the shape of the input; NaN above 373.946 °C, where there is no boiling, and below -40 °C.

    Notes
    -----
    Made for 0 to 373.946 °C, uncertain by 0.025 % up to 100 °C; below 0 °C it is continued to supercooled water.

    References
    ----------
    IAPWS Industrial Formulation 1997, equation 30 (IAPWS R7-97(2012), www.iapws.org).

    Examples
    --------
    >>> round(float(saturation_pressure_kPa(26.85)), 5)
    3.53659
    """
    t = np.asarray(temperature_C, dtype=float)
    t = np.where((t >= _COLDEST_C) & (t <= CRITICAL_C + 1e-9), t, np.nan) + _ZERO_K
    theta = t + _N[8] / (t - _N[9])
    a = theta**2 + _N[0] * theta + _N[1]
    b = _N[2] * theta**2 + _N[3] * theta + _N[4]
    c = _N[5] * theta**2 + _N[6] * theta + _N[7]
    beta = 2.0 * c / (-b + np.sqrt(b * b - 4.0 * a * c))
    return np.asarray(1000.0 * beta**4)[()]


def boiling_temperature_C(pressure_kPa: ArrayLike) -> Floats:
    """Temperature at which pure water boils.

    Parameters
    ----------
    pressure_kPa : array_like
        Pressure, kPa.

    Returns
    -------
    numpy.ndarray
        °C, in the shape of the input; NaN outside 0.6112127 kPa (0 °C) to 22064 kPa.

    References
    ----------
    IAPWS Industrial Formulation 1997, equation 31: the exact inverse of :func:`saturation_pressure_kPa`.

    Examples
    --------
    >>> round(float(boiling_temperature_C(101.325)), 3)
    99.974
    """
    p = np.asarray(pressure_kPa, dtype=float)
    beta = np.where((p >= 0.6112126) & (p <= 22064.01), p / 1000.0, np.nan) ** 0.25
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2.0 * g / (-f - np.sqrt(f * f - 4.0 * e * g))
    t = (_N[9] + d - np.sqrt((_N[9] + d) ** 2 - 4.0 * (_N[8] + _N[9] * d))) / 2.0
    return np.asarray(t - _ZERO_K)[()]


def pressure_slope_kPa_K(temperature_C: ArrayLike) -> Floats:
    """How fast the vapour pressure rises with temperature, kPa/K; range as :func:`saturation_pressure_kPa`."""
    t = np.asarray(temperature_C, dtype=float) + _ZERO_K
    p = saturation_pressure_kPa(temperature_C)
    theta, beta = t + _N[8] / (t - _N[9]), (p / 1000.0) ** 0.25
    by_theta = 2.0 * theta * (beta**2 + _N[2] * beta + _N[5]) + _N[0] * beta**2 + _N[3] * beta + _N[6]
    by_beta = 2.0 * beta * (theta**2 + _N[0] * theta + _N[1]) + _N[2] * theta**2 + _N[3] * theta + _N[4]
    return np.asarray(4000.0 * beta**3 * -by_theta / by_beta * (1.0 - _N[8] / (t - _N[9]) ** 2))[()]


def latent_heat_kJ_kg(temperature_C: ArrayLike) -> Floats:
    """Heat that evaporates a kilogram of pure water at its own vapour pressure.

    Parameters
    ----------
    temperature_C : array_like
        Temperature, °C.

    Returns
    -------
    numpy.ndarray
        kJ/kg, in the shape of the input; range as :func:`saturation_pressure_kPa`.

    Notes
    -----
    Clausius and Clapeyron's equation, T dp/dT (v_vapour - v_liquid), with the saturated densities of IAPWS
    SR1-86(1992) (W. Wagner, A. Pruß, J. Phys. Chem. Ref. Data 22 (1993) 783, doi 10.1063/1.555926). Within
    0.03 % of IAPWS-IF97 from 0 to 200 °C.

    Examples
    --------
    >>> round(float(latent_heat_kJ_kg(100.0)))
    2257
    """
    t = np.asarray(temperature_C, dtype=float) + _ZERO_K
    gap = np.maximum(1.0 - t / _CRITICAL_K, 0.0)
    liquid = _CRITICAL_KG_M3 * (1.0 + sum(b * gap**k for b, k in _LIQUID))
    return np.asarray(t * pressure_slope_kPa_K(temperature_C) * (1.0 / _vapour_kg_m3(t) - 1.0 / liquid))[()]


def boiling_with_activity_C(water_activity: ArrayLike, pressure_kPa: ArrayLike) -> Floats:
    """Temperature at which a liquid of that water activity boils.

    Parameters
    ----------
    water_activity : array_like
        Above 0 to 1.
    pressure_kPa : array_like
        The air's pressure, kPa; the two broadcast.

    Returns
    -------
    numpy.ndarray
        °C; NaN where :func:`boiling_temperature_C` is.

    Notes
    -----
    Where steam at p stands over the liquid, ln a = ln(p/p_s) + (1 - Z)(1 - p/p_s), with pure water's vapour pressure p_s
    and the compressibility Z of its saturated vapour: steam is no ideal gas, which is 1.5 % of the elevation at 100 °C.

    Examples
    --------
    >>> round(float(boiling_with_activity_C(0.75, 101.325)), 1)
    108.4
    """
    a, p = np.asarray(water_activity, float), np.asarray(pressure_kPa, float)
    t = boiling_temperature_C(p / a)
    for _ in range(_ROUNDS):
        share = p / saturation_pressure_kPa(t)
        t = boiling_temperature_C(p / a * np.exp((1.0 - _compressibility(t)) * (1.0 - share)))
    return t


def activity_of_boiling(temperature_C: ArrayLike, pressure_kPa: ArrayLike) -> Floats:
    """Water activity of a liquid that boils at a temperature: :func:`boiling_with_activity_C` the other way round.

    Examples
    --------
    >>> round(float(activity_of_boiling(99.974, 101.325)), 4)
    1.0
    """
    p = np.asarray(pressure_kPa, float)
    share = p / saturation_pressure_kPa(temperature_C)
    return np.asarray(share * np.exp((1.0 - _compressibility(temperature_C)) * (1.0 - share)))[()]


def _vapour_kg_m3(temperature_K: Floats) -> Floats:
    gap = np.maximum(1.0 - temperature_K / _CRITICAL_K, 0.0)
    return np.asarray(_CRITICAL_KG_M3 * np.exp(sum(c * gap**k for c, k in _VAPOUR)))


def _compressibility(temperature_C: ArrayLike) -> Floats:
    """Z of saturated steam."""
    t = np.asarray(temperature_C, float) + _ZERO_K
    return np.asarray(saturation_pressure_kPa(temperature_C) / (_vapour_kg_m3(t) * _STEAM_KJ_KG_K * t))


def pressure_at_altitude_kPa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere at an altitude.

    Parameters
    ----------
    altitude_m : float
        Height above the sea, m (geopotential), -2000 to 11000.

    Returns
    -------
    float
        kPa. The weather moves it by 3 % either way: 1 K in the boiling point.

    Raises
    ------
    InputError
        Outside that range.

    References
    ----------
    ISO 2533:1975, lowest layer (as the US Standard Atmosphere 1976): 15 °C at the sea, 6.5 K/km.

    Examples
    --------
    >>> round(pressure_at_altitude_kPa(800.0), 2)
    92.08
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise InputError(
            "altitude", f"{altitude_m:g} m", f"from {LOWEST_M:g} to {HIGHEST_M:g} m above the sea", "800 m"
        )
    return STANDARD_kPa * (1.0 - 0.0065 * altitude_m / 288.15) ** (9.80665 / (0.0065 * 287.05287))
