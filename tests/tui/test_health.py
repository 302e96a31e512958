"""What the header says of the outputs: the worst that is known."""

from __future__ import annotations

from onecrew.show.snapshot import OutputState
from onecrew.tui.words import outputs

OK = OutputState(universe=1, to="127.0.0.1", state="ok", sent=9, errors=0)
QUIET = OK.model_copy(
    update={"error": "nobody answers at this address: is the lamp on, and on this network?"}
)
FAILING = OK.model_copy(update={"state": "failing", "error": "the network of this machine is down"})


def test_the_worst_of_all_outputs_is_told() -> None:
    assert outputs((OK,)) == ("output ok", True)
    assert outputs((OK, QUIET)) == ("nobody answers", False)
    assert outputs((QUIET, OK, FAILING)) == ("1 of 3 outputs failing", False)
