"""What is saved is what is loaded: load(dump(show)) == show, for every show."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings

from onecrew.show.check import check_show
from onecrew.show.dump import dump_show
from onecrew.show.load import parse_show
from onecrew.show.show import Show
from tests.show.shows import PROFILES, shows

RELAXED = settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@RELAXED
@given(shows())
def test_a_show_comes_back_from_its_text_exactly(show: Show) -> None:
    assert check_show(show, PROFILES) == []
    text = dump_show(show)
    again = parse_show(text, "show.json", PROFILES)
    assert again == show
    assert dump_show(again) == text
