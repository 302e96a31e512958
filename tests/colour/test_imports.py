"""What colour imports: numpy and the standard library, and it starts fast because of it."""

from __future__ import annotations

import subprocess
import sys

SCRIPT = """
import importlib, pkgutil, sys
import onecrew.colour
for module in pkgutil.iter_modules(onecrew.colour.__path__):
    importlib.import_module(f"onecrew.colour.{module.name}")
from onecrew.colour.locus_table import warm_up
warm_up()
ours = {name.split(".")[0] for name, module in sys.modules.items() if getattr(module, "__file__", None)}
print(*sorted(ours - sys.stdlib_module_names))
print(*sorted(name for name in sys.modules if name.startswith("onecrew.")))
"""


def test_colour_imports_numpy_alone() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], capture_output=True, text=True, timeout=60, check=True
    )
    foreign, ours = done.stdout.splitlines()
    # pytest-cov and editable installs may put their own loaders in; nothing of colour's asks for them.
    assert {"numpy", "onecrew"} <= set(foreign.split())
    unwanted = {"scipy", "colour", "luxpy", "matplotlib", "pandas", "pydantic", "textual", "rich", "sacn"}
    assert not unwanted & set(foreign.split())
    assert all(name.startswith("onecrew.colour") for name in ours.split())
