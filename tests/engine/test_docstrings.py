"""Docstrings are taken out of bytecode as if they had not been written, and nothing else is."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import CodeType

import numpy as np
import pydantic
import pytest

import onecrew.engine
import onecrew.show
from onecrew.engine import docstrings
from onecrew.engine.docstrings import LEFT_OUT, without_docstrings
from onecrew.engine.supervisor import EXIT_DIED, EXIT_DONE

Documented = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
PACKAGES = [Path(place) for place in (*onecrew.engine.__path__, *onecrew.show.__path__, *np.lib.__path__)]
PACKAGES += [Path(place) / "_internal" for place in pydantic.__path__]
STANDS_FOR_IT = "\x01 no such words anywhere"


def files() -> Iterator[Path]:
    for package in PACKAGES:
        yield from (path for path in sorted(package.rglob("*.py")) if "tests" not in path.parts)


def written_without(source: str) -> CodeType:
    """The compiler's own answer: what it makes of the source with other docstrings."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, Documented) and node.body:
            first = node.body[0]
            said = first.value if isinstance(first, ast.Expr) else None
            if isinstance(said, ast.Constant) and isinstance(said.value, str):
                said.value = STANDS_FOR_IT
    return compile(tree, "file", "exec", dont_inherit=True)


def pairs(ours: CodeType, wanted: CodeType) -> Iterator[tuple[CodeType, CodeType]]:
    """Both, and all that is in them."""
    yield ours, wanted
    for mine, theirs in zip(inner(ours), inner(wanted), strict=True):
        yield from pairs(mine, theirs)


def inner(code: CodeType) -> list[CodeType]:
    return [one for one in code.co_consts if isinstance(one, CodeType)]


def plain(code: CodeType) -> tuple[CodeType, list[object]]:
    """The code without its constants, and those that are no code."""
    return code.replace(co_consts=()), [one for one in code.co_consts if not isinstance(one, CodeType)]


def test_law_what_is_left_is_what_the_compiler_makes_of_other_docstrings(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(docstrings, "LEFT_OUT", STANDS_FOR_IT)
    left_out = still_there = 0
    for path in files():
        source = path.read_text(encoding="utf-8")
        before = compile(source, "file", "exec", dont_inherit=True)
        for ours, wanted in pairs(without_docstrings(before), written_without(source)):
            if STANDS_FOR_IT in wanted.co_consts and STANDS_FOR_IT not in ours.co_consts:
                still_there += 1
            else:
                assert plain(ours) == plain(wanted), (path, ours.co_qualname)
                left_out += STANDS_FOR_IT in ours.co_consts
    assert left_out > 1000 and still_there < left_out / 100, (left_out, still_there)


NAMES = "\n".join(f"name{number} = {number}" for number in range(300))
SOURCE = '''
"""The module's."""
class Plain:
    """The class's."""
    words: str = "The class's own"
    def method(self):
        """The method's."""
        return "an answer"
class Alike:
    """said"""
    word = "said"
class Bare:
    word = "bare"
class Made:
    __doc__ = str("made")
def alike():
    """said"""
    return "said"
async def later():
    """The coroutine's."""
    def inner():
        """The inner one's."""
        return "inner"
    return inner()
def bare():
    return "bare"
def silent():
    """The only thing there."""
def raw(): "in a line"
joined = [word for word in ("a", "b")]
short = lambda: "a lambda's"
'''


def ran() -> dict[str, object]:
    names: dict[str, object] = {"__name__": "made"}
    exec(without_docstrings(compile(SOURCE, "made", "exec", dont_inherit=True)), names)
    return names


def test_what_the_code_says_stays() -> None:
    made = ran()
    said = {name: made[name]() for name in ("alike", "bare", "silent", "raw", "short")}  # type: ignore[operator]
    assert said == {"alike": "said", "bare": "bare", "silent": None, "raw": None, "short": "a lambda's"}
    words = [
        getattr(made[name], word) for name, word in (("Plain", "words"), ("Alike", "word"), ("Bare", "word"))
    ]
    assert words == ["The class's own", "said", "bare"]
    assert (made["Made"].__qualname__, made["Made"].__doc__) == ("Made", "made")  # type: ignore[attr-defined]
    assert made["Plain"]().method() == "an answer"  # type: ignore[operator]


def test_docstrings_go() -> None:
    made = ran()
    gone = [made["Plain"], made["Plain"].method, made["later"], made["silent"], made["raw"]]  # type: ignore[attr-defined]
    assert made["__doc__"] == LEFT_OUT
    assert [one.__doc__ for one in gone] == [LEFT_OUT] * len(gone)
    assert [made[name].__doc__ for name in ("Bare", "bare", "short")] == [None] * 3
    # What is also a value of the code is kept: which of the two is meant cannot be told.
    assert [made[name].__doc__ for name in ("Alike", "alike")] == ["said", "said"]


SCRIPT = """
from onecrew.engine.docstrings import docstrings_left_out
with docstrings_left_out():
    import onecrew.commands.light, onecrew.engine.main
import colorsys, numpy.ma
print(onecrew.engine.main.main.__doc__, onecrew.engine.desk.Desk.__doc__)
kept = (onecrew.commands.light, numpy.clip, numpy.ma.clip, colorsys)
print([len(one.__doc__) > 20 for one in kept])
"""


def test_an_import_leaves_them_out_but_where_somebody_wants_them() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.splitlines() == ["- -", "[True, True, True, True]"]


def test_a_name_far_down_is_no_trouble() -> None:
    names: dict[str, object] = {}
    source = f"{NAMES}\ndef f(): 'words'\nf.__doc__ = 'others'\n"
    exec(without_docstrings(compile(source, "made", "exec", dont_inherit=True)), names)
    assert names["f"].__doc__ == "others"


# Stands before the library of that name on the path, and gives way to it where it has its docstrings.
PARTICULAR = """
import importlib, sys
def said(): "words"
if said.__doc__ != "words":
    raise RuntimeError("a library that wants its docstrings")
sys.path.remove({folder!r})
del sys.modules[__name__]
importlib.invalidate_caches()
importlib.import_module(__name__)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="there the engine says that it cannot be loaded")
@pytest.mark.parametrize(
    ("library", "said"),
    [
        (PARTICULAR, ""),
        (
            "raise ValueError('broken')",
            "onecrew: the engine could not be loaded (ValueError: broken): install onecrew again\n",
        ),
    ],
)
def test_where_a_library_wants_them_the_engine_is_loaded_with_them(
    library: str, said: str, tmp_path: Path
) -> None:
    (tmp_path / "platformdirs.py").write_text(library.format(folder=str(tmp_path)), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "onecrew.engine", "--spare", str(tmp_path / "show.json")],
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.stderr, done.returncode) == (said, EXIT_DIED if said else EXIT_DONE)
