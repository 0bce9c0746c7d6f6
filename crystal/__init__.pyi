from crystal.faces.api import batch as batch
from crystal.faces.api import pot as pot
from crystal.faces.api import react as react
from crystal.faces.api import salt as salt
from crystal.faces.api import salts as salts

__version__: str
