"""Partner: the other engine of a pair as this one reaches it, by feeding those that follow or by following.

What is heard goes through the policy, and what that decides is put in a queue for the engine.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from onecrew.playback.codec import to_json
from onecrew.playback.state import Playback
from onecrew.show.profile import Profile
from onecrew.show.scenes import document_of
from onecrew.show.show import Show
from onecrew.standby.options import Options
from onecrew.standby.policy import Decision, Say, Standby, written

if TYPE_CHECKING:
    from onecrew.standby.feed import Feed
    from onecrew.standby.follow import Follow


class Partner:
    """Times are monotonic seconds. It needs a running loop once it is opened."""

    def __init__(self, plan: Options | None, policy: Standby, clock: Callable[[], float]) -> None:
        self.decisions: asyncio.Queue[Decision] = asyncio.Queue()
        """What the engine is to carry out, in order."""
        self._plan = plan
        self._policy = policy
        self._clock = clock
        self._show: tuple[Show, Mapping[str, Profile]] | None = None
        self._playback: Playback | None = None
        self._feed: Feed | None = None
        self._follow: Follow | None = None
        self._following: asyncio.Task[None] | None = None

    async def open(self) -> None:
        """Begins to feed or to follow, as the plan says."""
        plan = self._plan
        if plan is not None and plan.feed is not None:
            from onecrew.standby.feed import Feed

            self._feed = Feed(
                plan.feed, plan.secret, latest=self._latest, changed=self._say, clock=self._clock
            )
            await self._feed.open()
        if plan is not None and plan.follow is not None:
            from onecrew.standby.follow import Follow, Handlers

            self._follow = Follow(
                plan.follow,
                plan.secret,
                Handlers(
                    show=lambda message: self._decided(self._policy.receive_show(message)),
                    playback=lambda data, ahead: self._decided(self._policy.receive_playback(data, ahead)),
                    ended=lambda: self._decided(self._policy.receive_end()),
                    changed=self._say,
                ),
                clock=self._clock,
                in_charge=lambda: self._policy.in_charge,
            )
            self._following = asyncio.create_task(self._follow.run())

    def works_on(self, show: Show, profiles: Mapping[str, Profile]) -> None:
        """This is the show now: followers receive it."""
        self._show = show, profiles
        if self._feed is not None and self._feed.followers:
            self._feed.tell(_show_message(show, profiles))

    def plays(self, playback: Playback) -> None:
        """This plays now: followers receive it if it is new."""
        if playback is not self._playback:
            self._playback = playback
            if self._feed is not None and self._feed.followers:
                self._feed.tell({"playback": to_json(playback)})

    @property
    def followed(self) -> bool:
        """Whether somebody follows this engine."""
        return self._feed is not None and bool(self._feed.followers)

    def not_open(self) -> dict[str, str]:
        """The feed, and why, where nobody can call it; nothing where somebody can or none was asked for."""
        return {"feed": self._feed.error} if self._feed is not None and self._feed.error else {}

    def state(self) -> dict[str, Any] | None:
        """What a snapshot says of the pair; None for an engine without a part."""
        if self._feed is not None:
            followers = self._feed.followers
            return {
                "part": "main",
                "others": [follower.address for follower in followers],
                "taken_over": any(follower.in_charge for follower in followers),
                "error": self._feed.error,
            }
        if self._follow is not None and self._policy.main is not None:
            part = "following" if self._follow.linked else "alone"
            return {
                "part": "in control" if self._policy.in_charge else part,
                "others": [written(self._policy.main)],
                "error": self._follow.error,
            }
        return None

    def close(self, *, handed_over: bool) -> None:
        """The engine ends in good order, and with it those that follow it, or they go on in its place."""
        if self._feed is not None:
            self._feed.close(ended=not handed_over)
        if self._following is not None:
            self._following.cancel()

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    def _latest(self) -> list[dict[str, Any]]:
        """What somebody who comes to follow has to know."""
        if self._show is None or self._playback is None:
            return []
        return [_show_message(*self._show), {"playback": to_json(self._playback)}]

    def _say(self, sentence: str) -> None:
        self._decided([Say(sentence)])

    def _decided(self, decisions: list[Decision]) -> None:
        for decision in decisions:
            self.decisions.put_nowait(decision)


def _show_message(show: Show, profiles: Mapping[str, Profile]) -> dict[str, Any]:
    used = dict.fromkeys(fixture.profile for fixture in show.rig.fixtures)
    needed = {name: profiles[name].model_dump(mode="json", exclude_none=True) for name in used}
    return {"show": document_of(show).model_dump_json(), "profiles": needed}
