"""The Light screen: every lamp, set by typing or nudging; the lamps follow at once."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events
from textual.app import ComposeResult

from onecrew.commands.light import Edits, Revert
from onecrew.errors import Trouble
from onecrew.language.light import Wanted
from onecrew.show.light import Effect
from onecrew.show.snapshot import LightState
from onecrew.tui import cue_list
from onecrew.tui.actions import Action
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.choose import Choice, Choose
from onecrew.tui.lamps import LampScreen
from onecrew.tui.light import rendition, storing
from onecrew.tui.light.effects import EFFECTS
from onecrew.tui.light.keys import LIGHT
from onecrew.tui.light.layout import LightBody, read_timed
from onecrew.tui.light.rendition import Rendition
from onecrew.tui.readings import Question, Readings, standing

if TYPE_CHECKING:
    from textual.timer import Timer

BEGINS = "0123456789=+-htx"
"""Without h, t and x a line such as 'h 30 80' would go on as '30 80', which is a level and a white."""
STILL_S = 0.4
"""Light that has stood still for this long is read; until then the keys have the machine to themselves."""

KEPT = (
    Choice("b", "Bring them back", "The look of the cue with these edits; then store it.", "back"),
    Choice("x", "Drop them", "The cue stays as it is stored; u brings them back.", "drop"),
)


class Light(LampScreen):
    """Every fixture in one view."""

    TITLE = "Light"
    ACTIONS: ClassVar[tuple[Action, ...]] = LIGHT

    def __init__(self) -> None:
        super().__init__()
        self.selected: frozenset[str] = frozenset()
        self.by_enter = False
        """Whether Enter began the line that is typed: then no letter of a name was a key before."""
        self._typed_for: tuple[str, ...] = ()
        self.rendition: Rendition | None = None
        self.readings = Readings(self.renew)
        self._seen: Hashable = None
        self._rest: Timer | None = None

    def body(self) -> ComposeResult:
        yield LightBody(self)

    def more_help(self) -> str:
        return (
            "Type numbers, or press Enter and type numbers or names; Enter sets it, Esc cancels:\n"
            "22 level 22 % · 22 34 also 3400 K · 22 34 +3 also tint +0.003 green · 3400 white alone\n"
            "-2s two stops down · t +3 tint · x .45 .41 chromaticity · h 30 80 hue and saturation\n"
            "half cto · quarter ctb · plus green · minus green shift the lamp's white; whites by use:\n"
            "candle · household · tungsten · daylight · overcast · shade\n"
            "in 3s at the end takes three seconds: 22 34 in 3s\n"
            "=30 all selected lamps to 30 %; without = the selected lamps keep their ratio\n"
            "Key : fill, share and lx are forecast at the subject, from the plan and the lamps' photometry;\n"
            "… is of the light before. Without a plan the ratio counts each lamp's full light as equal."
        )

    # ── readings at the subject ─────────────────────────────────────────────────────────────────

    def renew_by_parts(self) -> Iterator[None]:
        """Draws, and has the readings follow once the light has stood still."""
        yield from super().renew_by_parts()
        show, snapshot = self.desk.show, self.desk.snapshot
        if show is None or snapshot is None or not self.is_current or snapshot.fade is not None:
            return
        known = standing(Question(show, snapshot, {}))
        if known != self._seen:
            self._seen = known
            if self._rest is not None:
                self._rest.stop()
            self._rest = self.set_timer(STILL_S, self._read)

    def _read(self) -> None:
        show, snapshot = self.desk.show, self.desk.snapshot
        if show is None or snapshot is None or not any(one.place for one in show.rig.fixtures):
            return
        if self.readings.ask_when_still(Question(show, snapshot, {})):
            self.run_worker(self.readings.work(), group="forecast")

    # ── selecting ───────────────────────────────────────────────────────────────────────────────

    def meant(self) -> tuple[str, ...]:
        """The lamps of a line that is typed, else the selected in rig order, else the one at the cursor."""
        return self._pointed_at() if self.entry is None else self._typed_for

    def _pointed_at(self) -> tuple[str, ...]:
        lead = self.lead()
        if lead is None:
            return ()
        selected = tuple(fixture.id for fixture in self.fixtures() if fixture.id in self.selected)
        return selected or (lead.id,)

    def state(self, name: str) -> LightState | None:
        snapshot = self.desk.snapshot
        return snapshot.lights.get(name) if snapshot is not None else None

    def select(self) -> None:
        lead = self.lead()
        if lead is not None:
            self.selected ^= {lead.id}
            self.renew()

    def clicked(self, kind: str, value: str) -> None:
        """The dot before a lamp selects it, beside others; its line moves the cursor there."""
        if kind == "mark":
            self.selected ^= {value}
            kind = "lamp"
        super().clicked(kind, value)
        if kind == "lamp" and self.entry is not None:
            self._typed_for = self._pointed_at()
            self.renew()

    def select_all(self) -> None:
        names = frozenset(fixture.id for fixture in self.fixtures())
        self.selected = frozenset() if self.selected >= names else names
        self.renew()

    # ── nudging ─────────────────────────────────────────────────────────────────────────────────

    def nudge(self, stops: float) -> None:
        self.set_light(self.meant(), stops_by=stops)

    def nudge_level(self, step: float) -> None:
        """One lamp by a per cent; several by the stops that the brightest moves: their ratio stays."""
        names = self.meant()
        if len(names) <= 1:
            self.set_light(names, level_by=step)
            return
        levels = {name: light.goal_level for name in names if (light := self.state(name)) is not None}
        self._keep_ratio(names, max(names, key=lambda name: levels.get(name, 0.0)), step, level_by=step)

    def _keep_ratio(self, names: tuple[str, ...], lead: str, up: float, **fields: Any) -> None:
        """Change the level of ``lead``; the others go by as many stops."""
        light = self.state(lead)
        if light is not None and light.goal_level <= 0 and up > 0:
            self.desk.say(f"{lead} is off, so there is no ratio to keep: all go to the same level.")
        self.set_light(names, lead=lead, **fields)

    # ── typing ──────────────────────────────────────────────────────────────────────────────────

    def take_key(self, event: events.Key) -> bool:
        """What begins the numbers of a light begins a line; Escape without one clears the selection."""
        if self.entry is None:
            self.by_enter = event.key == "enter"
        if super().take_key(event):
            return True
        if event.character is not None and event.character in BEGINS:
            self.start_entry(event.character)
        elif event.key == "escape" and self.selected:
            self.selected = frozenset()
            self.renew()
        else:
            return False
        return True

    def start_entry(self, text: str) -> None:
        # A lamp that another window deletes meanwhile hands the line to no other.
        self._typed_for = self._pointed_at()
        super().start_entry(text)

    def take_entry(self) -> None:
        if not self.entry:
            self.entry = None
            return
        try:
            wanted, fade_s = read_timed(self.entry)
        except ValueError:  # the line itself says why
            self.desk.say("Not set: mend the line, or Esc drops it.", refused=True)
            return
        self.entry = None
        self.desk.hush()
        self._apply(wanted, fade_s)

    def _apply(self, wanted: Wanted, fade_s: float) -> None:
        names, chosen = self._typed_for, self.chosen()
        if not names or chosen is None:
            return
        lead = chosen.id if chosen.id in names else names[0]
        fields = wanted.changes()
        if wanted.level is None or wanted.alike or len(names) == 1:
            self.set_light(names, **fields, fade_s=fade_s)
        else:
            self._keep_ratio(names, lead, wanted.level, **fields, fade_s=fade_s)

    # ── what a lamp does ────────────────────────────────────────────────────────────────────────

    def revert(self) -> None:
        names = self.meant()
        if names:
            self.desk.send(Revert(fixtures=names))

    def ask_rendition(self) -> None:
        lead = self.lead()
        light = self.state(lead.id) if lead is not None else None
        if lead is None or light is None:
            return
        name, colour = lead.id, rendition.colour_of(light)

        def have(answer: dict[str, Any]) -> None:
            self.rendition = Rendition(name, colour, rendition.lines_of(answer))
            self.renew()

        self.desk.fetch("rendition", have, **rendition.arguments(name, light))

    # ── effects and storing ─────────────────────────────────────────────────────────────────────

    def ask_effect(self) -> None:
        names = self.meant()
        if names:
            choices = tuple(Choice(key, kind, meaning, kind) for key, kind, meaning in EFFECTS)
            chosen = partial(self._effect_chosen, names)
            self.ask(Choose(f"An effect for {', '.join(names)}", choices), chosen)

    def _effect_chosen(self, names: tuple[str, ...], kind: str) -> None:
        effect = kind if kind == "none" else Effect.model_validate({"kind": kind})
        self.set_light(names, effect=effect)

    def type_effect(self) -> None:
        names = self.meant()
        if names:
            kinds = " · ".join(kind for _, kind, _ in EFFECTS)
            read = self.read_as(f"set {','.join(names)} effect=", needs="an effect, as flame or flame rate=2")
            hint = f"flame rate=1.5 depth=60% · {kinds}"
            self.ask(Ask(f"Effect for {', '.join(names)}", hint, read), self.send)

    def ask_store(self) -> None:
        storing.ask(self)

    def ask_kept(self) -> None:
        """What becomes of the edits that were not stored when the present cue was left."""
        snapshot = self.desk.snapshot
        kept = snapshot.kept_edits.get(snapshot.cue or "") if snapshot is not None else None
        if not kept or snapshot is None:
            self.desk.say("No edits are kept with this cue.", refused=True)
            return

        cue = snapshot.cue

        def take(answer: str) -> None:
            if self.desk.snapshot is None or self.desk.snapshot.cue != cue:
                self.desk.say(f"Cue {cue} is not on any more: its edits stay kept with it.", refused=True)
                return
            done = (
                "The edits are dropped: u brings them back."
                if answer == "drop"
                else "The edits are back; Shift+S stores them."
            )
            self.send(Edits(drop=answer == "drop"), done)

        question = f"Edits of {', '.join(kept)} were not stored when cue {snapshot.cue} was left"
        self.ask(Choose(question, KEPT), take)

    def ask_stills(self) -> None:
        try:
            stills = import_module("onecrew.tui.light.stills")  # it needs the extra that reads pictures
        except Trouble as trouble:
            self.desk.say(f"{trouble}.", refused=True)
        else:
            stills.ask(self)

    def edit_cue(self) -> None:
        """A form for the present cue."""
        snapshot, show = self.desk.snapshot, self.desk.show
        cue = show.cue(snapshot.cue) if show is not None and snapshot is not None else None
        if cue is None:
            gone = snapshot is not None and snapshot.cue is not None
            said = f"Cue {snapshot.cue} was deleted" if gone and snapshot is not None else "No cue is on yet"
            self.desk.say(f"{said}: Shift+S stores this look as one.", refused=True)
        else:
            cue_list.do(self, "edit", cue)
