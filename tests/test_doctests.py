"""Every example in a docstring runs."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import crystal

MODULES = [
    info.name
    for info in pkgutil.walk_packages(crystal.__path__, "crystal.")
    if not info.name.endswith("__main__")
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_of(name):
    result = doctest.testmod(importlib.import_module(name), optionflags=doctest.NORMALIZE_WHITESPACE)
    assert result.failed == 0


def test_examples_are_there():
    finder = doctest.DocTestFinder(exclude_empty=True)
    examples = sum(len(t.examples) for name in MODULES for t in finder.find(importlib.import_module(name)))
    assert examples > 100
