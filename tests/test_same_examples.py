"""Property tests draw the same examples in every run, whatever else has been imported."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

_DRAW = """
import sys
import tests.conftest
from hypothesis import given, settings, strategies as st
if sys.argv[1:]:
    import full_of_constants
@settings(max_examples=300)
@given(st.tuples(st.floats(0, 1e6), st.integers(), st.text(), st.binary()))
def draw(drawn):
    print(ascii(drawn))
draw()
"""


def examples(program: Path, *arguments: str) -> list[str]:
    """What the program draws under the settings of these tests."""
    run = subprocess.run(
        [sys.executable, program.name, *arguments],
        capture_output=True,
        text=True,
        cwd=program.parent,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])},
        check=False,
    )
    assert run.returncode == 0, run.stderr
    return run.stdout.splitlines()


def test_examples_do_not_depend_on_what_is_imported(tmp_path: Path) -> None:
    program = tmp_path / "draw.py"
    program.write_text(_DRAW, "utf-8")
    constants = [f"({n * 1000.5}, {n * 777_777}, 'word {n}', b'bytes {n}')" for n in range(200)]
    (tmp_path / "full_of_constants.py").write_text(f"ALL = [{', '.join(constants)}]\n", "utf-8")
    alone = examples(program)
    assert len(set(alone)) > 200
    assert examples(program, "with constants") == alone
