"""Protocol: the lines that client and engine exchange, one JSON object a line, UTF-8.

=====================  =====================================================================
client → engine        ``{"hello": {"token": …}}`` first, then in any order
                       ``{"id": 7, "command": {"kind": "go"}}``
                       ``{"id": 8, "ask": "profiles", "with": {…}}``
                       ``{"watch": {"rate_hz": 15}}`` to be sent the state as it changes
engine → client        ``{"welcome": {"version": 3}}``
                       ``{"id": 7, "changed": true}`` · ``{"id": 7, "refused": "sentence"}``; changed is
                       false where the show was so before, and undo would take back something else
                       ``{"id": 8, "answer": {…}}``
                       ``{"snapshot": {…}}`` · ``{"show": {…}}`` all of it, to a client that begins to watch
                       ``{"changes": {…}}`` then the fields that changed, and of ``lights`` the lamps that did
                       ``{"goodbye": "sentence", "stopped": true}`` before the engine closes the connection
=====================  =====================================================================
"""

from __future__ import annotations

VERSION = 3
HOST = "127.0.0.1"
LINE_LIMIT = 40 << 20
"""Longest line, bytes: the largest show that ``show.load`` reads, written without its line breaks, fits."""
REPLY_S = 10.0
"""How long a client waits for a reply, seconds."""
SLOW_REPLY_S = 40.0
SLOW_TOPICS = frozenset(
    {"rendition", "import", "profiles"}
    | {"takes", "sheet", "export", "restore", "breakdown", "versions", "version", "stills", "keep-stills"}
    | {"pictures"}
)
"""Questions that the engine works on beside its loop; a client waits ``SLOW_REPLY_S`` for them."""
CARDS = "cards"
"""The folder that is proposed for the pictures of a grey card, beside the show; made where it is missing."""
PICTURES_S = 120.0
"""How long a run of pictures may take to read, raw files among them, seconds."""
HELLO_LIMIT = 4096
"""Longest first line: a stranger gets no more memory than this."""


def reply_s(topic: str) -> float:
    """Return how long a client waits for the answer to a question, seconds."""
    if topic == "grey-card":
        return PICTURES_S + REPLY_S
    return SLOW_REPLY_S if topic in SLOW_TOPICS else REPLY_S
