"""Receivers that answer by the samples alone, so that every run behaves the same way.

The slots in which a bad one misbehaves are listed, by their checksum, in `bad_slots.json` beside
this file, where a test put a copy of both.
"""

import ctypes
import json
import os
import signal
import time
import zlib
from pathlib import Path

BAD_SLOTS = Path(__file__).with_name("bad_slots.json")


def is_bad_slot(samples):
    return zlib.crc32(samples.tobytes()) in json.loads(BAD_SLOTS.read_text(encoding="ascii"))


def loud(samples, sample_rate_hz):
    """False decodes in some slots; never a right one."""
    lot = zlib.crc32(samples.tobytes())
    return [f"Q9LOUD {lot % 7}"] if lot % 3 == 0 else []


def crashing(samples, sample_rate_hz):
    if is_bad_slot(samples):
        ctypes.string_at(0)
    return []


def throwing(samples, sample_rate_hz):
    if is_bad_slot(samples):
        return samples[samples.size]
    return []


def hanging(samples, sample_rate_hz):
    if is_bad_slot(samples):
        time.sleep(600)
    return []


def murderous(samples, sample_rate_hz):
    """Takes its worker with it."""
    if is_bad_slot(samples):
        os.kill(os.getppid(), signal.SIGKILL)
        time.sleep(600)
    return []
