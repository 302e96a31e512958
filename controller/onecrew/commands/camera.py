"""The camera notes: what the camera is set to, and where it stands."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Literal

from onecrew.commands.command import Command, Log, Row, ShowCommand, changed, joined, never
from onecrew.commands.context import Context
from onecrew.errors import Misuse
from onecrew.language import places, reading, writing
from onecrew.language.phrases import build, plain, split, unknown
from onecrew.show.show import Camera, Show


class SetCamera(ShowCommand):
    """Change the camera notes; the white balance is what the swatches are seen through."""

    kind: Literal["set-camera"] = "set-camera"
    camera: Camera


def _t_stop(text: str) -> float | None:
    if text in ("", "none"):
        return None
    return reading.aperture(text.lower().removeprefix("t"), "T-stop")


FPS = "frames a second"
_CAMERA: dict[str, tuple[str, Callable[[str], object]]] = {
    "iso": ("iso", lambda text: reading.whole(text, "ISO", 1, 1_000_000)),
    "nd": ("nd_stops", lambda text: reading.stops(text, "ND", low=0.0, high=30.0)),
    "tstop": ("t_stop", _t_stop),
    "at": ("place", places.read_place),
    "fps": ("fps", lambda text: reading.within(reading.number(text, FPS), 0.01, 1000, FPS)),
    "aperture": ("aperture", reading.aperture),
    "wb": ("white_balance_k", lambda text: reading.kelvin(text, "white balance")),
    "lens": ("lens", str),
    "note": ("note", str),
}


def _read_camera(words: list[str], context: Context) -> Command:
    head, pairs = split(words, texts=frozenset({"lens", "note"}))
    if head or not pairs:
        raise Misuse("'camera' needs what to note, as 'camera wb=4300 iso=800 shutter=1/50'")
    texts = {pair.key: plain(pair, "camera") for pair in pairs}
    return SetCamera(camera=read_camera(texts, context.need_show().camera))


def read_camera(texts: Mapping[str, str], before: Camera) -> Camera:
    """The camera notes ``before``, with what is written over them, by the words of ``camera``."""
    fields = before.model_dump()
    for key, text in texts.items():
        if key == "shutter":
            fields.update(_shutter(text))
        elif key in _CAMERA:
            name, read = _CAMERA[key]
            fields[name] = read(text)
        else:
            raise unknown("the camera", key, ("shutter", *_CAMERA))
    return build(Camera, **fields)


def _shutter(text: str) -> dict[str, float | None]:
    """A time, which takes an angle's place, or an angle as '172.8°' or '180deg'."""
    bare = text.lower().removesuffix("°").removesuffix("deg")
    if bare != text.lower():
        angle = reading.within(reading.number(bare, "shutter"), 1.0, 360.0, "shutter", "°")
        return {"shutter_deg": angle}
    return {"shutter_s": reading.shutter(text), "shutter_deg": None}


def _write_camera(command: SetCamera, show: Show | None) -> str:
    fields, had = (camera_texts(one) for one in (command.camera, show.camera if show else Camera()))
    return joined(["camera", *(changed(fields, had) or [f"wb={fields['wb']}"])])


def camera_texts(camera: Camera) -> dict[str, str]:
    """The camera notes as they are typed, by the words of ``camera``."""
    return {
        "wb": writing.number(camera.white_balance_k),
        "iso": str(camera.iso),
        "shutter": writing.shutter(camera.shutter_s)
        if camera.shutter_deg is None
        else f"{writing.number(camera.shutter_deg)}°",
        "nd": writing.number(camera.nd_stops),
        "tstop": "none" if camera.t_stop is None else writing.number(camera.t_stop),
        "at": places.write_place(camera.place),
        "fps": writing.number(camera.fps),
        "aperture": writing.number(camera.aperture),
        "lens": camera.lens,
        "note": camera.note,
    }


def _say_camera(command: SetCamera, show: Show | None) -> str:
    old = show.camera if show is not None else command.camera
    moves = command.camera == old.model_copy(update={"place": command.camera.place}) != old
    return "move the camera" if moves else "change the camera notes"


SET_CAMERA = Row(
    model=SetCamera,
    forms={
        "camera wb=4300 iso=800 shutter=1/50": "camera notes; wb is what the swatches are seen through; "
        "shutter=172.8° and tstop=2.9 count in place of time and aperture; nd=3 is in stops",
    },
    reads={"camera": _read_camera},
    writes=_write_camera,
    says=_say_camera,
    log=Log.SHOW,
    lock_refuses=never,
    edit=lambda show, command: show.model_copy(update={"camera": command.camera}),
)

ROWS = (SET_CAMERA,)
