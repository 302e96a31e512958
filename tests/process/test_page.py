"""The phone page as a process beside a running engine: who starts it, what it outlives, and when it ends."""

from __future__ import annotations

import http.client
import json
import socket
import sys
import time
from pathlib import Path
from typing import Any

import psutil
import pytest

from tests.process.house import WAIT_S, House, kill
from tests.process.test_osc import free_port


def with_page(house: House, port: int | None = None) -> int:
    """Has the show want a page; returns its port."""
    port = port or free_port(socket.SOCK_STREAM)
    document = json.loads(house.show.read_text())
    document["remote"] = {"page": {"listen": f"127.0.0.1:{port}"}}
    house.show.write_text(json.dumps(document))
    return port


def wait_page(house: House, state: str = "listening") -> dict[str, Any]:
    status = house.wait_status(lambda status: status["remote"].get("page", {}).get("state") == state)
    return dict(status["remote"]["page"])


def page_pid(house: House) -> int | None:
    for path in (house.folder / "runtime_dir").rglob("*.page"):
        return int(json.loads(path.read_text())["pid"])
    return None


def get(port: int, path: str = "/", cookie: str = "") -> tuple[int, bytes]:
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=WAIT_S)
    link.request("GET", path, headers={"Cookie": cookie} if cookie else {})
    answer = link.getresponse()
    status, body = answer.status, answer.read()
    link.close()
    return status, body


def claim(port: int, code: str) -> tuple[int, str]:
    """Pairs a phone; the status and the cookie."""
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=WAIT_S)
    headers = {"Content-Type": "application/json", "Origin": f"http://127.0.0.1:{port}"}
    link.request("POST", "/pair", body=json.dumps({"code": code}), headers=headers)
    answer = link.getresponse()
    answer.read()
    cookie = (answer.headers["Set-Cookie"] or "").partition(";")[0]
    link.close()
    return answer.status, cookie


def pair(house: House) -> dict[str, Any]:
    done = house.run("pair", str(house.show), "--json")
    assert done.returncode == 0, done.stderr
    return dict(json.loads(done.stdout))


def wait(fits: Any) -> None:
    deadline = time.monotonic() + WAIT_S
    while not fits():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def answers(port: int) -> bool:
    try:
        return get(port)[0] in (200, 403)
    except OSError:
        return False


@pytest.fixture
def port(house: House) -> int:
    """An engine with a page."""
    port = with_page(house)
    house.engine()
    wait_page(house)
    return port


def test_a_phone_is_let_in_by_the_code_of_the_command_line(house: House, port: int) -> None:
    assert get(port)[0] == 403
    answer = pair(house)
    assert answer["url"].startswith(f"http://127.0.0.1:{port}/#")
    assert answer["here_only"] is True
    status, cookie = claim(port, answer["code"])
    assert status == 200
    assert get(port, cookie=cookie)[0] == 200
    assert claim(port, answer["code"])[0] == 403
    shown = house.run("pair", str(house.show))
    assert f"http://127.0.0.1:{port}/" in shown.stdout
    assert "one phone and 10 minutes" in shown.stdout
    assert "ADDRESS:9080" in shown.stdout  # this page is for this machine alone


def test_a_code_goes_through_a_pipe_in_words(house: House, port: int) -> None:
    piped = house.run("pair", str(house.show))
    assert piped.returncode == 0
    assert "a code is drawn in a terminal alone" in piped.stdout and "█" not in piped.stdout
    assert f"http://127.0.0.1:{port}/" in piped.stdout


def test_phones_stay_paired_when_the_engine_is_started_anew(house: House, port: int) -> None:
    _, cookie = claim(port, pair(house)["code"])
    assert house.run("stop", "--show", str(house.show)).returncode == 0
    wait(lambda: not answers(port))
    house.engine()
    wait_page(house)
    assert get(port, cookie=cookie)[0] == 200


def test_forgetting_puts_all_phones_out(house: House, port: int) -> None:
    _, cookie = claim(port, pair(house)["code"])
    assert house.run("pair", "--forget", str(house.show)).returncode == 0
    assert get(port, cookie=cookie)[0] == 403
    _, cookie = claim(port, pair(house)["code"])
    assert get(port, cookie=cookie)[0] == 200
    assert house.run("stop", "--show", str(house.show)).returncode == 0
    assert house.run("pair", "--forget", str(house.show)).returncode == 0  # without an engine as well
    house.engine()
    wait_page(house)
    assert get(port, cookie=cookie)[0] == 403


def test_the_page_outlives_an_engine_that_dies_and_serves_the_next(house: House, port: int) -> None:
    page, engine = page_pid(house), house.wait_status()["engine_pid"]
    assert page is not None
    kill(engine)
    assert answers(port)
    house.wait_status(lambda status: status["engine_pid"] != engine)
    wait_page(house)
    assert page_pid(house) == page
    _, cookie = claim(port, pair(house)["code"])
    assert get(port, cookie=cookie)[0] == 200


def test_a_page_that_dies_is_started_again(house: House, port: int) -> None:
    page = page_pid(house)
    assert page is not None
    kill(page)
    wait(lambda: page_pid(house) not in (page, None) and answers(port))
    assert wait_page(house)["error"] == ""


def test_the_page_ends_with_the_engine(house: House, port: int) -> None:
    page = page_pid(house)
    assert page is not None
    assert house.run("stop", "--show", str(house.show)).returncode == 0
    wait(lambda: not psutil.pid_exists(page) or psutil.Process(page).status() == psutil.STATUS_ZOMBIE)
    assert page_pid(house) is None
    assert not answers(port)


def test_a_page_whose_engine_is_gone_for_good_ends_by_itself(house: House, port: int) -> None:
    page = page_pid(house)
    status = house.wait_status()
    assert page is not None
    supervisor = house._processes[0]
    assert supervisor.pid == status["supervisor_pid"]
    supervisor.kill()
    supervisor.wait(WAIT_S)
    kill(status["engine_pid"])
    assert answers(port)
    wait(lambda: not psutil.pid_exists(page) or psutil.Process(page).status() == psutil.STATUS_ZOMBIE)


def test_the_show_opens_moves_and_closes_its_page(house: House) -> None:
    house.engine()
    assert house.wait_status()["remote"] == {}
    refused = house.run("pair", str(house.show))
    assert refused.returncode == 1
    assert "remote page=" in refused.stderr
    first, second = free_port(socket.SOCK_STREAM), free_port(socket.SOCK_STREAM)
    house.send("remote", f"page=127.0.0.1:{first}")
    wait(lambda: answers(first))
    house.send("remote", f"page=127.0.0.1:{second}")
    wait(lambda: answers(second) and not answers(first))
    page = page_pid(house)
    house.send("remote", "page=off")
    wait(lambda: page_pid(house) is None and not answers(second))
    house.send("remote", f"page=127.0.0.1:{first}")
    wait(lambda: answers(first) and page_pid(house) not in (page, None))


def test_an_address_that_is_taken_is_a_state_that_heals(house: House) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = with_page(house, other.getsockname()[1])
        house.engine_behind_a_shut_door()
        page = wait_page(house, "failing")
        assert f"127.0.0.1:{port}" in page["error"]
        assert "in use" in page["error"]
        refused = house.run("pair", str(house.show))
        assert refused.returncode == 1
        assert "in use" in refused.stderr
        house.send("recall", "1")
    wait(lambda: answers(port))
    assert wait_page(house)["error"] == ""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="/proc tells what a process has loaded")
def test_the_engine_loads_nothing_of_the_server(house: House, port: int) -> None:
    status = house.wait_status()
    page = page_pid(house)
    loaded = {pid: Path(f"/proc/{pid}/maps").read_text() for pid in (status["engine_pid"], page)}
    for library in ("aiohttp", "multidict", "yarl"):  # all three have parts written in C
        assert library in loaded[page]
        assert library not in loaded[status["engine_pid"]]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="priorities as Linux has them")
def test_the_page_comes_after_what_makes_light(house: House, port: int) -> None:
    page = psutil.Process(page_pid(house))
    engine = psutil.Process(house.wait_status()["engine_pid"])
    assert page.nice() > 0
    assert page.nice() > engine.nice()


def test_its_files_are_the_users_alone(house: House, port: int) -> None:
    claim(port, pair(house)["code"])
    kept = [path for kind in ("*.page", "*.codes", "*.phones") for path in house.folder.rglob(kind)]
    assert len(kept) == 3
    assert {path.stat().st_mode & 0o777 for path in kept} == {0o600}
