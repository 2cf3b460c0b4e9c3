"""The examples in the workbench's own docstrings, which need Django to be set up first."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import traywise.workbench

MODULES = [
    info.name
    for info in pkgutil.walk_packages(traywise.workbench.__path__, "traywise.workbench.")
    if "migrations" not in info.name
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_are_true(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples() -> None:
    found = [doctest.DocTestFinder().find(importlib.import_module(name)) for name in MODULES]
    assert sum(bool(test.examples) for tests in found for test in tests) >= 5
