"""The walk from lamp to lamp at the command line, against a real engine."""

from __future__ import annotations

import json
from pathlib import Path

from tests.process.house import House
from tests.process.test_probe import house as house  # the engine that runs


def walked(house: House, *typed: str) -> tuple[int, dict[str, object], str]:
    process = house.start("who", str(house.show), "--json", typed=True)
    said, wrong = process.communicate("".join(f"{line}\n" for line in typed), 60.0)
    return process.returncode, json.loads(said) if said.strip() else {}, wrong


def rig(house: House) -> dict[str, tuple[int, int]]:
    show = json.loads(Path(house.show).read_text(encoding="utf-8"))
    return {one["id"]: (one["universe"], one["address"]) for one in show["rig"]["fixtures"]}


def alike(house: House) -> tuple[str, str]:
    """The first lamp of the rig, and a new one of its kind behind all others."""
    show = json.loads(Path(house.show).read_text(encoding="utf-8"))
    first = show["rig"]["fixtures"][0]
    kind = f"{first['profile']}/{first['mode']}"
    assert house.run("send", "patch", "twin", kind, "next", "role=fill").returncode == 0
    return first["id"], "twin"


def test_a_rig_that_answers_as_patched(house: House) -> None:
    names = list(rig(house))
    status, told, _ = walked(house, "perhaps", *(["yes"] * len(names)))
    assert (status, told) == (0, {"lamps": len(names), "swapped": [], "to_do": []})


def test_two_lamps_that_are_mixed_up_are_swapped_in_the_patch(house: House) -> None:
    one, other = alike(house)
    before = rig(house)
    names = list(before)
    at = names.index(one)
    typed = [*(["y"] * at), other, "yes", *(["y"] * (len(names) - at))]
    status, told, _ = walked(house, *typed)
    assert status == 0 and told["swapped"] == [[one, other]]
    after = rig(house)
    assert (after[one], after[other]) == (before[other], before[one])
    assert house.run("send", "undo").returncode == 0
    assert rig(house) == before


def test_what_is_left_is_said_and_nothing_is_changed(house: House) -> None:
    one, other = alike(house)
    names, before = list(rig(house)), rig(house)
    typed = ["no" if name != one else other for name in names]
    typed.insert(names.index(one) + 1, "no")  # do not swap
    status, told, wrong = walked(house, *typed)
    assert status == 1 and len(told["to_do"]) == len(names)  # type: ignore[arg-type]
    assert f"{other} is set to the address of {one}" in "\n".join(told["to_do"])  # type: ignore[arg-type]
    assert rig(house) == before and "Traceback" not in wrong


def test_stop_and_the_end_of_the_input_end_it(house: House) -> None:
    for typed in (("stop",), ()):
        status, told, wrong = walked(house, *typed)
        assert (status, told) == (1, {}) and "stopped" in wrong
