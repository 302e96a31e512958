"""Live state: what the engine is doing, in a memory-mapped file that outlives the process.

Writing is a copy into mapped memory, some microseconds, so it can follow every command and every packet; a
killed process loses nothing that was written. Two slots are written in turn, each with a counter and a
checksum, so a kill in the middle of one leaves the other. A table of one byte a universe keeps the last
sequence number of each stream (E1.31-2018 §6.7.2: a receiver drops packets that seem to come late).

The file is for the engine that follows on this machine, not an archive: shows are saved by ``documents``.
"""

from __future__ import annotations

import json
import mmap
import os
import struct
import zlib
from pathlib import Path
from typing import Any

from controller.errors import Trouble

MAGIC = b"lampwright live 1\n"
SLOT = struct.Struct("<QII")
"""Counter, length and CRC-32 of the payload that follows."""
SLOT_BYTES = 8 << 20
SEQUENCES_AT = 64
SLOTS_AT = SEQUENCES_AT + 65536
FILE_BYTES = SLOTS_AT + 2 * SLOT_BYTES
"""Sparse: pages never written take no room on disk or in memory."""


class LiveFile:
    """The live state file of one show, held open by its engine."""

    def __init__(self, path: Path) -> None:
        """Opens or makes the file; raises ``Trouble`` where that is impossible."""
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
            try:
                os.ftruncate(descriptor, FILE_BYTES)
                self._map = mmap.mmap(descriptor, FILE_BYTES)
            finally:
                os.close(descriptor)
        except OSError as error:
            raise Trouble(
                f"the live state file {path} cannot be opened ({error.strerror}): free the disk or set its "
                "permissions, a crashed engine takes up its look from there"
            ) from error
        if self._map[: len(MAGIC)] != MAGIC:
            self._map[: len(MAGIC)] = MAGIC
            self.clear()
        self._counter = max(self._slot(index)[0] for index in (0, 1))

    def read(self) -> dict[str, Any] | None:
        """The newest whole state, None where there is none."""
        for _, payload in sorted((self._slot(index) for index in (0, 1)), reverse=True):
            if payload:
                return dict(json.loads(payload))
        return None

    def write(self, state: dict[str, Any]) -> None:
        """Puts a state in the older slot, counter last, so that it counts only when it is whole."""
        payload = json.dumps(state, separators=(",", ":")).encode()
        if len(payload) > SLOT_BYTES - SLOT.size:
            return  # the older state stays; shows of this size do not exist
        self._counter += 1
        at = SLOTS_AT + (self._counter % 2) * SLOT_BYTES
        self._map[at : at + SLOT.size] = SLOT.pack(0, 0, 0)
        self._map[at + SLOT.size : at + SLOT.size + len(payload)] = payload
        self._map[at : at + SLOT.size] = SLOT.pack(self._counter, len(payload), zlib.crc32(payload))

    def sequence(self, universe: int) -> int:
        """Last sequence number noted for a universe (0–255)."""
        return self._map[SEQUENCES_AT + universe]

    def note_sequences(self, sequences: dict[int, int]) -> None:
        """Notes the last sequence number sent on each universe."""
        for universe, number in sequences.items():
            self._map[SEQUENCES_AT + universe] = number

    def clear(self) -> None:
        """Forgets the state, keeps the sequence numbers: the next engine starts from black."""
        for index in (0, 1):
            at = SLOTS_AT + index * SLOT_BYTES
            self._map[at : at + SLOT.size] = SLOT.pack(0, 0, 0)

    def close(self) -> None:
        self._map.close()

    def _slot(self, index: int) -> tuple[int, bytes]:
        at = SLOTS_AT + index * SLOT_BYTES
        counter, length, checksum = SLOT.unpack(self._map[at : at + SLOT.size])
        if not counter or length > SLOT_BYTES - SLOT.size:
            return 0, b""
        payload = self._map[at + SLOT.size : at + SLOT.size + length]
        return (counter, payload) if zlib.crc32(payload) == checksum else (0, b"")
