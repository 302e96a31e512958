"""What plays: a pure function of state, command and time. In the order in which they build on each other:

``fields``, ``lights``, ``measured``, ``effects``, ``compiled_show``, ``flash_guard``, ``state``: what there
is; ``fades``: how lamps leave for other lights; ``edits``: what a hand changes; ``render``: what shows now;
``events``: commands, cues and takes, where a command comes in; ``codec``: saved, and over to a changed rig.

One ``go``: ``events`` runs the cue, ``edits`` keeps what was not stored, ``fades`` sends the lamps off,
``render`` gives the frames.
"""
