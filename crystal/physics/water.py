"""The density of liquid water."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FITTED_DEGC = (-30.0, 150.0)
_CONTINUED_DEGC = (-30.0, 260.0)
_NUMERATOR = (-2.8054253e-10, 1.0556302e-7, -4.6170461e-5, -0.0079870401, 16.945176, 999.83952)
_DENOMINATOR = 0.01687985


def density_g_mL(temperature_C: ArrayLike) -> NDArray[np.float64]:
    """Density of liquid water at 1 atm, or along saturation above 100 °C.

    Parameters
    ----------
    temperature_C : array_like
        Temperature in °C.

    Returns
    -------
    numpy.ndarray
        g/mL, in the shape of the input.

    Notes
    -----
    Fitted over -30 to 150 °C. Below -30 °C the value at -30 °C is held: the formula has a pole at -59 °C and
    is 0.1 g/mL low at -50 °C, and the water of a cold brine does not expand like supercooled water, so this
    is a convention with a doubt of about 3 %. From 150 to 260 °C, which only calcium, magnesium and lithium
    chloride liquors reach, the formula is continued: within 0.13 % of saturated liquid water to 200 °C and
    0.6 % to 260 °C; above, the value at 260 °C is held. From 0 to 100 °C it is within 0.005 % of IAPWS-IF97.

    References
    ----------
    G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, doi 10.1021/je60064a005, in the form that M. Laliberté's
    solution densities use (J. Chem. Eng. Data 54 (2009) 1725, doi 10.1021/je8008123).

    Examples
    --------
    >>> round(float(density_g_mL(20.0)), 4)
    0.9982
    """
    t = np.clip(np.asarray(temperature_C, dtype=float), *_CONTINUED_DEGC)
    top = np.polyval(_NUMERATOR, t)
    return np.asarray(1e-3 * top / (1.0 + _DENOMINATOR * t))[()]
