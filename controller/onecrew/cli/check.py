"""``onecrew check``: is a show sound, and what might surprise on set."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence

from onecrew.cli.exits import FAILED
from onecrew.cli.looks import frames_of_cues
from onecrew.cli.parts import answer, existing_show
from onecrew.errors import DocumentFaults
from onecrew.fixtures.encoder import Encoder
from onecrew.language.saying import counted
from onecrew.network.listen_faults import not_here
from onecrew.plan.flicker import advice
from onecrew.show.check import advise
from onecrew.show.load import load_show
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles, profiles_beside
from onecrew.show.scenes import each_opened, scenes_of
from onecrew.show.show import Show


def run(arguments: argparse.Namespace) -> int:
    path = existing_show(arguments.show)
    profiles = load_profiles(beside=path)
    try:
        show = load_show(path, profiles)
    except DocumentFaults as found:
        faults = [{"where": f.where, "what": f.what, "fix": f.fix} for f in found.faults]
        answer(arguments, {"sound": False, "faults": faults, "hints": []}, map(str, found.faults))
        return FAILED
    hints = advise(show, profiles)
    scenes = scenes_of(show)
    for opened in each_opened(show):
        hints += out_of_reach(opened, profiles, hints)
    hints += not_here(show.remote)
    hints += advice(show.camera, show.rig.fixtures, profiles, show.room.mains_hz)
    lamps, cues = len(show.rig.fixtures), sum(len(scene.cues) for scene in scenes)
    of = f" of {counted(len(scenes), 'scene')}" if len(scenes) > 1 else ""
    head = f"{arguments.show} is sound: {counted(lamps, 'fixture')}, {counted(cues, 'cue')}{of}"
    hints += load_profiles([profiles_beside(path)]).faults
    facts = {"sound": True, "faults": [], "hints": hints}
    return answer(arguments, facts, [head, *(f"hint: {hint}" for hint in hints)])


def out_of_reach(show: Show, profiles: Mapping[str, Profile], known: Sequence[str] = ()) -> list[str]:
    """Each clamp and each colour that a fixture cannot reach, by cue and lamp, but for what is known."""
    if not show.rig.fixtures or not show.cues:
        return []
    encoder = Encoder(show.rig.fixtures, profiles)
    said: list[str] = []
    for cue, frame in frames_of_cues(show, profiles):
        for report in encoder.report(frame, show.camera.white_balance_k):
            if not any(hint.startswith(f"Cue {cue.number} asks {report.id} for") for hint in known):
                said += [f"Cue {cue.number}, {report.id}: {note}." for note in report.notes]
    return said
