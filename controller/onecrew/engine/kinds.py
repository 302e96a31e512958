"""Kinds: what clients ask about kinds of fixture beyond those that the engine has loaded.

Profiles that were added while it runs, lamps that are probed, GDTF files to import. Nothing here touches the
light: a profile that is in use stays as it was loaded. A file of others is read in a process of its own, so
that nothing in it can hold up a frame.
"""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from onecrew.engine.desk import Desk
from onecrew.engine.queries import Answer, SlowAnswer, profiles, read
from onecrew.errors import Refused
from onecrew.fixtures.probe import Layout, Question, asked_so_far
from onecrew.fixtures.probe_answers import MEANINGS
from onecrew.fixtures.probe_answers import Answer as Seen
from onecrew.fixtures.probe_profile import fitting, profile_text, usable
from onecrew.show.base import Model
from onecrew.show.destination import SLOTS
from onecrew.show.profiles import keep_profile, load_profiles, parse_profile

IMPORT_S = 20.0
"""How long an import may take."""
MOST_LINES = 60
MOST_BROKEN, MOST_LETTERS = 20, 600
"""Profile files that cannot be used of which is said why, and how much of each."""


async def profiles_again(desk: Desk, show: Path) -> Answer:
    """Every kind that can be patched, with those that were added since the engine began; and by the name of
    its file what is wrong with one that cannot be used, ``{"broken"}``."""
    library = await asyncio.to_thread(load_profiles, beside=show)
    desk.learn_kinds(library)
    broken = list(library.broken.items())[:MOST_BROKEN]
    return {**profiles(desk), "broken": {name: str(error)[:MOST_LETTERS] for name, error in broken}}


class _Probe(Model):
    width: Annotated[int, Field(ge=1, le=SLOTS)]
    skip: Annotated[int, Field(ge=0, lt=SLOTS)] = 0
    answers: Annotated[tuple[str, ...], Field(max_length=SLOTS + 8)] = ()
    keep: str = ""
    """What to call the profile that is made when the questions are at an end."""


def probe(desk: Desk, arguments: dict[str, Any]) -> Answer | SlowAnswer:
    """The next question about an unknown lamp after some answers, or what was found.

    With ``keep``, a layout that was found becomes a profile of the user's own, which is then known here.
    """
    asked = read(_Probe, arguments)
    known = {answer.value: answer for answer in Seen}
    if unknown := [word for word in asked.answers if word not in known]:
        raise Refused(f"'{unknown[0]}' is no answer: there are {', '.join(known)}")
    now = asked_so_far(asked.width, [known[word] for word in asked.answers], asked.skip)
    if isinstance(now, Question):
        return {
            "words": now.words,
            "before": list(now.before),
            "then": list(now.then),
            "steps": [list(step) for step in now.steps],
            "answers": [[answer.value, MEANINGS.get(answer, f"{answer} light")] for answer in now.answers],
        }
    return _keep(desk, now, asked.keep) if asked.keep else _found(desk, now)


def _found(desk: Desk, layout: Layout) -> Answer:
    fits = [
        {"profile": profile.id, "name": profile.name, "mode": mode.name}
        for profile, mode in fitting(layout, desk.profiles)
    ]
    return {"kinds": list(layout.kinds), "usable": usable(layout), "fits": fits}


async def _keep(desk: Desk, layout: Layout, name: str) -> Answer:
    if not usable(layout):
        raise Refused("nothing that gives light was found, so no profile can be made of it")
    text = profile_text(layout, f"Probed lamp {name}", "probed")
    profile = parse_profile(text, name, name)
    file = await asyncio.to_thread(keep_profile, name, text)
    desk.learn_kinds({name: profile})
    return {**_found(desk, layout), "file": str(file)}


class _Import(Model):
    path: Annotated[str, Field(min_length=1, max_length=1000)]


async def import_gdtf(desk: Desk, show: Path, arguments: dict[str, Any]) -> Answer:
    """Imports a GDTF file, or all of a folder: ``{"done", "lines"}``, what became of it in words."""
    path = Path(read(_Import, arguments).path).expanduser()
    if not path.is_absolute():
        path = show.parent / path
    command = (sys.executable, "-m", "onecrew.cli", "profiles", "import", str(path))
    process = await asyncio.create_subprocess_exec(
        *command,
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.STDOUT,
    )
    try:
        said, _ = await asyncio.wait_for(process.communicate(), IMPORT_S)
    except TimeoutError:
        raise Refused(f"the import took longer than {IMPORT_S:g} s: import fewer files at once") from None
    finally:
        if process.returncode is None:
            process.kill()
    await profiles_again(desk, show)
    told = [line.removeprefix("onecrew: ") for line in said.decode(errors="replace").splitlines()]
    lines = [line for line in told if "`onecrew " not in line]  # commands, which a screen has no place for
    if len(lines) > MOST_LINES:
        lines[MOST_LINES:] = [f"… and {len(lines) - MOST_LINES} lines more; the profiles say it all"]
    return {"done": process.returncode == 0, "lines": lines}
