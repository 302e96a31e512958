"""The match page in a real browser, with the rendered room's stills: sliders, regions, lamps, cue."""

from __future__ import annotations

import json
import re
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from onecrew.log.logfile import log_path
from tests.browser.chromium import Chromium, Page
from tests.process.sandbox import WAIT_S, Sandbox
from tests.stills.conftest import ROOM, room_show

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chromium]:
    browser = Chromium(tmp_path_factory.mktemp("chromium"))
    yield browser
    browser.close()


@pytest.fixture(scope="module")
def sandbox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Sandbox]:
    folder = tmp_path_factory.mktemp("sandbox")
    document = room_show().model_dump(mode="json", exclude_defaults=True)
    sandbox = Sandbox(folder, document)
    sandbox.engine()
    yield sandbox
    sandbox.close()


@pytest.fixture(scope="module")
def address(sandbox: Sandbox) -> str:
    process = sandbox.start(
        "match",
        str(sandbox.show),
        *("--stills", str(ROOM), "--reference", str(ROOM / "target-2.jpg"), "--page"),
    )
    assert process.stdout is not None
    return process.stdout.readline().removeprefix("open ").strip()


@pytest.fixture
def page(address: str, chromium: Chromium) -> Page:
    page = chromium.page()
    page.size(1280, 900)
    page.goto(address)
    page.wait("document.body.dataset.ready === 'yes'")
    return page


def brightness(page: Page, selector: str = "#predicted") -> float:
    """Mean green code of a picture, read from a copy of it."""
    return float(
        page.js(
            f"""(async () => {{ const from = document.querySelector({selector!r});
            if (from.decode) await from.decode();
            const c = new OffscreenCanvas(200, 100), to = c.getContext("2d", {{willReadFrequently: true}});
            to.drawImage(from, 0, 0, 200, 100);
            const d = to.getImageData(0, 0, 200, 100).data;
            let sum = 0; for (let i = 1; i < d.length; i += 4) sum += d[i];
            return 4 * sum / d.length; }})()"""
        )
    )


def slide(page: Page, selector: str, value: float) -> None:
    page.js(
        f"""(() => {{ const one = document.querySelector({selector!r}); one.value = {value};
        one.dispatchEvent(new Event("input")); }})()"""
    )


def test_the_prediction_looks_as_the_reference_and_follows_the_sliders(page: Page, tmp_path: Path) -> None:
    page.picture(tmp_path / "match.png")
    mean = brightness(page, "#reference")
    before = brightness(page)
    assert before == pytest.approx(mean, abs=4.0)
    slide(page, "#level-0", -12)
    page.wait_text("#lamps tbody tr", "off")
    assert brightness(page) < 0.8 * before
    slide(page, "#white-4", 250)
    row = page.js("document.querySelectorAll('#lamps tbody tr')[4].innerText")
    assert re.search(r"(39|40)\d\d K", row)
    assert page.complaints() == []


def test_the_white_that_is_told_is_the_one_that_leaves(page: Page) -> None:
    row = "document.querySelectorAll('#lamps tbody tr')[3].innerText"
    slide(page, "#white-3", 1e6 / 6500)
    assert "6500 K" in page.js(row)  # as it is asked; what comes of it is known in a moment
    page.wait(f"{row}.includes('6503 K')")


def test_a_white_that_is_moved_leaves_the_level_as_it_was_found(page: Page) -> None:
    level = "document.querySelector('#lamps tbody tr').cells[2].textContent"
    before = page.js(level)
    slide(page, "#white-0", 250)
    assert page.js(level) == before


def test_regions_are_tapped_on_both_and_told_in_stops(page: Page) -> None:
    page.type("#name", "wall")
    page.tap("#mark")
    page.wait_text("#said", "tap wall on the prediction")
    for frame in ("#mine", "#theirs"):
        page.js(
            f"""(() => {{ const box = document.querySelector({frame!r}).getBoundingClientRect();
            document.querySelector({frame!r}).dispatchEvent(new MouseEvent("click", {{bubbles: true,
              clientX: box.left + 0.85 * box.width, clientY: box.top + 0.1 * box.height}})); }})()"""
        )
    page.wait_text("#regions tbody", "wall")
    stops = float(page.js("document.querySelector('#regions tbody tr').cells[1].textContent"))
    assert abs(stops) < 0.2
    slide(page, "#level-6", -12)
    page.wait("Number(document.querySelector('#regions tbody tr').cells[1].textContent) < -0.5")
    page.tap("#solve")
    page.wait("Math.abs(Number(document.querySelector('#regions tbody tr').cells[1].textContent)) < 0.2")
    page.js("document.getElementById('wiping').click()")
    page.wait("document.getElementById('wiped')")
    assert page.complaints() == []


def test_marks_are_there_when_the_page_is_opened_again_until_they_are_removed(page: Page) -> None:
    assert page.js("document.querySelectorAll('.marked').length") == 2
    page.tap("#regions tbody button")
    page.wait("!document.querySelector('.marked') && !document.querySelector('#regions tbody tr')")


def test_levels_go_to_the_lamps_and_into_a_cue(page: Page, sandbox: Sandbox) -> None:
    page.js("document.getElementById('live').click()")
    slide(page, "#level-0", -1)
    status = sandbox.wait_status(lambda status: abs(status["lights"]["panel-a"]["level"] - 0.5) < 0.01)
    assert status["lights"]["panel-a"]["level"] == pytest.approx(0.5, abs=0.01)
    page.tap("#store")
    page.wait_text("#said", "type the number of the cue first")
    page.type("#number", "7")
    page.tap("#store")
    page.wait_text("#said", "stored as cue 7")
    sandbox.wait_status(lambda _: '"number": "7"' in sandbox.show.read_text())
    assert '"name": "Match ' in sandbox.show.read_text()


def test_what_is_refused_while_a_picture_is_predicted_stays_said(page: Page) -> None:
    page.js(
        """(() => {
        const fetched = window.fetch;
        const held = new Promise((release) => { window.release = release; });
        window.fetch = async (path, ...rest) => {
            if (path !== "predict") return fetched(path, ...rest);
            window.asked = true;
            await held;
            const answer = await fetched(path, ...rest);
            setTimeout(() => { window.over = true; }, 200);
            return answer;
        };
        })()"""
    )
    slide(page, "#level-0", -1)
    page.wait("window.asked")
    page.tap("#store")
    page.wait_text("#said", "type the number of the cue first")
    page.js("window.release()")
    page.wait("window.over")
    page.wait_text("#said", "type the number of the cue first")


def test_two_lamps_that_are_moved_at_once_are_both_sent_and_shown_as_the_present(
    page: Page, sandbox: Sandbox
) -> None:
    sandbox.send("set", "all", "level=off")
    sandbox.wait_status(lambda status: not any(one["level"] for one in status["lights"].values()))
    page.wait("document.getElementById('present').width > 0")
    page.js("document.getElementById('live').click()")
    before = brightness(page, "#present")
    for n in (0, 6):
        slide(page, f"#level-{n}", -1)
    sandbox.wait_status(
        lambda status: all(abs(status["lights"][lamp]["level"] - 0.5) < 0.01 for lamp in ("panel-a", "spot"))
    )
    deadline = time.monotonic() + WAIT_S
    while brightness(page, "#present") < before + 10.0:
        assert time.monotonic() < deadline, "the present stays as it was"


def cue_8(sandbox: Sandbox) -> dict[str, Any]:
    cues = json.loads(sandbox.show.read_text())["scenes"][0]["cues"]
    return next(cue for cue in cues if cue["number"] == "8")


def test_a_cue_that_is_there_is_replaced_by_a_second_press_alone(page: Page, sandbox: Sandbox) -> None:
    sandbox.send("store", "8", "Mine")
    sandbox.wait_status(lambda _: '"number": "8"' in sandbox.show.read_text())
    page.type("#number", "8")
    page.tap("#store")
    page.wait_text("#said", "there is a cue 8 already, Mine")
    page.wait("!document.getElementById('replace').hidden")
    assert "predicted" not in cue_8(sandbox)
    page.tap("#replace")
    page.wait_text("#said", "stored as cue 8")
    sandbox.wait_status(lambda _: "predicted" in cue_8(sandbox))
    assert cue_8(sandbox)["name"] == "Mine"
    lines = log_path(sandbox.show).read_text().splitlines()
    [entry] = [one for one in map(json.loads, lines) if one["kind"] == "match" and one["cue"] == "8"]
    assert set(entry["pictures"]) == {"reference", "present", "predicted"}


def test_a_cue_that_took_the_place_of_the_one_asked_about_is_not_replaced_in_its_stead(
    page: Page, sandbox: Sandbox
) -> None:
    sandbox.send("store", "6", "Mine")
    page.type("#number", "6")
    page.tap("#store")
    page.wait_text("#said", "there is a cue 6 already, Mine")
    sandbox.send("remove", "6")
    sandbox.send("store", "6", "Yours")
    page.tap("#replace")
    page.wait_text("#said", "there is a cue 6 already, Yours")
    page.tap("#replace")
    page.wait_text("#said", "stored as cue 6")
    sandbox.send("remove", "6")


def test_a_mark_has_its_row_when_the_page_is_opened_again_before_a_solve(page: Page, address: str) -> None:
    page.type("#name", "desk")
    page.tap("#mark")
    page.wait_text("#said", "tap desk on the prediction")
    for frame in ("#mine", "#theirs"):
        page.tap(frame)
    page.wait_text("#regions tbody", "desk")
    page.goto(address)
    page.wait("document.body.dataset.ready === 'yes'")
    assert "desk" in page.js("document.querySelector('#regions tbody').innerText")
    page.tap("#regions tbody button")
    page.wait("!document.querySelector('.marked')")


def test_marks_of_two_windows_are_both_kept(page: Page, chromium: Chromium, address: str) -> None:
    other = chromium.page()
    other.size(1280, 900)
    other.goto(address)
    other.wait("document.body.dataset.ready === 'yes'")
    for window, name in ((page, "one"), (other, "two")):
        window.wait("document.querySelectorAll('#regions tbody tr').length === " + ("0", "1")[name == "two"])
        window.type("#name", name)
        window.tap("#mark")
        for frame in ("#mine", "#theirs"):
            window.tap(frame)
    page.wait("document.querySelectorAll('#regions tbody tr').length === 2")
    page.tap("#regions tbody button")
    other.wait("document.querySelectorAll('#regions tbody tr').length === 1")
    other.tap("#regions tbody button")
    page.wait("!document.querySelector('.marked')")


def test_a_mark_that_is_begun_anew_asks_for_the_first_place_alone(page: Page) -> None:
    page.tap("#mark")
    page.tap("#mine")
    page.wait_text("#said", "on the reference")
    page.tap("#mark")
    assert page.js("[...document.querySelectorAll('.asking')].map((one) => one.id)") == ["mine"]


def test_nothing_comes_from_elsewhere(page: Page, address: str) -> None:
    origin = address.split("/?")[0]
    assert all(url.startswith(origin) or url == "about:blank" for url in page.requests())


def test_without_the_secret_there_is_nothing(address: str) -> None:
    origin = address.split("/?")[0]
    for path in ("/", "/data", "/light/ambient", "/?key=wrong"):
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(origin + path, timeout=WAIT_S)
        assert refused.value.code == 403
        refused.value.close()


def test_another_site_cannot_move_the_lamps(address: str) -> None:
    origin, key = address.split("/?key=")
    body = json.dumps({"lamp": "panel-a", "output": 1.0, "mired": 200.0}).encode()
    request = urllib.request.Request(
        f"{origin}/send",
        body,
        {
            "Cookie": f"onecrew-match={key}",
            "Origin": "http://example.org",
            "Content-Type": "application/json",
        },
    )
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(request, timeout=WAIT_S)
    assert refused.value.code == 403
    refused.value.close()


def test_a_change_is_shown_quickly(page: Page) -> None:
    """The goal is 50 ms at 960 × 540; how long it took is printed, not judged here."""
    took = []
    for n in range(6):
        slide(page, "#level-1", -2 - 0.2 * n)
        took.append(page.js("window.took"))
    print(f"a level changed in {sorted(took)[3]:.0f} ms at 640 × 360")
    assert all(one > 0 for one in took)


def test_the_command_ends_quietly(sandbox: Sandbox, address: str) -> None:
    process = sandbox.processes()[-1]
    assert isinstance(process, subprocess.Popen)
    process.terminate()
    assert process.wait(WAIT_S) == 0


def test_a_page_whose_command_has_ended_says_so(chromium: Chromium, sandbox: Sandbox) -> None:
    process = sandbox.start(
        "match",
        str(sandbox.show),
        *("--stills", str(ROOM), "--reference", str(ROOM / "target-1.jpg"), "--page"),
    )
    assert process.stdout is not None
    page = chromium.page()
    page.goto(process.stdout.readline().removeprefix("open ").strip())
    page.wait("document.body.dataset.ready === 'yes'")
    process.terminate()
    assert process.wait(WAIT_S) == 0
    page.tap("#solve")
    page.wait_text("#said", "nothing answers any more")


def test_an_engine_that_is_started_later_gets_what_is_moved(tmp_path: Path) -> None:
    sandbox = Sandbox(tmp_path, room_show().model_dump(mode="json", exclude_defaults=True))
    process = sandbox.start(
        "match",
        str(sandbox.show),
        *("--stills", str(ROOM), "--reference", str(ROOM / "target-2.jpg"), "--page"),
    )
    assert process.stdout is not None
    origin, key = process.stdout.readline().removeprefix("open ").strip().split("/?key=")

    def send() -> dict[str, Any]:
        body = json.dumps({"lamp": "panel-a", "output": 0.5, "mired": 200.0}).encode()
        said = {"Cookie": f"onecrew-match={key}", "Origin": origin, "Content-Type": "application/json"}
        with urllib.request.urlopen(
            urllib.request.Request(f"{origin}/send", body, said), timeout=WAIT_S
        ) as answer:
            return dict(json.load(answer))

    try:
        assert "no engine runs for this show" in send()["refused"]
        sandbox.engine()
        assert send() == {"done": True}
        sandbox.wait_status(lambda status: abs(status["lights"]["panel-a"]["level"] - 0.5) < 0.01)
    finally:
        sandbox.close()
