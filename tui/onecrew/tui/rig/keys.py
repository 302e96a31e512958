"""The keys of the Rig screen."""

from __future__ import annotations

from onecrew.commands.light import Identify
from onecrew.tui.actions import Action, calls
from onecrew.tui.dialogs.camera import ask_camera
from onecrew.tui.everywhere import usual
from onecrew.tui.lamps import CHOOSE

RIG: tuple[Action, ...] = (
    *CHOOSE,
    Action("add", ("a",), "a", "add lamp", "Add a lamp: find its profile, name it, accept the address",
           calls("add"), 1),
    Action("edit", ("enter", "e"), "Enter", "edit", "Change role, address, mode, modifiers or place",
           calls("edit"), 2),
    Action("delete", ("x", "delete"), "x", "delete", "Delete the lamp from the rig", calls("delete_lamp"), 3),
    Action("rename-lamp", ("Y",), "Shift+Y", "rename lamp", "Rename the lamp, in every look of every scene",
           calls("rename_lamp")),
    Action("identify", ("i",), "i", "identify", "Pulse these lamps gently, or stop",
           calls("show_some", Identify), 4),
    Action("who", ("H",), "Shift+H", "who is who", "Pulse one lamp after the other and ask which one it is",
           calls("who_is_who")),
    Action("probe", ("Q",), "Shift+Q", "probe", "Find out what the slots of an unknown lamp do",
           calls("probe")),
    Action("import", ("B",), "Shift+B", "import", "Import a GDTF file, or a folder of them",
           calls("import_gdtf")),
    Action("calibrate", ("equals_sign",), "=", "calibrate", "Calibrate the lamp by a meter or by your camera",
           calls("calibrate")),
    Action("outputs", ("p",), "p", "outputs", "Where this universe is sent by sACN and Art-Net, and how",
           calls("ask_output"), 5),
    Action("remotes", ("L",), "Shift+L", "remotes", "Where OSC and the phone page listen",
           calls("ask_remotes"), 6),
    Action("phone", ("P",), "Shift+P", "phone", "Show the code that pairs a phone",
           calls("show_phone_code"), 7),
    Action("camera", ("C",), "Shift+C", "camera", "Camera settings: white balance, ISO, shutter",
           ask_camera, 8),
    Action("rename", (), "", "rename show", "Rename the show", calls("ask_name")),
    *usual(undo=9),
)  # fmt: skip
