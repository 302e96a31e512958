"""Where a phone is sent to reach the page."""

from __future__ import annotations

import pytest

from onecrew.phone.address import is_for_this_machine_alone, page_urls


@pytest.mark.parametrize(
    ("listen", "found", "urls"),
    [
        ("192.168.1.5:9080", None, ["http://192.168.1.5:9080/"]),
        ("0.0.0.0:9080", "192.168.1.5", ["http://192.168.1.5:9080/"]),
        ("0.0.0.0:9080", None, []),
        ("[::]:9080", "192.168.1.5", ["http://192.168.1.5:9080/"]),
        ("[fd00::5]:9080", None, ["http://[fd00::5]:9080/"]),  # RFC 3986 §3.2.2
        ("127.0.0.1:9080", None, ["http://127.0.0.1:9080/"]),
    ],
)
def test_the_url_of_a_page(listen: str, found: str | None, urls: list[str]) -> None:
    assert list(page_urls(listen, lambda: found)) == urls


@pytest.mark.parametrize(
    ("listen", "alone"),
    [("127.0.0.1:9080", True), ("[::1]:9080", True), ("0.0.0.0:9080", False), ("10.0.0.1:1", False)],
)
def test_a_page_for_this_machine_alone(listen: str, alone: bool) -> None:
    assert is_for_this_machine_alone(listen) is alone
