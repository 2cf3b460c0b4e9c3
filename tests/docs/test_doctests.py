"""Every example in a docstring holds."""

from __future__ import annotations

import doctest
import pkgutil
from importlib import import_module

import pytest

import traywise

# Django's rooms need a set-up clinic, the kernel a compiler: their own tests run them.
LEFT_OUT = ("traywise.workbench", "traywise.population")
MODULES = sorted(
    module.name
    for module in pkgutil.walk_packages(traywise.__path__, "traywise.")
    if not module.name.startswith(LEFT_OUT)
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_hold(name: str) -> None:
    assert doctest.testmod(import_module(name)).failed == 0


def test_examples_are_found() -> None:
    finder = doctest.DocTestFinder()
    examples = sum(
        len(test.examples) for name in MODULES for test in finder.find(import_module(name))
    )
    assert examples > 100
