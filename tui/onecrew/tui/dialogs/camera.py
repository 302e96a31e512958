"""The camera notes as a form."""

from __future__ import annotations

from typing import TYPE_CHECKING

from onecrew.commands.camera import SetCamera, camera_texts, read_camera
from onecrew.show.show import Camera
from onecrew.tui.dialogs.form import Form, following

if TYPE_CHECKING:
    from onecrew.tui.base import BaseScreen

LABELS = {
    "iso": "ISO",
    "shutter": "shutter",
    "fps": "frames a second",
    "aperture": "aperture",
    "wb": "white balance",
    "tstop": "T-stop",
    "nd": "ND in stops",
    "lens": "lens",
    "note": "note",
}
HINT = (
    "Shutter 1/50 or 180°. A T-stop counts in place of the aperture; empty where the lens has none. "
    "ND: density 0.3 is one stop. The mains are part of the room: Shift+W on Plan."
)


def ask_camera(screen: BaseScreen) -> None:
    """Ask for the camera notes, and save them with the show."""

    def now() -> Camera | None:
        return screen.desk.show.camera if screen.desk.show is not None else None

    def take(camera: Camera) -> None:
        screen.send(SetCamera(camera=camera), "Camera settings saved with the show.")

    screen.ask_of_scene(following(now, _camera_form, "there is no show any more"), take)


def _camera_form(camera: Camera) -> Form[Camera]:
    """Changes the camera notes; where the camera stands is left as it is."""
    texts = camera_texts(camera)

    def read(typed: dict[str, str]) -> Camera:
        return read_camera({key: typed[label] for key, label in LABELS.items()}, camera)

    if camera.t_stop is None:
        texts["tstop"] = ""
    return Form("Camera", {label: texts[key] for key, label in LABELS.items()}, read, HINT)
