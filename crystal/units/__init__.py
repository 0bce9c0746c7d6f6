"""Quantities as a person writes them, read into plain floats in fixed units.

This package is the only place that knows ``pint``, and imports it at the first text that is read. Inside the
program there are only floats whose unit is in the name. Units of the kitchen (cup, tsp, gal, fl oz) are US
customary unless written with "imperial".
"""

from crystal.units.amounts import Amount, Size, amount_of, end_size, end_sizes, removal
from crystal.units.measures import (
    density_at,
    density_g_mL,
    mass_g,
    temperature_C,
    temperatures_C,
    time_h,
    volume_mL,
)
from crystal.units.solutions import SolutionText, Taken, share, solution, taken
from crystal.units.strength import Strength, strength

__all__ = [
    "Amount",
    "Size",
    "SolutionText",
    "Strength",
    "Taken",
    "amount_of",
    "density_at",
    "density_g_mL",
    "end_size",
    "end_sizes",
    "mass_g",
    "removal",
    "share",
    "solution",
    "strength",
    "taken",
    "temperature_C",
    "temperatures_C",
    "time_h",
    "volume_mL",
]
