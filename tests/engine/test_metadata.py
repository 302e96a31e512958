"""Metadata of packages is not read by importing what pydantic wants of it, and is there once it is used."""

from __future__ import annotations

import subprocess
import sys

import pytest

BEGIN = """
import sys
from onecrew.engine.metadata import METADATA, PutOff, put_off_metadata
put_off_metadata()
"""
SEEN = "print(isinstance(sys.modules[METADATA], PutOff), 'email' in sys.modules)\n"


def said(script: str) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-c", BEGIN + script], capture_output=True, text=True, timeout=60, check=True
    )
    return done.stdout.splitlines()


def test_an_import_loads_nothing() -> None:
    looked = "for module in list(sys.modules.values()):\n    hasattr(module, '__file__')\n"
    assert said(f"from importlib.metadata import entry_points\n{looked}{SEEN}") == ["True False"]


@pytest.mark.parametrize(
    "use",
    [
        "from importlib.metadata import entry_points\nfound = entry_points(group='console_scripts')\n",
        "from importlib.metadata import version\nfound = version('pydantic')\n",
        "import importlib.metadata\nfound = importlib.metadata.version('pydantic')\n",
    ],
)
def test_its_first_use_loads_it(use: str) -> None:
    assert said(f"{use}print(bool(found))\n{SEEN}") == ["True", "False True"]


def test_what_is_loaded_already_stays() -> None:
    again = "from importlib import import_module\nreal = sys.modules[METADATA] = import_module('email')\n"
    assert said(f"{again}put_off_metadata()\nprint(sys.modules[METADATA] is real)\n") == ["True"]
