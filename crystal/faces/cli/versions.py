"""What answers: the versions of the program and of what it stands on, and the edition of the data."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version

import crystal
from crystal.data.catalogue import Catalogue

_LIBRARIES = ("numpy", "scipy", "pandas", "matplotlib", "pint", "molmass", "rich")


def text(own_data: str | None = None) -> str:
    """One line each for the program, Python with the libraries, and the data."""
    libraries = []
    for name in _LIBRARIES:
        try:
            libraries.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            libraries.append(f"{name} missing")
    catalogue = Catalogue.current(own_data)
    return (
        f"crystal {crystal.__version__}\n"
        f"Python {platform.python_version()}, {', '.join(libraries)}\n"
        f"data edition {catalogue.edition}, {len(catalogue.salts)} salts\n"
    )
