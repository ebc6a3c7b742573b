"""WAV files put together byte by byte, whole or damaged as recorders leave them."""

import struct
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

NO_LENGTH = 0xFFFFFFFF
GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")


def words(samples: NDArray[np.float64], n_bits: int) -> bytes:
    """Whole numbers, interleaved, of (n_samples,) or (n_samples, n_channels)."""
    scaled = np.rint(samples * 2.0 ** (n_bits - 1))
    held = np.clip(scaled, -(2.0 ** (n_bits - 1)), 2.0 ** (n_bits - 1) - 1).astype(np.int64)
    if n_bits == 8:
        return (held + 128).astype(np.uint8).tobytes()
    wide = held.ravel().astype("<i8").view(np.uint8).reshape(-1, 8)
    return wide[:, : n_bits // 8].tobytes()


def chunk(name: bytes, content: bytes, *, stated: int | None = None, pad: bool = True) -> bytes:
    """One chunk, its length stated rightly or not."""
    n_stated = len(content) if stated is None else stated
    filling = b"\0" if pad and len(content) % 2 else b""
    return struct.pack("<4sI", name, n_stated) + content + filling


@dataclass(frozen=True)
class Format:
    """Content of a format chunk."""

    rate_hz: int = 12_000
    n_bits: int = 16
    n_channels: int = 1
    tag: int = 1
    valid_bits: int | None = None
    """Given: the extensible format."""

    def packed(self) -> bytes:
        frame_bytes = self.n_channels * self.n_bits // 8
        tag = self.tag if self.valid_bits is None else 65_534
        plain = struct.pack(
            "<HHIIHH",
            tag,
            self.n_channels,
            self.rate_hz,
            self.rate_hz * frame_bytes,
            frame_bytes,
            self.n_bits,
        )
        if self.valid_bits is None:
            return plain
        return plain + struct.pack("<HHIH", 22, self.valid_bits, 0, self.tag) + GUID_TAIL


@dataclass(frozen=True)
class Wav:
    """A file; each field can be made wrong by itself."""

    sound: bytes
    form: Format = Format()
    before: bytes = b""
    """Chunks between format and sound."""
    after: bytes = b""
    stated: int | None = None
    """Length of the sound as the header has it; None: as it is."""
    kind: bytes = b"RIFF"
    pad: bool = True

    def content(self) -> bytes:
        data = chunk(b"data", self.sound, stated=self.stated, pad=self.pad)
        body = b"WAVE" + self._ds64() + chunk(b"fmt ", self.form.packed()) + self.before + data
        body += self.after
        size = NO_LENGTH if self.kind == b"RF64" else len(body)
        return struct.pack("<4sI", self.kind, size) + body

    def _ds64(self) -> bytes:
        if self.kind != b"RF64":
            return b""
        return chunk(b"ds64", struct.pack("<QQQI", 0, len(self.sound), 0, 0))

    def but(self, **changes: object) -> "Wav":
        return replace(self, **changes)


def broadcast_chunk(moment: datetime, *, samples_since_midnight: int = 0) -> bytes:
    """A `bext` chunk: EBU Tech 3285 (from memory): 256 + 32 + 32 letters, date, time, count."""
    text = b"harbour".ljust(256, b"\0") + bytes(64) + f"{moment:%Y-%m-%d%H:%M:%S}".encode("ascii")
    return chunk(b"bext", text + struct.pack("<Q", samples_since_midnight) + bytes(256))


def system_time(moment: datetime) -> bytes:
    """Eight 16-bit numbers, as a common operating system keeps a time of day."""
    return struct.pack(
        "<8H",
        moment.year,
        moment.month,
        moment.isoweekday() % 7,
        moment.day,
        moment.hour,
        moment.minute,
        moment.second,
        moment.microsecond // 1000,
    )
