"""A cue as it is edited in a form: name, key, times, follow-on, guard, note."""

from __future__ import annotations

from onecrew.show.show import CURVES, SCREEN_KEYS, Cue, Fade, Show
from onecrew.tui.dialogs.form import Form
from onecrew.tui.rig.wishes import build, number, read_yes


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
            "cue",
            {
                **cue.model_dump(),
                "name": texts["name"],
                "key": key,
                "fade": Fade(
                    in_s=_seconds(texts["rises in"], "rises in"),
                    out_s=_seconds(texts["falls in"], "falls in"),
                    curve=curve,
                ),
                "delay_s": _seconds(texts["waits"], "waits"),
                "follow_s": _seconds(follow, "goes on after") if follow else None,
                "flash_guard": read_yes(texts["flash guard"], "flash guard"),
                "note": texts["note"],
            },
        )

    fields = {
        "name": cue.name,
        "key": cue.key or "",
        "rises in": f"{cue.fade.in_s:g}",
        "falls in": f"{cue.fade.out_s:g}",
        "curve": cue.fade.curve,
        "waits": f"{cue.delay_s:g}",
        "goes on after": f"{cue.follow_s:g}" if cue.follow_s is not None else "",
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
    other = next((other for other in show.cues if other.key == key and other.number != cue.number), None)
    if other is not None:
        raise ValueError(f"cue {other.number} has the key {key} already")


def _seconds(text: str, what: str) -> float:
    value = number(text.lower().removesuffix("s").strip() or "0", what)
    if not 0 <= value <= 3600:
        raise ValueError(f"{what}: 0 to 3600 seconds")
    return value
