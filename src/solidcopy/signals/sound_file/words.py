"""Words of sound files turned into numbers, full scale ±1.0."""

import functools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Words = NDArray[np.uint8]
"""Bytes as they lie in the file, (n_words * container_bytes,)."""


LAW_STEP = 1.0 / 32.0
"""Distance of the largest values of A-law and mu-law: 16 of them between a half and one."""


@dataclass(frozen=True, slots=True)
class Encoding:
    """How a number is written."""

    name: str
    """For a person, e.g. "24-bit"."""
    container_bytes: int
    step: float | None
    """Distance of neighbouring values, full scale ±1.0; None where it is not the same all over."""
    decode: Callable[[Words], NDArray[np.float64]]
    is_float: bool = False
    coarsest_step: float = 0.0
    """Largest distance of neighbouring values within full scale; 0 for floats."""


def pcm(container_bytes: int, n_valid_bits: int) -> Encoding:
    """Whole numbers, left-justified in 1 to 4 bytes; one byte is unsigned with silence at 128."""
    is_full = n_valid_bits == 8 * container_bytes
    name = f"{n_valid_bits}-bit" + ("" if is_full else f" in {8 * container_bytes}-bit words")
    step = 2.0 ** (1 - n_valid_bits)
    return Encoding(name, container_bytes, step, _PCM[container_bytes], coarsest_step=step)


def ieee_float(container_bytes: int) -> Encoding:
    """Binary floating point of 4 or 8 bytes."""
    return Encoding(
        f"{8 * container_bytes}-bit float",
        container_bytes,
        None,
        functools.partial(_float, width=f"<f{container_bytes}"),
        is_float=True,
    )


def logarithmic(law: str) -> Encoding:
    """The telephone's "A-law" or "mu-law" of 8 bits."""
    table = _a_law_table() if law == "A-law" else _mu_law_table()
    decode = functools.partial(np.take, table)
    return Encoding(f"8-bit {law}", 1, None, decode, coarsest_step=LAW_STEP)


def _unsigned_8(words: Words) -> NDArray[np.float64]:
    return (words.astype(np.float64) - 128.0) / 128.0


def _signed(words: Words, *, width: str, full_scale: float) -> NDArray[np.float64]:
    values: NDArray[np.float64] = words.view(width).astype(np.float64)
    values *= 1.0 / full_scale  # a power of two: exact
    return values


def _signed_24(words: Words) -> NDArray[np.float64]:
    wide = np.zeros((words.size // 3, 4), np.uint8)
    wide[:, 1:] = words.reshape(-1, 3)
    return _signed(wide.ravel(), width="<i4", full_scale=2.0**31)


def _float(words: Words, *, width: str) -> NDArray[np.float64]:
    return words.view(width).astype(np.float64)


_PCM: dict[int, Callable[[Words], NDArray[np.float64]]] = {
    1: _unsigned_8,
    2: functools.partial(_signed, width="<i2", full_scale=2.0**15),
    3: _signed_24,
    4: functools.partial(_signed, width="<i4", full_scale=2.0**31),
}


@functools.cache
def _mu_law_table() -> NDArray[np.float64]:
    """Value of each byte. Source: ITU-T G.711, from memory; checked against libsndfile."""
    inverted = 255 - np.arange(256)
    exponent, mantissa = (inverted >> 4) & 7, inverted & 15
    magnitude = ((2 * mantissa + 33) << exponent) - 33
    return np.where(inverted & 128, -magnitude, magnitude) / 8192.0


@functools.cache
def _a_law_table() -> NDArray[np.float64]:
    """Value of each byte. Source: ITU-T G.711, from memory; checked against libsndfile."""
    toggled = np.arange(256) ^ 0x55
    exponent, mantissa = (toggled >> 4) & 7, toggled & 15
    linear = 2 * mantissa + 1
    magnitude = np.where(exponent == 0, linear, (linear + 32) << np.maximum(exponent - 1, 0))
    return np.where(toggled & 128, magnitude, -magnitude) / 4096.0
