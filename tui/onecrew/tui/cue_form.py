"""A cue as it is edited in a form: name, key, times, auto-follow, guard, note."""

from __future__ import annotations

from onecrew.commands.cues import PutCue, read_cue
from onecrew.show.advise import SHOOT_KEYS
from onecrew.show.show import CURVES, Cue, Show
from onecrew.tui.dialogs.form import Form


def cue_form(show: Show, cue: Cue) -> Form[PutCue]:
    """Changes everything of a cue but its number and its look."""

    def read(texts: dict[str, str]) -> PutCue:
        if texts["shortcut"]:
            _check_key(show, cue, texts["shortcut"])
        curve = next((curve for curve in CURVES if texts["curve"] and curve.startswith(texts["curve"])), None)
        if curve is None:
            raise ValueError(f"a curve is one of: {', '.join(CURVES)}")
        words = {
            **{key: texts[key] for key in ("name", "shortcut", "note")},
            "curve": curve,
            "fade-in": texts["fade in"] or "0",
            "fade-out": texts["fade out"] or "0",
            "delay": texts["delay"] or "0",
            "auto-follow": texts["auto-follow"] or "off",
            "guard": texts["flash guard"] or "no",
        }
        return PutCue(cue=read_cue(words, cue))

    fields = {
        "name": cue.name,
        "shortcut": cue.shortcut or "",
        "fade in": f"{cue.fade.in_s:g}",
        "fade out": f"{cue.fade.out_s:g}",
        "curve": cue.fade.curve,
        "delay": f"{cue.delay_s:g}",
        "auto-follow": f"{cue.auto_follow_s:g}" if cue.auto_follow_s is not None else "",
        "flash guard": "yes" if cue.flash_guard else "no",
        "note": cue.note,
    }
    hint = (
        "Times in seconds, empty is 0: at once. Auto-follow: empty waits for go. "
        "Without the flash guard, light may flash."
    )
    return Form(f"Cue {cue.number}", fields, read, hint)


def _check_key(show: Show, cue: Cue, key: str) -> None:
    if len(key) != 1 or not key.isprintable() or key in SHOOT_KEYS:
        keys = " ".join("Space" if one == " " else one for one in sorted(SHOOT_KEYS))
        raise ValueError(f"a shortcut is one character, and none of the keys of Shoot: {keys}")
    other = next((other for other in show.cues if other.shortcut == key and other.number != cue.number), None)
    if other is not None:
        raise ValueError(f"cue {other.number} has the shortcut {key} already")
