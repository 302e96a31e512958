"""The phone page in a real browser on a phone's screen, with a real engine and a receiver.

Pair, press, see the packets change, lose the engine, heal; and what a hostile name or site can do: nothing.
"""

from __future__ import annotations

import contextlib
import http.server
import itertools
import json
import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import axe_core_python
import pytest

from onecrew.phone.server import PER_PHONE
from tests.browser.chromium import HEIGHT, WIDTH, Chromium, Page
from tests.process.sandbox import SHOW, WAIT_S, Sandbox, kill
from tests.process.test_osc import level
from tests.process.test_page import answers, pair, wait_page, with_page

pytestmark = pytest.mark.browser

THUMB_PX = 48
"""Smallest side of a touch target (WCAG 2.2, 2.5.8 asks for 24 CSS px; 48 is common practice on phones)."""
SCREENS = [(320, 568), (360, 560), (412, 915), (640, 360), (768, 1024)]
"""Small and large phones, one with the browser's bars in sight, one on its side, and a tablet."""
HOSTILE = '<img src=x onerror="document.title=1"><script>document.title=2</script>&amp;\u202e"\''
BUTTONS = "#thumb button, #looks button"


@pytest.fixture(scope="module")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chromium]:
    browser = Chromium(tmp_path_factory.mktemp("chromium"))
    yield browser
    browser.close()


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    sandbox = Sandbox(tmp_path)
    yield sandbox
    sandbox.close()


@pytest.fixture
def port(sandbox: Sandbox) -> int:
    port = with_page(sandbox)
    sandbox.engine()
    wait_page(sandbox)
    return port


@pytest.fixture
def phone(sandbox: Sandbox, port: int, chromium: Chromium) -> Page:
    """A phone that has scanned the code and is connected."""
    page = chromium.page()
    page.goto(pair(sandbox)["url"])
    page.wait_text("#link", "Connected")
    return page


def places(page: Page) -> dict[str, list[int]]:
    """Where every button is."""
    return dict(
        page.js(
            f"""Object.fromEntries([...document.querySelectorAll({BUTTONS!r})].map((one) => {{
                const box = one.getBoundingClientRect();
                return [one.id || one.dataset.cue, [box.x, box.y, box.width, box.height].map(Math.round)];
            }}))"""
        )
    )


# ── Pair ────────────────────────────────────────────────────────────────────────────────────────────


def test_a_scanned_code_pairs_the_phone_and_leaves_no_trace(
    sandbox: Sandbox, port: int, chromium: Chromium
) -> None:
    answer = pair(sandbox)
    page = chromium.page()
    page.goto(answer["url"])
    page.wait_text("#link", "Connected")
    page.wait_text("#show", "Two lamps")
    assert page.js("location.href") == f"http://127.0.0.1:{port}/"
    assert page.js("document.cookie") == ""  # a script cannot read it
    page.goto(f"http://127.0.0.1:{port}/")
    page.wait_text("#link", "Connected")  # it stays paired

    other = chromium.page()
    other.goto(answer["url"])
    other.wait_text("#said", "wrong or has expired")
    assert other.js("Boolean(document.querySelector('#pairing'))")
    assert answer["code"].replace("-", "") not in other.js("location.href")


def test_a_typed_code_pairs_the_phone(sandbox: Sandbox, port: int, chromium: Chromium) -> None:
    page = chromium.page()
    page.goto(f"http://127.0.0.1:{port}/")
    page.wait_text("h1", "not paired")
    page.tap("#enter")
    page.wait_text("#said", "Type the code first")
    page.type("#code", "wrong")
    page.tap("#enter")
    page.wait_text("#said", "wrong or has expired")
    page.js("document.querySelector('#code').value = ''")
    page.type("#code", pair(sandbox)["code"].lower())
    page.tap("#enter")
    page.wait_text("#link", "Connected")


def test_a_phone_that_is_forgotten_is_told_at_once(sandbox: Sandbox, phone: Page) -> None:
    assert sandbox.run("pair", "--forget", str(sandbox.show)).returncode == 0
    phone.wait_text("h1", "not paired")


# ── Press ───────────────────────────────────────────────────────────────────────────────────────────


def test_pressing_go_changes_the_packets(sandbox: Sandbox, phone: Page) -> None:
    mark = len(sandbox.receiver.packets)
    phone.tap("#go")
    sandbox.receiver.wait(level(0.5), mark)
    phone.wait_text("#now", "1 Half")
    phone.wait_text("#next", "2 Slow")
    phone.wait("document.querySelector('#looks [data-cue=\"1\"]').getAttribute('aria-pressed') === 'true'")
    phone.wait_text("#lamps", "20 %")
    phone.tap("#looks [data-cue='3']")
    sandbox.receiver.wait(level(0.0), len(sandbox.receiver.packets) - 1)
    phone.wait_text("#now", "3 Dark")
    phone.wait("document.querySelector('#go').disabled")
    phone.wait_text("#go", "no cue after this one")
    phone.tap("#back")
    phone.wait_text("#now", "2 Slow")
    phone.wait_text("#marks", "fade")


def test_hold_blackout_and_lock_say_what_they_did(sandbox: Sandbox, phone: Page) -> None:
    phone.tap("#looks [data-cue='1']")
    sandbox.receiver.wait(level(0.5))
    phone.tap("#blackout")
    phone.wait_text("#marks", "BLACKOUT")
    sandbox.receiver.wait(level(0.0), len(sandbox.receiver.packets) - 1)
    mark = len(sandbox.receiver.packets)
    phone.wait_text("#blackout", "Light again")
    phone.tap("#blackout")
    sandbox.receiver.wait(level(0.5), mark)
    phone.tap("#hold")
    phone.wait_text("#marks", "HELD")
    phone.tap("#hold")
    phone.wait("!document.querySelector('#marks').innerText.includes('HELD')")

    phone.tap("#lock")
    phone.wait_text("#marks", "LOCKED")
    for button in ("#go", "#back", "#hold", "#countdown", "#looks [data-cue='2']"):
        phone.wait(f"document.querySelector({button!r}).disabled")
    phone.tap("#lock")
    phone.wait_text("#lock", "Tap again to unlock")
    assert sandbox.wait_status()["locked"] is True
    phone.tap("#lock")
    phone.wait("!document.querySelector('#marks').innerText.includes('LOCKED')")
    assert sandbox.wait_status()["locked"] is False


def test_a_refusal_is_shown_in_the_engines_words(sandbox: Sandbox, phone: Page) -> None:
    phone.wait("!document.querySelector('#go').disabled")
    sandbox.send("lock", "on")
    # Pressed in the moment before the phone has heard of it.
    phone.js("socket.send(JSON.stringify({id: 99, do: {kind: 'go'}}))")
    phone.wait_text("#said", "locked")
    assert sandbox.wait_status()["cue"] is None


def test_a_countdown_is_seen_and_can_be_cancelled(sandbox: Sandbox, phone: Page) -> None:
    phone.wait_text("#countdown", "Go in 10 s")
    phone.tap("#seconds")
    phone.tap("#count-seconds button:first-child")
    phone.tap("#count-to form > button")
    phone.wait_text("#countdown", "Go in 3 s")
    phone.tap("#countdown")
    phone.wait_text("#count", "GO IN")
    phone.tap("#countdown")
    phone.wait("document.querySelector('#count').hidden")
    assert sandbox.wait_status()["countdown"] is None
    phone.tap("#countdown")
    sandbox.receiver.wait(level(0.5))
    phone.wait_text("#now", "1 Half")


def test_a_take_is_started_and_ended(sandbox: Sandbox, phone: Page) -> None:
    phone.wait_text("#roll-camera", "Start take")
    phone.tap("#roll-camera")
    phone.wait_text("#roll", "0:0")
    phone.wait("document.body.classList.contains('rolling')")
    assert sandbox.wait_status()["take"]["running"] is True
    phone.wait_text("#roll-camera", "End take")
    phone.tap("#roll-camera")
    phone.wait_text("#end-take-title", "End take 1 of setup 1")
    phone.tap("#end-take button[type=submit]")  # the camera goes on
    assert sandbox.wait_status()["take"]["running"] is True
    phone.tap("#roll-camera")
    phone.type("#take-clip", "A003C012")
    phone.type("#take-note", "Cap fell – Mütze")
    phone.tap("#take-bad")
    phone.wait_text("#roll", "stopped")
    take = sandbox.wait_status()["take"]
    assert (take["running"], take["good"], take["note"]) == (False, False, "Cap fell – Mütze")
    assert "take 1 of setup 1 is clip A003C012" in sandbox.run("log", str(sandbox.show)).stdout
    phone.tap("#roll-camera")
    phone.wait_text("#roll-camera", "End take")
    phone.tap("#roll-camera")
    phone.tap("#take-good")
    phone.wait_text("#roll", "stopped")
    take = sandbox.wait_status()["take"]
    assert (take["number"], take["good"], take["note"]) == (2, True, "")


def test_a_take_that_ends_elsewhere_closes_the_question(sandbox: Sandbox, phone: Page) -> None:
    phone.tap("#roll-camera")
    phone.wait_text("#roll-camera", "End take")
    phone.tap("#roll-camera")
    phone.wait("document.querySelector('#end-take').open")
    sandbox.send("take", "end")
    phone.wait("!document.querySelector('#end-take').open")


def test_a_setup_is_named_on_the_phone(sandbox: Sandbox, phone: Page) -> None:
    phone.tap("#set-setup")
    phone.type("#setup-name", "12B oven")
    phone.tap("#setup-start")
    phone.wait_text("#setup", "12B oven")
    phone.wait("document.querySelector('#set-setup').disabled")  # not while the camera rolls
    take = sandbox.wait_status()["take"]
    assert (take["setup"], take["number"], take["running"]) == ("12B oven", 1, True)


def test_a_countdown_runs_any_look_and_a_take_with_go(sandbox: Sandbox, phone: Page) -> None:
    phone.tap("#seconds")
    phone.tap("#count-seconds button:first-child")
    phone.tap("#count-what-to button:nth-child(5)")
    phone.tap("#count-to form > button")
    phone.wait_text("#countdown", "3 Dark in 3 s")
    phone.tap("#countdown")
    phone.wait_text("#count", "RECALL 3 IN")
    phone.wait_text("#now", "3 Dark")
    phone.tap("#back")
    phone.tap("#back")
    phone.wait_text("#now", "1 Half")
    phone.tap("#seconds")
    phone.tap("#count-what-to button:nth-child(2)")
    phone.tap("#count-to form > button")
    phone.wait_text("#countdown", "Take and go in 3 s")
    phone.tap("#countdown")
    phone.wait_text("#now", "2 Slow")
    assert sandbox.wait_status()["take"]["running"] is True


def test_a_lamp_is_trimmed_where_the_show_lets_a_phone(sandbox: Sandbox, phone: Page) -> None:
    sandbox.send("recall", "1", "in", "0s")
    phone.wait_text("#lamps", "50 %")
    phone.wait("!document.querySelector('#lamps button').checkVisibility()")
    sandbox.send("remote", "trim=on")
    phone.wait("document.querySelector('#lamps button')?.checkVisibility()")
    mark = len(sandbox.receiver.packets)
    phone.tap("#lamps li:first-child button:nth-of-type(2)")
    phone.wait_text("#lamps li:first-child", "edited")
    sandbox.receiver.wait(lambda packet: packet.slots[0] > 128, mark)
    phone.tap("#lamps li:first-child button:nth-of-type(1)")
    sandbox.receiver.wait(level(0.5))
    sandbox.send("lock", "on")
    phone.wait("document.querySelector('#lamps button').disabled")


def test_a_page_left_open_makes_room_and_comes_back_at_a_touch(
    sandbox: Sandbox, phone: Page, chromium: Chromium
) -> None:
    """Pages of one browser are one phone: they share its cookie."""
    phone.js("window.more = []")
    for _ in range(PER_PHONE):
        phone.js("more.push(new WebSocket(`ws://${location.host}/link`)), 1")
    phone.wait_text("#link", "newer pages of the show open")
    phone.js("more.forEach((one) => one.close())")
    phone.tap("#link")
    phone.wait_text("#link", "Connected")


# ── Everybody can use it ────────────────────────────────────────────────────────────────────────────

AXE = Path(axe_core_python.__file__).with_name("axe.min.js")
"""The checker of WCAG rules of its own makers; it runs in the page."""


def serious(page: Page) -> list[str]:
    """Findings that axe-core calls serious or critical."""
    page.js(AXE.read_text(encoding="utf-8") + "; 1")
    return list(
        page.js(
            """axe.run({resultTypes: ['violations']}).then((found) => found.violations
                .filter((one) => ['serious', 'critical'].includes(one.impact))
                .map((one) => `${one.id}: ${one.nodes.map((node) => node.html).join(' ')}`))"""
        )
    )


def test_axe_finds_nothing_serious(sandbox: Sandbox, phone: Page, chromium: Chromium, port: int) -> None:
    sandbox.send("remote", "trim=on")
    phone.wait("document.querySelector('#lamps button')?.checkVisibility()")
    for width, height in ((WIDTH, HEIGHT), (640, 360)):
        phone.size(width, height)
        assert serious(phone) == []
        for opener, dialog in (("#seconds", "#count-to"), ("#set-setup", "#new-setup")):
            phone.tap(opener)
            phone.wait(f"document.querySelector('{dialog}').open")
            assert serious(phone) == []
            phone.js(f"document.querySelector('{dialog}').close()")
    sandbox.send("take", "start")
    phone.wait_text("#roll-camera", "End take")
    phone.tap("#roll-camera")
    assert serious(phone) == []
    stranger = chromium.page()
    stranger.goto(f"http://127.0.0.1:{port}/")
    stranger.wait_text("h1", "not paired")
    assert serious(stranger) == []


def test_labels_hold_what_is_seen(phone: Page) -> None:
    """WCAG 2.2, 2.5.3: who speaks to a phone says what is on the button."""
    wrong = phone.js(
        """[...document.querySelectorAll('button[aria-label]')]
            .filter((one) => !one.getAttribute('aria-label').includes(one.textContent.trim()))
            .map((one) => one.outerHTML)"""
    )
    assert wrong == []


def test_what_happens_elsewhere_is_seen(sandbox: Sandbox, phone: Page) -> None:
    sandbox.send("recall", "2", "in", "30s")
    phone.wait_text("#now", "2 Slow")
    phone.wait_text("#marks", "fade 2")
    sandbox.send("solo", "window")
    phone.wait_text("#marks", "SOLO window")
    sandbox.send("master", "80%")
    phone.wait_text("#marks", "master 80 %")
    sandbox.send("rename", "Another name")
    phone.wait_text("#show", "Another name")
    sandbox.send("store", "4", "Ember")
    phone.wait_text("#looks", "Ember")


def test_the_readings_at_the_subject_are_shown_once_a_lamp_has_a_place(sandbox: Sandbox, phone: Page) -> None:
    sandbox.send("piece", "baker", "subject", "at=2,2,1.6")
    sandbox.send("patch", "window", "at=1,1,2,45")
    sandbox.send("recall", "1", "in", "0s")
    phone.wait_text("#readings", "camera notes")
    phone.wait_text("#readings", "lit : shadow side")
    sandbox.send("piece", "double", "subject", "at=3,2,1.6")
    phone.wait_text("#readings", "double:")


# ── Lose the engine, heal ───────────────────────────────────────────────────────────────────────────


def test_a_killed_engine_is_said_in_words_and_heals(sandbox: Sandbox, phone: Page) -> None:
    phone.tap("#looks [data-cue='1']")
    sandbox.receiver.wait(level(0.5))
    phone.js(
        """window.linkSaid = [];
        const watched = document.querySelector('#link');
        new MutationObserver(() => linkSaid.push(watched.textContent)).observe(watched, {childList: true})"""
    )
    pid = sandbox.wait_status()["engine_pid"]
    kill(pid)
    phone.wait("linkSaid.some((said) => said.startsWith('Not connected: the engine is away.'))")
    phone.wait_text("#link", "Connected")
    phone.wait_text("#now", "1 Half")
    assert sandbox.wait_status()["engine_pid"] != pid
    mark = len(sandbox.receiver.packets)
    phone.tap("#looks [data-cue='3']")
    sandbox.receiver.wait(level(0.0), mark)


def test_a_phone_comes_back_after_a_crash_in_a_still_look(sandbox: Sandbox, phone: Page) -> None:
    """The engine that follows says the very same as the one before; the phone has to be told all the same."""
    phone.tap("#looks [data-cue='1']")
    sandbox.receiver.wait(level(0.5))
    phone.wait("state.fade === null")
    for _ in range(2):
        pid = sandbox.wait_status()["engine_pid"]
        kill(pid)
        phone.wait_text("#link", "the engine is away")
        phone.wait_text("#link", "Connected")
        phone.wait("!document.querySelector('#blackout').disabled")
    mark = len(sandbox.receiver.packets)
    phone.tap("#blackout")
    sandbox.receiver.wait(level(0.0), mark)


def test_an_engine_that_stays_away_leaves_nothing_to_press(sandbox: Sandbox, phone: Page) -> None:
    supervisor = sandbox._processes[0]
    engine = sandbox.wait_status()["engine_pid"]
    supervisor.kill()
    supervisor.wait(WAIT_S)
    kill(engine)
    phone.wait_text("#link", "Lamps hold what they were sent last")
    assert phone.js(f"[...document.querySelectorAll({BUTTONS!r})].every((one) => one.disabled)")
    phone.wait_text("#link", "no answer from the computer")  # the page's process has ended as well
    sandbox.engine()
    phone.wait_text("#link", "Connected")
    mark = len(sandbox.receiver.packets)
    phone.tap("#looks [data-cue='1']")
    sandbox.receiver.wait(level(0.5), mark)


def test_a_page_that_is_killed_heals(sandbox: Sandbox, phone: Page, port: int) -> None:
    page = next((sandbox.folder / "runtime_dir").rglob("*.page"))
    kill(json.loads(page.read_text())["pid"])
    phone.wait_text("#link", "Not connected")
    phone.wait_text("#link", "Connected")
    assert answers(port)
    phone.tap("#go")
    sandbox.receiver.wait(level(0.5))


def test_a_connection_that_falls_silent_is_noticed(phone: Page, sandbox: Sandbox) -> None:
    """A phone that left the room: nothing is closed, nothing comes."""
    page = next((sandbox.folder / "runtime_dir").rglob("*.page"))
    pid = json.loads(page.read_text())["pid"]
    os.kill(pid, signal.SIGSTOP)
    try:
        phone.wait_text("#link", "no answer from the computer")
        phone.wait("document.querySelector('#go').disabled")
    finally:
        os.kill(pid, signal.SIGCONT)
    phone.wait_text("#link", "Connected")


# ── A thumb, at night ───────────────────────────────────────────────────────────────────────────────


def test_buttons_are_large_in_sight_and_stay_where_they_are(sandbox: Sandbox, phone: Page) -> None:
    still = places(phone)
    assert len(still) == 8 + len(SHOW["cues"])
    for name, (x, y, width, height) in still.items():
        assert min(width, height) >= THUMB_PX, name
        assert x >= 0 and x + width <= WIDTH, name
        if name not in {cue["number"] for cue in SHOW["cues"]}:
            assert y >= 0 and y + height <= HEIGHT, name
    assert phone.js("document.documentElement.scrollHeight") <= HEIGHT
    # Whatever is said above them, they do not move away from under a thumb.
    sandbox.send("set", "window", "level=33%")
    sandbox.send("countdown", "30", "go")
    sandbox.send("take", "start", "A-long-name-for-a-setup")
    sandbox.send("hold", "on")
    phone.wait_text("#marks", "HELD")
    phone.wait_text("#count", "GO IN")
    phone.js(
        "say('A sentence that is so long that it takes more than one line on a phone, and then some more.')"
    )
    assert places(phone) == still
    sandbox.send("countdown", "cancel")
    kill(sandbox._processes[0].pid)
    kill(sandbox.wait_status()["engine_pid"])
    phone.wait_text("#link", "Not connected")
    assert places(phone) == still


def test_it_is_dark_and_can_be_read(phone: Page) -> None:
    """WCAG 2.2, 1.4.3: contrast of text at least 4.5 to 1; what cannot be pressed is exempt."""
    phone.wait_text("#next", "1 Half")
    colours: list[tuple[str, list[float], list[float]]] = phone.js(
        """(() => {
            const rgb = (text) => (text.match(/[0-9.]+/g) || []).map(Number);
            const ground = (one) => {
                for (let at = one; at; at = at.parentElement) {
                    const colour = rgb(getComputedStyle(at).backgroundColor);
                    if (colour.length < 4 || colour[3] > 0) return colour.slice(0, 3);
                }
                return [255, 255, 255];
            };
            return [...document.querySelectorAll('h1, h2, p, b, dt, dd, span, small, button')]
                .filter((one) => one.innerText.trim() && one.getClientRects().length)
                .filter((one) => !one.closest(':disabled'))
                .map((one) => [one.innerText, rgb(getComputedStyle(one).color).slice(0, 3), ground(one)]);
        })()"""
    )
    assert len(colours) > 20
    for words, text, ground in colours:
        light, dark = sorted((luminance(text), luminance(ground)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, words
        assert dark < 0.03, words  # the page does not light a face
    assert phone.js("getComputedStyle(document.documentElement).colorScheme") == "dark"


def luminance(rgb: list[float]) -> float:
    # WCAG 2.2, "relative luminance".
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255 for v in rgb)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_it_fits_other_screens(phone: Page) -> None:
    for width, height in SCREENS:
        phone.size(width, height)
        phone.wait(f"innerWidth === {width} && innerHeight === {height}")
        for name, (x, y, across, down) in places(phone).items():
            where = f"{name} at {width}x{height}"
            assert min(across, down) >= THUMB_PX, where
            assert x >= 0 and x + across <= width, where
            if not name[0].isdigit():
                assert y >= 0 and y + down <= height, where
        assert phone.js("document.querySelector('#middle').clientHeight") >= 70


# ── What it may not do ──────────────────────────────────────────────────────────────────────────────


def test_names_are_never_markup(tmp_path: Path, chromium: Chromium) -> None:
    show: dict[str, Any] = json.loads(json.dumps(SHOW))
    show["name"] = HOSTILE[:80]
    for cue, text in zip(show["cues"], itertools.cycle([HOSTILE[:80], "</span></button><b>bold</b>"])):
        cue["name"], cue["note"] = text, HOSTILE
    sandbox = Sandbox(tmp_path, show)
    try:
        with_page(sandbox)
        sandbox.engine()
        wait_page(sandbox)
        page = chromium.page()
        page.goto(pair(sandbox)["url"])
        page.wait_text("#link", "Connected")
        page.tap("#go")
        sandbox.send("take", "start", "<b>A</b>")
        page.wait("document.querySelector('#setup').textContent === '<b>A</b>'")
        page.wait("document.querySelector('#now').textContent.includes('<img')")
        assert page.js("document.querySelector('#show').textContent") == HOSTILE[:80]
        assert (
            page.js("document.querySelectorAll('img, #looks script, #show *, #now *, #setup *').length") == 0
        )
        assert page.js("document.querySelectorAll('#looks button > *').length") == 2 * len(show["cues"])
        assert page.js("document.title").startswith(HOSTILE[:10])
        assert [said for said in page.complaints() if "403" not in said] == []
    finally:
        sandbox.close()


def test_it_asks_nobody_else_for_anything_and_breaks_no_rule_of_its_own(phone: Page, port: int) -> None:
    phone.wait_text("#next", "1 Half")
    asked = phone.requests()
    assert asked
    assert all(url.startswith(f"http://127.0.0.1:{port}/") for url in asked)
    # The one complaint is the door's own status: a phone that is not paired yet.
    assert [said for said in phone.complaints() if "403" not in said] == []


def test_another_site_in_the_same_browser_cannot_reach_it(phone: Page, sandbox: Sandbox, port: int) -> None:
    """A page of another origin on this machine: the phone's cookie goes along, since ports do not count."""
    with another_site() as site:
        phone.goto(f"{site}/")
        assert phone.js("location.origin") == site
        assert phone.js(TRY_LINK.format(port=port)) == "refused"
        assert phone.js(TRY_FETCH.format(port=port)) == "refused"
        phone.js(TRY_FRAME.format(port=port))
        (frame,) = phone.call("Page.getFrameTree")["frameTree"]["childFrames"]
        assert frame["frame"]["url"].startswith("chrome-error:")  # the browser shows its own page instead
    assert sandbox.wait_status()["cue"] is None
    assert sandbox.wait_status(lambda status: status["remote"]["page"]["phones"] == 0)


TRY_LINK = """new Promise((done) => {{
    const link = new WebSocket('ws://127.0.0.1:{port}/link');
    link.onopen = () => done('open');
    link.onerror = link.onclose = () => done('refused');
}})"""
TRY_FETCH = """fetch('http://127.0.0.1:{port}/', {{credentials: 'include'}})
    .then((answer) => answer.text()).catch(() => 'refused')"""
TRY_FRAME = """new Promise((done) => {{
    const frame = document.createElement('iframe');
    frame.onload = () => done(true);
    frame.src = 'http://127.0.0.1:{port}/';
    document.body.append(frame);
}})"""


@contextlib.contextmanager
def another_site() -> Iterator[str]:
    class Site(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(b"<!doctype html><title>Another site</title><p>Hello")

        def log_message(self, *_: object) -> None:
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Site) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        thread.join(WAIT_S)


def test_two_phones_see_each_other(sandbox: Sandbox, phone: Page, chromium: Chromium) -> None:
    other = chromium.page()
    other.goto(pair(sandbox)["url"])
    other.wait_text("#link", "Connected")
    other.tap("#go")
    phone.wait_text("#now", "1 Half")
    sandbox.wait_status(lambda status: status["remote"]["page"]["phones"] == 2)
    other.goto("about:blank")
    sandbox.wait_status(lambda status: status["remote"]["page"]["phones"] == 1)


def test_a_run_of_stills_is_led_from_the_phone(sandbox: Sandbox, phone: Page) -> None:
    sandbox.send("recall", "1", "in", "0s")
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    phone.wait_text("#lamps", "50 %")
    phone.tap("#stills-open")
    assert serious(phone) == []
    mark = len(sandbox.receiver.packets)
    phone.tap("#stills-start")
    phone.wait_text("#stills-lamp", "every lamp out")
    sandbox.receiver.wait(lambda packet: not any(packet.slots[:2]) and packet.slots[20] == 0, mark)
    phone.wait_text("#stills-now", "then next")
    assert serious(phone) == []
    phone.tap("#stills-next")
    phone.wait_text("#stills-words", "window alone")
    sandbox.receiver.wait(
        lambda packet: tuple(packet.slots[:2]) == (255, 255) and packet.slots[20] == 0, mark
    )
    sandbox.wait_status(lambda status: "window alone" in (status["still"] or ""))
    phone.wait_text("#stills-now", "then next")
    phone.tap("#stills-next")
    phone.wait_text("#stills-at", "3 of 4")
    phone.tap("#stills-stop")
    phone.wait_text("#stills-result", "2 stills are taken")
    sandbox.wait_status(lambda status: status["still"] is None)
    [kept] = sandbox.folder.glob("*-stills.json")
    taken = json.loads(kept.read_text())["stills"]
    assert [one["lamp"] for one in taken] == [None, "window"]


def test_a_phone_that_is_gone_gives_the_light_back(sandbox: Sandbox, phone: Page) -> None:
    sandbox.send("recall", "1", "in", "0s")
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    phone.tap("#stills-open")
    phone.tap("#stills-start")
    sandbox.wait_status(lambda status: status["still"] is not None)
    phone.goto("about:blank")
    sandbox.wait_status(lambda status: status["still"] is None)
    sandbox.receiver.wait(level(0.5))
