"""Records do not change once made: every dataclass of the layers below the faces is frozen, but for those that gather."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil

import pytest

import crystal

GATHER = {"Solved", "Folder", "ReactionPot", "_Rounds"}
"""Filled in by the one function or loop that makes them."""
LAYERS = ("crystal.data", "crystal.physics", "crystal.bench", "crystal.units")
MODULES = [m.name for m in pkgutil.walk_packages(crystal.__path__, "crystal.") if m.name.startswith(LAYERS)]


@pytest.mark.parametrize("name", MODULES)
def test_dataclasses_are_frozen(name):
    module = importlib.import_module(name)
    made_here = [
        one for one in vars(module).values()
        if isinstance(one, type) and one.__module__ == name and dataclasses.is_dataclass(one)
    ]  # fmt: skip
    for one in made_here:
        assert one.__dataclass_params__.frozen == (one.__name__ not in GATHER), one
