"""The format chunk of a WAV file."""

import struct
from dataclasses import dataclass

from solidcopy.errors import AudioFileError
from solidcopy.signals.sound_file.findings import Finding, grouped
from solidcopy.signals.sound_file.words import Encoding, ieee_float, logarithmic, pcm

EXTENSIBLE = 65534
"""Format number that says: the true one stands further behind."""
GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")
"""What follows the format number in the extensible format."""
MAX_CHANNELS = 64
RATES_HZ = range(100, 100_000_001)
USUAL_RATES_HZ = frozenset(
    (
        *(8_000, 11_025, 12_000, 16_000, 22_050, 24_000, 32_000, 44_100, 48_000),
        *(64_000, 88_200, 96_000, 176_400, 192_000, 384_000),
    )
)


@dataclass(frozen=True, slots=True)
class WavFormat:
    """What the format chunk says."""

    encoding: Encoding
    n_channels: int
    sample_rate_hz: int
    findings: tuple[Finding, ...]

    @property
    def frame_bytes(self) -> int:
        """Bytes of one sample of all channels."""
        return self.n_channels * self.encoding.container_bytes


def parse_format(content: bytes) -> WavFormat | None:
    """Read a format chunk.

    Args:
        content: of the chunk.
    Returns: None for an encoding that is left to the library (compressed ones).
    Raises: AudioFileError, without the file's name, if it makes no sense.
    """
    if len(content) < 16:
        raise AudioFileError(
            f"its format chunk has {len(content)} bytes where 16 are needed; export it again"
        )
    tag, n_channels, rate_hz, _, block_bytes, n_bits = struct.unpack("<HHIIHH", content[:16])
    n_valid_bits = n_bits
    if tag == EXTENSIBLE and len(content) >= 40:
        n_valid_bits = struct.unpack("<H", content[18:20])[0] or n_bits
        tag = struct.unpack("<H", content[24:26])[0] if content[26:40] == GUID_TAIL else EXTENSIBLE
    check_rate(rate_hz)
    if not 1 <= n_channels <= MAX_CHANNELS:
        raise AudioFileError(
            f"its header gives {n_channels} channels; 1 to {MAX_CHANNELS} can be read"
        )
    container_bytes = -(-n_bits // 8)
    findings = []
    if block_bytes != n_channels * container_bytes:
        if block_bytes % n_channels == 0 and block_bytes // n_channels in range(
            max(container_bytes, 1), 9
        ):
            container_bytes = block_bytes // n_channels
        else:
            findings.append(
                Finding(
                    "wrong-block-size",
                    f"the header gives {block_bytes} bytes per sample of all channels; "
                    f"{n_channels * container_bytes} were taken",
                )
            )
    encoding = _encoding(tag, container_bytes, n_valid_bits)
    if encoding is None:
        return None
    return WavFormat(encoding, n_channels, rate_hz, tuple(findings))


def check_rate(rate_hz: int) -> None:
    """Refuse a sample rate that cannot be. Raises AudioFileError, without the file's name."""
    if rate_hz not in RATES_HZ:
        raise AudioFileError(
            f"its header gives a sample rate of {grouped(rate_hz)} Hz, which cannot be; export it "
            "again with its true rate"
        )


def rate_finding(rate_hz: int) -> list[Finding]:
    """A rate that no sound card is set to is told, and taken as it stands."""
    if rate_hz in USUAL_RATES_HZ:
        return []
    return [
        Finding("odd-rate", f"{grouped(rate_hz)} Hz is no usual sample rate; taken as it stands")
    ]


def _encoding(tag: int, container_bytes: int, n_valid_bits: int) -> Encoding | None:
    match tag:
        case 1 if 1 <= container_bytes <= 4 and 1 <= n_valid_bits <= 8 * container_bytes:
            return pcm(container_bytes, n_valid_bits)
        case 3 if container_bytes in (4, 8):
            return ieee_float(container_bytes)
        case 6 if container_bytes == 1:
            return logarithmic("A-law")
        case 7 if container_bytes == 1:
            return logarithmic("mu-law")
    return None
