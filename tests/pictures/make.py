"""Makes the pictures of the screens: ``python tests/pictures/make.py``.

The real program, the real engine, real packets: the example show runs on this machine alone with its virtual
room, cues are recalled by their keys, and each screen is drawn as SVG beside this file.
"""

from __future__ import annotations

import asyncio
import re
import sys
from pathlib import Path

from onecrew.cli.demo import copy_of, end_engine, example
from onecrew.cli.demo_room import DemoRoom
from onecrew.engine.client import Client
from onecrew.show.profiles import load_profiles
from onecrew.tui.app import OnecrewApp

FOLDER = Path(__file__).parent
SIZE = (100, 30)
SCENES = (
    # (file, keys to press, seconds to let the light get there)
    ("shoot", ["2"], 1.6),
    ("light", ["t", "4", "f3", "down"], 3.0),
    ("rig", ["f4", "down", "down"], 1.0),
    ("log", ["f6"], 1.5),
    ("plan", ["f7"], 0.5),
    ("colour", ["f8"], 1.0),
    ("shoot-bright", ["f2", "ctrl+t"], 0.5),
    ("light-bright", ["f3"], 1.0),
)


async def take_pictures(path: Path, room: DemoRoom) -> None:
    client = await Client.attach(path)
    try:
        app = OnecrewApp(client, room.lamps)
        async with app.run_test(size=SIZE) as pilot:
            await pilot.pause(0.5)
            for name, keys, wait_s in SCENES:
                for key in keys:
                    await pilot.press(key)
                    await pilot.pause(0.2)
                await pilot.pause(wait_s)
                picture = FOLDER / f"{name}.svg"
                picture.write_text(
                    without_web_fonts(app.export_screenshot(title="onecrew")), encoding="utf-8"
                )
                print(picture.relative_to(FOLDER.parent.parent))
    finally:
        await client.close()


def without_web_fonts(svg: str) -> str:
    """The picture with the reader's own monospaced font: nothing in it is fetched from anywhere."""
    svg = re.sub(r"@font-face \{.*?\}\s*|<!--.*?-->\s*", "", svg, flags=re.DOTALL)
    return svg.replace("Fira Code, monospace", "ui-monospace, Menlo, Consolas, 'DejaVu Sans Mono', monospace")


def main() -> int:
    profiles = load_profiles()
    show = example(profiles)
    with DemoRoom(show, profiles) as room, copy_of(show, room) as path:
        try:
            asyncio.run(take_pictures(path, room))
        finally:
            end_engine(path, keep_log=False, patience_s=0.0)
    return 0


if __name__ == "__main__":
    sys.exit(main())
