"""Live state: what the engine is doing, in a memory-mapped file that outlives the process.

Writing is a copy into mapped memory, some microseconds, so it can follow every command and every packet; a
killed process loses nothing that was written. Four sections, for the playback, for the show as it is in
memory, for the steps of undo and for what is not in the log's file yet, are each written to two slots in turn
with a counter and a checksum, so a kill in the middle of one leaves the other. A table keeps the last
sequence number of each stream (E1.31-2018 §6.7.2: a receiver drops packets that seem to come late). Two
digests name what this engine knows to stand in the show's file: what did before the latest save, and what
does after it.

A mapped page that the disk has no room for ends the process that touches it (SIGBUS), so room is claimed
before anything is written. Where there is none, a write says so and the state stays as it was last kept.

The file is for the engine that follows on this machine, not an archive: shows are saved by ``show.save``.
"""

from __future__ import annotations

import contextlib
import errno
import json
import mmap
import os
import struct
import sys
import threading
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from onecrew.errors import Trouble

Claim = Callable[[int, int], None]
"""Makes sure that the disk holds so many bytes from a place on; ``OSError`` where it has no room."""

MAGIC = b"onecrew live 4\n"
SLOT = struct.Struct("<QII")
"""Counter, length and CRC-32 of the payload that follows."""
SLOT_BYTES = 20 << 20
"""Room for the largest show that ``show.load`` reads. Sparse: what is never written takes no room."""
SEQUENCES_AT = 64
SEQUENCE = struct.Struct("<H")
"""Of one universe: the last number used plus one, 0 where there was none."""
DIGESTS_AT = SEQUENCES_AT + 65536 * SEQUENCE.size
DIGEST_BYTES = 32
"""Of a SHA-256."""
SECTIONS_AT = DIGESTS_AT + 2 * DIGEST_BYTES
SENT_AT = 40
SENT = struct.Struct("<d")
"""When the last frame left, monotonic seconds."""
IN_CHARGE_AT = 48
"""One byte: whether this engine, started as a standby, was put in control."""
LOGGED_AT = 56
LOGGED = struct.Struct("<Q")
"""The number of the last entry of the log, which may not be in its file yet."""
CHUNK_BYTES = 1 << 16
"""Room is claimed in steps of this size: the first ones at the start, more when the state outgrows them."""


class Section:
    """Two slots of the map, written in turn."""

    def __init__(self, memory: mmap.mmap, at: int, claim: Claim) -> None:
        """Raises ``OSError`` where the disk has no room to begin with."""
        self._map = memory
        self._at = at
        self._claim = claim
        self._claimed = [CHUNK_BYTES, CHUNK_BYTES]
        for index in (0, 1):
            claim(self._start(index), CHUNK_BYTES)
        self._counter = max(self._slot(0)[0], self._slot(1)[0])

    def read(self) -> dict[str, Any] | None:
        """The newest whole payload, None where there is none."""
        _, payload = max(self._slot(0), self._slot(1))
        return dict(json.loads(payload)) if payload else None

    def write(self, content: Mapping[str, Any]) -> bool:
        """Puts the content in the older slot, its counter last, so that it counts only when it is whole.

        False where the disk has no room for it: the older content stays.
        """
        payload = json.dumps(content, separators=(",", ":")).encode()
        if len(payload) > SLOT_BYTES - SLOT.size:
            return True  # the older content stays; shows of this size are not loaded
        if not self._has_room((self._counter + 1) % 2, SLOT.size + len(payload)):
            return False
        self._counter += 1
        at = self._start(self._counter % 2)
        self._map[at + SLOT.size : at + SLOT.size + len(payload)] = payload
        self._map[at : at + SLOT.size] = SLOT.pack(self._counter, len(payload), zlib.crc32(payload))
        return True

    def clear(self) -> None:
        for index in (0, 1):
            at = self._start(index)
            self._map[at : at + SLOT.size] = SLOT.pack(0, 0, 0)

    def _has_room(self, index: int, length: int) -> bool:
        if length > self._claimed[index]:
            whole = min(SLOT_BYTES, -(-length // CHUNK_BYTES) * CHUNK_BYTES)
            try:
                self._claim(self._start(index), whole)
            except OSError:
                return False
            self._claimed[index] = whole
        return True

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
        self.path = path
        size = SECTIONS_AT + 8 * SLOT_BYTES
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
            try:
                if os.fstat(descriptor).st_size != size:
                    os.ftruncate(descriptor, size)
                claim = _claim_on(descriptor)
                claim(0, SECTIONS_AT)
                self._map = mmap.mmap(descriptor, size)
                self.playback = Section(self._map, SECTIONS_AT, claim)
                self.show = Section(self._map, SECTIONS_AT + 2 * SLOT_BYTES, claim)
                self.undo = Section(self._map, SECTIONS_AT + 4 * SLOT_BYTES, claim)
                self.unwritten = Section(self._map, SECTIONS_AT + 6 * SLOT_BYTES, claim)
            except BaseException:
                os.close(descriptor)
                raise
        except OSError as error:
            raise Trouble(
                f"the live state file {path} cannot be opened ({error.strerror}): free the disk or set its "
                "permissions, a crashed engine takes up its look from there"
            ) from error
        self._descriptor = descriptor
        self._naming = threading.Lock()
        if self._map[: len(MAGIC)] != MAGIC:
            self.clear()
            self.undo.clear()
            self.unwritten.clear()
            self.in_charge, self.logged = False, 0
            self._map[SEQUENCES_AT:SECTIONS_AT] = bytes(SECTIONS_AT - SEQUENCES_AT)
            self._map[: len(MAGIC)] = MAGIC

    @property
    def in_charge(self) -> bool:
        """Whether this engine, started as a standby, was put in control; outlives it like all the rest."""
        return self._map[IN_CHARGE_AT] != 0

    @in_charge.setter
    def in_charge(self, on: bool) -> None:
        self._map[IN_CHARGE_AT] = int(on)

    @property
    def logged(self) -> int:
        """Number of the last entry that was made for the log, in its file or not; 0 before the first."""
        return int(LOGGED.unpack_from(self._map, LOGGED_AT)[0])

    @logged.setter
    def logged(self, number: int) -> None:
        LOGGED.pack_into(self._map, LOGGED_AT, number)

    @property
    def sent_at(self) -> float:
        """When the last frame left, in seconds of the clock of whoever noted it; 0 before the first."""
        return float(SENT.unpack_from(self._map, SENT_AT)[0])

    @sent_at.setter
    def sent_at(self, now: float) -> None:
        SENT.pack_into(self._map, SENT_AT, now)

    def sequences(self) -> dict[int, int]:
        """Last sequence number (0–255) noted for each universe that ever had one."""
        table = SEQUENCE.iter_unpack(self._map[SEQUENCES_AT:DIGESTS_AT])
        return {universe: number - 1 for universe, (number,) in enumerate(table) if number}

    def note_sequences(self, sequences: Mapping[int, int]) -> None:
        """Notes the last sequence number sent on each universe."""
        for universe, number in sequences.items():
            SEQUENCE.pack_into(self._map, SEQUENCES_AT + SEQUENCE.size * universe, number + 1)

    def names_file(self, digest: str | None) -> bool:
        """Whether a file of this SHA-256, in hex, holds what this engine or one before it put there."""
        return digest is not None and bytes.fromhex(digest) in self._digests()

    def name_file(self, present: str | None, coming: str) -> None:
        """Names what the show's file holds (None: there is none) and what a save is about to put there.

        Called before it does. The name of what the file holds stays untouched, so that a kill at any moment
        leaves it known. May be called from any thread.
        """
        with self._naming:
            before = bytes(DIGEST_BYTES) if present is None else bytes.fromhex(present)
            if before not in self._digests():
                self._put_digest(0, before)
            self._put_digest(1 - self._digests().index(before), bytes.fromhex(coming))

    def _digests(self) -> tuple[bytes, bytes]:
        table = self._map[DIGESTS_AT:SECTIONS_AT]
        return table[:DIGEST_BYTES], table[DIGEST_BYTES:]

    def _put_digest(self, index: int, digest: bytes) -> None:
        at = DIGESTS_AT + index * DIGEST_BYTES
        self._map[at : at + DIGEST_BYTES] = digest

    def clear(self) -> None:
        """Forgets what was playing, keeps sequence numbers, undo and what the log's file lacks: the next
        engine starts from black."""
        self.playback.clear()
        self.show.clear()

    def is_there(self) -> bool:
        """Whether an engine that follows will find the file. May be called from any thread."""
        try:
            return os.path.samestat(os.fstat(self._descriptor), self.path.stat())
        except OSError:
            return False

    def put_back(self) -> None:
        """Makes the file anew with all that it holds, where somebody took it away.

        Raises ``Trouble`` where that is impossible: then no engine that follows will find what is kept.
        """
        with contextlib.suppress(OSError):  # said by whoever opens the file
            self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        fresh = LiveFile(self.path)
        with self._naming:
            fresh._map[:SECTIONS_AT] = self._map[:SECTIONS_AT]
            for old, new in zip(self._sections, fresh._sections, strict=True):
                new.clear()
                if (content := old.read()) is not None:
                    new.write(content)
            self.close()
            self._map, self._descriptor = fresh._map, fresh._descriptor
            self.playback, self.show, self.undo, self.unwritten = fresh._sections

    @property
    def _sections(self) -> tuple[Section, Section, Section, Section]:
        return self.playback, self.show, self.undo, self.unwritten

    def give_back(self) -> None:
        """Takes it out of memory until it is touched; all stays in the file."""
        if sys.platform == "linux":  # elsewhere this may mean that what was written is not needed any more
            with contextlib.suppress(OSError):  # it is locked in memory
                self._map.madvise(mmap.MADV_DONTNEED)

    def close(self) -> None:
        self._map.close()
        os.close(self._descriptor)


def _claim_on(descriptor: int) -> Claim:
    """Claims room in an open file. Windows gives a file all its room when it is made; macOS has no such call,
    and neither have some file systems: there a full disk may still end the engine."""

    def claim(at: int, length: int) -> None:
        if hasattr(os, "posix_fallocate"):
            try:
                os.posix_fallocate(descriptor, at, length)
            except OSError as error:
                if error.errno not in (errno.EINVAL, errno.EOPNOTSUPP, errno.ENOSYS):
                    raise

    return claim
