"""The numbers in the docstrings are what the functions return."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import onecrew.colour


def test_every_example_in_a_docstring() -> None:
    tried = 0
    for module in pkgutil.iter_modules(onecrew.colour.__path__):
        result = doctest.testmod(importlib.import_module(f"onecrew.colour.{module.name}"))
        assert result.failed == 0, module.name
        tried += result.attempted
    assert tried >= 6
