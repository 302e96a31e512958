"""``onecrew substitute``: a new show and a table of what it cost; the old show is never touched."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles
from tests.cli.conftest import Ended
from tests.process.sandbox import Sandbox

Run = Callable[..., Ended]
BAKERY = Path(__file__).parents[1] / "fakes" / "kitchen.json"


@pytest.fixture
def bakery(tmp_path: Path) -> Path:
    path = tmp_path / "baker.json"
    path.write_bytes(BAKERY.read_bytes())
    return path


def test_a_new_show_is_written_and_the_old_one_left(bakery: Path, onecrew: Run) -> None:
    before = bakery.read_bytes()
    ended = onecrew("substitute", str(bakery), "van", "panel-rgbww/16-bit")
    written = bakery.with_name("baker-van-panel-rgbww.json")
    assert (ended.status, ended.err) == (0, "")
    assert ended.out.splitlines()[-1] == f"wrote {written}"
    assert bakery.read_bytes() == before
    profiles = load_profiles()
    old, new = load_show(bakery, profiles), load_show(written, profiles)
    van = new.fixture("van")
    assert van is not None
    assert (van.profile, van.mode) == ("panel-rgbww", "16-bit")
    assert [fixture.id for fixture in new.rig.fixtures] == [fixture.id for fixture in old.rig.fixtures]
    for was, now in zip(old.cues, new.cues, strict=True):
        rest = {name: light for name, light in was.look.items() if name != "van"}
        assert {name: light for name, light in now.look.items() if name != "van"} == rest


def test_what_is_written_can_be_checked_and_the_table_holds_its_numbers(bakery: Path, onecrew: Run) -> None:
    target = bakery.with_name("tonight.json")
    facts = onecrew("substitute", str(bakery), "window", "bulb-rgbw", "--to", str(target), "--json").json
    assert facts["written"] == str(target)
    assert onecrew("check", str(target)).status == 0
    new = load_show(target, load_profiles())
    rows = {row["cue"]: row for row in facts["cues"]}
    for cue in new.cues:
        if cue.number in rows:
            assert rows[cue.number]["set"]["level"] == cue.look["window"].level
    # 784 lm against 5600: 60 % of the one is 2.2 stops more than the other has (log2 of the ratio, by flux).
    [working] = [row for row in facts["cues"] if row["name"] == "Working light"]
    assert working["stops_lost"] == pytest.approx(2.2, abs=0.15)
    assert working["set"]["level"] == 1.0
    assert {"asked", "old", "set", "new", "off_by", "apart", "stops_lost"} <= working.keys()
    told = onecrew("substitute", str(bakery), "window", "bulb-rgbw", "--dry-run").out
    line = next(line for line in told.splitlines() if "Working light" in line)
    assert line.split()[-1] == f"{working['stops_lost']:.1f}"


def test_nothing_is_written_over(bakery: Path, onecrew: Run) -> None:
    taken = bakery.with_name("taken.json")
    taken.write_text("mine")
    for target in (taken, bakery):
        before = target.read_bytes()
        ended = onecrew("substitute", str(bakery), "van", "panel-rgbww", "--to", str(target))
        assert ended.status == 1
        assert "exists already and is left as it is" in ended.err
        assert target.read_bytes() == before


def test_a_dry_run_writes_nothing(bakery: Path, onecrew: Run) -> None:
    ended = onecrew("substitute", str(bakery), "pendant", "spot-daylight/8-bit", "--dry-run")
    assert ended.status == 0
    assert "always gives 5602 K" in ended.out
    assert ended.out.splitlines()[-1] == "nothing was written"
    assert [path.name for path in bakery.parent.glob("*.json")] == ["baker.json"]


def test_the_mode_of_the_old_lamp_is_tried_first(bakery: Path, onecrew: Run) -> None:
    def mode(old: str, kind: str) -> str:
        facts = onecrew("substitute", str(bakery), old, kind, "--dry-run", "--json").json
        return str(facts["fixture"]["mode"])

    assert mode("van", "panel-rgbww") == "16-bit"  # as the van has it
    assert mode("pendant", "panel-rgbww") == "8-bit"
    assert mode("van", "tube-rgbww-8/8-segment") == "8-segment"


def test_a_measured_difference_takes_the_place_of_the_flux(bakery: Path, onecrew: Run) -> None:
    def level(*more: str) -> float:
        words = ("substitute", str(bakery), "van", "panel-rgbww/16-bit", "--dry-run", "--json", *more)
        return float(onecrew(*words).json["cues"][0]["set"]["level"])

    assert level("--stops", "1") == pytest.approx(level("--stops", "0") / 2, rel=1e-3)
    assert level("--stops=-1") == 1.0
    assert not any(
        "flux" in remark
        for remark in onecrew(
            "substitute", str(bakery), "van", "panel-rgbww", "--dry-run", "--json", "--stops", "1"
        ).json["remarks"]
    )


def test_a_profile_beside_the_old_show_is_missed_at_the_new_one(bakery: Path, onecrew: Run) -> None:
    (bakery.parent / "profiles").mkdir()
    source = Path(__file__).parents[2] / "profiles" / "spot-six.toml"
    (bakery.parent / "profiles" / "my-spot.toml").write_text(source.read_text())
    (bakery.parent / "other").mkdir()
    target = bakery.parent / "other" / "new.json"
    ended = onecrew("substitute", str(bakery), "window", "my-spot", "--to", str(target))
    assert ended.status == 0
    assert "copy its folder profiles" in ended.out


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("vann", "panel-rgbww"), 2, "did you mean 'van'"),
        (("van", "panel-rgbw"), 2, "did you mean 'panel-rgbww'"),
        (("van", "panel-rgbww/32-bit"), 2, "no mode '32-bit'; it has 8-bit, 16-bit"),
        (("van", "panel-rgbww", "--stops", "lots"), 2, "'lots' is not a number"),
        (("van", "panel-rgbww", "--stops", "20"), 2, "out of range"),
        (("van", "panel-rgbww", "--to", "nowhere/new.json"), 1, "there is no folder nowhere"),
    ],
)
def test_what_makes_no_sense_is_refused(
    words: tuple[str, ...], status: int, said: str, bakery: Path, onecrew: Run
) -> None:
    ended = onecrew("substitute", str(bakery), *words)
    assert (ended.status, ended.out) == (status, "")
    assert said in ended.err


def test_a_show_that_runs_is_taken_as_its_engine_has_it(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("set", "window", "level=30%", "cct=3600")
    sandbox.send("store", "9", "New")
    done = sandbox.run("substitute", str(sandbox.show), "window", "panel-rgbww/16-bit", "--dry-run", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert "9" in [row["cue"] for row in json.loads(done.stdout)["cues"]]
    sandbox.wait_status(lambda status: status["saved"]["ok"])
