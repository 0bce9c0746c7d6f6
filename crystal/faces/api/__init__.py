"""The Python interface: what ``import crystal`` offers. Thin over the bench; numbers are those of the command line.

``salts`` and ``salt`` tell what is known, ``pot`` and ``batch`` describe a pot; everything else is asked of the pot.
"""

from crystal.faces.api.entry import batch, pot, react
from crystal.faces.api.outlook import Evidence, Odds
from crystal.faces.api.pots import Pot
from crystal.faces.api.reaction import Reaction
from crystal.faces.api.results import Advice, Explained, Marks, Path, Reduction, Yields
from crystal.faces.api.salts import Salt, Salts, salt, salts
from crystal.faces.api.stages import Boiling, Cooling, CropPlan, Harvested, Kept

__all__ = [
    "Advice",
    "Boiling",
    "Cooling",
    "CropPlan",
    "Evidence",
    "Explained",
    "Harvested",
    "Kept",
    "Marks",
    "Odds",
    "Path",
    "Pot",
    "Reaction",
    "Reduction",
    "Salt",
    "Salts",
    "Yields",
    "batch",
    "pot",
    "react",
    "salt",
    "salts",
]
