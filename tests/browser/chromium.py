"""A phone for the tests: headless Chromium, spoken to by its own protocol over a pipe.

The Chrome DevTools Protocol is JSON with a zero byte after each message; over a pipe it needs no port, no
driver and no library, and the browser ends with the pipe.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import select
import shutil
import signal
import subprocess
import sys
import time
from collections import deque
from pathlib import Path
from typing import Any

WAIT_S = 20.0
"""How long anything is waited for before a test fails; never a measure of speed."""
WIDTH, HEIGHT, PIXELS = 360, 640, 2
"""A phone of five inches, in CSS pixels, and how many pixels of its screen each has."""
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--disable-extensions",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)

PIPE_TO_3_AND_4 = """
import fcntl, os, sys
ends = [fcntl.fcntl(int(end), fcntl.F_DUPFD, 10) for end in sys.argv[1:3]]
for place, end in zip((3, 4), ends):
    os.dup2(end, place)
os.execv(sys.argv[3], sys.argv[3:])
"""
"""The protocol's pipe is file descriptors 3 and 4."""


class Chromium:
    """A browser with a profile of its own. ``page`` opens a phone's screen in it."""

    def __init__(self, folder: Path) -> None:
        program = next((found for name in NAMES if (found := shutil.which(name))), None)
        assert program is not None, "these tests need Chromium: apt-get install chromium"
        flags = [*FLAGS, f"--user-data-dir={folder}", "about:blank"]
        to_browser, self._out = os.pipe()
        self._in, from_browser = os.pipe()
        self._process = subprocess.Popen(
            [sys.executable, "-c", PIPE_TO_3_AND_4, str(to_browser), str(from_browser), program, *flags],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=(to_browser, from_browser),
            start_new_session=True,
        )
        os.close(to_browser)
        os.close(from_browser)
        self._number = 0
        self._rest = b""
        self._messages: deque[dict[str, Any]] = deque()
        self.events: list[dict[str, Any]] = []
        try:
            self.call("Browser.getVersion")
        except BaseException:
            self.close()
            raise

    def call(self, method: str, session: str | None = None, **parameters: Any) -> dict[str, Any]:
        """One command of the protocol and its result."""
        self._number += 1
        number = self._number
        message: dict[str, Any] = {"id": number, "method": method, "params": parameters}
        if session is not None:
            message["sessionId"] = session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        deadline = time.monotonic() + WAIT_S
        while True:
            answer = self._next(deadline)
            if answer.get("id") == number:
                assert "error" not in answer, (method, answer)
                return dict(answer["result"])
            self.events.append(answer)

    def _next(self, deadline: float) -> dict[str, Any]:
        while not self._messages:
            ready, _, _ = select.select([self._in], [], [], max(0.0, deadline - time.monotonic()))
            assert ready, "the browser does not answer"
            data = os.read(self._in, 1 << 16)
            assert data, "the browser has ended"
            *whole, self._rest = (self._rest + data).split(b"\0")
            self._messages += (json.loads(one) for one in whole)
        return self._messages.popleft()

    def page(self) -> Page:
        return Page(self)

    def close(self) -> None:
        os.close(self._out)
        os.close(self._in)
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(5)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self._process.pid, signal.SIGKILL)  # a session of its own: nobody else is in it
        self._process.wait(WAIT_S)


class Page:
    """A phone's screen, with cookies of its own."""

    def __init__(self, browser: Chromium) -> None:
        self._browser = browser
        context = browser.call("Target.createBrowserContext")["browserContextId"]
        target = browser.call("Target.createTarget", url="about:blank", browserContextId=context)["targetId"]
        self._session = browser.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")
        self.size(WIDTH, HEIGHT)
        self.call("Emulation.setTouchEmulationEnabled", enabled=True)

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        return self._browser.call(method, self._session, **parameters)

    def size(self, width: int, height: int) -> None:
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=PIXELS,
            mobile=True,
        )

    def goto(self, url: str) -> None:
        """Opens a page and waits until all that belongs to it is there."""
        self.call("Page.navigate", url=url)
        self.wait("document.readyState === 'complete'")

    def js(self, expression: str) -> Any:
        """The value of an expression in the page; promises are waited for."""
        result = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in result, result["exceptionDetails"]
        return result["result"].get("value")

    def wait(self, expression: str) -> None:
        """Waits until an expression is true in the page."""
        deadline = time.monotonic() + WAIT_S
        while True:
            with contextlib.suppress(AssertionError):  # the page is about to change
                if self.js(f"Boolean({expression})"):
                    return
            assert time.monotonic() < deadline, f"never so: {expression}\n{self.text()}"
            time.sleep(0.02)

    def text(self) -> str:
        return str(self.js("document.body.innerText"))

    def wait_text(self, selector: str, text: str) -> None:
        self.wait(f"(document.querySelector({selector!r})?.innerText || '').includes({text!r})")

    def tap(self, selector: str) -> None:
        """A finger on the middle of an element, which has to be in sight, enabled and not covered."""
        self.wait(f"document.querySelector({selector!r}) && !document.querySelector({selector!r}).disabled")
        x, y, hit = self.js(
            f"""(() => {{
                const one = document.querySelector({selector!r});
                one.scrollIntoView({{block: "nearest"}});
                const box = one.getBoundingClientRect();
                const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
                return [x, y, one.contains(document.elementFromPoint(x, y))];
            }})()"""
        )
        assert hit, f"{selector} is covered or out of sight"
        self.call("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
        self.call("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    def type(self, selector: str, text: str) -> None:
        self.js(f"document.querySelector({selector!r}).focus()")
        self.call("Input.insertText", text=text)

    def complaints(self) -> list[str]:
        """What the browser said in its console: errors, broken policies, exceptions."""
        self.js("1")  # everything before is in by now
        said = []
        for event in self._browser.events:
            if event.get("sessionId") != self._session:
                continue
            entry = event["params"].get("entry", {})
            if event["method"] == "Runtime.exceptionThrown":
                said.append(json.dumps(event["params"]["exceptionDetails"]))
            elif event["method"] == "Log.entryAdded" and entry["level"] in ("error", "warning"):
                said.append(f"{entry['text']} {entry.get('url', '')}")
        return said

    def requests(self) -> list[str]:
        """URLs of everything that the page has asked for."""
        self.js("1")
        return [
            event["params"]["request"]["url"]
            for event in self._browser.events
            if event.get("sessionId") == self._session and event["method"] == "Network.requestWillBeSent"
        ]

    def picture(self, path: Path) -> None:
        data = self.call("Page.captureScreenshot", format="png")["data"]
        path.write_bytes(base64.b64decode(data))
