"""Live state: what the engine is doing, in a memory-mapped file that outlives the process.

Writing is a copy into mapped memory, some microseconds, so it can follow every command and every packet; a
killed process loses nothing that was written. Two drawers, one for the playback and one for the show as it is
in memory, are each written to two slots in turn with a counter and a checksum, so a kill in the middle of one
leaves the other. A table of one byte a universe keeps the last sequence number of each stream (E1.31-2018
§6.7.2: a receiver drops packets that seem to come late).

The file is for the engine that follows on this machine, not an archive: shows are saved by ``documents``.
"""

from __future__ import annotations

import json
import mmap
import os
import struct
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from controller.errors import Trouble

MAGIC = b"lampwright live 1\n"
SLOT = struct.Struct("<QII")
"""Counter, length and CRC-32 of the payload that follows."""
SLOT_BYTES = 20 << 20
"""Room for the largest show that ``documents`` reads. Sparse: what is never written takes no room."""
SEQUENCES_AT = 64
DRAWERS_AT = SEQUENCES_AT + 65536


class Drawer:
    """Two slots of the map, written in turn."""

    def __init__(self, memory: mmap.mmap, at: int) -> None:
        self._map = memory
        self._at = at
        self._counter = max(self._slot(0)[0], self._slot(1)[0])

    def read(self) -> dict[str, Any] | None:
        """The newest whole payload, None where there is none."""
        _, payload = max(self._slot(0), self._slot(1))
        return dict(json.loads(payload)) if payload else None

    def write(self, content: Mapping[str, Any]) -> None:
        """Puts the content in the older slot, its counter last, so that it counts only when it is whole."""
        payload = json.dumps(content, separators=(",", ":")).encode()
        if len(payload) > SLOT_BYTES - SLOT.size:
            return  # the older content stays; shows of this size are not loaded
        self._counter += 1
        at = self._start(self._counter % 2)
        self._map[at : at + SLOT.size] = SLOT.pack(0, 0, 0)
        self._map[at + SLOT.size : at + SLOT.size + len(payload)] = payload
        self._map[at : at + SLOT.size] = SLOT.pack(self._counter, len(payload), zlib.crc32(payload))

    def clear(self) -> None:
        for index in (0, 1):
            at = self._start(index)
            self._map[at : at + SLOT.size] = SLOT.pack(0, 0, 0)

    def _start(self, index: int) -> int:
        return self._at + index * SLOT_BYTES

    def _slot(self, index: int) -> tuple[int, bytes]:
        at = self._start(index)
        counter, length, checksum = SLOT.unpack(self._map[at : at + SLOT.size])
        if not counter or length > SLOT_BYTES - SLOT.size:
            return 0, b""
        payload = self._map[at + SLOT.size : at + SLOT.size + length]
        return (counter, payload) if zlib.crc32(payload) == checksum else (0, b"")


class LiveFile:
    """The live state file of one show, held open by its engine."""

    def __init__(self, path: Path) -> None:
        """Opens or makes the file; raises ``Trouble`` where that is impossible."""
        size = DRAWERS_AT + 4 * SLOT_BYTES
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
            try:
                os.ftruncate(descriptor, size)
                self._map = mmap.mmap(descriptor, size)
            finally:
                os.close(descriptor)
        except OSError as error:
            raise Trouble(
                f"the live state file {path} cannot be opened ({error.strerror}): free the disk or set its "
                "permissions, a crashed engine takes up its look from there"
            ) from error
        self.playback = Drawer(self._map, DRAWERS_AT)
        self.show = Drawer(self._map, DRAWERS_AT + 2 * SLOT_BYTES)
        if self._map[: len(MAGIC)] != MAGIC:
            self.clear()
            self._map[SEQUENCES_AT:DRAWERS_AT] = bytes(DRAWERS_AT - SEQUENCES_AT)
            self._map[: len(MAGIC)] = MAGIC

    def sequences(self) -> dict[int, int]:
        """Last sequence number (0–255) noted for each universe that ever had one."""
        table = self._map[SEQUENCES_AT:DRAWERS_AT]
        return {universe: number for universe, number in enumerate(table) if number}

    def note_sequences(self, sequences: Mapping[int, int]) -> None:
        """Notes the last sequence number sent on each universe."""
        for universe, number in sequences.items():
            self._map[SEQUENCES_AT + universe] = number

    def clear(self) -> None:
        """Forgets what was playing, keeps the sequence numbers: the next engine starts from black."""
        self.playback.clear()
        self.show.clear()

    def close(self) -> None:
        self._map.close()
