"""A cue as it is edited in a form: name, key, times, auto-follow, guard, note."""

from __future__ import annotations

from onecrew.language.phrases import build
from onecrew.language.reading import seconds, yes_no
from onecrew.show.show import CURVES, SCREEN_KEYS, Cue, Fade, Show
from onecrew.tui.dialogs.form import Form


def cue_form(show: Show, cue: Cue) -> Form[Cue]:
    """Changes everything of a cue but its number and its look."""

    def read(texts: dict[str, str]) -> Cue:
        key = texts["key"] or None
        if key is not None:
            _check_key(show, cue, key)
        curve = next((curve for curve in CURVES if texts["curve"] and curve.startswith(texts["curve"])), None)
        if curve is None:
            raise ValueError(f"a curve is one of: {', '.join(CURVES)}")
        follow = texts["goes on after"]
        return build(
            Cue,
            **{
                **cue.model_dump(),
                "name": texts["name"],
                "shortcut": key,
                "fade": Fade(
                    in_s=seconds(texts["rises in"] or "0", "rises in"),
                    out_s=seconds(texts["falls in"] or "0", "falls in"),
                    curve=curve,
                ),
                "delay_s": seconds(texts["waits"] or "0", "waits"),
                "auto_follow_s": seconds(follow, "goes on after") if follow else None,
                "flash_guard": yes_no(texts["flash guard"] or "no", "flash guard"),
                "note": texts["note"],
            },
        )

    fields = {
        "name": cue.name,
        "key": cue.shortcut or "",
        "rises in": f"{cue.fade.in_s:g}",
        "falls in": f"{cue.fade.out_s:g}",
        "curve": cue.fade.curve,
        "waits": f"{cue.delay_s:g}",
        "goes on after": f"{cue.auto_follow_s:g}" if cue.auto_follow_s is not None else "",
        "flash guard": "yes" if cue.flash_guard else "no",
        "note": cue.note,
    }
    hint = "Times in seconds. Goes on after: empty waits for go. Without the flash guard, light may flash."
    return Form(f"Cue {cue.number}", fields, read, hint)


def _check_key(show: Show, cue: Cue, key: str) -> None:
    if len(key) != 1 or not key.isprintable() or key in SCREEN_KEYS:
        raise ValueError(
            f"a key is one character, and none of the screen's own: {' '.join(sorted(SCREEN_KEYS))}"
        )
    other = next((other for other in show.cues if other.shortcut == key and other.number != cue.number), None)
    if other is not None:
        raise ValueError(f"cue {other.number} has the key {key} already")
