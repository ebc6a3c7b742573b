"""What a disk may hold after the power failed, made from the files of a writer that stands still.

All that was forced to disk is there; of the rest, any block may be old, new, torn or missing. The
write-ahead log is forced to disk by `settle` and before its pages go into the database; those are
forced to disk before the log is begun anew. Layout of log and index: "WAL-mode File Format",
documentation of SQLite, sections 1 and 2.
"""

import random
import shutil
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple, Self

DATABASE, LOG, INDEX = "journal.sqlite", "journal.sqlite-wal", "journal.sqlite-shm"
LOG_HEAD_BYTES, FRAME_HEAD_BYTES = 32, 24
BLOCK_BYTES = 512
"""The least that a disk writes as one."""


@dataclass(frozen=True)
class LogState:
    """Of the write-ahead log, from its index."""

    page_bytes: int
    last_frame: int
    """Last one that belongs to a finished transaction; 0: none."""
    salt: int
    """Another one each time the log is begun anew."""
    n_moved: int
    """Frames whose pages are in the database, forced to disk."""
    n_moving: int
    """Frames whose pages go there now, or went."""

    @classmethod
    def read(cls, folder: Path) -> Self:
        index = (folder / INDEX).read_bytes()[:136]
        (page_bytes,) = struct.unpack_from("=H", index, 14)
        last_frame, salt = (struct.unpack_from("=I", index, at)[0] for at in (16, 32))
        n_moved, n_moving = (struct.unpack_from("=I", index, at)[0] for at in (96, 128))
        return cls(page_bytes, last_frame, salt, n_moved, n_moving)

    def end_of(self, frame: int) -> int:
        """Offset in the log behind a frame, counted from 1."""
        return LOG_HEAD_BYTES + frame * (FRAME_HEAD_BYTES + self.page_bytes)


class Cut(NamedTuple):
    """What a power failure did."""

    settled: int
    """Last trial index that was said to be on disk; −1: none."""
    n_spoilt_in_log: int
    """Blocks."""
    n_spoilt_in_database: int


def cut_power(folder: Path, notes: Path, into: Path, chance: random.Random) -> Cut:
    """The files of a journal as a disk may hold them; the writer stands still meanwhile."""
    into.mkdir()
    for name in (DATABASE, LOG, INDEX):
        if (folder / name).exists():
            shutil.copy(folder / name, into / name)
    state = LogState.read(into)
    settled, frame, salt = map(int, (notes.read_text().split() or (-1, 0, 0)))
    on_disk = max(state.n_moving, frame if salt == state.salt else 0)
    in_database = _spoil_pages(into, state, chance)
    in_log = _spoil_log(into / LOG, state.end_of(on_disk), chance)
    if chance.random() < 0.5:
        (into / INDEX).unlink()  # it need not have reached the disk at all
    return Cut(settled, in_log, in_database)


def _spoil_log(log: Path, first: int, chance: random.Random) -> int:
    """Behind an offset: cut off, or blocks left out or torn."""
    content = bytearray(log.read_bytes())
    if first >= len(content):
        return 0
    if chance.random() < 0.3:
        cut = chance.randrange(first, len(content))
        log.write_bytes(content[:cut])
        return (len(content) - cut) // BLOCK_BYTES
    share, n_spoilt = chance.choice((0.003, 0.05, 0.5, 1.0)), 0
    for start in range(first, len(content), BLOCK_BYTES):
        if chance.random() < share:
            end = min(start + BLOCK_BYTES, len(content))
            content[start:end] = chance.choice((bytes(end - start), chance.randbytes(end - start)))
            n_spoilt += 1
    log.write_bytes(content)
    return n_spoilt


def _spoil_pages(folder: Path, state: LogState, chance: random.Random) -> int:
    """Pages that are on their way from the log into the database."""
    log, database = (folder / LOG).read_bytes(), bytearray((folder / DATABASE).read_bytes())
    n_spoilt = 0
    for frame in range(state.n_moved, state.n_moving):
        (page,) = struct.unpack_from(">I", log, state.end_of(frame))
        start = (page - 1) * state.page_bytes
        for block in range(start, start + state.page_bytes, BLOCK_BYTES):
            if block < len(database) and chance.random() < 0.5:
                database[block : block + BLOCK_BYTES] = chance.randbytes(BLOCK_BYTES)
                n_spoilt += 1
    (folder / DATABASE).write_bytes(database)
    return n_spoilt
