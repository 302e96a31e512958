"""The phone page as a process beside a running engine: who starts it, what it outlives, and when it ends."""

from __future__ import annotations

import http.client
import json
import shutil
import socket
import sys
import time
from importlib import import_module
from pathlib import Path
from typing import Any

import psutil
import pytest

from onecrew.engine.openssl import OPENSSL
from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.process.test_osc import free_port


def with_page(sandbox: Sandbox, port: int | None = None) -> int:
    """Has the show want a page; returns its port."""
    port = port or free_port(socket.SOCK_STREAM)
    document = json.loads(sandbox.show.read_text())
    document["remote"] = {"page": {"listen": f"127.0.0.1:{port}"}}
    sandbox.show.write_text(json.dumps(document))
    return port


def wait_page(sandbox: Sandbox, state: str = "listening") -> dict[str, Any]:
    status = sandbox.wait_status(lambda status: status["remote"].get("page", {}).get("state") == state)
    return dict(status["remote"]["page"])


def page_pid(sandbox: Sandbox) -> int | None:
    for path in (sandbox.folder / "runtime_dir").rglob("*.page"):
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


def pair(sandbox: Sandbox) -> dict[str, Any]:
    done = sandbox.run("pair", str(sandbox.show), "--json")
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
def port(sandbox: Sandbox) -> int:
    """An engine with a page."""
    port = with_page(sandbox)
    sandbox.engine()
    wait_page(sandbox)
    return port


def test_a_phone_is_let_in_by_the_code_of_the_command_line(sandbox: Sandbox, port: int) -> None:
    assert get(port)[0] == 403
    answer = pair(sandbox)
    assert answer["url"].startswith(f"http://127.0.0.1:{port}/#")
    assert answer["here_only"] is True
    status, cookie = claim(port, answer["code"])
    assert status == 200
    assert get(port, cookie=cookie)[0] == 200
    assert claim(port, answer["code"])[0] == 403
    shown = sandbox.run("pair", str(sandbox.show))
    assert f"http://127.0.0.1:{port}/" in shown.stdout
    assert "one phone and 10 minutes" in shown.stdout
    assert f"page=ADDRESS:{port}`" in shown.stdout  # this page is for this machine alone


def test_a_code_goes_through_a_pipe_in_words(sandbox: Sandbox, port: int) -> None:
    piped = sandbox.run("pair", str(sandbox.show))
    assert piped.returncode == 0
    assert "a code is drawn in a terminal alone" in piped.stdout and "█" not in piped.stdout
    assert f"http://127.0.0.1:{port}/" in piped.stdout


def test_phones_stay_paired_when_the_engine_is_started_anew(sandbox: Sandbox, port: int) -> None:
    _, cookie = claim(port, pair(sandbox)["code"])
    assert sandbox.run("stop", "--show", str(sandbox.show)).returncode == 0
    wait(lambda: not answers(port))
    sandbox.engine()
    wait_page(sandbox)
    assert get(port, cookie=cookie)[0] == 200


def test_forgetting_puts_all_phones_out(sandbox: Sandbox, port: int) -> None:
    _, cookie = claim(port, pair(sandbox)["code"])
    assert sandbox.run("pair", "--forget", str(sandbox.show)).returncode == 0
    assert get(port, cookie=cookie)[0] == 403
    _, cookie = claim(port, pair(sandbox)["code"])
    assert get(port, cookie=cookie)[0] == 200
    assert sandbox.run("stop", "--show", str(sandbox.show)).returncode == 0
    assert sandbox.run("pair", "--forget", str(sandbox.show)).returncode == 0  # without an engine as well
    sandbox.engine()
    wait_page(sandbox)
    assert get(port, cookie=cookie)[0] == 403


def test_the_page_outlives_an_engine_that_dies_and_serves_the_next(sandbox: Sandbox, port: int) -> None:
    page, engine = page_pid(sandbox), sandbox.wait_status()["engine_pid"]
    assert page is not None
    kill(engine)
    assert answers(port)
    sandbox.wait_status(lambda status: status["engine_pid"] != engine)
    wait_page(sandbox)
    assert page_pid(sandbox) == page
    _, cookie = claim(port, pair(sandbox)["code"])
    assert get(port, cookie=cookie)[0] == 200


def test_a_page_that_dies_is_started_again(sandbox: Sandbox, port: int) -> None:
    page = page_pid(sandbox)
    assert page is not None
    kill(page)
    wait(lambda: page_pid(sandbox) not in (page, None) and answers(port))
    assert wait_page(sandbox)["error"] == ""


def test_a_page_whose_runtime_folder_is_cleared_goes_on_and_says_so(sandbox: Sandbox, port: int) -> None:
    page = page_pid(sandbox)
    folder = sandbox.folder / "runtime_dir" / "onecrew"
    shutil.rmtree(folder)
    wait(lambda: list(folder.glob("*.page")))
    wait_page(sandbox)
    assert page_pid(sandbox) == page and answers(port)


def test_the_page_ends_with_the_engine(sandbox: Sandbox, port: int) -> None:
    page = page_pid(sandbox)
    assert page is not None
    assert sandbox.run("stop", "--show", str(sandbox.show)).returncode == 0
    wait(lambda: not psutil.pid_exists(page) or psutil.Process(page).status() == psutil.STATUS_ZOMBIE)
    assert page_pid(sandbox) is None
    assert not answers(port)


def test_a_page_whose_engine_is_gone_for_good_ends_by_itself(sandbox: Sandbox, port: int) -> None:
    page = page_pid(sandbox)
    status = sandbox.wait_status()
    assert page is not None
    supervisor = sandbox._processes[0]
    assert supervisor.pid == status["supervisor_pid"]
    supervisor.kill()
    supervisor.wait(WAIT_S)
    kill(status["engine_pid"])
    assert answers(port)
    wait(lambda: not psutil.pid_exists(page) or psutil.Process(page).status() == psutil.STATUS_ZOMBIE)


def test_the_show_opens_moves_and_closes_its_page(sandbox: Sandbox) -> None:
    sandbox.engine()
    assert sandbox.wait_status()["remote"] == {}
    refused = sandbox.run("pair", str(sandbox.show))
    assert refused.returncode == 1
    assert "remote page=" in refused.stderr
    first, second = free_port(socket.SOCK_STREAM), free_port(socket.SOCK_STREAM)
    sandbox.send("remote", f"page=127.0.0.1:{first}")
    wait(lambda: answers(first))
    sandbox.send("remote", f"page=127.0.0.1:{second}")
    wait(lambda: answers(second) and not answers(first))
    page = page_pid(sandbox)
    sandbox.send("remote", "page=off")
    wait(lambda: page_pid(sandbox) is None and not answers(second))
    sandbox.send("remote", f"page=127.0.0.1:{first}")
    wait(lambda: answers(first) and page_pid(sandbox) not in (page, None))


def test_an_address_that_is_taken_is_a_state_that_heals(sandbox: Sandbox) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = with_page(sandbox, other.getsockname()[1])
        sandbox.engine_without_ready()
        page = wait_page(sandbox, "failing")
        assert f"127.0.0.1:{port}" in page["error"]
        assert "in use" in page["error"]
        refused = sandbox.run("pair", str(sandbox.show))
        assert refused.returncode == 1
        assert "in use" in refused.stderr
        sandbox.send("recall", "1")
    wait(lambda: answers(port))
    assert wait_page(sandbox)["error"] == ""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="/proc tells what a process has loaded")
def test_the_engine_loads_nothing_of_the_server_nor_of_openssl(sandbox: Sandbox, port: int) -> None:
    status = sandbox.wait_status()
    page = page_pid(sandbox)
    loaded = {pid: Path(f"/proc/{pid}/maps").read_text() for pid in (status["engine_pid"], page)}
    # Each has a part written in C; OpenSSL's may be part of Python's own executable.
    openssl = [name for name in OPENSSL if getattr(import_module(name), "__file__", None)]
    for library in ("aiohttp", "multidict", "yarl", *openssl):
        assert library in loaded[page]
        assert library not in loaded[status["engine_pid"]]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="priorities as Linux has them")
def test_the_page_comes_after_what_makes_light(sandbox: Sandbox, port: int) -> None:
    page = psutil.Process(page_pid(sandbox))
    engine = psutil.Process(sandbox.wait_status()["engine_pid"])
    assert page.nice() > 0
    assert page.nice() > engine.nice()


def test_its_files_are_the_users_alone(sandbox: Sandbox, port: int) -> None:
    claim(port, pair(sandbox)["code"])
    kept = [path for kind in ("*.page", "*.codes", "*.phones") for path in sandbox.folder.rglob(kind)]
    assert len(kept) == 3
    assert {path.stat().st_mode & 0o777 for path in kept} == {0o600}
