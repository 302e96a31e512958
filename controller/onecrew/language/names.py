"""Reads what names something: lamps by id, role or 'all', cues by number or name, roles, addresses. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from onecrew.errors import Misuse
from onecrew.language.reading import whole
from onecrew.show.base import CUE_NUMBER, SHORT_NAME, cue_order, folded, known_as
from onecrew.show.destination import SLOTS, UNIVERSE_MAX
from onecrew.show.faults import meant
from onecrew.show.show import ROLES, Cue, Fixture, Role, Show

CUE = re.compile(CUE_NUMBER, re.ASCII)
ALL = "all"
FEW_CUES, NEAR_CUES = 6, 2
"""Up to how many cues a sentence names them all; how many it names to either side otherwise."""
_ROLE_WORDS: dict[str, Role] = {"rim": "edge", "kicker": "edge", "hair": "edge", "ambient": "ambience"}
"""Other words of the trade for a role."""


def nearest(word: str, known: Iterable[str]) -> str:
    """', did you mean …?' as part of a sentence, or nothing."""
    close = meant(word, known)
    return f" (did you mean '{close}'?)" if close else ""


def fixture_id(text: str) -> str:
    """The id of a fixture, as it has to be written."""
    if not re.fullmatch(SHORT_NAME, text):
        raise Misuse(
            f"'{text}' cannot be a name here: it has small letters, digits, - and _, at most 32, "
            "and begins with a letter or digit"
        )
    return text


def role(text: str) -> Role:
    """A role by its name, another word of the trade for it, or the beginning that only it has."""
    wanted = _plain(text)
    if wanted in _ROLE_WORDS:
        return _ROLE_WORDS[wanted]
    found = [one for one in ROLES if wanted and one.startswith(wanted)]
    if wanted in ROLES or len(found) == 1:
        return found[0]
    raise Misuse(f"there is no role '{text}'{nearest(wanted, ROLES)}; roles are {', '.join(ROLES)}")


def lamps(text: str, show: Show | None, verb: str = "") -> tuple[str, ...]:
    """Fixture ids from a comma list of ids, roles and 'all', in the order named, each once.

    An id comes before a role of the same name. Without a show, only ids can be meant and are taken as they
    are. Refused where a name is neither, or a role has no fixture.
    """
    names = [part.strip().lower() for part in text.split(",")]
    if not all(names):
        needs = f"'{verb}' needs lamps" if verb else "type lamps"
        raise Misuse(f"{needs}: ids or roles with commas between, or 'all'")
    found: dict[str, None] = {}
    for name in names:
        found.update(dict.fromkeys(_lamps_called(name, show)))
    return tuple(found)


def _lamps_called(name: str, show: Show | None) -> list[str]:
    if show is None:
        return [fixture_id(name)]
    rig: tuple[Fixture, ...] = show.rig.fixtures
    if not rig:
        raise Misuse("the rig has no fixture yet; add one: patch ID PROFILE/MODE UNIVERSE.ADDRESS role=key")
    ids = [fixture.id for fixture in rig]
    if name in ids:
        return [name]
    if name == ALL:
        return ids
    wanted = _ROLE_WORDS.get(_plain(name), _plain(name))
    by_role = [fixture.id for fixture in rig if fixture.role == wanted]
    if by_role:
        return by_role
    if wanted in ROLES:
        raise Misuse(f"no fixture of the rig has the role {wanted}")
    raise Misuse(
        f"there is no fixture or role '{name}'{nearest(name, [*ids, *ROLES])}; the rig has {', '.join(ids)}"
    )


def _plain(text: str) -> str:
    """A role's word in small letters, its blank written as a blank, '-' or '_'."""
    return re.sub(r"[\s_-]+", " ", text.strip().lower())


def cue_number(said: str, show: Show | None, verb: str) -> str:
    """A cue number as written, or the number of the cue with this whole name."""
    if CUE.match(said):
        return said
    if not said:
        raise Misuse(f"'{verb}' needs a cue, as '{verb} 2'")
    names = [cue.name for cue in show.cues if cue.name] if show else []
    name = known_as(said, names)
    if show is not None and name is not None:
        return _only_cue(name, said, show)
    guess = nearest(said, names)
    some = [cue.number for cue in show.cues[:FEW_CUES]] if show else []
    have = (
        f"; there are {', '.join(some)}{' …' if len(show.cues) > len(some) else ''}" if show and some else ""
    )
    raise Misuse(f"'{said}' is not a cue number and no cue has that name{guess or have}")


def _only_cue(name: str, said: str, show: Show) -> str:
    """The number of the cue of this name; refused where several have it."""
    alike = [cue for cue in show.cues if folded(cue.name) == folded(name)]
    found = [cue.number for cue in alike if cue.name == said] or [cue.number for cue in alike]
    if len(found) > 1:
        raise Misuse(f"cues {', '.join(found)} are all called '{name}': say the number of the one you mean")
    return found[0]


def new_number(text: str) -> str:
    """The number that a cue is to have."""
    if not text:
        raise Misuse("type a cue number, as 7 or 2.5")
    if not CUE.match(text):
        raise Misuse(f"'{text}' is no cue number: up to four digits, and up to three behind a point, as 2.5")
    return text


def numbers(text: str) -> tuple[str, ...]:
    """The numbers of cues, with commas between."""
    found = tuple(part.strip() for part in text.split(",") if part.strip())
    if not found or not all(map(CUE.match, found)):
        raise Misuse(f"'{text}' is no list of cue numbers: write them as 2,3,5.5")
    return found


def cues_elsewhere(show: Show) -> dict[str, str]:
    """Number → scene, of the cues that are in other scenes than the open one."""
    return {cue.number: scene.name for scene in show.other_scenes for cue in scene.cues}


def no_cue(number: str, cues: Sequence[Cue], elsewhere: Mapping[str, str]) -> str:
    """A sentence: the open scene has no such cue, where it is, or which there are."""
    if number in elsewhere:
        return f"cue {number} is in the scene {elsewhere[number]}: open that scene first"
    if len(cues) <= FEW_CUES:
        have = ", ".join(cue.number for cue in cues) or "none yet"
        return f"there is no cue {number} in this scene; it has {have}"
    before = sum(cue_order(cue.number) < cue_order(number) for cue in cues)
    first = min(max(before - NEAR_CUES, 0), len(cues) - 2 * NEAR_CUES)
    near = [cue.number for cue in cues[first : first + 2 * NEAR_CUES]]
    return f"there is no cue {number} in this scene; the nearest are {', '.join(near)}"


def universe(text: str) -> int:
    return whole(text, "universe", 1, UNIVERSE_MAX)


def address(text: str) -> int:
    return whole(text, "address", 1, SLOTS)


def patch_address(text: str) -> tuple[int, int]:
    """Universe and address from '1.33'."""
    before, dot, after = text.partition(".")
    if not dot:
        raise no_address(text)
    return universe(before), address(after)


def no_address(text: str) -> Misuse:
    return Misuse(f"'{text}' is not an address; write universe.address, as 1.33")


def no_fixture(show: Show, fixture_id: str) -> str:
    """A sentence: the rig has no such fixture, and which was perhaps meant."""
    close = meant(fixture_id, [fixture.id for fixture in show.rig.fixtures])
    guess = f"; perhaps {close} was meant" if close else ""
    return f"The rig has no fixture {fixture_id}{guess}."
