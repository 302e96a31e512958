"""Run benchmarks: ``python -m tests.benchmarks [name …]``, all of them or those named (``colour`` …).

``--minutes 10`` is how long each half of ``soak`` takes, ``--table`` prints rows as DEVELOPERS.md has
them. Exit status 0 when every goal is met, 1 when one is not, 2 for a name that there is none of.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from pathlib import Path

from tests.benchmarks import bench_soak
from tests.benchmarks.report import print_rows, print_table

# Read by numpy when it loads. At these sizes threads in the linear algebra only wait for one another, and
# every figure would hang on what else the machine is doing.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# An installed program has its modules compiled; where the environment forbids it, every start compiles anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

PREFIX = "bench_"


def names() -> list[str]:
    """The benchmarks there are, by the files beside this one."""
    return sorted(file.stem.removeprefix(PREFIX) for file in Path(__file__).parent.glob(f"{PREFIX}*.py"))


def main(words: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks")
    parser.add_argument("names", nargs="*")
    parser.add_argument("--minutes", type=float, default=bench_soak.MINUTES)
    parser.add_argument("--table", action="store_true")
    arguments = parser.parse_args(words)
    bench_soak.MINUTES = max(arguments.minutes, 0.05)
    asked, there = [name for name in arguments.names if name != "all"], names()
    unknown = [name for name in asked if name not in there]
    if unknown:
        print(f"no benchmark is called {unknown[0]}; there are: {', '.join(there)}", file=sys.stderr)
        return 2
    all_met, show = True, print_table if arguments.table else print_rows
    for name in asked or there:
        module = importlib.import_module(f"tests.benchmarks.{PREFIX}{name}")
        title = (module.__doc__ or name).strip().splitlines()[0]
        all_met = show(f"{name}: {title}", module.rows()) and all_met
    return 0 if all_met else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
