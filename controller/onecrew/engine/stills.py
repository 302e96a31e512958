"""Stills: what a run of them is to take, and its list as a file beside the show. Nothing here is light.

What pictures need is imported when it is asked for: the engine runs without it, and so small.
"""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from onecrew.engine.desk import Desk
from onecrew.engine.late_imports import imported
from onecrew.engine.queries import Answer, SlowAnswer, read
from onecrew.errors import Mistake, Trouble
from onecrew.show.base import Level, Model, Name

MOST_LISTS = 99


class _Plan(Model):
    lamps: tuple[Name, ...] = ()
    """Empty: all."""
    one_white: bool = False
    output: Annotated[Level, Field(gt=0.0)] = 1.0


def plan(desk: Desk, arguments: dict[str, Any]) -> SlowAnswer:
    """Every still of a run, in order, as entries of its list: ``{"stills": […]}``."""
    asked = read(_Plan, arguments)
    fixtures = [desk.show.rig.fixtures[place] for place in desk.compiled.lamps(asked.lamps)]
    fixtures = fixtures or list(desk.show.rig.fixtures)
    if not fixtures:
        raise Mistake("the show has no lamp; patch one first")
    profiles = desk.profiles

    async def work() -> Answer:
        planned = (await imported("onecrew.stills.run_plan")).planned
        as_entry = (await imported("onecrew.stills.guided")).as_entry
        way = {"one_white": asked.one_white, "output": asked.output}
        shots = await asyncio.to_thread(planned, fixtures, profiles, **way)
        return {"stills": [as_entry(shot) for shot in shots]}

    return work()


class _List(Model):
    stills: Annotated[tuple[dict[str, Any], ...], Field(min_length=1, max_length=400)]


def keep_list(desk: Desk, show: Path, arguments: dict[str, Any]) -> SlowAnswer:
    """Writes the list of what was taken beside the show, under a name that is free: ``{"file": …}``."""
    asked = read(_List, arguments)
    white_balance_k = desk.show.camera.white_balance_k

    def write(shotlist: Any) -> Answer:
        document = {"white_balance_k": white_balance_k, "stills": list(asked.stills)}
        shotlist.shot_list(document)  # raises what is wrong with it
        text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
        for number in range(1, MOST_LISTS + 1):
            path = show.with_name(f"{show.stem}-stills{'' if number == 1 else f'-{number}'}.json")
            try:
                with path.open("x", encoding="utf-8") as file:
                    file.write(text)
            except FileExistsError:
                continue
            except OSError as error:
                raise Trouble(f"{path} cannot be written ({error.strerror})") from error
            return {"file": path.name}
        raise Trouble(f"there are {MOST_LISTS} lists of stills beside the show; remove some")

    async def work() -> Answer:
        return await asyncio.to_thread(write, await imported("onecrew.stills.shotlist"))

    return work()
