"""Docstrings: left out of what the engine imports, which has no use for them: 1.6 MB of memory.

``python -OO`` leaves them out as well, but installers write no bytecode for it: each start would compile all.
So they are taken out of the bytecode that there is, as it is loaded.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from importlib.machinery import SourceFileLoader
from inspect import CO_OPTIMIZED
from opcode import hasconst, opmap
from types import CodeType

WANTED = "ONECREW_DOCSTRINGS"
"""Environment variable by which an engine keeps them: one that could not be loaded tries that way once."""
LEFT_OUT = "-"
"""Stands for each: where there is nothing dataclasses makes up one."""
KEPT = ("onecrew.commands.", "numpy.")
"""Of these modules they stay: a reference says those of commands, and numpy.ma makes its own of numpy's."""
_LOAD, _STORE = opmap["LOAD_CONST"], opmap["STORE_NAME"]
_LOADS = [load for load in hasconst if load < 256]  # the others are the compiler's own


@contextlib.contextmanager
def docstrings_left_out() -> Iterator[None]:
    """Makes every import meanwhile leave them out."""
    as_it_is = SourceFileLoader.get_code

    def get_code(self: SourceFileLoader, fullname: str) -> CodeType | None:
        code = as_it_is(self, fullname)
        return code if code is None or fullname.startswith(KEPT) else without_docstrings(code)

    setattr(SourceFileLoader, "get_code", get_code)  # noqa: B010 — a method of somebody else's class
    try:
        yield
    finally:
        setattr(SourceFileLoader, "get_code", as_it_is)  # noqa: B010


def without_docstrings(code: CodeType) -> CodeType:
    """The same code, and what is in it, without docstrings. One stays that the code uses besides."""
    constants = list(code.co_consts)
    at = _docstring(code)
    if at is not None:
        constants[at] = LEFT_OUT
    for place, inner in enumerate(code.co_consts):
        if isinstance(inner, CodeType):
            constants[place] = without_docstrings(inner)
    same = all(a is b for a, b in zip(constants, code.co_consts, strict=True))
    return code if same else code.replace(co_consts=tuple(constants))


def _docstring(code: CodeType) -> int | None:
    """Which of the constants is the docstring and nothing else; None: none."""
    if code.co_flags & CO_OPTIMIZED:  # of a function: the first, which no instruction loads
        at, loads = 0, 0
    elif "__doc__" in code.co_names:  # of a class or a module: what is stored under that name
        bytecode, name = code.co_code, code.co_names.index("__doc__")
        stored = bytecode.find(bytes((_STORE, name))) if name < 256 else -1
        if stored < 2 or bytecode[stored - 2] != _LOAD:
            return None
        at, loads = bytecode[stored - 1], 1
    else:
        return None
    if not code.co_consts or not isinstance(code.co_consts[at], str):
        return None
    # Two bytes that only look like an instruction are counted, too: a docstring stays then.
    return at if sum(code.co_code.count(bytes((load, at))) for load in _LOADS) == loads else None
